"""From a design to the network that is computed: nodes by number, parts in place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from tideover.design import BuildError, Design, Draft, Need, PartSpec, Place, examine
from tideover.design.cell_model import BuiltPack
from tideover.design.model import RETURN, Value
from tideover.design.parts import ENCLOSURE, Shelf
from tideover.laws.cell_curve import CellCurve
from tideover.laws.cells import Curve
from tideover.network import structure
from tideover.network.wiring import Wiring, wire
from tideover.parts import KINDS, Kind
from tideover.quantity import Quantity


@dataclass(frozen=True)
class Placed:
    """A part in its place.

    Attributes
    ----------
    nodes : tuple of int
        Node of each terminal, in the order of the kind; empty for the box, which has none.
    values : dict of str to Quantity or float
        Every parameter of the kind by its Python name, in SI.
    curve : CellCurve or None
        Of a pack whose cells have curves of their own.
    built : BuiltPack or None
        Of a pack whose cells are known one by one.
    doubts : tuple of str
        Of a pack whose cells were fitted to logs that the fit does not follow: the file, and what it says.
    """

    name: str
    kind: Kind
    nodes: tuple[int, ...]
    values: dict[str, Value]
    place: Place
    curve: CellCurve | None = None
    built: BuiltPack | None = None
    doubts: tuple[str, ...] = ()


def open_circuit(pack: Placed) -> Curve:
    """Open-circuit curve of one cell of a pack: its own, or else its chemistry's."""
    if pack.curve is not None:
        return pack.curve.open_circuit
    value = pack.values["chemistry"]
    word = int(value.nominal if isinstance(value, Quantity) else value)
    return Curve.of([pack.kind.parameter("chemistry").choices[word]])


@dataclass(frozen=True)
class Network:
    """Typed parts joined at nodes.

    Attributes
    ----------
    nodes : tuple of str
        Names; ``nodes[0]`` is ``return``. A node that the file does not name is called by what it stands
        between: ``lead-jack``.
    parts : tuple of Placed
        In the order of the file; the last is the box.
    at : int
        Node where the load is judged.
    """

    title: str
    nodes: tuple[str, ...]
    parts: tuple[Placed, ...]
    need: Need
    design: Design
    at: int

    def part(self, name: str) -> Placed:
        """Find a part by name; KeyError when there is none."""
        for part in self.parts:
            if part.name == name:
                return part
        raise KeyError(name)


def load(path: str | Path, *, kinds: Mapping[str, Kind] | None = None, shelf: Shelf | None = None) -> Network:
    """Read a build file and build its network.

    Parameters
    ----------
    path : str or Path
        Of the file.
    kinds, shelf : optional
        Tables to read against, instead of `tideover.parts.KINDS` and `tideover.shelf`.

    Raises
    ------
    BuildError
        With every fault of the file and of the network, in one report.
    """
    return settle(examine(path, kinds=kinds, shelf=shelf), kinds=kinds)


def settle(draft: Draft, *, kinds: Mapping[str, Kind] | None = None) -> Network:
    """Build the network of a file that was examined; BuildError with all faults of both steps."""
    kinds = KINDS if kinds is None else kinds
    faults = list(draft.faults)
    if draft.whole:
        wiring = wire(draft.parts, draft.chains, kinds, draft.meant)
        faults += structure.check(wiring, draft.need)
        if not faults:
            return _network(draft.design(), wiring, kinds)
    raise BuildError(faults)


def build(design: Design, *, kinds: Mapping[str, Kind] | None = None) -> Network:
    """Build the network of a design.

    Raises
    ------
    BuildError
        With every structural fault.
    """
    kinds = KINDS if kinds is None else kinds
    wiring = wire(design.parts, design.chains, kinds)
    faults = structure.check(wiring, design.need)
    if faults:
        raise BuildError(faults)
    return _network(design, wiring, kinds)


def _network(design: Design, wiring: Wiring, kinds: Mapping[str, Kind]) -> Network:
    names, nets = wiring.nets()
    assert names[0] == RETURN
    placed = [
        Placed(
            name,
            kinds[spec.kind],
            tuple(nets[(name, t)] for t in kinds[spec.kind].terminals),
            spec.values,
            spec.place,
            spec.curve,
            spec.built,
            spec.doubts,
        )
        for name, spec in design.parts.items()
    ]
    at = structure.judged(wiring, design.need.at) or 0
    return Network(design.title, names, (*placed, *_box(design.box, kinds)), design.need, design, at)


def _box(spec: PartSpec, kinds: Mapping[str, Kind]) -> tuple[Placed, ...]:
    return (Placed(ENCLOSURE, kinds[ENCLOSURE], (), spec.values, spec.place),) if ENCLOSURE in kinds else ()
