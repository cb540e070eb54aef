"""Where boxes and nodes of the power path stand relative to each other: columns from source to load, lanes across.

Boxes and trunks of nodes have columns of their own, so that a trunk never meets a box. What is in series shares a
lane, and a lane belongs to one run between the columns of the nodes at its ends, so that no line along it meets a box
or another line. The way from the adapter to the load with fewest parts has the first lane.
"""

from __future__ import annotations

from collections import defaultdict, deque
from dataclasses import dataclass, field, replace

from tideover.draw.path_items import HEADS, Item, Plan, Port, Stack

Vertex = tuple[str, str] | tuple[str, int]


@dataclass
class Run:
    """Boxes in series, and the columns that they need in their lane."""

    items: list[Item]
    first: int = 0
    last: int = 0
    lane: int = -1
    nets: dict[int, int] = field(default_factory=dict)
    """Column of each node at its ends."""

    def may_follow(self, other: Run) -> bool:
        """Whether both can share a lane: apart, or touching at the trunk of a node they share."""
        if self.last < other.first or other.last < self.first:
            return True
        low, high = (self, other) if self.first < other.first else (other, self)
        if low.last != high.first or high.first == high.last or low.first == low.last:
            return False
        ends = [[n for n, c in run.nets.items() if c == low.last] for run in (low, high)]
        return len(ends[0]) == 1 and ends[0] == ends[1]


@dataclass(frozen=True)
class Hung:
    """A stack in its place: its column beside those of its node, and the lane of its upper end."""

    stack: Stack
    column: int
    lane: int


@dataclass(frozen=True)
class Grid:
    """Columns and lanes of everything.

    Attributes
    ----------
    items : tuple of Item
        With the side of every port as drawn.
    column, lane : dict of str to int
        Of each item by its name.
    trunk : dict of int to int
        Column of each node.
    straight : frozenset of int
        Nodes that are just a line from box to box in one lane.
    hung : tuple of Hung
        The stacks.
    columns, lanes : int
        How many.
    taken : frozenset of (int, int)
        Columns and lanes in which something is.
    """

    items: tuple[Item, ...]
    column: dict[str, int]
    lane: dict[str, int]
    trunk: dict[int, int]
    straight: frozenset[int]
    hung: tuple[Hung, ...]
    columns: int
    lanes: int
    taken: frozenset[tuple[int, int]]


def grid(plan: Plan, down: bool) -> Grid:
    """Give everything its column and lane; `down` hangs stacks along the way instead of across it."""
    items = _turned(plan)
    layers = _layers(items, plan)
    runs, straight = _runs(items, plan.stacks)
    main = _main(items, plan)
    column, trunk, count = _columns(items, plan, layers, straight, main, down)
    for run in runs:
        _measure(run, column, trunk, straight)
    _into_lanes(runs, main)
    lane = {item.name: run.lane for run in runs for item in run.items}
    hung, cells = _hang(plan.stacks, runs, trunk, down)
    lanes = 1 + max([*lane.values(), *(L for _, L in cells)], default=0)
    return Grid(items, column, lane, trunk, straight, hung, count, lanes, frozenset(cells))


# --- columns --------------------------------------------------------------------------------------------


def _turned(plan: Plan) -> tuple[Item, ...]:
    """With ports moved to the other side where a way would lead back to its own beginning."""
    ways: dict[Vertex, list[tuple[Vertex, Port]]] = defaultdict(list)
    for item in plan.items:
        for port in item.ports:
            here, net = ("item", item.name), ("net", port.net)
            ways[here if port.right else net].append((net if port.right else here, port))
    adapters = [("item", i.name) for i in plan.items if i.kind == "adapter"]
    packs = [("net", s.net) for s in plan.stacks if s.items[0].kind in HEADS]
    rest = [("item", i.name) for i in plan.items] + [("net", p.net) for i in plan.items for p in i.ports]
    done: set[Vertex] = set()
    turn: set[tuple[str, str]] = set()
    for start in [*adapters, *packs, *rest]:
        if start in done:
            continue
        open_, todo = {start}, [(start, iter(ways[start]))]
        done.add(start)
        while todo:
            step = next(todo[-1][1], None)
            if step is None:
                open_.discard(todo.pop()[0])
            elif step[0] in open_:
                turn.add((step[1].part, step[1].terminal))
            elif step[0] not in done:
                done.add(step[0])
                open_.add(step[0])
                todo.append((step[0], iter(ways[step[0]])))
    return tuple(
        replace(
            i,
            ports=tuple(replace(p, right=not p.right) if (p.part, p.terminal) in turn else p for p in i.ports),
        )
        for i in plan.items
    )


