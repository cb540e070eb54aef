"""One side of a pack: cells with their ids, strips, welds, wires and dimensions, at a scale."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from tideover.draw import pack_wires, svg
from tideover.draw.pack_wires import ABOVE, BELOW, LEFT, NEAR, RIGHT, Route
from tideover.draw.paper import Piece
from tideover.draw.plan import Band, Mark, Plan, Spot
from tideover.draw.svg import DASHES, Ink, Size, number

FACE = 0.8
"""Radius of the bare end inside the ring of its group, of the cell's. [-]"""
BUTTON = 0.34
"""Radius of the mark of a plus end, of the cell's. [-]"""
FULL_SHARE = 2.0
"""Share of current at the end of its bar; a larger one fills it. [-]"""
ID_TYPE, LEAST_TYPE = 3.0, 1.6
"""Largest and smallest type of an id, on paper. [mm]"""
ID_WIDE = 0.86
"""Room for an id on a line, of the cell's radius: between the marks of wires. [-]"""
DOT = 0.5
"""Radius of a weld's dot. [mm]"""
FIRST, NEXT = 6.0, 5.0
"""From the outline, or from the labels, to a dimension, and from there to the next. [mm]"""

Point = tuple[float, float]


class Margins(NamedTuple):
    """Room round an outline for labels and dimensions. [mm of paper]"""

    left: float
    top: float
    right: float
    bottom: float


@dataclass(frozen=True)
class Side:
    """How one side of a plan comes to stand on paper.

    Attributes
    ----------
    upper : bool
        As the pack lies; otherwise turned over like a page, so that left and right change places.
    scale : float
        1 is true size. [-]
    piece : Piece
        What of the side is shown, as it is seen from there. [mm of the pack]
    width : float
        Of the whole pack. [mm]
    """

    upper: bool
    scale: float
    piece: Piece
    width: float

    def seen(self, x: float, y: float) -> Point:
        """A place of the plan from the piece's corner. [mm of the pack]"""
        return (x if self.upper else self.width - x) - self.piece.x, y - self.piece.y

    def at(self, x: float, y: float) -> Point:
        """The same on paper. [mm]"""
        x, y = self.seen(x, y)
        return x / self.scale, y / self.scale

    def shows(self, x: float, y: float) -> bool:
        """Whether a place belongs to this piece; each belongs to one."""
        x, y = self.seen(x, y)
        return 0.0 <= x < self.piece.size.width and 0.0 <= y < self.piece.size.height

    @property
    def size(self) -> Size:
        """On paper. [mm]"""
        return Size(self.piece.size.width / self.scale, self.piece.size.height / self.scale)

    def whole(self, plan: Plan) -> bool:
        """Whether the piece is all there is."""
        return all(math.isclose(a, b) for a, b in zip(self.piece.size, plan.size))


def dashes(group: int) -> str | None:
    """Dashes of the ring of a group, from 1; None for a clear one."""
    kinds = tuple(DASHES.values())
    return kinds[(group - 1) % len(kinds)]


def routes(plan: Plan, side: Side) -> list[Route]:
    """The wires of a side, or of a piece of it."""
    step = Size(plan.pitch.width / side.scale, plan.pitch.height / side.scale)
    found = []
    for wire in plan.wires:
        points = [side.at(x, y) for x, y in wire.points if side.shows(x, y)]
        if wire.upper == side.upper and points:
            found.append(pack_wires.route(wire, points, wire.off / side.scale, side.size, step))
    return found


def margins(plan: Plan, side: Side) -> Margins:
    """Room that a side needs round its outline."""
    if not plan.true:
        return Margins(1.0, 1.0, 1.0, 1.0)
    found = routes(plan, side)

    def labels(edge: str) -> float:
        sizes = [r.box.width if edge in (LEFT, RIGHT) else r.box.height for r in found if r.edge == edge]
        return NEAR + max(sizes) if sizes else 0.0

    left, top, right, bottom = (labels(edge) for edge in (LEFT, ABOVE, RIGHT, BELOW))
    gathered = any(y > side.size.height for r in found for way in r.lines for _, y in way)
    bottom = max(bottom, 5.0 if gathered else 0.0)
    if side.whole(plan):
        left, bottom = left + FIRST + 4.0, bottom + FIRST + NEXT + 2.0
    return Margins(left, max(top + 1.0, 4.0), right + 2.0, bottom)


