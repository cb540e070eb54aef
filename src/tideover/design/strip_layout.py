"""The strips of a pack: how its cells stand, what joins their ends, and where everything lies.

Cells stand upright in rows. The rows of a group lie side by side, and so do the groups, the first at the pack's plus
end. Every second group stands upside down, so that the minus ends of one group and the plus ends of the next are in
one plane, ``top`` or ``bottom``. Strips *along* join the cells of a row; strips *across* join rows of one group at
every column, and one group to the next where `StripLayout.joined` says.

Positions are in metres: x along the rows, y across them, both from the centre of the first cell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import ceil, hypot, sqrt

from tideover.quantity import Quantity

EVERY, FIRST, MIDDLE, LAST = "every", "first", "middle", "last"
PLACES = (FIRST, MIDDLE, LAST, EVERY)
"""Words for a column; a number counts from 1."""
ROUND, PRISMATIC = "round", "prismatic"
SQUARE, NESTED = "square", "nested"
TOP, BOTTOM = "top", "bottom"
ALONG, ACROSS, LINK = "along", "across", "link"
"""Kinds of segment: in a row, between rows of one group, between groups."""


@dataclass(frozen=True)
class Strip:
    """Strip as it comes from the reel.

    Attributes
    ----------
    name : str
        From the shelf, or the builder's own figures in words.
    width, thickness, resistivity, tempco : Quantity
        Of one layer; resistivity at 20 °C. [m, m, ohm m, 1/K]
    source : str
        Where the figures come from.
    """

    name: str
    width: Quantity
    thickness: Quantity
    resistivity: Quantity
    tempco: Quantity
    source: str = ""


@dataclass(frozen=True)
class StripLayout:
    """How a pack is put together.

    Attributes
    ----------
    along, across : Strip
        In the rows; between rows and groups.
    layers, across_layers : int
        Of strip, one on the other.
    rows : int
        Rows of cells in a group; the last may be shorter.
    columns : int
        Cells in a full row.
    joined : str
        Columns at which one group is joined to the next: a word of `PLACES` or a number.
    plus, minus, sense : str
        Columns at which the plus lead, the minus lead and the sense leads are soldered.
    weld : Quantity
        Resistance of the welds of one cell end, all points together. [ohm]
    shape : str
        ``round`` or ``prismatic``.
    width, depth, height : Quantity
        Of a cell: along the row, across it, and from end to end; a round one has two diameters. [m]
    pitch, row_pitch : Quantity
        From centre to centre along a row, and from row to row. [m]
    arrangement : str
        ``square``, or ``nested``: every second row moved by half a pitch.
    origins : dict of str to str
        By Python name: where each comes from.
    """

    along: Strip
    across: Strip
    layers: int
    across_layers: int
    rows: int
    columns: int
    joined: str
    plus: str
    minus: str
    sense: str
    weld: Quantity
    shape: str
    width: Quantity
    depth: Quantity
    height: Quantity
    pitch: Quantity
    row_pitch: Quantity
    arrangement: str = SQUARE
    origins: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Stand:
    """One cell in its place.

    Attributes
    ----------
    id : str
        As on its label.
    group, row, column : int
        From 1; the row counts within its group.
    x, y : float
        Of its centre. [m]
    plus_up : bool
        Whether its plus end is in the top plane.
    """

    id: str
    group: int
    row: int
    column: int
    x: float
    y: float
    plus_up: bool

    def plane(self, plus: bool) -> str:
        """Plane of its plus or minus end."""
        return TOP if self.plus_up == plus else BOTTOM


@dataclass(frozen=True)
class Segment:
    """Strip between two neighbouring welds.

    Attributes
    ----------
    a, b : int
        Nodes: twice the position of the cell in `Geometry.cells`, and one more for its minus end.
    kind : str
        ``along``, ``across`` or ``link``.
    plane : str
        ``top`` or ``bottom``.
    name : str
        ``A01 to A02, plus of group 1``.
    x0, y0, x1, y1 : float
        From the weld at `a` to that at `b`. [m]
    width : float
        Of the strip. [m]
    layers : int
        Of strip.
    """

    a: int
    b: int
    kind: str
    plane: str
    name: str
    x0: float
    y0: float
    x1: float
    y1: float
    width: float
    layers: int

    @property
    def length(self) -> float:
        """Between the centres of the welds. [m]"""
        return hypot(self.x1 - self.x0, self.y1 - self.y0)


@dataclass(frozen=True)
class Tap:
    """Where a lead is soldered.

    Attributes
    ----------
    name : str
        ``plus``, ``minus``, or ``sense 1`` for the joint below group 1, counted from the plus end.
    nodes : tuple of int
        As in `Segment`; more than one where the lead is soldered at every column.
    plane : str
        ``top`` or ``bottom``.
    points : tuple of (float, float)
        x and y of each. [m]
    """

    name: str
    nodes: tuple[int, ...]
    plane: str
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Piece:
    """One straight piece of strip to be cut.

    Attributes
    ----------
    kind, plane : str
        As in `Segment`.
    segments : tuple of int
        Positions in `Geometry.segments` that it is made of.
    x0, y0, x1, y1 : float
        End to end, with half a strip's width beyond the last welds. [m]
    width : float
        Of the strip. [m]
    layers : int
        How many such pieces lie on each other.
    """

    kind: str
    plane: str
    segments: tuple[int, ...]
    x0: float
    y0: float
    x1: float
    y1: float
    width: float
    layers: int

    @property
    def length(self) -> float:
        """End to end. [m]"""
        return hypot(self.x1 - self.x0, self.y1 - self.y0)


@dataclass(frozen=True)
class Geometry:
    """Everything of a pack in its place.

    Attributes
    ----------
    cells : tuple of Stand
        Group by group from the plus end, row by row.
    segments : tuple of Segment
        All strips, weld to weld.
    pieces : tuple of Piece
        All strips, as they are cut.
    plus, minus : Tap
        Of the leads.
    sense : tuple of Tap
        Of the joints between groups, from the plus end.
    """

    cells: tuple[Stand, ...]
    segments: tuple[Segment, ...]
    pieces: tuple[Piece, ...]
    plus: Tap
    minus: Tap
    sense: tuple[Tap, ...]


def columns_at(place: str, columns: int) -> tuple[int, ...]:
    """Columns that a word or number means, from 0.

    Examples
    --------
    >>> columns_at("middle", 5), columns_at("every", 3), columns_at("4", 5)
    ((2,), (0, 1, 2), (3,))
    """
    if place == EVERY:
        return tuple(range(columns))
    return ({FIRST: 0, MIDDLE: columns // 2, LAST: columns - 1}[place] if place in PLACES else int(place) - 1,)


def columns_of(parallel: int, rows: int) -> int:
    """Cells in a full row. [-]"""
    return ceil(parallel / rows)


def geometry(layout: StripLayout, groups: Sequence[Sequence[str]]) -> Geometry:
    """Put every cell and strip in its place.

    Parameters
    ----------
    layout : StripLayout
        How the pack is put together.
    groups : sequence of sequence of str
        Ids, from the plus end; all groups have as many cells, at least as many as there are rows.

    Returns
    -------
    geometry : Geometry
        In metres.
    """
    cells = tuple(_stand(layout, g, k, id) for g, ids in enumerate(groups) for k, id in enumerate(ids))
    segments, pieces = _strips(layout, cells, len(groups))
    first, last = groups[0], groups[-1]
    ends = len(cells) - len(last)
    sense = tuple(
        _tap(f"sense {g + 1}", layout, cells, g * len(first), len(first), layout.sense, 1, "last")
        for g in range(len(groups) - 1)
    )
    return Geometry(
        cells,
        segments,
        pieces,
        _tap("plus", layout, cells, 0, len(first), layout.plus, 0, "first"),
        _tap("minus", layout, cells, ends, len(last), layout.minus, 1, "last"),
        sense,
    )


def _stand(layout: StripLayout, group: int, k: int, id: str) -> Stand:
    row, column = divmod(k, layout.columns)
    line = group * layout.rows + row
    moved = 0.5 * (line % 2) if layout.arrangement == NESTED else 0.0
    x, y = (column + moved) * layout.pitch.nominal, line * layout.row_pitch.nominal
    return Stand(id, group + 1, row + 1, column + 1, x, y, group % 2 == 0)


def _strips(
    layout: StripLayout, cells: tuple[Stand, ...], groups: int
) -> tuple[tuple[Segment, ...], tuple[Piece, ...]]:
    """Strips along every row at both ends, then those across, column by column."""
    at = {((c.group - 1) * layout.rows + c.row - 1, c.column - 1): k for k, c in enumerate(cells)}
    lines = groups * layout.rows
    segments: list[Segment] = []
    pieces: list[Piece] = []

    def lay(path: list[tuple[int, str]], plus: list[bool]) -> None:
        """One piece through the ends of several cells, each with the kind of the segment that leads to it."""
        if len(path) < 2:
            return
        begin = len(segments)
        for ((j, _), (k, kind)), (p, q) in zip(pairwise(path), pairwise(plus)):
            segments.append(_segment(layout, cells, (j, p), (k, q), kind))
            if layout.arrangement == NESTED and kind != ALONG:  # it bends at every row: cut at each
                pieces.append(_piece(segments, len(segments) - 1))
        if len(pieces) == 0 or pieces[-1].segments[-1] != len(segments) - 1:
            pieces.append(_piece(segments, begin))

    for line in range(lines):
        row = [(at[line, c], ALONG) for c in range(layout.columns) if (line, c) in at]
        for end in (True, False):
            lay(row, [end] * len(row))
    joined = columns_at(layout.joined, layout.columns)
    for c in range(layout.columns):
        for joint in range(-1, groups):  # the plus end of the first group, the joints, the minus end of the last
            path: list[tuple[int, str]] = []
            plus: list[bool] = []
            for group in (joint, joint + 1):
                for row_ in range(layout.rows):
                    line = group * layout.rows + row_
                    if not 0 <= group < groups or (line, c) not in at:
                        continue
                    if path and row_ == 0 and c not in joined:
                        lay(path, plus)
                        path, plus = [], []
                    path.append((at[line, c], LINK if row_ == 0 else ACROSS))
                    plus.append(group == joint + 1)
            lay(path, plus)
    return tuple(segments), tuple(pieces)


def _segment(
    layout: StripLayout, cells: tuple[Stand, ...], a: tuple[int, bool], b: tuple[int, bool], kind: str
) -> Segment:
    one, other = cells[a[0]], cells[b[0]]
    strip, layers = (layout.along, layout.layers) if kind == ALONG else (layout.across, layout.across_layers)
    end = f"{'plus' if a[1] else 'minus'} of group {one.group}"
    end = f"group {one.group} to group {other.group}" if kind == LINK else end
    node_a, node_b = 2 * a[0] + (not a[1]), 2 * b[0] + (not b[1])
    place = (one.x, one.y, other.x, other.y)
    name = f"{one.id} to {other.id}, {end}"
    return Segment(node_a, node_b, kind, one.plane(a[1]), name, *place, strip.width.nominal, layers)


def _piece(segments: list[Segment], begin: int) -> Piece:
    """The strip that the segments from `begin` on are cut from."""
    run = segments[begin:]
    first, last = run[0], run[-1]
    length = hypot(last.x1 - first.x0, last.y1 - first.y0)
    over = 0.5 * first.width / length
    dx, dy = over * (last.x1 - first.x0), over * (last.y1 - first.y0)
    kind = ALONG if first.kind == ALONG else LINK if any(s.kind == LINK for s in run) else ACROSS
    ends = (first.x0 - dx, first.y0 - dy, last.x1 + dx, last.y1 + dy)
    return Piece(kind, first.plane, tuple(range(begin, len(segments))), *ends, first.width, first.layers)


def _tap(
    name: str, layout: StripLayout, cells: tuple[Stand, ...], start: int, count: int, where: str, end: int, row: str
) -> Tap:
    """On the outermost row of a group; where its last row is too short, on the row before."""
    nodes = []
    for column in columns_at(where, layout.columns):
        rows = range(layout.rows) if row == "first" else range(layout.rows - 1, -1, -1)
        k = next(start + r * layout.columns + column for r in rows if r * layout.columns + column < count)
        nodes.append(k)
    plane = cells[nodes[0]].plane(end == 0)
    return Tap(name, tuple(2 * k + end for k in nodes), plane, tuple((cells[k].x, cells[k].y) for k in nodes))


def nested_pitch(pitch: float) -> float:
    """Distance of rows when every cell touches two of the next row as closely as those of its own. [m]"""
    return pitch * sqrt(0.75)
