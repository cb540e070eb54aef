"""Measuring: how far a reading can be trusted, and which reading would tell the most."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .constants import Value


class MeterRange(NamedTuple):
    """Accuracy of a meter on one kind of range.

    Attributes
    ----------
    share : float
        Of the reading. [-]
    digits : int
        Counts of the last digit. [-]
    """

    share: float
    digits: int


METERS = {
    "2000 counts": {"V": MeterRange(0.005, 2), "A": MeterRange(0.02, 5)},
    "6000 counts": {"V": MeterRange(0.003, 2), "A": MeterRange(0.012, 3)},
    "60000 counts": {"V": MeterRange(0.0003, 4), "A": MeterRange(0.003, 10)},
}
"""Accuracy of handheld meters at 18 to 28 degrees C: typical, unverified."""

COUNTS = {"2000 counts": 2000, "6000 counts": 6000, "60000 counts": 60000}
"""Full scale of each class of meter, in steps of its last digit. [-]"""


def meter_limit(x: Value, share: Value, digits: Value, step: Value) -> Value:
    """Greatest error that a meter's accuracy statement allows.

    Parameters
    ----------
    x : float or array
        Reading, in any unit. [-]
    share : float or array
        Of the reading. [-]
    digits : float or array
        Counts of the last digit. [-]
    step : float or array
        Value of the last digit, in the unit of the reading. [-]

    Returns
    -------
    limit : float or array
        Either way, in the unit of the reading. [-]

    References
    ----------
    .. [1] The usual form of a meter's accuracy statement.

    Examples
    --------
    >>> print(f"{meter_limit(12.05, 0.005, 2, 0.01):.3f} V")
    0.080 V
    """
    return share * np.abs(x) + digits * step


def standard_uncertainty(limit: Value) -> Value:
    """Standard uncertainty of a quantity known only to lie within limits.

    Parameters
    ----------
    limit : float or array
        Either way, in any unit. [-]

    Returns
    -------
    u : float or array
        Standard deviation of the uniform distribution, in the same unit. [-]

    References
    ----------
    .. [1] JCGM 100:2008, Guide to the expression of uncertainty in measurement, 4.3.7.

    Examples
    --------
    >>> print(f"{standard_uncertainty(0.080):.3f} V")
    0.046 V
    """
    return limit / np.sqrt(3.0)


def difference_uncertainty(x_a: Value, x_b: Value, share: Value, digits: Value, step: Value) -> Value:
    """Standard uncertainty of the difference of two readings on one range of one meter.

    Parameters
    ----------
    x_a, x_b : float or array
        Readings, in any unit. [-]
    share : float or array
        Of the reading: one unknown gain error, common to both. [-]
    digits : float or array
        Counts of the last digit, independent in each. [-]
    step : float or array
        Value of the last digit, in the unit of the readings. [-]

    Returns
    -------
    u : float or array
        Much less than that of either reading when they are close. [-]

    References
    ----------
    .. [1] JCGM 100:2008, correlated inputs.

    Examples
    --------
    >>> print(f"{difference_uncertainty(12.05, 11.95, 0.005, 2, 0.01):.4f} V")
    0.0163 V
    """
    gain = standard_uncertainty(share * (x_a - x_b))
    counts = standard_uncertainty(digits * step)
    return np.sqrt(np.square(gain) + 2.0 * np.square(counts))


def unburdened_current(i_read: Value, r_burden: Value, r_source: Value) -> Value:
    """Current that would flow without the meter in the way.

    Parameters
    ----------
    i_read : float or array
        Reading. [A]
    r_burden : float or array
        Of meter, its fuse and its leads: 0.02 to 0.04 ohm on a 10 A range (typical, unverified). [ohm]
    r_source : float or array
        Of the circuit it was put into, above zero. [ohm]

    Returns
    -------
    i : float or array
        For a source of constant voltage. [A]

    References
    ----------
    .. [1] Ohm's law.

    Examples
    --------
    >>> print(f"{unburdened_current(1.90, 0.03, 0.5):.3f} A")
    2.014 A
    """
    return i_read * (1.0 + r_burden / r_source)


def four_wire_resistance(v_a: Value, v_b: Value, i_a: Value, i_b: Value) -> Value:
    """Resistance between two sense points from two currents, free of thermal voltages.

    Parameters
    ----------
    v_a, v_b : float or array
        Sensed inside the current leads. [V]
    i_a, i_b : float or array
        Currents, unequal; one may be zero or reversed. [A]

    Returns
    -------
    r : float or array
        Any constant offset drops out. [ohm]

    References
    ----------
    .. [1] Four-terminal method with two currents.

    Examples
    --------
    >>> print(f"{four_wire_resistance(0.0031, 0.0001, 1.0, 0.0) * 1e3:.1f} mohm")
    3.0 mohm
    """
    return (v_a - v_b) / (i_a - i_b)


def information_gain(h: Value, p: Value, r: Value) -> Value:
    """What a reading is expected to tell about all parameters together.

    Parameters
    ----------
    h : array, shape (..., n)
        Sensitivity of the reading to each parameter. [-]
    p : array, shape (n, n)
        Covariance of the parameters before it. [-]
    r : float or array, shape (...)
        Variance of the reading, above zero. [-]

    Returns
    -------
    gain : float or array, shape (...)
        Nats by which the entropy falls. [-]

    References
    ----------
    .. [1] D. V. Lindley, Annals of Mathematical Statistics 27 (1956) 986; K. Chaloner, I. Verdinelli,
       Statistical Science 10 (1995) 273.

    Examples
    --------
    >>> print(f"{information_gain([1.0, 0.0], np.diag([0.04, 0.0025]), 4e-4):.4f}")
    2.3076
    """
    return 0.5 * np.log1p(_variance(h, p) / r)


def variance_gain(c: Value, h: Value, p: Value, r: Value) -> Value:
    """By how much a reading reduces the variance of one quantity of interest.

    Parameters
    ----------
    c : array, shape (n,)
        Sensitivity of the quantity to each parameter. [-]
    h : array, shape (..., n)
        Sensitivity of the reading to each parameter. [-]
    p : array, shape (n, n)
        Covariance of the parameters before it. [-]
    r : float or array, shape (...)
        Variance of the reading, above zero. [-]

    Returns
    -------
    gain : float or array, shape (...)
        In the squared unit of the quantity; its variance before was ``c p c``. [-]

    References
    ----------
    .. [1] K. Chaloner, I. Verdinelli, Statistical Science 10 (1995) 273: c-optimality.

    Examples
    --------
    >>> print(f"{variance_gain([1.0, 1.0], [1.0, 0.0], np.diag([0.04, 0.0025]), 4e-4):.4f}")
    0.0396
    """
    shared = np.asarray(h) @ np.asarray(p) @ np.asarray(c)
    return np.square(shared) / (r + _variance(h, p))


def _variance(h: Value, p: Value) -> Value:
    h = np.asarray(h, dtype=float)
    return np.sum(h @ np.asarray(p) * h, axis=-1)
