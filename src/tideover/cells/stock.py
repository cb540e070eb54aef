"""One cell of the box of cells at hand: who it is and what was measured of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from tideover.laws.methods import METHODS

STATUSES = ("new", "good", "quarantine", "rejected", "used")
"""Not judged yet; fit for a pack; to be watched apart; to be recycled; built into a pack."""
CONDITIONS = ("discharge_current", "cutoff", "ambient")
"""Fields that say how a capacity was measured: another capacity has others."""


@dataclass(frozen=True)
class StockCell:
    """One row of the inventory, in SI; None where nothing was measured.

    Attributes
    ----------
    id : str
        On the cell's label; no other cell has it.
    model : str
        What its sleeve says, or the builder's word for its kind. Cells of different models are not mixed in a group.
    chemistry : str
        A word of `tideover.parts.pack.CHEMISTRIES`, or empty.
    source : str
        Where it came from: a box, a device, a shop.
    acquired : date or None
        When it came.
    age : str
        Builder's word for its age class: ``new``, ``2019 scrap``. Not mixed in a group.
    nameplate, capacity : float or None
        Stated when new; measured last. [C]
    capacity_spread : float
        Standard uncertainty of the measured one, as a share of it. [-]
    discharge_current, cutoff, ambient : float or None
        At which the capacity was measured: current [A], voltage at its end [V], temperature around the cell. [K]
    resistance : float or None
        Measured last. [ohm]
    method : str
        One of `METHODS`; empty when nothing was measured or nobody said.
    resistance_spread : float
        Standard uncertainty, as a share. [-]
    arrival : float or None
        Voltage when it came. [V]
    rests : tuple of (datetime, float)
        Voltages at rest with their time, ascending. [V]
    heating : float or None
        Rise over its neighbours during charge. [K]
    status : str
        One of `STATUSES`.
    reason : str
        Why it is in quarantine or rejected.
    notes : str
        Free words.
    """

    id: str
    model: str = ""
    chemistry: str = ""
    source: str = ""
    acquired: date | None = None
    age: str = ""
    nameplate: float | None = None
    capacity: float | None = None
    capacity_spread: float = 0.01
    discharge_current: float | None = None
    cutoff: float | None = None
    ambient: float | None = None
    resistance: float | None = None
    method: str = ""
    resistance_spread: float = 0.03
    arrival: float | None = None
    rests: tuple[tuple[datetime, float], ...] = ()
    heating: float | None = None
    status: str = "new"
    reason: str = ""
    notes: str = ""


__all__ = ["CONDITIONS", "METHODS", "STATUSES", "StockCell"]
