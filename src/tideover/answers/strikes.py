"""Faults that strike a healthy build, all side by side: on mains for hours and through an outage, and on the pack.

Every case starts from the faultless standing point and has its fault from the first instant. What hunts without end (an
adapter that stops and retries, a charger that starts and stops) is marched for a while and then continued at its pace.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.context import Context
from tideover.answers.points import Points
from tideover.answers.rides import Event
from tideover.answers.runs import longest_run
from tideover.answers.states import FULL, MAINS_FULL, Setting
from tideover.cases import written
from tideover.cases.faults import Struck
from tideover.network import Placed
from tideover.solve import Change, Inside, Readings, System, Waves, build, march, readings
from tideover.solve.script import signal_row

Array = NDArray[np.float64]
WATCHED = 12 * 3600.0
"""A fault is watched on mains for this long: parts are as warm as they get, and a charger at fault has overcharged."""
GAP = 5.0
"""Length of the outage that follows. [s]"""
ACCURACY = 1e-3
"""Relative error of a step: far below what the ratios and rates of faults are known to."""
TRIES = 450
"""Steps a case may try: a fault that settles takes tens to two hundred; one that hunts shows its pace in this many.
With 700 or 1200 the severity of no fault of the examples changes; with 300 some do."""
TRIES_AFTER = 300
"""The same for the outage of a case that hunts."""
ENDED, FAILED = 0, 2
BEYOND: dict[str, Any] = {"over": "ignore", "invalid": "ignore", "divide": "ignore"}
"""Where something burns, nobody needs telling that numbers overflow."""


@dataclass(frozen=True)
class Phase:
    """A march of all cases from one standing point.

    Attributes
    ----------
    struck : Struck
        The faults.
    name : str
        Standing state they struck in.
    system : System
        Of all cases.
    case, t : array, shape (points,)
        Which case each recorded point belongs to, and when it was. [-] [s]
    inside : Inside
        All points.
    hunts : bool array, shape (cases,)
        Still switching to and fro when the march was given up.
    stuck : bool array, shape (cases,)
        No voltages satisfied the circuit from some instant on.
    stood : bool array, shape (cases,)
        The fault could only be followed from its own standing point, not from the instant it struck.
    loss, back : float
        When mains is lost and returns; infinite if never. [s]
    """

    struck: Struck
    name: str
    system: System
    case: NDArray[np.int64]
    t: Array
    inside: Inside
    hunts: NDArray[np.bool_]
    stuck: NDArray[np.bool_]
    stood: NDArray[np.bool_]
    loss: float = np.inf
    back: float = np.inf

    @cached_property
    def read(self) -> Readings:
        """Every part at every point."""
        with np.errstate(**BEYOND):
            return readings(self.system.take(self.case), self.inside)

    def cut(self, case: int) -> slice:
        """Points of one case."""
        first, last = np.searchsorted(self.case, [case, case + 1])
        return slice(int(first), int(last))

    def v(self, node: int) -> Array:
        """Voltage of a node at every point. [V]"""
        return np.zeros(len(self.t)) if node == 0 else np.asarray(self.inside.V[node - 1])

    def events(self, case: int) -> list[Event]:
        """Discrete changes of one case, in order of time."""
        cut = self.cut(case)
        t = self.t[cut]
        M = self.inside.M[:, cut]
        out = []
        for row, k in zip(*np.nonzero(M[:, 1:] != M[:, :-1])):
            part, machine, names = self._rows[int(row)]
            out.append(Event(float(t[k + 1]), part, machine, names[M[row, k]], names[M[row, k + 1]]))
        return sorted(out, key=lambda e: e.t)

    @cached_property
    def _rows(self) -> dict[int, tuple[str, str, tuple[str, ...]]]:
        return {
            g.m0 + j * g.n + k: (self.system.network.parts[member].name, m.name, m.states)
            for g in self.system.layout
            for j, m in enumerate(g.kind.machines)
            for k, member in enumerate(g.members)
        }


@dataclass(frozen=True)
class Strikes:
    """All that was computed about the single faults of a build.

    Attributes
    ----------
    struck : Struck
        The faults; case 0 has none.
    context : Context
        Of the network with bridges, nominal.
    points : Points
        Standing points of every fault in every state, shape (states, cases).
    mains, pack, after : Phase or None
        Struck while full on mains, then an outage; struck while full on the pack; the outage of those that hunt.
    """

    struck: Struck
    context: Context
    points: Points
    mains: Phase | None
    pack: Phase | None
    after: Phase | None

    def row(self, name: str, level: str = states.MEAN) -> int | None:
        """Row of `points` for a standing state and a level of the load."""
        names = [(s.standing.name, s.level) for s in self.points.settings]
        return names.index((name, level)) if (name, level) in names else None


def strikes(struck: Struck, seed: int = 1) -> Strikes:
    """Compute what every single fault does.

    Parts that nothing stops from burning get hotter than any law holds for; there the numbers may overflow, and being
    past every limit is all that is read of them.
    """
    with np.errstate(**BEYOND):
        return _strikes(struck, seed)


def _strikes(struck: Struck, seed: int) -> Strikes:
    context = Context(struck.network, (), seed)
    points = standing_points(context, struck)
    system = build(struck.network, struck.batch.values, struck.batch.count)
    delay = _delay(struck)
    ends = WATCHED + GAP + delay
    on_mains = _phase(struck, context, points, system, MAINS_FULL, ends, _outage(struck, WATCHED, WATCHED + GAP))
    on_pack = _phase(struck, context, points, system, FULL, 1.2 * longest_run(struck.network), [])
    after = _after(on_mains, delay) if on_mains and _adapters(struck) else None
    return Strikes(struck, context, points, on_mains, on_pack, after)


def standing_points(context: Context, struck: Struck) -> Points:
    """Every fault in every standing state at mean load, and at peak where the pack is full; searched from the start."""
    wanted = [Setting(s) for s in context.states]
    peak = states.worst_level(context.network)
    if peak != states.MEAN:
        wanted += [Setting(s, peak) for s in context.states if s.name in (MAINS_FULL, FULL)]
    return context.points(struck.batch, wanted, fresh=True, held=(struck.signals, struck.states))


def _adapters(struck: Struck) -> tuple[Placed, ...]:
    return states.of_kind(struck.network, "adapter")


def _delay(struck: Struck) -> float:
    """From mains back until everything has settled. [s]"""
    starts = [
        written(struck.network, (a.name, "start_delay")) + written(struck.network, (a.name, "rise_time"))
        for a in _adapters(struck)
    ]
    return max(starts, default=0.0) + 2.0


def _outage(struck: Struck, loss: float, back: float, cases: NDArray[np.int64] | None = None) -> list[Change]:
    """Mains lost and back; where a fault holds the signal, nothing changes."""
    take = np.arange(struck.batch.count) if cases is None else cases
    out = []
    for adapter in _adapters(struck):
        held = struck.signals.get((adapter.name, "mains"), np.full(struck.batch.count, np.nan))[take]
        for at, value in ((loss, 0.0), (back, 1.0)):
            out.append(Change(at, adapter.name, "mains", np.where(np.isnan(held), value, held)))
    return out


def _phase(
    struck: Struck,
    context: Context,
    points: Points,
    system: System,
    name: str,
    until: float,
    changes: Sequence[Change],
) -> Phase | None:
    """March all cases from the faultless standing point of a state; None where there is none."""
    standing = next((s for s in context.states if s.name == name), None)
    if standing is None or not context.has(Setting(standing)):
        return None
    count = struck.batch.count
    start = context.nominal.rest.state.take(np.full(count, context.row(Setting(standing))))
    _impose(struck, system, start)
    first = march(system, start, changes, until=until, accuracy=ACCURACY, most_steps=TRIES)
    short = (first.outcome == FAILED) & (first.tries < TRIES)
    source: list[tuple[Waves, int]] = [(first, k) for k in range(count)]
    hunts = (first.outcome == FAILED) & ~short
    stood = np.zeros(count, dtype=bool)
    k = [s.standing.name for s in points.settings].index(name)
    again = np.flatnonzero(short & points.found[k])
    if len(again):
        own = points.rest.state.take(k * count + again)
        some = [Change(c.at, c.part, c.signal, np.broadcast_to(c.value, (count,))[again]) for c in changes]
        second = march(system.take(again), own, some, until=until, accuracy=ACCURACY, most_steps=TRIES)
        for j, case in enumerate(again):
            source[case] = (second, j)
            stood[case] = True
            hunts[case] = second.outcome[j] == FAILED and second.tries[j] >= TRIES
            short[case] = second.outcome[j] == FAILED and not hunts[case]
    loss, back = (float(changes[0].at), float(changes[1].at)) if changes else (np.inf, np.inf)
    return _gather(struck, name, system, source, hunts, short, stood, loss, back)


def _gather(
    struck: Struck,
    name: str,
    system: System,
    source: Sequence[tuple[Waves, int]],
    hunts: NDArray[np.bool_],
    stuck: NDArray[np.bool_],
    stood: NDArray[np.bool_],
    loss: float,
    back: float,
) -> Phase:
    waves = [w.case(k) for w, k in source]
    inside = [w.inside for w in waves]
    joined = Inside(*(np.concatenate([i[n] for i in inside if i is not None], axis=1) for n in range(4)))
    case = np.repeat(np.arange(len(waves)), [len(w.t) for w in waves])
    return Phase(
        struck, name, system, case, np.concatenate([w.t for w in waves]), joined, hunts, stuck, stood, loss, back
    )


def _after(phase: Phase, delay: float) -> Phase | None:
    """The outage of the cases that were still hunting when their march on mains was given up."""
    wanted = np.flatnonzero(phase.hunts)
    early = [k for k in wanted if phase.t[phase.cut(int(k))][-1] < phase.loss]
    if not early:
        return None
    cases = np.array(early)
    last = np.array([phase.cut(int(k)).stop - 1 for k in cases])
    start = phase.inside.take(last)
    changes = _outage(phase.struck, 0.05, 0.05 + GAP, cases)
    waves = march(
        phase.system.take(cases),
        start,
        changes,
        until=0.05 + GAP + delay,
        accuracy=ACCURACY,
        most_steps=TRIES_AFTER,
    )
    hunts = waves.outcome == FAILED
    none = np.zeros(len(cases), dtype=bool)
    part = _gather(
        phase.struck, phase.name, phase.system, [(waves, j) for j in range(len(cases))], hunts, none, none, 0.05, GAP
    )
    everyone = np.zeros(phase.struck.batch.count, dtype=bool)
    everyone[cases] = hunts
    return Phase(
        phase.struck,
        phase.name,
        phase.system,
        cases[part.case],
        part.t,
        part.inside,
        everyone,
        np.zeros_like(everyone),
        np.zeros_like(everyone),
        0.05,
        0.05 + GAP,
    )


def _impose(struck: Struck, system: System, start: Inside) -> None:
    """Signals and states that faults hold, from the first instant."""
    for (part, signal), value in struck.signals.items():
        _set(start.S, signal_row(system, part, signal), value)
    for (part, state), value in struck.states.items():
        _set(start.X, _state_row(system, part, state), value)


def _set(rows: Array, row: int, value: Array) -> None:
    rows[row] = np.where(np.isnan(value), rows[row], value)


def _state_row(system: System, part: str, state: str) -> int:
    for g in system.layout:
        for k, member in enumerate(g.members):
            if system.network.parts[member].name == part and state in g.program.states:
                return g.x0 + g.program.states.index(state) * g.n + k
    raise KeyError(f"{part}.{state}")
