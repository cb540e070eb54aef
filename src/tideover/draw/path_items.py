"""What the power path is drawn from: boxes with ports at their sides, and stacks that hang from a node to the return.

A net of two ports is a line between two boxes; any other is a trunk. Terminals that only watch (a board's sense
lines, a pack's tap) carry no power and are left out. Series runs of passive parts can be folded into one box.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from tideover.network import Network, Placed

PASSIVE = frozenset(
    ("wire", "cable", "track", "strip", "connector", "resistor", "shunt", "fuse", "switch", "conductor")
)
"""Kinds that a fold may take in: they only lose a little."""
RIGHT = frozenset((("adapter", "plus"), ("adapter", "minus"), ("relay", "common")))
"""Terminals at the right of their box that are not the second of `through`."""
HEADS = frozenset(("pack", "capacitor"))
"""Kinds that a stack begins with: what stands before them is on the way to them."""
ENDS = frozenset(("adapter", "load"))
"""Kinds that stand at an end of the drawing and never in a stack."""
MOST = 16
"""Boxes that are drawn without folding."""


@dataclass(frozen=True)
class Port:
    """A terminal of a part on a node other than the return, at the left or the right of its box."""

    part: str
    terminal: str
    net: int
    right: bool


@dataclass(frozen=True)
class Item:
    """One box: a part, or a folded run of them in order.

    Attributes
    ----------
    name : str
        Of the part, or of the first of the run.
    parts : tuple of str
        All of it.
    kind : str
        Of the part; ``fold`` for a run.
    ports : tuple of Port
        On nodes that are drawn.
    grounds : tuple of (str, str)
        Part and terminal on the return.
    """

    name: str
    parts: tuple[str, ...]
    kind: str
    ports: tuple[Port, ...]
    grounds: tuple[tuple[str, str], ...]

    @property
    def more(self) -> str:
        """What a folded run adds to its name: how many follow its first part."""
        return f" + {len(self.parts) - 1}" if len(self.parts) > 1 else ""

    def side(self, right: bool) -> tuple[Port, ...]:
        """Ports at one side, in order from the top."""
        return tuple(p for p in self.ports if p.right == right)


@dataclass(frozen=True)
class Stack:
    """Parts one below the other, from a node to the return; the first port of each is its upper one."""

    net: int
    items: tuple[Item, ...]


@dataclass(frozen=True)
class Plan:
    """What is to be laid out."""

    items: tuple[Item, ...]
    stacks: tuple[Stack, ...]

    @property
    def boxes(self) -> tuple[Item, ...]:
        """All of them."""
        return (*self.items, *(item for stack in self.stacks for item in stack.items))

    def pins(self) -> dict[int, list[Port]]:
        """Ports of the boxes on each net, without those of stacks."""
        return _pins(self.items)


def plan(network: Network, folded: bool = True) -> Plan:
    """Sort a network into boxes and stacks.

    Parameters
    ----------
    network : Network
        As loaded. [-]
    folded : bool
        Whether series runs of passive parts become one box where there are more than `MOST` boxes. [-]
    """
    items = [_item(part) for part in network.parts if part.nodes]
    if folded and len(items) > MOST:
        items = _folded(items)
    stacks = _stacks(items)
    taken = {item.name for stack in stacks for item in stack.items}
    return Plan(tuple(i for i in items if i.name not in taken), stacks)


def _item(part: Placed) -> Item:
    kind = part.kind
    out = kind.through[1] if kind.through and kind.name not in ENDS else ""
    ends = [
        (terminal, node)
        for terminal, node in zip(kind.terminals, part.nodes)
        if not terminal.startswith("sense") and terminal != "tap"
    ]
    ports = [Port(part.name, t, n, t == out or (kind.name, t) in RIGHT) for t, n in ends if n]
    return Item(part.name, (part.name,), kind.name, tuple(ports), tuple((part.name, t) for t, n in ends if not n))


def _pins(items: Iterable[Item]) -> dict[int, list[Port]]:
    pins: dict[int, list[Port]] = defaultdict(list)
    for item in items:
        for port in item.ports:
            pins[port.net].append(port)
    return pins


def _folded(items: list[Item]) -> list[Item]:
    """Each run of passive parts joined by nodes of two terminals as one box, at the place of its first."""
    pins = _pins(items)
    by_name = {item.name: item for item in items}
    able = {i.name for i in items if i.kind in PASSIVE and len(i.side(False)) == len(i.side(True)) == 1}

    def beside(name: str, right: bool) -> str:
        port = by_name[name].side(right)[0]
        others = [p for p in pins[port.net] if p is not port]
        met = others[0] if len(others) == 1 else None
        return met.part if met and met.part in able and met.part != name and met.right != right else ""

    done: set[str] = set()
    result = []
    for item in items:
        if item.name in done:
            continue
        if item.name not in able:
            result.append(item)
            continue
        run = [item.name]
        while (after := beside(run[-1], True)) and after not in run:
            run.append(after)
        while (before := beside(run[0], False)) and before not in run:
            run.insert(0, before)
        done.update(run)
        ends = (by_name[run[0]].side(False)[0], by_name[run[-1]].side(True)[0])
        result.append(item if len(run) == 1 else Item(run[0], tuple(run), "fold", ends, ()))
    return result


def _stacks(items: list[Item]) -> tuple[Stack, ...]:
    """Ways from a node to the return through nothing but parts in series."""
    pins, found = _pins(items), []
    owner = {(p.part, p.terminal): item for item in items for p in item.ports}
    taken: set[str] = set()
    for item in items:
        if item.kind in ENDS or len(item.ports) != 1 or len(item.grounds) != 1 or item.name in taken:
            continue
        run = [item]
        while run[0].kind not in HEADS:
            here = run[0].ports[0]
            others = [p for p in pins[here.net] if p is not here]
            above = owner[others[0].part, others[0].terminal] if len(others) == 1 else None
            if above is None or above.kind in ENDS or above.grounds or len(above.ports) != 2 or above in run:
                break
            if above.name in taken:
                break
            upper = tuple(sorted(above.ports, key=lambda p: p.net == here.net))
            if upper[0].net == here.net:
                break
            run.insert(0, Item(above.name, above.parts, above.kind, upper, ()))
        taken |= {i.name for i in run}
        found.append(Stack(run[0].ports[0].net, tuple(run)))
    return tuple(found)
