"""The parts of a build, read against their kinds and the shelf."""

from __future__ import annotations

from collections.abc import Mapping as Table
from dataclasses import dataclass, field
from typing import Any, Protocol

from tideover.design import built, cell_files, efficiency, spoken, values
from tideover.design import messages as say
from tideover.design.cell_model import BuiltPack, CellModel
from tideover.design.model import PartSpec, Place, Value
from tideover.design.source import Mapping, Node, Scalar
from tideover.design.values import Report
from tideover.laws.cell_curve import CellCurve
from tideover.parts.base import Kind, Parameter
from tideover.quantity import Quantity, exact, parse

FILE = "build.yaml"
"""Origin of a value that stands in the file itself."""
ENCLOSURE = "box"
PACK = "pack"
"""The kind that files of cells describe."""
TAKES = {PACK: ("cells", "cell")}
"""Kinds that take further values from a shelf item: the key, and the kind of that item."""
UNSHARED = ("cell", ENCLOSURE)
"""Kinds on the shelf that are no parts of the circuit."""
MEASURED = "measured"
"""Word of a pack whose resistances follow charge as a file of cells says."""
_RESERVED = {"from", "kind"}
ASCENDING = (
    ("lockout off", "lockout on"),
    ("resets below", "restarts above"),
    ("cut-off", "cut-off release"),
    ("over-charge release", "over-charge"),
    ("release fraction", "operate fraction"),
    ("restart voltage", "hold voltage"),
    ("lowest voltage", "nominal voltage"),
    ("nominal voltage", "highest voltage"),
    ("lowest input", "highest input"),
    ("coldest charge", "warmest charge"),
    ("coldest discharge", "warmest discharge"),
)
"""Keys of which the first must not exceed the second; 0 counts as not stated."""


class Item(Protocol):
    """One thing on the shelf."""

    name: str
    kind: str
    values: Any
    source: str


class Shelf(Protocol):
    """Where names become values; `tideover.shelf` is one."""

    def find(self, text: str) -> Item | None: ...

    def nearest(self, text: str, n: int) -> list[str]: ...


@dataclass
class _Draft:
    """A part while it is being read: values by source, weakest first."""

    name: str
    place: Place
    kind: Kind | None = None
    shelf: str | None = None
    watches: str = ""
    incomplete: bool = False  # something it was to be taken from is unknown: say nothing of missing values
    values: dict[str, Value] = field(default_factory=dict)
    origins: dict[str, str] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)
    stated: dict[str, Place] = field(default_factory=dict)  # keys met in the file, good or bad
    meant: set[str] = field(default_factory=set)  # keys that a misspelt one most likely means
    points: list[efficiency.Point] = field(default_factory=list)  # a converter's measured efficiencies
    curve: CellCurve | None = None
    built: BuiltPack | None = None
    doubts: tuple[str, ...] = ()

    def take(self, item: Item) -> None:
        """Values of a shelf item; what the kind does not declare is no business of this build."""
        for p in self.kind.parameters if self.kind else ():
            if p.name in item.values:
                self.values[p.name] = _settled(p, item.values[p.name])
                self.origins[p.name] = f"shelf: {item.source}"

    def fill(self, found: CellModel | BuiltPack) -> None:
        """Values of a file of cells; what the build file states itself stays."""
        assert self.kind is not None
        own = built.figures(found, self.kind) if isinstance(found, BuiltPack) else (found.values, found.origins)
        for name, value in own[0].items():
            if name not in self.places:
                self.values[name], self.origins[name] = value, own[1][name]
        self.built = found if isinstance(found, BuiltPack) else None
        cell = found.cell if isinstance(found, BuiltPack) else found
        self.curve, self.doubts = cell.curve, tuple(f"{cell.file}: {doubt}" for doubt in cell.doubts)
        if self.curve is not None and "resistance_curve" not in self.places:
            choices = self.kind.parameter("resistance_curve").choices
            self.values["resistance_curve"] = float(choices.index(MEASURED))
            self.origins["resistance_curve"] = self.origins["resistance"]


