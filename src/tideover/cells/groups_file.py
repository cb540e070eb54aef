"""The pack file: which cells stand in which group, written so that people can read it and change it.

A file that is there already is changed only where it must be: other keys and their remarks stay to the letter.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tideover.cells.stock import StockCell
from tideover.design.cell_files import FORM, PACK
from tideover.design.messages import LARGEST, BuildError, Fault, folded
from tideover.design.model import Place
from tideover.design.source import Mapping, Scalar, parse, read_text
from tideover.design.source import Sequence as Items
from tideover.quantity import show

COLUMNS = 100
"""A group's list is broken before it gets wider."""
SURE = 1e-6
"""No uncertainty is written that is smaller; no cell is measured as well. [-]"""
_HEAD = """\
# Cells grouped by capacity and conductance; values are those of the inventory.
# ± is two standard uncertainties.
"""
_OWN = ("capacity", "resistance", "method", "model", "age", "chemistry")
_SAFE = re.compile(r"[A-Za-z0-9][\w./()+-]*(?: [\w./()+±%-]+)*")
_TYPED = re.compile(r"[\d.+eE_:xXo-]+|(?i:y|n|yes|no|on|off|true|false|null)")
"""What other readers of YAML take for a number, a time or a truth value."""


@dataclass(frozen=True)
class Pack:
    """What is written.

    Attributes
    ----------
    groups : sequence of sequence of StockCell
        From the pack's plus end.
    seed : int
        Of the drawing that made them.
    title, cell : str
        May be empty; `cell` is a fitted cell's file or a name of the shelf.
    at : str
        Condition at which the capacities are; empty where it is not known.
    """

    groups: Sequence[Sequence[StockCell]]
    seed: int
    title: str = ""
    cell: str = ""
    at: str = ""


@dataclass(frozen=True)
class Old:
    """A pack file that is there.

    Attributes
    ----------
    text : str
        As it is.
    root : Mapping
        As a tree.
    ids : frozenset of str
        Cells in its groups.
    others : tuple of str
        Keys that grouping has nothing to do with, such as ``strip``.
    """

    text: str
    root: Mapping
    ids: frozenset[str]
    others: tuple[str, ...]


def written(pack: Pack) -> str:
    """Text of a new pack file.

    Examples
    --------
    >>> a, b = (StockCell(id, chemistry="LFP", capacity=5040.0) for id in ("A1", "17"))
    >>> print(written(Pack([[a], [b]], 1)).split("uncertainties.", 1)[1].strip())
    tideover pack: 1
    seed: 1
    groups:
      - [A1]
      - ["17"]
    cells:
      A1: {capacity: 1.4 Ah ±2 %, chemistry: LFP}
      "17": {capacity: 1.4 Ah ±2 %, chemistry: LFP}
    """
    blocks = _blocks(pack, {}, {})
    return _HEAD + f"{PACK}: {FORM}\n" + "".join(f"{line}\n" for block in blocks.values() for line in block)


def read_old(path: Path) -> Old:
    """The pack file that is to be replaced.

    Raises
    ------
    BuildError
        It is no pack file, or cannot be followed; then it must not be touched.
    """
    text, faults = read_text(path)
    root, more = parse(text, str(path)) if not faults else (None, [])
    if faults or more or root is None:
        raise BuildError([*faults, *more])
    form = root.get(PACK)
    if not isinstance(form, Scalar) or form.text != FORM:
        problem = "the file is there already and is no pack file; it was left as it is"
        raise BuildError(
            [Fault(Place(str(path)), "", problem, f"It would begin with: {PACK}: {FORM}", "Name another.")]
        )
    groups = root.get("groups")
    ids = (
        item.text
        for group in (groups.items if isinstance(groups, Items) else ())
        for item in (group.items if isinstance(group, Items) else ())
        if isinstance(item, Scalar)
    )
    known = (PACK, "title", "cell", "seed", "groups", "cells")
    others = tuple(key.text for key, _ in root.entries if folded(key.text) not in known)
    return Old(text, root, frozenset(ids), others)


def rewritten(old: Old, pack: Pack) -> str:
    """Text of a pack file with other groups; everything else of it stays to the letter.

    Remarks behind a cell and keys of its own that somebody added stay with a cell that is still in the pack.
    """
    lines = old.text.splitlines()
    starts = sorted((key.place.line - 1, folded(key.text)) for key, _ in old.root.entries)
    blocks = _blocks(pack, *_added(old, lines))
    out = lines[: starts[0][0]]
    for k, (start, key) in enumerate(starts):
        end = starts[k + 1][0] if k + 1 < len(starts) else len(lines)
        last = end
        while last > start + 1 and (not lines[last - 1].strip() or lines[last - 1].startswith("#")):
            last -= 1
        new = blocks.pop(key, None)
        if new and len(new) == 1:
            new = [new[0] + _remark(lines[start])]
        out += (lines[start:last] if new is None else new) + lines[last:end]
    out += [line for block in blocks.values() for line in block]
    newline = "\r\n" if "\r\n" in old.text else "\n"
    return newline.join(out) + newline


