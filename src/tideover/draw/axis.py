"""Axes: round ticks in the unit that people read, and where a value stands. Values in SI, places in px."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from tideover.draw.svg import breadth
from tideover.quantity import ZERO_CELSIUS, show

FLAT = 1e-9
"""A span smaller than this share of its values is one value."""
YEAR = 365.25 * 86400.0
MINUTE, HOUR, DAY = 60.0, 3600.0, 86400.0
TIMES = (
    *(k * MINUTE for k in (0.5, 1, 2, 5, 10, 15, 30)),
    *(k * HOUR for k in (1, 2, 3, 6, 12)),
    *(k * DAY for k in (1, 2, 5, 10, 20, 50, 100, 200)),
    *(k * YEAR for k in (1, 2, 5, 10, 20, 50, 100)),
)
"""Steps of a clock, from half a minute. [s]"""
CHARGE_FROM, ENERGY_FROM = 3.6, 180.0
"""From here charge is read in ampere-hours and energy in watt-hours. [C], [J]"""
CLOCK_FROM = 120.0
"""From here time is read in minutes, hours, days. [s]"""
NOUNS = {
    "V": "voltage",
    "A": "current",
    "W": "power",
    "J": "energy",
    "C": "charge",
    "K": "temperature",
    "s": "time",
    "%": "share",
    "ohm": "resistance",
    "F": "capacitance",
    "A^2 s": "integral of the current squared",
}
"""What an axis shows, by its SI unit; nothing where the unit says nothing."""
MOST = 9
"""Ticks of a wide axis."""


@dataclass(frozen=True)
class Axis:
    """From `low` to `high` in SI, drawn from `start` to `end` in px; `ticks` lie inside, with their `labels`."""

    low: float
    high: float
    start: float
    end: float
    ticks: tuple[float, ...]
    labels: tuple[str, ...]
    log: bool = False

    def at(self, value: float) -> float:
        """Where a value stands; what lies outside stands at the end. [px]"""
        low, high = self._place(self.low), self._place(self.high)
        if self.log and value <= 0.0:
            return self.start
        share = (self._place(value) - low) / (high - low)
        return self.start + min(max(share, 0.0), 1.0) * (self.end - self.start)

    def _place(self, value: float) -> float:
        return math.log10(value) if self.log else value


def span(values: Iterable[float], log: bool = False) -> tuple[float, float]:
    """Lowest and highest of some values, widened where they are one; 0 to 1 where there are none.

    Examples
    --------
    >>> span([3.0, 5.0]), span([2.0, 2.0]), span([])
    ((3.0, 5.0), (1.0, 3.0), (0.0, 1.0))
    """
    known = [v for v in values if math.isfinite(v) and (v > 0.0 or not log)]
    if not known:
        return (0.1, 1.0) if log else (0.0, 1.0)
    low, high = min(known), max(known)
    if log:
        return (low, high) if high > low * (1.0 + FLAT) else (low / 3.0, high * 3.0)
    size = max(abs(low), abs(high))
    if high - low > FLAT * size:
        return low, high
    return (low - size / 2.0, high + size / 2.0) if size > 0.0 else (-0.5, 0.5)


def ticks(low: float, high: float, unit: str, most: int) -> list[float]:
    """Round values from `low` to `high`, `most` at most; two at least where `most` is three or more."""
    zero, scale = _reading(low, high, unit)
    a, b = (low - zero) / scale, (high - zero) / scale
    slack = 1e-9 * max(abs(a), abs(b)) / max(b - a, 1e-300)
    first = last = 0
    for parts in (*range(most + 1, 0, -1), *range(most + 2, 4 * most + 8)):
        step = _step(b - a, parts, unit == "s")
        first, last = math.ceil(a / step - slack), math.floor(b / step + slack)
        if 1 <= last - first < most:
            break
        if last - first >= most and parts > most + 1:  # no round step gives the wanted number: leave some out
            break
    skip = -(-(last - first + 1) // most)
    return [min(max(zero + k * step * scale, low), high) for k in range(first, last + 1, skip)]


def marked(low: float, high: float, unit: str, most: int) -> tuple[tuple[float, ...], tuple[str, ...]]:
    """Ticks and their words; one whose words say no more than those before it is left out."""
    places = ticks(low, high, unit, most)
    said: dict[str, float] = {}
    for place, name in zip(places, labels(places, unit)):
        said.setdefault(name, place)
    return tuple(said.values()), tuple(said)


def labels(places: Sequence[float], unit: str) -> list[str]:
    """Ticks in words, with digits enough to tell their values."""
    if not places:
        return []
    zero, scale = _reading(min(places), max(places), unit)
    step = min((b - a for a, b in pairwise(places)), default=abs(places[0]) or 1.0) / scale
    for digits in range(2, 16):
        if all(abs(float(f"{(v - zero) / scale:.{digits - 1}e}") - (v - zero) / scale) < 1e-3 * step for v in places):
            break
    return [show(v, unit, digits) for v in places]


def decades(low: float, high: float, most: int) -> list[float]:
    """Powers of ten inside two limits, some skipped where they would crowd."""
    first, last = math.ceil(math.log10(low) - 1e-9), math.floor(math.log10(high) + 1e-9)
    step = max(math.ceil((last - first + 1) / max(most, 1)), 1)
    return [10.0**k for k in range(first, last + 1, step)]


def spots(made: Axis, size: float, left: float, right: float) -> list[tuple[float, float]]:
    """Middle and half the breadth of the words below each tick, kept between two sides. [px]"""
    halves = [breadth(said, size) / 2.0 for said in made.labels]
    return [(min(max(made.at(t), left + half), right - half), half) for t, half in zip(made.ticks, halves)]


def roomy(found: Sequence[tuple[float, float]], size: float) -> bool:
    """Whether words at such places keep apart."""
    return all(a + wide + other + 0.8 * size <= b for (a, wide), (b, other) in pairwise(found))


def _reading(low: float, high: float, unit: str) -> tuple[float, float]:
    """Zero and size of the unit in which values are read."""
    size = max(abs(low), abs(high))
    if unit == "K" and low >= 100.0:
        return ZERO_CELSIUS, 1.0
    if (unit == "C" and size >= CHARGE_FROM) or (unit == "J" and size >= ENERGY_FROM):
        return 0.0, 3600.0
    return 0.0, 1.0


def _step(width: float, parts: int, clock: bool) -> float:
    """The least round step that divides a width into so many parts or fewer."""
    least = width / max(parts, 1)
    if clock and width >= CLOCK_FROM:
        found = next((s for s in TIMES if s >= least * (1.0 - 1e-9)), None)
        if found:
            return found
        return YEAR * _round_up(least / YEAR)
    return _round_up(least)


def _round_up(least: float) -> float:
    power = 10.0 ** math.floor(math.log10(least))
    return next((m * power for m in (1.0, 2.0, 5.0) if m * power >= least * (1.0 - 1e-9)), 10.0 * power)
