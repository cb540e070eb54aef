"""Curves of the pack in this build: marches of the whole network from full to empty and back, new and aged, in every
season, as drawn and with a change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.packs import charger_of, figure, full_charge
from tideover.answers.refills import Refills, refill
from tideover.answers.runs import ACCURACY, AMBIENT, Runs, label_energy, run
from tideover.answers.year_course import Curves
from tideover.cases import Batch, join, written
from tideover.network import Network
from tideover.solve import Inside, Waves, along, march, readings

Array = NDArray[np.float64]
Key = tuple[str, str]
MONTHS = 12
LONGEST = 60 * 86400.0
"""Neither a run nor a recharge is followed for longer. [s]"""
AFTER = 6 * 3600.0
"""How long a pack is watched after its load has stopped. [s]"""
FEW = 120
"""Steps this may take. A supply that starts and stops on a nearly empty pack would take no end of them; it is left
where it then stands."""
FURTHER = 0.01
"""Charge lost after the load has stopped below which nobody need follow it."""
LABEL = 1.6
"""What a run may take of the label's energy before it is given up as endless."""


@dataclass(frozen=True)
class Measured:
    """Curves of some variants, each in the coldest, the middle and the warmest room.

    Attributes
    ----------
    curves : Curves
        Variant v in room r at ``3 v + r``.
    runs, refills
        The marches they come from.
    """

    curves: Curves
    runs: Runs
    refills: Refills

    @property
    def fills(self) -> NDArray[np.bool_]:
        """Which recharges have a lasting state to begin from: where the load has just stopped, in every case, and then
        where the pack has been drained further, if it has."""
        return self.refills.standing == 0

    @property
    def broken(self) -> bool:
        """Whether a march stopped where no voltage satisfies the circuit."""
        found = [w.outcome for w in (self.runs.waves, self.refills.waves) if w is not None]
        return any((outcome == 2).any() for outcome in found)


def rooms(network: Network) -> Array:
    """Coldest, middle and warmest room. [K]"""
    low, high = network.need.ambient
    return np.array([low, 0.5 * (low + high), high])


def month_temps(network: Network) -> Array:
    """Mean temperature of every month: a sine between the limits of the room, coldest where the year turns. [K]"""
    low, middle, high = rooms(network)
    return middle - 0.5 * (high - low) * np.cos(2.0 * np.pi * (np.arange(MONTHS) + 0.5) / MONTHS)


def season_weights(network: Network) -> Array:
    """Weight of each of the three rooms in every month, shape (12, 3)."""
    low, _, high = rooms(network)
    place = 2.0 * (month_temps(network) - low) / max(high - low, 1e-9)
    return np.maximum(1.0 - np.abs(place[:, None] - np.arange(3.0)), 0.0) if high > low else np.eye(3)[[1] * MONTHS]


def measure(network: Network, variants: Sequence[Mapping[Key, float]]) -> Measured:
    """March every variant in three rooms from full to empty, and from there until its charger ends.

    Parameters
    ----------
    network : Network
        As loaded. [-]
    variants : sequence of mapping
        Figures of the build that differ from those written. [-]
    """
    batch = _batch(network, variants)
    packs = states.of_kind(network, "pack")
    scale = max([1.0, *(v[p.name, "parallel"] / written(network, (p.name, "parallel"))
                        for v in variants for p in packs if (p.name, "parallel") in v)])  # fmt: skip
    power = sum(written(network, (p.name, "power")) for p in states.of_kind(network, "load"))
    label = LABEL * scale * sum(label_energy(network, pack) for pack in packs)
    limit = min(max(label / power, 60.0), LONGEST) if power > 0.0 else LONGEST
    runs = run(network, batch, limit=limit)
    carried = [_course(network, batch, runs.waves, int(p), k) for k, p in enumerate(runs.positions)]
    further = _drained_further(runs)
    after = [_course(network, batch, further, int(p), k) for k, p in enumerate(runs.positions)]
    stops, dregs = ({key: np.array([c[key][-1] for _, c in down]) for key in runs.start} for down in (carried, after))
    deeper = np.flatnonzero(_mean(network, batch, stops) - _mean(network, batch, dregs) > FURTHER)
    both = join(network, [batch, batch.take(deeper)])  # from where the load stops, and from where the pack ends up
    begun = {key: np.concatenate([stops[key], dregs[key][deeper]]) for key in runs.start}
    refills = refill(network, both, begun, _slowest(network, both))
    up = [_course(network, both, refills.waves, int(p), k) for k, p in enumerate(refills.positions)]
    full = _mean(network, batch, runs.start)
    falls, climbs = [], []
    for k, (t, c) in enumerate(carried):
        charge, ways = _mean(network, batch, c, k), [up[k]]
        if k in deeper:
            more, d = after[k]
            t, charge = np.concatenate([t, t[-1] + more[1:]]), np.concatenate([charge, _mean(network, batch, d, k)[1:]])
            ways.insert(0, up[batch.count + int(np.searchsorted(deeper, k))])
        falls.append((t, charge))
        found = (_climb(at, _mean(network, batch, filled, k), float(full[k])) for at, filled in ways)
        climbs.append(next((one for one in found if one is not None), (np.zeros(2), np.repeat(charge[-1], 2))))
    return Measured(Curves.of(runs.runtime, falls, climbs), runs, refills)


