"""Ranges under each other on one scale: from the lowest to the highest, as written, and the limit. In px; SI values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tideover.draw import axis
from tideover.draw.axis import Axis
from tideover.draw.figure import TOO_LARGE, cut, framed, mark, type_size, words
from tideover.draw.look import HANDY
from tideover.draw.svg import Ink, Size, breadth, line, rect
from tideover.quantity import show

PAD = 0.06
"""Of the scale, beyond what stands on it."""
MARGIN = 2.0
"""So far words below a scale may stand beyond its ends. [px]"""
ROW = 7.0
"""Half the height of a row's bar and window. [px]"""


@dataclass(frozen=True)
class Range:
    """One row: `low` to `high` with `value` as written, its upper `limit` if it has one, its `status`."""

    label: str
    value: float
    low: float
    high: float
    limit: float | None = None
    status: str = "holds"


def ranges(
    rows: Sequence[Range],
    unit: str,
    *,
    title: str,
    width: float,
    about: str = "",
    window: tuple[float | None, float | None] = (None, None),
) -> Ink:
    """Rows on one scale, with a shaded window or a limit for each row.

    Parameters
    ----------
    rows : sequence of Range
        From the top down. [-]
    unit : str
        SI unit of all. [-]
    title, about : str
        Of the figure. [-]
    width : float
        Of the figure. [px]
    window : (float or None, float or None)
        What all rows have to stay between, in `unit`. [-]
    """
    size = type_size(width)
    shown = [r for r in rows if all(abs(v) < TOO_LARGE for v in (r.value, r.low, r.high))]
    if not shown:
        said = "Nothing to draw: no value is known."
        return framed(width, 3.0 * size, words(0.0, 2.0 * size, said, size, "fig-soft"), title=title, about=said)
    beside = width >= HANDY
    ends = [w for w in window if w is not None]
    limits = [r.limit for r in shown if r.limit is not None and abs(r.limit) < TOO_LARGE]
    low, high = axis.span([v for r in shown for v in (r.low, r.high, r.value)] + ends + limits)
    pad = PAD * (high - low)
    low, high = low - pad, high + pad
    texts = [_said(r, unit) for r in shown]
    left = min(max(breadth(r.label, size) for r in shown) + 14.0, 0.34 * width) if beside else 0.0
    room = max(breadth(t, size) for t in texts) + 12.0 if beside else 12.0
    tall = 1.9 * size if beside else 3.1 * size
    head = 1.6 * size if ends else 4.0
    foot = round(head + len(shown) * tall + 2.0, 1)
    x = scale(low, high, unit, (left + 4.0, width - room), size)
    middles = [round(head + k * tall + (0.95 * size if beside else 2.2 * size), 1) for k in range(len(shown))]
    spans = [(head, foot)] if beside else [(y - ROW, y + ROW) for y in middles]  # words stand between rows on a phone
    body: list[Ink] = []
    if ends:
        a = x.start if window[0] is None else round(x.at(window[0]), 1)
        z = x.end if window[1] is None else round(x.at(window[1]), 1)
        for top, base in spans:
            body.append(rect(a, top, Size(round(z - a, 1), round(base - top, 1)), "fig-safe"))
            body += [line(round(x.at(w), 1), top, round(x.at(w), 1), base, "fig-limit") for w in ends]
        said = "window " + " to ".join(show(w, unit, 4) for w in ends)
        half = breadth(said, size) / 2.0
        middle = min(max((a + z) / 2.0, half), width - half)
        body.append(words(middle, size, said, size, "fig-soft", "middle"))
    for tick, name, (middle, _) in zip(x.ticks, x.labels, axis.spots(x, size, x.start - MARGIN, x.end + MARGIN)):
        spot = round(x.at(tick), 1)
        body += [line(spot, top, spot, base, "fig-grid") for top, base in spans]
        body.append(words(middle, foot + 1.5 * size, name, size, "fig-soft", "middle"))
    for k, (r, said, y) in enumerate(zip(shown, texts, middles)):
        top = head + k * tall
        body.append(line(x.start, y, x.end, y, "fig-grid"))
        if x.at(r.high) - x.at(r.low) > 1.0:
            body.append(line(round(x.at(r.low), 1), y, round(x.at(r.high), 1), y, f"fig-spread fig-{r.status}"))
        body.append(mark(x.at(r.value), y, r.status, 4.0))
        if r.limit is not None and abs(r.limit) < TOO_LARGE:
            body.append(line(round(x.at(r.limit), 1), y - 8.0, round(x.at(r.limit), 1), y + 8.0, "fig-limit"))
        if beside:
            body.append(words(0.0, y + 0.36 * size, cut(r.label, left - 10.0, size), size))
            body.append(words(width - room + 10.0, y + 0.36 * size, said, size, "fig-soft"))
        else:
            long = breadth(said, size)
            body.append(words(0.0, top + 1.2 * size, cut(r.label, width - long - 10.0, size), size))
            body.append(words(width, top + 1.2 * size, said, size, "fig-soft", "end"))
    told = "; ".join(f"{r.label}: {said}, {r.status}" for r, said in zip(shown, texts))
    if ends:
        told += "; window " + " to ".join(show(w, unit, 4) for w in ends)
    return framed(width, round(foot + 2.0 * size, 1), *body, title=title, about=f"{about} {told}.".strip())


def scale(low: float, high: float, unit: str, ends: tuple[float, float], size: float) -> Axis:
    """A scale with as many ticks as have room, inside its ends."""
    made = Axis(low, high, *ends, (), ())
    for most in range(7, 2, -1):
        made = Axis(low, high, *ends, *axis.marked(low, high, unit, most))
        if axis.roomy(axis.spots(made, size, ends[0] - MARGIN, ends[1] + MARGIN), size):
            break
    return made


def _said(r: Range, unit: str) -> str:
    if r.limit is not None:
        return f"{show(r.high, unit)} of {show(r.limit, unit)}"
    digits = 3 if unit == "K" else 4
    if r.low == r.high:
        return show(r.value, unit, digits)
    return f"{show(r.low, unit, digits)} to {show(r.high, unit, digits)}"
