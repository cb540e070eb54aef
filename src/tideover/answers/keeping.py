"""Hold voltage and temperature against years: what a pack's cells have left, and how long they then carry the load.

Every runtime is a run of the whole network, with the charger's voltages and the pack's health and growth set to what a
hold voltage and an age make of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers.fading import LEAST, YEAR, Law, fade, law_of, left_after
from tideover.answers.limits import KNEE, SCATTER
from tideover.answers.packs import chemistry, curve, full_charge
from tideover.answers.runs import AMBIENT, AT_ONCE, Runs, run
from tideover.cases import Batch, written
from tideover.laws.constants import TEMP_25
from tideover.network import Network, Placed
from tideover.quantity import show

Array = NDArray[np.float64]
Key = tuple[str, str]
HELD_AT: dict[str, tuple[float, ...]] = {
    **dict.fromkeys(("NMC", "NCA", "LCO"), (4.20, 4.15, 4.10, 4.05, 4.00)),
    "LFP": (3.60, 3.45, 3.40, 3.35),
    "LTO": (2.80, 2.70, 2.60, 2.50),
    "PbA": (2.30, 2.275, 2.25),
}
"""Voltages of one cell that are tried beside the build's own. [V]"""
SAME = 0.004
"""Hold voltages nearer to each other than this are one. [V]"""
AGES = (0.0, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0, 1.5, 2.0)
"""Ages at which runs are made, over the years asked for."""


@dataclass(frozen=True)
class Keeping:
    """V hold voltages by T temperatures by Y ages.

    Attributes
    ----------
    law : Law or None
        None where no law is published: then no capacity is told and every age is new.
    volts : array, shape (V,)
        Of one cell, the highest first. [V]
    own : int
        Which of them is the build's own.
    temps, temp_names : array, shape (T,), and words
        Cell temperatures while held; the one in a room of 25 °C stands at `usual`. [K]
    left, grown : array, shape (V, T)
        Capacity and resistance after `asked` years over those of a new cell.
    now, then : array, shape (V,) and (V, T)
        Runtime new and after `asked` years, in a room of 25 °C. [s]
    years, hours, health : array, shape (Y,), (V, Y), (V, Y)
        Ages; runtime [s] and capacity left at them, cells at the usual temperature.
    doubled : float
        Runtime after `asked` years at the build's own voltage if the loss is twice the law's. [s]
    capped : float
        Runs are watched no longer than this. [s]
    """

    pack: Placed
    law: Law | None
    asked: float
    volts: Array
    own: int
    temps: Array
    temp_names: tuple[str, ...]
    usual: int
    left: Array
    grown: Array
    now: Array
    then: Array
    years: Array
    hours: Array
    health: Array
    doubled: float
    capped: float


def keeping(
    network: Network,
    pack: Placed,
    charger: Placed | None,
    temps: Array,
    temp_names: tuple[str, ...],
    usual: int,
    highest: float,
) -> Keeping:
    """Try hold voltages, temperatures and ages in one batch of runs.

    Parameters
    ----------
    network : Network
        As loaded. [-]
    pack, charger : Placed
        Whose cells, and what feeds them. [-]
    temps, temp_names, usual
        As in `Keeping`. [K]
    highest : float
        Voltage of one cell that nothing above the build's own is tried beyond: what cells bear and the charger's input
        leaves. [V]
    """
    name, asked = chemistry(network, pack), network.need.years
    shifts = _shifts(network, pack, charger, name, highest)
    volts = shifts[0]
    own = int(np.argmin(np.abs(shifts[1])))
    law = law_of(name)
    years = asked * np.array(AGES)
    held = Batch(tuple(f"{v:.3f} V" for v in volts), _voltages(network, pack, charger, shifts[1]), len(volts))
    soc = full_charge(network, pack, held)

    def lost(temp: Array, t: Array, times: float = 1.0) -> tuple[Array, Array]:
        """Capacity left and resistance, shape (V, ...)."""
        at = (slice(None), *(None,) * max(np.ndim(temp), np.ndim(t)))
        shape = np.broadcast_shapes(volts[at].shape, np.shape(temp), np.shape(t))
        loss, rise = fade(name, volts[at], soc[at], temp, t) or (np.zeros(1), np.zeros(1))
        return left_after(times * np.broadcast_to(loss, shape)), 1.0 + times * np.broadcast_to(rise, shape)

    left, grown = lost(temps, np.array(asked * YEAR))
    health, growth = lost(temps[usual], years * YEAR)
    twice = lost(temps[usual], np.array([asked * YEAR]), SCATTER.value)
    every = np.concatenate([left, health], axis=1)
    runs = _hours(
        network,
        pack,
        charger,
        np.append(np.repeat(shifts[1], every.shape[1]), shifts[1][own]),
        np.append(every, twice[0][own]),
        np.append(np.concatenate([grown, growth], axis=1), twice[1][own]),
    )
    t = len(temps)
    runtime = np.where(runs.runtime < AT_ONCE, 0.0, runs.runtime)
    table = runtime[:-1].reshape(every.shape)
    return Keeping(
        pack,
        law,
        asked,
        volts,
        own,
        temps,
        temp_names,
        usual,
        left,
        grown,
        table[:, t],
        table[:, :t],
        years,
        table[:, t:],
        health,
        float(runtime[-1]),
        runs.limit,
    )


