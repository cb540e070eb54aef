"""Sheets for the person who welds a pack: both sides to scale, with every id in its place."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from tideover.draw import svg
from tideover.draw.frame import foot, head
from tideover.draw.pack_view import Margins, Side, margins, view
from tideover.draw.pack_wires import NEAR, TYPE
from tideover.draw.paper import EDGE, PAPERS, Piece, cuts, reduction, said, turned
from tideover.draw.plan import Plan
from tideover.draw.svg import Ink, Size, breadth, number

SIDES = ("top", "bottom")
CAPTION = 7.0
"""Height of the line above each view. [mm]"""
GAP = 4.0
"""Between two views. [mm]"""
SEEN = {
    "top": "TOP, as the pack lies before you",
    "bottom": "BOTTOM, turned over like a page: left and right have changed places",
}


@dataclass(frozen=True)
class Sheet:
    """One sheet of paper.

    Attributes
    ----------
    paper : Size
        As it lies. [mm]
    title, about : str
        What is on it, in words.
    prefix : str
        Of its ids.
    scale : float
        1 is true size. [-]
    body : tuple of Ink
        [mm]
    """

    paper: Size
    title: str
    about: str
    prefix: str
    scale: float
    body: tuple[Ink, ...]

    def markup(self, alone: bool = True) -> str:
        """As SVG: a file of its own, or a part of a page."""
        return svg.document(self.paper, *self.body, title=self.title, about=self.about, prefix=self.prefix, alone=alone)


@dataclass(frozen=True)
class _Draft:
    """What goes on a sheet before it is known how many there are."""

    sideways: bool
    scale: float
    views: tuple[tuple[str, Piece, str], ...]
    """Side, piece, and what is said above it."""
    beside: bool = True


def sheets(plan: Plan, paper: str = "A4", sides: Sequence[str] = SIDES, full: bool = False) -> tuple[Sheet, ...]:
    """All sheets of a pack's drawing.

    Both sides go on one sheet where they fit at true size; otherwise each has its own, reduced to the largest usual
    scale that fits.

    Parameters
    ----------
    plan : Plan
        What is drawn. [-]
    paper : str
        One of `PAPERS`. [-]
    sides : sequence of str
        Of `SIDES`, in the order wanted. [-]
    full : bool
        At true size whatever it takes: a side that is larger than a sheet is cut over several. [-]

    Returns
    -------
    sheets : tuple of Sheet
        At least one.
    """
    drafts = _drafts(plan, PAPERS[paper], tuple(sides), full)
    return tuple(_sheet(plan, PAPERS[paper], draft, k, len(drafts)) for k, draft in enumerate(drafts, 1))


# --- what goes where ---------------------------------------------------------------------------------


def _free(plan: Plan, paper: Size, sideways: bool, scale: float) -> Size:
    """Room for views with their captions and labels. [mm]"""
    lies = turned(paper, sideways)
    width = lies.width - 2.0 * EDGE
    top = head(plan, "Top view and bottom view", scale, (10, 10), width)[1]
    bottom = foot(plan, scale, width)[1]
    return Size(width, lies.height - 2.0 * EDGE - top - bottom - 2.0)


def _drafts(plan: Plan, paper: Size, sides: tuple[str, ...], full: bool) -> list[_Draft]:
    whole = Piece(0.0, 0.0, plan.size)
    views = tuple((side, whole, SEEN[side]) for side in sides)
    n = len(views)
    wide = plan.size.width > plan.size.height
    lies = (wide, not wide)
    around = _around(plan, views, 1.0)
    need_wide = plan.size.width + around.left + around.right
    need_tall = plan.size.height + around.top + around.bottom + CAPTION
    for sideways in lies:
        free = _free(plan, paper, sideways, 1.0)
        for beside in (True, False):
            across, down = (n, 1) if beside else (1, n)
            if (
                across * need_wide + (across - 1) * GAP <= free.width
                and down * need_tall + (down - 1) * GAP <= free.height
            ):
                return [_Draft(sideways, 1.0, views, beside)]
    if full and plan.true:
        return [draft for side in sides for draft in _cut(plan, paper, side)]
    sideways, scale = min(((way, _scale(plan, paper, views, way)) for way in lies), key=lambda found: found[1])
    return [_Draft(sideways, scale, (v,)) for v in views]


def _around(plan: Plan, views: Sequence[tuple[str, Piece, str]], scale: float) -> Margins:
    """Room round each of several views, as the greediest needs it."""
    each = [margins(plan, Side(name == "top", scale, piece, plan.size.width)) for name, piece, _ in views]
    return Margins(*(max(m[k] for m in each) for k in range(4)))


def _room(free: Size, around: Margins) -> Size:
    """What is left for the outline itself."""
    return Size(free.width - around.left - around.right, free.height - around.top - around.bottom - CAPTION)


def _scale(plan: Plan, paper: Size, views: Sequence[tuple[str, Piece, str]], sideways: bool) -> float:
    """The scale at which each of several views has a sheet of its own: one for all, no smaller than it must be."""
    scale = 1.0
    while True:  # the room that frame and labels need changes a little with the scale
        room = _room(_free(plan, paper, sideways, scale), _around(plan, views, scale))
        need = reduction(plan.size, room)
        if need <= scale:
            return scale
        scale = need


def _cut(plan: Plan, paper: Size, side: str) -> list[_Draft]:
    """One side at true size over as many sheets as it takes, the fewest of both ways to lay the paper."""
    longest = max((breadth(wire.label, TYPE) for wire in plan.wires), default=0.0) + NEAR + 4.0
    around = Margins(longest, NEAR + 7.0, longest, NEAR + 7.0)
    best: list[_Draft] = []
    for sideways in (False, True):
        room = _room(_free(plan, paper, sideways, 1.0), around)
        xs = cuts(plan.size.width, room.width, plan.pitch.width)
        ys = cuts(plan.size.height, room.height, plan.pitch.height)
        made = []
        for row, (y, y2) in enumerate(itertools.pairwise(ys), 1):
            for column, (x, x2) in enumerate(itertools.pairwise(xs), 1):
                words = f"{side.upper()}, row {row} of {len(ys) - 1}, column {column} of {len(xs) - 1}"
                words += f": from {x:g} mm right and {y:g} mm down"
                words += "" if side == "top" else ", turned over like a page"
                made.append(_Draft(sideways, 1.0, ((side, Piece(x, y, Size(x2 - x, y2 - y)), words),)))
        if not best or len(made) < len(best):
            best = made
    return best


# --- one sheet ---------------------------------------------------------------------------------------


def _sheet(plan: Plan, paper: Size, draft: _Draft, which: int, count: int) -> Sheet:
    prefix = f"s{which}"
    lies = turned(paper, draft.sideways)
    width = lies.width - 2.0 * EDGE
    names = " and ".join(f"{side} view" for side, _, _ in draft.views).capitalize()
    top, head_tall = head(plan, names, draft.scale, (which, count), width)
    bottom, foot_tall = foot(plan, draft.scale, width)
    free = Size(width, lies.height - 2.0 * EDGE - head_tall - foot_tall - 2.0)
    body = [
        svg.rect(0.0, 0.0, lies, "sheet"),
        svg.group(top, transform=f"translate({number(EDGE)} {number(EDGE)})"),
    ]
    around = _around(plan, draft.views, draft.scale)
    n = len(draft.views)
    slot = Size(free.width / n, free.height) if draft.beside else Size(free.width, free.height / n)
    for k, (name, piece, words) in enumerate(draft.views):
        side = Side(name == "top", draft.scale, piece, plan.size.width)
        x0 = EDGE + (slot.width * k if draft.beside else 0.0)
        left = _room(slot, around)
        x = x0 + around.left + max(0.0, left.width - side.size.width) / 2.0
        y = EDGE + head_tall + (0.0 if draft.beside else slot.height * k)
        y += 0.35 * max(0.0, left.height - side.size.height) + CAPTION
        size, lines = svg.fitted(words, slot.width - 4.0, 2.9, 1.9, 2)
        body.append(svg.text(x0 + slot.width / 2.0, y - 3.0, lines, size, "strong caption", "middle"))
        moved = f"translate({number(x)} {number(y + around.top)})"
        body.append(svg.group(view(plan, side, prefix), transform=moved))
    placed = f"translate({number(EDGE)} {number(lies.height - EDGE - foot_tall)})"
    body.append(svg.group(bottom, transform=placed))
    scale = f"scale {said(draft.scale)}" if plan.true else "not to scale"
    title = f"{plan.title}: {names}, {scale}, sheet {which} of {count}"
    return Sheet(lies, title, _about(plan), prefix, draft.scale, tuple(body))


def _about(plan: Plan) -> str:
    """The drawing in words: the cells of every group."""
    groups: dict[int, list[str]] = {}
    for spot in plan.spots:
        groups.setdefault(spot.group, []).append(spot.id)
    rows = "; ".join(f"group {g}: {', '.join(ids)}" for g, ids in sorted(groups.items()))
    return f"Cells by group from the plus end. {rows}."
