"""The way that a load's current takes: from part to part against the current, out and back.

Followed on a solved standing point, so that it is the way the current takes and not one it could take.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from tideover.answers.context import Points
from tideover.network import Network, Placed

ACROSS: dict[str, tuple[tuple[str, str], ...]] = {
    "relay": (("front", "common"), ("back", "common")),
    "charger": (("input", "output"),),
    "protection board": (("out", "cells"),),
}
"""Terminals (in, out) between which a kind passes the main current, where its `through` does not say it."""
Current = Callable[[Placed, str], float]
ENDS = ("adapter", "pack", "capacitor")
"""Kinds that a path ends at: they give current of their own."""
CONVERTERS = ("boost", "buck", "buck-boost", "linear regulator", "charger")
"""Kinds after which a voltage begins anew: what is lost before them is not lost at the load."""


@dataclass(frozen=True)
class Step:
    """One part on the way; current flows into terminal `entry` and out of `leave`."""

    part: Placed
    entry: str
    leave: str
    back: bool = False

    def node(self, terminal: str) -> int:
        """Node number of one of the two."""
        return self.part.nodes[self.part.kind.terminals.index(terminal)]

    @property
    def regulates(self) -> bool:
        """Whether a voltage begins anew behind it."""
        return self.part.kind.name in CONVERTERS


@dataclass(frozen=True)
class Path:
    """From a source to a load: `out` in order from the source's plus, `back` in order from the load's minus."""

    source: Placed | None
    load: Placed
    out: tuple[Step, ...]
    back: tuple[Step, ...]


def path(points: Points, k: int, b: int, load: Placed) -> Path:
    """Follow a load's current to where it comes from.

    Parameters
    ----------
    points : Points
        Solved. [-]
    k, b : int
        Setting and case. [-]
    load : Placed
        Where to begin. [-]

    Returns
    -------
    path : Path
        `source` is None where the current could not be followed to one. [-]

    Notes
    -----
    At each node the part that delivers most current is taken. Behind a converter its input is followed.
    """
    network = points.context.network
    at = points.flat(k, b)

    def current(part: Placed, terminal: str) -> float:
        return float(points.readings.quantity[part.name, f"{terminal} [A]"][at])

    plus, minus = load.nodes[0], load.nodes[1]
    out, source = upstream(network, current, plus, {load.name})
    back: list[Step] = []
    if source is not None:
        home = source.nodes[source.kind.terminals.index("minus")]
        back, _ = upstream(network, current, home, {source.name}, stop=frozenset({0, minus}))
    return Path(source, load, tuple(reversed(out)), tuple(Step(s.part, s.entry, s.leave, True) for s in reversed(back)))


def upstream(
    network: Network, current: Current, node: int, met: set[str], stop: frozenset[int] = frozenset()
) -> tuple[list[Step], Placed | None]:
    """Steps from a node against the current, nearest first, and the source they end at."""
    steps: list[Step] = []
    while node not in stop:
        best, found = 1e-9, None
        for part in network.parts:
            if part.name in met:
                continue
            for terminal, there in zip(part.kind.terminals, part.nodes):
                if there == node and -current(part, terminal) > best:
                    best, found = -current(part, terminal), (part, terminal)
        if found is None:
            return steps, None
        part, leave = found
        if part.kind.name in ENDS:
            return steps, part
        entry = _entry(part, leave, current)
        if entry is None:
            return steps, None
        met.add(part.name)
        steps.append(Step(part, entry, leave))
        node = steps[-1].node(entry)
    return steps, None


def _entry(part: Placed, leave: str, current: Current) -> str | None:
    """The terminal at which what leaves at `leave` came in."""
    pairs: Sequence[tuple[str, str]] = ACROSS.get(part.kind.name) or ((part.kind.through,) if part.kind.through else ())
    others = [a if leave == b else b for a, b in pairs if leave in (a, b)]
    others.sort(key=lambda t: -current(part, t))
    return others[0] if others else None
