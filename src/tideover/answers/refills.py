"""Recharging: mains is back, the pack stands at some charge, and the march goes on until the charger ends.

An adapter that stops and retries in overload ends the march too: from then on the load lives on the pack.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.context import choice
from tideover.answers.packs import figure
from tideover.answers.runs import AMBIENT, TRIES
from tideover.cases import Batch, written
from tideover.network import Network, Placed
from tideover.solve import Condition, Inside, Readings, Watch, Waves, build, march, readings, rest

Array = NDArray[np.float64]
Key = tuple[str, str]
ACCURACY = 5e-5
"""Relative error of a step. At this the ledger of a recharge closes to 1e-4 even where nothing is drawn but what flows
into the pack, and its time stands within seconds, for twice the steps of 1e-3."""
LONGEST = 3600.0
"""Longest step: the error of a step is that of the states, and powers may turn a corner between its ends. [s]"""
ROUGH = 3e-4
"""Where only the time is asked, of thousands of builds: against a march six times finer it moves by a second or two,
by 12 s of 8 h in one build of two hundred, and by minutes in one of thousands whose current hangs at the charger's end;
percentiles move by seconds, a tenth of their interval at most."""


@dataclass(frozen=True)
class Refills:
    """Recharges of a batch.

    Attributes
    ----------
    standing : int array, shape (cases,)
        Outcome of the standing point with mains present from which a case is marched, as in `tideover.solve.OUTCOMES`;
        where there is none (an adapter that stops and retries for ever), there is no recharge either.
    ended_at : array, shape (cases,)
        When a charger ended by itself; infinite where none did within `until`. [s]
    gave_up_at : array, shape (cases,)
        When an adapter stopped in overload, to retry; infinite where none did. [s]
    until : array, shape (cases,)
        How long was watched. [s]
    waves : Waves or None
        Of the cases that were marched, in their order.
    positions : int array, shape (cases,)
        Where a case stands in `waves`; -1 where it was not marched.
    charges : dict
        What each began with, as given.
    loops : dict
        Case to what switches to and fro there: ``brick: running, overloaded, pausing``.
    """

    network: Network
    batch: Batch
    standing: NDArray[np.int64]
    ended_at: Array
    gave_up_at: Array
    until: Array
    waves: Waves | None
    positions: NDArray[np.intp]
    charges: dict[Key, Array]
    loops: dict[int, tuple[str, ...]]

    def outcome(self, case: int) -> int:
        """As in `Waves.outcome`; -1 where it did not start."""
        return int(self.waves.outcome[self.positions[case]]) if self.waves and self.positions[case] >= 0 else -1

    @cached_property
    def last(self) -> tuple[Readings, Inside] | None:
        """Everything at the last point of every case that was marched, in the order of `waves`."""
        return None if self.waves is None else _last(self.waves)


def refill(
    network: Network,
    batch: Batch,
    charges: Mapping[Key, Array],
    until: Array | float,
    level: str | Sequence[str] = states.MEAN,
    accuracy: float = ACCURACY,
) -> Refills:
    """March every case with mains present until a charger ends its charge or an adapter gives up.

    Parameters
    ----------
    network : Network
        As loaded. [-]
    batch : Batch
        B cases; the ambient among them, if it differs. [-]
    charges : mapping
        ``(pack, "charge")`` and ``(pack, "weak_charge")`` to the charge each begins with, shape (B,). [-]
    until : float or array, shape (B,)
        When to stop watching a charge that does not end. [s]
    level : str or sequence of str
        Of the load, as in `states.LEVELS`; one for all cases or one for each. [-]
    accuracy : float
        Relative error of a step: `ACCURACY`, or `ROUGH` where nothing but the time is asked. [-]
    """
    system = build(network, batch.values, batch.count)
    point = rest(system, on_mains(network, batch, charges, level))
    go = np.flatnonzero(point.outcome == 0)
    until = np.broadcast_to(np.asarray(until, dtype=float), (batch.count,))
    ended_at, gave_up_at = np.full(batch.count, np.inf), np.full(batch.count, np.inf)
    positions = np.full(batch.count, -1, dtype=np.intp)
    begun, loops = dict(charges), {case: names for case, _, names in point.chatter}
    if not len(go):
        return Refills(network, batch, point.outcome, ended_at, gave_up_at, until, None, positions, begun, loops)
    over = tuple((a.name, "output", "pausing") for a in retrying(network))
    waves = march(
        system.take(go),
        point.state.take(go),
        until=until[go],
        accuracy=accuracy,
        watch=Watch(machines=(*ended(network), *over)),
        most_steps=TRIES,
        longest=LONGEST if accuracy < ROUGH else np.inf,
    )
    positions[go] = np.arange(len(go))
    machine = _last(waves)[0].machine
    for k in np.flatnonzero(waves.outcome == 1):
        pauses = any(machine[part, name][k] == state for part, name, state in over)
        (gave_up_at if pauses else ended_at)[go[k]] = waves.case(int(k)).t[-1]
    return Refills(network, batch, point.outcome, ended_at, gave_up_at, until, waves, positions, begun, loops)


def _last(waves: Waves) -> tuple[Readings, Inside]:
    ends = [waves.case(k).inside for k in range(waves.count)]
    inside = Inside(*(np.stack([e[j][:, -1] for e in ends if e is not None], axis=1) for j in range(4)))
    return readings(waves.system, inside), inside


def retrying(network: Network) -> list[Placed]:
    """Adapters that stop in overload and try again."""
    return [a for a in states.of_kind(network, "adapter") if choice(a, "overload") == "hiccup"]


def ended(network: Network) -> tuple[tuple[str, str, str], ...]:
    """What a march watches for: any charger that has ended its charge by itself."""
    return tuple(
        (c.name, "phase", "full")
        for c in states.of_kind(network, "charger")
        if written(network, (c.name, "termination_fraction")) > 0.0
    )


def on_mains(
    network: Network, batch: Batch, charges: Mapping[Key, Array], level: str | Sequence[str] = states.MEAN
) -> Condition:
    """Mains present, every switch closed, chargers at work, the packs at given charges, the loads at a level."""
    levels = [level] * batch.count if isinstance(level, str) else level
    signals: dict[Key, float | Array] = {(a.name, "mains"): 1.0 for a in states.of_kind(network, "adapter")}
    signals |= {(s.name, "closed"): 1.0 for s in states.of_kind(network, "switch")}
    for load in states.of_kind(network, "load"):
        signals[load.name, "demand"] = np.array([states.demand(network, load, one) for one in levels])
    return Condition(signals, dict(charges), {}, figure(network, batch, AMBIENT))
