"""How builds drawn at random lie against their limits: a small distribution for each quantity. In px; SI values."""

from __future__ import annotations

from collections.abc import Sequence

from tideover.answers.base import HOLDS, OPEN, Spread
from tideover.draw import axis
from tideover.draw.figure import TOO_LARGE, cut, framed, listed, mark, type_size, words
from tideover.draw.look import HANDY
from tideover.draw.ranges import MARGIN, scale
from tideover.draw.svg import Ink, Size, breadth, element, line, number, rect
from tideover.quantity import show

TALL = 78.0
"""Height of the columns. [px]"""
FAR = 3.0
"""A limit farther away than this many times the spread of the builds is told at the edge and not drawn to scale."""


def spreads(found: Sequence[Spread], *, title: str, width: float, statuses: Sequence[str] = ()) -> Ink:
    """Small distributions beside each other, under each other on a phone.

    Parameters
    ----------
    found : sequence of Spread
        In the order in which they are shown. [-]
    title : str
        Of the figure. [-]
    width : float
        Of the figure. [px]
    statuses : sequence of str
        Of each; from its share that holds where none is given. [-]
    """
    size = type_size(width)
    if not found:
        said = "No build was drawn at random."
        return framed(width, 3.0 * size, words(0.0, 2.0 * size, said, size, "fig-soft"), title=title, about=said)
    columns = 2 if width >= HANDY else 1
    gap = 28.0
    wide = (width - gap * (columns - 1)) / columns
    tall = TALL + 6.4 * size
    body: list[Ink] = []
    for k, s in enumerate(found):
        left, top = (k % columns) * (wide + gap), (k // columns) * tall
        status = statuses[k] if k < len(statuses) else (HOLDS if s.held >= 1.0 else OPEN)
        place = f"translate({number(round(left, 1))} {number(round(top, 1))})"
        body.append(element("g", *_panel(s, status, wide, size), transform=place))
    rows = -(-len(found) // columns)
    return framed(width, round(rows * tall, 1), *body, title=title, about=listed([_told(s) for s in found]) + ".")


def _panel(s: Spread, status: str, wide: float, size: float) -> list[Ink]:
    """One distribution at the origin."""
    low, high = s.edges[0], s.edges[-1]
    limit = s.limit if s.limit is not None and abs(s.limit) < TOO_LARGE else None
    far = limit is not None and max(low - limit, limit - high) > FAR * (high - low)
    ends = [low, high] + ([limit] if limit is not None and not far else [])
    a, b = axis.span(ends)
    pad = 0.06 * (b - a)
    x = scale(a - pad, b + pad, s.unit, (2.0, wide - 2.0), size)
    top, base = 3.4 * size, 3.4 * size + TALL
    most = max(max(s.shares), 1e-12)
    out: list[Ink] = []
    if limit is not None:  # one that lies far outside stands at the end, and all or nothing is safe
        at = round(x.at(limit), 1)
        start, end = (x.start, at) if s.worse == "high" else (at, x.end)
        out.append(rect(start, top, Size(round(end - start, 1), TALL), "fig-safe"))
    shapes = {"fig-bar": "", "fig-fails": ""}
    for e0, e1, share in zip(s.edges, s.edges[1:], s.shares):
        if share > 0.0:
            tall = max(round(share / most * (TALL - 6.0), 1), 1.0)
            missed = limit is not None and (e0 + e1 - 2.0 * limit) * (1.0 if s.worse == "high" else -1.0) > 0.0
            at, to = round(x.at(e0), 1), round(x.at(e1), 1)
            step = f"M{number(at)} {number(base)}V{number(base - tall)}H{number(max(to, at + 0.7))}V{number(base)}Z"
            shapes["fig-fails" if missed else "fig-bar"] += step
    out += [element("path", d=d, class_=look) for look, d in shapes.items() if d]
    out.append(line(x.start, base, x.end, base, "fig-axis"))
    for tick, name, (middle, _) in zip(x.ticks, x.labels, axis.spots(x, size, x.start - MARGIN, x.end + MARGIN)):
        spot = round(x.at(tick), 1)
        out.append(line(spot, base, spot, base + 4.0, "fig-axis"))
        out.append(words(middle, base + 1.4 * size, name, size, "fig-soft", "middle"))
    if limit is not None:
        word = "at most" if s.worse == "high" else "at least"
        said = f"{word} {show(limit, s.unit, 4)}"
        if far:
            beyond = limit > high
            said = f"{said} →" if beyond else f"← {said}"
            side = (wide, "end") if beyond else (0.0, None)
            out.append(words(side[0], top - 0.35 * size, said, size, "fig-soft", side[1]))
        else:
            at = round(x.at(limit), 1)
            out.append(line(at, top - 2.0, at, base, "fig-limit"))
            half = breadth(said, size) / 2.0
            out.append(words(min(max(at, half), wide - half), top - 0.35 * size, said, size, "fig-soft", "middle"))
    out.append(mark(6.0, 0.9 * size, status, 4.5))
    held = _held(s)
    room = wide - 18.0 - breadth(held, size) - 10.0
    if room >= 6.0 * size:
        out.append(words(18.0, 1.25 * size, cut(s.name, room, size), size, "fig-strong"))
        out.append(words(wide, 1.25 * size, held, size, "", "end"))
    else:
        out.append(words(18.0, 1.25 * size, cut(f"{s.name}: {held}", wide - 18.0, size), size, "fig-strong"))
    return out


def _held(s: Spread) -> str:
    if s.limit is None:
        return "no limit"
    return f"{show(s.held, '%')} hold ({show(s.held_low, '%')} to {show(s.held_high, '%')})"


def _told(s: Spread) -> str:
    said = f"{s.quantity}: from {show(s.edges[0], s.unit, 4)} to {show(s.edges[-1], s.unit, 4)} in {s.count} builds"
    if s.limit is not None:
        said += f", limit {'at most' if s.worse == 'high' else 'at least'} {show(s.limit, s.unit, 4)}, {_held(s)}"
    return said
