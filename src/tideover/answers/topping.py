"""After a charger has ended: the pack drains until the charger starts again, and so on for as long as mains is present.

That goes slowly beside everything inside the cells, so it is a row of standing points from the charge at the end
downwards, and the time between two of them is the charge over the current that drains it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.packs import charger_of, figure
from tideover.answers.refills import Refills, on_mains
from tideover.network import Placed
from tideover.solve import Readings, build, readings, rest

Array = NDArray[np.float64]
WATCHED = 365.25 * 86400.0
"""How long a drain is followed. [s]"""
MONTH = 2.63e6
"""In which the stated share of its charge leaves a pack by itself. [s]"""
COARSE, FINE = 48, 16
"""Charges tried from the end down to empty, and between the last that stands and the first that does not."""
CREEP = 1e-7
"""Drain below which a pack counts as kept. [A]"""


@dataclass(frozen=True)
class Topping:
    """The small cycle of a pack whose charger has ended.

    Attributes
    ----------
    depth : float
        Charge lost until the charger starts again, or as far as it is followed. [-]
    period : float
        How long that takes; infinite when it does not within `WATCHED`. [s]
    volts : float
        Of one cell then. [V]
    drain : float
        Mean current that drains it, what the cells lose by themselves included. [A]
    """

    depth: float
    period: float
    volts: float
    drain: float

    def full_cycles(self, t: float) -> float:
        """Equivalent full discharges in so long a time."""
        return self.depth / self.period * t if np.isfinite(self.period) and self.period > 0.0 else 0.0


def topping(refills: Refills, case: int, pack: Placed) -> Topping:
    """Follow one pack down from where its charger has ended."""
    assert refills.last is not None
    k = int(refills.positions[case])
    end, weak = (float(refills.last[0].state[pack.name, n][k]) for n in ("charge", "weak_charge"))
    charges = np.linspace(end, min(0.0, end - 0.1), COARSE)
    r, stands = _points(refills, case, pack, end, weak, charges)
    low = int(np.argmin(stands)) if not stands.all() else len(charges)
    if 0 < low < len(charges):  # where it starts again lies between two of them
        charges = np.concatenate([charges[:low], np.linspace(charges[low - 1], charges[low], FINE)[1:]])
        r, stands = _points(refills, case, pack, end, weak, charges)
        low = int(np.argmin(stands)) if not stands.all() else len(charges)
    cells = float(figure(refills.network, refills.batch, (pack.name, "cells_per_unit"))[case])
    volts = r.quantity[pack.name, "mean group [V]"] / cells
    if low == 0:
        return Topping(0.0, 0.0, float(volts[0]), 0.0)
    names = ("capacity", "health", "parallel")
    coulombs = float(np.prod([figure(refills.network, refills.batch, (pack.name, n))[case] for n in names]))
    leak = float(figure(refills.network, refills.batch, (pack.name, "self_discharge"))[case]) * coulombs / MONTH
    drain = (r.quantity[pack.name, "discharge current [A]"] + leak * charges)[:low]
    kept = np.flatnonzero(drain <= CREEP)
    if len(kept) and kept[0] == 0:
        return Topping(0.0, float("inf"), float(volts[0]), 0.0)
    drain, at = np.maximum(drain, CREEP), charges[:low]
    taken = np.concatenate([[0.0], np.cumsum(-np.diff(at) * coulombs * 0.5 * (1.0 / drain[1:] + 1.0 / drain[:-1]))])
    again = low < len(charges) and not len(kept) and taken[-1] <= WATCHED
    t = float(taken[-1]) if again else min(WATCHED, float(taken[-1]))
    depth = end - float(np.interp(t, taken, at))
    then = float(np.interp(t, taken, volts[:low]))
    return Topping(depth, t if again else float("inf"), then, depth * coulombs / t if t > 0.0 else float(drain[0]))


def _points(
    refills: Refills, case: int, pack: Placed, end: float, weak: float, charges: Array
) -> tuple[Readings, NDArray[np.bool_]]:
    """Standing points with the charger ended at each charge, and whether it stays ended there."""
    network, count = refills.network, len(charges)
    batch = refills.batch.take([case] * count)
    spread = float(figure(network, refills.batch, (pack.name, "capacity_spread"))[case])
    charger = charger_of(network, pack)
    assert charger is not None
    at = {key: np.full(count, value[case]) for key, value in refills.charges.items()}
    at |= {(pack.name, "charge"): charges, (pack.name, "weak_charge"): weak - (end - charges) / (1.0 - spread)}
    condition = on_mains(network, batch, at)
    ended = {(c.name, "phase"): "full" for c in states.of_kind(network, "charger")}
    ended |= {(relay.name, "contact"): "operated" for relay in states.of_kind(network, "relay")}
    system = build(network, batch.values, count)
    point = rest(system, replace(condition, machines=ended))
    r = readings(system, point.state)
    stays = np.array([phase == "full" for phase in r.machine[charger.name, "phase"]])
    return r, stays & (point.outcome == 0)
