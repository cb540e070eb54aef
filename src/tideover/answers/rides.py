"""Loss and return of mains as marches: how a batch of outages starts, runs and is read.

An outage starts from the standing point with mains present: pack full and charging ended, or pack part empty and
charging. Mains goes at 20 ms and comes back after a gap.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.cases import Batch, written
from tideover.network import Network
from tideover.quantity import show
from tideover.solve import Change, Condition, Inside, System, Watch, Waves, along, build, march, readings, rest

Array = NDArray[np.float64]
LOSS = 0.02
"""Mains is lost at this instant of every march. [s]"""
SHORT = (0.01, 0.03)
"""Short interruptions: back while the adapter lives on its store, back while a changeover is under way. [s]"""
LONG = 2.0
"""An outage after which everything has settled, unless the capacitors carry the load for longer. [s]"""
SETTLE = 0.3
"""Watched after the adapter's output is up again: relay pull-in, recharging capacitors, one retry begun. [s]"""
ACCURACY, ROUGH = 3e-5, 3e-4
"""Relative error of a step: where the wave is shown and its ledger kept; where only its margin is asked, which then
still agrees within a tenth of a millivolt."""
TRIES, TRIES_ROUGH = 1500, 3000
"""Steps a case may try. A clean loss and return takes some hundreds, one with bouncing relays a thousand; a supply that
hiccups would never end. Where failed cases are stopped early, more costs nothing."""
CHARGES = {"full": 1.0, "half": 0.5, "near cut-off": None}


@dataclass(frozen=True)
class Outage:
    """What is done to the build in one case."""

    charge: str
    level: str
    gap: float

    @property
    def begins(self) -> str:
        """How it begins, in words: ``half, peak``."""
        return f"{self.charge}, {'peak' if self.level == states.PEAK else 'mean'}"

    @property
    def label(self) -> str:
        """In words: ``pack half, peak load, mains back after 30 ms``."""
        return f"pack {self.begins} load, mains back after {show(self.gap, 's')}"


@dataclass(frozen=True)
class Event:
    """A discrete state changed."""

    t: float
    part: str
    machine: str
    before: str
    after: str


@dataclass(frozen=True)
class Rides:
    """Marches of a batch; cases that have no standing point with mains present were not marched.

    Attributes
    ----------
    outages : tuple of Outage
        One for each case.
    standing : int array
        Outcome of the standing point to start from, as in `tideover.solve.OUTCOMES`.
    ends : array
        When its march should end. [s]
    """

    network: Network
    batch: Batch
    outages: tuple[Outage, ...]
    standing: NDArray[np.int64]
    ends: Array
    waves: Waves | None

    @property
    def stands(self) -> NDArray[np.bool_]:
        """Which cases had a standing point and were marched."""
        return self.standing == 0

    def position(self, case: int) -> int:
        """Where a case stands in `waves`."""
        return int(np.count_nonzero(self.stands[:case]))

    def wave(self, case: int) -> tuple[Array, Array]:
        """Time and voltage at the load. [s] [V]"""
        assert self.waves is not None
        wave = self.waves.case(self.position(case))
        return wave.t, wave.v[:, self.waves.nodes.index(self.network.at)]

    def outcome(self, case: int) -> int:
        """As in `Waves.outcome`."""
        assert self.waves is not None
        return int(self.waves.outcome[self.position(case)])

    def events(self, case: int) -> tuple[Event, ...]:
        """Discrete changes of a march that kept everything, in order of time."""
        assert self.waves is not None
        return events(self.waves, self.position(case))


def gaps(network: Network) -> tuple[float, ...]:
    """Two short interruptions and a long outage. [s]"""
    energy = sum(
        0.5 * written(network, (c.name, "capacitance")) * written(network, (c.name, "voltage_rating")) ** 2
        for c in states.of_kind(network, "capacitor")
    )
    power = sum(written(network, (p.name, "power")) for p in states.of_kind(network, "load"))
    store = max((written(network, (a.name, "hold_up")) for a in states.of_kind(network, "adapter")), default=0.0)
    carried = store + (energy / power if power > 0.0 else 0.0)
    return (*SHORT, min(max(LONG, 3.0 * carried), 600.0))


def every_outage(network: Network) -> tuple[Outage, ...]:
    """Pack full, half, near empty; mean and peak load; short and long."""
    charges = [c for c in CHARGES if c == "full" or states.of_kind(network, "pack")]
    return tuple(
        Outage(charge, level, gap) for gap in gaps(network) for charge in charges for level in states.levels(network)
    )


