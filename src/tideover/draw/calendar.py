"""The outages of a year: when, how long, and whether the load saw them. In px; values in SI."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tideover.answers.base import FAILS, HOLDS
from tideover.draw import axis
from tideover.draw.figure import TOO_LARGE, cut, framed, listed, mark, type_size, words
from tideover.draw.ranges import MARGIN, scale
from tideover.draw.svg import Ink, breadth, line
from tideover.quantity import show

MARKS = (1.0, 60.0, 3600.0, 86400.0, 7 * 86400.0)
"""Durations that have a line. [s]"""
SHORTEST = 0.05
"""Where the scale of durations begins at the highest. [s]"""
MONTHS = 12


@dataclass(frozen=True)
class Outage:
    """Begin after the start of the year, duration, and whether the load dropped. [s]"""

    begins: float
    lasts: float
    lost: bool


def calendar(outages: Sequence[Outage], lasts: float, *, title: str, width: float, reach: float | None = None) -> Ink:
    """Outages over the year, as high as they are long, in decades.

    Parameters
    ----------
    outages : sequence of Outage
        In order of time. [-]
    lasts : float
        Length of the year, or of the log. [s]
    title : str
        Of the figure. [-]
    width : float
        Of the figure. [px]
    reach : float, optional
        How long the pack carries the load: a line across. [s]
    """
    size = type_size(width)
    known = [o for o in outages if abs(o.begins) < TOO_LARGE and 0.0 < o.lasts < TOO_LARGE]
    lasts = lasts if lasts < TOO_LARGE else axis.YEAR
    reach = reach if reach and 0.0 < reach < TOO_LARGE else None
    lengths = [o.lasts for o in known] + [60.0, 3600.0] + ([reach] if reach else [])
    low, high = min(SHORTEST, *lengths) / 1.5, max(lengths) * 2.0
    names = [(m, show(m, "s")) for m in MARKS if low <= m <= high]
    start = max(breadth(said, size) for _, said in names) + 10.0
    end, top, base = width - 10.0, 2.2 * size, 2.2 * size + 150.0
    lasts = max(lasts, 1.0, *(o.begins for o in known)) if known else max(lasts, 1.0)
    decades = math.log10(high) - math.log10(low)

    def across(t: float) -> float:
        return round(start + t / lasts * (end - start), 1)

    def upright(d: float) -> float:
        return round(base - (math.log10(d) - math.log10(low)) / decades * (base - top), 1)

    body: list[Ink] = [words(0.0, 1.1 * size, "how long", size, "fig-soft")]
    last = math.inf
    for m, said in names:
        y = upright(m)
        body.append(line(start, y, end, y, "fig-grid"))
        if last - y >= 1.15 * size:
            body.append(words(start - 6.0, y + 0.36 * size, said, size, "fig-soft", "end"))
            last = y
    body.append(line(start, base, end, base, "fig-axis"))
    body += _months(lasts, start, end, base, size, width)
    if reach:
        y = upright(reach)
        said = cut(f"the pack carries the load for {show(reach, 's')}", end - start - 8.0, size)
        body.append(line(start, y, end, y, "fig-limit"))
        body.append(words(end - 4.0, y - 0.4 * size, said, size, "fig-soft fig-halo", "end"))
    for o in known:
        x, y = across(o.begins), upright(o.lasts)
        body.append(line(x, base, x, y, "fig-lead"))
        body.append(mark(x, y, FAILS if o.lost else HOLDS, 4.5))
    foot = base + 3.2 * size
    body += [mark(6.0, foot + 0.7 * size, HOLDS, 4.5), words(16.0, foot + 1.1 * size, "bridged", size)]
    at = 16.0 + breadth("bridged", size) + 24.0
    body += [mark(at, foot + 0.7 * size, FAILS, 4.5), words(at + 10.0, foot + 1.1 * size, "the load drops", size)]
    gone = sum(o.lost for o in known)
    told = [
        f"{show(o.lasts, 's')} after {show(o.begins, 's')}, {'the load drops' if o.lost else 'bridged'}" for o in known
    ]
    said = f"{len(known)} outages, {len(known) - gone} bridged, the load drops in {gone}"
    said += f": {listed(told, 60)}." if told else "."
    return framed(width, round(foot + 2.0 * size, 1), *body, title=title, about=said)


def _months(lasts: float, start: float, end: float, base: float, size: float, width: float) -> list[Ink]:
    """Months by their number in a year, times else."""
    out = []
    if abs(lasts / axis.YEAR - 1.0) < 0.01:
        step = (end - start) / MONTHS
        for m in range(MONTHS):
            out.append(line(round(start + m * step, 1), base, round(start + m * step, 1), base + 4.0, "fig-axis"))
            out.append(words(start + (m + 0.5) * step, base + 1.4 * size, str(m + 1), size, "fig-soft", "middle"))
        name = "month, the first and the last the coldest"
    else:
        x = scale(0.0, lasts, "s", (start, end), size)
        for tick, said, (middle, _) in zip(x.ticks, x.labels, axis.spots(x, size, start - MARGIN, end + MARGIN)):
            at = round(x.at(tick), 1)
            out.append(line(at, base, at, base + 4.0, "fig-axis"))
            out.append(words(middle, base + 1.4 * size, said, size, "fig-soft", "middle"))
        name = "time since the log begins"
    out.append(words((start + end) / 2.0, base + 2.8 * size, name, size, "fig-soft", "middle"))
    return out
