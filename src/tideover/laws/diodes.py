"""Junction, Schottky and light-emitting diodes: fit, temperature, forward current, leakage."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import wrightomega

from .constants import TEMP_25, Value, thermal_voltage

STEEPEST = 40.0
"""Exponent beyond which a junction without series resistance is continued as a straight line. [-]"""


class Gap(NamedTuple):
    """How the saturation current of a material follows temperature.

    Attributes
    ----------
    e_gap : float
        Energy gap, as a voltage. [V]
    exponent : float
        Power of the temperature in front. [-]
    """

    e_gap: float
    exponent: float


SILICON = Gap(1.11, 3.0)
SCHOTTKY = Gap(0.69, 2.0)

LEAKAGE_DOUBLING = {"silicon": 10.0, "schottky": 11.0}
"""Warming that doubles the reverse current. [K] Typical, unverified."""


class Junction(NamedTuple):
    """Forward curve of a diode at one temperature.

    Attributes
    ----------
    i_s : float
        Saturation current; a fitted figure that does not predict leakage. [A]
    n : float
        Ideality, 1 to 2.5; up to 5 in fits of light-emitting diodes. [-]
    r_s : float
        Series resistance. [ohm]
    """

    i_s: float
    n: float
    r_s: float


def fit_two_points(v: tuple[float, float], i: tuple[float, float], temp: float = TEMP_25) -> Junction:
    """Fit a forward curve through two data-sheet points, without series resistance.

    Parameters
    ----------
    v, i : tuple of 2 float
        Voltages [V] and currents of the points, ascending. [A]
    temp : float
        Junction temperature of the points. [K]

    Returns
    -------
    fit : Junction
        Meets the first point exactly, the other to ``n V_T i_s`` over the first current. [A, -, ohm]

    Raises
    ------
    ValueError
        When the points do not ascend.

    References
    ----------
    .. [1] Shockley's diode law with ideality n.

    Examples
    --------
    >>> print(f"{fit_two_points((0.28, 0.38), (0.1, 1.0)).n:.3f}")
    1.690
    """
    _ascending(v, i)
    a = (v[1] - v[0]) / float(np.log(i[1] / i[0]))
    return Junction(i[0] / float(np.expm1(v[0] / a)), a / thermal_voltage(temp), 0.0)


def fit_three_points(
    v: tuple[float, float, float], i: tuple[float, float, float], temp: float = TEMP_25
) -> Junction:
    """Fit a forward curve with series resistance through three data-sheet points.

    Parameters
    ----------
    v, i : tuple of 3 float
        Voltages [V] and currents of the points, ascending, the last current well above the first. [A]
    temp : float
        Junction temperature of the points. [K]

    Returns
    -------
    fit : Junction
        Where the points would need a negative resistance they are not of one curve; then the outer two alone
        are fitted and `r_s` is zero. [A, -, ohm]

    Raises
    ------
    ValueError
        When the points do not ascend.

    Notes
    -----
    Differences of ``v = a ln(i / i_s) + i r_s`` are linear in `a` and `r_s`. Fit the typical curve: greatest
    values of a data sheet do not belong to one part.

    References
    ----------
    .. [1] Shockley's diode law with ideality and series resistance.

    Examples
    --------
    >>> fit = fit_three_points((0.28, 0.38, 0.46), (0.1, 1.0, 3.0))
    >>> print(f"{fit.i_s:.3e} A, {fit.n:.3f}, {fit.r_s * 1e3:.2f} mohm")
    3.888e-05 A, 1.378, 20.56 mohm
    """
    _ascending(v, i)
    a, r_s = np.linalg.solve(np.column_stack([np.diff(np.log(i)), np.diff(i)]), np.diff(v))
    if r_s < 0.0 or a <= 0.0:
        return fit_two_points((v[0], v[2]), (i[0], i[2]), temp)
    i_s = i[0] / np.expm1((v[0] - i[0] * r_s) / a)
    return Junction(float(i_s), float(a / thermal_voltage(temp)), float(r_s))


def _ascending(v: tuple[float, ...], i: tuple[float, ...]) -> None:
    for name, row in (("voltages", v), ("currents", i)):
        if not (row[0] > 0.0 and np.all(np.diff(row) > 0.0)):
            raise ValueError(f"The {name} of a diode's points must be above zero and ascend; they are {row}.")


def saturation_current(
    i_s: Value, n: Value, temp: Value, e_gap: Value, exponent: Value, temp_ref: Value = TEMP_25
) -> Value:
    """Saturation current of a fitted diode at another temperature.

    Parameters
    ----------
    i_s : float or array
        Saturation current at `temp_ref`. [A]
    n : float or array
        Fitted ideality. [-]
    temp, temp_ref : float or array
        Junction temperature, and that of the fit. [K]
    e_gap : float or array
        Energy gap, see `SILICON` and `SCHOTTKY`. [V]
    exponent : float or array
        Power of the temperature. [-]

    Returns
    -------
    i_s : float or array
        Saturation current at `temp`. [A]

    Notes
    -----
    ``i_s (T/T0)^(x/n) exp(E_g / (n V_T) (T/T0 - 1))``. Both exponents carry 1/n because n was fitted: without
    it the forward voltage of a Schottky would fall by 2 to 6 mV/K instead of about 1.3.

    References
    ----------
    .. [1] Temperature law of the common circuit diode model; gaps as recalled, typical, unverified.

    Examples
    --------
    >>> hot = saturation_current(3.888e-5, 1.378, 348.15, *SCHOTTKY)
    >>> print(f"{forward_voltage(1.0, hot, 1.378, 0.02056, 348.15):.4f} V")
    0.3154 V
    """
    ratio = temp / temp_ref
    return i_s * np.exp((exponent * np.log(ratio) + e_gap / thermal_voltage(temp) * (ratio - 1.0)) / n)


def forward_current(v: Value, i_s: Value, n: Value, r_s: Value, temp: Value) -> Value:
    """Current of a junction with series resistance at any voltage, without iteration.

    Parameters
    ----------
    v : float or array
        Across junction and series resistance, anode positive. [V]
    i_s : float or array
        Saturation current at `temp`, above zero. [A]
    n : float or array
        Ideality. [-]
    r_s : float or array
        Series resistance, above zero; lead resistance may be put into it. [ohm]
    temp : float or array
        Junction temperature. [K]

    Returns
    -------
    i : float or array
        From anode to cathode; tends to ``-i_s`` in reverse, where `leakage_current` is to be added. [A]

    Notes
    -----
    Lambert's W in the form of the Wright omega function, which neither overflows nor cancels:
    ``i = (a / r_s) omega(ln(i_s r_s / a) + (v + i_s r_s) / a) - i_s`` with ``a = n V_T`` [1]_.

    References
    ----------
    .. [1] T. C. Banwell, A. Jayakumar, Exact analytical solution for current flow through diode with series
       resistance, Electronics Letters 36 (2000) 291.

    See Also
    --------
    junction_current : the same without series resistance.

    Examples
    --------
    >>> print(f"{forward_current(0.46, 3.888e-5, 1.378, 0.02056, 298.15):.2f} A")
    3.00 A
    """
    a = n * thermal_voltage(temp)
    return a / r_s * wrightomega(np.log(i_s * r_s / a) + (v + i_s * r_s) / a) - i_s


def junction_current(v: Value, i_s: Value, n: Value, temp: Value) -> Value:
    """Current of a junction without series resistance.

    Parameters
    ----------
    v : float or array
        Across the junction, anode positive. [V]
    i_s : float or array
        Saturation current at `temp`. [A]
    n : float or array
        Ideality. [-]
    temp : float or array
        Junction temperature. [K]

    Returns
    -------
    i : float or array
        From anode to cathode; beyond 40 n V_T it goes on along the tangent, so it cannot overflow. [A]

    References
    ----------
    .. [1] Shockley's diode law with ideality n.

    Examples
    --------
    >>> print(f"{junction_current(0.38, 2.3e-4, 1.765, 298.15):.1f} A")
    1.0 A
    """
    x = v / (n * thermal_voltage(temp))
    return i_s * (np.exp(np.minimum(x, STEEPEST)) * (1.0 + np.maximum(x - STEEPEST, 0.0)) - 1.0)


def forward_voltage(i: Value, i_s: Value, n: Value, r_s: Value, temp: Value) -> Value:
    """Voltage of a diode that carries a forward current: the inverse of `forward_current`.

    Parameters
    ----------
    i : float or array
        From anode to cathode, above ``-i_s``. [A]
    i_s : float or array
        Saturation current at `temp`. [A]
    n : float or array
        Ideality. [-]
    r_s : float or array
        Series resistance; zero is allowed. [ohm]
    temp : float or array
        Junction temperature. [K]

    Returns
    -------
    v : float or array
        Across junction and series resistance. [V]

    References
    ----------
    .. [1] Shockley's diode law with ideality and series resistance.

    Examples
    --------
    >>> print(f"{forward_voltage(1.0, 3.888e-5, 1.378, 0.02056, 298.15):.4f} V")
    0.3801 V
    """
    return n * thermal_voltage(temp) * np.log(1.0 + i / i_s) + i * r_s


def leakage_current(
    v_reverse: Value, i_rated: Value, v_rated: Value, temp: Value, doubling: Value = 10.0, power: Value = 1.0
) -> Value:
    """Reverse current of a diode, which back-feeds dead adapters and drains packs when it is hot.

    Parameters
    ----------
    v_reverse : float or array
        Reverse voltage; forward voltage counts as none. [V]
    i_rated : float or array
        Leakage at `v_rated` and 25 degrees C. [A]
    v_rated : float or array
        Rated reverse voltage. [V]
    temp : float or array
        Junction temperature. [K]
    doubling : float or array
        Warming that doubles it, see `LEAKAGE_DOUBLING`. [K]
    power : float or array
        Of the voltage, 0.5 to 1.5. [-]

    Returns
    -------
    i : float or array
        From cathode to anode. [A]

    Notes
    -----
    ``i_rated (v / v_rated)^power 2^((T - 25 C) / doubling)``; a picovolt is added to the voltage so that the
    power can be taken by logarithm at zero.

    References
    ----------
    .. [1] Rule of thumb on data-sheet curves: typical, unverified.

    Examples
    --------
    A 3 A Schottky at its rated 40 V and 85 degrees C:

    >>> print(f"{leakage_current(40.0, 0.3e-3, 40.0, 358.15, doubling=11.0) * 1e3:.0f} mA")
    13 mA
    """
    volts = np.maximum(v_reverse, 0.0) + 1e-12
    warmth = np.log(2.0) * (temp - TEMP_25) / doubling
    return i_rated * np.exp(power * np.log(volts / v_rated) + warmth)


def leakage_runaway(v_reverse: Value, i_leak: Value, theta: Value, doubling: Value = 10.0) -> Value:
    """How near the heat of its own leakage brings a diode to thermal runaway.

    Parameters
    ----------
    v_reverse : float or array
        Reverse voltage. [V]
    i_leak : float or array
        Leakage at that voltage and at the junction's temperature. [A]
    theta : float or array
        Thermal resistance from junction to air, as installed. [K/W]
    doubling : float or array
        Warming that doubles the leakage. [K]

    Returns
    -------
    gain : float or array
        Below 1 the junction settles; from 1 on it runs away. [-]

    Notes
    -----
    Voltage times the growth of leakage with temperature times the thermal resistance.

    References
    ----------
    .. [1] Small-signal stability of one thermal node; doubling typical, unverified.

    Examples
    --------
    >>> print(f"{leakage_runaway(40.0, 13e-3, 50.0, 11.0):.2f}")
    1.64
    """
    return v_reverse * i_leak * np.log(2.0) / doubling * theta
