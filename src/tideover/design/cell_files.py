"""Files of cells that a build names: one kind of cell, fitted, or a pack of cells that are known one by one.

Either lies beside the build file, usually in its folder ``cells``, and is named by ``from:`` of a pack.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import numpy as np

from tideover.design import messages as say
from tideover.design import source, strips, values
from tideover.design.cell_model import BuiltCell, BuiltPack, CellModel
from tideover.design.model import Place, Value
from tideover.design.source import Mapping, Node, Scalar, Sequence
from tideover.laws.cell_curve import CellCurve
from tideover.laws.methods import METHODS
from tideover.parts.base import Kind, Parameter
from tideover.quantity import Quantity, parse

Report = Callable[[say.Fault], None]
CELL, PACK = "tideover cell", "tideover pack"
"""The first key of each form of file."""
FORM = "1"
_EXAMPLES = {
    "groups": "groups: [[A01, A02], [A03, A04]]",
    "cells": "cells: {A01: {capacity: 2.2 Ah, resistance: 60 mΩ, method: DC 1 s}}",
}
OUTSIDE = ("series", "parallel")
"""Parameters of a pack that a cell does not have."""
COLUMNS = (
    Parameter("charge", "", 0.0, 1.0, None, "state of charge"),
    Parameter("open circuit", "V", 0.0, 60.0, None, "voltage at rest"),
    Parameter("spread", "V", 0.0, 1.0, None, "standard uncertainty of that voltage"),
    Parameter("ohmic", "", 0.01, 100.0, None, "ohmic resistance over the stated one"),
    Parameter("lag", "", 0.01, 100.0, None, "resistance of the pairs over the stated one"),
)
"""Of one row of a cell's curve."""
CAPACITY = Parameter("capacity", "C", 36.0, 3.6e6, None, "measured")
RESISTANCE = Parameter("resistance", "ohm", 1e-5, 5.0, None, "measured")


class Item(Protocol):
    name: str
    kind: str
    values: dict[str, str]
    source: str


def is_file(text: str) -> bool:
    """Whether a name means a file and not an item of the shelf."""
    return text.strip().casefold().endswith((".yaml", ".yml"))


def read(
    node: Scalar, kind: Kind, find: Callable[[str], Item | None], report: Report
) -> CellModel | BuiltPack | None:
    """Read the file that a build file names.

    Parameters
    ----------
    node : Scalar
        Its name, with the place where it stands; it lies relative to the file that names it.
    kind : Kind
        The pack, whose parameters its values are.
    find : callable
        Finds an item of the shelf by name.
    report : callable
        Takes each fault.

    Returns
    -------
    found : CellModel, BuiltPack or None
        None after a fault.
    """
    path = Path(node.place.path).parent / node.text.strip()
    text, faults = source.read_text(path)
    root = None
    if not faults:
        root, faults = source.parse(text, str(path))
    if faults and not path.is_file():
        what = f"{say.quoted(node.text.strip())}, which is no file beside {Path(node.place.path).name}"
        expected = "A file of a fitted cell or of a pack is expected."
        report(say.wrong_shape(node.place, "from", what, expected, "Check the spelling, or see: tideover cells --help"))
        return None
    for fault in faults:
        report(fault)
    if root is None or faults:
        return None
    forms = [key for key in (CELL, PACK) if root.get(key) is not None]
    if not forms:
        mend = f"Write as the first line of a cell: {CELL}: {FORM}; of a pack: {PACK}: {FORM}"
        report(say.Fault(Place(str(path), 1, 1), "", f"there is neither {CELL!r} nor {PACK!r}", "", mend))
        return None
    version = root.get(forms[0])
    if not isinstance(version, Scalar) or version.text.strip() != FORM:
        written = say.quoted(version.text) if isinstance(version, Scalar) else "no number"
        problem = f"{forms[0]} is {written}"
        report(say.Fault(root.key(forms[0]).place, "", problem, f"This release reads form {FORM}.", ""))  # type: ignore[union-attr]
        return None
    count: list[say.Fault] = []

    def told(fault: say.Fault) -> None:
        count.append(fault)
        report(fault)

    found = _pack(root, str(path), kind, find, told) if forms[0] == PACK else _cell(root, str(path), kind, told)
    return None if count else found


def _title(root: Mapping, path: str) -> str:
    title = root.get("title")
    return " ".join(title.text.split()) if isinstance(title, Scalar) and title.text.strip() else Path(path).stem


def _strange(root: Mapping, known: tuple[str, ...], where: str, report: Report) -> None:
    for key, _ in root.entries:
        if say.folded(key.text) not in known:
            report(say.unknown_key(key.place, where, key.text, list(known)))


