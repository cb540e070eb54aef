"""What a regulated converter does to its source: the collapse limit, input oscillation, and load-step droop.

A regulated converter takes constant power: the lower its input, the more current it draws.
"""

from __future__ import annotations

import numpy as np

from .constants import Value


def standing_voltage(v_source: Value, p: Value, r: Value) -> Value:
    """Voltage at a constant-power load behind a resistance.

    Parameters
    ----------
    v_source : float or array
        Of the source without load. [V]
    p : float or array
        Load power. [W]
    r : float or array
        Everything ahead of the load. [ohm]

    Returns
    -------
    v : float or array
        The upper, stable solution; NaN where there is none. [V]

    References
    ----------
    .. [1] Quadratic of the power balance ``v (v_source - v) / r = p``.

    See Also
    --------
    load_factor : distance to the limit.

    Examples
    --------
    >>> print(f"{standing_voltage(12.0, 46.08, 0.5):.2f} V")
    9.60 V
    """
    room = np.asarray(np.square(v_source) - 4.0 * p * r, dtype=float)
    return np.where(room >= 0.0, 0.5 * (v_source + np.sqrt(np.maximum(room, 0.0))), np.nan)[()]


def power_limit(v_source: Value, r: Value) -> Value:
    """Greatest power a resistive source can deliver, at half its voltage.

    Parameters
    ----------
    v_source : float or array
        Of the source without load. [V]
    r : float or array
        Everything ahead of the load, above zero. [ohm]

    Returns
    -------
    p : float or array
        Past it no standing point exists. [W]

    References
    ----------
    .. [1] Double root of the quadratic in `standing_voltage`.

    Examples
    --------
    >>> print(f"{power_limit(12.0, 0.5):.0f} W")
    72 W
    """
    return 0.25 * np.square(v_source) / r


def load_factor(v_source: Value, p: Value, r: Value) -> Value:
    """How many times the load could grow before its source collapses.

    Parameters
    ----------
    v_source : float or array
        Of the source without load. [V]
    p : float or array
        Load power. [W]
    r : float or array
        Everything ahead of the load. [ohm]

    Returns
    -------
    factor : float or array
        Below 1 there is no standing point; below 1.5 is tight, since cells age (engineering judgement).
        Infinite without load or without resistance. [-]

    References
    ----------
    .. [1] `power_limit` over the load.

    Examples
    --------
    >>> print(f"{load_factor(12.0, 24.0, 0.5):.1f}")
    3.0
    """
    with np.errstate(divide="ignore"):
        return np.divide(0.25 * np.square(v_source), p * r)


def lockout_power(v_source: Value, v_off: Value, r: Value) -> Value:
    """Power at which the input of a converter falls to its under-voltage lockout.

    Parameters
    ----------
    v_source : float or array
        Of the source without load. [V]
    v_off : float or array
        Lockout threshold. [V]
    r : float or array
        Everything ahead of the converter, above zero. [ohm]

    Returns
    -------
    p : float or array
        Usually met before the collapse: the collapse limit itself when `v_off` is below half the source. [W]

    References
    ----------
    .. [1] Power balance at the threshold.

    Examples
    --------
    >>> print(f"{lockout_power(3.6, 2.7, 0.15):.1f} W")
    16.2 W
    """
    v = np.maximum(v_off, 0.5 * v_source)
    return np.maximum(v * (v_source - v), 0.0) / r


def input_resistance(v_in: Value, p: Value) -> Value:
    """Small-signal input resistance of a regulated converter: negative.

    Parameters
    ----------
    v_in : float or array
        Input voltage. [V]
    p : float or array
        Input power, above zero. [W]

    Returns
    -------
    r : float or array
        Below the control bandwidth. [ohm]

    References
    ----------
    .. [1] R. D. Middlebrook, Input filter considerations in design and application of switching regulators,
       IEEE IAS Annual Meeting, 1976.

    Examples
    --------
    >>> print(f"{input_resistance(9.0, 20.0):.2f} ohm")
    -4.05 ohm
    """
    return -np.square(v_in) / p


