"""Which ageing law stands in for a pack's cells, and what it leaves of their capacity.

Calendar ageing alone: the cells stand at one voltage and temperature. What cycling takes is left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tideover.answers.limits import END_OF_LIFE, FLOAT_LIFE, GROWN
from tideover.laws import ageing
from tideover.laws.constants import TEMP_25

Array = NDArray[np.float64]
YEAR = 365.25 * 86400.0
LEAST = 0.2
"""Capacity left that no prediction goes below: the least health a pack can be given."""


@dataclass(frozen=True)
class Law:
    """A calendar law.

    Attributes
    ----------
    name, source : str
        In words; where it is published.
    power : float
        The loss grows with time to this power.
    coldest, warmest : float
        Cell temperatures that it was fitted to. [K]
    """

    name: str
    source: str
    power: float
    coldest: float
    warmest: float


LAWS: dict[str, Law] = {
    "NMC": Law("calendar law of an NMC cell", "Schmalstieg et al. 2014", 0.75, 283.15, 333.15),
    "LFP": Law("calendar law of an LFP cell", "Naumann et al. 2018", 0.5, 273.15, 333.15),
    "float": Law("float rule of sealed lead-acid", "public guides: life halves with every 10 K", 1.0, 293.15, 323.15),
}


def law_of(chemistry: str) -> Law | None:
    """The law that stands in for a chemistry; None where none is published."""
    key = "float" if chemistry == "PbA" else ageing.CHEMISTRY_LAW.get(chemistry)
    return LAWS[key] if key else None


def fade(chemistry: str, volts: ArrayLike, soc: ArrayLike, temp: ArrayLike, t: ArrayLike) -> tuple[Array, Array] | None:
    """Capacity lost and resistance gained by standing, both as shares of a new cell's; None where there is no law.

    Parameters
    ----------
    chemistry : str
        Its word in a build file. [-]
    volts, soc : float or array
        What a cell is held at: the NMC law goes by the voltage [V], the LFP law by the charge. [-]
    temp : float or array
        Of the cell. [K]
    t : float or array
        Time. [s]
    """
    law = law_of(chemistry)
    if law is LAWS["NMC"] and law:
        loss = np.asarray(ageing.nmc_calendar_loss(np.asarray(volts), np.asarray(temp), np.asarray(t)))
        return loss, np.asarray(ageing.nmc_calendar_growth(np.asarray(volts), np.asarray(temp), np.asarray(t)))
    if law is LAWS["LFP"] and law:
        loss = np.asarray(ageing.lfp_calendar_loss(np.asarray(soc), np.asarray(temp), np.asarray(t)))
    elif law:
        life = ageing.lead_acid_float_life(FLOAT_LIFE.value, np.maximum(np.asarray(temp), law.coldest), TEMP_25)
        loss = (1.0 - END_OF_LIFE.value) * np.asarray(t) / np.asarray(life)
    else:
        return None
    return loss, (GROWN.value - 1.0) * loss / (1.0 - END_OF_LIFE.value)


def left_after(loss: ArrayLike) -> Array:
    """Capacity left after a loss, as a health that a pack can be given."""
    return np.maximum(1.0 - np.asarray(loss, dtype=float), LEAST)
