"""Peaks of the load along a run on the pack: until when they still find it in its window."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.packs import figure
from tideover.answers.runs import Runs, on_pack, steady_end
from tideover.cases import Batch, written
from tideover.network import Network
from tideover.solve import OUTCOMES, Inside, along, build, readings, rest

Array = NDArray[np.float64]
Key = tuple[str, str]

BEYOND = 2e-3
"""Charge below the end of a run at which chatter is looked for: at the end itself a lockout stands on its edge."""
SHARES = np.array([0.0, 0.2, 0.4, 0.55, 0.7, 0.8, 0.87, 0.92, 0.955, 0.98, 0.995, 1.0])
"""Shares of a run at which a peak of the load is tried: closer together towards the end."""


@dataclass(frozen=True)
class Peaks:
    """What peaks of the load do along some runs.

    Attributes
    ----------
    until : array, shape (C,)
        The last share of the run at which a peak still found the load in its window; 1 when all did. [-]
    unknown : int array, shape (C,)
        Points of the run at which the search for a standing point did not converge; they count as neither.
    chatters : bool array, shape (C,)
        Whether the supply comes back by itself once the load has let go at the end of the run, only to fail again.
    """

    until: Array
    unknown: NDArray[np.int64]
    chatters: NDArray[np.bool_]


def peaks(runs: Runs, cases: Sequence[int]) -> Peaks:
    """Try a peak of the load at points along C runs that were marched with everything kept."""
    network, n = runs.network, len(SHARES)
    points = [_points(runs, c) for c in cases]
    near, ends = _joined([p for p, _, _ in points]), _joined([e for _, _, e in points])
    charges = {key: np.concatenate([c[key] for _, c, _ in points]) for key in runs.start}
    batch = runs.batch.take(np.repeat(np.asarray(cases), n))
    as_met = {**batch.values, **_short_peak(network, batch), **_slow_boards(network, batch)}
    system = build(network, as_met, batch.count)
    point = rest(system, on_pack(network, batch, charges, states.PEAK), near)
    low = network.need.window[0]
    solved = point.outcome == OUTCOMES.index("found")
    lost = (~solved & (point.outcome != OUTCOMES.index("not converged"))) | (
        solved & ~(np.nan_to_num(point.v[:, network.at]) >= low)
    )
    held = (solved & ~lost).reshape(len(cases), n)
    broken = lost.reshape(len(cases), n)
    first = np.where(broken.any(axis=1), broken.argmax(axis=1), n)
    until = np.array([max((SHARES[k] for k in np.flatnonzero(h[:f])), default=0.0) for h, f in zip(held, first)])
    until = np.where(broken.any(axis=1), until, 1.0)
    end = {key: c.reshape(len(cases), n)[:, -1] - BEYOND for key, c in charges.items()}
    last = runs.batch.take(np.asarray(cases))
    idle = rest(build(network, last.values, last.count), on_pack(network, last, end, states.NONE), ends)
    again = (idle.outcome == OUTCOMES.index("found")) & (np.nan_to_num(idle.v[:, network.at]) >= low)
    unknown = (~held & ~broken).sum(axis=1)
    return Peaks(until, unknown, again | (idle.outcome == OUTCOMES.index("chatter")))


def _points(runs: Runs, case: int) -> tuple[Inside, dict[Key, Array], Inside]:
    """Points of a run at `SHARES`, none after the events that end it; the charges there, the last one that of the very
    end; and the very end."""
    assert runs.waves is not None
    t, system, inside = along(runs.waves, int(runs.positions[case]))
    at = np.clip(np.searchsorted(t, SHARES * t[-1]), 0, steady_end(runs, case))
    end = inside.take(np.array([len(t) - 1]))
    known, last = readings(system, inside.take(at)).state, readings(system, end).state
    charges = {key: np.append(known[key][:-1], last[key]) for key in runs.start}
    return inside.take(at), charges, end


def _joined(points: Sequence[Inside]) -> Inside:
    """Points side by side."""
    return Inside(*(np.concatenate([getattr(p, name) for p in points], axis=1) for name in "VXMS"))


def _short_peak(network: Network, batch: Batch) -> dict[Key, Array]:
    """Slow resistances of the cells as a peak meets them: the mean current has settled in them, the peak only adds
    the share ``1 - exp(-duration / tau)`` of its excess."""
    loads = states.of_kind(network, "load")
    if not loads:
        return {}
    load = max(loads, key=lambda p: written(network, (p.name, "peak_power")))
    high = states.demand(network, load, states.PEAK)
    t = written(network, (load.name, "peak_duration"))
    out: dict[Key, Array] = {}
    for pack in states.of_kind(network, "pack"):
        for side in ("fast", "slow"):
            ohm, farad = (pack.name, f"{side}_resistance"), (pack.name, f"{side}_capacitance")
            r, c = figure(network, batch, ohm), figure(network, batch, farad)
            settled = 1.0 - np.exp(-t / (r * c))
            out[ohm] = r * (1.0 + (high - 1.0) * settled) / high
    return out


def _slow_boards(network: Network, batch: Batch) -> dict[Key, Array]:
    """Boards whose cut-off waits for longer than a peak lasts do not act on it: their threshold is put out of reach."""
    lasts = max((written(network, (p.name, "peak_duration")) for p in states.of_kind(network, "load")), default=0.0)
    out: dict[Key, Array] = {}
    for board in states.of_kind(network, "protection board"):
        cut_off = figure(network, batch, (board.name, "cut_off"))
        slow = figure(network, batch, (board.name, "cut_off_delay")) > lasts
        out[board.name, "cut_off"] = np.where(slow, board.kind.parameter("cut-off").low, cut_off)
    return out