def view(plan: Plan, side: Side, prefix: str) -> Ink:
    """One side, or a piece of it, with its labels and dimensions.

    Parameters
    ----------
    plan : Plan
        What is drawn. [-]
    side : Side
        Which side, and how. [-]
    prefix : str
        Of ids. [-]

    Returns
    -------
    markup : Ink
        Its outline begins at (0, 0), `margins` lie round it. What is inside is in mm of the pack.
    """
    whole = side.whole(plan)
    spots = [s for s in plan.spots if side.shows(s.x, s.y)]
    welds = [svg.circle(*side.seen(w.x, w.y), DOT, "spot weld") for w in plan.welds if _here(w, side)]
    bands = [band for band in plan.bands if band.upper == side.upper]
    inside = [
        svg.group(*(_cell(s, side) for s in spots), title="Cells", class_="cells"),
        svg.group(
            *(_band(b, side) for b in bands),
            title="Strips",
            class_="strips",
            clip_path=None if whole else f"url(#{prefix}-cut)",
        )
        if bands
        else Ink(""),
        svg.group(*welds, title="Welds", class_="welds") if welds else Ink(""),
        svg.group(*(_words(s, bands, side) for s in spots), title="Ids", class_="ids"),
        *(_flag(*side.seen(m.x, m.y)) for m in plan.hottest if _here(m, side)),
    ]
    if not whole:
        inside.insert(0, svg.element("clipPath", svg.rect(0.0, 0.0, side.piece.size, "line"), id=f"{prefix}-cut"))
        inside.append(svg.rect(0.0, 0.0, side.piece.size, "fine dash"))
    reduced = None if side.scale == 1.0 else f"scale({1.0 / side.scale:.9g})"
    body = [
        svg.group(*inside, class_="pack", transform=reduced),
        pack_wires.drawn(routes(plan, side), side.size, side.scale),
    ]
    if plan.true and whole:
        body += [_dimensions(plan, side), _corner(side)]
    name = "top" if side.upper else "bottom"
    return svg.group(*body, title=f"{name.capitalize()} of the pack", class_=f"view {name}")


def _here(mark: Mark, side: Side) -> bool:
    return mark.upper == side.upper and side.shows(mark.x, mark.y)


# --- inside the outline, in mm of the pack -----------------------------------------------------------


def _plus(spot: Spot, side: Side) -> bool:
    """Whether the plus end is seen from here."""
    return spot.up == side.upper


def _cell(spot: Spot, side: Side) -> Ink:
    """The end of a cell: a ring dashed for its group, a button in it where it is plus."""
    x, y = side.seen(spot.x, spot.y)
    r, plus = spot.radius, _plus(spot, side)
    ring, broad = dashes(spot.group), (1.0 - FACE) * r
    if spot.round:
        parts = [
            svg.circle(x, y, r, "blank"),
            svg.circle(x, y, r - broad / 2.0, "ring", stroke_width=broad, stroke_dasharray=ring) if ring else Ink(""),
            svg.circle(x, y, r, "edge can"),
            svg.circle(x, y, FACE * r, "blank thin"),
        ]
    else:

        def box(inset: float, look: str, **more: str | float | None) -> Ink:
            w, h = spot.size.width - 2.0 * inset, spot.size.height - 2.0 * inset
            return svg.rect(x - w / 2.0, y - h / 2.0, Size(w, h), look, **more)

        parts = [
            box(0.0, "blank"),
            box(broad / 2.0, "ring", stroke_width=broad, stroke_dasharray=ring) if ring else Ink(""),
            box(0.0, "edge can"),
            box(broad, "blank thin"),
        ]
    if plus:
        parts.append(svg.circle(x, y, BUTTON * r, "fine"))
    title = f"{spot.id}: group {spot.group}, {'plus' if plus else 'minus'} end"
    return svg.group(*parts, title=title, class_="cell")


