"""How much current wires, strips and board tracks may carry, for long and in a short circuit."""

from __future__ import annotations

from typing import Any

import numpy as np

from .conductors import resistance_at, self_heating_rise
from .constants import LORENZ, MIL, NICKEL, STEFAN_BOLTZMANN, TEMP_25, Value

IPC_2221 = {"outer": 0.048, "inner": 0.024}
"""Constant of the board track relation, with the section in square mils. [A/(K^0.44 mil^1.45)]

IPC-2221, 6.2, as republished by several makers."""

ADIABATIC_K = {"pvc": 115e6, "heat-resistant": 143e6}
"""Short-circuit constant of insulated copper: 70 to 160 and 90 to 250 degrees C. [A s^0.5/m^2]

IEC 60364-4-43 as recalled: typical, unverified."""

PLACES = {"free air": 1.0, "box": 0.6, "bundle": 0.4}
"""Share of the 30 K free-air current that is allowed; a bundle has more than six loaded wires. [-]

Engineering default: typical, unverified."""

STRIP_COOLING = 12.0
"""From the faces of a welded strip to free air, convection and radiation (typical, unverified). [W/(m^2 K)]"""
COVERED = 0.75
"""Current of a strip welded on cells over that of a free one, because they cover one face (typical, unverified). [-]"""

K_INSULATION = 0.17
"""Heat conductivity of soft PVC (typical, unverified). [W/(m K)]"""


def track_current(rise: Value, area: Value, layer: str = "outer") -> Value:
    """Current that warms a board track by a given amount.

    Parameters
    ----------
    rise : float or array
        Temperature rise allowed, 10 to 100 K. [K]
    area : float or array
        Section of the track, width times thickness. [m^2]
    layer : str
        ``"outer"`` or ``"inner"``. [-]

    Returns
    -------
    i : float or array
        Continuous current. [A]

    Notes
    -----
    ``k rise^0.44 area^0.725`` with the area in square mils [1]_. Later measured charts show inner layers no
    hotter than outer ones, so the inner figure is on the safe side; without copper planes, or within 10 mm of
    other hot parts, the relation can err either way (typical, unverified).

    References
    ----------
    .. [1] IPC-2221, Generic Standard on Printed Board Design, 6.2.

    Examples
    --------
    >>> print(f"{track_current(20.0, 1e-3 * 35e-6):.2f} A")
    3.24 A
    """
    return IPC_2221[layer] * np.power(rise, 0.44) * np.power(area / MIL**2, 0.725)


def strip_current(width: Value, thickness: Value, rise: Value = 20.0, rho: Value = NICKEL.rho) -> Value:
    """Continuous current of a strip welded along a row of cells.

    Parameters
    ----------
    width, thickness : float or array
        Of the strip. [m]
    rise : float or array
        Temperature rise allowed. [K]
    rho : float or array
        Resistivity; nickel by default. [ohm m]

    Returns
    -------
    i : float or array
        About half of it in a sealed stack of many rows. [A]

    Notes
    -----
    Heat balance at 12 W/(m^2 K) over both faces, times 0.75 because the cells cover one face: a rule,
    typical, unverified. It scales with ``sqrt(w t (w + t))``: a fixed current density does not.

    References
    ----------
    .. [1] Engineering judgement on a steady heat balance.

    Examples
    --------
    >>> print(f"{strip_current(8e-3, 0.15e-3):.1f} A")
    6.1 A
    """
    cooled = STRIP_COOLING * 2.0 * (width + thickness) * rise
    return COVERED * np.sqrt(cooled * width * thickness / rho)


def strip_rise(
    i: Value,
    width: Value,
    thickness: Value,
    temp_air: Value = TEMP_25,
    rho: Value = NICKEL.rho,
    alpha: Value = NICKEL.alpha,
) -> Value:
    """Temperature rise of a strip welded along a row of cells, at a steady current.

    Parameters
    ----------
    i : float or array
        Current, of either sign. [A]
    width, thickness : float or array
        Of the strip; of layers that lie on each other, the sum. [m]
    temp_air : float or array
        Around it. [K]
    rho : float or array
        Resistivity at 20 degrees C; nickel by default. [ohm m]
    alpha : float or array
        Its temperature coefficient. [1/K]

    Returns
    -------
    rise : float or array
        Over the air; infinite where there is no thermal equilibrium. [K]

    Notes
    -----
    The balance of `strip_current`, solved the other way and with a resistance that grows as the strip warms. The
    cells take up heat at the welds, so that short pieces stay cooler; in a sealed stack they are hotter. It is
    reached within a few minutes.

    References
    ----------
    .. [1] Engineering judgement on a steady heat balance.

    Examples
    --------
    >>> print(f"{strip_rise(6.1, 8e-3, 0.15e-3):.0f} K")
    23 K
    """
    perimeter = 2.0 * (width + thickness) * COVERED**2
    return self_heating_rise(i, rho / (width * thickness), perimeter, STRIP_COOLING, temp_air, alpha)