def _drained_further(runs: Runs) -> Waves | None:
    """What becomes of the packs after the load has stopped."""
    if runs.waves is None:
        return None
    last = [runs.waves.case(k).inside for k in range(runs.waves.count)]
    ends = Inside(*(np.stack([one[j][:, -1] for one in last if one is not None], axis=1) for j in range(4)))
    return march(runs.waves.system, ends, until=AFTER, accuracy=ACCURACY, most_steps=FEW)


def _climb(t: Array, charge: Array, full: float) -> tuple[Array, Array] | None:
    """A recharge until the charge that counts as full; None where there is none."""
    if len(t) < 2:
        return None
    done = int(np.argmax(charge >= full)) + 1 if (charge >= full).any() else len(t)
    return t[: max(done, 2)], charge[: max(done, 2)]


def _batch(network: Network, variants: Sequence[Mapping[Key, float]]) -> Batch:
    """Every variant in every room."""
    keys = dict.fromkeys(key for v in variants for key in v)
    values = {key: np.repeat([v.get(key, written(network, key)) for v in variants], 3) for key in keys}
    values[AMBIENT] = np.tile(rooms(network), len(variants))
    labels = tuple(f"variant {v + 1}, room {r + 1}" for v in range(len(variants)) for r in range(3))
    return Batch(labels, values, len(labels))


def _course(
    network: Network, batch: Batch, waves: Waves | None, position: int, case: int
) -> tuple[Array, dict[Key, Array]]:
    """Time and charges along one march; where it was not marched, the charge it would have begun with."""
    packs = states.of_kind(network, "pack")
    if waves is None or position < 0:
        alone = batch.take(np.array([case]))
        return np.zeros(1), {
            (p.name, name): full_charge(network, p, alone) for p in packs for name in ("charge", "weak_charge")
        }
    t, system, inside = along(waves, position)
    found = readings(system, inside).state
    return t, {(p.name, name): found[p.name, name] for p in packs for name in ("charge", "weak_charge")}


def _mean(network: Network, batch: Batch, charges: Mapping[Key, Array], case: int | None = None) -> Array:
    """Charge of all packs together, each by its capacity."""
    total, size = np.zeros(()), np.zeros(())
    for pack in states.of_kind(network, "pack"):
        weight = figure(network, batch, (pack.name, "capacity")) * figure(network, batch, (pack.name, "parallel"))
        own = weight if case is None else weight[case]
        total, size = total + own * charges[pack.name, "charge"], size + own
    return np.asarray(total / size)


def _slowest(network: Network, batch: Batch) -> Array:
    """How long a recharge is watched: four times what its charge current alone would take, and the taper. [s]"""
    longest = np.full(batch.count, 6 * 3600.0)
    for pack in states.of_kind(network, "pack"):
        charger = charger_of(network, pack)
        if charger is None:
            continue
        whole = figure(network, batch, (pack.name, "capacity")) * figure(network, batch, (pack.name, "parallel"))
        current = figure(network, batch, (charger.name, "charge_current"))
        longest = np.maximum(longest, 4.0 * whole / current)
    return np.minimum(longest, LONGEST)
