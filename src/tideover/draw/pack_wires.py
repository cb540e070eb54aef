"""Wires of a pack on its drawing: from the strip where each is soldered to a label outside the outline."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tideover.draw import svg
from tideover.draw.plan import Wire
from tideover.draw.svg import Ink, Size, breadth, number

TYPE = 2.6
"""Of a label. [mm]"""
TALL = 1.7 * TYPE
"""Height of a label's box. [mm]"""
NEAR = 6.0
"""From the outline to the labels. [mm]"""
OUTSIDE = 3.0
"""From the outline to a wire that gathers several points. [mm]"""
LEFT, RIGHT, ABOVE, BELOW = "left", "right", "above", "below"

ASIDE = 0.65
"""How far beside a cell's middle a wire leaves, of its way to the strip's edge: beside id, sign and number. [-]"""

Point = tuple[float, float]


@dataclass(frozen=True)
class Route:
    """How one wire leaves the drawing.

    Attributes
    ----------
    wire : Wire
    edge : str
        Where its label stands.
    solder : tuple of (float, float)
        Where it is soldered. [mm of paper]
    lines : tuple of tuple of (float, float)
        Its lines, up to the outline of the drawing; the first of them ends there. [mm of paper]
    """

    wire: Wire
    edge: str
    solder: tuple[Point, ...]
    lines: tuple[tuple[Point, ...], ...]

    @property
    def exit(self) -> Point:
        """Where it crosses the outline. [mm of paper]"""
        return self.lines[0][-1]

    @property
    def box(self) -> Size:
        """Of its label. [mm of paper]"""
        return Size(breadth(self.wire.label, TYPE) + 2.4, TALL)


def route(wire: Wire, points: Sequence[Point], off: float, outline: Size, step: Size) -> Route:
    """Lead one wire out where it crosses no cell's id.

    From a cell at the rim it goes straight out; from one further in, or from several, through the gap beside its row.

    Parameters
    ----------
    wire : Wire
        What is led. [-]
    points : sequence of (float, float)
        Middles of its cells. [mm of paper]
    off : float
        From there to the strip's edge. [mm of paper]
    outline, step : Size
        Of the drawing; from cell to cell. [mm of paper]
    """
    w, h = outline
    x, y = points[0]
    far = {LEFT: x, RIGHT: w - x, ABOVE: y, BELOW: h - y}
    edge = min(far, key=lambda e: far[e] - (1.0 if e in (LEFT, RIGHT) else 0.0))  # the sides first
    shift, lower = (math.copysign(ASIDE * off, middle) for middle in (w / 2.0 - x, h / 2.0 - y))
    if len(points) == 1 and far[edge] < 0.75 * (step.width if edge in (LEFT, RIGHT) else step.height):
        away = {LEFT: (-1.0, 0.0), RIGHT: (1.0, 0.0), ABOVE: (0.0, -1.0), BELOW: (0.0, 1.0)}[edge]
        x, y = (x, y + lower) if away[0] else (x + shift, y)
        solder = (x + off * away[0], y + off * away[1])
        out = {LEFT: (0.0, y), RIGHT: (w, y), ABOVE: (x, 0.0), BELOW: (x, h)}[edge]
        return Route(wire, edge, (solder,), ((solder, out),))
    down = -1.0 if far[ABOVE] < 0.75 * step.height else 1.0
    gap = y + down * 0.5 * step.height
    if far[ABOVE] < 0.75 * step.height:
        gap = -OUTSIDE
    elif far[BELOW] < 0.75 * step.height:
        gap = h + OUTSIDE
    left = min(p[0] for p in points) <= w - max(p[0] for p in points)
    edge = LEFT if left else RIGHT
    ordered = sorted(points, reverse=left)
    solders = tuple((px + shift, py + down * off) for px, py in ordered)
    first = (solders[0], (solders[0][0], gap), (0.0 if left else w, gap))
    return Route(wire, edge, solders, (first, *(((s, (s[0], gap))) for s in solders[1:])))


def drawn(routes: Sequence[Route], outline: Size, scale: float) -> Ink:
    """All wires with their labels."""
    parts = []
    for edge in (LEFT, RIGHT, ABOVE, BELOW):
        level = edge in (ABOVE, BELOW)
        found = sorted((r for r in routes if r.edge == edge), key=lambda r: r.exit[0 if level else 1])
        sizes = [r.box.width + 1.0 if level else TALL + 0.8 for r in found]
        for r, along in zip(found, apart([r.exit[0 if level else 1] for r in found], sizes), strict=True):
            parts.append(_one(r, along, outline, max(0.5, 1.0 / scale)))
    return svg.group(*parts, title="Wires", class_="wires") if parts else Ink("")


def _one(r: Route, along: float, outline: Size, smaller: float) -> Ink:
    width, tall = r.box
    out = {LEFT: -NEAR, RIGHT: outline.width + NEAR, ABOVE: -NEAR, BELOW: outline.height + NEAR}[r.edge]
    level = r.edge in (ABOVE, BELOW)
    end = (along, out) if level else (out, along)
    x = end[0] - (width / 2.0 if level else width if r.edge == LEFT else 0.0)
    y = end[1] - (tall / 2.0 if not level else tall if r.edge == ABOVE else 0.0)
    thick, box = ("bold", "blank heavy") if r.wire.lead else ("line", "blank")
    lines = [(*r.lines[0], end), *r.lines[1:]]
    return svg.group(
        *(
            svg.element("path", d="M" + "L".join(f"{number(a)} {number(b)}" for a, b in way), class_=thick)
            for way in lines
        ),
        *(svg.circle(*s, (1.0 if r.wire.lead else 0.75) * smaller, f"{box} solder") for s in r.solder),
        svg.rect(x, y, r.box, box, rx=0.8),
        svg.text(x + width / 2.0, y + 0.69 * tall, r.wire.label, TYPE, "strong wire", "middle"),
        title=f"Wire: {r.wire.label}",
        class_="lead" if r.wire.lead else "sense",
    )


def apart(wanted: Sequence[float], sizes: Sequence[float]) -> list[float]:
    """Middles of labels in order, as near as can be to where they are wanted, without overlap.

    Labels that would touch are moved as one block about the mean of their wishes.

    Parameters
    ----------
    wanted : sequence of float
        Rising. [mm]
    sizes : sequence of float
        Room each needs. [mm]

    Examples
    --------
    >>> apart([0.0, 1.0, 30.0], [4.0, 4.0, 4.0])
    [-1.5, 2.5, 30.0]
    """
    blocks: list[tuple[float, float, int]] = []  # middle, length, labels
    for want, size in zip(wanted, sizes, strict=True):
        middle, long, count = want, size, 1
        while blocks and blocks[-1][0] + blocks[-1][1] / 2.0 > middle - long / 2.0:
            m, n, c = blocks.pop()
            middle, long, count = (m * c + middle * count) / (c + count), n + long, c + count
        blocks.append((middle, long, count))
    out: list[float] = []
    for middle, long, count in blocks:
        at = middle - long / 2.0
        for size in sizes[len(out) : len(out) + count]:
            out.append(at + size / 2.0)
            at += size
    return out
