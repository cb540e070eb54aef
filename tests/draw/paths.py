"""Networks to be drawn as power paths, and rules that their layouts keep."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
from answers.builds import network

from tideover.answers.flows import Flow, drawn
from tideover.network import Network, Placed, load
from tideover.parts import KINDS

EXAMPLES = Path(__file__).parents[2] / "examples"
BUILDS = ("choir-loft/build", "harbour-gauge/build", "reading-room/build", "reading-room/as-first-drawn")
PLAIN = """
title: Plain
need: {at: load, window: 5 V to 13 V, ambient: 20 °C}
parts:
  brick: {kind: adapter, voltage: 12 V, rated current: 8 A, current limit: 9 A}
  lamp: {kind: load, power: 6 W, nominal voltage: 12 V}
joins:
  - brick > (load) > lamp
"""


@cache
def example(name: str) -> Network:
    return load(EXAMPLES / f"{name}.yaml")


def rewired(parts: list[tuple[str, str, tuple[int, ...]]], nodes: int) -> Network:
    """A network of parts ``(name, kind, node of each terminal)``, sense or not; only its drawing makes sense."""
    base = network(PLAIN)
    some = base.parts[0]
    placed = [Placed(name, KINDS[kind], ends, {}, some.place) for name, kind, ends in parts]
    names = ("return", *(f"node {n}" for n in range(1, nodes)))
    return replace(base, parts=(*placed, base.parts[-1]), nodes=names, at=min(1, nodes - 1))


def lot(seed: int, most: int = 60) -> Network:
    """Parts of any kind, joined anyhow."""
    rng = np.random.default_rng(seed)
    count, kinds = int(rng.integers(1, most + 1)), [k for k in KINDS if k != "box"]
    nodes = int(rng.integers(2, 2 + count * 3 // 2))
    near = int(rng.integers(2, nodes + 1))
    parts, at = [], 1
    for k in range(count):
        kind = str(rng.choice(kinds))
        terminals = KINDS[kind].terminals
        at = int(np.clip(at + rng.integers(-near, near + 1), 1, nodes - 1))
        ends = [int(np.clip(at + rng.integers(-1, 2), 0, nodes - 1)) for _ in terminals]
        ends = [0 if t in ("minus", "coil minus") and rng.random() < 0.9 else e for t, e in zip(terminals, ends)]
        through = KINDS[kind].through or terminals[:2]
        a, b = (terminals.index(t) for t in through)
        if ends[a] == ends[b]:
            ends[a] = (ends[b] + 1) % nodes
        parts.append((f"{kind} {k}", kind, tuple(ends)))
    return rewired(parts, nodes)


def chain(count: int) -> Network:
    """An adapter, so many leads one after the other, and a load."""
    parts = [("brick", "adapter", (1, 0))]
    parts += [(f"lead {k}", "cable", (k + 1, k + 2)) for k in range(count)]
    return rewired([*parts, ("lamp", "load", (count + 1, 0))], count + 2)


def flow_of(net: Network, seed: int = 0) -> Flow:
    """Numbers of no meaning for every node and terminal."""
    rng = np.random.default_rng(seed)
    parts = drawn(net)
    return Flow(
        "drawn by lot",
        {name: float(rng.uniform(-1, 40)) for name in net.nodes},
        {(p.name, t): float(rng.choice([0.0, rng.normal()])) for p in parts for t in p.kind.terminals},
        {p.name: float(rng.uniform(0, 9)) for p in parts},
        {p.name: float(rng.uniform(0, 1)) for p in parts if p.kind.name == "pack"},
    )


# --- rules ----------------------------------------------------------------------------------------------


def sides(layout):
    """Rectangles of the boxes."""
    return {name: (b.x, b.y, b.right, b.bottom) for name, b in layout.boxes.items()}


def overlaps(layout):
    """Pairs of boxes that share some paper."""
    found = sides(layout)
    return [
        (a, b)
        for a, b in combinations(found, 2)
        if min(found[a][2], found[b][2]) > max(found[a][0], found[b][0])
        and min(found[a][3], found[b][3]) > max(found[a][1], found[b][1])
    ]


def pieces(layout):
    """(net, low x, low y, high x, high y) of every straight piece of a line."""
    for wire in layout.wires:
        for (x1, y1), (x2, y2) in pairwise(wire.points):
            yield wire.net, min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2)


def through_boxes(layout):
    """Pieces of lines that enter a box, and the box."""
    near = 1e-6
    return [
        (piece, name)
        for piece in pieces(layout)
        for name, (x1, y1, x2, y2) in sides(layout).items()
        if piece[1] < x2 - near and piece[3] > x1 + near and piece[2] < y2 - near and piece[4] > y1 + near
    ]


def run_together(layout):
    """Pieces of lines of different nodes that lie on each other, so that no one could tell them apart."""
    found = []
    for axis in (0, 1):
        rows = defaultdict(list)
        for net, *ends in pieces(layout):
            if ends[axis] == ends[2 + axis]:
                rows[round(ends[axis], 6)].append((net, ends[1 - axis], ends[3 - axis]))
        for row in rows.values():
            found += [
                (a, b)
                for a, b in combinations(row, 2)
                if a[0] != b[0] and min(a[2], b[2]) > max(a[1], b[1]) + 1e-6
            ]
    return found


def joins(net: Network):
    """Terminals that lines must reach: all but those that only watch, on nodes that join something."""
    ends = [
        (part.name, terminal, node)
        for part in drawn(net)
        for terminal, node in zip(part.kind.terminals, part.nodes)
        if not terminal.startswith("sense") and terminal != "tap"
    ]
    count = defaultdict(int)
    for _, _, node in ends:
        count[node] += 1
    return {(part, terminal): node for part, terminal, node in ends if node == 0 or count[node] > 1}


def islands(layout, net):
    """How many pieces, not joined to each other, the lines of one node fall into."""
    wires = [w for w in layout.wires if w.net == net]
    groups = [{k} for k in range(len(wires))]

    def on(point, wire):
        return any(
            min(a[0], b[0]) - 1e-6 <= point[0] <= max(a[0], b[0]) + 1e-6
            and min(a[1], b[1]) - 1e-6 <= point[1] <= max(a[1], b[1]) + 1e-6
            for a, b in pairwise(wire.points)
        )

    for a, b in combinations(range(len(wires)), 2):
        ends = [(wires[a].points[k], wires[b]) for k in (0, -1)] + [(wires[b].points[k], wires[a]) for k in (0, -1)]
        if any(on(point, wire) for point, wire in ends):
            first = next(g for g in groups if a in g)
            second = next(g for g in groups if b in g)
            if first is not second:
                first |= second
                groups.remove(second)
    return len(groups)


def crossings(layout):
    """Places where lines of different nodes cross."""
    found = 0
    for a, b in combinations(list(pieces(layout)), 2):
        inside = min(a[3], b[3]) - max(a[1], b[1]), min(a[4], b[4]) - max(a[2], b[2])
        found += a[0] != b[0] and min(inside) > -1e-6
    return found