def _hours(network: Network, pack: Placed, charger: Placed | None, shift: Array, left: Array, grown: Array) -> Runs:
    """Runs in a room of 25 °C at shifts of the hold voltage and shares of health and growth, all of one shape."""
    values = _voltages(network, pack, charger, shift)
    for key, share in (("health", left), ("growth", grown)):
        values[pack.name, key] = written(network, (pack.name, key)) * share
    values[pack.name, "health"] = np.maximum(values[pack.name, "health"], LEAST)
    values[AMBIENT] = np.full(len(shift), TEMP_25)
    return run(network, Batch(tuple(map(str, range(len(shift)))), values, len(shift)), keep=False)


def stands_at(network: Network, pack: Placed, charger: Placed | None) -> float:
    """Voltage of one cell that a pack is held at: its charger's float voltage, or else its hold voltage; that of a full
    cell without a charger. [V]"""
    cells = cells_in_series(network, pack)
    if charger is None:
        return float(np.asarray(curve(network, pack).value(np.array([1.0])))[0])
    afloat, hold = (written(network, (charger.name, n)) for n in ("float_voltage", "hold_voltage"))
    return (afloat if afloat > 0.0 else hold) / cells


def cells_in_series(network: Network, pack: Placed) -> float:
    """Single cells from minus to plus."""
    return written(network, (pack.name, "series")) * written(network, (pack.name, "cells_per_unit"))


def _shifts(network: Network, pack: Placed, charger: Placed | None, name: str, highest: float) -> tuple[Array, Array]:
    """Voltages of one cell that are tried, the highest first, and how far each lies from the build's own. [V]"""
    own = stands_at(network, pack, charger)
    tried = [] if charger is None else list(HELD_AT[name])
    kept = [v for v in tried if v <= max(highest, own) + 1e-9 and abs(v - own) > SAME]
    volts = np.array(sorted([own, *kept], reverse=True))
    return volts, volts - own


def _voltages(network: Network, pack: Placed, charger: Placed | None, shift: Array) -> dict[Key, Array]:
    """The charger's voltages, each moved by a shift for every cell; what is zero (none) stays so."""
    if charger is None:
        return {}
    out = {}
    for name in ("hold_voltage", "float_voltage", "restart_voltage"):
        value = written(network, (charger.name, name))
        out[charger.name, name] = value + shift * cells_in_series(network, pack) * (value > 0.0)
    return out


def said(kept: Keeping, runtime: float) -> str:
    """A runtime in words; one that was still under way when the watch ended is more than that."""
    if runtime <= 0.0:
        return "not at all"
    return f"more than {show(kept.capped, 's')}" if runtime >= kept.capped * (1.0 - 1e-9) else show(runtime, "s")


def overtakes(years: Array, first: Array, second: Array) -> float | None:
    """The year from which `second` is more than `first`, between the points on a straight line; None if never.

    Examples
    --------
    10 h that lose 0.4 h a year against 8 h that lose 0.08 h a year:

    >>> y = np.linspace(0.0, 10.0, 5)
    >>> print(f"{overtakes(y, 10.0 - 0.4 * y, 8.0 - 0.08 * y):.2f}")
    6.25
    """
    ahead = np.asarray(second) - np.asarray(first)
    over = np.flatnonzero(ahead > 0.0)
    if not len(over):
        return None
    k = int(over[0])
    if k == 0:
        return float(years[0])
    share = -ahead[k - 1] / (ahead[k] - ahead[k - 1])
    return float(years[k - 1] + share * (years[k] - years[k - 1]))


def crossings(kept: Keeping) -> tuple[float | None, ...]:
    """For each hold voltage: the year from which it carries the load longer than the highest one does, as long as that
    one is not past its knee; None if not before."""
    return tuple(_before_knee(kept, 0, overtakes(kept.years, kept.hours[0], row)) for row in kept.hours)


def _before_knee(kept: Keeping, v: int, year: float | None) -> float | None:
    knee = knee_year(kept, v)
    return year if year is None or knee is None or year <= knee else None


def knee_year(kept: Keeping, v: int) -> float | None:
    """The year in which the capacity left falls below the knee; None if not within the ages tried."""
    return overtakes(kept.years, kept.health[v], np.full(len(kept.years), KNEE.value))


def met_until(kept: Keeping, v: int, runtime: float) -> float | None:
    """The year from which a runtime is no longer reached; None if not within the ages tried."""
    return overtakes(kept.years, kept.hours[v], np.full(len(kept.years), runtime))


def scattered(kept: Keeping, year: float) -> tuple[float, float]:
    """The same year if the cells fade twice as fast, and half as fast, as the law says: its power law turned round."""
    assert kept.law is not None
    times = SCATTER.value ** (1.0 / kept.law.power)
    return year / times, year * times
