"""Curves over a common axis, with bands, limits and instants drawn in. In px; values in SI."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tideover.answers.base import Series
from tideover.draw import axis
from tideover.draw.axis import Axis
from tideover.draw.figure import TOO_LARGE, TOO_SMALL, apart, cut, framed, listed, type_size, words
from tideover.draw.look import HANDY, LINES, WIDE
from tideover.draw.svg import Ink, Size, breadth, circle, element, line, rect
from tideover.draw.thin import Point, route, thinned
from tideover.quantity import show

Pieces = Sequence[Sequence[Point]]
"""A curve, in pieces between values that are not known."""
AT_ENDS = 0.3
"""Labels stand at the ends of their curves where they take no more than this share of the width."""
EARLY = 0.25
"""They do so only if no curve ends earlier than this share of the axis before its end."""
LEGEND = 26.0
"""Length of a curve's sample in the legend. [px]"""
MOST_BYTES = 20_000
"""What all curves of a chart may take together."""
BYTES = 12
"""What a point takes at most."""
BEYOND = 10.0
"""So far words below the axis may stand beyond its end. [px]"""
PAD = 0.05
"""Of the height, beyond the highest and the lowest value."""
MOST_DOTS = 200
"""Single points of one curve that are drawn."""


@dataclass(frozen=True)
class Band:
    """A shaded range: of y, of x, or of both; None reaches to the edge of the chart.

    `look` is ``safe`` (a window), ``warn`` or ``harm`` (where nothing may be).
    """

    label: str
    low: float | None = None
    high: float | None = None
    begins: float | None = None
    ends: float | None = None
    look: str = "safe"


@dataclass(frozen=True)
class Mark:
    """A line across the chart: an instant (`x`) or a limit (`y`), with its name."""

    label: str
    x: float | None = None
    y: float | None = None


def chart(
    series: Sequence[Series],
    *,
    title: str,
    bands: Sequence[Band] = (),
    lines: Sequence[Mark] = (),
    width: float = WIDE,
    height: float = 220.0,
    about: str = "",
    steps: Sequence[str] = (),
) -> Ink:
    """Curves with like axes in one figure.

    Parameters
    ----------
    series : sequence of Series
        Those of the first one's units are drawn, `LINES` at most. [-]
    title : str
        What the figure shows. [-]
    bands, lines : sequence of Band, of Mark
        Drawn behind the curves. [-]
    width, height : float
        Of the figure; the legend comes on top. [px]
    about : str
        Said before the numbers to who cannot see it. [-]
    steps : sequence of str
        Names of the places 0, 1, 2 … where x counts steps. [-]

    Returns
    -------
    markup : Ink
        Below 30 kB whatever the number of points; a sentence in words where there is nothing to draw. [-]
    """
    size = type_size(width)
    like = [s for s in series if (s.x_unit, s.y_unit, s.log) == (series[0].x_unit, series[0].y_unit, series[0].log)]
    like = like[:LINES]
    curves = [_known(s) for s in like]
    if not any(points for points in curves):
        said = "Nothing to draw: no value is known."
        return framed(width, 3.0 * size, words(0.0, 2.0 * size, said, size, "fig-soft"), title=title, about=said)
    log, x_unit, y_unit = like[0].log, like[0].x_unit, like[0].y_unit
    points = [p for c in curves for piece in c for p in piece]
    x_low, x_high = axis.span([x for x, _ in points] + [m.x for m in lines if m.x is not None], log)
    levels = [v for b in bands for v in (b.low, b.high) if v is not None] + [m.y for m in lines if m.y is not None]
    y_low, y_high = axis.span([y for _, y in points] + levels, log)
    names = [s.name for s in like]
    room = max(breadth(name, size) for name in names) + LEGEND + 14.0
    ends = len(like) > 1 and width >= HANDY and room <= AT_ENDS * width and len(like) * 1.3 * size <= height / 2.0
    last = [pieces[-1][-1][0] for pieces in curves if pieces]
    ends = ends and not log and min(last) >= x_high - EARLY * (x_high - x_low)
    legend, head = _legend(names, width, size) if len(like) > 1 and not ends else ([], 0.0)
    top = head + (3.2 if any(m.x is not None for m in lines) else 1.9) * size
    base = head + height - (2.0 if steps else 3.5) * size
    y = upright(y_low, y_high, y_unit, log, top, base, size)
    start = max(breadth(said, size) for said in y.labels) + 8.0
    sides = (start, width - (room if ends else 12.0))
    x = named(steps, sides, size) if steps else across(x_low, x_high, x_unit, log, sides, size)
    body = [
        *_bands(bands, x, y),
        *_grid(x, y, size),
        words(0.0, head + 1.1 * size, axis.NOUNS.get(y_unit, ""), size, "fig-soft"),
        *legend,
        *_curves(curves, x, y),
        *_lines(lines, x, y),
        *(_ends(names, curves, x, y, size) if ends else ()),
        *_names(bands, lines, x, y, size),
    ]
    if like[0].x_name and not steps:
        body.append(words((x.start + x.end) / 2.0, base + 2.9 * size, like[0].x_name, size, "fig-soft", "middle"))
    parts = [_told(s, c) for s, c in zip(like, curves)] + [_band_told(b, y_unit) for b in bands]
    parts += [_mark_told(m, x_unit, y_unit) for m in lines]
    said = f"{about} {listed(parts)}.".strip()
    return framed(width, head + height, *body, title=title, about=said)


