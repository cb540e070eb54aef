"""How a pack wears over the years asked for: standing full through warm and cold months, and cycled by the outages."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers.packs import chemistry, curve, full_charge
from tideover.answers.runs import AGED_GROWTH, AGED_HEALTH, KNEE, YEAR
from tideover.cases import Batch, written
from tideover.laws import ageing
from tideover.laws.constants import DAY
from tideover.network import Network, Placed

Array = NDArray[np.float64]
LOWEST_HEALTH, HIGHEST_GROWTH = 0.2, 10.0
"""What a pack part may be given; far past the knee in any case."""
LOWEST_RATE = 1e-12
"""Where a law gives no loss at all, its power law is carried on with next to none."""


@dataclass(frozen=True)
class Use:
    """What the outages of a year ask of a pack.

    Attributes
    ----------
    charge : float
        Given in a year, over its full charge. [-]
    depth : float
        Mean depth of a discharge. [-]
    runtime : float
        From full to empty. [s]
    """

    charge: float
    depth: float
    runtime: float


@dataclass(frozen=True)
class Wear:
    """Capacity and resistance, over those stated for the cell, at some ages; and by which law, in words."""

    health: Array
    growth: Array
    words: str


def wear(network: Network, pack: Placed, ages: Array, temps: Array, use: Use) -> Wear:
    """Age a pack.

    Parameters
    ----------
    network : Network
        As loaded. [-]
    pack : Placed
        Which. [-]
    ages : array
        In rising order. [s]
    temps : array, shape (12,)
        Of every month. [K]
    use : Use
        By the outages. [-]

    Returns
    -------
    wear : Wear
        Standing and cycling are added; the changing temperature is carried along each power law. [-]
    """
    name = chemistry(network, pack)
    law = ageing.CHEMISTRY_LAW.get(name)
    full = float(full_charge(network, pack, Batch(("nominal",), {}, 1))[0])
    of_cell = curve(network, pack)
    held, mean = (float(np.asarray(of_cell.value(np.array([[s]])))[0, 0]) for s in (full, full - 0.5 * use.depth))
    months = np.arange(round(12 * ages[-1] / YEAR) + 12)
    warmth, step = temps[months % 12], YEAR / 12
    standing: Array
    if law == "NMC":
        standing = _carried(ageing.nmc_calendar_loss(held, warmth, DAY), 0.75, step / DAY)
        grown = _carried(ageing.nmc_calendar_growth(held, warmth, DAY), 0.75, step / DAY)
        capacity = written(network, (pack.name, "capacity"))
        passed = 2.0 * use.charge * capacity * ages / YEAR  # charge and discharge both count
        cycled = ageing.nmc_cycle_loss(mean, use.depth, passed, capacity)
        stiffer = ageing.nmc_cycle_growth(mean, use.depth, passed, capacity)
    elif law == "LFP":
        standing = _carried(ageing.lfp_calendar_loss(full, warmth, 1.0), 0.5, step)
        rate = 3600.0 / max(use.runtime, 60.0)
        cycled = ageing.lfp_cycle_loss(rate, use.depth, use.charge * ages / YEAR)
        grown, stiffer = np.zeros(len(standing)), np.zeros(len(ages))
    else:
        even = np.arange(len(months) + 1) * step / max(float(ages[-1]), 1.0)
        standing = np.asarray((1.0 - AGED_HEALTH) * even, dtype=float)
        grown, cycled, stiffer = np.zeros(len(standing)), np.zeros(len(ages)), np.zeros(len(ages))
    at = np.arange(len(standing)) * step
    loss = np.interp(ages, at, standing) + cycled
    growth: Array = np.asarray(np.interp(ages, at, grown) + stiffer, dtype=float)
    if law != "NMC":
        growth = np.asarray((AGED_GROWTH - 1.0) * loss / (1.0 - AGED_HEALTH), dtype=float)
    said = {
        "NMC": "laws of an NMC cell for standing and for cycles",
        "LFP": "laws of an LFP cell for standing and for cycles; resistance by convention 1.5 times at 80 %",
    }.get(law or "", f"80 % at the end by convention, no ageing law for {name}")
    left = float(1.0 - loss[-1])
    said += f": capacity {100 * left:.0f} %, resistance {100 * (1 + float(growth[-1])):.0f} %"
    if left < KNEE:
        said += "; past the knee, where no law holds"
    health, stiffness = (written(network, (pack.name, n)) for n in ("health", "growth"))
    return Wear(
        np.maximum(health * np.maximum(1.0 - loss, LOWEST_HEALTH), LOWEST_HEALTH),
        np.minimum(stiffness * (1.0 + growth), HIGHEST_GROWTH),
        said,
    )


def _carried(rates: Array, exponent: float, step: float) -> Array:
    """Loss at the end of every month, from 0 on, each month under its own stress."""
    out = [0.0]
    for rate in np.maximum(rates, LOWEST_RATE):
        out.append(float(ageing.continue_loss(out[-1], rate, exponent, step)))
    return np.array(out)
