"""What many years of outages come to: how often the load is lost, for how long, with the interval of the draw."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tideover.answers.year_course import Course
from tideover.answers.year_events import YEAR, Events
from tideover.laws.outages import SUSTAINED

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
NORMAL = 1.96
"""Of a two-sided 95 % interval, in standard deviations."""
NONE_SEEN = 3.0
"""Upper 95 % limit of what was expected when nothing was seen: minus the logarithm of 0.05."""
CERTAIN = 0.98
"""Share of years with a loss above which their mean number says more about the first one."""


@dataclass(frozen=True)
class Switch:
    """What the changeover itself does to the load.

    Attributes
    ----------
    lost, back : bool
        Whether the load drops when mains is lost, and when it is back.
    reboot : float
        Until it serves again. [s]
    delay : float
        From mains back until the adapter's output is up. [s]
    stands : bool
        Whether there is a lasting state with mains present and the pack full; where there is none, every outage is
        counted as a loss.
    """

    lost: bool
    back: bool
    reboot: float
    delay: float
    stands: bool = True


@dataclass(frozen=True)
class Estimate:
    """A mean, and the 95 % interval that the number of years drawn leaves."""

    mean: float
    low: float
    high: float


@dataclass(frozen=True)
class Figures:
    """One case over all its years.

    Attributes
    ----------
    losses : Estimate
        Of the load in a year. [-]
    time : Estimate
        Without it in a year. [s]
    sustained : float
        Losses in a year that last more than five minutes. [-]
    bridged : Estimate
        Share of outages that the load does not notice: the chance that the next one is such. [-]
    years : float
        Share of years with a loss. [-]
    bad : float
        Losses in the worst year of twenty. [-]
    spared : float
        Losses in a year that a pack always full would have carried. [-]
    monthly : array, shape (12,)
        Losses in each month of a year. [-]
    counts : array, shape (years,)
        Losses in each year. [-]
    """

    losses: Estimate
    time: Estimate
    sustained: float
    bridged: Estimate
    years: float
    bad: float
    spared: float
    monthly: Array
    counts: Array


def lost(course: Course, events: Events, switch: Switch) -> tuple[Flags, Array]:
    """Which outages the load notices, and for how long it is gone; both of the shape of the course. [s]"""
    length = np.broadcast_to(events.length, course.short.shape)
    out = course.short > 0.0
    first = np.minimum(switch.reboot, length - course.short) if switch.lost else 0.0
    again = np.where(out, course.short + switch.delay + switch.reboot, switch.reboot if switch.back else 0.0)
    real = np.broadcast_to(events.real, out.shape)
    flags = real & (out | switch.lost | switch.back)
    return flags, np.where(flags, np.minimum(first + again, _until_next(events)), 0.0)


def _until_next(events: Events) -> Array:
    """From the begin of each outage to that of the next: a load cannot be gone for longer by one outage. [s]"""
    start = np.where(events.real, events.start, np.inf)
    following = np.concatenate([start[:, 1:], np.full((len(start), 1), np.inf)], axis=1)
    return np.where(np.isfinite(following), following - np.where(events.real, start, 0.0), np.inf)


def without_backup(events: Events, switch: Switch) -> tuple[Flags, Array]:
    """The same with nothing but the adapter, shape (1, years, most outages): every outage is a loss. [s]"""
    gone = np.minimum(events.length + switch.delay + switch.reboot, _until_next(events))
    return events.real[None], np.where(events.real, gone, 0.0)[None]


def figures(
    flags: Flags, time: Array, events: Events, spared: Flags | None = None, logged: float | None = None
) -> list[Figures]:
    """Figures of every case.

    Parameters
    ----------
    flags, time : array, shape (cases, years, most outages)
        From `lost`. [-] [s]
    events : Events
        Of the years. [-]
    spared : array of the same shape, optional
        Losses that a full pack would not have had. [-]
    logged : float, optional
        How long the log lasts that the years are cut from. Drawing more years makes it no longer: the interval is
        then that of a count in the log itself. [s]
    """
    scale = YEAR / events.lasts
    found = [
        _figures(flags[c], time[c], events, scale, np.zeros_like(flags[c]) if spared is None else spared[c])
        for c in range(len(flags))
    ]
    return [_of_log(f, logged) for f in found] if logged else found


def _of_log(f: Figures, lasts: float) -> Figures:
    """With the interval of a count; the time lost is taken to vary with it."""
    losses = counted(f.losses.mean * lasts / YEAR, lasts)
    wide = (losses.low / losses.mean, losses.high / losses.mean) if losses.mean else (1.0, 1.0)
    return replace(f, losses=losses, time=Estimate(f.time.mean, wide[0] * f.time.mean, wide[1] * f.time.mean))


def _figures(flags: Flags, time: Array, events: Events, scale: float, spared: Flags) -> Figures:
    counts, outages = flags.sum(axis=1).astype(float), events.real.sum(axis=1).astype(float)
    losses = _estimate(counts * scale, scale)
    return Figures(
        losses,
        _estimate(time.sum(axis=1) * scale, 0.0),
        float((time > SUSTAINED).sum() * scale / len(flags)),
        _ratio(outages - counts, outages),
        float((counts > 0.0).mean()),
        float(np.quantile(counts, 0.95, method="higher")),
        float(spared.sum() * scale / len(flags)),
        np.bincount(events.month[flags], minlength=12)[:12] * scale / len(flags),
        counts,
    )


def _estimate(each: Array, one: float) -> Estimate:
    """Mean over years; where nothing was seen, what could still be expected, `one` being a single event."""
    mean = float(each.mean())
    if mean == 0.0:
        return Estimate(0.0, 0.0, NONE_SEEN * one / len(each))
    half = NORMAL * float(each.std(ddof=1)) / len(each) ** 0.5 if len(each) > 1 else NORMAL * (mean * one) ** 0.5
    return Estimate(mean, max(mean - half, 0.0), mean + half)


def _ratio(part: Array, whole: Array) -> Estimate:
    """Share of all outages, with the interval of a ratio of two sums over years."""
    if not whole.sum():
        return Estimate(1.0, 1.0, 1.0)
    share = float(part.sum() / whole.sum())
    spread = float(np.sqrt(((part - share * whole) ** 2).sum())) / float(whole.sum())
    least = NONE_SEEN / float(whole.sum()) / NORMAL if share in (0.0, 1.0) else spread
    return Estimate(share, max(share - NORMAL * least, 0.0), min(share + NORMAL * least, 1.0))


def counted(number: float, lasts: float) -> Estimate:
    """Losses a year from those counted in a log, with the interval of a Poisson count.

    Parameters
    ----------
    number : float
        Counted, or expected in the time of the log. [-]
    lasts : float
        The log. [s]
    """
    from scipy.stats import chi2

    low = 0.5 * float(chi2.ppf(0.025, 2 * number)) if number else 0.0
    high = 0.5 * float(chi2.ppf(0.975, 2 * number + 2))
    return Estimate(number * YEAR / lasts, low * YEAR / lasts, high * YEAR / lasts)


def until_first(by_age: Sequence[Figures], ages: Array) -> tuple[float, float]:
    """Time in which half of all such supplies have lost their load once, and the share without a loss at the end.

    Beyond the last age its rate goes on; infinite where there is no loss. [s] [-]
    """
    rate = np.array(
        [f.losses.mean if f.years > CERTAIN else -np.log1p(-f.years) for f in by_age], dtype=float
    ) / YEAR  # fmt: skip
    t = np.linspace(0.0, ages[-1], 1001)
    each = np.interp(t, ages, rate)
    total = np.concatenate([[0.0], np.cumsum(0.5 * (each[1:] + each[:-1]) * np.diff(t))])
    half = float(np.log(2.0))
    spared = float(np.exp(-total[-1]))
    if total[-1] >= half:
        return float(np.interp(half, total, t)), spared
    return (float(t[-1] + (half - total[-1]) / rate[-1]) if rate[-1] > 0.0 else np.inf), spared
