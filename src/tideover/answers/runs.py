"""Runs on the pack: which cases are marched until the load stops, how each starts, and what stopped it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.fading import YEAR, fade, law_of, left_after
from tideover.answers.limits import END_OF_LIFE, GROWN
from tideover.answers.limits import KNEE as KNEE_RULE
from tideover.answers.packs import chemistry, curve, figure, full_charge
from tideover.answers.rides import events
from tideover.cases import Batch, join, written
from tideover.laws.constants import TEMP_25
from tideover.network import Network, Placed
from tideover.quantity import show
from tideover.solve import Condition, Watch, Waves, build, march, rest

Array = NDArray[np.float64]
Key = tuple[str, str]
AMBIENT: Key = ("box", "ambient")
AGED_HEALTH, AGED_GROWTH = END_OF_LIFE.value, GROWN.value
"""End of life where no law fits: 80 % of the capacity (the trade's convention), 1.5 times the resistance (typical,
unverified)."""
KNEE = KNEE_RULE.value
"""Capacity left below which no ageing law holds."""
ACCURACY = 1e-3
"""Relative error of a step of a run. At this the runtime stands within a tenth of a second of a run a thousand times
finer, and the ledger within 1e-5."""
TRIES = 4000
SHORTEST, LONGEST = 60.0, 400 * 86400.0
"""A run is followed no shorter and no longer than this. [s]"""
AT_ONCE = 1e-3
"""A run shorter than this never began: the load is outside its window to begin with. [s]"""


@dataclass(frozen=True)
class Aged:
    """A pack after years at its hold voltage."""

    health: float
    growth: float
    words: str


def aged(network: Network, pack: Placed, years: float) -> Aged:
    """Capacity and resistance after `years` held full at 25 °C, times what the build file already says."""
    name = chemistry(network, pack)
    law = law_of(name)
    health, growth = (written(network, (pack.name, n)) for n in ("health", "growth"))
    full = float(full_charge(network, pack, Batch(("nominal",), {}, 1))[0])
    volts = float(np.asarray(curve(network, pack).value(np.array([[full]])))[0, 0])
    found = fade(name, volts, full, TEMP_25, years * YEAR)
    if found is None or law is None:
        loss, rise = 1.0 - AGED_HEALTH, AGED_GROWTH - 1.0
        said = f"end of life by convention, no ageing law for {name}"
    else:
        loss, rise = float(found[0]), float(found[1])
        said = f"{years:g} years held at {show(volts, 'V')} a cell and 25 °C, {law.name}"
    left = float(left_after(loss))
    said += f": capacity {100 * left:.0f} %, resistance {100 * (1 + rise):.0f} %"
    if left < KNEE:
        said += "; past the knee, where no law holds"
    return Aged(health * left, growth * (1.0 + rise), said)


def plain(network: Network, cases: Sequence[tuple[str, Mapping[Key, float]]]) -> Batch:
    """A batch of named cases, each with some figures changed."""
    return join(network, [Batch((label,), {k: np.array([v]) for k, v in values.items()}, 1) for label, values in cases])


# --- marching ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Runs:
    """Runs of a batch, until the load stops.

    Attributes
    ----------
    standing : int array, shape (cases,)
        Outcome of the standing point on the pack it starts from, as in `tideover.solve.OUTCOMES`.
    start : dict
        ``(pack, state)`` to the charge it starts from, shape (cases,).
    runtime : array, shape (cases,)
        0 where it does not even start. [s]
    """

    network: Network
    batch: Batch
    standing: NDArray[np.int64]
    start: dict[Key, Array]
    limit: float
    runtime: Array
    waves: Waves | None
    positions: NDArray[np.intp]

    def outcome(self, case: int) -> int:
        """As in `Waves.outcome`; -1 where it did not start."""
        return int(self.waves.outcome[self.positions[case]]) if self.waves and self.positions[case] >= 0 else -1

    def wave(self, case: int) -> tuple[Array, Array]:
        """Time and voltages of all nodes. [s] [V]"""
        assert self.waves is not None
        wave = self.waves.case(int(self.positions[case]))
        return wave.t, wave.v


def longest_run(network: Network) -> float:
    """End of a march: four times the runtime asked for, or what the label's energy could feed the load, whichever
    is sooner. [s]"""
    asked = 4.0 * network.need.runtime if network.need.runtime else np.inf
    return max(min(emptying(network), asked), SHORTEST)


def emptying(network: Network) -> float:
    """What the label's energy, and a good deal more, could feed the load: no run lasts longer. [s]"""
    label = sum(label_energy(network, pack) for pack in states.of_kind(network, "pack"))
    power = sum(written(network, (p.name, "power")) for p in states.of_kind(network, "load"))
    return float(min(max(1.6 * label / power, SHORTEST), LONGEST)) if power > 0.0 else LONGEST


