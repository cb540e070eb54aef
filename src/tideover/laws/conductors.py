"""Resistance of wires, two-core leads, strips and board tracks.

How much current they may carry is in `ampacity`; the joints between them are in `contacts`.
"""

from __future__ import annotations

import numpy as np

from .constants import COPPER, TEMP_20, Value

LAY_UP = 1.03
"""Extra length of the wires in a stranded conductor, 2 to 5 % (typical, unverified). [-]"""

SECTIONS = tuple(
    s * 1e-6 for s in (0.08, 0.14, 0.22, 0.25, 0.34, 0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0)
)
"""Nominal sections of the tables below. [m^2]"""

SMALLEST_STANDARD_SECTION = 0.5e-6
"""Below it the standard has no entry; the table goes on with the standard's effective resistivity. [m^2]"""


def _milli(*figures: float) -> tuple[float, ...]:
    return tuple(figure / 1000.0 for figure in figures)


IEC_60228 = {
    "solid": _milli(225, 129, 82, 72, 53, 36.0, 24.5, 18.1, 12.1, 7.41, 4.61, 3.08, 1.83, 1.15),
    "flexible": _milli(244, 139, 89, 78, 57, 39.0, 26.0, 19.5, 13.3, 7.98, 4.95, 3.30, 1.91, 1.21),
}
"""Greatest resistance at 20 degrees C of plain copper: class 1 and 2 ("solid"), class 5 ("flexible"). [ohm/m]

IEC 60228 tables 1 to 3 as reproduced by cable makers. Wire on the reel is typically 5 to 12 % better.
"""


def awg_diameter(gauge: Value) -> Value:
    """Diameter of a solid wire of the American gauge.

    Parameters
    ----------
    gauge : float or array
        Gauge number; 0, -1, -2, -3 stand for 1/0 to 4/0. [-]

    Returns
    -------
    diameter : float or array
        Bare conductor. [m]

    Notes
    -----
    ``0.127 mm * 92**((36 - gauge) / 39)`` [1]_: a geometric row between two fixed diameters.

    References
    ----------
    .. [1] ASTM B258, relation of gauge number and diameter.

    Examples
    --------
    >>> print(f"{awg_diameter(22) * 1e3:.4f} mm")
    0.6438 mm
    """
    return 0.127e-3 * 92.0 ** ((36.0 - gauge) / 39.0)


def awg_area(gauge: Value) -> Value:
    """Section of a solid wire of the American gauge.

    Parameters
    ----------
    gauge : float or array
        Gauge number, as in `awg_diameter`. [-]

    Returns
    -------
    area : float or array
        Conductor cross-section. [m^2]

    References
    ----------
    .. [1] ASTM B258.

    Examples
    --------
    >>> print(f"{awg_area(22) * 1e6:.4f} mm^2")
    0.3255 mm^2
    """
    return 0.25 * np.pi * awg_diameter(gauge) ** 2


def awg_resistance(gauge: Value, lay_up: Value = 1.0) -> Value:
    """Resistance per length of a copper wire of the American gauge, at 20 degrees C.

    Parameters
    ----------
    gauge : float or array
        Gauge number, as in `awg_diameter`. [-]
    lay_up : float or array
        Length of the strands over length of the wire; 1 for solid wire, about 1.03 for stranded. [-]

    Returns
    -------
    r_20 : float or array
        Of one conductor. [ohm/m]

    References
    ----------
    .. [1] IEC 60028, resistivity of annealed copper; ASTM B258, diameter.

    Examples
    --------
    >>> print(f"{awg_resistance(22) * 1e3:.2f} mohm/m")
    52.96 mohm/m
    """
    return lay_up * COPPER.rho / awg_area(gauge)


def iec_60228_resistance(area: float, build: str = "flexible") -> float:
    """Greatest resistance per length that the standard allows for a nominal metric section, at 20 degrees C.

    Parameters
    ----------
    area : float
        Nominal section, one of `SECTIONS`, met to 1 %. [m^2]
    build : str
        ``"flexible"`` (class 5) or ``"solid"`` (class 1 and 2). [-]

    Returns
    -------
    r_20 : float
        Limit for plain copper; tinned strands of 0.5 to 2.5 mm^2 may have about 2.6 % more. [ohm/m]

    Raises
    ------
    ValueError
        For a section or build that is not in the table, with the nearest choices.

    Notes
    -----
    Sections under 0.5 mm^2 are not in the standard; they are continued with 1.95e-8 to 2.00e-8 ohm m
    (flexible) and 1.80e-8 to 1.85e-8 ohm m (solid).

    References
    ----------
    .. [1] IEC 60228, tables 1 to 3, as reproduced publicly by cable makers.

    Examples
    --------
    >>> iec_60228_resistance(0.75e-6)
    0.026
    """
    if build not in IEC_60228:
        raise ValueError(f'Conductor build "{build}" is not known; choose one of: {", ".join(IEC_60228)}.')
    nearest = sorted(SECTIONS, key=lambda s: abs(s - area))
    if not abs(nearest[0] - area) <= 0.01 * nearest[0]:
        choices = ", ".join(f"{s * 1e6:g} mm²" for s in nearest[:3])
        raise ValueError(f"{area * 1e6:g} mm² is not a nominal section; the nearest are {choices}.")
    return IEC_60228[build][SECTIONS.index(nearest[0])]


