"""Heat from parts to box, and from box to room, in still air.

Convection grows with the temperature difference, so twice the power is less than twice the rise.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from .constants import GRAVITY, STEFAN_BOLTZMANN, Value

H_INSIDE = 8.0
"""From parts to the inner face of a wall, convection and radiation (typical, unverified). [W/(m^2 K)]"""

K_PLASTIC = 0.2
"""Heat conductivity of a plastic wall (typical, unverified). [W/(m K)]"""

AIR_HEAT = 1007.0
"""Specific heat of air at constant pressure. [J/(kg K)]"""

DISCHARGE_COEFFICIENT = 0.6
"""Of a sharp-edged opening; half of it behind insect mesh (typical, unverified). [-]"""


class Air(NamedTuple):
    """Properties of air at sea level.

    Attributes
    ----------
    viscosity : float or array
        Kinematic. [m^2/s]
    diffusivity : float or array
        Of heat. [m^2/s]
    conductivity : float or array
        Of heat. [W/(m K)]
    expansion : float or array
        Volumetric. [1/K]
    density : float or array
        At sea level. [kg/m^3]
    """

    viscosity: Value
    diffusivity: Value
    conductivity: Value
    expansion: Value
    density: Value


def air(temp: Value) -> Air:
    """Properties of dry air at a film temperature of 270 to 400 K, at sea level.

    Parameters
    ----------
    temp : float or array
        Mean of surface and air. [K]

    Returns
    -------
    properties : Air
        Within about 2 % of textbook tables (typical, unverified).
        [m^2/s, m^2/s, W/(m K), 1/K, kg/m^3]

    References
    ----------
    .. [1] Power laws fitted to the air table of Incropera and DeWitt, Fundamentals of Heat and Mass Transfer.

    Examples
    --------
    >>> print(f"{air(300.0).conductivity:.4f} W/(m K)")
    0.0263 W/(m K)
    """
    x = temp / 300.0
    return Air(
        viscosity=1.57e-5 * np.power(x, 1.72),
        diffusivity=2.22e-5 * np.power(x, 1.74),
        conductivity=0.0263 * np.power(x, 0.83),
        expansion=1.0 / temp,
        density=1.177 / x,
    )


def altitude_factor(height: Value) -> Value:
    """Share of the sea-level convection coefficient that is left at altitude.

    Parameters
    ----------
    height : float or array
        Above sea level, up to 11 km. [m]

    Returns
    -------
    factor : float or array
        Root of the pressure ratio, for laminar natural convection. Typical, unverified. [-]

    References
    ----------
    .. [1] Pressure of the ICAO standard atmosphere.

    Examples
    --------
    >>> print(f"{altitude_factor(2000.0):.2f}")
    0.89
    """
    return np.power(1.0 - 2.25577e-5 * height, 0.5 * 5.25588)


def _rayleigh(temp: Value, temp_air: Value, length: Value) -> tuple[Any, Any, Any]:
    film = air(0.5 * (temp + temp_air))
    buoyancy = GRAVITY * film.expansion * np.abs(temp - temp_air) * length**3
    return (
        buoyancy / (film.viscosity * film.diffusivity),
        film.viscosity / film.diffusivity,
        film.conductivity / length,
    )


def vertical_plate(temp: Value, temp_air: Value, height: Value) -> Value:
    """Convection coefficient of a vertical surface in still air.

    Parameters
    ----------
    temp, temp_air : float or array
        Of surface and air. [K]
    height : float or array
        Of the surface. [m]

    Returns
    -------
    h : float or array
        Mean over the surface; conduction alone is left at equal temperatures. [W/(m^2 K)]

    References
    ----------
    .. [1] S. W. Churchill, H. H. S. Chu, International Journal of Heat and Mass Transfer 18 (1975) 1323.

    Examples
    --------
    >>> print(f"{vertical_plate(318.15, 298.15, 0.1):.2f} W/(m^2 K)")
    5.10 W/(m^2 K)
    """
    ra, pr, k_over_l = _rayleigh(temp, temp_air, height)
    spread = np.power(1.0 + np.power(0.492 / pr, 9 / 16), 8 / 27)
    return k_over_l * np.square(0.825 + 0.387 * np.power(ra, 1 / 6) / spread)


def vertical_plate_laminar(temp: Value, temp_air: Value, height: Value) -> Value:
    """Convection coefficient of a vertical surface by the short formula for laminar flow.

    Parameters
    ----------
    temp, temp_air : float or array
        Of surface and air. [K]
    height : float or array
        Of the surface, 0.03 to 0.3 m. [m]

    Returns
    -------
    h : float or array
        Within 8 % of `vertical_plate` for rises of 10 to 40 K; for faces of boxes. [W/(m^2 K)]

    References
    ----------
    .. [1] Laminar simplification in handbooks, compared with `vertical_plate` here.

    Examples
    --------
    >>> print(f"{vertical_plate_laminar(318.15, 298.15, 0.1):.2f} W/(m^2 K)")
    5.34 W/(m^2 K)
    """
    return 1.42 * np.power(np.abs(temp - temp_air) / height, 0.25)


def horizontal_cylinder(temp: Value, temp_air: Value, diameter: Value) -> Value:
    """Convection coefficient around a horizontal cylinder, such as a wire or a cell, in still air.

    Parameters
    ----------
    temp, temp_air : float or array
        Of surface and air. [K]
    diameter : float or array
        Of the cylinder. [m]

    Returns
    -------
    h : float or array
        Mean over the surface. [W/(m^2 K)]

    References
    ----------
    .. [1] Churchill and Chu for cylinders, as recalled from Incropera and DeWitt: typical, unverified.

    Examples
    --------
    >>> print(f"{horizontal_cylinder(318.15, 298.15, 1.5e-3):.1f} W/(m^2 K)")
    19.0 W/(m^2 K)
    """
    ra, pr, k_over_l = _rayleigh(temp, temp_air, diameter)
    spread = np.power(1.0 + np.power(0.559 / pr, 9 / 16), 8 / 27)
    return k_over_l * np.square(0.60 + 0.387 * np.power(ra, 1 / 6) / spread)


def horizontal_plate(temp: Value, temp_air: Value, length: Value, facing: str = "up") -> Value:
    """Convection coefficient of the warm top or bottom of a box in still air.

    Parameters
    ----------
    temp, temp_air : float or array
        Of surface and air. [K]
    length : float or array
        Area over perimeter. [m]
    facing : str
        ``"up"`` or ``"down"``. [-]

    Returns
    -------
    h : float or array
        Mean over the surface. [W/(m^2 K)]

    Notes
    -----
    Up: ``0.54 Ra^(1/4)``, above 1e7 ``0.15 Ra^(1/3)``; down: half of the former. For boxes Ra is 1e4 to 1e7.

    References
    ----------
    .. [1] Incropera and DeWitt, as recalled: typical, unverified.

    Examples
    --------
    >>> print(f"{horizontal_plate(318.15, 298.15, 0.03):.1f} W/(m^2 K)")
    7.0 W/(m^2 K)
    """
    ra, _, k_over_l = _rayleigh(temp, temp_air, length)
    laminar = (0.54 if facing == "up" else 0.27) * np.power(ra, 0.25)
    turbulent = 0.15 * np.cbrt(ra) if facing == "up" else laminar
    return k_over_l * np.where(ra <= 1e7, laminar, turbulent)[()]


def radiation_coefficient(temp: Value, temp_room: Value, emissivity: Value = 0.9) -> Value:
    """Heat transfer coefficient of radiation to a room at air temperature.

    Parameters
    ----------
    temp, temp_room : float or array
        Of surface and surroundings. [K]
    emissivity : float or array
        0.85 to 0.95 for plastic and paint, 0.05 to 0.15 for bare aluminium (typical, unverified). [-]

    Returns
    -------
    h : float or array
        Often more than convection takes. [W/(m^2 K)]

    References
    ----------
    .. [1] Law of Stefan and Boltzmann between a small body and large surroundings.

    Examples
    --------
    >>> print(f"{radiation_coefficient(333.15, 298.15, 1.0):.2f} W/(m^2 K)")
    7.16 W/(m^2 K)
    """
    return emissivity * STEFAN_BOLTZMANN * (temp**2 + temp_room**2) * (temp + temp_room)


def node_temperature(
    t: Value, p: Value, theta: Value, heat_capacity: Value, temp_air: Value, temp_0: Value
) -> Value:
    """Temperature of one part with one path to the air, after its power has changed.

    Parameters
    ----------
    t : float or array
        Since the change. [s]
    p : float or array
        Power lost in it from then on. [W]
    theta : float or array
        To the air, above zero. [K/W]
    heat_capacity : float or array
        Of the part, above zero. [J/K]
    temp_air, temp_0 : float or array
        Of the air, and of the part at the change. [K]

    Returns
    -------
    temp : float or array
        Tends to ``temp_air + p theta`` with the time constant ``theta heat_capacity``. [K]

    References
    ----------
    .. [1] First-order heat balance.

    Examples
    --------
    A cell of 46 J/K with 24 K/W to the air, 0.5 W in it, after a quarter of an hour:

    >>> print(f"{node_temperature(900.0, 0.5, 24.0, 46.0, 298.15, 298.15) - 298.15:.1f} K")
    6.7 K
    """
    end = temp_air + p * theta
    return end + (temp_0 - end) * np.exp(-t / (theta * heat_capacity))
