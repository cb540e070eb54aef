"""What a pack is as built: who carries what along its strips, where they warm, and where its leads belong."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from tideover.cells.log import Array
from tideover.cells.sharing import DISCHARGE, REST, Case, Course, Phase, run, shared_evenly
from tideover.design import welded
from tideover.design.cell_model import BuiltPack
from tideover.laws.ampacity import strip_current
from tideover.laws.constants import TEMP_25
from tideover.parts.base import Kind

ENDS = ("first", "middle", "last")
"""Columns at which leads are tried."""
RISE = 20.0
"""Warming for which the guidance current of a strip is computed. [K]"""
AFTER = 1800.0
"""Rest followed after a run: what then flows from cell to cell. [s]"""


@dataclass(frozen=True)
class Leads:
    """Leads at other places.

    Attributes
    ----------
    plus, minus : str
        Columns.
    largest : float
        Current of the hardest worked cell over the mean. [-]
    joint : float
        What strips and welds add for each group. [ohm]
    """

    plus: str
    minus: str
    largest: float
    joint: float


@dataclass(frozen=True)
class Spot:
    """One piece of strip under the load.

    Attributes
    ----------
    name : str
        ``A01 to A02, plus of group 1``.
    current, heat, rise : float
        Through it [A], set free in it [W], and how far that warms it. [K]
    """

    name: str
    current: float
    heat: float
    rise: float


@dataclass(frozen=True, eq=False)
class Shown:
    """A pack under a load.

    Attributes
    ----------
    ids : tuple of str
        Of all cells, group by group.
    current : float
        Of the pack. [A]
    begin, largest : array, shape (n,)
        Current of each cell over the mean of a cell: at the begin, and at most. [-]
    worst_at : float
        When the largest of them is met. [s]
    left : array, shape (n,)
        State of charge when the run ends. [-]
    runtime, even : float
        Of the pack, and if its cells shared without strips. [s]
    traded : float
        Largest current of a cell once the load has stopped. [A]
    spots : tuple of Spot
        Pieces of strip, the warmest first; none without strips.
    joint : float
        What strips and welds add for each group. [ohm]
    leads : tuple of Leads
        Every place tried, the most even under a long load first; none without strips.
    as_built : float
        Of the hardest worked cell with the leads where they are, in the same terms. [-]
    """

    ids: tuple[str, ...]
    current: float
    begin: Array
    largest: Array
    worst_at: float
    left: Array
    runtime: float
    even: float
    traded: float
    spots: tuple[Spot, ...]
    joint: float
    leads: tuple[Leads, ...]
    as_built: float


def shown(pack: BuiltPack, kind: Kind, current: float, ambient: float = TEMP_25) -> Shown:
    """Follow a pack through a discharge at constant current and half an hour of rest.

    Parameters
    ----------
    pack : BuiltPack
        As read. [-]
    kind : Kind
        The pack, for what its cell's file leaves out. [-]
    current : float
        Of the pack, above zero. [A]
    ambient : float
        Around it. [K]

    Returns
    -------
    found : Shown
    """
    phases, case = [Phase(DISCHARGE, current=current), Phase(REST, longest=AFTER)], Case("nominal", ambient)
    course = run(pack, kind, phases, [case])[0]
    even = shared_evenly(pack, kind, phases[:1], case)
    during = course.during(0)
    shares = course.cells[during] * pack.parallel / current
    worst = np.unravel_index(int(np.argmax(shares)), shares.shape)
    return Shown(
        tuple(c.id for group in pack.groups for c in group),
        current,
        shares[0],
        shares.max(axis=0),
        float(course.t[during][worst[0]]),
        course.charge[during][-1],
        course.lasted(0),
        even.lasted(0),
        _traded(course),
        _spots(pack, kind, current),
        welded.joint(pack, kind).nominal,
        _leads(pack, kind),
        _largest(pack, _resistances(pack, kind)),
    )


def _traded(course: Course) -> float:
    after = course.cells[course.during(1)]
    return float(np.abs(after).max()) if len(after) else 0.0


def _resistances(pack: BuiltPack, kind: Kind) -> Array:
    return np.asarray(welded.cell_resistances(pack, kind) + welded.weld_resistance(pack))


def _spots(pack: BuiltPack, kind: Kind, current: float) -> tuple[Spot, ...]:
    """Every piece of strip under the load, cells at one voltage."""
    if pack.strip is None:
        return ()
    where = welded.place(pack)
    cells = _resistances(pack, kind)
    shares = welded.network(pack).solve(np.zeros(len(cells)), cells, current)
    flows = np.abs(np.asarray(shares.segments))[: len(where.segments)]
    heats = np.asarray(shares.heat)[: len(where.segments)]
    out = []
    for k, s in enumerate(where.segments):
        strip = pack.strip.along if s.kind == "along" else pack.strip.across
        usual = strip_current(s.width, strip.thickness.nominal * s.layers, RISE, strip.resistivity.nominal)
        out.append(Spot(s.name, float(flows[k]), float(heats[k]), RISE * float(flows[k] / usual) ** 2))
    return tuple(sorted(out, key=lambda spot: -spot.rise))


def _largest(pack: BuiltPack, cells: Array) -> float:
    """Current of the hardest worked cell over the mean, cells at one voltage behind all their resistance."""
    _, currents, *_ = welded.network(pack).line(np.zeros(len(cells)), cells)
    return pack.parallel * float(np.max(currents))


def _leads(pack: BuiltPack, kind: Kind) -> tuple[Leads, ...]:
    """Leads at every pair of places, the most even first, then the least resistance."""
    if pack.strip is None or pack.parallel < 2:
        return ()
    cells = _resistances(pack, kind)
    out = []
    for plus, minus in product(ENDS, ENDS):
        other = replace(pack, strip=replace(pack.strip, plus=plus, minus=minus))
        out.append(Leads(plus, minus, _largest(other, cells), welded.joint(other, kind).nominal))
    return tuple(sorted(out, key=lambda place: (round(place.largest, 3), place.joint)))