# --- data ----------------------------------------------------------------------------------------------


def _known(one: Series) -> list[list[Point]]:
    """What can be drawn, in pieces between values that are not known."""
    pieces: list[list[Point]] = [[]]
    for x, y in zip(one.x, one.y):
        if abs(x) < TOO_LARGE and abs(y) < TOO_LARGE and (not one.log or x > TOO_SMALL < y):
            pieces[-1].append((_seen(x), _seen(y)))
        elif pieces[-1]:
            pieces.append([])
    return [piece for piece in pieces if piece]


def _seen(value: float) -> float:
    return float(value) if abs(value) > TOO_SMALL else 0.0


def _told(one: Series, pieces: Pieces) -> str:
    """A curve in numbers: where it begins and ends, its lowest and highest."""
    points = [p for piece in pieces for p in piece]
    if not points:
        return f"{one.name}: nothing is known"
    (x0, y0), (x1, y1) = points[0], points[-1]
    low, high = min(y for _, y in points), max(y for _, y in points)

    def said(y: float) -> str:
        return show(y, one.y_unit, 4)

    start = f"{one.name}: {said(y0)} at {show(x0, one.x_unit)}"
    if len(points) == 1:
        return start
    return f"{start}, {said(y1)} at {show(x1, one.x_unit)}, between {said(low)} and {said(high)}"


def _band_told(band: Band, unit: str) -> str:
    ends = [f"{word} {show(v, unit)}" for word, v in (("from", band.low), ("to", band.high)) if v is not None]
    return " ".join([f"{band.label}:", *ends]) if ends else band.label


def _mark_told(one: Mark, x_unit: str, y_unit: str) -> str:
    return f"{one.label}: {show(one.x, x_unit) if one.x is not None else show(one.y or 0.0, y_unit)}"


# --- axes ----------------------------------------------------------------------------------------------


def upright(low: float, high: float, unit: str, log: bool, top: float, base: float, size: float) -> Axis:
    """The axis of y, a little beyond its values; higher ones stand higher."""
    most = max(int((base - top) / (1.8 * size)), 3)
    if log:
        return _decades(low, high, unit, (base, top), most)
    pad = PAD * (high - low)
    low, high = (0.0 if 0.0 <= low <= pad else low - pad), (0.0 if -pad <= high <= 0.0 else high + pad)
    return Axis(low, high, base, top, *axis.marked(low, high, unit, most))