def _cell(root: Mapping, path: str, kind: Kind, report: Report) -> CellModel | None:
    """A fitted cell."""
    _strange(root, (CELL, "title", "values", "from", "curve", "notes", "fit"), "", report)
    given, origins = root.get("values"), root.get("from")
    if not isinstance(given, Mapping):
        report(say.missing(root.place, "", "values", "values: {chemistry: NMC, capacity: 2.5 Ah, resistance: 40 mΩ}"))
        return None
    known = {say.folded(p.key): p for p in kind.parameters if p.key not in (*OUTSIDE, "resistance curve")}
    out: dict[str, Value] = {}
    said: dict[str, str] = {}
    for key, node in given.entries:
        p = known.get(say.folded(key.text))
        if p is None:
            report(say.unknown_key(key.place, "values", key.text, [p.key for p in known.values()]))
            continue
        value = values.read("values", key.text, node, p, report)
        if value is not None:
            out[p.name] = value
            origin = origins.get(say.folded(key.text)) if isinstance(origins, Mapping) else None
            said[p.name] = f"{path}: {origin.text}" if isinstance(origin, Scalar) else path
    for name in ("chemistry", "capacity", "resistance"):
        if name not in out and not any(say.folded(k.text) == name for k, _ in given.entries):
            report(say.missing(given.place, "values", name, f"{name}: {values.example(kind.parameter(name))}"))
    rows = root.get("curve")
    curve = _curve(rows, report) if rows is not None else None
    extra = root.get("fit")
    fit = source.plain(extra) if isinstance(extra, Mapping) else {}
    return CellModel(_title(root, path), path, out, said, curve, fit, _notes(root.get("notes")))


def _notes(node: Node | None) -> tuple[str, ...]:
    """Notes of a cell, one or a list of them."""
    items = node.items if isinstance(node, Sequence) else [node]
    return tuple(" ".join(item.text.split()) for item in items if isinstance(item, Scalar))


def _curve(node: Node, report: Report) -> CellCurve | None:
    """Rows of charge, voltage, its uncertainty and both shapes, from empty to full."""
    expected = "Rows of charge, voltage, its uncertainty, ohmic and slow shape are expected, from 0 % to 100 %."
    example = "Write rows such as: - [50 %, 3.71 V, 5 mV, 1.0, 1.0]"
    if not isinstance(node, Sequence) or len(node.items) < 2:
        report(say.wrong_shape(node.place, "curve", "no list of rows", expected, example))
        return None
    rows: list[list[float]] = []
    for k, item in enumerate(node.items, 1):
        if not isinstance(item, Sequence) or len(item.items) != len(COLUMNS):
            report(say.wrong_shape(item.place, f"row {k} of the curve", "no row of five values", expected, example))
            continue
        read = [values.read(f"curve.{k}", p.key, cell, p, report) for p, cell in zip(COLUMNS, item.items)]
        if None in read:
            continue
        row = [v.nominal for v in read if isinstance(v, Quantity)]
        if rows and (row[0] <= rows[-1][0] or row[1] < rows[-1][1]):
            problem = "whose charge does not rise, or whose voltage falls"
            report(say.wrong_shape(item.place, f"row {k} of the curve", f"a row {problem}", expected, example))
        rows.append(row)
    if len(rows) == len(node.items) and (rows[0][0] != 0.0 or rows[-1][0] != 1.0):
        what = f"a list from {100 * rows[0][0]:g} % to {100 * rows[-1][0]:g} %"
        report(say.wrong_shape(node.place, "curve", what, expected, example))
        return None
    if len(rows) < len(node.items):
        return None
    charge, volts, spread, ohmic, lag = np.array(rows).T
    return CellCurve(charge, volts, ohmic, lag, spread)


def _pack(
    root: Mapping, path: str, kind: Kind, find: Callable[[str], Item | None], report: Report
) -> BuiltPack | None:
    """A pack of known cells."""
    _strange(root, (PACK, "title", "cell", "seed", "groups", "cells", "strip", "notes"), "", report)
    cell = _common(root, kind, find, report)
    groups, stock = root.get("groups"), root.get("cells")
    for key, node in (("groups", groups), ("cells", stock)):
        if node is None:  # unless it is there, misspelt: that is told already
            if not any(say.meant(word.text, (key,)) for word, _ in root.entries):
                report(say.missing(Place(path), "", key, _EXAMPLES[key]))
        elif not isinstance(node, Sequence if key == "groups" else Mapping):
            expected = "One list of ids a group is expected." if key == "groups" else "Ids are expected as keys."
            report(say.wrong_shape(node.place, key, "of another shape", expected, f"Write: {_EXAMPLES[key]}"))
    if not isinstance(groups, Sequence) or not isinstance(stock, Mapping):
        return None
    out: list[tuple[BuiltCell, ...]] = []
    met: dict[str, Place] = {}
    for k, item in enumerate(groups.items, 1):
        ids = [i for i in item.items if isinstance(i, Scalar)] if isinstance(item, Sequence) else []
        if not ids or (isinstance(item, Sequence) and len(ids) < len(item.items)):
            report(say.wrong_shape(item.place, f"group {k}", "no list of ids", "", "Write: - [A01, A02, A03]"))
            continue
        for i in ids:
            if i.text in met:
                report(say.duplicate_key(i.place, f"groups.{i.text}", met[i.text]))
            met[i.text] = i.place
        built = [_built(i, stock, report) for i in ids]
        if cell is not None:
            _same_chemistry(ids, stock, cell, kind, report)
        out.append(tuple(b for b in built if b))
    sizes = {len(item.items) for item in groups.items if isinstance(item, Sequence)}
    if len(sizes) > 1:
        what = f"a list of groups with {' or '.join(map(str, sorted(sizes)))} cells"
        mend = "Move cells, or leave some out."
        report(say.wrong_shape(groups.place, "groups", what, "All groups have as many cells.", mend))
    if cell is None or not out:
        return None
    methods = sorted({c.method for group in out for c in group if c.resistance} - {""})
    if len(methods) > 1:
        what = f"a set of cells whose resistances were taken by {' and '.join(methods)}"
        mend = "Measure all of them by one method."
        report(say.wrong_shape(stock.place, "cells", what, "Methods differ by half and are never mixed.", mend))
    strip = root.get("strip")
    layout = strips.read(strip, len(out[0]), find, report) if strip is not None else None
    return BuiltPack(_title(root, path), path, cell, tuple(out), layout)


