"""The pack through outage after outage, by its two curves: charge against time while it carries the load, and while
it is filled again.

Between two points the curves are straight lines, both ways, so that what is asked back is what was put in. Every case
(an age, a change of the build) and every year goes through its outages at once; only the outages of one year follow
each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tideover.answers.year_events import Events

Array = NDArray[np.float64]
Index = NDArray[np.int64]
GRID = 513
"""Points of a curve. Between two of them a run is off by less than its own step error."""


@dataclass(frozen=True)
class Curves:
    """Charge over time, K times over.

    Attributes
    ----------
    left : array, shape (K,)
        Time on the pack from full until the load stops. [s]
    fall : array, shape (K,)
        The same with the time after that in which what is still connected drains the pack further. [s]
    at_fall : array, shape (K, GRID)
        Charge when this share of `fall` is left, from none to all; never falling. [-]
    fill : array, shape (K,)
        Time from empty until the charger ends; 0 where it does not fill at all. [s]
    at_fill : array, shape (K, GRID)
        Charge after this share of that time; never falling. [-]
    """

    left: Array
    fall: Array
    at_fall: Array
    fill: Array
    at_fill: Array

    @classmethod
    def of(cls, left: Array, falls: list[tuple[Array, Array]], fills: list[tuple[Array, Array]]) -> Curves:
        """From times until the load stops, and pairs of time and charge, times from 0: from full, and from empty."""
        share = np.linspace(0.0, 1.0, GRID)
        fall = np.array([t[-1] for t, _ in falls])
        at_fall = [np.interp(share * t[-1], t[-1] - t[::-1], np.minimum.accumulate(c)[::-1]) for t, c in falls]
        fill = np.array([t[-1] for t, _ in fills])
        at_fill = [np.interp(share * t[-1], t, np.maximum.accumulate(c)) for t, c in fills]
        return cls(left, fall, np.array(at_fall), fill, np.array(at_fill))

    def blend(self, weights: Array) -> Curves:
        """Weighted means of some of them, at equal shares of their times; weights of shape (J, K), each row one.

        What takes part in a curve that does not fill does not fill either.
        """
        stuck = (weights > 0.0) @ (self.fill <= 0.0)
        fill = np.where(stuck, 0.0, weights @ self.fill)
        falling = weights @ self.left, weights @ self.fall, weights @ self.at_fall
        return Curves(*falling, fill, weights @ self.at_fill)

    @cached_property
    def _back(self) -> tuple[Array, Array]:
        """Share of the time at evenly spread charges, of both curves."""
        return _inverse(self.at_fall), _inverse(self.at_fill)

    def full(self, k: Index) -> Array:
        """Charge of a full pack. [-]"""
        return self.at_fall[k, -1]

    def _to_end(self, k: Index, charge: Array) -> Array:
        low, high = self.at_fall[k, 0], self.at_fall[k, -1]
        return self.fall[k] * _look(self._back[0], k, _share(charge, low, high))

    def time_left(self, k: Index, charge: Array) -> Array:
        """How long the load is carried from a charge on. [s]"""
        return np.maximum(self._to_end(k, charge) - (self.fall[k] - self.left[k]), 0.0)

    def drained(self, k: Index, charge: Array, t: Array) -> Array:
        """Charge after a time without mains, the load stopped or not. [-]"""
        rest = np.maximum(self._to_end(k, charge) - t, 0.0)
        after = _look(self.at_fall, k, rest / np.where(self.fall[k] > 0.0, self.fall[k], 1.0))
        return np.minimum(charge, after)

    def filled(self, k: Index, charge: Array, t: Array) -> Array:
        """Charge after mains has been back for a time. [-]"""
        low, high, whole = self.at_fill[k, 0], self.at_fill[k, -1], self.fill[k]
        since = _look(self._back[1], k, _share(charge, low, high)) * whole
        after = _look(self.at_fill, k, np.where(whole > 0.0, (since + t) / np.where(whole > 0.0, whole, 1.0), 0.0))
        return np.where(whole > 0.0, np.maximum(charge, np.minimum(after, self.full(k))), charge)


def _share(value: Array, low: Array, high: Array) -> Array:
    span = high - low
    return np.where(span > 0.0, (value - low) / np.where(span > 0.0, span, 1.0), np.where(value >= high, 1.0, 0.0))


def _look(table: Array, k: Index, share: Array) -> Array:
    """Straight between two points of row k."""
    place = np.clip(share, 0.0, 1.0) * (GRID - 1)
    at = np.minimum(place.astype(np.int64), GRID - 2)
    below = table[k, at]
    return below + (table[k, at + 1] - below) * (place - at)


def _inverse(table: Array) -> Array:
    share = np.linspace(0.0, 1.0, GRID)
    out = np.empty_like(table)
    for k, row in enumerate(table):
        climb = row + 1e-12 * np.arange(GRID)
        out[k] = np.interp(row[0] + share * (row[-1] - row[0]), climb, share)
    return out


@dataclass(frozen=True)
class Course:
    """What became of every outage; arrays of shape (cases, years, most outages).

    Attributes
    ----------
    begin, end : array
        Charge when mains goes, and when it comes back. [-]
    short : array
        Time without the load for want of charge. [s]
    short_if_full : array
        The same had the pack been full. [s]
    """

    begin: Array
    end: Array
    short: Array
    short_if_full: Array


def course(curves: Curves, table: Index, events: Events) -> Course:
    """Carry every case through every year.

    Parameters
    ----------
    curves : Curves
        K of them. [-]
    table : int array, shape (cases, 12)
        Which curves hold in a case and a month. [-]
    events : Events
        Of Y years, the same for all cases, so that differences between cases are not chance. [-]

    Returns
    -------
    course : Course
        Every year begins with a full pack. [-]
    """
    shape = (len(table), *events.start.shape)
    begin, end, short, if_full = (np.zeros(shape) for _ in range(4))
    charge = curves.full(np.broadcast_to(table[:, :1], shape[:2]))
    back = np.zeros(shape[1])
    length = events.length
    for e in range(shape[2]):
        real = events.real[:, e]
        k = table[:, events.month[:, e]]
        gap = np.where(real, events.start[:, e], back) - back
        filled = curves.filled(k, charge, gap)
        left = curves.time_left(k, filled)
        charge = np.where(real, curves.drained(k, filled, length[:, e]), charge)
        begin[:, :, e], end[:, :, e] = filled, charge
        short[:, :, e] = np.maximum(length[:, e] - left, 0.0)
        if_full[:, :, e] = np.maximum(length[:, e] - curves.left[k], 0.0)
        back = np.where(real, events.end[:, e], back)
    return Course(begin, end, short, if_full)
