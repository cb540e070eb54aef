"""The same outage by a general-purpose solver, IDA, called from Python once for each case.

The equations are those that the tests write apart from the part models (`tests/judge`), scalar Python arithmetic
behind a dense Jacobian by differences. So most of its time goes into evaluating Python, as it would for anyone who
couples such a solver to a network of parts by hand: two ways of working are compared, not two compilers.
"""

from __future__ import annotations

import copy
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tideover.solve import march

from .measures import Chart, Row, ms
from .scenario import END, Cost, Scenario, timed

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))
from judge import judge

REFERENCE = 1e-9
"""Relative and absolute tolerance of the run that both are measured against."""
APART = 1e-4
"""Instants nearer than this to a change of a discrete state are not compared: there times are, not voltages. [s]"""


@contextmanager
def tolerance(value: float) -> Iterator[None]:
    """The judge drives IDA at one tolerance; here it is asked to use another."""
    kept = judge.TIGHT
    judge.TIGHT = value
    try:
        yield
    finally:
        judge.TIGHT = kept


@dataclass(frozen=True)
class Compared:
    """Largest difference of a node voltage [V] and of an event's time [s] from the reference; seconds it took."""

    volts: float
    event: float
    wall: float
    cpu: float


def compare(scenario: Scenario, count: int, tolerances: tuple[float, ...]) -> tuple[Compared, list[Any]]:
    """Ours and IDA at each tolerance against IDA at `REFERENCE`, the worst of some cases; mean times."""
    cases = scenario.cases(count)
    system = scenario.system(count)
    waves = march(system, scenario.standing(system).state, scenario.changes(), END)
    ours: list[tuple[float, float]] = []
    theirs: dict[float, list[Compared]] = {t: [] for t in tolerances}
    for k in range(count):
        at_rest = judge.stand(scenario.one(cases, k), 1.0, 1.0, 298.15)
        wave = waves.case(k)
        t, first = np.unique(wave.t, return_index=True)
        inside = (t > 0.0) & (t < END)
        t, v = t[inside], wave.v[first[inside]]
        truth, events, _ = _ida(scenario, at_rest, REFERENCE, t)
        calm = np.all(np.abs(t[:, None] - events[None, :]) > APART, axis=1)
        assert wave.inside is not None
        switched = _switched(wave)
        ours.append((float(np.abs(v - truth)[calm].max()), _apart(switched, events)))
        for value in tolerances:
            found, own, cost = _ida(scenario, at_rest, value, t)
            volts = float(np.abs(found - truth)[calm].max())
            theirs[value].append(Compared(volts, _apart(own, events), cost.wall, cost.cpu))
    worst = Compared(max(o[0] for o in ours), max(o[1] for o in ours), 0.0, 0.0)
    return worst, [
        (
            value,
            Compared(
                max(c.volts for c in found),
                max(c.event for c in found),
                float(np.mean([c.wall for c in found])),
                float(np.mean([c.cpu for c in found])),
            ),
        )
        for value, found in theirs.items()
    ]


def _times(cpu: float, base: float) -> str:
    return f"{cpu / base:.3g}"


def _ida(scenario: Scenario, at_rest: Any, value: float, t: Any) -> tuple[Any, Any, Any]:
    """Voltages at the instants `t`, instants of events, and the cost."""
    circuit = copy.deepcopy(at_rest)
    with tolerance(value):
        cost = timed(lambda: judge.outage(circuit, scenario.script(), END, t))
    track = cost.result
    volts = np.full((len(t), circuit.nodes), np.nan)
    volts[np.searchsorted(t, track.t)] = np.array(track.v)
    return volts, np.unique([e[0] for e in track.events]), cost


def _switched(wave: Any) -> Any:
    """Instants at which a discrete state changed."""
    states = wave.inside[2]
    return np.unique(wave.t[1:][np.any(np.diff(states, axis=1) != 0, axis=0)])


def _apart(own: Any, events: Any) -> float:
    """Largest distance from an event of the reference to the nearest of ours. [s]"""
    return float(np.abs(events[:, None] - own[None, :]).min(axis=1).max())


def chart(scenario: Scenario, count: int, tolerances: tuple[float, ...], each: dict[int, Cost]) -> Chart:
    """The table: IDA at each tolerance beside a march of one case and of many."""
    ours, theirs = compare(scenario, count, tolerances)
    alone, many = min(each), max(each)
    base = each[many].cpu / many
    rows: list[Row] = []
    for size in (alone, many):
        rows.append(
            (f"Tideover, {size} case{'s' * (size > 1)} at once", f"{ours.volts * 1e3:.2g}", f"{ours.event * 1e6:.2g}",
             ms(each[size].wall / size), ms(each[size].cpu / size), _times(each[size].cpu / size, base))
        )  # fmt: skip
    for value, found in theirs:
        rows.append(
            (f"IDA, tolerance {value:g}", f"{found.volts * 1e3:.2g}", f"{found.event * 1e6:.2g}", ms(found.wall),
             ms(found.cpu), _times(found.cpu, base))
        )  # fmt: skip
    fair = next((f for _, f in theirs if f.volts <= ours.volts and f.event <= ours.event), None)
    said = (
        f"{count} cases, one after the other, from the same standing points (finding those is not timed). IDA, "
        "variable order up to 5, gets its equations as scalar Python arithmetic written apart from the part models, a "
        "dense Jacobian by differences, the given relative and absolute tolerance, the located events of all guards, "
        "and is started afresh after each. Differences are the largest over all nodes from a run at 1e-9, 0.1 ms away "
        "from events; event times are compared on their own. Most of IDA's time goes into the Python of its residual. "
    )
    if fair:
        said += (
            "At the loosest of these tolerances at which IDA is no further off than we are, it takes "
            f"{fair.cpu / base:.0f} times as long as a case in the batch, and {fair.cpu / each[alone].cpu:.1f} times "
            "as long as a case alone."
        )
    head = ("who", "mV off", "event off [µs]", "ms a case, clock", "ms a case, processor", "times ours in a batch")
    return Chart("Against a general-purpose solver in a loop", said, head, tuple(rows))