def _decades(low: float, high: float, unit: str, ends: tuple[float, float], most: int) -> Axis:
    first, last = math.floor(math.log10(low) + 1e-9), math.ceil(math.log10(high) - 1e-9)
    low, high = 10.0**first, 10.0 ** max(last, first + 1)
    ticks = axis.decades(low, high, most)
    return Axis(low, high, *ends, tuple(ticks), tuple(show(v, unit) for v in ticks), log=True)


def across(low: float, high: float, unit: str, log: bool, ends: tuple[float, float], size: float) -> Axis:
    """The axis of x, from the lowest to the highest value, with as many ticks as their words leave room for."""
    start, end = ends
    for most in range(axis.MOST, 1, -1):
        if log:
            made = _decades(low, high, unit, ends, most)
        else:
            made = Axis(low, high, start, end, *axis.marked(low, high, unit, most))
        if axis.roomy(axis.spots(made, size, 0.0, end + BEYOND), size):
            return made
    return Axis(made.low, made.high, start, end, made.ticks[:1], made.labels[:1], log)


def named(steps: Sequence[str], ends: tuple[float, float], size: float) -> Axis:
    """An axis of steps with names; names that would run into each other are shortened."""
    start, end = ends
    room = (end - start) / max(len(steps) - 1, 1) - 0.6 * size
    said = tuple(cut(name, room, size) for name in steps)
    high = float(max(len(steps) - 1, 1))
    return Axis(0.0, high, start, end, tuple(float(k) for k in range(len(steps))), said)


def _grid(x: Axis, y: Axis, size: float) -> list[Ink]:
    out = []
    for tick, said in zip(y.ticks, y.labels):
        at = round(y.at(tick), 1)
        out.append(line(x.start, at, x.end, at, "fig-grid"))
        out.append(words(x.start - 6.0, at + 0.36 * size, said, size, "fig-soft", "end"))
    for tick, said, (spot, _) in zip(x.ticks, x.labels, axis.spots(x, size, 0.0, x.end + BEYOND)):
        at = round(x.at(tick), 1)
        out.append(line(at, y.start, at, y.start + 4.0, "fig-axis"))
        out.append(words(spot, y.start + 1.4 * size, said, size, "fig-soft", "middle"))
    out.append(line(x.start, y.start, x.end, y.start, "fig-axis"))
    return out


# --- what stands in it ---------------------------------------------------------------------------------


def _bands(bands: Sequence[Band], x: Axis, y: Axis) -> list[Ink]:
    out: list[Ink] = []
    for band in bands:
        left = x.start if band.begins is None else x.at(band.begins)
        right = x.end if band.ends is None else x.at(band.ends)
        top = y.end if band.high is None else y.at(band.high)
        base = y.start if band.low is None else y.at(band.low)
        left, top, right, base = (round(v, 1) for v in (left, top, right, base))
        out.append(rect(left, top, Size(max(right - left, 0.0), max(base - top, 0.0)), f"fig-{band.look}"))
        for edge, given in ((top, band.high), (base, band.low)):
            if given is not None:
                out.append(line(left, edge, right, edge, "fig-edge"))
    return out