def _settled(p: Parameter, value: Quantity | str | float) -> Value:
    """A shelf value as it is kept in memory."""
    if isinstance(value, Quantity):
        return value
    if isinstance(value, str):
        return float(p.choices.index(value)) if p.unit == "word" else parse(value, p.unit)
    return float(value) if p.unit == "word" else exact(value, p.unit)


def read(node: Mapping, kinds: Table[str, Kind], shelf: Shelf, report: Report) -> dict[str, PartSpec]:
    """Read all parts, in the order of the file. A part whose kind is unknown has ``kind == ""``."""
    parts: dict[str, PartSpec] = {}
    for key, value in node.entries:
        name = " ".join(key.text.split())
        problem = _wrong_name(name)
        if problem:
            report(say.bad_name(key.place, name, problem))
        parts[name] = read_part(name, key.place, value, kinds, shelf, report)
    _check_watches(parts, kinds, report)
    return parts


def _wrong_name(name: str) -> str:
    if say.folded(name) in (ENCLOSURE, "return"):
        return "the box is described under the key box" if say.folded(name) == ENCLOSURE else "it is a node"
    if set(name) & set(">→()"):
        return "it contains one of > ( )"
    return "it has more than 60 letters" if len(name) > 60 else ""


def _check_watches(parts: dict[str, PartSpec], kinds: Table[str, Kind], report: Report) -> None:
    for name, part in parts.items():
        if part.watches:
            sensed = kinds[part.kind].senses
            options = [other for other, spec in parts.items() if spec.kind == sensed]
            if part.watches not in options:
                report(say.watches_nothing(part.places["watches"], name, part.watches, options, sensed))


def read_part(
    name: str,
    place: Place,
    node: Node,
    kinds: Table[str, Kind],
    shelf: Shelf,
    report: Report,
    fixed: str = "",
) -> PartSpec:
    """Read one part; `fixed` is its kind where the file need not say it."""
    draft = _Draft(name, place, kinds.get(fixed))
    if isinstance(node, Scalar) and not fixed and cell_files.is_file(node.text):
        draft.kind = kinds.get(PACK)
        _from_file(draft, node, shelf, report)
    elif isinstance(node, Scalar):
        item = _on_shelf(name, name, node, kinds, shelf, report, fixed)
        _begin(draft, item, kinds)
    elif isinstance(node, Mapping):
        draft.incomplete = not node.whole
        _find_kind(draft, node, kinds, shelf, report, fixed)
        for key, value in node.entries:
            if draft.kind and say.folded(key.text) not in _RESERVED:
                _key(draft, key.text, key.place, value, shelf, kinds, report)
    else:  # a list: the fault of shape is told already
        draft.incomplete = True
    _complete(draft, report)
    return PartSpec(
        name=name,
        kind=draft.kind.name if draft.kind else "",
        values=draft.values,
        shelf=draft.shelf,
        origins=draft.origins,
        place=place,
        places=draft.places,
        watches=draft.watches,
        curve=draft.curve,
        built=draft.built,
        doubts=draft.doubts,
    )


def _begin(draft: _Draft, item: Item | None, kinds: Table[str, Kind]) -> None:
    if item is None:
        draft.incomplete = True
        return
    draft.kind, draft.shelf = kinds[item.kind], item.name
    draft.take(item)


