"""Stamps put in order: midnight, summer time, restarts, holes, rows that carry the same stamp."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from tideover.cells.log import Array
from tideover.cells.log_times import DAY, HALF_DAY

HOUR = 3600.0
HOLE = 50.0
"""Times the step between rows before and after, that a step must have to be a hole in the record."""
SHORTEST_HOLE = 60.0
"""A hole is no shorter. [s] A logger's own hiccups are."""
MOST_FALLS = 0.02
"""Share of rows at which time may fall back; a column that falls more often is no time."""

OFTEN = 0.3
"""Share of rows that repeat a stamp from which on the stamps are coarse, whatever the rows hold."""

Rows = NDArray[np.int_]


@dataclass
class Ordered:
    """Rows in order.

    Attributes
    ----------
    rows : array of int, shape (n,)
        Which of the given rows are kept, in order.
    t : array, shape (n,)
        From 0, strictly ascending. [s]
    breaks : list of int
        Rows, of those kept, that begin anew after a restart or a hole. [-]
    notes : list of str
        What was done.
    falls : int
        How often time fell back, when that is too often to be a time; else 0. [-]
    """

    rows: Rows
    t: Array
    breaks: list[int] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    falls: int = 0


def ordered(stamps: Array, kind: str, same: Callable[[int, int], bool], lines: Rows) -> Ordered:
    """Put rows in order of time.

    Parameters
    ----------
    stamps : array, shape (n,)
        As read, finite. [s]
    kind : str
        ``clock`` begins anew at midnight; ``date`` without a zone may be put forward or back an hour; anything else is
        a running count.
    same : callable
        ``same(a, b)`` says whether two rows have the same readings.
    lines : array of int, shape (n,)
        Line of each row, for the notes. [-]
    """
    rows: Rows = np.arange(len(stamps))
    notes: list[str] = []
    t = stamps.astype(float)
    steps = np.diff(t)
    if len(t) > 2 and (steps <= 0).all() and (steps < 0).sum() > 1:
        rows, t, steps = rows[::-1], t[::-1], -steps[::-1]
        notes.append("The newest row stands first; the rows were turned round.")
    usual = float(np.median(steps[steps > 0])) if (steps > 0).any() else 1.0
    if kind == "clock":
        t = _past_midnight(t, usual, notes)
    elif kind == "date":
        t = _summer_time(t, usual, notes)
    steps = np.diff(t)
    falls = np.flatnonzero(steps < 0)
    if len(falls) > max(3, MOST_FALLS * len(t)):
        return Ordered(rows, t, falls=len(falls))
    breaks = [int(k) + 1 for k in falls]
    if breaks:
        moved = np.zeros(len(t))
        moved[1:][falls] = usual - steps[falls]
        t = t + np.cumsum(moved)
        at = ", ".join(str(lines[rows[k]]) for k in breaks[:5]) + (" and more" if len(breaks) > 5 else "")
        pieces = f"{len(breaks) + 1} pieces"
        notes.append(f"Time falls back in line {at}: {pieces} were joined, what lies between them is not known.")
    keep, t, said = _apart(t, rows, same)
    notes += said
    index = np.cumsum(keep) - 1
    breaks = [int(index[k]) for k in breaks]
    rows, t = rows[keep], t[keep]
    holes = _holes(t)
    new = sorted(set(holes) - set(breaks))
    if new:
        longest = max(float(t[k] - t[k - 1]) for k in new)
        at = ", ".join(str(lines[rows[k]]) for k in new[:5]) + (" and more" if len(new) > 5 else "")
        notes.append(
            f"Rows are missing before line {at} (up to {longest:.6g} s): nothing is taken for granted in between."
        )
    breaks = sorted(k for k in {*breaks, *holes} if 0 < k < len(t))
    return Ordered(rows, t - t[0] if len(t) else t, breaks, notes)


def _past_midnight(t: Array, usual: float, notes: list[str]) -> Array:
    """Clock times that pass midnight go on; a clock that falls back to near zero within the day was restarted."""
    steps = np.diff(t)
    falls = np.flatnonzero(steps < 0)
    near = max(100.0 * usual, 600.0)
    passed = [k for k in falls if t[k] < DAY + 1.0 and t[k + 1] < HALF_DAY < t[k] and steps[k] + DAY <= near]
    if not passed:
        return t
    notes.append(f"The clock passes midnight {len(passed)} time{'s' if len(passed) > 1 else ''}.")
    moved = np.zeros(len(t))
    moved[1:][passed] = DAY
    return t + np.cumsum(moved)


def _summer_time(t: Array, usual: float, notes: list[str]) -> Array:
    """Local times on a Sunday night that jump an hour: the clock was put back or forward."""
    steps = np.diff(t)
    near = max(5.0 * usual, 5.0)
    moved = np.zeros(len(t))
    for k in np.flatnonzero(np.abs(np.abs(steps) - HOUR) <= near):
        moment = datetime.fromtimestamp(t[k], UTC)
        if moment.weekday() != 6 or not 0 <= moment.hour <= 3 or moment.month not in (3, 4, 9, 10, 11):
            continue
        if steps[k] < 0:
            moved[k + 1] = HOUR
            notes.append("The clock was put back an hour on that Sunday night; the hour was added again.")
        elif usual < 0.1 * HOUR and steps[k] >= HOUR:
            moved[k + 1] = -HOUR
            notes.append("The clock was put forward an hour on that Sunday night; the hour was taken out again.")
    return t + np.cumsum(moved)


def _apart(t: Array, rows: Rows, same: Callable[[int, int], bool]) -> tuple[NDArray[np.bool_], Array, list[str]]:
    """Rows with the same stamp: spread over it when the logger's stamps are coarse, else the last is kept."""
    keep = np.ones(len(t), bool)
    again = np.flatnonzero(np.diff(t) == 0)
    if not len(again):
        return keep, t, []
    steps = np.diff(np.unique(t))
    tick = float(steps.min()) if len(steps) else 1.0
    coarse = bool(np.allclose(t, np.round(t), atol=1e-9)) or len(again) > OFTEN * len(t)
    out = t.copy()
    starts = np.concatenate([[0], np.flatnonzero(np.diff(t) > 0) + 1, [len(t)]])
    spread = dropped = 0
    for first, last in pairwise(starts):
        if last - first < 2:
            continue
        alike = all(same(int(rows[k]), int(rows[k + 1])) for k in range(first, last - 1))
        if coarse and (not alike or len(again) > OFTEN * len(t)):
            out[first:last] = t[first] + tick * np.arange(last - first) / (last - first)
            spread += int(last - first)
        else:
            keep[first : last - 1] = False
            dropped += int(last - first) - 1
    notes = []
    if spread:
        notes.append(f"{spread} rows share their stamp with others; they were spread evenly over {tick:.6g} s.")
    if dropped:
        notes.append(f"{dropped} rows repeat a stamp; of each the last was kept.")
    return keep, out, notes


def _holes(t: Array) -> list[int]:
    """Rows after a step far longer than those around it."""
    steps = np.diff(t)
    if len(steps) < 6:
        return []
    found = []
    for k in np.flatnonzero(steps > max(SHORTEST_HOLE, 0.0)):
        before, after = steps[max(k - 5, 0) : k], steps[k + 1 : k + 6]
        around = max((float(np.median(part)) for part in (before, after) if len(part)), default=np.inf)
        if len(before) and len(after) and steps[k] > HOLE * around:
            found.append(int(k) + 1)
    return found