def ride(
    network: Network, batch: Batch, outages: Sequence[Outage], keep: bool = True, stop_below: float = -np.inf
) -> Rides:
    """March one outage for each case of a batch.

    Parameters
    ----------
    network : Network
        As loaded. [-]
    batch : Batch
        Figures of the build in each case. [-]
    outages : sequence of Outage
        What happens in each case. [-]
    keep : bool
        Whether to keep everything or only the voltage at the load. [-]
    stop_below : float
        Voltage at the load that ends a case early: nothing more is to be learned from it. [V]
    """
    system = build(network, batch.values, batch.count)
    found, start = standing(network, batch, system, outages)
    gap = np.array([o.gap for o in outages])
    ends = LOSS + gap + SETTLE + delay(network, batch)
    go = np.flatnonzero(found == 0)
    if not len(go):
        return Rides(network, batch, tuple(outages), found, ends, None)
    changes = [
        Change(at, adapter.name, "mains", value)
        for adapter in states.of_kind(network, "adapter")
        for at, value in ((LOSS, 0.0), (LOSS + gap[go], 1.0))
    ]
    waves = march(
        system.take(go),
        start.take(go),
        changes,
        until=ends[go],
        watch=Watch(network.at, stop_below) if np.isfinite(stop_below) else None,
        accuracy=ACCURACY if keep else ROUGH,
        keep=None if keep else [network.at],
        most_steps=TRIES if keep else TRIES_ROUGH,
    )
    return Rides(network, batch, tuple(outages), found, ends, waves)


def standing(
    network: Network, batch: Batch, system: System, outages: Sequence[Outage]
) -> tuple[NDArray[np.int64], Inside]:
    """Standing points with mains present: the outcome of each case, and all of them joined."""
    parts = []
    found = np.zeros(batch.count, dtype=np.int64)
    order = []
    for full in (True, False):
        cases = np.array([k for k, o in enumerate(outages) if (o.charge == "full") is full], dtype=int)
        if len(cases):
            point = rest(system.take(cases), _condition(network, batch, outages, cases, full))
            found[cases] = point.outcome
            parts.append(point.state)
            order.append(cases)
    back = np.argsort(np.concatenate(order))
    joined = Inside(*(np.concatenate([getattr(p, name) for p in parts], axis=1) for name in "VXMS"))
    return found, joined.take(back)


def _condition(
    network: Network, batch: Batch, outages: Sequence[Outage], cases: NDArray[np.int64], full: bool
) -> Condition:
    inside: dict[tuple[str, str], Array] = {}
    for pack in states.of_kind(network, "pack"):
        known = {c: states.charges(network, pack, share) for c, share in CHARGES.items()}
        for key in known["full"]:
            inside[key] = np.array([known[outages[k].charge][key] for k in cases])
    signals = {
        (load.name, "demand"): np.array([states.demand(network, load, outages[k].level) for k in cases])
        for load in states.of_kind(network, "load")
    }
    ended = {(c.name, "phase"): "full" for c in states.of_kind(network, "charger")} if full else {}
    ambient = batch.values.get(("box", "ambient"))
    room = written(network, ("box", "ambient")) if ambient is None else ambient[cases]
    return Condition(signals, inside, ended, room)


def delay(network: Network, batch: Batch) -> Array:
    """From mains back to full output, the slowest adapter; shape (cases,). [s]"""
    out = np.zeros(batch.count)
    for adapter in states.of_kind(network, "adapter"):
        total = np.zeros(batch.count)
        for name in ("start_delay", "rise_time"):
            key = (adapter.name, name)
            total = total + batch.values.get(key, np.full(batch.count, written(network, key)))
        out = np.maximum(out, total)
    return out


def events(waves: Waves, position: int) -> tuple[Event, ...]:
    """Discrete changes along one case of a march that kept everything, in order of time."""
    t, system, inside = along(waves, position)
    changed = np.flatnonzero((inside.M[:, 1:] != inside.M[:, :-1]).any(axis=0)) + 1
    if not len(changed):
        return ()
    looked = np.unique(np.concatenate([changed - 1, changed]))
    known = readings(system, inside.take(looked)).machine
    out = []
    for k in changed:
        here = int(np.searchsorted(looked, k))
        was = int(np.searchsorted(looked, k - 1))
        for (part, machine), names in known.items():
            if names[here] != names[was]:
                out.append(Event(float(t[k]), part, machine, names[was], names[here]))
    return tuple(out)
