"""One cell: open-circuit voltage, resistance, slow voltages, heat, and what it loses on the shelf.

Discharge current is positive. Ageing is in `ageing`, cells side by side in `sharing`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from .constants import GAS, MONTH, TEMP_25, Value

KNOTS = (0.0, 0.05, 0.10, 0.20, 0.30, 0.40, 0.50, 0.60, 0.70, 0.80, 0.90, 0.95, 1.0)
"""States of charge of the tables below. [-]"""

_NMC = (3.00, 3.35, 3.46, 3.56, 3.61, 3.65, 3.71, 3.81, 3.91, 4.00, 4.09, 4.13, 4.185)

OCV = {
    "NMC": _NMC,
    "NCA": (2.90, 3.22, 3.35, 3.48, 3.56, 3.62, 3.69, 3.79, 3.88, 3.97, 4.06, 4.10, 4.175),
    "LFP": (2.70, 3.08, 3.18, 3.235, 3.268, 3.285, 3.290, 3.298, 3.318, 3.325, 3.330, 3.335, 3.42),
    "LTO": (1.90, 2.06, 2.13, 2.19, 2.22, 2.25, 2.28, 2.32, 2.38, 2.45, 2.54, 2.60, 2.68),
    "LCO": _NMC,
    "PbA": (1.942, 1.952, 1.962, 1.982, 2.002, 2.022, 2.042, 2.062, 2.082, 2.102, 2.122, 2.132, 2.142),
}
"""Open-circuit voltage per rested cell at 25 degrees C, at the states of charge in `KNOTS`. [V]"""

OCV_SOURCE = {
    "NMC": "typical, unverified: shape within 20 mV",
    "NCA": "typical, unverified: shape within 20 mV",
    "LFP": "typical, unverified: discharge branch, within 10 mV; voltage tells little from 20 to 90 %",
    "LTO": "typical, unverified",
    "LCO": "typical, unverified: the NMC row stands in",
    "PbA": "public tables of absorbed-mat batteries, 12.85 V full to 11.65 V empty per block of six; "
    "others run 12.8 to 13.2 V full; rested 8 to 24 h",
}

STEEP = {"PbA": 5.0}
"""Least slope beyond 0 and 1, per unit state of charge, where the table ends flat. A lead-acid cell that rests at
1.94 V when empty is at its end voltage, 1.75 V, and one that rests at 2.14 V when full gasses, at 2.4 V, within one
twentieth of its charge: typical, unverified. [V]"""


@dataclass(frozen=True, eq=False)
class Curve:
    """Monotone curves over state of charge, one per part, on shared knots.

    Attributes
    ----------
    knots : array, shape (k,)
        States of charge, ascending from 0 to 1. [-]
    coefficients : array, shape (n_parts, k - 1, 4)
        Of the cubic pieces, in ascending powers of the distance from the left knot. [V]
    steep : float or array, shape (n_parts,)
        Least slope beyond 0 and 1. [V]

    Notes
    -----
    Shape-preserving piecewise cubics [1]_: they never overshoot the table, and their slope is continuous.
    Beyond 0 and 1 they go on straight with their end slopes, or `steep` where that is more, so that Newton's method
    finds its way back.

    References
    ----------
    .. [1] F. N. Fritsch, J. Butland, SIAM Journal on Scientific and Statistical Computing 5 (1984) 300.

    Examples
    --------
    >>> curve = Curve.of(["NMC", "LFP"])
    >>> print(curve.value(0.5), curve.value(np.zeros((7, 2))).shape)
    [3.71 3.29] (7, 2)
    """

    knots: Any
    coefficients: Any
    steep: Any = 0.0

    @classmethod
    def of(cls, names: Sequence[str]) -> Curve:
        """Make the curves of some chemistries.

        Parameters
        ----------
        names : sequence of n_parts str
            Keys of `OCV`; they may repeat. [-]

        Returns
        -------
        curve : Curve
            One part per name. [V]

        Raises
        ------
        ValueError
            For a chemistry that has no table.

        Examples
        --------
        >>> print(Curve.of(["NCA"]).value(1.0))
        [4.175]
        """
        unknown = [name for name in names if name not in OCV]
        if unknown:
            raise ValueError(f'No voltage table for "{unknown[0]}"; choose one of: {", ".join(OCV)}.')
        return cls.through(KNOTS, [OCV[name] for name in names], [STEEP.get(name, 0.0) for name in names])

    @classmethod
    def through(cls, knots: Any, volts: Any, steep: Any = 0.0) -> Curve:
        """Make curves through tables of measured or published points.

        Parameters
        ----------
        knots : array, shape (k,)
            States of charge, ascending from 0 to 1. [-]
        volts : array, shape (n_parts, k) or (k,)
            One table per part; a single one makes one part. [V]
        steep : float or array, shape (n_parts,)
            Least slope beyond 0 and 1. [V]

        Returns
        -------
        curve : Curve
            Passes through every point. [V]

        Raises
        ------
        ValueError
            When the knots do not ascend from 0 to 1, or the shapes do not fit.

        Examples
        --------
        >>> print(Curve.through([0.0, 0.5, 1.0], [3.0, 3.6, 4.2]).slope(0.2))
        [1.2]
        """
        from scipy.interpolate import PchipInterpolator

        x, y = np.asarray(knots, dtype=float), np.atleast_2d(np.asarray(volts, dtype=float))
        if x.ndim != 1 or len(x) < 2 or x[0] != 0.0 or x[-1] != 1.0 or not np.all(np.diff(x) > 0.0):
            raise ValueError(f"Knots must ascend from 0 to 1; they are {x.tolist()}.")
        if y.shape[-1] != len(x) or y.ndim != 2:
            raise ValueError(f"Each table needs {len(x)} voltages, one per knot; its shape is {y.shape}.")
        descending = PchipInterpolator(x, y, axis=1).c  # (4, k - 1, n_parts)
        return cls(x, np.ascontiguousarray(descending[::-1].transpose(2, 1, 0)), steep)

    def value(self, soc: Value) -> Value:
        """Voltage at a state of charge.

        Parameters
        ----------
        soc : float or array, shape (..., n_parts) or broadcast to it
            State of charge; beyond 0 and 1 the curve goes on straight. [-]

        Returns
        -------
        volts : array, shape (..., n_parts)
            Open-circuit voltage. [V]

        Examples
        --------
        >>> print(Curve.of(["LTO"]).value(0.5))
        [2.28]
        """
        return self.both(soc)[0]

    def both(self, soc: Value) -> tuple[Any, Any]:
        """Voltage and slope at a state of charge, at one look.

        Parameters
        ----------
        soc : float or array, shape (..., n_parts) or broadcast to it
            State of charge. [-]

        Returns
        -------
        volts, slope : array, shape (..., n_parts)
            As `value` [V] and `slope` give them. [V]

        Examples
        --------
        >>> volts, slope = Curve.through([0.0, 1.0], [3.0, 4.0]).both([0.5])
        >>> print(volts, slope)
        [3.5] [1.]
        """
        c0, c1, c2, c3, x, beyond = self._piece(soc, self._flat)
        slope = self._sloping(c1 + x * (2.0 * c2 + x * 3.0 * c3), beyond)
        return c0 + x * (c1 + x * (c2 + x * c3)) + slope * beyond, slope

    def slope(self, soc: Value) -> Value:
        """Slope of the voltage over state of charge.

        Parameters
        ----------
        soc : float or array, shape (..., n_parts) or broadcast to it
            State of charge. [-]

        Returns
        -------
        slope : array, shape (..., n_parts)
            Per unit state of charge; constant beyond 0 and 1. [V]

        Examples
        --------
        >>> print(f"{Curve.of(['NMC']).slope(0.97).item():.2f} V")
        1.07 V
        """
        _, c1, c2, c3, x, beyond = self._piece(soc, self._flat)
        return self._sloping(c1 + x * (2.0 * c2 + x * 3.0 * c3), beyond)

    def integral(self, soc: Value) -> Value:
        """Integral of the voltage over state of charge, from 0.

        Parameters
        ----------
        soc : float or array, shape (..., n_parts) or broadcast to it
            Upper end; below 0 the integral is negative. [-]

        Returns
        -------
        volts : array, shape (..., n_parts)
            Times the capacity this is the energy stored. [V]

        Notes
        -----
        The exact antiderivative of `value` everywhere, so that an energy balance closes to rounding.

        Examples
        --------
        >>> print(Curve.through([0.0, 1.0], [3.0, 4.0]).integral([[1.0], [2.0]]).ravel())
        [3.5 8. ]
        """
        before, c0, c1, c2, c3, x, beyond = self._piece(soc, [self._before, *self._flat])
        end = c0 + x * (c1 + x * (c2 + x * c3))
        slope = self._sloping(c1 + x * (2.0 * c2 + x * 3.0 * c3), beyond)
        inside = x * (c0 + x * (c1 / 2.0 + x * (c2 / 3.0 + x * c3 / 4.0)))
        return before + inside + beyond * (end + 0.5 * slope * beyond)

    def _sloping(self, inside: Any, beyond: Any) -> Any:
        """Slope: `inside` between 0 and 1, else that of the end."""
        return np.where(beyond < 0.0, self.outside[:, 0], np.where(beyond > 0.0, self.outside[:, 1], inside))

    @cached_property
    def _flat(self) -> Any:
        return [np.ascontiguousarray(column) for column in self.coefficients.reshape(-1, 4).T]

    @cached_property
    def outside(self) -> Any:
        """Slope below 0 and above 1, shape (n_parts, 2). [V]"""
        first, last, h = self.coefficients[:, 0], self.coefficients[:, -1], self.knots[-1] - self.knots[-2]
        ends = np.stack([first[:, 1], last[:, 1] + h * (2.0 * last[:, 2] + h * 3.0 * last[:, 3])], axis=1)
        return np.maximum(ends, np.reshape(self.steep, (-1, 1)))

    @cached_property
    def _before(self) -> Any:
        """Integral from 0 to the left knot of each piece, flattened as the coefficients are."""
        powers = np.arange(1, 5)
        areas = (self.coefficients * np.diff(self.knots)[:, None] ** powers / powers).sum(axis=-1)
        return (np.cumsum(areas, axis=-1) - areas).ravel()

    @cached_property
    def _first(self) -> Any:
        """Position of each part's first piece among the flattened columns."""
        return np.arange(len(self.coefficients)) * (len(self.knots) - 1)

    def _piece(self, soc: Value, columns: list[Any]) -> tuple[Any, ...]:
        """Columns at the piece met by `soc`, distance from its left knot, and how far `soc` is outside."""
        inside = np.minimum(np.maximum(soc, 0.0), 1.0)
        piece = np.searchsorted(self.knots[1:-1], inside, side="right")
        flat = piece + self._first
        return (
            *(column.take(flat) for column in columns),
            inside - self.knots[piece],
            np.asarray(soc) - inside,
        )