def _words(spot: Spot, bands: Sequence[Band], side: Side) -> Ink:
    """Id, sign, group and share, above the strips."""
    x, y = side.seen(spot.x, spot.y)
    r = spot.radius
    large = min(ID_TYPE * min(side.scale, 1.5), 0.48 * r)
    size, lines = svg.fitted(spot.id, ID_WIDE * r, large, min(large, LEAST_TYPE, 0.18 * r))
    small = min(2.1 * min(side.scale, 1.5), 0.24 * r)
    low = 0.36 * size - (len(lines) - 1) * svg.LEADING * size / 2.0 - (0.55 * small if spot.share is not None else 0.0)
    parts = [svg.text(x, y + low, lines, size, "strong halo id", "middle")]
    if spot.share is not None:
        below = y + low + (len(lines) - 1) * svg.LEADING * size + 1.1 * small
        parts.append(svg.text(x, below, f"{100.0 * spot.share:.0f} %", small, "halo share", "middle"))
        parts.append(gauge(x, below + 0.35 * small, 0.26 * r, spot.share))  # between the weld points
    over = [abs(b.x2 - b.x1) >= abs(b.y2 - b.y1) for b in bands if b.covers(spot)]
    dx, dy = (0.6 * r, 0.0) if over and not any(over) else (0.0, 0.6 * r)  # beside the strip rather than on it
    parts.append(_sign(x - dx, y - dy, 0.13 * r, _plus(spot, side)))
    parts.append(svg.text(x + dx, y + dy + 0.36 * small, f"{spot.group}", small, "soft halo group", "middle"))
    return svg.group(*parts, class_="words")


def gauge(x: float, y: float, half: float, share: float) -> Ink:
    """A share as a length: a bar from 0 to `FULL_SHARE`, with a stroke where the mean of the group is."""
    tall = 0.28 * half
    long = 2.0 * half * min(share, FULL_SHARE) / FULL_SHARE
    mean = x - half + 2.0 * half / FULL_SHARE
    return svg.group(
        svg.rect(x - half, y, Size(2.0 * half, tall), "blank thin"),
        svg.rect(x - half, y, Size(long, tall), "solid"),
        svg.line(mean, y - 0.8 * tall, mean, y + 1.8 * tall, "fine"),
        title=f"{100.0 * share:.0f} % of the mean of its group",
        class_="gauge",
    )


def _sign(x: float, y: float, half: float, plus: bool) -> Ink:
    """Plus or minus, drawn rather than written, so that no face can make them alike; a halo lies beneath."""
    path = f"M{number(x - half)} {number(y)}h{number(2 * half)}"
    if plus:
        path += f"M{number(x)} {number(y - half)}v{number(2 * half)}"
    name = "plus" if plus else "minus"
    halo = svg.element("path", d=path, class_="under")
    return Ink(halo + svg.element("path", svg.element("title", name), d=path, class_=f"sign {name}"))


def _band(band: Band, side: Side) -> Ink:
    """A strip at its true width, cut square at both ends."""
    (x1, y1), (x2, y2) = side.seen(band.x1, band.y1), side.seen(band.x2, band.y2)
    half = 0.5 * band.width / band.length
    nx, ny = -(y2 - y1) * half, (x2 - x1) * half
    corners = ((x1 + nx, y1 + ny), (x2 + nx, y2 + ny), (x2 - nx, y2 - ny), (x1 - nx, y1 - ny))
    return svg.group(svg.outline(corners, "metal strip"), title=band.name, class_="band")


def _flag(x: float, y: float) -> Ink:
    """The hottest strip."""
    return svg.group(
        svg.outline(((x, y - 2.0), (x + 2.3, y + 2.0), (x - 2.3, y + 2.0)), "blank"),
        svg.text(x, y + 1.5, "!", 3.2, "strong", "middle"),
        title="The hottest strip",
        class_="hottest",
    )


