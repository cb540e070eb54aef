"""Engine against judge: one case run by both, and how far apart they are."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tideover.solve import OUTCOMES, Change, Condition, along, build, march, readings, rest

from . import judge
from .generate import Case
from .judge import allowed

CLEAR = 20e-6
"""Around a switching instant no voltages are compared, and so much may its time differ. [s]"""
ENDINGS = ("ended", "stopped", "failed")
SPREAD = 0.01
"""The weak group's charge below the others'."""


@dataclass(frozen=True)
class Standing:
    """Both standing points: largest difference of a node, in volts and in units of what is allowed."""

    name: str
    outcome: str
    volts: float
    share: float
    same_states: bool


@dataclass(frozen=True)
class Passage:
    """An outage seen by both.

    `share` is the worst difference of a node's voltage over what is allowed (1 mV, or 0.1 % if larger), each counting
    its time from its own last switching instant; `volts` that difference; `plain` the share when both are read at one
    time.
    `late` is the largest difference of an event's instant [s]. `pace` counts each event from the one before it, over
    20 us or, where it is longer, the time in which no voltage moves by more than what is allowed: an event that
    waits for a slow decay has no sharper instant than that.
    """

    name: str
    outcome: str
    share: float
    volts: float
    plain: float
    late: float
    pace: float
    events: int
    same_sequence: bool
    points: int
    imbalance: float
    steps: int
    engine_seconds: float
    judge_seconds: float
    note: str = ""


def condition(case: Case) -> Condition:
    """What the case says of the state in which it is found."""
    states = {}
    for part in case.network.parts:
        if part.kind.name == "pack":
            states |= {(part.name, "charge"): case.charge, (part.name, "weak_charge"): case.charge - SPREAD}
    return Condition(states=states, ambient=case.ambient)


def built(case: Case) -> Any:
    return build(case.network, {("box", "ambient"): np.array([case.ambient])})


def stand(case: Case) -> tuple[Any, judge.Circuit]:
    """Standing points of engine and judge."""
    return (
        rest(built(case), condition(case)),
        judge.stand(case.network, case.charge, case.charge - SPREAD, case.ambient),
    )


def standing(case: Case, found: Any, circuit: judge.Circuit) -> Standing:
    """How far the two standing points are apart."""
    outcome = OUTCOMES[found.outcome[0]]
    if outcome != "found":
        return Standing(case.name, outcome, np.inf, np.inf, False)
    volts = circuit.y[: circuit.nodes]
    off = np.abs(found.v[0] - volts)
    seen = readings(built(case), found.state).machine
    same = all(q.doing[m] == seen[q.name, m][0] for q in circuit.parts for m in q.model.tables)
    return Standing(case.name, outcome, float(off.max()), float((off / allowed(volts)).max()), same)


def _events(waves: Any) -> list[tuple[float, str, str, str]]:
    t, system, inside = along(waves, 0)
    found = []
    for (part, machine), names in readings(system, inside).machine.items():
        for k in range(1, len(names)):
            if names[k] != names[k - 1]:
                found.append((float(t[k]), part, machine, names[k]))
    return found


def _by_machine(events: Sequence[Any]) -> dict[tuple[str, str], list[Any]]:
    out: dict[tuple[str, str], list[Any]] = {}
    for e in sorted(events, key=lambda e: e[0]):
        out.setdefault((e[1], e[2]), []).append(e)
    return out


def passages(case: Case, found: Any, circuit: judge.Circuit, accuracies: Sequence[float | None]) -> list[Passage]:
    """Run the outage by both, the engine once for each accuracy (None is its default), and compare.

    The judge is read at every instant at which the engine took a step.
    """
    runs = []
    for accuracy in accuracies:
        began = time.process_time()
        changes = [Change(*s) for s in case.signals()]
        options = {} if accuracy is None else {"accuracy": accuracy}
        waves = march(built(case), found.state, changes, until=case.until, **options)
        runs.append((waves, time.process_time() - began))
    times = np.unique(np.concatenate([waves.case(0).t for waves, _ in runs]))
    began = time.process_time()
    try:
        track = judge.outage(circuit, case.signals(), case.until, times)
    except judge.NoAnswer as why:
        return [_without(case, waves, seconds, str(why)) for waves, seconds in runs]
    took = time.process_time() - began
    return [_passage(case, waves, track, seconds, took) for waves, seconds in runs]


def _passage(case: Case, waves: Any, track: judge.Track, engine_seconds: float, judge_seconds: float) -> Passage:
    wave = waves.case(0)
    outcome = ENDINGS[waves.outcome[0]]
    ours, theirs = _by_machine(_events(waves)), _by_machine(track.events)
    pairs, same = [], ours.keys() == theirs.keys()
    for machine in ours.keys() & theirs.keys():
        same &= [e[3] for e in ours[machine]] == [e[3] for e in theirs[machine]]
        pairs += [(b[0], a[0] - b[0], b[4]) for a, b in zip(ours[machine], theirs[machine])]
    pairs.sort()
    late = max((abs(p[1]) for p in pairs), default=0.0)
    before_it = [0.0, *(p[1] for p in pairs)]
    pace = max((min(abs(d), abs(d - e)) / max(CLEAR, calm) for (_, d, calm), e in zip(pairs, before_it)), default=0.0)
    instants = np.array(sorted({p[0] for p in pairs} | {p[0] + p[1] for p in pairs} | {s[0] for s in case.signals()}))

    kept = np.isin(track.t, wave.t)
    t = np.array(track.t)[kept]
    near = np.abs(t[:, None] - instants[None, :]).min(axis=1) < CLEAR
    before = np.searchsorted([p[0] for p in pairs], t, side="right") - 1
    shift = np.array([pairs[k][1] if k >= 0 else 0.0 for k in before])
    mine = wave.v[np.searchsorted(wave.t, t)]
    volts, slope = np.array(track.v)[kept], np.array(track.slope)[kept]
    plain = np.abs(mine - volts)
    off = np.abs(mine - (volts - slope * shift[:, None]))
    off = np.minimum(off, plain)
    share = off / allowed(volts)
    share[near] = 0.0
    worst = np.unravel_index(share.argmax(), share.shape)
    return Passage(
        case.name,
        outcome,
        float(share.max()),
        float(off[worst]),
        float(np.where(near[:, None], 0.0, plain / allowed(volts)).max()),
        late,
        pace,
        len(pairs),
        same,
        int((~near).sum()),
        float((np.abs(waves.imbalance) / waves.throughput)[0]),
        int(waves.steps[0]),
        engine_seconds,
        judge_seconds,
        f"worst at {t[worst[0]]:.6f} s, node {case.network.nodes[worst[1]]}",
    )


def _without(case: Case, waves: Any, seconds: float, why: str) -> Passage:
    imbalance = float((np.abs(waves.imbalance) / waves.throughput)[0])
    outcome, steps, nan = ENDINGS[waves.outcome[0]], int(waves.steps[0]), float("nan")
    note = f"no answer from the judge: {why}"
    return Passage(case.name, outcome, nan, nan, nan, nan, nan, 0, False, 0, imbalance, steps, seconds, nan, note)