def resistance_factor(temp: Value, activation: Value = 20e3, temp_ref: Value = TEMP_25) -> Value:
    """Growth of a cell's resistance in the cold.

    Parameters
    ----------
    temp, temp_ref : float or array
        Of the cell, and at which its resistance is known. [K]
    activation : float or array
        Activation energy, 15e3 to 30e3 for a whole cell (typical, unverified). [J/mol]

    Returns
    -------
    factor : float or array
        1 at `temp_ref`. [-]

    References
    ----------
    .. [1] Arrhenius law; a public teaching chart shows 3 to 5 times at -20 degrees C.

    Examples
    --------
    >>> print(f"{resistance_factor(263.15):.2f}")
    2.92
    """
    return np.exp(activation / GAS * (1.0 / temp - 1.0 / temp_ref))


def resistance_soc_factor(soc: Value) -> Value:
    """Growth of a cell's resistance near empty.

    Parameters
    ----------
    soc : float or array
        State of charge. [-]

    Returns
    -------
    factor : float or array
        1 above 0.2, 1.5 at 0.05, 2 at 0, straight between and beyond: typical, unverified. [-]

    References
    ----------
    .. [1] Engineering judgement.

    Examples
    --------
    >>> print(f"{resistance_soc_factor(0.05):.2f}")
    1.50
    """
    return 1.0 + np.maximum(0.2 - soc, 0.0) * (10.0 / 3.0) + np.maximum(0.05 - soc, 0.0) * (20.0 / 3.0)


