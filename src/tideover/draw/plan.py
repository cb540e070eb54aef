"""What is to be drawn of a pack: where each cell, strip and tap lies, in millimetres of the thing itself.

x runs to the right and y downwards as the pack lies before the builder, its upper side up; both begin at the
outline's upper left corner.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from tideover.draw.svg import Size

TABLE_PITCH = 20.0
"""From place to place where no layout is known: about a common cell's width, so that ids are legible. [mm]"""


@dataclass(frozen=True)
class Spot:
    """One cell.

    Attributes
    ----------
    id : str
    group : int
        From 1 at the pack's plus end. [-]
    x, y : float
        Its middle. [mm]
    size : Size
        Along x and y; a round cell has its diameter twice. [mm]
    up : bool
        Its plus end is on the upper side.
    round : bool
    share : float or None
        Its current over the mean of its group, where it is worst. [-]
    """

    id: str
    group: int
    x: float
    y: float
    size: Size
    up: bool
    round: bool = True
    share: float | None = None

    @property
    def radius(self) -> float:
        """Of the largest circle in it. [mm]"""
        return min(self.size) / 2.0


@dataclass(frozen=True)
class Band:
    """One straight piece of strip.

    Attributes
    ----------
    x1, y1, x2, y2 : float
        Its middle line from cut to cut. [mm]
    width : float
        [mm]
    upper : bool
        Which side of the pack it is on.
    name : str
        What it joins, in words.
    """

    x1: float
    y1: float
    x2: float
    y2: float
    width: float
    upper: bool
    name: str = ""

    @property
    def length(self) -> float:
        """From cut to cut. [mm]"""
        return math.hypot(self.x2 - self.x1, self.y2 - self.y1)

    def covers(self, spot: Spot) -> bool:
        """Whether it lies over a cell's middle."""
        dx, dy = self.x2 - self.x1, self.y2 - self.y1
        along = ((spot.x - self.x1) * dx + (spot.y - self.y1) * dy) / (dx * dx + dy * dy or 1.0)
        along = max(0.0, min(1.0, along))
        return math.hypot(self.x1 + along * dx - spot.x, self.y1 + along * dy - spot.y) < 0.5 * self.width


class Mark(NamedTuple):
    """A point on one side: a weld, or the middle of the hottest strip. [mm]"""

    x: float
    y: float
    upper: bool


@dataclass(frozen=True)
class Wire:
    """What is soldered to a strip.

    Attributes
    ----------
    names : tuple of str
        What goes there, such as ``+ lead`` and ``B+``.
    points : tuple of (float, float)
        Middles of the cells at whose welds it is soldered, or of a tab's end. [mm]
    off : float
        From there to the edge of the strip, where the solder goes. [mm]
    upper : bool
        Which side of the pack it is on.
    lead : bool
        It carries the pack's current.
    """

    names: tuple[str, ...]
    points: tuple[tuple[float, float], ...]
    off: float
    upper: bool
    lead: bool

    @property
    def label(self) -> str:
        return " · ".join(self.names)


@dataclass(frozen=True)
class Plan:
    """A pack as it is drawn.

    Attributes
    ----------
    title, file : str
    size : Size
        Over cells and strips. [mm]
    pitch : Size
        From cell to cell along x and y. [mm]
    spots, bands, welds, wires, hottest : tuple
    true : bool
        To scale; a mere table of places otherwise.
    notes : tuple of str
        Facts for the welder, such as the strip's section.
    cautions : tuple of str
    """

    title: str
    file: str
    size: Size
    pitch: Size
    spots: tuple[Spot, ...]
    bands: tuple[Band, ...] = ()
    welds: tuple[Mark, ...] = ()
    wires: tuple[Wire, ...] = ()
    hottest: tuple[Mark, ...] = ()
    true: bool = True
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


CAUTIONS = (
    "Eye protection. No rings or watch.",
    "An insulating ring on every plus end before any strip touches it.",
    "Cover the terminals that you are not welding; the strips are live from the first weld on.",
    "A fuse at the pack, on its plus lead.",
    "Bring the groups to one voltage before they are joined.",
    "Never solder to a cell; never use one that is dented, leaking or warm at rest.",
)
"""For whoever welds lithium cells; common knowledge of the trade. The makers' data sheets and local rules go first."""


def table(title: str, file: str, groups: Sequence[Sequence[str]]) -> Plan:
    """A plan of places where no layout is known: a row for each group.

    Parameters
    ----------
    title, file : str
        Of the pack. [-]
    groups : sequence of sequence of str
        Ids from the pack's plus end. [-]

    Returns
    -------
    plan : Plan
        Not to scale. Groups turn over in turn, as they do where strips join them in series.
    """
    half, size = TABLE_PITCH / 2.0, Size(0.92 * TABLE_PITCH, 0.92 * TABLE_PITCH)
    spots = tuple(
        Spot(id, g + 1, half + TABLE_PITCH * k, half + TABLE_PITCH * g, size, g % 2 == 0)
        for g, ids in enumerate(groups)
        for k, id in enumerate(ids)
    )
    most = max(len(ids) for ids in groups)
    note = "Not to scale and without strips: the pack's file does not say how its cells are joined (key strip)."
    outline = Size(most * TABLE_PITCH, len(groups) * TABLE_PITCH)
    step = Size(TABLE_PITCH, TABLE_PITCH)
    return Plan(title, file, outline, step, spots, true=False, notes=(note,), cautions=CAUTIONS)
