"""Boost, buck, inverting and linear converters, averaged over a switching cycle.

What they lose is in `losses`; what they do to their source is in `stability`.
"""

from __future__ import annotations

import numpy as np

from .constants import Value


def boost_duty(v_in: Value, v_out: Value, i_inductor: Value = 0.0, r: Value = 0.0, v_d: Value = 0.0) -> Value:
    """Duty of a boost converter, with the drops of winding and rectifier.

    Parameters
    ----------
    v_in, v_out : float or array
        Input and output voltage. [V]
    i_inductor : float or array
        Mean inductor current, which is the input current. [A]
    r : float or array
        Winding and switch resistance. [ohm]
    v_d : float or array
        Rectifier drop. [V]

    Returns
    -------
    duty : float or array
        Share of the cycle with the switch closed; below zero the input passes straight through. [-]

    References
    ----------
    .. [1] Erickson and Maksimovic, Fundamentals of Power Electronics: volt-second balance.

    Examples
    --------
    >>> print(f"{boost_duty(3.0, 5.0, v_d=0.4):.3f}")
    0.444
    """
    return 1.0 - (v_in - i_inductor * r) / (v_out + v_d)


def buck_duty(v_in: Value, v_out: Value) -> Value:
    """Duty of an ideal buck converter, whose inductor carries the output current.

    Parameters
    ----------
    v_in, v_out : float or array
        Input and output voltage. [V]

    Returns
    -------
    duty : float or array
        Above 1 it is out of headroom. [-]

    References
    ----------
    .. [1] Erickson and Maksimovic, Fundamentals of Power Electronics.

    Examples
    --------
    >>> print(f"{buck_duty(12.0, 5.0):.3f}")
    0.417
    """
    return v_out / v_in


def inverting_duty(v_in: Value, v_out: Value) -> Value:
    """Duty of an ideal inverting buck-boost converter.

    Parameters
    ----------
    v_in, v_out : float or array
        Magnitudes of input and output voltage. [V]

    Returns
    -------
    duty : float or array
        The inductor carries the output current over one minus the duty. [-]

    References
    ----------
    .. [1] Erickson and Maksimovic, Fundamentals of Power Electronics.

    Examples
    --------
    >>> print(f"{inverting_duty(12.0, 5.0):.3f}")
    0.294
    """
    return v_out / (v_in + v_out)


def ripple_current(v_on: Value, duty: Value, inductance: Value, frequency: Value) -> Value:
    """Peak-to-peak ripple of the inductor current.

    Parameters
    ----------
    v_on : float or array
        Across the inductor while the switch is closed: input (boost), input less output (buck). [V]
    duty : float or array
        Share of the cycle with the switch closed. [-]
    inductance : float or array
        At the working current. [H]
    frequency : float or array
        Of switching. [Hz]

    Returns
    -------
    ripple : float or array
        Peak to peak; the square of the effective current grows by a twelfth of its square. [A]

    References
    ----------
    .. [1] Erickson and Maksimovic, Fundamentals of Power Electronics.

    Examples
    --------
    >>> print(f"{ripple_current(3.0, 0.4444, 4.7e-6, 500e3):.3f} A")
    0.567 A
    """
    return v_on * duty / (inductance * frequency)


def boost_output_limit(
    v_in: Value, v_out: Value, i_peak: Value, inductance: Value, frequency: Value, v_d: Value = 0.0
) -> Value:
    """Greatest output current of a boost converter whose switch is limited by its peak current.

    Parameters
    ----------
    v_in, v_out : float or array
        Input and output voltage. [V]
    i_peak : float or array
        Peak limit of the switch: the figure in a module's name is often this one. [A]
    inductance : float or array
        At the peak current. [H]
    frequency : float or array
        Of switching. [Hz]
    v_d : float or array
        Rectifier drop. [V]

    Returns
    -------
    i_out : float or array
        Before other losses take their share. [A]

    Notes
    -----
    ``(i_peak - ripple / 2) (1 - duty)``. Beyond it the output falls until power balances, but never below the
    input less a diode: a boost has no limit of its own once the output is below the input.

    References
    ----------
    .. [1] Erickson and Maksimovic, Fundamentals of Power Electronics: averaged boost converter.

    Examples
    --------
    >>> print(f"{boost_output_limit(3.0, 5.0, 4.0, 4.7e-6, 500e3, 0.4):.2f} A")
    2.06 A
    """
    duty = boost_duty(v_in, v_out, v_d=v_d)
    return (i_peak - 0.5 * ripple_current(v_in, duty, inductance, frequency)) * (1.0 - duty)


def linear_output(v_in: Value, v_set: Value, i_out: Value, v_dropout: Value, r_dropout: Value = 0.0) -> Value:
    """Output voltage of a linear regulator, in regulation or out of headroom.

    Parameters
    ----------
    v_in, v_set : float or array
        Input voltage, and the set output voltage. [V]
    i_out : float or array
        Output current. [A]
    v_dropout : float or array
        Least difference without load. [V]
    r_dropout : float or array
        Growth of the dropout with current. [ohm]

    Returns
    -------
    v_out : float or array
        The lesser of the set voltage and what is left of the input, not below zero. [V]

    References
    ----------
    .. [1] Data-sheet form of the dropout voltage.

    Examples
    --------
    >>> print(f"{linear_output(3.4, 3.3, 0.5, 0.05, 0.4):.2f} V")
    3.15 V
    """
    return np.maximum(np.minimum(v_set, v_in - v_dropout - r_dropout * i_out), 0.0)


def linear_loss(v_in: Value, v_out: Value, i_out: Value, i_q: Value) -> Value:
    """Power lost in a linear regulator, whose input current is the output current and a little more.

    Parameters
    ----------
    v_in, v_out : float or array
        Input and output voltage. [V]
    i_out, i_q : float or array
        Output and quiescent current. [A]

    Returns
    -------
    p_loss : float or array
        All of it heat in the regulator. [W]

    References
    ----------
    .. [1] Power balance.

    Examples
    --------
    >>> print(f"{linear_loss(12.0, 5.0, 0.5, 5e-3):.2f} W")
    3.56 W
    """
    return (v_in - v_out) * i_out + v_in * i_q