def _layers(items: tuple[Item, ...], plan: Plan) -> dict[Vertex, int]:
    """How far from the beginning: boxes even, nodes odd, each behind all that lead to it."""
    after: dict[Vertex, list[Vertex]] = defaultdict(list)
    before: dict[Vertex, int] = defaultdict(int)
    every: list[Vertex] = []
    for item in items:
        here: Vertex = ("item", item.name)
        every.append(here)
        for port in item.ports:
            net: Vertex = ("net", port.net)
            every.append(net)
            a, b = (here, net) if port.right else (net, here)
            after[a].append(b)
            before[b] += 1
    every = list(dict.fromkeys([*every, *(("net", s.net) for s in plan.stacks)]))
    layer = {v: 0 if v[0] == "item" else 1 for v in every}
    ready, order = deque(v for v in every if not before[v]), []
    while ready:
        here = ready.popleft()
        order.append(here)
        for there in after[here]:
            layer[there] = max(layer[there], layer[here] + 1)
            before[there] -= 1
            if not before[there]:
                ready.append(there)
    fed: set[Vertex] = {("item", i.name) for i in items if i.kind == "adapter"}
    for here in order:
        fed |= set(after[here]) if here in fed else set()
    for here in reversed(order):
        if here not in fed and after[here]:  # what begins later, such as a pack, stands near to what it feeds
            layer[here] = min(layer[v] for v in after[here]) - 1
    return layer


def _columns(
    items: tuple[Item, ...],
    plan: Plan,
    layers: dict[Vertex, int],
    straight: frozenset[int],
    main: set[str],
    down: bool,
) -> tuple[dict[str, int], dict[int, int], int]:
    """Numbers of the columns: one for all boxes of a layer, one for all its straight lines, one for each trunk.

    Trunks of one layer: those of the main way first, so that its boxes can share a lane.
    """
    ways: dict[int, int] = defaultdict(int)
    for item in items:
        for net in {p.net for p in item.ports}:
            ways[net] += item.name in main
    stacks: dict[int, int] = defaultdict(int)
    for stack in plan.stacks:
        stacks[stack.net] += 1
    column: dict[str, int] = {}
    trunk: dict[int, int] = {}
    count = 0
    for layer in sorted(set(layers.values())):
        here = [v[1] for v, at in layers.items() if at == layer]
        names = [v for v in here if isinstance(v, str)]
        nets = sorted((v for v in here if isinstance(v, int)), key=lambda net: ways[net] < 2)
        if names:
            column |= dict.fromkeys(names, count)
            count += 1
        lines = [n for n in nets if n in straight]
        if lines:
            trunk |= dict.fromkeys(lines, count)
            count += 1
        for net in nets:
            if net not in straight:
                trunk[net] = count
                count += 1 if down else max(1, stacks[net])
    return column, trunk, count


# --- lanes ----------------------------------------------------------------------------------------------


def _runs(items: tuple[Item, ...], stacks: tuple[Stack, ...]) -> tuple[list[Run], frozenset[int]]:
    """Boxes joined by nodes that only lead from one to the next, and those nodes.

    A box with several ports at a side begins or ends its run there: their lines go on along its lane.
    """
    hung = {s.net for s in stacks}
    pins: dict[int, list[tuple[Item, Port]]] = defaultdict(list)
    for item in items:
        for port in item.ports:
            pins[port.net].append((item, port))
    after: dict[str, tuple[Item, int]] = {}
    behind: dict[str, str] = {}
    for net, ends in pins.items():
        if len(ends) != 2 or net in hung or ends[0][1].right == ends[1][1].right:
            continue
        left, right = (ends[0][0], ends[1][0]) if ends[0][1].right else (ends[1][0], ends[0][0])
        if left.name != right.name and len(left.side(True)) == len(right.side(False)) == 1:
            after[left.name] = (right, net)
            behind[right.name] = left.name
    runs, straight = [], set()
    for item in items:
        if item.name in behind:
            continue
        run = [item]
        while run[-1].name in after:
            following, net = after[run[-1].name]
            straight.add(net)
            run.append(following)
        runs.append(Run(run))
    return runs, frozenset(straight)


