"""Bars under each other, the largest first: contributors, drops, drains, shares of ratings. In px; values in SI."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tideover.draw.axis import span
from tideover.draw.figure import TOO_LARGE, cut, framed, type_size, words
from tideover.draw.look import HANDY
from tideover.draw.svg import Ink, Size, breadth, line, rect
from tideover.quantity import show

MOST, MOST_PHONE = 14, 9
"""Bars shown; the others are counted in a last line."""
BESIDE = 0.42
"""Share of the width that names may take beside the bars."""


@dataclass(frozen=True)
class Bar:
    """One bar: its name, its value in SI, what is said behind the value, and its look (``bar``, ``loss`` …)."""

    label: str
    value: float
    note: str = ""
    look: str = "bar"


def ranked(
    bars: Sequence[Bar],
    unit: str,
    *,
    title: str,
    width: float,
    about: str = "",
    limit: float | None = None,
    limit_label: str = "limit",
    order: bool = True,
    signed: bool = False,
    most: int | None = None,
) -> Ink:
    """Bars from a common zero, to the left where a value is negative.

    Parameters
    ----------
    bars : sequence of Bar
        Those without a finite value are left out; `MOST` are shown. [-]
    unit : str
        SI unit of all. [-]
    title, about : str
        Of the figure. [-]
    width : float
        Of the figure. [px]
    limit : float, optional
        A line across all bars, in `unit`, named `limit_label`. [-]
    order : bool
        Largest first; else as they come. [-]
    signed : bool
        Whether a plus stands before what adds. [-]
    most : int, optional
        Bars shown, fewer than usual. [-]
    """
    size = type_size(width)
    known = [b for b in bars if abs(b.value) < TOO_LARGE]
    if order:
        known.sort(key=lambda b: -abs(b.value))
    most = most or (MOST if width >= HANDY else MOST_PHONE)
    shown, rest = known[:most], known[most:]
    if not shown:
        said = "Nothing to rank: no value is known."
        return framed(width, 3.0 * size, words(0.0, 2.0 * size, said, size, "fig-soft"), title=title, about=said)

    def valued(b: Bar) -> str:
        sign = "+" if signed and b.value > 0.0 else ""
        return f"{sign}{show(b.value, unit)}" + (f", {b.note}" if b.note else "")

    texts = [valued(b) for b in shown]
    beside = width >= HANDY
    left = min(max(breadth(b.label, size) for b in shown) + 12.0, BESIDE * width) if beside else 0.0
    room = min(max(breadth(t, size) for t in texts) + 10.0, 0.5 * (width - left))
    low, high = span([0.0, *(b.value for b in shown), *([limit] if limit is not None else [])])
    low, high = min(low, 0.0), max(high, 0.0)
    start = left + (room if low < 0.0 else 2.0)
    end = width - (room if high > 0.0 else 4.0)

    def at(value: float) -> float:
        return round(start + (value - low) / (high - low) * (end - start), 1)

    head = 1.7 * size if limit is not None else 2.0
    tall = 1.85 * size if beside else 3.1 * size
    foot = head + len(shown) * tall
    body: list[Ink] = [line(at(0.0), head - 2.0, at(0.0), round(foot, 1), "fig-axis")] if beside else []
    if limit is not None and math.isfinite(limit):
        name = cut(f"{limit_label} {show(limit, unit)}", width, size)
        half = breadth(name, size) / 2.0
        tops = (
            [(head - 2.0, foot)]
            if beside
            else [(head + k * tall + 1.4 * size, head + (k + 1) * tall) for k in range(len(shown))]
        )
        body += [line(at(limit), round(a, 1), at(limit), round(z, 1), "fig-limit") for a, z in tops]
        body.append(words(min(max(at(limit), half), width - half), size, name, size, "fig-soft", "middle"))
    for k, (b, said) in enumerate(zip(shown, texts)):
        top = head + k * tall
        y = top + (0.35 * size if beside else 1.6 * size)
        a, z = sorted((at(0.0), at(b.value)))
        body.append(rect(a, round(y, 1), Size(max(round(z - a, 1), 1.0), round(1.15 * size, 1)), f"fig-{b.look}"))
        if not beside:
            body.append(line(at(0.0), round(y - 1.0, 1), at(0.0), round(y + 1.15 * size + 1.0, 1), "fig-axis"))
        base = y + 0.95 * size
        if beside:
            body.append(words(0.0, base, cut(b.label, left - 10.0, size), size))
        else:
            body.append(words(0.0, top + 1.15 * size, cut(b.label, width, size), size))
        said = cut(said, room - 6.0, size)
        if b.value < 0.0:
            body.append(words(a - 5.0, base, said, size, "fig-strong fig-halo", "end"))
        else:
            spot = z + 5.0 if limit is None else max(z, end) + 6.0  # clear of the line of the limit
            body.append(words(spot, base, said, size, "fig-strong fig-halo"))
    if rest:
        said = f"and {len(rest)} more, none above {show(max(abs(b.value) for b in rest), unit)}"
        body.append(words(0.0, foot + 1.3 * size, cut(said, width, size), size, "fig-soft"))
        foot += 1.7 * size
    told = "; ".join(f"{b.label}: {said}" for b, said in zip(known, map(valued, known)))
    if limit is not None:
        told += f"; {limit_label}: {show(limit, unit)}"
    return framed(width, round(foot + 4.0, 1), *body, title=title, about=f"{about} {told}.".strip())
