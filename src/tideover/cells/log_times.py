"""Time as loggers write it: seconds, minutes, clocks, dates with day or month first, seconds since 1970."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import numpy as np

from tideover.cells.log import Array

DAY_FIRST, MONTH_FIRST = "day-first", "month-first"
HALF_DAY, DAY = 43200.0, 86400.0
_CLOCK = re.compile(
    r"(?:([0-9]+)\s?(?:d(?:ays?)?,?\s?|[.\-]))?([0-9]{1,5}):([0-9]{1,2})(?::([0-9]{1,2})(?:[.,:]([0-9]+))?)?\s?([AaPp][Mm])?"
)
_DATED = re.compile(
    r"([0-9]{1,4})([-/.])([0-9]{1,2})\2([0-9]{1,4})(?:[T ,]+([0-9]{1,2}):([0-9]{2})(?::([0-9]{2})(?:[.,]([0-9]+))?)?)?"
    r"\s?([AaPp][Mm])?\s?(Z|UTC|[+-][0-9]{2}:?[0-9]{2})?"
)


def kind_of(cells: Sequence[str]) -> str:
    """How most fields write time: ``number``, ``clock``, ``date`` or nothing that is known."""
    votes = {"number": 0, "clock": 0, "date": 0}
    for cell in cells:
        if _DATED.fullmatch(cell):
            votes["date"] += 1
        elif _CLOCK.fullmatch(cell):
            votes["clock"] += 1
        elif re.match(r"[+-]?[0-9.,]", cell) and ":" not in cell:
            votes["number"] += 1
    best = max(votes, key=lambda kind: votes[kind])
    return best if votes[best] else ""


def two_part(cells: Sequence[str]) -> bool:
    """Whether clocks have two fields only, so that they may be hours and minutes or minutes and seconds."""
    found = [_CLOCK.fullmatch(cell) for cell in cells]
    return any(m and m[4] is None for m in found)


def clocks(cells: Sequence[str], two: float) -> tuple[Array, list[int]]:
    """Seconds of clock times, and the fields that are none.

    Parameters
    ----------
    cells : sequence of str
        Such as ``01:02:03.5``, ``1d 02:03:04``, ``11:05:00 PM``. [-]
    two : float
        Size of the first field where there are only two. [s]
    """
    out = np.full(len(cells), np.nan)
    odd = []
    for k, cell in enumerate(cells):
        m = _CLOCK.fullmatch(cell)
        if not m or int(m[3]) > 59 or int(m[4] or 0) > 59:
            if cell:
                odd.append(k)
            continue
        first, second = int(m[2]), int(m[3])
        if m[6]:
            first = first % 12 + 12 * (m[6].lower() == "pm")
        seconds = (
            first * 3600.0 + second * 60.0 + int(m[4]) if m[4] is not None else (first * 60.0 + second) * two / 60.0
        )
        out[k] = int(m[1] or 0) * DAY + seconds + (float(f"0.{m[5]}") if m[5] else 0.0)
    return out, odd


def has_days(cells: Sequence[str]) -> bool:
    """Whether clocks count days, or hours past 24: they do not begin anew at midnight."""
    return any(m and (m[1] or int(m[2]) > 23) for m in map(_CLOCK.fullmatch, cells))


def dates(cells: Sequence[str], order: str) -> tuple[Array, list[int], bool, bool]:
    """Seconds since 1970 of dated times.

    Parameters
    ----------
    cells : sequence of str
        ISO 8601, or day, month and year with slashes, dots or hyphens. [-]
    order : str
        `DAY_FIRST` or `MONTH_FIRST`, for those whose year is not first. [-]

    Returns
    -------
    t : array
        NaN where a field is empty or odd. Times without a zone are taken as they stand. [s]
    odd : list of int
        Fields that are no time.
    zoned, plain : bool
        Whether some have a zone, whether some have none.
    """
    out = np.full(len(cells), np.nan)
    odd: list[int] = []
    zoned = plain = False
    epoch = datetime(1970, 1, 1)
    for k, cell in enumerate(cells):
        try:
            moment = datetime.fromisoformat(cell)
        except ValueError:
            parsed = _moment(cell, order)
            if parsed is None:
                if cell:
                    odd.append(k)
                continue
            moment = parsed
        try:
            if moment.tzinfo is not None:
                zoned, moment = True, moment.astimezone(UTC).replace(tzinfo=None)
            else:
                plain = True
        except OverflowError:
            odd.append(k)
            continue
        out[k] = (moment - epoch).total_seconds()
    return out, odd, zoned, plain


def _moment(cell: str, order: str) -> datetime | None:
    m = _DATED.fullmatch(cell)
    if not m:
        return None
    a, b, c = int(m[1]), int(m[3]), int(m[4])
    if len(m[1]) == 4:
        year, month, day = a, b, c
    else:
        day, month = (a, b) if order == DAY_FIRST else (b, a)
        year = c if len(m[4]) == 4 else 2000 + c
    hour = int(m[5] or 0)
    if m[9]:
        hour = hour % 12 + 12 * (m[9].lower() == "pm")
    try:
        moment = datetime(year, month, day, hour, int(m[6] or 0), int(m[7] or 0))
        moment += timedelta(seconds=float(f"0.{m[8]}") if m[8] else 0.0)
        zone = m[10]
        if zone:
            sign = "+00:00" if zone in ("Z", "UTC") else zone
            moment = datetime.fromisoformat(f"{moment.isoformat()}{sign}")
    except (ValueError, OverflowError):
        return None
    return moment


def year_last(cells: Sequence[str]) -> bool:
    """Whether some dates have their year at the end, so that day and month must be told apart."""
    return any(m and len(m[1]) != 4 for m in map(_DATED.fullmatch, cells))


def order_of(cells: Sequence[str]) -> tuple[str, str]:
    """Whether the day or the month comes first, and why; nothing when no value proves it.

    A number above 12 proves it; so does the next day, when read the other way it were a month later.
    """
    read = {order: dates(cells, order) for order in (DAY_FIRST, MONTH_FIRST)}
    bad = {order: len(found[1]) for order, found in read.items()}
    if min(bad.values()) < 0.01 * len(cells) + 1 and bad[DAY_FIRST] != bad[MONTH_FIRST]:
        order = min(bad, key=lambda one: bad[one])
        return order, f"Dates are {order}: read the other way some have a month above 12."
    spans = {}
    for order, found in read.items():
        t = found[0][np.isfinite(found[0])]
        spans[order] = float(np.abs(np.diff(t)).sum()) if len(t) > 1 else 0.0
        read[order] = (t - t[0] if len(t) else t, *found[1:])
    first, second = read[DAY_FIRST][0], read[MONTH_FIRST][0]
    if len(first) == len(second) and np.array_equal(first, second):
        return DAY_FIRST, ""  # no matter
    low, high = sorted(spans, key=lambda one: spans[one])
    if spans[high] > 10.0 * spans[low] and spans[high] > 20.0 * DAY:
        return low, f"Dates are {low}: read the other way there would be weeks between two rows."
    return "", ""
