"""What a laid out power path is made of, and the measures that all its layouts share; lengths in px."""

from __future__ import annotations

from dataclasses import dataclass

from tideover.draw.path_items import Item

Point = tuple[float, float]
Terminal = tuple[str, str]

TEXT = 12.0
"""Type of all words: the least that is read on a phone. [px]"""
HEIGHT, TALL = 40.0, 56.0
"""Of a box with a name and a figure, and with a mark below them. [px]"""
NARROW, WIDE = 53.0, 120.0
"""Least and largest width of a box. [px]"""
LABEL, GAP = 48.0, 30.0
"""Width of a node's column with its voltage, and without. [px]"""
PITCH = 14.0
"""Between ports at one side of a box. [px]"""
MARK = 11.0
"""From a box to its mark of the return. [px]"""
EDGE = 8.0
"""Around the drawing. [px]"""
PHONE = 358.0
"""Width of a drawing for a phone. [px]"""


@dataclass(frozen=True)
class Box:
    """A box from its upper left corner."""

    item: Item
    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Its right edge. [px]"""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """Its lower edge. [px]"""
        return self.y + self.height


@dataclass(frozen=True)
class Wire:
    """A line of one node, from point to point at right angles.

    Attributes
    ----------
    net : int
        Number of the node; 0 is the return.
    behind : tuple of (str, str)
        Terminals behind its first point: what flows out of them together flows along it.
    points : tuple of (float, float)
        At least two.
    """

    net: int
    behind: tuple[Terminal, ...]
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Label:
    """Where a node's voltage stands: base line and anchor."""

    net: int
    x: float
    y: float
    anchor: str


@dataclass(frozen=True)
class Return:
    """A mark of the return at the end of a line; `aside` when the line comes from the left instead of from above."""

    at: Point
    aside: bool


@dataclass(frozen=True)
class Layout:
    """Everything in its place; `rail` is the line of the return: from x to x at y."""

    width: float
    height: float
    boxes: dict[str, Box]
    wires: tuple[Wire, ...]
    dots: tuple[tuple[int, Point], ...]
    labels: tuple[Label, ...]
    returns: tuple[Return, ...]
    rail: tuple[float, float, float] | None