# --- round the outline, in mm of paper ---------------------------------------------------------------


def _dimensions(plan: Plan, side: Side) -> Ink:
    """Outer size below and at the left, outside the labels of wires; the pitch above the width."""
    w, h = side.size
    around = margins(plan, side)
    low, aside = around.bottom - NEXT - 2.0, -(around.left - 4.0)
    parts = [_dimension((0.0, 0.0), (0.0, h), aside, f"{plan.size.height:.1f}")]
    near = pitch(plan.spots)
    if near:
        a, b = sorted(side.at(s.x, s.y)[0] for s in near)
        parts.append(_dimension((a, h), (b, h), low, f"{near[1].x - near[0].x:.1f}"))
        low += NEXT
    parts.append(_dimension((0.0, h), (w, h), low, f"{plan.size.width:.1f}"))
    return svg.group(*parts, title="Dimensions in millimetres", class_="dimensions")


def pitch(spots: Sequence[Spot]) -> tuple[Spot, Spot] | None:
    """The two neighbours of the lowest row of several that stand leftmost, the left one first."""
    rows: dict[float, list[Spot]] = {}
    for spot in spots:
        rows.setdefault(round(spot.y, 3), []).append(spot)
    low = max((y for y, row in rows.items() if len(row) > 1), default=None)
    if low is None:
        return None
    first, second = sorted(rows[low], key=lambda spot: spot.x)[:2]
    return first, second


def _dimension(a: Point, b: Point, off: float, said: str) -> Ink:
    """A dimension line beside two points, below a level pair or left of an upright one."""
    level = abs(b[0] - a[0]) > abs(b[1] - a[1])
    dx, dy = (0.0, off) if level else (off, 0.0)
    (x1, y1), (x2, y2) = (a[0] + dx, a[1] + dy), (b[0] + dx, b[1] + dy)
    past = math.copysign(1.2, off)
    beyond = [(x, y + past) if level else (x + past, y) for x, y in ((x1, y1), (x2, y2))]
    long = abs(x2 - x1) + abs(y2 - y1)
    tip = min(1.6, long / 3.0)
    arrows = [_tip(x1, y1, level, tip), _tip(x2, y2, level, -tip)]
    middle = ((x1 + x2) / 2.0, (y1 + y2) / 2.0)
    words = svg.text(
        middle[0] - (0.0 if level else 0.8),
        middle[1] - (0.8 if level else 0.0),
        said,
        2.6,
        "halo",
        "middle",
        0.0 if level else -90.0,
    )
    start = math.copysign(1.0, off)
    edge = [
        svg.line(*((p[0], p[1] + start) if level else (p[0] + start, p[1])), *q, "fine")
        for p, q in zip((a, b), beyond, strict=True)
    ]
    return svg.group(svg.line(x1, y1, x2, y2, "fine"), *edge, *arrows, words, class_="dimension")


def _tip(x: float, y: float, level: bool, long: float) -> Ink:
    """An arrow's head."""
    half = abs(long) * 0.28
    if level:
        return svg.outline(((x, y), (x + long, y - half), (x + long, y + half)), "solid")
    return svg.outline(((x, y), (x - half, y + long), (x + half, y + long)), "solid")


def _corner(side: Side) -> Ink:
    """The same corner on both sides: upper left as the pack lies, upper right when it is turned over."""
    x = -1.5 if side.upper else side.size.width + 1.5
    inward = 4.0 if side.upper else -4.0
    return svg.group(
        svg.outline(((x, -1.5), (x + inward, -1.5), (x, 2.5)), "solid"),
        title="The same corner on both sides",
        class_="corner",
    )


def groups_seen(spots: Sequence[Spot]) -> list[tuple[int, int]]:
    """Group and how many cells, in order."""
    return sorted(Counter(spot.group for spot in spots).items())