def _names(bands: Sequence[Band], lines: Sequence[Mark], x: Axis, y: Axis, size: float) -> list[Ink]:
    """Names of bands and limits at the right, kept apart; those of instants at the top, left out where they crowd."""
    wide = x.end - x.start
    said = [
        (cut(b.label, 0.6 * wide, size), ((y.end if b.high is None else y.at(b.high)) + 1.1 * size))
        for b in bands
        if b.label
    ]
    said += [(cut(m.label, 0.6 * wide, size), y.at(m.y) - 0.4 * size) for m in lines if m.y is not None]
    spots = apart([at for _, at in said], 1.15 * size, y.end + size, y.start - 0.3 * size)
    out = [words(x.end - 4.0, at, name, size, "fig-soft fig-halo", "end") for (name, _), at in zip(said, spots)]
    free = x.start
    for one in sorted((m for m in lines if m.x is not None), key=lambda m: m.x or 0.0):
        at, name = x.at(one.x or 0.0), cut(one.label, 0.5 * wide, size)
        long = breadth(name, size)
        begins = at + 4.0 if at + 4.0 + long <= x.end else at - 4.0 - long
        if begins < free:
            continue
        out.append(words(begins, y.end - 0.35 * size, name, size, "fig-halo"))
        free = begins + long + 0.5 * size
    return out


def _lines(lines: Sequence[Mark], x: Axis, y: Axis) -> list[Ink]:
    out = []
    for one in lines:
        if one.x is not None:
            at = round(x.at(one.x), 1)
            out.append(line(at, y.end - 2.0, at, y.start, "fig-event"))
        elif one.y is not None:
            at = round(y.at(one.y), 1)
            out.append(line(x.start, at, x.end, at, "fig-limit"))
    return out


def _curves(curves: Sequence[Pieces], x: Axis, y: Axis) -> list[Ink]:
    """Curves, the first at the bottom, so that dashes show where they run together.

    Each gets as many columns as all together may take bytes.
    """
    count = max(sum(len(c) for c in curves), 1)
    columns = max(min(int(x.end - x.start), MOST_BYTES // (BYTES * 4 * count)), 4)
    out = []
    for k, pieces in enumerate(curves):
        data, dots = "", []
        for piece in pieces:
            points = [(x.at(a), y.at(b)) for a, b in piece]
            if len(points) == 1:
                dots.append(circle(round(points[0][0], 1), round(points[0][1], 1), 3.5, f"fig-line fig-l{k % LINES}"))
            else:
                data += route(thinned(points, columns))
        if data:
            out.append(element("path", d=data, class_=f"fig-line fig-l{k % LINES}"))
        out += dots[:MOST_DOTS]
    return out


# --- which is which ------------------------------------------------------------------------------------


def _legend(names: Sequence[str], width: float, size: float) -> tuple[list[Ink], float]:
    """Samples of the curves with their names, in rows from the top down; and where the rows end."""
    out: list[Ink] = []
    at, row = 0.0, 1.0
    for k, name in enumerate(names):
        said = cut(name, width - LEGEND - 8.0, size)
        long = LEGEND + 6.0 + breadth(said, size) + 14.0
        if at and at + long - 14.0 > width:
            at, row = 0.0, row + 1.0
        base = row * 1.45 * size
        out.append(line(at, base - 0.35 * size, at + LEGEND, base - 0.35 * size, f"fig-line fig-l{k % LINES}"))
        out.append(words(at + LEGEND + 6.0, base, said, size))
        at += long
    return out, (row * 1.45 + 0.5) * size if names else 0.0


def _ends(names: Sequence[str], curves: Sequence[Pieces], x: Axis, y: Axis, size: float) -> list[Ink]:
    """Names at the ends of the curves, kept apart."""
    known = [(k, name, pieces[-1][-1]) for k, (name, pieces) in enumerate(zip(names, curves)) if pieces]
    spots = apart([y.at(p[1]) for _, _, p in known], 1.2 * size, y.end, y.start)
    out = []
    for (k, name, (a, b)), at in zip(known, spots):
        px, py = round(x.at(a), 1), round(y.at(b), 1)
        out.append(line(px + 2.0, py, x.end + 8.0, round(at, 1), "fig-lead"))
        out.append(line(x.end + 8.0, round(at, 1), x.end + 8.0 + LEGEND, round(at, 1), f"fig-line fig-l{k % LINES}"))
        out.append(words(x.end + 12.0 + LEGEND, at + 0.36 * size, name, size))
    return out