def least_input_capacitance(inductance: Value, r: Value, v_in: Value, p: Value, esr: Value = 0.0) -> Value:
    """Smallest capacitance that keeps a converter from oscillating with the lead that feeds it.

    Parameters
    ----------
    inductance : float or array
        Of source and lead, about 1 microhenry per metre of pair. [H]
    r : float or array
        Of source and lead. [ohm]
    v_in : float or array
        At the converter's input. [V]
    p : float or array
        Input power. [W]
    esr : float or array
        Of the input capacitor. [ohm]

    Returns
    -------
    c : float or array
        Twice as much is a fair margin; infinite where `r` reaches the converter's own resistance and no
        standing point is stable. [F]

    Notes
    -----
    Characteristic of `r`, `inductance` and capacitor loaded by ``-rho``, ``rho = v^2 / p``:
    ``s^2 L C (1 - esr/rho) + s (C (r + esr - r esr / rho) - L / rho) + 1 - r / rho``; every coefficient
    must be above zero. Without series resistance that is ``C > L p / (r v^2)``.

    References
    ----------
    .. [1] R. D. Middlebrook, IEEE IAS Annual Meeting, 1976; Routh's criterion for second order.

    Examples
    --------
    Two metres of thin pair to a 20 W converter at 9 V:

    >>> print(f"{least_input_capacitance(2e-6, 0.2, 9.0, 20.0) * 1e6:.1f} uF")
    2.5 uF
    """
    rho = -input_resistance(v_in, p)
    damping = np.asarray(r + esr - r * esr / rho, dtype=float)
    possible = (damping > 0.0) & (r < rho) & (esr < rho)
    return np.where(possible, inductance / rho / np.where(possible, damping, 1.0), np.inf)[()]


def damping_branch(inductance: Value, c: Value) -> tuple[Value, Value]:
    """Capacitor with resistance that calms the resonance of a lead with an input capacitor.

    Parameters
    ----------
    inductance : float or array
        Of source and lead. [H]
    c : float or array
        Input capacitance present. [F]

    Returns
    -------
    c_damping, r_damping : float or array
        To be put across it: capacitance [F], and its series resistance. [ohm]

    References
    ----------
    .. [1] Four times the capacitance, resistance of the wave impedance: engineering judgement.

    Examples
    --------
    >>> c, r = damping_branch(2e-6, 10e-6)
    >>> print(f"{c * 1e6:.0f} uF, {r:.2f} ohm")
    40 uF, 0.45 ohm
    """
    return 4.0 * c, np.sqrt(inductance / c)


def load_step_droop(i_step: Value, esr: Value, bandwidth: Value, c: Value) -> Value:
    """First dip of a regulated output after a step of load current.

    Parameters
    ----------
    i_step : float or array
        Step. [A]
    esr : float or array
        Of the output capacitor. [ohm]
    bandwidth : float or array
        Crossover frequency of the control loop, at most a tenth of the switching frequency. [Hz]
    c : float or array
        Output capacitance. [F]

    Returns
    -------
    droop : float or array
        Gone after a few times ``1 / (2 pi bandwidth)``. [V]

    References
    ----------
    .. [1] Output impedance at crossover, Erickson and Maksimovic; within a factor of about 1.5.

    Examples
    --------
    >>> print(f"{load_step_droop(1.0, 5e-3, 5e3, 44e-6):.2f} V")
    0.72 V
    """
    return i_step * np.maximum(esr, 1.0 / (2.0 * np.pi * bandwidth * c))


def boost_zero(r_load: Value, duty: Value, inductance: Value) -> Value:
    """Frequency of the right half-plane zero of a boost converter; its control must stay a fifth below.

    Parameters
    ----------
    r_load : float or array
        Output voltage over output current. [ohm]
    duty : float or array
        Share of the cycle with the switch closed. [-]
    inductance : float or array
        Of the inductor. [H]

    Returns
    -------
    frequency : float or array
        Of the zero. [Hz]

    References
    ----------
    .. [1] Erickson and Maksimovic, Fundamentals of Power Electronics: boost control to output.

    Examples
    --------
    >>> print(f"{boost_zero(12.0, 0.7, 10e-6) / 1e3:.0f} kHz")
    17 kHz
    """
    return r_load * np.square(1.0 - duty) / (2.0 * np.pi * inductance)