def _find_kind(
    draft: _Draft, node: Mapping, kinds: Table[str, Kind], shelf: Shelf, report: Report, fixed: str
) -> None:
    """Settle the kind from ``kind:`` and ``from:``, and take what the shelf gives."""
    name, stated, source = draft.name, node.get("kind"), node.get("from")
    if isinstance(stated, Scalar):
        kind = next((k for k in kinds.values() if say.folded(k.name) == say.folded(stated.text)), None)
        if kind is None or (kind.name == ENCLOSURE) != (fixed == ENCLOSURE):
            names = [fixed] if fixed else [k for k in kinds if k not in UNSHARED]
            draft.incomplete = True
            if kind is not None and kind.name == ENCLOSURE:
                report(say.enclosure_as_part(stated.place, name))
            else:
                report(say.unknown_kind(stated.place, name, stated.text, names))
        else:
            draft.kind = kind
    elif stated is not None:
        draft.incomplete = True
        report(
            say.wrong_shape(
                stated.place, f"{name}.kind", "no single word", "", "Write, for example: kind: wire"
            )
        )
    if isinstance(source, Scalar) and not fixed and cell_files.is_file(source.text):
        if draft.kind and draft.kind.name != PACK:
            what = f"{say.quoted(source.text.strip())}, a file of cells, and {name} is a {draft.kind.name}"
            report(say.wrong_shape(source.place, f"{name}.from", what, "Only a pack has cells.", "Leave it out here."))
            draft.incomplete = True
        else:
            draft.kind = kinds.get(PACK)
            _from_file(draft, source, shelf, report)
    elif isinstance(source, Scalar):
        item = _on_shelf(name, f"{name}.from", source, kinds, shelf, report, fixed)
        if item and draft.kind and isinstance(stated, Scalar) and item.kind != draft.kind.name:
            report(say.two_kinds(stated.place, name, draft.kind.name, item.name, item.kind))
            draft.kind = None
        _begin(draft, item, kinds)
    elif source is not None:
        draft.incomplete = True
        report(
            say.wrong_shape(
                source.place, f"{name}.from", "no single name", "", "Write a name from the shelf."
            )
        )
    elif stated is None and (implied := _implied(node)) in kinds:
        draft.kind = kinds[implied]
    elif stated is None and not fixed and node.whole:
        draft.incomplete = True
        report(say.no_kind(draft.place, name))


def _from_file(draft: _Draft, node: Scalar, shelf: Shelf, report: Report) -> None:
    """Take what a file of cells says; a pack of known cells settles how many there are."""
    found = cell_files.read(node, draft.kind, shelf.find, report) if draft.kind else None
    if found is None:
        draft.incomplete = True
    else:
        draft.fill(found)


def _implied(node: Mapping) -> str:
    """The kind that a key alone makes plain: what has cells is a pack."""
    return next((kind for kind, (key, _) in TAKES.items() if node.get(key) is not None), "")


def _on_shelf(
    name: str, where: str, node: Scalar, kinds: Table[str, Kind], shelf: Shelf, report: Report, fixed: str
) -> Item | None:
    """Find an item that can be a part, or say why not."""
    item = shelf.find(node.text) if node.text.strip() else None
    if item is None:
        kind = next((k for k in kinds if say.folded(k) == say.folded(node.text) and k != ENCLOSURE), "")
        if kind and not fixed:
            report(say.kind_for_shelf(node.place, name, kind))
        else:
            near = shelf.nearest(node.text, 3) if node.text.strip() else []
            report(say.not_on_shelf(node.place, where, node.text, near))
        return None
    if fixed and item.kind != fixed:
        report(
            say.wrong_item(node.place, where, item.name, item.kind, f"a {fixed}", f"Write: {name}: {{...}}")
        )
        return None
    if not fixed and item.kind == ENCLOSURE:
        report(say.enclosure_as_part(node.place, name))
        return None
    if not fixed and item.kind not in kinds:
        mend = f"Write: {name}: {{kind: pack, cells: {item.name}, series: 3}}" if item.kind == "cell" else ""
        report(say.wrong_item(node.place, where, item.name, item.kind, "a part of the circuit", mend))
        return None
    return item