def label_energy(network: Network, pack: Placed) -> float:
    """Capacity times nominal voltage of all units, as labelled. [J]"""
    names = ("capacity", "nominal_voltage", "series", "parallel")
    return float(np.prod([written(network, (pack.name, n)) for n in names]))


def run(
    network: Network,
    batch: Batch,
    keep: bool = True,
    charges: Mapping[Key, Array] | None = None,
    limit: float | None = None,
    on: bool = False,
) -> Runs:
    """March every case on its pack at mean load until the load leaves its window or resets, or for `limit`. [s]

    Each begins full, or at `charges`: ``(pack, "charge")`` and ``(pack, "weak_charge")`` to shape (cases,). With `on`
    it goes on after that, as a circuit does that nobody watches. Without a `limit` it goes on until the label's energy
    is used up: what ends a run, and which figures move it, must not depend on the runtime that was asked for.
    """
    start: dict[Key, Array] = dict(charges or {})
    for pack in () if charges else states.of_kind(network, "pack"):
        full = full_charge(network, pack, batch)
        start[pack.name, "charge"] = full
        start[pack.name, "weak_charge"] = full
    system = build(network, batch.values, batch.count)
    point = rest(system, on_pack(network, batch, start))
    go = np.flatnonzero(point.outcome == 0)
    limit = emptying(network) if limit is None else limit
    runtime = np.zeros(batch.count)
    positions = np.full(batch.count, -1, dtype=np.intp)
    waves = None
    if len(go):
        resets = tuple(
            (p.name, "work", "reset")
            for p in states.of_kind(network, "load")
            if written(network, (p.name, "resets_below")) > 0.0
        )
        waves = march(
            system.take(go),
            point.state.take(go),
            until=limit,
            accuracy=ACCURACY,
            watch=None if on else Watch(network.at, network.need.window[0], resets),
            keep=None if keep else [network.at],
            most_steps=TRIES,
        )
        positions[go] = np.arange(len(go))
        runtime[go] = [waves.case(k).t[-1] for k in range(len(go))]
    return Runs(network, batch, point.outcome, start, limit, runtime, waves, positions)


def on_pack(network: Network, batch: Batch, charges: Mapping[Key, Array], level: str = states.MEAN) -> Condition:
    """Mains away for long, the packs at given charges, the loads at a level."""
    signals: dict[Key, float] = {(a.name, "mains"): 0.0 for a in states.of_kind(network, "adapter")}
    for load in states.of_kind(network, "load"):
        signals[load.name, "demand"] = states.demand(network, load, level)
    drained, spent = states.run_down(network)
    return Condition(signals, drained | dict(charges), spent, figure(network, batch, AMBIENT))


RECENT = 5.0
"""An event this long before the end of a run belongs to its end: delays of boards and outputs are shorter. [s]"""


def steady_end(runs: Runs, case: int) -> int:
    """The last recorded point before the events that end a run."""
    assert runs.waves is not None
    position = int(runs.positions[case])
    t = runs.waves.case(position).t
    late = [e.t for e in events(runs.waves, position) if e.t >= t[-1] - RECENT]
    if not late:
        return len(t) - 1
    return max(int(np.searchsorted(t, late[0] - 1e-9)) - 1, 0)
