"""From chains of joins to nodes: which terminal of which part is where.

A terminal and a node in brackets are points; two neighbours in a chain share a point. What a chain leaves
open at its ends, and the terminals that nobody names, follow a few rules; each is one step of `Wiring`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from tideover.design import messages as say
from tideover.design.messages import Fault
from tideover.design.model import RETURN, Chain, Link, PartSpec, Place
from tideover.parts.base import Kind

Point = tuple[str, str]
"""A terminal ``(part, terminal)``, or a node ``("", name)``."""

POLES = ("minus", "return")
"""Terminals that lie on the return by nature; the far end of a source or a load in a chain."""
TO_RETURN = ("minus", "return", "coil minus")
"""Terminals that go to the return when no join names them."""
ALONE = ("tap",)
"""Terminals that get a node of their own when no join names them."""
SENSE = "sense "
"""Begins the name of a terminal that only watches: joined to the sensed part's terminal of the same name."""
UNKNOWN = ("a", "b")
"""Ends of a part whose kind is not known, so that the rest of its chain can still be judged."""


@dataclass
class Wiring:
    """Nets under construction: points that are joined share a root.

    Attributes
    ----------
    parents : dict of Point to Point
        Union-find forest over the points met so far, in the order they were met.
    seen : dict of Point to Place
        Points that a join names, with the place of the first.
    labels : dict of Point to str
        Name for an unnamed net, by a point on it: the two words it stands between.
    stands : dict of str to Place
        Where a part stands in a chain, or else where one of its terminals is first named.
    through : dict of str to Place
        Parts that a chain passes through.
    implied : dict of Point to Place
        Ends that a chain leaves open, which go to the return unless a join names them.
    named : dict of Point to str
        Names of nets, by their root.
    faults : list of Fault
        Found on the way.
    torn : bool
        A chain was broken off at a fault: what hangs loose because of that is no fault of its own.
    """

    parts: Mapping[str, PartSpec]
    kinds: Mapping[str, Kind]
    parents: dict[Point, Point] = field(default_factory=dict)
    seen: dict[Point, Place] = field(default_factory=dict)
    labels: dict[Point, str] = field(default_factory=dict)
    stands: dict[str, Place] = field(default_factory=dict)
    through: dict[str, Place] = field(default_factory=dict)
    implied: dict[Point, Place] = field(default_factory=dict)
    named: dict[Point, str] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    torn: bool = False

    def tear(self, fault: Fault) -> None:
        self.faults.append(fault)
        self.torn = True

    def root(self, point: Point) -> Point:
        self.parents.setdefault(point, point)
        while self.parents[point] != point:
            self.parents[point] = self.parents[self.parents[point]]
            point = self.parents[point]
        return point

    def join(self, first: Point, second: Point, place: Place) -> None:
        """Make two points one, unless that makes one node of two names."""
        a, b = self.root(first), self.root(second)
        if a == b:
            return
        if a in self.named and b in self.named:
            self.tear(say.nodes_touch(place, self.named[a], self.named[b]))
            return
        if b in self.named:
            a, b = b, a
        self.parents[b] = a
        self.labels.setdefault(a, self.labels.get(b, ""))

    def kind(self, part: str) -> Kind | None:
        return self.kinds.get(self.parts[part].kind) if part in self.parts else None

    # --- one step each ---------------------------------------------------------------------------

    def follow(self, chain: Chain) -> None:
        """Join each word of a chain to the next."""
        last = len(chain.links) - 1
        before: tuple[Point, Link] | None = None
        for position, link in enumerate(chain.links):
            ends = self.ends(link, position == 0, position == last)
            if ends is None:
                before = None
                continue
            left, right = ends
            if before:
                self.root(before[0])
                self.join(before[0], left, link.place)
                net = self.root(left)
                words = (_word(before[1]), _word(link))
                if not self.labels.get(net):
                    self.labels[net] = "-".join(words)
            before = (right, link)

    def ends(self, link: Link, first: bool, last: bool) -> tuple[Point, Point] | None:
        """The points at which a chain enters and leaves a word; None after a fault."""
        if link.node:
            point = ("", say.folded(link.node))
            self.named.setdefault(self.root(point), link.node)
            self.seen.setdefault(point, link.place)
            return point, point
        self.stands.setdefault(link.part, link.place)
        if link.terminal:
            point = (link.part, link.terminal)
            self.seen.setdefault(point, link.place)
            return point, point
        return self.pass_through(link, first, last)

    def pass_through(self, link: Link, first: bool, last: bool) -> tuple[Point, Point] | None:
        """A part named alone is entered at one end and left at the other."""
        kind, part = self.kind(link.part), link.part
        a, b = (
            UNKNOWN
            if kind is None
            else kind.through or (kind.terminals if len(kind.terminals) == 2 else ("", ""))
        )
        if not a:
            self.tear(say.which_terminal(link.place, part, kind.terminals if kind else ()))
            self.stands.setdefault(part, link.place)
            return None
        if part in self.through:
            self.tear(say.stands_twice(link.place, part, self.through[part]))
            return None
        self.through[part] = link.place
        if first and b in POLES and a not in POLES:
            a, b = b, a  # a source or a load that begins a chain is left at its plus
        if last and a in POLES and b not in POLES:
            a, b = b, a
        enter, leave = (part, a), (part, b)
        if not first:
            self.seen.setdefault(enter, link.place)
        if not last:
            self.seen.setdefault(leave, link.place)
        if last:
            self.implied[leave] = link.place
        elif first and a in POLES:
            self.implied[enter] = link.place
        return enter, leave

    def close(self, meant: frozenset[str]) -> None:
        """Give a net to every terminal that no join names."""
        back: Point = ("", RETURN)
        self.named.setdefault(self.root(back), RETURN)
        for point, place in self.implied.items():
            if point not in self.seen:
                self.join(back, point, place)
                self.seen[point] = place
        for name, spec in self.parts.items():
            kind = self.kinds.get(spec.kind)
            if name not in self.stands:
                if name not in meant:
                    self.faults.append(say.joined_to_nothing(spec.place, name))
                continue
            for terminal in kind.terminals if kind else ():
                point = (name, terminal)
                if point in self.seen or (kind and kind.senses and terminal.startswith(SENSE)):
                    continue
                if terminal in TO_RETURN:
                    self.join(back, point, spec.place)
                elif (kind and terminal in kind.optional) or terminal in ALONE:
                    self.labels[self.root(point)] = f"{name} {terminal}"
                else:
                    if not self.torn:
                        self.faults.append(say.joined_to_nothing(self.stands[name], name, terminal))
                    continue
                self.seen[point] = self.stands[name]

    def sense(self) -> None:
        """Join what only watches to the part it watches."""
        for name, spec in self.parts.items():
            kind = self.kinds.get(spec.kind)
            if not kind or not kind.senses or name not in self.stands:
                continue
            watched = spec.watches or self.watched(name, kind)
            for terminal in kind.terminals if watched else ():
                if terminal.startswith(SENSE) and (name, terminal) not in self.seen:
                    self.join((watched, terminal.removeprefix(SENSE)), (name, terminal), spec.place)

    def watched(self, name: str, kind: Kind) -> str:
        """The sensed part on one of its nodes, that of its first terminal first; or the only one there is."""
        others = [
            other for other, spec in self.parts.items() if spec.kind == kind.senses and other in self.stands
        ]
        for terminal in kind.terminals:
            if terminal.startswith(SENSE) or (name, terminal) not in self.parents:
                continue
            net = self.root((name, terminal))
            found = [o for o in others if any(self.root(p) == net for p in list(self.parents) if p[0] == o)]
            if len(found) > 1:
                self.faults.append(say.senses_two(self.stands[name], name, found, kind.senses))
                return ""
            if found:
                return found[0]
        if len(others) == 1:
            return others[0]
        if not any(spec.kind == "" for spec in self.parts.values()):
            self.faults.append(say.senses_nothing(self.stands[name], name, kind.senses))
        return ""

    def nets(self) -> tuple[tuple[str, ...], dict[Point, int]]:
        """Names of the nodes, the return first, and the node of every point."""
        order: dict[Point, int] = {self.root(("", RETURN)): 0}
        for point in list(self.parents):
            order.setdefault(self.root(point), len(order))
        names: list[str] = []
        taken = {say.folded(name) for name in self.named.values()}
        for net in order:
            name = self.named.get(net, "")
            if not name:
                base = self.labels.get(net) or f"{net[0]} {net[1]}"
                name, count = base, 2
                while say.folded(name) in taken:
                    name, count = f"{base} {count}", count + 1
                taken.add(say.folded(name))
            names.append(name)
        return tuple(names), {point: order[self.root(point)] for point in list(self.parents)}


def _word(link: Link) -> str:
    return link.node or " ".join(filter(None, (link.part, link.terminal)))


def wire(
    parts: Mapping[str, PartSpec],
    chains: Iterable[Chain],
    kinds: Mapping[str, Kind],
    meant: frozenset[str] = frozenset(),
) -> Wiring:
    """Follow all chains and close what they leave open; faults are collected in the result."""
    wiring = Wiring(parts, kinds)
    wiring.root(("", RETURN))
    wiring.named[("", RETURN)] = RETURN
    for chain in chains:
        wiring.follow(chain)
    wiring.close(meant)
    wiring.sense()
    return wiring