def place_for_old(path: Path) -> Path:
    """A name for the file as it was, that none has yet: ``pack.before-1.yaml``."""
    n = 1
    while (name := path.with_name(f"{path.stem}.before-{n}{path.suffix}")).exists():
        n += 1
    return name


def too_large(text: str) -> bool:
    """Whether a pack file would be larger than what is read again."""
    return len(text.encode()) > LARGEST


# --- pieces ---------------------------------------------------------------------------------------


def _blocks(pack: Pack, extras: dict[str, str], remarks: dict[str, str]) -> dict[str, list[str]]:
    """Lines of each key that grouping writes."""
    blocks = {}
    if pack.title:
        blocks["title"] = [f"title: {_word(pack.title)}"]
    if pack.cell:
        blocks["cell"] = [f"cell: {_word(pack.cell)}"]
    blocks["seed"] = [f"seed: {pack.seed}"]
    blocks["groups"] = ["groups:", *(line for group in pack.groups for line in _list(group))]
    cells = [
        f"  {_word(cell.id)}: {{{', '.join(filter(None, (_values(cell), extras.get(cell.id, ''))))}}}"
        f"{remarks.get(cell.id, '')}"
        for group in pack.groups
        for cell in group
    ]
    blocks["cells"] = [f"cells:  # capacities at {pack.at}" if pack.at else "cells:", *cells]
    return blocks


def _list(group: Sequence[StockCell]) -> list[str]:
    """One group in as many lines as it takes."""
    lines, line = [], "  - ["
    for k, cell in enumerate(group):
        word = _word(cell.id) + ("]" if k == len(group) - 1 else ", ")
        if len(line) + len(word) > COLUMNS and line.strip() != "- [":
            lines.append(line.rstrip())
            line = "     "
        line += word
    return [*lines, line]


def _values(cell: StockCell) -> str:
    """What is known of a cell, as between the braces."""
    said = {
        "capacity": _measured(cell.capacity, "C", cell.capacity_spread),
        "resistance": _measured(cell.resistance, "ohm", cell.resistance_spread),
        "method": cell.method if cell.resistance else "",
        "model": cell.model,
        "age": cell.age,
        "chemistry": cell.chemistry,
    }
    return ", ".join(f"{key}: {_word(value)}" for key, value in said.items() if value)


def _measured(value: float | None, unit: str, spread: float) -> str:
    if not value:
        return ""
    said = show(value, unit, 5 if unit == "C" else 4)
    return f"{said} ±{show(2.0 * spread, '%', 2)}" if spread > SURE else said


def _word(text: str) -> str:
    """A text as YAML has it: bare where nobody can mistake it, in quotes otherwise."""
    safe = _SAFE.fullmatch(text) and not _TYPED.fullmatch(text)
    return text if safe else json.dumps(text, ensure_ascii=False)


def _added(old: Old, lines: Sequence[str]) -> tuple[dict[str, str], dict[str, str]]:
    """What people added to the cells of a file: further keys, remarks at the end of the line."""
    extras, remarks = {}, {}
    cells = old.root.get("cells")
    for key, value in cells.entries if isinstance(cells, Mapping) else ():
        if isinstance(value, Mapping):
            more = [
                f"{old.text[k.start : k.end]}: {old.text[v.start : v.end]}"
                for k, v in value.entries
                if isinstance(v, Scalar) and folded(k.text) not in _OWN
            ]
            extras[key.text] = ", ".join(more)
        remarks[key.text] = _remark(lines[key.place.line - 1])
    return extras, remarks


def _remark(line: str) -> str:
    """The remark at the end of a line, with the space before it; empty where there is none.

    Examples
    --------
    >>> _remark("seed: 4   # the luckiest"), _remark("title: 'No #1'")
    ('   # the luckiest', '')
    """
    quote = ""
    for k, sign in enumerate(line):
        if quote:
            quote = "" if sign == quote else quote
        elif sign in "\"'" and (k == 0 or line[k - 1] in " {[,:"):
            quote = sign
        elif sign == "#" and k and line[k - 1] in " \t":
            return line[len(line[:k].rstrip()) :]
    return ""
