"""The power path of a large build on a phone: boxes one below the other, one track for each node beside them."""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Collection

from tideover.draw.path_grid import Grid
from tideover.draw.path_items import Item
from tideover.draw.path_types import (
    EDGE,
    HEIGHT,
    MARK,
    PHONE,
    TALL,
    Box,
    Label,
    Layout,
    Point,
    Return,
    Terminal,
    Wire,
)  # fmt: skip

STEP = 18.0
"""Between ports of a box: each has its voltage beside it. [px]"""
BETWEEN = 12.0
"""Between boxes. [px]"""
TRACK, ROOM = 10.0, 170.0
"""Between tracks, at most; and width of the boxes, at least. [px]"""


def tracks(places: Grid, marked: Collection[str]) -> Layout:
    """Place a power path in one column of boxes, in the order from source to load."""
    boxes: dict[str, Box] = {}
    ports: dict[int, list[tuple[float, Terminal]]] = defaultdict(list)
    heights: list[tuple[Item, float]] = []
    y = EDGE
    for item in _order(places):
        least = TALL if any(name in marked for name in item.parts) else HEIGHT
        tall = max(least, STEP * len(item.ports) + 6.0, STEP * len(item.grounds) + 6.0)
        for k, port in enumerate(item.ports):
            at = y + tall / 2 + STEP * (k - (len(item.ports) - 1) / 2)
            ports[port.net].append((at, (port.part, port.terminal)))
        heights.append((item, tall))
        boxes[item.name] = Box(item, 0.0, y, 0.0, tall)
        y += tall + BETWEEN
    joined = {net: ends for net, ends in ports.items() if len(ends) > 1}
    track = _tracks({net: (ends[0][0], ends[-1][0]) for net, ends in joined.items()})
    count = 1 + max(track.values(), default=-1)
    pitch = min(TRACK, (PHONE - 2 * EDGE - MARK - ROOM) / max(count, 1))
    left = EDGE + pitch * count + 6.0
    wide = PHONE - EDGE - MARK - left
    boxes = {name: Box(b.item, left, b.y, wide, b.height) for name, b in boxes.items()}
    wires: list[Wire] = []
    dots: list[tuple[int, Point]] = []
    labels: list[Label] = []
    for net, ends in joined.items():
        x = EDGE + pitch * (count - 1 - track[net]) + 2.0
        for k, (at, terminal) in enumerate(ends):
            wires.append(Wire(net, (terminal,), ((left, at), (x, at))))
            labels.append(Label(net, left + 16.0, at + 4.0, "start"))
            if 0 < k < len(ends) - 1:
                dots.append((net, (x, at)))
        for k, (low, high) in enumerate(itertools.pairwise(ends)):
            wires.append(Wire(net, tuple(t for _, t in ends[: k + 1]), ((x, low[0]), (x, high[0]))))
    returns: list[Return] = []
    for box in boxes.values():
        for k, terminal in enumerate(box.item.grounds):
            at = box.y + box.height / 2 + STEP * (k - (len(box.item.grounds) - 1) / 2)
            end = (box.right + MARK - 3.0, at)
            wires.append(Wire(0, (terminal,), ((box.right, at), end)))
            returns.append(Return(end, True))
    return Layout(
        PHONE, y - BETWEEN + EDGE, boxes, tuple(wires), tuple(dots), tuple(labels), tuple(returns), None
    )


def _order(places: Grid) -> list[Item]:
    """Boxes by column and lane, each stack behind the last box before its node."""
    keyed = [((places.column[i.name], places.lane[i.name], 0), i) for i in places.items]
    for hung in places.hung:
        keyed += [((hung.column, hung.lane, k), i) for k, i in enumerate(hung.stack.items)]
    return [item for _, item in sorted(keyed, key=lambda pair: pair[0])]


def _tracks(spans: dict[int, tuple[float, float]]) -> dict[int, int]:
    """A track for each node, short spans nearest to the boxes; two that overlap never share one."""
    track: dict[int, int] = {}
    taken: list[list[tuple[float, float]]] = []
    for net, (low, high) in sorted(spans.items(), key=lambda pair: (pair[1][1] - pair[1][0], pair[0])):
        k = next((k for k, some in enumerate(taken) if all(high < a or b < low for a, b in some)), len(taken))
        if k == len(taken):
            taken.append([])
        taken[k].append((low, high))
        track[net] = k
    return track