def span_rise(
    i: Value,
    width: Value,
    thickness: Value,
    length: Value,
    temp_ends: Value = TEMP_25,
    rho: Value = NICKEL.rho,
    alpha: Value = NICKEL.alpha,
) -> Value:
    """Rise of the middle of a strip over the cells that it is welded to at both ends, at a steady current.

    Parameters
    ----------
    i : float or array
        Current, of either sign. [A]
    width, thickness, length : float or array
        Of the strip; of layers that lie on each other, the sum; from weld to weld. [m]
    temp_ends : float or array
        Of the cells, and of the air. [K]
    rho : float or array
        Resistivity at 20 degrees C, above zero. [ohm m]
    alpha : float or array
        Its temperature coefficient. [1/K]

    Returns
    -------
    rise : float or array
        Over the cells; infinite where there is no thermal equilibrium. [K]

    Notes
    -----
    A fin that heats itself, cooled as in `strip_rise`, with the heat conductivity that belongs to its resistivity.
    The cells must then get rid of what the strip gives them: they are part of the pack's heat, not of this figure.

    References
    ----------
    .. [1] One-dimensional heat conduction; law of Wiedemann and Franz.

    Examples
    --------
    >>> print(f"{span_rise(6.0, 8e-3, 0.15e-3, 20e-3):.1f} K")
    0.8 K
    """
    section = width * thickness
    conducts = LORENZ * temp_ends / rho * section
    gained = np.square(i) * resistance_at(rho / section, temp_ends, alpha)
    cooled = STRIP_COOLING * 2.0 * (width + thickness) * COVERED**2
    left = (cooled - np.square(i) * alpha * rho / section) / conducts
    left = np.where(np.abs(left) < 1e-6, 1e-6, left)
    angle = 0.5 * length * np.sqrt(np.abs(left))
    hot = 1.0 / np.cos(np.minimum(angle, 1.5)) - 1.0
    shape = np.where(left > 0.0, 1.0 - 1.0 / np.cosh(np.minimum(angle, 50.0)), hot)
    rise = gained / (np.abs(left) * conducts) * shape
    return np.where((left < 0.0) & (angle >= 1.5), np.inf, rise)[()]


def adiabatic_limit(area: Value, k: Value = ADIABATIC_K["pvc"]) -> Value:
    """Let-through that an insulated copper conductor survives in a short circuit of at most 5 s.

    Parameters
    ----------
    area : float or array
        Conductor section. [m^2]
    k : float or array
        Constant of copper and insulation, see `ADIABATIC_K`. [A s^0.5/m^2]

    Returns
    -------
    i2t : float or array
        Greatest integral of the squared current. [A^2 s]

    Notes
    -----
    No heat leaves the copper: true for a second or so in thin wire, safe beyond.

    References
    ----------
    .. [1] IEC 60364-4-43, constants as recalled: typical, unverified.

    Examples
    --------
    >>> print(f"{adiabatic_limit(0.5e-6):.0f} A^2 s")
    3306 A^2 s
    """
    return np.square(k * area)


def wire_current(
    rise: Value,
    area: Value,
    r_20: Value,
    diameter_outer: Value,
    temp_air: Value = TEMP_25,
    emissivity: Value = 0.9,
) -> Value:
    """Current that warms the copper of one insulated wire in still, free air by a given amount.

    Parameters
    ----------
    rise : float or array
        Of the conductor above the air, above zero. [K]
    area : float or array
        Conductor section. [m^2]
    r_20 : float or array
        Conductor resistance per length at 20 degrees C. [ohm/m]
    diameter_outer : float or array
        Over the insulation. [m]
    temp_air : float or array
        Air around the wire. [K]
    emissivity : float or array
        Of the insulation. [-]

    Returns
    -------
    i : float or array
        Continuous current. [A]

    Notes
    -----
    Radial balance: the heat crosses the insulation, then leaves by natural convection around a horizontal
    cylinder and by radiation. Thin wires cool far better per area than thick ones, so no current density
    fits all. Heat running along the wire is neglected: short leads between warm parts carry less.

    References
    ----------
    .. [1] Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, horizontal cylinder: coefficients as
       recalled, typical, unverified.

    See Also
    --------
    installed_current : the same wire in a box or bundle.

    Examples
    --------
    >>> print(f"{wire_current(30.0, 0.3255e-6, 0.05455, 1.5e-3):.1f} A")
    7.4 A
    """
    solve = np.vectorize(_wire_current, otypes=[float])
    return solve(rise, area, r_20, diameter_outer, temp_air, emissivity)[()]


def _wire_current(rise: float, area: float, r_20: float, diameter: float, temp_air: float, emissivity: float) -> float:
    from scipy.optimize import brentq

    from .heat import horizontal_cylinder

    temp_wire = temp_air + rise
    bare = np.sqrt(4.0 * area / np.pi)
    through = 2.0 * np.pi * K_INSULATION / np.log(diameter / bare)

    def given_off(temp: float) -> Any:
        radiated = emissivity * STEFAN_BOLTZMANN * (temp**4 - temp_air**4)
        return np.pi * diameter * (horizontal_cylinder(temp, temp_air, diameter) * (temp - temp_air) + radiated)

    surface = brentq(lambda temp: through * (temp_wire - temp) - given_off(temp), temp_air, temp_wire)
    return float(np.sqrt(given_off(surface) / resistance_at(r_20, temp_wire)))


def installed_current(i_free: Value, temp_air: Value, temp_insulation: Value, place: str = "box") -> Value:
    """Current allowed in a wire where it lies, from its 30 K free-air current at 25 degrees C.

    Parameters
    ----------
    i_free : float or array
        Free-air current for 30 K, such as from `wire_current`. [A]
    temp_air : float or array
        Air where the wire lies. [K]
    temp_insulation : float or array
        Highest temperature of the insulation. [K]
    place : str
        ``"free air"``, ``"box"`` or ``"bundle"``. [-]

    Returns
    -------
    i : float or array
        Zero once the air is as hot as the insulation may get. [A]

    Notes
    -----
    Share of `PLACES`, times the square root of the temperature room left against that at 25 degrees C.

    References
    ----------
    .. [1] Engineering judgement: typical, unverified.

    Examples
    --------
    >>> print(f"{installed_current(7.4, 298.15, 353.15):.2f} A")
    4.44 A
    """
    room = np.maximum(temp_insulation - temp_air, 0.0) / (temp_insulation - TEMP_25)
    return PLACES[place] * i_free * np.sqrt(room)