def _same_chemistry(ids: list[Scalar], stock: Mapping, cell: CellModel, kind: Kind, report: Report) -> None:
    """Cells that say what they are must be what the common cell is."""
    word = cell.values.get("chemistry")
    common = kind.parameter("chemistry").choices[int(word)] if isinstance(word, float) else ""
    for id in ids:
        node = stock.get(say.folded(id.text))
        said = node.get("chemistry") if isinstance(node, Mapping) else None
        if isinstance(said, Scalar) and common and say.folded(said.text) != say.folded(common):
            what = f"{say.quoted(said.text)}, and the cell that all have in common is {common}"
            mend = f"Leave {id.text} out, or name another cell above: chemistries are never mixed."
            report(say.wrong_shape(said.place, f"cells.{id.text}.chemistry", what, "", mend))


def _common(
    root: Mapping, kind: Kind, find: Callable[[str], Item | None], report: Report
) -> CellModel | None:
    """What the cells have in common: a fitted cell beside the file, or one of the shelf."""
    node = root.get("cell")
    if not isinstance(node, Scalar) or not node.text.strip():
        mend = "Write: cell: spool-cell.yaml, a fitted cell beside it, or one of: tideover parts cell"
        place = node.place if node else root.place
        report(say.wrong_shape(place, "cell", "missing or no single name", "What cells these are is expected.", mend))
        return None
    if is_file(node.text):
        found = read(node, kind, find, report)
        if isinstance(found, BuiltPack):
            report(say.wrong_shape(node.place, "cell", "a pack", "A fitted cell is expected.", "Name a cell's file."))
        return found if isinstance(found, CellModel) else None
    item = find(node.text)
    if item is None or item.kind != "cell":
        report(say.not_on_shelf(node.place, "cell", node.text, []))
        return None
    out: dict[str, Value] = {}
    for p in kind.parameters:
        text = item.values.get(p.name)
        if text is not None:
            out[p.name] = float(p.choices.index(text)) if p.unit == "word" else parse(text, p.unit)
    return CellModel(item.name, "", out, dict.fromkeys(out, f"shelf: {item.source}"))


def _built(id: Scalar, stock: Mapping, report: Report) -> BuiltCell | None:
    node = stock.get(say.folded(id.text))
    if not isinstance(node, Mapping):
        known = [key.text for key, _ in stock.entries]
        what = f"{say.quoted(id.text)}, of which nothing is measured below"
        near = say.nearest(id.text, known)
        mend = f"Did you mean {near[0]}?" if near else "Add it to cells."
        report(say.wrong_shape(id.place, "groups", what, "", mend))
        return None
    _strange(node, ("capacity", "resistance", "method", "model", "age", "chemistry"), f"cells.{id.text}", report)
    read: dict[str, Quantity | None] = {}
    for p in (CAPACITY, RESISTANCE):
        value = node.get(p.key)
        got = values.read(f"cells.{id.text}", p.key, value, p, report) if value is not None else None
        read[p.key] = got if isinstance(got, Quantity) else None
    if node.get("capacity") is None:
        report(say.missing(node.place, f"cells.{id.text}", "capacity", "capacity: 2.2 Ah"))
    said = {key: node.get(key) for key in ("method", "model", "age")}
    words = {key: " ".join(word.text.split()) for key, word in said.items() if isinstance(word, Scalar)}
    method = next((m for m in METHODS if say.folded(m) == say.folded(words.get("method", ""))), "")
    if read["resistance"] and not method:
        place, written = node.place, words.get("method", "")
        report(say.unknown_word(place, f"cells.{id.text}.method", "method", written, METHODS))
    if read["capacity"] is None:
        return None
    model, age = words.get("model", ""), words.get("age", "")
    return BuiltCell(id.text, read["capacity"], read["resistance"], method, model, age)


__all__ = ["CELL", "FORM", "PACK", "is_file", "read"]
