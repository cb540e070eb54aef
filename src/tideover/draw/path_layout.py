"""From columns and lanes to places: boxes, lines, dots and labels of the power path, in px.

Left to right, columns lie along x and lanes along y; top-down it is the other way round, and what hangs from a node
hangs below its line. Where lanes do not fit a phone, boxes stand one below the other beside one track for each node.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Collection

from tideover.draw.path_grid import Grid, Hung, grid
from tideover.draw.path_items import ENDS, Item, Plan, Port
from tideover.draw.path_tracks import tracks
from tideover.draw.path_types import (
    EDGE,
    GAP,
    HEIGHT,
    LABEL,
    MARK,
    NARROW,
    PHONE,
    PITCH,
    TALL,
    TEXT,
    WIDE,
    Box,
    Label,
    Layout,
    Point,
    Return,
    Terminal,
    Wire,
)  # fmt: skip
from tideover.draw.svg import breadth

LANE_GAP = 36.0
"""Between lanes: room for a label over a line and a mark of the return under a box. [px]"""
ROW = 36.0
"""Height of a node's line when drawn top-down, with its label above it. [px]"""
DROP = 18.0
"""From a node's line to what hangs from it, top-down. [px]"""
SLIM = 74.0
"""Narrowest box top-down that still holds a name. [px]"""


def layout(plan: Plan, down: bool = False, marked: Collection[str] = ()) -> Layout:
    """Place a power path.

    Parameters
    ----------
    plan : Plan
        What is to be drawn. [-]
    down : bool
        Top-down within 358 px, for a phone; left to right otherwise. [-]
    marked : collection of str
        Parts whose box holds a line more, for a mark. [-]
    """
    places = grid(plan, down)
    if not down:
        return _Across(places, marked).layout()
    slim = (PHONE - 2 * EDGE - MARK - (places.lanes - 1) * (MARK + 8.0)) / places.lanes
    return _Down(places, marked, min(slim, WIDE)).layout() if slim >= SLIM else tracks(places, marked)


