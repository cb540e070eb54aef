"""What the strips of a pack do to its cells: shares in time, heat of every piece of strip, where the leads go best.

Limits used here are engineering judgement and shown as such.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np

from tideover.cells import sharing
from tideover.cells.sharing import Case, Course, Phase
from tideover.design import welded
from tideover.design.cell_model import BuiltPack
from tideover.design.strip_layout import ALONG, EVERY, LINK, Segment, StripLayout
from tideover.laws.ampacity import span_rise, strip_current, strip_rise
from tideover.laws.conductors import bar_resistance
from tideover.laws.constants import HOUR, TEMP_25
from tideover.laws.strips import StripNetwork, joint_resistance
from tideover.parts.base import Kind

WATCHED, REFUSED = 20.0, 40.0
"""Rise of a strip over the air to keep an eye on, and to change: it lies on the cells' insulating rings (typical,
unverified). [K]"""
RULE = 0.2
"""Columns squared times strip over cell resistance, below which the end cell carries some 10 % more (typical). [-]"""
NOT_STATED = 1000.0
"""A rating of the cell that nobody stated. [A]"""
COLD, WARM = 273.15, 313.15
"""Air of the other cases when nobody states it. [K]"""
RESTED = 1.0 * HOUR
"""How long the cells are followed after the load stops. [s]"""


@dataclass(frozen=True)
class CellShare:
    """What one cell carries, over the mean of its group in the case named.

    Attributes
    ----------
    id : str
        Of the cell.
    group : int
        From 1.
    start, most, end : float
        Share at the first instant, at its greatest, and at the cut-off. [-]
    peak : float
        Largest current. [A]
    at : float
        When it has its greatest share, over the time to the cut-off. [-]
    left : float
        State of charge at the cut-off. [-]
    """

    id: str
    group: int
    start: float
    most: float
    end: float
    peak: float
    at: float
    left: float


@dataclass(frozen=True)
class Reached:
    """One case as a whole.

    Attributes
    ----------
    name : str
        Of the case.
    temp : float
        Of the air. [K]
    lasted, charge : float
        Until the cut-off [s], and the charge given by then. [C]
    ideal : float
        Charge if all cells of a group shared at one state of charge. [C]
    ended : str
        Why the discharge ended, as in `Course`.
    largest : float
        Greatest share of any cell. [-]
    at : float
        When that is, over the time to the cut-off. [-]
    spread : float
        Between the states of charge left in a group, the widest group. [-]
    trading : float
        Largest current between the cells of a group once the load has stopped. [A]
    settled : float
        How long until it is a tenth of that; as long as was looked at when it never is. [s]
    cells : tuple of CellShare
        In the order of the groups.
    """

    name: str
    temp: float
    lasted: float
    charge: float
    ideal: float
    ended: str
    largest: float
    at: float
    spread: float
    trading: float
    settled: float
    cells: tuple[CellShare, ...]


@dataclass(frozen=True)
class Heated:
    """One piece of strip from weld to weld at its largest current.

    Attributes
    ----------
    segment : Segment
        Which.
    current, drop, heat : float
        Its current [A], the voltage lost [V] and the heat [W].
    rise : float
        Over the air if no cell took heat from it, by the usual rule; infinite for no equilibrium. [K]
    over_cells : float
        Of its middle over the cells it is welded to, which take its heat. [K]
    case : str
        Name of the case in which it carries most.
    """

    segment: Segment
    current: float
    drop: float
    heat: float
    rise: float
    over_cells: float
    case: str


@dataclass(frozen=True)
class Way:
    """One way to solder the leads, or to lay the strips, at the mean current.

    Attributes
    ----------
    plus, minus : str
        Columns of the leads.
    change : str
        What else is changed; empty for nothing.
    largest : float
        Share of the most loaded cell at half charge. [-]
    loss : float
        Heat in strips and welds. [W]
    """

    plus: str
    minus: str
    change: str
    largest: float
    loss: float


@dataclass(frozen=True)
class Weakest:
    """The spot that gives way first: the largest part of what it may bear.

    Attributes
    ----------
    text : str
        A sentence.
    used : float
        Part of the limit; above 1 it is exceeded. [-]
    mend : str
        What would help; empty where nothing is needed.
    """

    text: str
    used: float
    mend: str = ""


@dataclass(frozen=True, eq=False)
class AsBuilt:
    """Everything `assess` finds.

    Attributes
    ----------
    cases : tuple of Reached
        The nominal one first.
    strips : tuple of Heated
        Every segment, the hottest first.
    ways : tuple of Way
        Of the leads, best first; `as_it_is` is the one described.
    as_it_is : Way
        As described.
    changes : tuple of Way
        Other strips with the leads as described.
    thumb : float
        Columns squared times strip over cell resistance; the rule wants it below `RULE`. [-]
    lost_volts : float
        In strips and welds between the leads, at the mean current. [V]
    short : float
        Current of a full pack into a short circuit at its leads. [A]
    current : float
        Mean current of the nominal discharge. [A]
    rating : float or None
        Largest discharge current of a cell, if stated. [A]
    weakest : Weakest
        Spot.
    """

    cases: tuple[Reached, ...]
    strips: tuple[Heated, ...]
    ways: tuple[Way, ...]
    as_it_is: Way
    changes: tuple[Way, ...]
    thumb: float
    lost_volts: float
    short: float
    current: float
    rating: float | None
    weakest: Weakest

    @property
    def fails(self) -> bool:
        """Whether something is beyond its limit."""
        return self.weakest.used > 1.0 or any(c.ended == "collapse" for c in self.cases)


def assess(
    pack: BuiltPack,
    kind: Kind,
    current: float | None = None,
    power: float | None = None,
    air: tuple[float, float, float] = (COLD, TEMP_25, WARM),
) -> AsBuilt:
    """Compute what the strips of a pack do.

    Parameters
    ----------
    pack : BuiltPack
        With its strips described.
    kind : Kind
        The pack, for what the cell's file leaves out.
    current, power : float or None
        Load of the pack: one of the two. [A, W]
    air : tuple of three float
        Coldest, usual and warmest air. [K]

    Returns
    -------
    found : AsBuilt
        All of it.
    """
    phases = [Phase(sharing.DISCHARGE, current, power), Phase(sharing.REST, longest=RESTED)]
    cases = _cases(pack, kind, air)
    courses = sharing.run(pack, kind, phases, cases)
    where = welded.place(pack)
    reached = tuple(
        _reached(pack, course, sharing.shared_evenly(pack, kind, phases[:1], Case("", course.case.temp)))
        for course in courses
    )
    nominal = courses[0]
    mask = nominal.during(0)
    mean = float(nominal.given(0) / max(nominal.lasted(0), 1e-9)) if nominal.lasted(0) else float(nominal.current[0])
    strips = _heated(pack, courses, where.segments) if pack.strip else ()
    now = _way(pack, kind, mean, "")
    plan = welded.layout(pack)
    ways = sorted(_ways(pack, kind, mean) if pack.strip else [], key=lambda w: (round(w.largest, 3), w.loss))
    bar = bar_resistance(
        plan.pitch.nominal,
        plan.along.width.nominal,
        plan.along.thickness.nominal * plan.layers,
        plan.along.resistivity.nominal,
    )
    own = welded.cell_growths(pack, kind) * welded.number(pack, kind, "resistance")
    r = float(joint_resistance(welded.network(pack), own, welded.weld_resistance(pack), pack.series))
    alone = float(np.sum(1.0 / np.sum(1.0 / own.reshape(pack.series, -1), axis=1)))
    stated = welded.number(pack, kind, "discharge_rating")
    rating = stated if stated < NOT_STATED else None
    return AsBuilt(
        reached,
        strips,
        tuple(ways),
        now,
        _changes(pack, kind, mean) if pack.strip else (),
        plan.columns**2 * bar / float(own.mean()),
        mean * pack.series * welded.joint(pack, kind).nominal,
        float(nominal.volts[mask][0] + (r * pack.series + alone) * nominal.current[mask][0])
        / (r * pack.series + alone),
        mean,
        rating,
        _weakest(plan, reached, strips, rating),
    )


def _cases(pack: BuiltPack, kind: Kind, air: tuple[float, float, float]) -> list[Case]:
    """As described; cold; warm; and with the cell that carries most welded best and all others worst."""
    cold, usual, warm = air
    n = pack.series * pack.parallel
    first = sharing.run(pack, kind, [Phase(sharing.DISCHARGE, current=1e-3 + n, longest=1e-3)], [Case("", usual)])[0]
    best = int(np.argmax(_shares(pack, first.cells[:1])[0]))
    welds = np.full(n, welded.weld_resistance(pack, welded.HIGH))
    welds[best] = welded.weld_resistance(pack, welded.LOW)
    out = [Case("as described", usual), Case("poor welds", usual, welds, welded.HIGH)]
    out += [Case("cold", cold)] if cold < usual else []
    out += [Case("warm", warm)] if warm > usual else []
    return out


def _shares(pack: BuiltPack, cells: Any) -> Any:
    """Currents over the mean of each group, shape (k, n)."""
    by_group = cells.reshape(len(cells), pack.series, pack.parallel)
    mean = by_group.mean(axis=-1, keepdims=True)
    return (by_group / np.where(np.abs(mean) > 0.0, mean, 1.0)).reshape(cells.shape)


def _reached(pack: BuiltPack, course: Course, ideal: Course) -> Reached:
    """Sum up one course."""
    mask, rest = course.during(0), course.during(1)
    cells, t = course.cells[mask], course.t[mask]
    share = _shares(pack, cells)
    left = course.charge[mask][-1]
    whole = max(course.lasted(0), 1e-9)
    most, at = share.max(axis=0), share.argmax(axis=0)
    ids = [(c.id, g + 1) for g, group in enumerate(pack.groups) for c in group]
    rows = tuple(
        CellShare(
            id,
            group,
            float(share[0, k]),
            float(most[k]),
            float(share[-1, k]),
            float(cells[:, k].max()),
            float(t[at[k]] / whole),
            float(left[k]),
        )
        for k, (id, group) in enumerate(ids)
    )
    by_group = left.reshape(pack.series, pack.parallel)
    trade = np.abs(course.cells[rest]).max(axis=1) if pack.parallel > 1 else np.zeros(int(rest.sum()))
    calm = np.flatnonzero(trade > 0.1 * trade[0]) if len(trade) and trade[0] > 0.0 else np.array([0])
    times = course.t[rest] - course.t[rest][0]
    worst = int(most.argmax())
    return Reached(
        course.case.name,
        course.case.temp,
        course.lasted(0),
        course.given(0),
        ideal.given(0) * pack.parallel,
        course.ended[0],
        float(most[worst]),
        rows[worst].at,
        float((by_group.max(axis=1) - by_group.min(axis=1)).max()),
        float(trade[0]),
        float(times[min(calm[-1] + 1, len(times) - 1)]) if trade[0] > 0.0 else 0.0,
        rows,
    )


def _heated(pack: BuiltPack, courses: Sequence[Course], segments: Sequence[Segment]) -> tuple[Heated, ...]:
    """Every segment at the largest current of any case, the hottest first."""
    plan = welded.layout(pack)
    best: list[Heated] = []
    for course in courses:
        network = welded.network(pack, course.case.corner, course.case.temp)
        mask = course.during(0)
        fed = np.zeros((int(mask.sum()), 2 * network.cells + 2))
        cells, load = course.cells[mask], course.current[mask]
        fed[:, 0:-2:2], fed[:, 1:-2:2] = cells, -cells
        fed[:, -2], fed[:, -1] = -load, load
        most = np.abs(fed @ network.flow.T).max(axis=0)
        for k, s in enumerate(segments):
            strip = plan.along if s.kind == ALONG else plan.across
            least = welded.LOW if course.case.corner == welded.HIGH else welded.NOMINAL
            high = welded.HIGH if course.case.corner == welded.HIGH else welded.NOMINAL
            thick = getattr(strip.thickness, least) * s.layers
            i, rho = float(most[k]), getattr(strip.resistivity, high)
            width = getattr(strip.width, least)
            rise = float(strip_rise(i, width, thick, course.case.temp, rho, strip.tempco.nominal))
            over = float(span_rise(i, width, thick, s.length, course.case.temp, rho, strip.tempco.nominal))
            ohms = float(network.ohms[k])
            found = Heated(s, i, i * ohms, i * i * ohms, rise, over, course.case.name)
            if course is courses[0]:
                best.append(found)
            elif (rise, over) > (best[k].rise, best[k].over_cells):
                best[k] = found
    return tuple(sorted(best, key=lambda h: (-h.rise, -h.over_cells)))


def _way(pack: BuiltPack, kind: Kind, current: float, change: str) -> Way:
    """Shares and losses at half charge with resistances of an hour's load."""
    plan = welded.layout(pack)
    network: StripNetwork = welded.network(pack)
    weld = welded.weld_resistance(pack)
    cells = welded.cell_resistances(pack, kind)
    found = network.solve(np.zeros(len(cells)), cells + weld, current)
    loss = float(found.heat.sum() + weld * np.square(found.currents).sum())
    return Way(plan.plus, plan.minus, change, float(_shares(pack, found.currents[None]).max()), loss)


