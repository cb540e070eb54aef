"""Capacitors: how long they hold a load up, how much is needed, what they draw, how they age."""

from __future__ import annotations

import numpy as np

from .constants import HOUR, Value


def hold_up_constant_current(c: Value, v_0: Value, v_min: Value, i: Value, esr: Value = 0.0) -> Value:
    """Time a capacitor keeps a constant-current load above its lowest voltage.

    Parameters
    ----------
    c : float or array
        Effective capacitance. [F]
    v_0 : float or array
        Voltage inside the capacitor at the start. [V]
    v_min : float or array
        Lowest voltage of the load. [V]
    i : float or array
        Load current. [A]
    esr : float or array
        Series resistance. [ohm]

    Returns
    -------
    t : float or array
        Zero if the first step takes the load below `v_min`; infinite without load. [s]

    References
    ----------
    .. [1] Charge balance of a capacitor with series resistance.

    Examples
    --------
    >>> print(f"{hold_up_constant_current(10e-3, 12.0, 9.0, 2.0, 0.05) * 1e3:.1f} ms")
    14.5 ms
    """
    with np.errstate(divide="ignore"):
        return np.divide(c * np.maximum(v_0 - i * esr - v_min, 0.0), i)


def terminal_voltage(v_inside: Value, p: Value, esr: Value) -> Value:
    """Voltage at the terminals of a capacitor that feeds a constant power.

    Parameters
    ----------
    v_inside : float or array
        Behind the series resistance. [V]
    p : float or array
        Load power. [W]
    esr : float or array
        Series resistance. [ohm]

    Returns
    -------
    v : float or array
        The upper, stable root; NaN where none exists, below ``2 sqrt(p esr)`` inside. [V]

    References
    ----------
    .. [1] Quadratic of a source with resistance and a constant-power load.

    Examples
    --------
    >>> print(f"{terminal_voltage(12.0, 20.0, 0.05):.4f} V")
    11.9161 V
    """
    room = np.asarray(np.square(v_inside) - 4.0 * p * esr, dtype=float)
    return np.where(room >= 0.0, 0.5 * (v_inside + np.sqrt(np.maximum(room, 0.0))), np.nan)[()]


def collapse_voltage(p: Value, esr: Value) -> Value:
    """Terminal voltage at which a constant-power load pulls its capacitor down for good.

    Parameters
    ----------
    p : float or array
        Load power. [W]
    esr : float or array
        Series resistance. [ohm]

    Returns
    -------
    v : float or array
        At the terminals; inside the capacitor it is twice as much. [V]

    References
    ----------
    .. [1] Double root of the quadratic in `terminal_voltage`.

    Examples
    --------
    >>> print(f"{collapse_voltage(10.0, 0.18):.2f} V")
    1.34 V
    """
    return np.sqrt(p * esr)


def hold_up_constant_power(c: Value, v_0: Value, v_min: Value, p: Value, esr: Value = 0.0) -> Value:
    """Time a capacitor keeps a constant-power load above its lowest voltage, exact with series resistance.

    Parameters
    ----------
    c : float or array
        Effective capacitance. [F]
    v_0 : float or array
        Voltage inside the capacitor at the start. [V]
    v_min : float or array
        Lowest voltage of the load; a higher collapse voltage takes its place. [V]
    p : float or array
        Load power. [W]
    esr : float or array
        Series resistance. [ohm]

    Returns
    -------
    t : float or array
        Zero if the load cannot even start; infinite without load. [s]

    Notes
    -----
    ``(c / p) ((v^2 - v_min^2) / 2 - p esr ln(v / v_min))`` with `v` from `terminal_voltage`. The usual energy
    formula leaves out the resistance twice: 4 % too long for a 10 mF electrolytic at 20 W, 38 % for a pair of
    5 F double-layer capacitors at 10 W.

    References
    ----------
    .. [1] Integration of ``c dv/dt`` along the stable root.

    See Also
    --------
    required_capacitance : the inverse.

    Examples
    --------
    >>> print(f"{hold_up_constant_power(10e-3, 12.0, 9.0, 20.0, 0.05) * 1e3:.3f} ms")
    15.108 ms
    """
    v = np.nan_to_num(terminal_voltage(v_0, p, esr), nan=0.0)
    floor = np.maximum(np.maximum(v_min, collapse_voltage(p, esr)), 1e-12)
    v = np.maximum(v, floor)
    with np.errstate(divide="ignore", invalid="ignore"):
        t = c * (0.5 * (np.square(v) - np.square(floor)) / p - esr * np.log(v / floor))
    return np.where(np.isnan(t), 0.0, t)[()]