def _measure(run: Run, column: dict[str, int], trunk: dict[int, int], straight: frozenset[int]) -> None:
    run.nets = {p.net: trunk[p.net] for i in run.items for p in i.ports if p.net not in straight}
    inner = [trunk[p.net] for i in run.items for p in i.ports]
    reach = [*(column[i.name] for i in run.items), *inner]
    run.first, run.last = min(reach), max(reach)


def _main(items: tuple[Item, ...], plan: Plan) -> set[str]:
    """Boxes on the way from an adapter, or else a pack, to a load with fewest parts."""
    pins: dict[int, list[Item]] = defaultdict(list)
    for item in items:
        for port in item.ports:
            pins[port.net].append(item)
    starts = [i for i in items if i.kind == "adapter"][:1]
    starts = starts or [i for s in plan.stacks if s.items[0].kind == "pack" for i in pins[s.net]] or list(items[:1])
    came: dict[str, Item | None] = {i.name: None for i in starts}
    todo = deque(starts)
    while todo:
        item = todo.popleft()
        if item.kind == "load":
            way: list[str] = []
            step: Item | None = item
            while step is not None:
                way.append(step.name)
                step = came[step.name]
            return set(way)
        for port in item.ports:
            for other in pins[port.net]:
                if other.name not in came:
                    came[other.name] = item
                    todo.append(other)
    return {i.name for i in starts[:1]}


def _into_lanes(runs: list[Run], main: set[str]) -> None:
    """The main way first, then short runs before long ones, each where it crosses least."""
    order = sorted(
        range(len(runs)),
        key=lambda k: (not any(i.name in main for i in runs[k].items), runs[k].last - runs[k].first, k),
    )
    placed: list[Run] = []
    for k in order:
        run = runs[k]
        top = 1 + max((r.lane for r in placed), default=-1)
        free = [n for n in range(top + 1) if all(r.lane != n or run.may_follow(r) for r in placed)]
        run.lane = min(free, key=lambda n: (_crossings(run, n, placed), n))
        placed.append(run)


def _crossings(run: Run, lane: int, placed: list[Run]) -> int:
    """Lines that a run would cross in a lane."""
    reach: dict[int, list[int]] = defaultdict(list)
    for other in placed:
        for net in other.nets:
            reach[net].append(other.lane)
    columns = {net: c for other in placed for net, c in other.nets.items()}
    crossed = 0
    for net, lanes in reach.items():
        inside = run.first <= columns[net] <= run.last and net not in run.nets
        crossed += inside and min(lanes) < lane < max(lanes)
    for net, column in run.nets.items():
        lanes = reach.get(net, [])
        if lanes and not min(lanes) <= lane <= max(lanes):
            near = min(lanes) if lane < min(lanes) else max(lanes)
            low, high = sorted((near, lane))
            crossed += sum(
                low < r.lane < high and r.first <= column <= r.last and net not in r.nets for r in placed
            )
    return crossed


def _hang(
    stacks: tuple[Stack, ...], runs: list[Run], trunk: dict[int, int], down: bool
) -> tuple[tuple[Hung, ...], set[tuple[int, int]]]:
    """Stacks below all that is joined to their node, and the cells that are taken in the end."""
    cells = {(c, run.lane) for run in runs for c in range(run.first, run.last + 1)}
    hung: list[Hung] = []
    count: dict[int, int] = defaultdict(int)
    for stack in sorted(stacks, key=lambda s: trunk[s.net]):
        column = trunk[stack.net] + (0 if down else count[stack.net])
        count[stack.net] += 1
        lanes = [run.lane for run in runs if stack.net in run.nets]
        lane = 1 + max(lanes, default=-1)
        tall = 1 if down else len(stack.items)
        while any((column, n) in cells for n in range(lane, lane + tall)):
            lane += 1
        cells |= {(column, n) for n in range(lane, lane + tall)}
        hung.append(Hung(stack, column, lane))
    return tuple(hung), cells