def _key(
    draft: _Draft, key: str, place: Place, node: Node, shelf: Shelf, kinds: Table[str, Kind], report: Report
) -> None:
    """Read one key of a part: a parameter, a group of them, a spoken form, or a key with a meaning."""
    kind = draft.kind
    assert kind is not None  # the caller reads keys only where the kind is known
    known = {
        say.folded(p.key): p for p in kind.parameters if not (kind.name == ENCLOSURE and p.key == "ambient")
    }
    name = say.folded(key)
    takes, taken = TAKES.get(kind.name, ("", ""))
    if name == takes:
        _cells(draft, key, node, taken, shelf, report)
        return
    if name == "watches" and kind.senses:
        if isinstance(node, Scalar):
            draft.watches, draft.places["watches"] = " ".join(node.text.split()), node.place
        else:
            report(
                say.wrong_shape(
                    node.place, f"{draft.name}.{key}", "no single name", "", f"Name a {kind.senses}."
                )
            )
        return
    if isinstance(node, Mapping) and any(other.startswith(f"{name} ") for other in known):
        for inner, value in node.entries:
            _key(draft, f"{key} {inner.text}", inner.place, value, shelf, kinds, report)
        return
    if name == "efficiency" and name not in known and efficiency.known(kind):
        draft.points, draft.places["efficiency"] = efficiency.read(draft.name, key, node, report), node.place
        return
    said = spoken.expand(draft.name, key, node, known, report) if isinstance(node, Scalar) else None
    if said is None and name not in known:
        spare = (takes, "efficiency" if efficiency.known(kind) else "", "watches" if kind.senses else "")
        options = [*(p.key for p in known.values()), *filter(None, spare)]
        fitting = [p.key for p in known.values() if isinstance(node, Scalar) and values.fits(node.text, p)]
        report(say.unknown_key(place, draft.name, key, options, fitting))
        draft.meant.add(say.meant(key, fitting) or say.meant(key, options))
        return
    if said == []:
        draft.incomplete = True
    if said is None:
        _value(draft, key, place, node, known[name], report)
    for inner_key, inner in said or []:
        _value(draft, inner_key, place, inner, known[inner_key], report)


def _value(draft: _Draft, key: str, place: Place, node: Node, p: Parameter, report: Report) -> None:
    first = draft.stated.get(p.name)
    if first:
        report(say.duplicate_key(place, f"{draft.name}.{p.key}", first))
        return
    draft.stated[p.name] = place
    value = values.read(draft.name, key, node, p, report)
    if value is not None:
        draft.values[p.name] = value
        draft.origins[p.name] = FILE
        draft.places[p.name] = node.place


def _cells(draft: _Draft, key: str, node: Node, wanted: str, shelf: Shelf, report: Report) -> None:
    """Values of the cell a pack is made of; what the file states itself stays."""
    where = f"{draft.name}.{key}"
    item = shelf.find(node.text) if isinstance(node, Scalar) and node.text.strip() else None
    if item is None:
        draft.incomplete = True
        if isinstance(node, Scalar):
            near = shelf.nearest(node.text, 3) if node.text.strip() else []
            report(say.not_on_shelf(node.place, where, node.text, near))
        else:
            report(say.wrong_shape(node.place, where, "no single name", "", "Write the name of a cell."))
        return
    if item.kind != wanted:
        draft.incomplete = True
        report(
            say.wrong_item(node.place, where, item.name, item.kind, f"a {wanted}", "See: tideover parts cell")
        )
        return
    stated = {
        name: (draft.values[name], draft.origins[name]) for name in draft.places if name in draft.values
    }
    draft.take(item)
    for name, (value, origin) in stated.items():
        draft.values[name], draft.origins[name] = value, origin


def _complete(draft: _Draft, report: Report) -> None:
    """Fill in the defaults; a value that has none must be given."""
    kind = draft.kind
    for p in kind.parameters if kind else ():
        if p.name in draft.values:
            continue
        if p.default is not None:
            draft.values[p.name] = values.default(p)
            draft.origins[p.name] = f"default: {p.source}"
        elif kind and not draft.incomplete and p.name not in draft.stated and p.key not in draft.meant:
            example = values.example(p)
            report(say.missing_value(draft.place, draft.name, p.key, kind.name, p.about, example))
    _lengthen(draft)
    _calibrate(draft, report)
    _check_cells(draft, report)
    _check_order(draft, report)


