"""Losses of switching converters: five terms, their effect on the input current, and their calibration.

Each term has its own dependence on current and voltage, so that a few measured efficiencies can tell them
apart.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from .constants import Value


class LossTerms(NamedTuple):
    """What a switching converter loses its power to.

    Attributes
    ----------
    i_q : float
        Quiescent current, drawn at the input. [A]
    r_always : float
        Resistance that always carries the inductor current: winding, and a synchronous rectifier. [ohm]
    r_switch : float
        Switch resistance, less that of a synchronous rectifier. [ohm]
    v_rectifier : float
        Drop of a rectifier diode; 0 if synchronous. [V]
    edge : float
        Edge time times frequency: the share of time in which voltage and current overlap. [-]
    """

    i_q: Value
    r_always: Value
    r_switch: Value
    v_rectifier: Value
    edge: Value


def converter_loss(
    v_in: Value,
    i_inductor: Value,
    duty: Value,
    v_switched: Value,
    i_q: Value,
    r_always: Value,
    r_switch: Value,
    v_rectifier: Value,
    edge: Value,
) -> Value:
    """Power lost in a switching converter, out of five terms.

    Parameters
    ----------
    v_in : float or array
        Input voltage. [V]
    i_inductor : float or array
        Effective inductor current. [A]
    duty : float or array
        Share of the cycle with the switch closed. [-]
    v_switched : float or array
        Voltage the switch must swing: output (boost), input (buck), both (inverting). [V]
    i_q : float or array
        Quiescent current. [A]
    r_always, r_switch : float or array
        See `LossTerms`. [ohm]
    v_rectifier : float or array
        Drop of the rectifier. [V]
    edge : float or array
        Edge time times frequency. [-]

    Returns
    -------
    p_loss : float or array
        Linear in the five terms. [W]

    Notes
    -----
    ``v_in i_q + i^2 (r_always + duty r_switch) + (1 - duty) i v_rectifier + edge v_switched i``. Core loss
    and the charging of the switch's own capacitance are left to `i_q`. Pulse skipping at light load is not
    in it.

    References
    ----------
    .. [1] Erickson and Maksimovic, Fundamentals of Power Electronics; default terms typical, unverified, to
       about 25 % of the loss.

    Examples
    --------
    >>> print(f"{converter_loss(3.7, 3.0, 0.69, 12.0, 1e-3, 0.04, 0.07, 0.45, 0.018):.2f} W")
    1.86 W
    """
    conduction = i_inductor * i_inductor * (r_always + duty * r_switch)
    rectifier = (1.0 - duty) * i_inductor * v_rectifier
    return v_in * i_q + conduction + rectifier + edge * v_switched * i_inductor


def boost_input_current(
    v_in: Value,
    v_out: Value,
    i_out: Value,
    i_q: Value,
    r_always: Value,
    r_switch: Value,
    v_rectifier: Value,
    edge: Value,
) -> Value:
    """Input current of a boost converter with the losses of `converter_loss`, in closed form.

    Parameters
    ----------
    v_in, v_out : float or array
        Input and output voltage. [V]
    i_out : float or array
        Output current. [A]
    i_q : float or array
        Quiescent current. [A]
    r_always, r_switch : float or array
        See `LossTerms`; their sum above zero. [ohm]
    v_rectifier : float or array
        Drop of the rectifier. [V]
    edge : float or array
        Edge time times frequency. [-]

    Returns
    -------
    i_in : float or array
        With the quiescent current; NaN beyond the greatest power the resistances let through. [A]

    Notes
    -----
    Charge balance gives ``(1 - duty) i = i_out``, which turns the power balance into a quadratic of the
    inductor current; the smaller root is the stable one.

    References
    ----------
    .. [1] Power and charge balance of the averaged boost converter.

    Examples
    --------
    >>> print(f"{boost_input_current(3.7, 12.0, 0.7, 1e-3, 0.04, 0.07, 0.45, 0.018):.2f} A")
    2.69 A
    """
    square = r_always + r_switch
    linear = v_in + r_switch * i_out - edge * v_out
    constant = (v_out + v_rectifier) * i_out
    room = np.asarray(linear * linear - 4.0 * square * constant, dtype=float)
    root = np.sqrt(np.where((room >= 0.0) & (linear > 0.0), room, np.nan))
    return 2.0 * constant / (linear + root) + i_q


def buck_input_current(
    v_in: Value,
    v_out: Value,
    i_out: Value,
    i_q: Value,
    r_always: Value,
    r_switch: Value,
    v_rectifier: Value,
    edge: Value,
) -> Value:
    """Input current of a buck converter with the losses of `converter_loss`, in closed form.

    Parameters
    ----------
    v_in, v_out : float or array
        Input and output voltage. [V]
    i_out : float or array
        Output current. [A]
    i_q : float or array
        Quiescent current. [A]
    r_always, r_switch : float or array
        See `LossTerms`. [ohm]
    v_rectifier : float or array
        Drop of the rectifier. [V]
    edge : float or array
        Edge time times frequency. [-]

    Returns
    -------
    i_in : float or array
        With the quiescent current. [A]

    Notes
    -----
    The inductor carries the output current and ``duty i_out`` comes from the input, so the power balance is
    linear in the input current. Valid while the duty stays below 1.

    References
    ----------
    .. [1] Power and charge balance of the averaged buck converter.

    Examples
    --------
    >>> print(f"{buck_input_current(12.0, 5.0, 2.0, 2e-3, 0.03, 0.05, 0.0, 0.01):.3f} A")
    0.873 A
    """
    needed = i_out * (v_out + v_rectifier + r_always * i_out + edge * v_in)
    return needed / (v_in + v_rectifier - r_switch * i_out) + i_q


def operating_point(kind: str, v_in: Value, v_out: Value, i_out: Value, i_through: Value) -> Any:
    """Inductor current, duty and switched voltage that charge balance gives for a known input current.

    Parameters
    ----------
    kind : str
        ``"boost"``, ``"buck"`` or ``"inverting"``. [-]
    v_in, v_out : float or array
        Magnitudes of input and output voltage. [V]
    i_out : float or array
        Output current, above zero. [A]
    i_through : float or array
        Input current without the quiescent part. [A]

    Returns
    -------
    i_inductor, duty, v_switched : float or array
        Inductor current [A], duty [-], voltage the switch swings. [V]

    Raises
    ------
    ValueError
        For another kind.

    References
    ----------
    .. [1] Charge balance of the averaged converters.

    Examples
    --------
    >>> i, duty, v = operating_point("boost", 3.0, 5.0, 1.0, 1.8)
    >>> print(f"{i:.1f} A, {duty:.3f}, {v:.0f} V")
    1.8 A, 0.444, 5 V
    """
    if kind == "boost":
        return i_through, 1.0 - i_out / i_through, v_out
    if kind == "buck":
        return i_out, i_through / i_out, v_in
    if kind == "inverting":
        return i_through + i_out, i_through / (i_through + i_out), v_in + v_out
    raise ValueError(f'Converter kind "{kind}" is not known; choose boost, buck or inverting.')


def calibrate(
    kind: str,
    v_in: Value,
    v_out: Value,
    i_out: Value,
    eta: Value,
    prior: LossTerms,
    spread: float = 0.5,
) -> LossTerms:
    """Loss terms that explain a few measured efficiencies while staying near what was expected.

    Parameters
    ----------
    kind : str
        ``"boost"``, ``"buck"`` or ``"inverting"``. [-]
    v_in, v_out : array, shape (points,)
        Measured voltages. [V]
    i_out : array, shape (points,)
        Measured output currents, above zero. [A]
    eta : array, shape (points,)
        Measured efficiencies, between 0 and 1. [-]
    prior : LossTerms
        Expected terms; those that are zero stay zero. [A, ohm, ohm, V, -]
    spread : float
        How far the terms may stray, as a fraction of the expected ones. [-]

    Returns
    -------
    terms : LossTerms
        None below zero. With one or two points all terms move by one common factor. [A, ohm, ohm, V, -]

    Raises
    ------
    ValueError
        When an efficiency is not between 0 and 1.

    Notes
    -----
    Non-negative least squares on the loss, weighted by 1 % of the input power, with one extra row per term
    that ties it to its expected value. Two passes settle the quiescent part of the input current.

    References
    ----------
    .. [1] C. L. Lawson, R. J. Hanson, Solving Least Squares Problems, 1974: non-negative least squares.

    Examples
    --------
    >>> prior = LossTerms(1e-3, 0.04, 0.07, 0.45, 0.018)
    >>> fit = calibrate("boost", 3.7, 12.0, 0.5, 0.80, prior)
    >>> print(f"{fit.r_always / prior.r_always:.2f}")
    1.43
    """
    from scipy.optimize import nnls

    v_in, v_out, i_out, eta = (
        np.asarray(a, dtype=float) for a in np.broadcast_arrays(*np.atleast_1d(v_in, v_out, i_out, eta))
    )
    if not np.all((eta > 0.0) & (eta < 1.0)):
        raise ValueError(f"Efficiencies must lie between 0 and 1; they are {eta.tolist()}.")
    expected = np.array(prior, dtype=float)
    p_in = v_out * i_out / eta
    weight = 1.0 / (0.01 * p_in)
    loss = weight * (p_in - v_out * i_out)
    terms = expected
    for _ in range(3):
        i_through = np.maximum(p_in / v_in - terms[0], 1e-9)
        i, duty, v_switched = operating_point(kind, v_in, v_out, i_out, i_through)
        unit = np.eye(len(expected))
        rows = np.stack([converter_loss(v_in, i, duty, v_switched, *u) for u in unit], axis=-1)
        rows = weight[:, None] * rows * expected  # unknowns: factors on the expected terms
        if len(eta) <= 2:
            common = rows.sum(axis=1)
            terms = expected * (common @ loss) / (common @ common)
        else:
            tied = np.eye(len(expected)) / spread
            factors, _ = nnls(np.vstack([rows, tied]), np.concatenate([loss, tied.sum(axis=0)]))
            terms = expected * factors
    return LossTerms(*(float(term) for term in terms))
