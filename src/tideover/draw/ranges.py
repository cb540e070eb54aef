"""Ranges under each other on one scale: from the lowest to the highest, as written, and the limit. In px; SI values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from tideover.draw import axis
from tideover.draw.axis import Axis
from tideover.draw.figure import TOO_LARGE, cut, framed, mark, type_size, words
from tideover.draw.look import HANDY
from tideover.draw.svg import Ink, Size, breadth, line, rect
from tideover.quantity import show

PAD = 0.06


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
    body: list[Ink] = []
    if ends:
        a = x.start if window[0] is None else round(x.at(window[0]), 1)
        z = x.end if window[1] is None else round(x.at(window[1]), 1)
        body.append(rect(a, head, Size(round(z - a, 1), round(foot - head, 1)), "fig-safe"))
        body += [line(round(x.at(w), 1), head, round(x.at(w), 1), foot, "fig-limit") for w in ends]
        said = "window " + " to ".join(show(w, unit, 4) for w in ends)
        middle = min(max((a + z) / 2.0, breadth(said, size) / 2.0), width - breadth(said, size) / 2.0)
        body.append(words(middle, size, said, size, "fig-soft", "middle"))
    for tick, name in zip(x.ticks, x.labels):
        spot = round(x.at(tick), 1)
        body.append(line(spot, head, spot, foot + 4.0, "fig-grid"))
        body.append(words(spot, foot + 1.5 * size, name, size, "fig-soft", "middle"))
    for k, (r, said) in enumerate(zip(shown, texts)):
        top = head + k * tall
        y = round(top + (0.95 * size if beside else 2.2 * size), 1)
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
        ticks = axis.ticks(low, high, unit, most)
        made = Axis(low, high, *ends, tuple(ticks), tuple(axis.labels(ticks, unit)))
        spots = [(made.at(t), breadth(said, size)) for t, said in zip(made.ticks, made.labels)]
        if all(a + (wa + wb) / 2.0 + 0.8 * size <= b for (a, wa), (b, wb) in pairwise(spots)):
            break
    return made


def _said(r: Range, unit: str) -> str:
    if r.limit is not None:
        return f"{show(r.high, unit)} of {show(r.limit, unit)}"
    return show(r.value, unit) if r.low == r.high else f"{show(r.low, unit)} to {show(r.high, unit)}"
