"""Curves with no more points than a figure can show: every column keeps its lowest and highest. Places in px."""

from __future__ import annotations

import math
from collections.abc import Sequence

from tideover.draw.svg import number

Point = tuple[float, float]
BREAK = 0.12
"""A point nearer to the straight line of its neighbours than this is left out. [px]"""


def thinned(points: Sequence[Point], columns: int) -> list[Point]:
    """First, lowest, highest and last point of every column, in their order, less those on a straight line.

    Parameters
    ----------
    points : sequence of (float, float)
        With x that never falls, or in any order. [px]
    columns : int
        How many there are from the least x to the greatest. [-]

    Returns
    -------
    points : list of (float, float)
        At most four for every column where x never falls. [px]
    """
    if len(points) < 3:
        return list(points)
    left = min(x for x, _ in points)
    wide = (max(x for x, _ in points) - left) / max(columns, 1) or 1.0
    kept: list[Point] = []
    run: list[Point] = []
    here = 0
    for point in points:
        column = int((point[0] - left) / wide)
        if run and column != here:
            kept += _extremes(run)
            run = []
        here = column
        run.append(point)
    kept += _extremes(run)
    return _straightened(kept)


def _extremes(run: Sequence[Point]) -> list[Point]:
    if len(run) <= 4:
        return list(run)
    low = min(range(len(run)), key=lambda k: run[k][1])
    high = max(range(len(run)), key=lambda k: run[k][1])
    return [run[k] for k in sorted({0, low, high, len(run) - 1})]


def _straightened(points: list[Point]) -> list[Point]:
    """Without the points that the line through those kept passes within `BREAK` (Douglas and Peucker 1973)."""
    if len(points) < 3:
        return points
    keep = {0, len(points) - 1}
    todo = [(0, len(points) - 1)]
    while todo:
        a, b = todo.pop()
        (xa, ya), (xb, yb) = points[a], points[b]
        long = math.hypot(xb - xa, yb - ya)
        far, at = 0.0, a
        for k in range(a + 1, b):
            x, y = points[k]
            off = abs((xb - xa) * (ya - y) - (xa - x) * (yb - ya)) / long if long > 0.0 else math.hypot(x - xa, y - ya)
            if off > far:
                far, at = off, k
        if far > BREAK:
            keep.add(at)
            todo += [(a, at), (at, b)]
    return [points[k] for k in sorted(keep)]


def route(points: Sequence[Point]) -> str:
    """Points as the data of a path."""
    steps = [f"{number(round(x, 1))} {number(round(y, 1))}" for x, y in points]
    kept = [s for k, s in enumerate(steps) if k == 0 or s != steps[k - 1]]
    return "M" + "L".join(kept if len(kept) > 1 else kept * 2)
