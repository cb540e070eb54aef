"""Limits of cells by chemistry: voltages of one cell and temperatures inside which it may be charged and discharged.

These stand in where the maker of the cells states nothing; where the maker does, the maker prevails. Charging below
the coldest temperature plates lithium even where the voltage looks normal.

>>> CHEMISTRY["NMC"].charge_abs, CHEMISTRY["LFP"].charge_abs
(4.25, 3.8)
"""

from __future__ import annotations

from dataclasses import dataclass

from tideover.laws.constants import ICE


@dataclass(frozen=True)
class ChemistryLimits:
    """What one cell of a chemistry bears.

    Attributes
    ----------
    charge_max : float
        Highest voltage of an ordinary full charge. [V]
    charge_abs : float
        Voltage above which the cell is harmed; never to be passed. [V]
    standby_max : float
        Highest voltage to be held at for years. [V]
    discharge_min : float
        Lowest voltage in ordinary use, under load. [V]
    discharge_abs : float
        Voltage below which the cell is harmed. [V]
    charge_coldest, charge_warmest : float
        Cell temperatures between which it may be charged. [K]
    discharge_coldest, discharge_warmest : float
        Cell temperatures between which it may be discharged. [K]
    source : str
        Where the figures come from. [-]
    """

    charge_max: float
    charge_abs: float
    standby_max: float
    discharge_min: float
    discharge_abs: float
    charge_coldest: float
    charge_warmest: float
    discharge_coldest: float
    discharge_warmest: float
    source: str


def _kelvin(degrees: float) -> float:
    return degrees + ICE


_COMMON = "usual data-sheet values of the chemistry: typical, unverified; the maker's data prevail"
_LEAD = _COMMON + "; temperatures from a published care guide of sealed lead-acid batteries"


def _layered_oxide() -> ChemistryLimits:
    """NMC, NCA and LCO alike. Makers' absolute limits run from 4.25 V to 4.28 V; the lower one is taken."""
    return ChemistryLimits(4.20, 4.25, 4.10, 3.0, 2.5, _kelvin(0), _kelvin(45), _kelvin(-20), _kelvin(60), _COMMON)


CHEMISTRY: dict[str, ChemistryLimits] = {
    "NMC": _layered_oxide(),
    "NCA": _layered_oxide(),
    "LCO": _layered_oxide(),
    "LFP": ChemistryLimits(3.65, 3.80, 3.45, 2.8, 2.0, _kelvin(0), _kelvin(45), _kelvin(-20), _kelvin(60), _COMMON),
    "LTO": ChemistryLimits(2.80, 3.00, 2.50, 1.8, 1.5, _kelvin(-20), _kelvin(55), _kelvin(-30), _kelvin(60), _COMMON),
    "PbA": ChemistryLimits(2.45, 2.50, 2.30, 1.80, 1.67, _kelvin(-15), _kelvin(50), _kelvin(-20), _kelvin(60), _LEAD),
}
"""By the chemistry's word in a build file; lead-acid for one cell of a block."""
