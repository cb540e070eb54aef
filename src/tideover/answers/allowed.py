"""What a conductor may carry: as stated, or computed from its section where nobody stated it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tideover.answers.limits import TYPICAL
from tideover.answers.rated import number
from tideover.laws.ampacity import (
    PLACES,
    adiabatic_limit,
    installed_current,
    strip_current,
    track_current,
    wire_current,
)
from tideover.laws.constants import COPPER, ICE, TEMP_25
from tideover.network import Placed

INSULATION = ICE + 70.0
"""Hottest temperature of ordinary PVC insulation. [K]"""
WALL = 0.45e-3
"""Thickness of the insulation of a thin hook-up wire, typical and unverified. [m]"""
RISE = 30.0
"""By which a wire's free-air current warms it. [K]"""
TRACK_RISE = 20.0
"""By which a board track or a strip may warm. [K]"""
CONDUCTORS = ("cable", "wire", "strip", "track")
STATED = "as stated"
NOT_STATED = 1000.0


@dataclass(frozen=True)
class Allowance:
    """What one conductor may carry.

    Attributes
    ----------
    current : float
        For long, where it lies. [A]
    breaks : float
        For long, past any doubt too much. [A]
    source : str
        `STATED`, or how it was computed.
    """

    current: float
    breaks: float
    source: str = STATED


def allowance(part: Placed, air: float, room: float) -> Allowance | None:
    """What a conductor or contact may carry for long; None where nothing says it.

    Parameters
    ----------
    air, room : float
        Air in the box, where wires lie; room, where cables do. [K]
    """
    kind = part.kind.name
    key = "contact_rating" if kind == "relay" else "ampacity"
    if key not in part.values:
        return None
    stated = number(part, key)
    if stated < NOT_STATED or kind == "relay":
        return Allowance(stated, stated)
    if kind in ("cable", "wire"):
        free = free_air_current(number(part, "section"), number(part, "resistivity"))
        boxed = float(installed_current(free, air if kind == "wire" else room, INSULATION))
        return Allowance(
            boxed,
            boxed / PLACES["box"],
            f"computed for 70 °C insulation, a wire in the box or a cable in the room: {TYPICAL}",
        )
    if kind == "track":
        area = number(part, "width") * number(part, "thickness")
        amps = float(track_current(TRACK_RISE, area))
        return Allowance(amps, 2.0 * amps, "computed for 20 K rise, outer layer: IPC-2221, 6.2")
    if kind == "strip":
        width, thickness, rho = (number(part, n) for n in ("width", "thickness", "resistivity"))
        amps = float(strip_current(width, thickness, TRACK_RISE, rho))
        return Allowance(amps, 2.0 * amps, f"computed for 20 K rise of a strip on cells: {TYPICAL}")
    return None


def free_air_current(section: float, resistivity: float) -> float:
    """Current that warms a single insulated wire by 30 K in still air of 25 °C. [A]"""
    outer = float(np.sqrt(4.0 * section / np.pi)) + 2.0 * WALL
    return float(wire_current(RISE, section, resistivity / section, outer, TEMP_25))


def withstands(part: Placed) -> float | None:
    """Let-through that a conductor survives in a short circuit; None where there is no rule for it. [A^2 s]

    Copper by the adiabatic limit of PVC insulation; a strip of another metal in proportion to its resistivity, since
    metals hold about as much heat in a volume.
    """
    kind = part.kind.name
    if kind in ("cable", "wire"):
        return float(adiabatic_limit(number(part, "section")))
    if kind in ("track", "strip"):
        copper = float(adiabatic_limit(number(part, "width") * number(part, "thickness")))
        return copper * min(COPPER.rho / number(part, "resistivity"), 1.0)
    return None


def section_for(let_through: float) -> float:
    """Copper section that survives a let-through. [m^2]"""
    return float(np.sqrt(let_through / adiabatic_limit(1.0)))