def _ways(pack: BuiltPack, kind: Kind, current: float) -> list[Way]:
    """The leads at every pair of columns; of wide groups at every quarter."""
    plan = welded.layout(pack)
    last = plan.columns
    numbers = range(1, last + 1) if last <= 6 else sorted({round(1 + k * (last - 1) / 4) for k in range(5)})
    places = [str(k) for k in numbers]
    pairs = [*product(places, places), (EVERY, EVERY)] if last > 1 else []
    return [
        _way(replace(pack, strip=replace(plan, plus=plus, minus=minus)), kind, current, "") for plus, minus in pairs
    ]


def _changes(pack: BuiltPack, kind: Kind, current: float) -> tuple[Way, ...]:
    """One more layer, wider strip, thicker strip: what each would give."""
    plan = welded.layout(pack)
    wide = replace(plan.along, width=_times(plan.along.width, 1.5))
    broad = replace(plan.across, width=_times(plan.across.width, 1.5))
    other: list[tuple[str, StripLayout]] = [
        ("a second layer along the rows", replace(plan, layers=plan.layers + 1)),
        (
            "a second layer everywhere",
            replace(plan, layers=plan.layers + 1, across_layers=plan.across_layers + 1),
        ),
        ("strip half as wide again", replace(plan, along=wide, across=broad)),
    ]
    return tuple(_way(replace(pack, strip=new), kind, current, words) for words, new in other)