def _check_cells(draft: _Draft, report: Report) -> None:
    """What is stated beside a file of cells must not contradict it, and what follows from it must be possible."""
    if draft.kind is None or draft.kind.name != PACK:
        return
    word = draft.values.get("resistance_curve")
    if draft.curve is None and not draft.incomplete and word not in (None, 0.0):
        what = f"{MEASURED}, but no file with a measured curve is named"
        mend = "Write: from: cells/my-cell.yaml, or leave it out."
        report(say.wrong_shape(draft.places["resistance_curve"], f"{draft.name}.resistance curve", what, "", mend))
    if draft.built is None:
        return
    for name, count in (("series", draft.built.series), ("parallel", draft.built.parallel)):
        stated = draft.values[name]
        if name in draft.places and isinstance(stated, Quantity) and stated.nominal != count:
            what = f"{stated.text}, but {draft.built.file} has {count}"
            report(say.wrong_shape(draft.places[name], f"{draft.name}.{name}", what, "", "Leave it out here."))
    for p in draft.kind.parameters:
        value = draft.values.get(p.name)
        outside = isinstance(value, Quantity) and not p.low <= value.nominal <= value.high <= p.high
        if outside and isinstance(value, Quantity) and draft.origins.get(p.name, "").startswith(draft.built.file):
            what = f"{value.text} by {draft.built.file}"
            expected = f"It may be {values.limits(p)}."
            mend = "Correct what was measured of the cells, or name the cell that they are."
            report(say.wrong_shape(draft.place, f"{draft.name}.{p.key}", what, expected, mend))


def _lengthen(draft: _Draft) -> None:
    """A wire of many metres gives off its heat along all of them: what is taken by default is that of the first."""
    length = draft.values.get(draft.kind.along) if draft.kind else None
    if not isinstance(length, Quantity) or draft.kind is None:
        return
    cores = draft.values.get("cores") if draft.kind.name == "wire" else None  # those of a cable lie side by side
    metres = length.nominal * (cores.nominal if isinstance(cores, Quantity) else 1.0)
    if metres <= 1.0:
        return
    for name, times in (("thermal_resistance", 1.0 / metres), ("heat_capacity", metres)):
        value = draft.values.get(name)
        if isinstance(value, Quantity) and draft.origins[name].startswith("default"):
            p = draft.kind.parameter(name)
            draft.values[name] = exact(min(max(value.nominal * times, p.low), p.high), p.unit)
            draft.origins[name] += f", {metres:g} m of it"


def _calibrate(draft: _Draft, report: Report) -> None:
    """Let a converter's measured efficiencies set its loss."""
    kind = draft.kind
    if not draft.points or kind is None or not all(p.name in draft.values for p in kind.parameters):
        return
    nominal = {name: v.nominal if isinstance(v, Quantity) else v for name, v in draft.values.items()}
    found = efficiency.factor(kind.name, nominal, draft.points)
    p = kind.parameter(efficiency.FACTOR)
    if not p.low <= found.low <= found.high <= p.high:
        place = draft.places["efficiency"]
        report(say.losses_apart(place, draft.name, found.low, found.high, p.low, p.high))
        return
    draft.values[p.name], draft.origins[p.name] = found, f"{FILE}: {len(draft.points)} efficiency points"


def _check_order(draft: _Draft, report: Report) -> None:
    """Limits that contradict each other, at least one of them written by the builder."""
    declared = {p.key: p for p in draft.kind.parameters} if draft.kind else {}
    for lower, upper in ASCENDING:
        if lower not in declared or upper not in declared:
            continue
        p, q = declared[lower], declared[upper]
        low, high = draft.values.get(p.name), draft.values.get(q.name)
        places = [draft.places[name] for name in (p.name, q.name) if name in draft.places]
        if not (places and isinstance(low, Quantity) and isinstance(high, Quantity)):
            continue
        if low.nominal and high.nominal and low.nominal > high.nominal:
            said = [
                value.text if name in draft.places else f"{value.text} ({draft.origins[name]})"
                for name, value in ((p.name, low), (q.name, high))
            ]
            report(say.limits_crossed(max(places), draft.name, (lower, said[0]), (upper, said[1])))
