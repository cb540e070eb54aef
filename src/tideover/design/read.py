"""From a build file to a design, or to the whole list of what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping as Table
from dataclasses import dataclass
from pathlib import Path
from typing import cast

from tideover import shelf as usual_shelf
from tideover.design import joins, messages, need, parts, shape, source
from tideover.design.messages import BuildError, Fault
from tideover.design.model import Chain, Design, Need, PartSpec, Place
from tideover.design.parts import ENCLOSURE, Shelf
from tideover.design.source import Mapping, Scalar, Sequence
from tideover.parts import KINDS, Kind
from tideover.quantity import Quantity, show_range

VERSION = "1"


@dataclass(frozen=True)
class Draft:
    """What could be read, and every fault met.

    Attributes
    ----------
    title : str
        As written, or the name of the folder.
    need : Need or None
        None when incomplete.
    parts : dict of str to PartSpec
        A part of unknown kind has ``kind == ""``.
    chains : tuple of Chain
        See `tideover.design.joins.read`.
    box : PartSpec or None
        None when missing.
    meant : frozenset of str
        Parts that a misspelt name in the joins most likely means.
    whole : bool
        Whether joins and parts are complete enough to judge the network.
    faults : tuple of Fault
        In no order.
    """

    title: str
    need: Need | None
    parts: dict[str, PartSpec]
    chains: tuple[Chain, ...]
    box: PartSpec | None
    meant: frozenset[str]
    whole: bool
    faults: tuple[Fault, ...]
    path: str
    text: str

    def design(self) -> Design:
        """The design, if there is no fault.

        Raises
        ------
        BuildError
            With all faults.
        """
        if self.faults or not self.need or not self.box:
            raise BuildError(self.faults)
        return Design(self.title, self.need, self.parts, self.chains, self.box, self.path, self.text)


def read(path: str | Path, *, kinds: Table[str, Kind] | None = None, shelf: Shelf | None = None) -> Design:
    """Read a build file.

    Parameters
    ----------
    path : str or Path
        Of the file; messages show it as given.
    kinds, shelf : optional
        Tables to read against, instead of `tideover.parts.KINDS` and `tideover.shelf`.

    Raises
    ------
    BuildError
        Its text is the whole report.
    """
    return examine(path, kinds=kinds, shelf=shelf).design()


def examine(path: str | Path, *, kinds: Table[str, Kind] | None = None, shelf: Shelf | None = None) -> Draft:
    """Read as much as can be read; faults are collected and not raised."""
    text, faults = source.read_text(path)
    if faults:
        return _nothing(str(path), text, faults)
    return examine_text(text, str(path), kinds=kinds, shelf=shelf)


def examine_text(
    text: str, path: str = "build.yaml", *, kinds: Table[str, Kind] | None = None, shelf: Shelf | None = None
) -> Draft:
    """Read the text of a build file, as `examine` does."""
    root, faults = source.parse(text, path)
    if root is None:
        return _nothing(path, text, faults)
    kinds = KINDS if kinds is None else kinds
    shelf = cast(Shelf, usual_shelf) if shelf is None else shelf
    faults += shape.check(root)
    report = faults.append
    version, need_node, parts_node, joins_node = (
        root.get(key) for key in ("tideover", "need", "parts", "joins")
    )
    if isinstance(version, Scalar) and version.text.strip() != VERSION:
        report(messages.wrong_version(version.place, version.text))
    wanted = need.read(need_node, report) if isinstance(need_node, Mapping) else None
    specs = parts.read(parts_node, kinds, shelf, report) if isinstance(parts_node, Mapping) else {}
    chains: tuple[Chain, ...] = ()
    meant: frozenset[str] = frozenset()
    whole = isinstance(parts_node, Mapping) and isinstance(joins_node, Sequence)
    if isinstance(joins_node, Sequence) and isinstance(parts_node, Mapping):
        chains, meant, whole = joins.read(joins_node, specs, kinds, report)
    title = root.get("title")
    said = " ".join(title.text.split()) if isinstance(title, Scalar) else ""
    return Draft(
        title=said or Path(path).resolve().parent.name or "untitled",
        need=wanted,
        parts=specs,
        chains=chains,
        box=_box(root, wanted, kinds, shelf, faults),
        meant=meant,
        whole=whole,
        faults=tuple(faults),
        path=path,
        text=text,
    )


def _nothing(path: str, text: str, faults: list[Fault]) -> Draft:
    return Draft("", None, {}, (), None, frozenset(), False, tuple(faults), path, text)


def _box(
    root: Mapping, wanted: Need | None, kinds: Table[str, Kind], shelf: Shelf, faults: list[Fault]
) -> PartSpec | None:
    """The enclosure as a part; the air around it is what the need says."""
    node, key = root.get(ENCLOSURE), root.key(ENCLOSURE)
    if node is None or key is None or isinstance(node, Sequence):
        return None
    if isinstance(node, Scalar) and not node.text.strip():
        faults.append(messages.missing(key.place, "", ENCLOSURE, shape.EXAMPLES[ENCLOSURE]))
        return None
    spec = parts.read_part(ENCLOSURE, key.place, node, kinds, shelf, faults.append, ENCLOSURE)
    if wanted and "ambient" in spec.values:
        low, high = wanted.ambient
        spec.values["ambient"] = Quantity((low + high) / 2, low, high, "K", show_range(low, high, "K"))
        spec.origins["ambient"] = "build.yaml"
    return spec


def place_of(design: Design, part: str, name: str = "") -> Place:
    """Where a part, or one of its values, stands in the file."""
    spec = design.box if part == ENCLOSURE else design.parts[part]
    return spec.places.get(name, spec.place)