def _times(q: Any, by: float) -> Any:
    return replace(q, nominal=q.nominal * by, low=q.low * by, high=q.high * by)


def _weakest(plan: StripLayout, cases: Sequence[Reached], strips: Sequence[Heated], rating: float | None) -> Weakest:
    """The spot that uses most of what it may bear: a piece of strip, or a cell with a stated rating."""
    found = [Weakest("There are no strips between cells.", 0.0)]
    if strips:
        h = strips[0]
        free = f"a {h.rise:.0f} K rise" if np.isfinite(h.rise) else "a rise without end"
        said = f"The strip {h.segment.name}, carries {h.current:.3g} A ({h.case}): {free} by the usual rule."
        found.append(Weakest(said, h.rise / REFUSED, stronger(plan, h) if h.rise > WATCHED else ""))
    if rating is not None:
        peak, id, group, name = max((c.peak, c.id, c.group, case.name) for case in cases for c in case.cells)
        said = f"Cell {id} of group {group} gives {peak:.3g} A ({name}); it is rated for {rating:.3g} A."
        mend = "Put more cells side by side, take less from them, or cut off at a higher voltage."
        found.append(Weakest(said, peak / rating, mend if peak > rating else ""))
    return max(found, key=lambda w: w.used)


def stronger(plan: StripLayout, h: Heated) -> str:
    """How to keep a piece of strip below the rise to watch."""
    if h.segment.kind == LINK and plan.joined != EVERY:
        return "Join the groups at every column: joined: every."
    strip = plan.along if h.segment.kind == ALONG else plan.across
    width, thick, rho = strip.width.nominal, strip.thickness.nominal, strip.resistivity.nominal
    enough = [n for n in range(2, 11) if strip_current(width, n * thick, WATCHED, rho) >= h.current]
    if not enough:
        return "No stack of this strip will do: use copper, or solder a wire to every column."
    return f"By the same rule {enough[0]} layers there would do, or the leads at other columns."


