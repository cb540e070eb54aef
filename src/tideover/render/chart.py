"""A curve in characters, for terminals and pipes: every column shows the whole span that the curve has there."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from tideover.answers.base import Series
from tideover.quantity import show
from tideover.render.page import Page

HEIGHT = 12
SIGNS = ("•", "o", "x", "+", "#", "@")
"""Of the curves in one chart, in their order; the first wins where they cross."""
FLAT = 1e-9
"""A span smaller than this share of its values is a flat line."""


def charts(page: Page, series: Sequence[Series], height: int = HEIGHT) -> list[str]:
    """Charts of all curves, those with like axes together.

    Parameters
    ----------
    page : Page
        Where they go. [-]
    series : sequence of Series
        Curves. [-]
    height : int
        Lines of each chart. [-]

    Returns
    -------
    lines : list of str
        With axes, units and a legend.
    """
    groups: dict[tuple[str, str, str, bool], list[Series]] = {}
    for one in series:
        groups.setdefault((one.x_name, one.x_unit, one.y_unit, one.log), []).append(one)
    lines: list[str] = []
    for group in groups.values():
        for k in range(0, len(group), len(SIGNS)):
            lines += ([""] if lines else []) + chart(page, group[k : k + len(SIGNS)], height)
    return lines


def chart(page: Page, series: Sequence[Series], height: int = HEIGHT) -> list[str]:
    """One chart of curves with like axes; a line that says so when there is nothing to draw."""
    curves = [_finite(one) for one in series]
    legend = [f"  {page.plain(sign)} {page.plain(one.name)}" for sign, one in zip(SIGNS, series)]
    xs = [x for points in curves for x, _ in points]
    ys = [y for points in curves for _, y in points]
    if not xs:
        return [f"{line}: nothing to draw" for line in legend]
    x_unit, y_unit, log = series[0].x_unit, series[0].y_unit, series[0].log
    left, right = min(xs), max(xs)
    right = right if right > left else left + 1.0
    ticks = _decades(min(ys), max(ys), height) if log else _ticks(min(ys), max(ys))
    low, high = ticks[0], ticks[-1]
    rows = {round((high - tick) / (high - low) * (height - 1)): tick for tick in ticks}
    labels = {
        row: page.plain(show(_value(0.0 if abs(tick) < FLAT * (high - low) else tick, log), y_unit))
        for row, tick in rows.items()
    }
    margin = max(map(len, labels.values()))
    wide = max(page.width - margin - 4, 16)
    canvas = [[" "] * wide for _ in range(height)]
    for sign, points in reversed(list(zip(SIGNS, curves))):
        for column, (bottom, top) in _spans(points, left, right, wide).items():
            first, last = (round((high - y) / (high - low) * (height - 1)) for y in (top, bottom))
            for row in range(first, last + 1):
                canvas[row][column] = page.plain(sign)
    upright, corner, across = (page.plain(c) for c in ("│", "└", "─"))
    lines = [f"{labels.get(k, ''):>{margin + 2}} {upright}{''.join(row)}".rstrip() for k, row in enumerate(canvas)]
    lines.append(" " * (margin + 3) + corner + across * wide)
    ends = [page.plain(show(_value(x, log), x_unit)) for x in (left, (left + right) / 2, right)]
    name = page.plain(series[0].x_name)
    gap = max(wide - sum(map(len, ends)), 2)
    lines.append(" " * (margin + 4) + ends[0] + " " * (gap // 2) + ends[1] + " " * (gap - gap // 2) + ends[2])
    lines.append(" " * (margin + 4) + name.center(wide).rstrip())
    return lines + [line[: page.width] for line in legend]


def _finite(one: Series) -> list[tuple[float, float]]:
    """Points that can be drawn: where decades are asked for, the logarithms of those above zero."""
    points = [(x, y) for x, y in zip(one.x, one.y) if math.isfinite(x) and math.isfinite(y)]
    return [(math.log10(x), math.log10(y)) for x, y in points if x > 0.0 < y] if one.log else points


def _value(place: float, log: bool) -> float:
    """What stands at a place on an axis."""
    return 10.0**place if log else place


def _decades(low: float, high: float, height: int) -> list[float]:
    """Powers of ten from below the lowest to above the highest, skipping some where they would crowd."""
    first, last = math.floor(low + 1e-9), math.ceil(high - 1e-9)
    step = max(math.ceil(2.0 * max(last - first, 1) / max(height - 1, 1)), 1)
    return [float(first + k * step) for k in range(math.ceil(max(last - first, 1) / step) + 1)]


def _ticks(low: float, high: float) -> list[float]:
    """Round values from below the lowest to above the highest, three to six of them."""
    span = high - low
    if span <= FLAT * max(abs(low), abs(high), 1e-9):
        span = max(abs(high), 1e-9)
        low, high = low - span / 2, high + span / 2
    step = 10.0 ** math.floor(math.log10(span / 2))
    step *= next(m for m in (1.0, 2.0, 5.0, 10.0) if span / (m * step) <= 4.0 or m == 10.0)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [k * step for k in range(first, max(last, first + 1) + 1)]


def _spans(points: list[tuple[float, float]], left: float, right: float, wide: int) -> dict[int, tuple[float, float]]:
    """Lowest and highest value in every column, straight lines drawn between the points."""
    spans: dict[int, tuple[float, float]] = {}

    def at(x: float) -> float:
        return (x - left) / (right - left) * (wide - 1)

    def widen(column: int, *ys: float) -> None:
        old = spans.get(column, (math.inf, -math.inf))
        spans[column] = (min(old[0], *ys), max(old[1], *ys))

    for x, y in points:
        widen(round(at(x)), y, y)
    for (x0, y0), (x1, y1) in pairwise(points):
        a, b = sorted((round(at(x0)), round(at(x1))))
        for column in range(a + 1, b):
            share = (column - at(x0)) / (at(x1) - at(x0))
            widen(column, y0 + share * (y1 - y0), y0 + share * (y1 - y0))
        if a == b:
            widen(a, y0, y1)
    return spans
