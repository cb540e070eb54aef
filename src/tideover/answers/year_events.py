"""Outages of many years, side by side: drawn from a pattern, or cut from a log.

A year is a row, its outages in order of time; two that overlap are one. Rows with fewer outages than the fullest are
filled up with begins that never come.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from tideover.design.model import OutageLog, Outages, Slots
from tideover.laws import outages as law

Array = NDArray[np.float64]
Months = NDArray[np.int64]
YEAR = 365.25 * 86400.0
DAY = 86400.0
MOST_EVENTS = 160_000
"""Outages drawn in all: enough for a share of one in a hundred to be known within a tenth of itself."""
FEWEST, MOST = 200, 4000
"""Years drawn, whatever the number of outages in one."""


@dataclass(frozen=True)
class Events:
    """Outages of some years.

    Attributes
    ----------
    start, end : array, shape (years, most outages)
        Infinite where there is no further outage. [s]
    month : int array, shape (years, most outages)
        Month of the begin, 0 the first.
    lasts : float
        Of every year, or of the log. [s]
    """

    start: Array
    end: Array
    month: Months
    lasts: float

    @property
    def real(self) -> NDArray[np.bool_]:
        """Where there is an outage."""
        return np.isfinite(self.start)

    @property
    def length(self) -> Array:
        """Of each outage; 0 where there is none. [s]"""
        return np.where(self.real, self.end, 0.0) - np.where(self.real, self.start, 0.0)


def how_many_years(pattern: Outages) -> int:
    """Years to draw: more where outages are rare."""
    often = (pattern.rate + pattern.short_ones) * YEAR
    if pattern.slots:
        often += len(pattern.slots.spans) * len(pattern.slots.days) * pattern.slots.chance * 52.18
    return int(np.clip(MOST_EVENTS / max(often, 1.0), FEWEST, MOST))


def draw(pattern: Outages, years: int, rng: np.random.Generator) -> Events:
    """Draw years of outages.

    Parameters
    ----------
    pattern : Outages
        As written in the build file, or typical. [-]
    years : int
        How many. [-]
    rng : Generator
        Where the draws come from; show its seed. [-]

    Returns
    -------
    events : Events
        With a log, its own outages from a random day on, round and round. [-]
    """
    if pattern.log:
        return _cut(pattern.log, years, rng)
    columns = [_unplanned(pattern, years, rng), _short(pattern, years, rng)]
    if pattern.slots:
        columns.append(_planned(pattern.slots, years, rng))
    start, end = (np.concatenate([c[k] for c in columns], axis=1) for k in (0, 1))
    start = np.where(start < YEAR, start, np.inf)
    month = np.where(np.isfinite(start), start, 0.0) * (12.0 / YEAR)
    return settled(start, end, month.astype(np.int64), YEAR)


def settled(start: Array, end: Array, month: Months, lasts: float) -> Events:
    """In order of time, what overlaps joined to one outage."""
    order = np.argsort(start, axis=1, kind="stable")
    start, end = np.take_along_axis(start, order, axis=1), np.take_along_axis(end, order, axis=1)
    month = np.take_along_axis(month, order, axis=1)
    real = np.isfinite(start)
    reach = np.maximum.accumulate(np.where(real, end, -np.inf), axis=1)
    before = np.concatenate([np.full((len(start), 1), -np.inf), reach[:, :-1]], axis=1)
    fresh = real & (start > before)
    row, _ = np.nonzero(real)
    place = (np.cumsum(fresh, axis=1) - 1)[real]
    width = max(int(fresh.sum(axis=1).max(initial=0)), 1)
    first = np.full((len(start), width), np.inf)
    last = np.full((len(start), width), -np.inf)
    of_month = np.zeros((len(start), width), dtype=np.int64)
    np.minimum.at(first, (row, place), start[real])
    np.maximum.at(last, (row, place), end[real])
    fresh_row, _ = np.nonzero(fresh)
    of_month[fresh_row, (np.cumsum(fresh, axis=1) - 1)[fresh]] = month[fresh]
    return Events(first, np.where(np.isfinite(first), last, np.inf), of_month, lasts)


def durations(pattern: Outages, shape: tuple[int, ...], rng: np.random.Generator) -> Array:
    """Durations of outages that are not short ones. [s]"""
    if pattern.law == "each":
        return np.full(shape, pattern.mean)
    if pattern.law == "exponential":
        return rng.exponential(pattern.mean, shape)
    return rng.lognormal(float(law.lognormal_mu(pattern.mean, pattern.spread)), pattern.spread, shape)


def _scattered(rate: float, years: int, rng: np.random.Generator) -> Array:
    """Begins of a Poisson process, shape (years, most)."""
    count = rng.poisson(rate * YEAR, years)
    start = rng.uniform(0.0, YEAR, (years, max(int(count.max(initial=0)), 1)))
    return np.where(np.arange(start.shape[1]) < count[:, None], start, np.inf)


def _unplanned(pattern: Outages, years: int, rng: np.random.Generator) -> tuple[Array, Array]:
    """Outages that come by themselves, and those that follow them: each may be followed by another."""
    start = _scattered(pattern.rate * (1.0 - pattern.follow_on), years, rng)
    columns = []
    while np.isfinite(start).any():
        end = start + durations(pattern, start.shape, rng)
        columns.append((start, end))
        follows = np.isfinite(start) & (rng.random(start.shape) < pattern.follow_on)
        gap = _gap(pattern.within, rng.random(start.shape))
        start = np.sort(np.where(follows, end + gap, np.inf), axis=1)
        start = start[:, : max(int(np.isfinite(start).sum(axis=1).max()), 1)]
    if not columns:
        return np.full((years, 1), np.inf), np.full((years, 1), np.inf)
    first, last = (np.concatenate([c[k] for c in columns], axis=1) for k in (0, 1))
    return first, last


def _gap(within: float, u: Array) -> Array:
    """From the end of an outage to the begin of the one that follows it: exponential, cut off at its longest. [s]"""
    n = law.WITHIN_OVER_MEAN
    return -within / n * np.log1p(u * np.expm1(-n))


def _short(pattern: Outages, years: int, rng: np.random.Generator) -> tuple[Array, Array]:
    """Momentary interruptions; all orders of magnitude of their duration are equally likely."""
    start = _scattered(pattern.short_ones, years, rng)
    low, high = np.log(law.SHORTEST), np.log(law.SUSTAINED)
    return start, start + np.exp(rng.uniform(low, high, start.shape))


def _planned(slots: Slots, years: int, rng: np.random.Generator) -> tuple[Array, Array]:
    """Planned slots; every year begins on a weekday of its own."""
    days = np.arange(366)
    weekday = (days + rng.integers(0, 7, (years, 1))) % 7
    wanted = np.isin(weekday, slots.days)[:, :, None]
    wanted[:, 365] &= (np.arange(years) % 4 == 0)[:, None]  # a leap day
    used = wanted & (rng.random((years, len(days), len(slots.spans))) < slots.chance)
    begin, end = (days[:, None] * DAY + np.array([s[k] for s in slots.spans]) for k in (0, 1))
    start = np.where(used, begin, np.inf).reshape(years, -1)
    return start, np.where(used, end, np.inf).reshape(years, -1)


# --- logs ----------------------------------------------------------------------------------------------


def replayed(log: OutageLog) -> Events:
    """The log as it was, one row."""
    spans = np.array(log.spans)
    return Events(spans[None, :, 0], spans[None, :, 1], _calendar(log)[None], log.lasts)


def _calendar(log: OutageLog) -> Months:
    return np.array([(log.begins + timedelta(seconds=begin)).month - 1 for begin, _ in log.spans])


def _cut(log: OutageLog, years: int, rng: np.random.Generator) -> Events:
    """Years cut from a log that is closed to a ring, each from a moment drawn anew."""
    spans, offset = np.array(log.spans), rng.uniform(0.0, log.lasts, (years, 1))
    rounds = int(np.ceil(YEAR / log.lasts)) + 1
    turn = np.repeat(np.arange(rounds), len(spans)) * log.lasts
    start = (np.tile(spans[:, 0], rounds) - offset) % log.lasts + turn
    end = start + np.tile(spans[:, 1] - spans[:, 0], rounds)
    month = np.broadcast_to(np.tile(_calendar(log), rounds), start.shape)
    start = np.where(start < YEAR, start, np.inf)
    return settled(start, end, month, YEAR)