@dataclass(frozen=True)
class GroupSums:
    """One group as a whole.

    Attributes
    ----------
    group : int
        From 1.
    ids : tuple of str
        Of its cells.
    capacity : float
        Of all of them. [C]
    resistance : float
        Of all of them side by side, without strips. [ohm]
    lost : str
        What the worst open weld in it costs.
    """

    group: int
    ids: tuple[str, ...]
    capacity: float
    resistance: float
    lost: str


def group_sums(pack: BuiltPack, kind: Kind) -> tuple[GroupSums, ...]:
    """Capacity and resistance of every group, and what its worst lost weld costs."""
    cells = welded.cell_resistances(pack, kind).reshape(pack.series, pack.parallel)
    losses = welded.losses_of_a_weld(pack, kind)
    out = []
    for g, group in enumerate(pack.groups):
        worst = max((w for w in losses if w.group == g + 1), key=lambda w: w.growth)
        said = f"{worst.id}: {100 * worst.lost:.0f} % less charge, {100 * (worst.growth - 1):.0f} % more resistance"
        if not np.isfinite(worst.growth):
            said = f"{worst.id}: the pack is dead"
        resistance = float(1.0 / np.sum(1.0 / cells[g]))
        ids = tuple(c.id for c in group)
        out.append(GroupSums(g + 1, ids, sum(c.capacity.nominal for c in group), resistance, said))
    return tuple(out)