def resistance_at(r_20: Value, temp: Value, alpha: Value = COPPER.alpha) -> Value:
    """Resistance of a metal conductor at its own temperature.

    Parameters
    ----------
    r_20 : float or array
        Resistance at 20 degrees C. [ohm]
    temp : float or array
        Conductor temperature. [K]
    alpha : float or array
        Temperature coefficient referred to 20 degrees C; copper by default. [1/K]

    Returns
    -------
    r : float or array
        Resistance; per metre if `r_20` is. [ohm]

    Notes
    -----
    Linear law, good to about 1 % for copper from -50 to 150 degrees C. Coils of relays follow it too.

    References
    ----------
    .. [1] IEC 60028 (copper); coefficient 0.00393 /K is textbook-universal: typical, unverified.

    Examples
    --------
    >>> print(f"{resistance_at(1.0, 333.15):.3f} ohm")
    1.157 ohm
    """
    return r_20 * (1.0 + alpha * (temp - TEMP_20))


def pair_resistance(
    length: Value,
    r_out: Value,
    r_back: Value,
    temp: Value = TEMP_20,
    r_contacts: Value = 0.0,
    alpha: Value = COPPER.alpha,
) -> Value:
    """Resistance of a whole two-core lead: out, back, and every contact in both poles.

    Parameters
    ----------
    length : float or array
        Of the lead; one metre of lead is two metres of conductor. [m]
    r_out, r_back : float or array
        Per length of each conductor at 20 degrees C. [ohm/m]
    temp : float or array
        Conductor temperature. [K]
    r_contacts : float or array
        Sum of the contact resistances in both poles, taken as independent of temperature. [ohm]
    alpha : float or array
        Temperature coefficient referred to 20 degrees C. [1/K]

    Returns
    -------
    r : float or array
        Around the loop. [ohm]

    References
    ----------
    .. [1] Ohm's law; IEC 60028 for copper.

    Examples
    --------
    A metre of 24 AWG pair at 3 A, plugs left out:

    >>> r = awg_resistance(24, LAY_UP)
    >>> print(f"{3.0 * pair_resistance(1.0, r, r):.2f} V")
    0.52 V
    """
    return resistance_at(length * (r_out + r_back), temp, alpha) + r_contacts


def bar_resistance(length: Value, width: Value, thickness: Value, rho: Value = COPPER.rho) -> Value:
    """Resistance of a strip or a board track carrying current along its length.

    Parameters
    ----------
    length, width, thickness : float or array
        Dimensions; a 1 oz board track is 35e-6 m thick. [m]
    rho : float or array
        Resistivity at the temperature wanted; copper at 20 degrees C by default. [ohm m]

    Returns
    -------
    r : float or array
        End to end. [ohm]

    Notes
    -----
    Current is taken as uniform over the section: bends, necks and the spreading around a weld add to it.

    References
    ----------
    .. [1] Ohm's law. Resistivities of strip metals in `constants` are typical, unverified.

    Examples
    --------
    >>> print(f"{bar_resistance(20e-3, 8e-3, 0.15e-3, rho=6.99e-8) * 1e3:.3f} mohm")
    1.165 mohm
    """
    return rho * length / (width * thickness)


def self_heating_rise(
    i: Value, r_20: Value, perimeter: Value, h: Value, temp_air: Value, alpha: Value = COPPER.alpha
) -> Value:
    """Temperature rise of a conductor whose resistance grows as it warms; endless when it runs away.

    Parameters
    ----------
    i : float or array
        Current. [A]
    r_20 : float or array
        Per length at 20 degrees C. [ohm/m]
    perimeter : float or array
        Of the surface that gives off heat. [m]
    h : float or array
        Heat transfer coefficient of that surface, convection and radiation together. [W/(m^2 K)]
    temp_air : float or array
        Air around it. [K]
    alpha : float or array
        Temperature coefficient referred to 20 degrees C. [1/K]

    Returns
    -------
    rise : float or array
        Above the air; infinite where there is no thermal equilibrium. [K]

    Notes
    -----
    ``h p x = i^2 (r_air + alpha r_20 x)`` solved for `x`; no equilibrium once ``i^2 alpha r_20 >= h p``. The
    drop across insulation is neglected here; `ampacity.wire_current` has it.

    References
    ----------
    .. [1] Steady heat balance per length of conductor.

    Examples
    --------
    >>> print(f"{self_heating_rise(5.0, 0.053, 4.7e-3, 25.0, 298.15):.1f} K")
    12.0 K
    """
    gained = np.square(i) * resistance_at(r_20, temp_air, alpha)
    left = h * perimeter - np.square(i) * alpha * r_20
    return np.where(left > 0.0, gained / np.where(left > 0.0, left, 1.0), np.inf)[()]