def rc_step(v: Value, i: Value, r: Value, tau: Value, t: Value) -> Value:
    """Voltage of one slow R-C pair after some time at constant current, exactly.

    Parameters
    ----------
    v : float or array
        At the start, positive under discharge. [V]
    i : float or array
        Discharge current. [A]
    r : float or array
        Of the pair. [ohm]
    tau : float or array
        Its time constant, above zero. [s]
    t : float or array
        Elapsed. [s]

    Returns
    -------
    v : float or array
        To be taken off the open-circuit voltage. [V]

    References
    ----------
    .. [1] Exponential of an R-C circuit.

    Examples
    --------
    A cell of 45 mohm with pairs of 12 mohm, 20 s and 15 mohm, 600 s, after a minute at 2 A:

    >>> drop = 2 * 0.045 + rc_step(0, 2, 0.012, 20, 60) + rc_step(0, 2, 0.015, 600, 60)
    >>> print(f"{drop:.4f} V")
    0.1157 V
    """
    left = np.exp(-t / tau)
    return v * left + i * r * (1.0 - left)


def hysteresis_rate(h: Value, i: Value, capacity: Value, height: Value = 0.015, gamma: Value = 70.0) -> Value:
    """How fast the hysteresis voltage of a cell follows the direction of its current.

    Parameters
    ----------
    h : float or array
        Hysteresis voltage, added to the mean of both branches. [V]
    i : float or array
        Discharge current. [A]
    capacity : float or array
        Of the cell. [C]
    height : float or array
        Half the distance of the branches, 0.010 to 0.020 V for LFP (typical, unverified). [V]
    gamma : float or array
        How little charge it takes, 50 to 100 (typical, unverified). [-]

    Returns
    -------
    rate : float or array
        Tends to ``-height`` under discharge, ``+height`` under charge. [V/s]

    References
    ----------
    .. [1] One-state hysteresis of equivalent-circuit cell models: typical, unverified.

    Examples
    --------
    >>> print(f"{hysteresis_rate(0.0, 1.0, 3600.0) * 3600:.2f} V/h")
    -1.05 V/h
    """
    return -gamma / capacity * (np.abs(i) * h + i * height)


