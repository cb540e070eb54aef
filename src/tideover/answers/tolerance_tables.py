"""Tables and curves of the tolerance answer."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from tideover.answers import tolerance_said as say
from tideover.answers.base import FAILS, TIGHT, Series, Spread, Table
from tideover.answers.context import Context
from tideover.cases.samples import LOT_SHARE, law, lot
from tideover.cases.yields import Share, biased
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.answers.tolerance import Result

NAMED = 5
"""Figures of each quantity that are listed."""
WORTH_NAMING = 0.02
"""Share of the scatter below which a figure is not listed."""
CURVE = 101
"""Points of a curve."""
CLASSES = 30
"""Classes of a distribution."""


def tables(context: Context, results: Sequence[Result], every: Share) -> tuple[Table, ...]:
    """All tables, those without rows left out."""
    found = (verdicts(results, every), percentiles(results), contributors(results), figures(context))
    return tuple(t for t in found if t.rows)


def verdicts(results: Sequence[Result], every: Share) -> Table:
    """Each quantity in a row: three ways of counting."""
    columns = tuple((name, "") for name in ("", "limit", "written", "corner", "RSS", "hold", "at least", ""))
    rows: list[tuple[Any, ...]] = []
    for r in results:
        unit, limit = r.judged.unit, r.judged.limit
        nominal, value = (r.extreme.nominal, r.extreme.value) if r.extreme else (np.nan, np.nan)
        rows.append(
            (
                r.judged.short,
                _shown(limit, unit) if limit is not None else "none",
                *(_shown(x, unit) for x in (nominal, value, r.rss)),
                *(_held(r.share) if limit is not None else ("", "")),
                r.status if limit is not None else "",
            )
        )
    rows.append(("together", *("",) * 4, *_held(every), ""))
    title = "At the tolerance limits: as written, at the worst corner, by root-sum-square with biases added; "
    return Table(title + "share of builds that hold, and the low end of its 95 % interval", columns, tuple(rows))


def _held(share: Share) -> tuple[str, str]:
    return (say.percent(share.value), show(share.low, "%")) if share.count else ("", "")


def percentiles(results: Sequence[Result]) -> Table:
    """What the samples span."""
    columns = tuple((name, "") for name in ("", "1 % lie below", "half lie below", "99 % lie below"))
    rows = []
    for r in results:
        if r.points:
            unit = r.judged.unit
            rows.append((r.judged.short, *(_with_interval(point, unit) for point in r.points)))
    return Table("Percentiles of the samples, with their 95 % interval", columns, tuple(rows))


def contributors(results: Sequence[Result]) -> Table:
    """Who makes the scatter of each quantity."""
    rows = []
    for r in results:
        named = [(name, share) for name, share in r.shares[:NAMED] if share >= WORTH_NAMING]
        for k, (name, share) in enumerate(named):
            rows.append((r.judged.short if k == 0 else "", name, show(share, "%", 2)))
        if named:
            rows.append(("", "all figures together, by this count", show(r.r2, "%", 2)))
    columns = (("", ""), ("figure", ""), ("share of its scatter", ""))
    return Table("What makes the scatter", columns, tuple(rows))


def figures(context: Context) -> Table:
    """How each figure was drawn."""
    count: dict[object, int] = {}
    for s in context.spreads:
        key = lot(context.network, s)
        count[key] = count.get(key, 0) + 1
    rows = []
    for s in context.spreads:
        key = lot(context.network, s)
        with_others = "shared by all" if biased(s) else ""
        if key is not None and count[key] > 1:
            with_others = f"{show(LOT_SHARE, '%')} its lot's"
        rows.append((say.called(s), show(s.low, s.unit), show(s.high, s.unit), law(s), with_others))
    columns = (("figure", ""), ("from", ""), ("to", ""), ("drawn", ""), ("", ""))
    return Table("How the figures were drawn", columns, tuple(rows))


def series(results: Sequence[Result]) -> tuple[Series, ...]:
    """Share of builds that lie below each value, for what does not hold."""
    out = []
    for r in results:
        known = r.y[np.isfinite(r.y)]
        if r.judged.limit is None or r.status not in (FAILS, TIGHT) or len(known) < 2:
            continue
        below = int(np.count_nonzero(np.isneginf(r.y)))
        rank = np.linspace(0, len(known) - 1, min(CURVE, len(known))).astype(int)
        share = (below + rank + 1) / np.count_nonzero(~np.isnan(r.y))
        x = tuple(np.sort(known)[rank].tolist())
        name = f"{r.judged.name}, share of builds below; limit {show(r.judged.limit, r.judged.unit, 4)}"
        out.append(Series(name, r.judged.name, r.judged.unit, "%", x, tuple(share.tolist())))
    return tuple(out)


def spreads(results: Sequence[Result]) -> tuple[Spread, ...]:
    """How the samples of each quantity lie; those without a value count for the shares and stand in no class."""
    out = []
    for r in results:
        known, reached = r.y[np.isfinite(r.y)], int(np.count_nonzero(~np.isnan(r.y)))
        if not len(known):
            continue
        low, high = float(known.min()), float(known.max())
        if high - low <= 1e-9 * max(abs(low), abs(high)):
            room = max(abs(low), abs(high), 1e-9) * 1e-3
            low, high = low - room, high + room
        number, edges = np.histogram(known, bins=CLASSES, range=(low, high))
        share, judged = r.share, r.judged
        out.append(
            Spread(
                judged.short,
                judged.name,
                judged.unit,
                tuple(edges.tolist()),
                tuple((number / reached).tolist()),
                judged.limit,
                judged.worse,
                *(share.value, share.low, share.high),
                share.count,
            )
        )
    return tuple(out)


def _with_interval(point: tuple[float, float, float], unit: str) -> str:
    value, low, high = (_shown(x, unit) for x in point)
    return value if low == high else f"{value} ({low} to {high})"


def _shown(value: float, unit: str) -> str:
    return show(value, unit) if np.isfinite(value) else "none"