def required_capacitance(
    t: Value, v_0: Value, v_min: Value, p: Value, esr: Value = 0.0, esr_c: Value = 0.0
) -> Value:
    """Smallest effective capacitance that holds a constant-power load up for a given time.

    Parameters
    ----------
    t : float or array
        Time to bridge. [s]
    v_0 : float or array
        Voltage inside the capacitor at the start. [V]
    v_min : float or array
        Lowest voltage of the load. [V]
    p : float or array
        Load power. [W]
    esr : float or array
        Resistance that does not depend on the size, such as leads. [ohm]
    esr_c : float or array
        Series resistance times capacitance, about constant within a series of parts. [s]

    Returns
    -------
    c : float or array
        Infinite where no size does: `v_min` is met at once, or the load collapses. [F]

    Notes
    -----
    The exact law of `hold_up_constant_power`, whose time grows with the size, solved by Brent's method
    between the energy formula, which is never too large, and a size found by doubling.

    References
    ----------
    .. [1] As `hold_up_constant_power`.

    Examples
    --------
    >>> print(f"{required_capacitance(15.108e-3, 12.0, 9.0, 20.0, 0.05) * 1e3:.2f} mF")
    10.00 mF
    """
    return np.vectorize(_required_capacitance, otypes=[float])(t, v_0, v_min, p, esr, esr_c)[()]


def _required_capacitance(t: float, v_0: float, v_min: float, p: float, esr: float, esr_c: float) -> float:
    from scipy.optimize import brentq

    def excess(c: float) -> float:
        return float(hold_up_constant_power(c, v_0, v_min, p, esr + esr_c / c)) - t

    if t <= 0.0 or p <= 0.0:
        return 0.0
    v_limit = float(terminal_voltage(v_0, p, esr))  # what an endless capacitor would show
    if not v_limit > max(v_min, float(collapse_voltage(p, esr))):
        return float("inf")
    low = high = 2.0 * p * t / (v_0**2 - v_min**2)
    while excess(high) <= 0.0:
        high *= 2.0
    return low if excess(low) >= 0.0 else float(brentq(excess, low, high, xtol=1e-12 * low, rtol=1e-12))


def charging_voltage(t: Value, v_0: Value, v_source: Value, r: Value, c: Value) -> Value:
    """Voltage of a capacitor that is charged or discharged through a resistance.

    Parameters
    ----------
    t : float or array
        Since it was joined. [s]
    v_0, v_source : float or array
        Of the capacitor at the start, and of the source. [V]
    r : float or array
        Whole resistance of the loop, above zero. [ohm]
    c : float or array
        Capacitance. [F]

    Returns
    -------
    v : float or array
        Inside the capacitor. [V]

    References
    ----------
    .. [1] Exponential of an R-C circuit.

    Examples
    --------
    >>> print(f"{charging_voltage(1e-3, 0.0, 12.0, 1.0, 1e-3):.2f} V")
    7.59 V
    """
    return v_source + (v_0 - v_source) * np.exp(-t / (r * c))


def inrush_current(v_step: Value, r: Value) -> Value:
    """Peak current when a capacitor is joined to a source of another voltage.

    Parameters
    ----------
    v_step : float or array
        Voltage difference. [V]
    r : float or array
        Whole resistance of the loop with the series resistance of the capacitor, above zero. [ohm]

    Returns
    -------
    i : float or array
        At the first instant; inductance is neglected, which makes it too high for short, fat leads. [A]

    References
    ----------
    .. [1] Ohm's law.

    Examples
    --------
    >>> print(f"{inrush_current(12.0, 0.15):.0f} A")
    80 A
    """
    return v_step / r