def cell_heat(i: Value, ocv: Value, v: Value, temp: Value, entropic: Value = 0.0) -> Value:
    """Heat set free in a cell.

    Parameters
    ----------
    i : float or array
        Discharge current. [A]
    ocv, v : float or array
        Open-circuit and terminal voltage. [V]
    temp : float or array
        Of the cell. [K]
    entropic : float or array
        Slope of the open-circuit voltage over temperature, within 0.4e-3 either way (typical, unverified).
        [V/K]

    Returns
    -------
    p : float or array
        Negative when the cell cools itself. [W]

    References
    ----------
    .. [1] D. Bernardi, E. Pawlikowski, J. Newman, Journal of the Electrochemical Society 132 (1985) 5.

    Examples
    --------
    >>> print(f"{cell_heat(2.0, 3.7, 3.55, 298.15):.2f} W")
    0.30 W
    """
    return i * (ocv - v) - i * temp * entropic


def peukert_time(i: Value, capacity: Value, t_rated: Value = 20 * 3600.0, k: Value = 1.15) -> Value:
    """Discharge time of a lead-acid battery at another current than the rated one.

    Parameters
    ----------
    i : float or array
        Discharge current, above zero. [A]
    capacity : float or array
        At the rated discharge time. [C]
    t_rated : float or array
        Rated discharge time. [s]
    k : float or array
        Peukert's exponent, 1.10 to 1.20 for absorbed mat (typical, unverified). [-]

    Returns
    -------
    t : float or array
        To the cut-off of the rating; not for lithium cells. [s]

    References
    ----------
    .. [1] W. Peukert, Elektrotechnische Zeitschrift, 1897: empirical.

    Examples
    --------
    >>> print(f"{peukert_time(3.5, 7 * 3600.0) / 3600:.2f} h")
    1.42 h
    """
    return t_rated * np.power(capacity / (t_rated * i), k)


def self_discharge_current(
    capacity: Value, monthly: Value, temp: Value, doubling: Value = 12.5, temp_ref: Value = TEMP_25
) -> Value:
    """Mean current of a cell's own discharge.

    Parameters
    ----------
    capacity : float or array
        Of the cell. [C]
    monthly : float or array
        Share lost per month at `temp_ref`: 0.01 to 0.03 lithium (typical, unverified), 0.03 lead-acid at 20
        degrees C (public guides of valve-regulated batteries). [-]
    temp, temp_ref : float or array
        Of the cell, and of the figure. [K]
    doubling : float or array
        Warming that doubles it, 10 to 15 K (typical, unverified). [K]

    Returns
    -------
    i : float or array
        The protection board's own current comes on top, and often is more. [A]

    References
    ----------
    .. [1] Engineering judgement.

    Examples
    --------
    >>> print(f"{self_discharge_current(2.6 * 3600, 0.02, 298.15) * 1e6:.0f} uA")
    71 uA
    """
    return capacity * monthly / MONTH * np.exp2((temp - temp_ref) / doubling)
