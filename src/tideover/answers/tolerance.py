"""What if parts are at their tolerance limits?

Asks what
    For the key quantity of each answer (lowest and highest voltage at the load, the adapter's burden, the margin in an
    outage, runtime, time to full, the hottest part): its value with every figure at its worst, its limit by
    root-sum-square, the share of builds in which it keeps its limit, and which figures make its scatter.

Why it matters
    A drawing is built more than once, of parts that are never nominal. All-bad-at-once is rare and dear to design for;
    a share of builds says what a replicator will meet, and who makes the scatter says which part is worth its price.

How computed
    Extreme values by the corners that single figures point to, with 64 random corners as a check. Root-sum-square:
    biases (the room, ageing) added, three standard deviations of the rest. Yield: builds drawn by a Latin hypercube,
    each solved and marched like the drawing itself, with Wilson's 95 % interval; percentiles with their bootstrap
    interval. Workers change no number. Between its limits every value of a figure is as likely, or every factor where
    they lie far apart; parts from the same shelf item share half of their scatter, all parts share the room.
    Contributors by regression of ranks, with the share of the scatter that it explains. It holds if the worst corner
    and every sample do; it fails if surely fewer than 95 % of builds hold; between the two it is tight.

Blind spots
    A figure written without a tolerance does not vary. The true distribution is not known, nor how alike the parts of
    one lot are. In outages the two worst of the drawing are ridden, and a ride is ended where nothing can save it. Heat
    is looked at in one state, kept up for days. Peaks late in a run are left to the question on endurance.

An example that trips it
    A 5 V window of ±5 % fed by a converter that is set within ±3 % through a lead that takes another 2.6 %: every part
    is within its data sheet, and one build in ten is not.

Cure
    Move the nominal value to the middle of its window; narrow the figure that makes most of the scatter; leave the rest
    as cheap as it is.

Source
    Extreme value and root-sum-square with biases apart: ECSS-Q-HB-30-01A; interval: Wilson 1927; limits by order
    statistics: Wilks 1941. Lot correlation: typical, unverified.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tideover.answers import tolerance_said as say
from tideover.answers import tolerance_tables as tables_of
from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Answer, worst
from tideover.answers.context import Context
from tideover.answers.limits import YIELD
from tideover.answers.trials import Judged, Trial, Work, do, trials
from tideover.cases import PIECE, Extreme, Samples, samples, share
from tideover.cases import yields as statistics
from tideover.cases.batch import Array
from tideover.cases.samples import lot
from tideover.cases.yields import Share

KEY = "tolerance"
FEWEST = 10
"""Builds that must miss a limit before it is said what they have in common."""
APART = 0.15
"""Share of what sets them apart from which a figure is named."""


@dataclass(frozen=True)
class Result:
    """What came of one quantity.

    Attributes
    ----------
    judged : Judged
        The quantity and its limit.
    extreme : Extreme or None
        Its worst corner; None when interrupted before it was known.
    rss : float
        Its limit by root-sum-square; NaN where there is none.
    y : array, shape (samples,)
        Of each sample, at the far bad end where it has no value; NaN where the sample was not reached.
    points : tuple of (float, float, float)
        Percentiles with the limits of their interval, as `tideover.cases.yields.PERCENTILES`.
    shares : tuple of (str, float)
        Figures that make its scatter, the strongest first.
    r2 : float
        Share of the scatter that all figures explain together.
    missed : tuple of str
        What the builds that miss it have in common, the strongest first: ``brick voltage low``.
    """

    judged: Judged
    extreme: Extreme | None
    rss: float
    y: Array
    points: tuple[tuple[float, float, float], ...]
    shares: tuple[tuple[str, float], ...]
    r2: float
    missed: tuple[str, ...] = ()

    @cached_property
    def holds(self) -> NDArray[np.bool_]:
        """Which of the samples that were reached keep the limit."""
        reached = self.y[~np.isnan(self.y)]
        if self.judged.limit is None:
            return np.ones(len(reached), dtype=bool)
        return statistics.holds(reached, self.judged.worse, self.judged.limit)

    @cached_property
    def share(self) -> Share:
        """Share of builds in which it holds."""
        return statistics.wilson(int(self.holds.sum()), len(self.holds))

    def keeps(self, value: float) -> bool:
        """Whether a value is there and keeps the limit."""
        limit = self.judged.limit
        return limit is None or bool(statistics.holds(value, self.judged.worse, limit) and not np.isnan(value))

    @property
    def at_corner(self) -> bool:
        """Whether it holds with every figure at its worst."""
        return self.extreme is not None and not self.extreme.failed and self.keeps(self.extreme.value)

    @property
    def status(self) -> str:
        """Of this quantity."""
        if self.judged.limit is None:
            return HOLDS
        if self.extreme is None or (not self.share.count and not self.at_corner):
            return OPEN
        if self.share.high < YIELD.value:
            return FAILS
        return HOLDS if self.at_corner and self.holds.all() else TIGHT


def answer(context: Context) -> Answer:
    """What if parts are at their tolerance limits; see the top of this file."""
    if not context.spreads:
        return say.nothing_varies(KEY)
    tried = trials(context)
    if not tried:
        return say.nothing_to_try(KEY)
    rng = context.rng
    drawn = samples(context.network, context.spreads, context.samples, rng)
    results, interrupted = _results(context, tried, drawn, rng)
    asked = [r for r in results if r.judged.limit is not None]
    every = all_at_once(asked)
    found = [say.finding(context, r) for r in asked]
    found += say.together(context, asked, every)
    return Answer(
        KEY,
        worst(f.status for f in found) if found else HOLDS,
        say.headline(context, asked, every, interrupted),
        tuple(found),
        tables_of.tables(context, results, every),
        tables_of.series(results),
        spreads=tables_of.spreads(results),
    )


def _results(
    context: Context, tried: tuple[Trial, ...], drawn: Samples, rng: np.random.Generator
) -> tuple[list[Result], bool]:
    """Worst corners and samples of every trial, shared out piece by piece."""
    lean = replace(context, executor=None, told=None)
    cuts = range(0, drawn.batch.count, PIECE)
    works = [Work(lean, trial) for trial in tried]
    for first in cuts:
        piece = drawn.batch.take(np.arange(first, min(first + PIECE, drawn.batch.count)))
        works += [Work(lean, trial, piece) for trial in tried]
    shared = share(do, works, context.executor, context.told)
    results = []
    for k, trial in enumerate(tried):
        corners = shared.results[k]
        pieces = shared.results[len(tried) + k :: len(tried)]
        y = np.full((len(trial.judged), drawn.batch.count), np.nan)
        for first, values in zip(cuts, pieces):
            if isinstance(values, np.ndarray):
                for row, one, judged in zip(y, values, trial.judged):
                    row[first : first + PIECE] = statistics.filled(one, judged.worse)
        for q, judged in enumerate(trial.judged):
            extreme = corners[q] if isinstance(corners, tuple) else None
            results.append(_result(context, judged, extreme, y[q], drawn.u, rng))
    return results, shared.interrupted


def _result(
    context: Context, judged: Judged, extreme: Extreme | None, y: Array, u: Array, rng: np.random.Generator
) -> Result:
    reached = ~np.isnan(y)
    known = y[reached]
    points: tuple[tuple[float, float, float], ...] = ()
    if len(known):
        a, b, c = np.sort(known)[statistics.places(len(known), rng)].T
        points = tuple(zip(a.tolist(), b.tolist(), c.tolist()))
    each, r2 = statistics.contributions(u[reached], known)
    shares = tuple((say.called(context.spreads[k]), float(each[k])) for k in np.argsort(-each, kind="stable"))
    rss = float("nan")
    if extreme is not None and np.isfinite(extreme.nominal):
        lots = [lot(context.network, s) for s in context.spreads]
        rss = statistics.root_sum_square(extreme.nominal, extreme.alone, context.spreads, lots, judged.worse)
        if not extreme.failed:  # three deviations of an even distribution reach past its limits; no build does
            rss = max(rss, extreme.value) if judged.worse == "low" else min(rss, extreme.value)
    missed: tuple[str, ...] = ()
    if judged.limit is not None:
        missed = _in_common(context, u[reached], ~statistics.holds(known, judged.worse, judged.limit))
    return Result(judged, extreme, rss, y, points, shares, r2, missed)


def _in_common(context: Context, u: Array, miss: NDArray[np.bool_]) -> tuple[str, ...]:
    """What sets the builds that miss a limit apart from the others; nothing where few or nearly all do."""
    if not FEWEST <= miss.sum() <= 0.9 * len(miss):
        return ()
    each, total = statistics.contributions(u, miss.astype(float))
    top = [k for k in np.argsort(-each, kind="stable") if each[k] >= APART * total][:3]
    high = u[miss].mean(axis=0) > u[~miss].mean(axis=0)
    return tuple(f"{say.called(context.spreads[k])} {'high' if high[k] else 'low'}" for k in top)


def all_at_once(asked: list[Result]) -> Share:
    """Share of builds that hold in everything, of the samples that were tried for everything."""
    if not asked:
        return statistics.wilson(0, 0)
    y = np.array([r.y for r in asked])
    reached = ~np.isnan(y).any(axis=0)
    keeps = [
        statistics.holds(r.y[reached], r.judged.worse, r.judged.limit) for r in asked if r.judged.limit is not None
    ]
    return statistics.wilson(int(np.all(keeps, axis=0).sum()), int(reached.sum()))