class _Placing:
    """What both ways share: lines from ports to trunks and along them."""

    def __init__(self, places: Grid, marked: Collection[str]) -> None:
        self.grid = places
        self.marked = marked
        self.boxes: dict[str, Box] = {}
        self.wires: list[Wire] = []
        self.dots: list[tuple[int, Point]] = []
        self.labels: list[Label] = []
        self.returns: list[Return] = []
        self.pins: dict[int, list[tuple[Item, Port]]] = defaultdict(list)
        for item in places.items:
            for port in item.ports:
                self.pins[port.net].append((item, port))
        self.hung: dict[int, list[Hung]] = defaultdict(list)
        for hung in places.hung:
            self.hung[hung.stack.net].append(hung)

    def tall(self, item: Item) -> float:
        """Height of a box. [px]"""
        ports = max(len(item.side(True)), len(item.side(False))) // 2
        least = TALL if any(name in self.marked for name in item.parts) else HEIGHT
        return max(least, 2 * PITCH * ports + 12.0 if ports else 0.0)

    def offset(self, item: Item, port: Port) -> float:
        """Of a port from the middle of its side, in steps: one port is always right there."""
        side = item.side(port.right)
        return float(side.index(port) - (len(side) - 1) // 2)

    def trunk(self, net: int, along: float, ends: list[tuple[float, Terminal]], turned: bool) -> None:
        """Lines along a trunk between its joins, and dots where three lines meet."""
        levels = sorted({at for at, _ in ends})
        for low, high in itertools.pairwise(levels):
            behind = tuple(t for at, t in ends if at <= low)
            self.wires.append(Wire(net, behind, (_at(along, low, turned), _at(along, high, turned))))
        for k, at in enumerate(levels):
            meeting = sum(1 for other, _ in ends if other == at) + (k > 0) + (k < len(levels) - 1)
            if meeting > 2:
                self.dots.append((net, _at(along, at, turned)))


def _at(along: float, across: float, turned: bool) -> Point:
    return (across, along) if turned else (along, across)


class _Across(_Placing):
    """Left to right."""

    def layout(self) -> Layout:
        self._measure()
        for item in self.grid.items:
            wide = self.width[self.grid.column[item.name]]
            self._box(item, self.x[self.grid.column[item.name]] - wide / 2, self.y[self.grid.lane[item.name]], wide)
        nets = dict.fromkeys([*self.pins, *self.hung])
        for net in nets:
            self._straight(net) if net in self.grid.straight else self._node(net)
        high = max([b.bottom for b in self.boxes.values()], default=0.0)
        rail = high + LANE_GAP - 8.0
        ends = self._ends()
        free = {item.name for item, column, lane in ends if self._reaches(item, column, lane)}
        free = free if len(free) > 1 else set()
        dropped = [x for item, _, _ in ends for x in self._ground(item, rail if item.name in free else 0.0)]
        span = (min(dropped), max(dropped), rail) if dropped else None
        width = max(self.right + EDGE, 120.0)
        return Layout(
            width, (rail + 18.0 if span else high + 2 * MARK), self.boxes, tuple(self.wires), tuple(self.dots),
            tuple(self.labels), tuple(self.returns), span,
        )  # fmt: skip

    def _measure(self) -> None:
        """Width of every column and height of every lane."""
        g = self.grid
        self.width = [0.0] * g.columns
        for item in g.items:
            self.width[g.column[item.name]] = max(self.width[g.column[item.name]], wide(item))
        room = [0.0] * g.columns
        for net, column in g.trunk.items():
            if len(self.pins[net]) + len(self.hung[net]) > 1:
                room[column] = max(room[column], LABEL)
            room[column] = max(room[column], GAP)
        for hung in g.hung:
            self.width[hung.column] = max(self.width[hung.column], *(wide(i) for i in hung.stack.items))
        tall = [HEIGHT] * g.lanes
        for item in g.items:
            tall[g.lane[item.name]] = max(tall[g.lane[item.name]], self.tall(item))
        for hung in g.hung:
            for k, item in enumerate(hung.stack.items):
                tall[hung.lane + k] = max(tall[hung.lane + k], self.tall(item))
        self.x, at = [], EDGE
        for column in range(g.columns):
            hangs = room[column] or column not in set(g.column.values())
            full = max(room[column], self.width[column] + 14.0 if self.width[column] and hangs else self.width[column])
            self.x.append(at + full / 2)
            at += full
        self.right = at
        self.y, at = [], EDGE + 12.0
        for height in tall:
            self.y.append(at + height / 2)
            at += height + LANE_GAP

    def _box(self, item: Item, x: float, y: float, wide_: float) -> Box:
        tall = self.tall(item)
        box = Box(item, x, y - tall / 2, wide_, tall)
        self.boxes[item.name] = box
        return box

    def _port(self, item: Item, port: Port) -> Point:
        box = self.boxes[item.name]
        x = box.right if port.right else box.x
        return x, box.y + box.height / 2 + PITCH * self.offset(item, port)

    def _straight(self, net: int) -> None:
        (a, first), (b, second) = sorted(self.pins[net], key=lambda pin: not pin[1].right)
        start, end = self._port(a, first), self._port(b, second)
        x = self.x[self.grid.trunk[net]]
        bend = ((x, start[1]), (x, end[1])) if start[1] != end[1] else ()
        self.wires.append(Wire(net, ((first.part, first.terminal),), (start, *bend, end)))
        self.labels.append(Label(net, x, min(start[1], end[1]) - 9.0, "middle"))

    def _node(self, net: int) -> None:
        x = self.x[self.grid.trunk[net]]
        tops = [self._stack(hung) for hung in self.hung[net]]
        if len(self.pins[net]) + len(tops) < 2:
            return
        ends: list[tuple[float, Terminal]] = []
        for item, port in self.pins[net]:
            start = self._port(item, port)
            self.wires.append(Wire(net, ((port.part, port.terminal),), (start, (x, start[1]))))
            ends.append((start[1], (port.part, port.terminal)))
        branch = min((self.y[h.lane] for h in self.hung[net]), default=0.0) - HEIGHT / 2 - 18.0
        for hung, top in zip(self.hung[net], tops):
            port = hung.stack.items[0].ports[0]
            here = self.x[hung.column]
            way = (top, (here, branch), *(((x, branch),) if here != x else ()))
            self.wires.append(Wire(net, ((port.part, port.terminal),), way))
            ends.append((branch, (port.part, port.terminal)))
        self.trunk(net, x, ends, False)
        high = min(at for at, _ in ends)
        low = any(self._port(i, p)[1] == high and self.offset(i, p) > 0.0 for i, p in self.pins[net])
        self.labels.append(Label(net, x - 8.0, high + 17.0, "end") if low else Label(net, x, high - 9.0, "middle"))

    def _stack(self, hung: Hung) -> Point:
        """Boxes of a stack with the lines between them; where it begins."""
        x, before = self.x[hung.column], None
        for k, item in enumerate(hung.stack.items):
            box = self._box(item, x - self.width[hung.column] / 2, self.y[hung.lane + k], self.width[hung.column])
            if before:
                lower = before.item.ports[1]
                self.wires.append(
                    Wire(lower.net, ((lower.part, lower.terminal),), ((x, before.bottom), (x, box.y)))
                )
                self.labels.append(Label(lower.net, x + 9.0, (before.bottom + box.y) / 2 + 4.0, "start"))
            before = box
        return x, self.boxes[hung.stack.items[0].name].y

    def _ends(self) -> list[tuple[Item, int, int]]:
        """Boxes with terminals on the return, each with its column and lane."""
        ends = [(i, self.grid.column[i.name], self.grid.lane[i.name]) for i in self.grid.items if i.grounds]
        for hung in self.grid.hung:
            ends.append((hung.stack.items[-1], hung.column, hung.lane + len(hung.stack.items) - 1))
        return ends

    def _reaches(self, item: Item, column: int, lane: int) -> bool:
        """Whether a box is joined to the line of the return itself: an end or what hangs, with nothing below.

        The others only let the current of their controller out there, or what a converter draws less than it gives.
        """
        ends = item.kind in ENDS or any(item is hung.stack.items[-1] for hung in self.grid.hung)
        return ends and not any((column, n) in self.grid.taken for n in range(lane + 1, self.grid.lanes))

    def _ground(self, item: Item, rail: float) -> list[float]:
        """Lines from a box to the return: down to its line at `rail`, or to a mark of its own when that is 0."""
        box, count = self.boxes[item.name], len(item.grounds)
        found = []
        for k, terminal in enumerate(item.grounds):
            x = box.x + box.width / 2 + PITCH * (k - (count - 1) / 2)
            end = (x, rail or box.bottom + MARK)
            self.wires.append(Wire(0, (terminal,), ((x, box.bottom), end)))
            found += [x] if rail else []
            if not rail:
                self.returns.append(Return(end, False))
        return found


def wide(item: Item) -> float:
    """Width that a box asks for. [px]"""
    return min(max(breadth(item.name + item.more, TEXT) + 11.0, NARROW), WIDE)


class _Down(_Across):
    """Top-down: columns become rows; every box has the same width."""

    def __init__(self, places: Grid, marked: Collection[str], slim: float) -> None:
        super().__init__(places, marked)
        self.slim = slim

    def layout(self) -> Layout:
        self._rows()
        g = self.grid
        for item in g.items:
            tall = self.tall(item)
            x = self.x[g.lane[item.name]] - self.slim / 2
            self.boxes[item.name] = Box(item, x, self.y[g.column[item.name]], self.slim, tall)
        for net in dict.fromkeys([*self.pins, *self.hung]):
            self._line(net) if net in g.straight else self._row(net)
        for item in g.items:
            self._aside(item)
        for hung in g.hung:
            self._below(hung)
        return Layout(
            PHONE, self.bottom + EDGE, self.boxes, tuple(self.wires), tuple(self.dots), tuple(self.labels),
            tuple(self.returns), None,
        )  # fmt: skip

    def tall(self, item: Item) -> float:
        """Height of a box: its ports stand side by side. [px]"""
        return TALL if any(name in self.marked for name in item.parts) else HEIGHT

    def _rows(self) -> None:
        g = self.grid
        tall = [0.0] * g.columns
        for item in g.items:
            tall[g.column[item.name]] = max(tall[g.column[item.name]], self.tall(item))
        for net, row in g.trunk.items():
            tall[row] = max(tall[row], ROW)
            for hung in self.hung[net]:
                boxes = sum(self.tall(i) for i in hung.stack.items)
                tall[row] = max(tall[row], ROW - 14.0 + len(hung.stack.items) * (DROP + 4.0) + boxes + MARK + 10.0)
        self.x = [EDGE + self.slim / 2 + n * (self.slim + MARK + 8.0) for n in range(g.lanes)]
        self.y, at = [], EDGE
        for height in tall:
            self.y.append(at)
            at += height
        self.bottom = at + (2 * MARK if any(i.grounds and not i.side(True) for i in g.items) else 0.0)

    def _port(self, item: Item, port: Port) -> Point:
        box = self.boxes[item.name]
        pitch = min(2 * PITCH, (box.width / 2 - 6.0) / max(len(item.side(port.right)) // 2, 1))
        x = box.x + box.width / 2 + pitch * self.offset(item, port)
        return x, box.bottom if port.right else box.y

    def _line(self, net: int) -> None:
        (a, first), (b, second) = sorted(self.pins[net], key=lambda pin: not pin[1].right)
        start, end = self._port(a, first), self._port(b, second)
        y = self.y[self.grid.trunk[net]] + ROW / 2
        bend = ((start[0], y), (end[0], y)) if start[0] != end[0] else ()
        self.wires.append(Wire(net, ((first.part, first.terminal),), (start, *bend, end)))
        self.labels.append(Label(net, max(start[0], end[0]) + 8.0, y + 4.0, "start"))

    def _row(self, net: int) -> None:
        y = self.y[self.grid.trunk[net]] + ROW - 14.0
        tops = [self._hang(hung, y) for hung in self.hung[net]]
        if len(self.pins[net]) + len(tops) < 2:
            return
        ends: list[tuple[float, Terminal]] = []
        above: list[float] = []
        for item, port in self.pins[net]:
            start = self._port(item, port)
            self.wires.append(Wire(net, ((port.part, port.terminal),), (start, (start[0], y))))
            ends.append((start[0], (port.part, port.terminal)))
            above += [start[0]] if start[1] < y else []
        for hung, top in zip(self.hung[net], tops):
            port = hung.stack.items[0].ports[0]
            x = self.x[hung.lane]
            self.wires.append(Wire(net, ((port.part, port.terminal),), (top, (x, y))))
            ends.append((x, (port.part, port.terminal)))
        self.trunk(net, y, ends, True)
        self.labels.append(Label(net, min(above or [x for x, _ in ends]) + 8.0, y - 6.0, "start"))

    def _hang(self, hung: Hung, y: float) -> Point:
        """Boxes of a stack below a node's line; where it begins."""
        x, at, before = self.x[hung.lane], y, None
        for item in hung.stack.items:
            at += DROP if before is None else DROP + 4.0
            box = Box(item, x - self.slim / 2, at, self.slim, self.tall(item))
            self.boxes[item.name] = box
            if before:
                lower = before.item.ports[1]
                self.wires.append(Wire(lower.net, ((lower.part, lower.terminal),), ((x, before.bottom), (x, box.y))))
                self.labels.append(Label(lower.net, x + 8.0, (before.bottom + box.y) / 2 + 4.0, "start"))
            before = box
            at = box.bottom
        return x, self.boxes[hung.stack.items[0].name].y

    def _aside(self, item: Item) -> None:
        """Marks of the return: under a load, at the right of any other box."""
        box = self.boxes[item.name]
        for k, terminal in enumerate(item.grounds):
            if not item.side(True):
                x = box.x + box.width / 2 + PITCH * (k - (len(item.grounds) - 1) / 2)
                start, end = (x, box.bottom), (x, box.bottom + MARK)
            else:
                y = box.y + box.height / 2 + PITCH * (k - (len(item.grounds) - 1) / 2)
                start, end = (box.right, y), (box.right + MARK - 2.0, y)
            self.wires.append(Wire(0, (terminal,), (start, end)))
            self.returns.append(Return(end, bool(item.side(True))))

    def _below(self, hung: Hung) -> None:
        item = hung.stack.items[-1]
        box = self.boxes[item.name]
        x = box.x + box.width / 2
        for terminal in item.grounds:
            end = (x, box.bottom + MARK)
            self.wires.append(Wire(0, (terminal,), ((x, box.bottom), end)))
            self.returns.append(Return(end, False))
