"""Faults that can be seen in the drawing alone: dead ends, islands, bridged parts, sources side by side."""

from __future__ import annotations

from collections import defaultdict

from tideover.design import messages as say
from tideover.design.messages import Fault
from tideover.design.model import Need, Place
from tideover.network.wiring import SENSE, Point, Wiring

SOURCES = ("adapter", "pack")
"""Kinds that feed current by themselves."""
CONDUCTORS = ("cable", "wire", "strip", "track", "connector", "shunt", "fuse", "switch", "protection board")
"""Kinds that are as good as a short when nothing else lies in the path."""
APART = "coil"
"""Terminals that begin with this word have no metal path to the others of their part."""


def check(wiring: Wiring, need: Need | None = None) -> list[Fault]:
    """All structural faults of a wiring, its own included.

    Parameters
    ----------
    wiring : Wiring
        With every join followed.
    need : Need, optional
        Its ``at`` must name a node or a part.
    """
    names, nets = wiring.nets()
    faults = [*wiring.faults, *_bridged(wiring, names, nets), *_parallel(wiring, names, nets)]
    faults += _shorts(wiring, nets)
    if not wiring.torn:
        faults += _lonely(wiring, names, nets)
        if any(point[0] for point, net in nets.items() if net == 0):
            faults += _adrift(wiring, names, nets)
        else:
            faults.append(
                say.no_return(next(iter(wiring.stands.values()), Place(need.place.path if need else "")))
            )
    if need and judged(wiring, need.at) is None:
        options = [*(name for name in wiring.named.values()), *wiring.parts]
        faults.append(say.no_such_node(need.place, need.at, options))
    return faults


def judged(wiring: Wiring, at: str) -> int | None:
    """The node that ``need.at`` means: a node of that name, or the first terminal of a part of that name."""
    names, nets = wiring.nets()
    wanted = say.folded(at)
    for index, name in enumerate(names):
        if say.folded(name) == wanted:
            return index
    for part in wiring.parts:
        if say.folded(part) == wanted:
            kind = wiring.kind(part)
            return nets.get((part, kind.terminals[0]), 0) if kind and kind.terminals else 0
    return None


def _said(names: tuple[str, ...], wiring: Wiring, net: int) -> str:
    """A node as the file has it, in brackets; one that the file does not name, in words."""
    return f"({names[net]})" if names[net] in wiring.named.values() else f"the node {names[net]}"


def _terminals(wiring: Wiring, nets: dict[Point, int]) -> dict[int, list[Point]]:
    """Terminals on each net, those left out that only watch."""
    found: dict[int, list[Point]] = defaultdict(list)
    for point, net in nets.items():
        if point[0] and not point[1].startswith(SENSE):
            found[net].append(point)
    return found


def _lonely(wiring: Wiring, names: tuple[str, ...], nets: dict[Point, int]) -> list[Fault]:
    """A node in brackets is there for things to meet."""
    terminals = _terminals(wiring, nets)
    faults = []
    for point, place in wiring.seen.items():
        if point[0] or nets[point] == 0:
            continue
        there = terminals[nets[point]]
        if len(there) < 2:
            name = names[nets[point]]
            others = [
                other
                for net, other in enumerate(names)
                if other in wiring.named.values() and net != nets[point]
            ]
            part = next((other for other in wiring.parts if say.folded(other) == say.folded(name)), "")
            node = say.meant(name, others)
            mend = f"{part}, without brackets" if part else f"({node})" if node else ""
            said = ".".join(there[0]) if there else ""
            faults.append(say.lonely_node(place, name, said, mend))
    return faults


