"""What stands round a pack's drawing on its sheet: title, scale bar, key, notes and cautions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from tideover.draw import svg
from tideover.draw.pack_view import FACE, FULL_SHARE, dashes, gauge, groups_seen
from tideover.draw.paper import said
from tideover.draw.plan import Plan
from tideover.draw.svg import Ink, Size, breadth, fitted, number, wrapped

TITLE, WORDS, SMALL = 5.2, 2.9, 2.5
"""Type of the title, of facts, of the key. [mm]"""
BAR = 50.0
"""Length of the scale bar on paper. [mm]"""
TICK = 10.0
"""From tick to tick of the scale bar, on the pack. [mm]"""
ROW = 7.0
"""Height of a row of the key. [mm]"""

Block = tuple[Ink, float]
"""Markup from (0, 0) down, and its height. [mm]"""


def head(plan: Plan, view: str, scale: float, which: tuple[int, int], width: float) -> Block:
    """Title, file, view, scale and number of the sheet; below it what the welder must know.

    Parameters
    ----------
    plan : Plan
        What is drawn. [-]
    view : str
        What is seen, such as ``Top view``. [-]
    scale : float
        1 is true size. [-]
    which : tuple of int
        Number of this sheet, and of how many. [-]
    width : float
        Room. [mm]
    """
    right = f"Scale {said(scale)}" if plan.true else "Not to scale"
    room = width - breadth(right, 4.2) - 6.0
    size, lines = fitted(plan.title, room, TITLE, 3.2, 2)
    parts = [svg.text(0.0, size, lines, size, "strong")]
    parts.append(svg.text(width, 4.6, right, 4.2, "strong", "end"))
    y = max(size + (len(lines) - 1) * svg.LEADING * size, 4.6) + 4.6
    count = f"Sheet {which[0]} of {which[1]}"
    parts.append(svg.text(width, y, count, WORDS, "soft", "end"))
    groups = groups_seen(plan.spots)
    cells = f"{len(groups)}S{max(n for _, n in groups)}P"
    line = f"{view} · {cells}, {len(plan.spots)} cell{'s' * (len(plan.spots) != 1)} · {plan.file}"
    size, lines = fitted(line, width - breadth(count, WORDS) - 4.0, WORDS, 2.2, 2)
    parts.append(svg.text(0.0, y, lines, size))
    y += (len(lines) - 1) * svg.LEADING * size
    for note in plan.notes:
        rows = wrapped(note, width, SMALL)
        y += 1.45 * SMALL
        parts.append(svg.text(0.0, y, rows, SMALL))
        y += (len(rows) - 1) * svg.LEADING * SMALL
    y += 2.2
    parts.append(svg.line(0.0, y, width, y, "line"))
    return svg.group(*parts, class_="head"), y + 1.0


def foot(plan: Plan, scale: float, width: float) -> Block:
    """Scale bar, key, cautions."""
    parts: list[Ink] = []
    y = 0.0
    for made, tall in (
        _bar(scale, width) if plan.true else (Ink(""), 0.0),
        _key(plan, width),
        _groups(plan, width),
        _cautions(plan.cautions, width),
    ):
        if made:
            parts.append(svg.group(made, transform=f"translate(0 {number(y)})"))
            y += tall
    return svg.group(*parts, class_="foot"), y


def _bar(scale: float, width: float) -> Block:
    """A bar of 50 mm of paper with a tick for every 10 mm of the pack, and the word to measure it."""
    parts = [svg.line(0.0, 3.0, BAR, 3.0, "bold")]
    step = TICK
    while step / scale < 2.0:  # ticks closer than this run together
        step *= 10.0
    apart = next(k for k in (1, 2, 5, 10, 50) if k * step / scale >= 6.0)
    k = 0
    while k * step / scale <= BAR + 1e-6:
        x = k * step / scale
        long = k % apart == 0
        parts.append(svg.line(x, 3.0, x, 0.8 if long else 1.6, "line tick"))
        if long:
            parts.append(svg.text(x, 6.0, f"{k * step:g}", 2.2, None, "middle"))
        k += 1
    parts.append(svg.text(BAR + 3.0, 6.0, "mm", 2.2))
    true = "" if scale == 1.0 else f" It is {BAR * scale:g} mm of the pack."
    words = f"This bar is 50 mm: measure it. If it is not, print again at 100 %, without fitting to the page.{true}"
    rows = wrapped(words, width - BAR - 12.0, SMALL)
    parts.append(svg.text(BAR + 11.0, 2.8, rows, SMALL))
    tall = max(8.0, 2.8 + len(rows) * svg.LEADING * SMALL)
    return svg.group(*parts, title="Scale bar, 50 mm of paper", class_="bar"), tall


def _flow(items: Iterable[tuple[Ink, str]], width: float, column: float = 10.0) -> Block:
    """A sample and its words, one after the other, row below row. Samples are drawn about (0, 0)."""
    parts: list[Ink] = []
    x = y = 0.0
    for sample, words in items:
        long = column + breadth(words, SMALL) + 4.0
        if x > 0.0 and x + long > width + 4.0:
            x, y = 0.0, y + ROW
        moved = f"translate({number(x + column / 2.0 - 0.8)} {number(y + ROW / 2.0)})"
        parts.append(svg.group(sample, transform=moved))
        parts.append(svg.text(x + column, y + ROW / 2.0 + 0.36 * SMALL, words, SMALL))
        x += long
    return svg.group(*parts), y + ROW if parts else 0.0


def _key(plan: Plan, width: float) -> Block:
    r = 2.9
    items = []
    for plus in (True, False):
        end = [svg.circle(0.0, 0.0, r, "blank"), svg.circle(0.0, 0.0, FACE * r, "blank thin")]
        sign = f"M-.9 0H.9{'M0 -.9V.9' if plus else ''}"
        end.append(svg.element("path", d=sign, class_="sign"))
        items.append((svg.group(*end), f"{'plus' if plus else 'minus'} end towards you"))
    if plan.bands:
        items.append((svg.rect(-4.0, -1.6, Size(8.0, 3.2), "metal"), "strip, cut where it ends"))
    if plan.welds:
        dots = svg.group(svg.circle(-1.2, 0.0, 0.5, "spot"), svg.circle(1.2, 0.0, 0.5, "spot"))
        items.append((dots, "weld points, two pairs on each end"))
    for lead in (True, False):
        if any(wire.lead == lead for wire in plan.wires):
            look = "blank heavy" if lead else "blank"
            wire = svg.group(svg.line(0.0, 0.0, 3.6, 0.0, "bold" if lead else "line"), svg.circle(0.0, 0.0, 1.1, look))
            items.append((wire, "lead of the pack" if lead else "sense wire"))
    if plan.true:
        items.append((svg.outline(((-1.5, -1.5), (2.5, -1.5), (-1.5, 2.5)), "solid"), "the same corner on both sides"))
    if plan.hottest:
        mark = (
            svg.outline(((0.0, -1.3), (1.5, 1.3), (-1.5, 1.3)), "blank"),
            svg.text(0.0, 1.0, "!", 2.2, "strong", "middle"),
        )
        items.append((svg.group(*mark), "hottest strip"))
    if any(spot.share is not None for spot in plan.spots):
        share = svg.group(svg.text(0.0, 0.4, "103 %", 2.2, None, "middle"), gauge(0.0, 1.0, 2.6, 1.03))
        items.append((share, f"its current, of the group's mean (the stroke); a full bar is {FULL_SHARE:g} times that"))
    made, tall = _flow(items, width)
    return svg.group(made, title="Key", class_="key"), tall


def _groups(plan: Plan, width: float) -> Block:
    """The ring of each group; its number stands in every cell."""
    found = [g for g, _ in groups_seen(plan.spots)]
    items = [(_ring(g), f"{g}") for g in found]
    made, tall = _flow(items, width - 22.0, 9.0)
    lead = svg.text(0.0, ROW / 2.0 + 0.36 * SMALL, "Groups", SMALL, "strong")
    moved = svg.group(made, transform="translate(14 0)")
    return svg.group(lead, moved, title="Rings of the groups; group 1 is the pack's plus end", class_="groups"), tall


def _ring(group: int) -> Ink:
    """A straight piece of the ring of a group."""
    kind = dashes(group)
    inside = svg.line(-3.6, 0.0, 3.6, 0.0, "ring", stroke_width=2.2, stroke_dasharray=kind) if kind else Ink("")
    return svg.group(inside, svg.rect(-3.6, -1.1, Size(7.2, 2.2), "edge"))


def _cautions(said_: Sequence[str], width: float) -> Block:
    if not said_:
        return Ink(""), 0.0
    rows = wrapped(" ".join(said_), width, SMALL)
    parts = [
        svg.line(0.0, 1.0, width, 1.0, "line"),
        svg.text(0.0, 4.6, rows, SMALL),
    ]
    return svg.group(*parts, title="Cautions", class_="cautions"), 4.6 + (len(rows) - 1) * svg.LEADING * SMALL + 1.0


__all__ = ["BAR", "foot", "head"]
