"""Recharging: mains is back, the pack stands at some charge, and the march goes on until the charger ends."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.packs import figure
from tideover.answers.runs import ACCURACY, AMBIENT, TRIES
from tideover.cases import Batch, written
from tideover.network import Network
from tideover.solve import Condition, Watch, Waves, build, march, rest

Array = NDArray[np.float64]
Key = tuple[str, str]


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
    until : array, shape (cases,)
        How long was watched. [s]
    waves : Waves or None
        Of the cases that were marched, in their order.
    positions : int array, shape (cases,)
        Where a case stands in `waves`; -1 where it was not marched.
    """

    network: Network
    batch: Batch
    standing: NDArray[np.int64]
    ended_at: Array
    until: Array
    waves: Waves | None
    positions: NDArray[np.intp]

    def outcome(self, case: int) -> int:
        """As in `Waves.outcome`; -1 where it did not start."""
        return int(self.waves.outcome[self.positions[case]]) if self.waves and self.positions[case] >= 0 else -1


def refill(
    network: Network,
    batch: Batch,
    charges: Mapping[Key, Array],
    until: Array | float,
    level: str = states.MEAN,
    keep: bool = True,
) -> Refills:
    """March every case with mains present until a charger ends its charge.

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
    level : str
        Of the load, as in `states.LEVELS`. [-]
    keep : bool
        Whether to keep everything or only the voltage at the load. [-]
    """
    system = build(network, batch.values, batch.count)
    point = rest(system, on_mains(network, batch, charges, level))
    go = np.flatnonzero(point.outcome == 0)
    until = np.broadcast_to(np.asarray(until, dtype=float), (batch.count,))
    ended_at = np.full(batch.count, np.inf)
    positions = np.full(batch.count, -1, dtype=np.intp)
    waves = None
    if len(go):
        waves = march(
            system.take(go),
            point.state.take(go),
            until=until[go],
            accuracy=ACCURACY,
            watch=Watch(machines=ended(network)),
            keep=None if keep else [network.at],
            most_steps=TRIES,
        )
        positions[go] = np.arange(len(go))
        stopped = np.flatnonzero(waves.outcome == 1)
        ended_at[go[stopped]] = [waves.case(int(k)).t[-1] for k in stopped]
    return Refills(network, batch, point.outcome, ended_at, until, waves, positions)


def ended(network: Network) -> tuple[tuple[str, str, str], ...]:
    """What a march watches for: any charger that has ended its charge by itself."""
    return tuple(
        (c.name, "phase", "full")
        for c in states.of_kind(network, "charger")
        if written(network, (c.name, "termination_fraction")) > 0.0
    )


def on_mains(network: Network, batch: Batch, charges: Mapping[Key, Array], level: str = states.MEAN) -> Condition:
    """Mains present, every switch closed, chargers at work, the packs at given charges, the loads at a level."""
    signals: dict[Key, float] = {(a.name, "mains"): 1.0 for a in states.of_kind(network, "adapter")}
    signals |= {(s.name, "closed"): 1.0 for s in states.of_kind(network, "switch")}
    signals |= {(p.name, "demand"): states.demand(network, p, level) for p in states.of_kind(network, "load")}
    return Condition(signals, dict(charges), {}, figure(network, batch, AMBIENT))