def _bridged(wiring: Wiring, names: tuple[str, ...], nets: dict[Point, int]) -> list[Fault]:
    faults = []
    for part, place in wiring.stands.items():
        kind = wiring.kind(part)
        ends = kind.through or kind.terminals if kind else ()
        if kind is None or len(ends) != 2 or not all((part, end) in nets for end in ends):
            continue
        first, second = (nets[(part, end)] for end in ends)
        if first == second:
            complain = say.shorted_source if kind.name in SOURCES else say.shorted
            faults.append(complain(place, part, _said(names, wiring, first)))
    return faults


def _shorts(wiring: Wiring, nets: dict[Point, int]) -> list[Fault]:
    """A source whose two terminals are joined by conductors alone."""
    paths: dict[int, list[tuple[int, str]]] = defaultdict(list)
    sources: list[tuple[str, int, int]] = []
    for part in wiring.stands:
        kind = wiring.kind(part)
        ends = [nets.get((part, end), -1) for end in (kind.through if kind and kind.through else ())]
        if not kind or len(ends) != 2 or -1 in ends or ends[0] == ends[1]:
            continue
        if kind.name in CONDUCTORS:
            paths[ends[0]].append((ends[1], part))
            paths[ends[1]].append((ends[0], part))
        elif kind.name in SOURCES:
            plus, minus = (nets[(part, terminal)] for terminal in kind.terminals[:2])
            sources.append((part, plus, minus))
    faults = []
    for source, start, end in sources:
        ways: dict[int, list[str]] = {start: []}
        todo = [start]
        while todo and end not in ways:
            net = todo.pop(0)
            for other, part in paths[net]:
                if other not in ways:
                    ways[other] = [*ways[net], part]
                    todo.append(other)
        if end in ways:
            open_ended = next((part for part, _ in wiring.implied if part in ways[end]), "")
            faults.append(say.shorted_through(wiring.stands[source], source, ways[end], open_ended))
    return faults


def _parallel(wiring: Wiring, names: tuple[str, ...], nets: dict[Point, int]) -> list[Fault]:
    """Two sources on the same two nodes."""
    faults: list[Fault] = []
    first: dict[frozenset[int], str] = {}
    for part, place in wiring.stands.items():
        kind = wiring.kind(part)
        if kind is None or kind.name not in SOURCES or not kind.through:
            continue
        ends = [nets.get((part, end), -1) for end in kind.through]
        if -1 in ends or ends[0] == ends[1]:
            continue
        if frozenset(ends) in first:
            node = _said(names, wiring, next((net for net in ends if net), 0))
            faults.append(say.sources_parallel(place, part, first[frozenset(ends)], node))
        first.setdefault(frozenset(ends), part)
    return faults


def _adrift(wiring: Wiring, names: tuple[str, ...], nets: dict[Point, int]) -> list[Fault]:
    """Nets from which no part leads to the return, one complaint for each island."""
    beside: dict[int, set[int]] = defaultdict(set)
    groups: dict[tuple[str, bool], set[int]] = defaultdict(set)
    for (part, terminal), net in nets.items():
        if not part or terminal.startswith(SENSE):
            continue
        groups[(part, terminal.startswith(APART))].add(net)
        if wiring.kind(part) is None:
            groups[(part, False)].add(0)  # an unknown part may well reach the return
    for group in groups.values():
        for net in group:
            beside[net] |= group
    reached = _reach(0, beside)
    faults = []
    for net in range(len(names)):
        if net in reached:
            continue
        island = _reach(net, beside)
        reached |= island
        hanging = list(
            dict.fromkeys(
                p[0] for p, n in nets.items() if n in island and p[0] and not p[1].startswith(SENSE)
            )
        )
        if not hanging:
            continue
        place = next(wiring.seen[p] for p, n in nets.items() if n in island and p in wiring.seen)
        faults.append(say.adrift(place, _said(names, wiring, net), hanging))
    return faults


def _reach(start: int, beside: dict[int, set[int]]) -> set[int]:
    reached, todo = {start}, [start]
    while todo:
        for net in beside[todo.pop()] - reached:
            reached.add(net)
            todo.append(net)
    return reached