def inrush_i2t(v_step: Value, r: Value, c: Value) -> Value:
    """Integral of the squared current of an inrush: what fuses and contacts feel.

    Parameters
    ----------
    v_step : float or array
        Voltage difference. [V]
    r : float or array
        Whole resistance of the loop, above zero. [ohm]
    c : float or array
        Capacitance. [F]

    Returns
    -------
    i2t : float or array
        Peak current squared times half the time constant. [A^2 s]

    References
    ----------
    .. [1] Exponential of an R-C circuit, squared and integrated.

    Examples
    --------
    >>> print(f"{inrush_i2t(12.0, 0.15, 10e-3):.1f} A^2 s")
    4.8 A^2 s
    """
    return 0.5 * np.square(v_step) * c / r


def inrush_loss(v_step: Value, c: Value) -> Value:
    """Energy turned to heat by an inrush, whatever the resistance.

    Parameters
    ----------
    v_step : float or array
        Voltage difference. [V]
    c : float or array
        Capacitance. [F]

    Returns
    -------
    energy : float or array
        Lost in the loop. [J]

    References
    ----------
    .. [1] Energy balance of an R-C circuit.

    Examples
    --------
    >>> print(f"{inrush_loss(12.0, 10e-3):.2f} J")
    0.72 J
    """
    return 0.5 * c * np.square(v_step)


def effective_capacitance(
    c: Value, tolerance: Value = 0.2, bias: Value = 1.0, cold: Value = 1.0, end_of_life: Value = 1.0
) -> Value:
    """Capacitance left when everything that can take some away has done so.

    Parameters
    ----------
    c : float or array
        Nominal. [F]
    tolerance : float or array
        Initial shortfall, as a fraction. [-]
    bias, cold, end_of_life : float or array
        Share left at the working voltage, at the lowest temperature, and after ageing. [-]

    Returns
    -------
    c_effective : float or array
        To be used for hold-up. [F]

    References
    ----------
    .. [1] Electrolytic: end of life at 70 to 80 % by published capacitor notes; 0.8, 0.9 and 0.8 for
       tolerance, cold and age are typical, unverified.

    Examples
    --------
    >>> print(f"{effective_capacitance(10e-3, 0.2, cold=0.9, end_of_life=0.8) * 1e3:.2f} mF")
    5.76 mF
    """
    return c * (1.0 - tolerance) * bias * cold * end_of_life


def electrolytic_life(life: Value, temp_rated: Value, temp: Value, doubling: Value = 10.0) -> Value:
    """Life of an electrolytic capacitor at the temperature of its core.

    Parameters
    ----------
    life : float or array
        At `temp_rated`. [s]
    temp_rated, temp : float or array
        Rated, and at the core: air plus ripple heat; 40 to 105 degrees C. [K]
    doubling : float or array
        Cooling that doubles it: 10 K wet; polymer gains tenfold per 20 K, so 6.02 K (typical, unverified).
        [K]

    Returns
    -------
    life : float or array
        Until capacitance is down to 70 % or resistance doubled. [s]

    References
    ----------
    .. [1] Ten-kelvin rule and end of life as in published technical notes of capacitor makers.

    Examples
    --------
    >>> print(f"{electrolytic_life(2000 * 3600, 378.15, 338.15) / 3600:.0f} h")
    32000 h
    """
    return life * np.exp2((temp_rated - temp) / doubling)


def ceramic_ageing(t: Value, per_decade: Value = 0.03, t_ref: Value = HOUR) -> Value:
    """Share of its capacitance that a class 2 ceramic capacitor keeps as time passes.

    Parameters
    ----------
    t : float or array
        Since it was last above about 125 degrees C (soldering); at least `t_ref`. [s]
    per_decade : float or array
        Loss per tenfold time, 0.02 to 0.05. [-]
    t_ref : float or array
        When the nominal value is meant. [s]

    Returns
    -------
    share : float or array
        Of the nominal capacitance. [-]

    References
    ----------
    .. [1] Published notes on class 2 ageing: 2 to 3 % (X7R), 2.5 to 5 % (X5R) per decade-hour.

    Examples
    --------
    >>> print(f"{ceramic_ageing(10000 * 3600):.2f}")
    0.88
    """
    return 1.0 - per_decade * np.log10(t / t_ref)
