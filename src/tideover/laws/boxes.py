"""Temperature in a closed or vented box."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .constants import GRAVITY, TEMP_25, Value
from .heat import (
    AIR_HEAT,
    DISCHARGE_COEFFICIENT,
    H_INSIDE,
    K_PLASTIC,
    air,
    horizontal_plate,
    radiation_coefficient,
    vertical_plate_laminar,
)


class BoxRise(NamedTuple):
    """Temperatures of a box above the room.

    Attributes
    ----------
    wall : float
        Outer face. [K]
    inside : float
        Air around the parts. [K]
    """

    wall: float
    inside: float


def wall_power(
    rise: Value,
    width: Value,
    depth: Value,
    height: Value,
    temp_room: Value = TEMP_25,
    emissivity: Value = 0.9,
    standing: bool = True,
) -> Value:
    """Heat that the outside of a box gives off at a given rise of its wall.

    Parameters
    ----------
    rise : float or array
        Of the outer face above the room. [K]
    width, depth, height : float or array
        Outside. [m]
    temp_room : float or array
        Of air and walls of the room. [K]
    emissivity : float or array
        Of the outside. [-]
    standing : bool
        Whether the base stands on something and gives off nothing. [-]

    Returns
    -------
    p : float or array
        Sum over the free faces, by convection and radiation. [W]

    References
    ----------
    .. [1] Laminar handbook formulas, typical, unverified; the vertical one is within 8 % of Churchill and
       Chu 1975.

    Examples
    --------
    >>> print(f"{wall_power(20.0, 0.15, 0.10, 0.05):.0f} W")
    10 W
    """
    temp = temp_room + rise
    sides, top = 2.0 * (width + depth) * height, width * depth
    length = top / (2.0 * (width + depth))
    radiated = radiation_coefficient(temp, temp_room, emissivity)
    conductance = sides * (vertical_plate_laminar(temp, temp_room, height) + radiated)
    conductance = conductance + top * (horizontal_plate(temp, temp_room, length) + radiated)
    if not standing:
        conductance = conductance + top * (horizontal_plate(temp, temp_room, length, "down") + radiated)
    return conductance * rise


def sealed_box(
    p: float,
    width: float,
    depth: float,
    height: float,
    temp_room: float = TEMP_25,
    emissivity: float = 0.9,
    thickness: float = 2e-3,
    k_wall: float = K_PLASTIC,
    standing: bool = True,
) -> BoxRise:
    """Rise of wall and inner air of a closed box.

    Parameters
    ----------
    p : float
        Heat set free inside. [W]
    width, depth, height : float
        Outside. [m]
    temp_room : float
        Of air and walls of the room. [K]
    emissivity : float
        Of the outside. [-]
    thickness : float
        Of the wall. [m]
    k_wall : float
        Heat conductivity of the wall. [W/(m K)]
    standing : bool
        Whether the base stands on something and gives off nothing. [-]

    Returns
    -------
    rise : BoxRise
        Outer face and inner air above the room, each taken as uniform; next to a hot part it is hotter. [K]

    Notes
    -----
    The outside balance is solved for the wall; the inner air lies above it by ``p/A (thickness/k + 1/h)``,
    with 8 W/(m^2 K) on the inside (typical, unverified).

    References
    ----------
    .. [1] As `wall_power`. A public cabinet chart agrees: 4.5 W/(m^2 K) from inner air to room.

    Examples
    --------
    >>> rise = sealed_box(10.0, 0.15, 0.10, 0.05)
    >>> print(f"wall {rise.wall:.1f} K, air {rise.inside:.1f} K")
    wall 19.9 K, air 53.6 K
    """
    from scipy.optimize import brentq

    if p <= 0.0:
        return BoxRise(0.0, 0.0)

    def balance(rise: float) -> float:
        return float(wall_power(rise, width, depth, height, temp_room, emissivity, standing)) - p

    high = 1.0
    while balance(high) < 0.0:
        high *= 2.0
    wall = float(brentq(balance, 0.0, high, xtol=1e-9))
    area = 2.0 * (width + depth) * height + width * depth * (1.0 if standing else 2.0)
    return BoxRise(wall, wall + p / area * (thickness / k_wall + 1.0 / H_INSIDE))


def chimney_rise(
    p: Value, area_in: Value, area_out: Value, height: Value, temp_room: Value = TEMP_25
) -> Value:
    """Rise of the air that leaves a vented box, if all heat left with it.

    Parameters
    ----------
    p : float or array
        Heat set free inside. [W]
    area_in, area_out : float or array
        Free area of the lower and upper openings; count half behind insect mesh. [m^2]
    height : float or array
        Between the openings. [m]
    temp_room : float or array
        Of the air in the room. [K]

    Returns
    -------
    rise : float or array
        At the outlet; the mean inside is half of it. [K]

    Notes
    -----
    Draught of a column with heat added evenly along its height, ``(p / (rho c C A sqrt(g H / T)))^(2/3)``.

    References
    ----------
    .. [1] Buoyant flow through two openings; discharge coefficient 0.6 typical, unverified.

    Examples
    --------
    >>> print(f"{chimney_rise(10.0, 1e-3, 1e-3, 0.1):.0f} K")
    49 K
    """
    area = area_in * area_out / np.sqrt(np.square(area_in) + np.square(area_out))
    draught = DISCHARGE_COEFFICIENT * area * np.sqrt(GRAVITY * height / temp_room)
    with np.errstate(divide="ignore"):
        return np.power(np.divide(p, air(temp_room).density * AIR_HEAT * draught), 2 / 3)


def vented_box(
    p: float,
    width: float,
    depth: float,
    height: float,
    area_in: float,
    area_out: float,
    between: float,
    temp_room: float = TEMP_25,
    emissivity: float = 0.9,
) -> BoxRise:
    """Rise of wall and inner air of a box that loses heat through its wall and through openings.

    Parameters
    ----------
    p : float
        Heat set free inside. [W]
    width, depth, height : float
        Outside. [m]
    area_in, area_out : float
        Free area of the lower and upper openings. [m^2]
    between : float
        Height between the openings. [m]
    temp_room : float
        Of air and walls of the room. [K]
    emissivity : float
        Of the outside. [-]

    Returns
    -------
    rise : BoxRise
        Outer face and mean inner air above the room. [K]

    Notes
    -----
    The mean inner air drives both paths; it is half of the outlet's rise. Openings under about 1 % of the box
    surface, or covered ones, do little.

    References
    ----------
    .. [1] `sealed_box` and `chimney_rise` side by side.

    Examples
    --------
    >>> rise = vented_box(10.0, 0.15, 0.10, 0.05, 5e-4, 5e-4, 0.04)
    >>> print(f"air {rise.inside:.0f} K")
    air 31 K
    """
    from scipy.optimize import brentq

    def excess(share: float) -> float:
        through_wall = sealed_box(share * p, width, depth, height, temp_room, emissivity).inside
        through_vents = 0.5 * float(chimney_rise((1.0 - share) * p, area_in, area_out, between, temp_room))
        return through_wall - through_vents

    if p <= 0.0 or min(area_in, area_out, between) <= 0.0:
        return sealed_box(p, width, depth, height, temp_room, emissivity)
    share = brentq(excess, 0.0, 1.0, xtol=1e-9)
    return sealed_box(share * p, width, depth, height, temp_room, emissivity)
