"""The mask a load's voltage is held against: a window for ever, dips for a time, all by exact interpolation.

A dip "10.5 V for 5 ms" lets the voltage leave the window down to 10.5 V, for 5 ms at most. So every dip sets two
limits: below the limit next above it the voltage may stay for that time; below the deepest dip, never. A wave is a
straight line between the points that a march recorded; an instant at which something switches stands twice.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.design import Need

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Mask:
    """What the load bears.

    Attributes
    ----------
    high : float
        Upper limit, for ever. [V]
    steps : tuple of (float, float)
        Below this voltage [V] for no longer than that time [s] at a stretch, from the top down; the last time is 0.
    """

    high: float
    steps: tuple[tuple[float, float], ...]

    @classmethod
    def of(cls, need: Need) -> Mask:
        """From what the build file says.

        Examples
        --------
        >>> from types import SimpleNamespace as Need
        >>> Mask.of(Need(window=(11.4, 12.6), dips=((10.5, 0.005), (9.0, 0.0005)))).steps
        ((11.4, 0.005), (10.5, 0.0005), (9.0, 0.0))
        """
        low, high = need.window
        levels = (low, *(volts for volts, _ in need.dips))
        times = (*(seconds for _, seconds in need.dips), 0.0)
        return cls(high, tuple(zip(levels, times)))

    @property
    def low(self) -> float:
        """Lower limit of the window. [V]"""
        return self.steps[0][0]

    @property
    def deepest(self) -> float:
        """Voltage below which the load must never be. [V]"""
        return self.steps[-1][0]


@dataclass(frozen=True)
class Verdict:
    """A wave held against a mask.

    Attributes
    ----------
    margin : float
        By how much the whole wave could be lowered and still hold; negative when it does not. [V]
    level, allowed, stayed, since : float
        The limit nearest or most broken [V], how long the voltage may stay below it, how long it does, and when
        that stretch begins. [s]
    lowest, lowest_at, highest, highest_at : float
        Extremes [V] and when. [s]
    over : float
        Upper limit less the highest voltage. [V]
    back : bool
        Whether the voltage is in its window when the wave ends.
    below : tuple of float
        Longest stretch below each limit of the mask. [s]
    """

    margin: float
    level: float
    allowed: float
    stayed: float
    since: float
    lowest: float
    lowest_at: float
    highest: float
    highest_at: float
    over: float
    back: bool
    below: tuple[float, ...]

    @property
    def worst(self) -> float:
        """The smaller of both margins. [V]"""
        return min(self.margin, self.over)


def judge(t: Array, v: Array, mask: Mask) -> Verdict:
    """Hold a wave against a mask.

    Parameters
    ----------
    t, v : array, shape (points,)
        Times [s] and voltages [V].
    mask : Mask
        What the load bears. [-]
    """
    down, up = int(v.argmin()), int(v.argmax())
    stretches = [longest(t, v, level) for level, _ in mask.steps]
    margins = [held(t, v, allowed) - level for level, allowed in mask.steps]
    margins[0] = min(margins[0], float(v[-1]) - mask.low)
    k = int(np.argmin(margins))
    return Verdict(
        margin=margins[k],
        level=mask.steps[k][0],
        allowed=mask.steps[k][1],
        stayed=stretches[k][0],
        since=stretches[k][1],
        lowest=float(v[down]),
        lowest_at=float(t[down]),
        highest=float(v[up]),
        highest_at=float(t[up]),
        over=mask.high - float(v[up]),
        back=bool(mask.low <= v[-1] <= mask.high),
        below=tuple(length for length, _ in stretches),
    )


def worst(t: Array, v: Array, mask: Mask) -> float:
    """The smaller of both margins of a wave, as `Verdict.worst`, and nothing else: for thousands of waves. [V]"""
    least = min(float(v[-1]) - mask.low, mask.high - float(v.max()))
    for level, allowed in reversed(mask.steps):  # where the wave holds with this margin to spare, another decides
        if allowed <= 0.0 or longest(t, v, level + least)[0] > allowed:
            least = min(held(t, v, allowed) - level, least)
    return least


def stretches_below(t: Array, v: Array, level: float) -> tuple[Array, Array]:
    """When a wave goes below a level and when it comes back: starts and ends, in order. [s]

    Examples
    --------
    >>> t, v = np.array([0.0, 1.0, 2.0, 3.0]), np.array([1.0, 0.0, 0.0, 2.0])
    >>> [float(x[0]) for x in stretches_below(t, v, 0.5)]
    [0.5, 2.25]
    """
    below = v < level
    k = np.flatnonzero(below[1:] != below[:-1])
    share = (level - v[k]) / (v[k + 1] - v[k])
    at = t[k] + share * (t[k + 1] - t[k])
    down = below[k + 1]
    starts = np.concatenate([t[:1] if below[0] else t[:0], at[down]])
    ends = np.concatenate([at[~down], t[-1:] if below[-1] else t[:0]])
    return starts, ends


def longest(t: Array, v: Array, level: float) -> tuple[float, float]:
    """Longest stretch below a level, and when it begins; 0 and NaN when there is none. [s]"""
    starts, ends = stretches_below(t, v, level)
    if not len(starts):
        return 0.0, float("nan")
    k = int(np.argmax(ends - starts))
    return float(ends[k] - starts[k]), float(starts[k])


def held(t: Array, v: Array, seconds: float) -> float:
    """Highest level that the wave never stays below for longer than `seconds`. [V]

    Examples
    --------
    A dip from 12 V to 10 V that is 4 ms wide at its top:

    >>> t, v = np.array([0.0, 1.0, 1.002, 1.004, 2.0]), np.array([12.0, 12.0, 10.0, 12.0, 12.0])
    >>> print(f"{held(t, v, 0.0):.3f} {held(t, v, 0.002):.3f} {held(t, v, 0.01):.3f}")
    10.000 11.000 12.000
    """
    levels = np.unique(v)
    if seconds <= 0.0:
        return float(levels[0])
    if longest(t, v, levels[-1])[0] <= seconds:
        return float(levels[-1])
    good, bad = 0, len(levels) - 1
    while bad - good > 1:
        middle = (good + bad) // 2
        if longest(t, v, levels[middle])[0] <= seconds:
            good = middle
        else:
            bad = middle
    low, high = levels[good], levels[bad]
    # No corner of the wave lies between these two, so there every stretch grows in a straight line.
    starts, ends = stretches_below(t, v, np.nextafter(low, np.inf))
    before = ends - starts
    starts, ends = stretches_below(t, v, high)
    after = ends - starts
    if before.max() > seconds:
        return float(low)
    grown = after > seconds
    share = (seconds - before[grown]) / (after[grown] - before[grown])
    return float(low + share.min() * (high - low))
