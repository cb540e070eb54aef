"""Loops of short-circuit current: from a source through its parts to a short, and back.

A short may lie at the far end of any part, so the network is searched along everything that lets a fault current pass,
not only along what carries the load. Currents are in closed form, voltage over resistance: nothing regulates by then.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tideover.answers import states
from tideover.answers.limits import AGED
from tideover.answers.packs import curve
from tideover.answers.rated import number
from tideover.laws.cells import resistance_factor
from tideover.laws.conductors import resistance_at
from tideover.laws.constants import ICE, TEMP_25, thermal_voltage
from tideover.network import Network, Placed
from tideover.quantity import Quantity

PLAIN = ("cable", "wire", "strip", "track", "connector", "switch", "shunt", "resistor", "fuse")
WAYS: dict[str, tuple[tuple[str, str], ...]] = {
    **{kind: (("a", "b"), ("b", "a")) for kind in PLAIN},
    "diode": (("anode", "cathode"),),
    "ideal diode": (("anode", "cathode"),),
    "relay": (("front", "common"), ("common", "front"), ("back", "common"), ("common", "back")),
    "protection board": (("out", "cells"), ("cells", "out")),
    "boost": (("input", "output"),),
}
"""Terminals (in, out) between which a kind lets a fault current pass. A boost passes its input on, less a diode, when
its output is shorted; other converters and chargers hold their own limit."""
INVERSE = ("section", "width", "thickness")
"""Figures that lower a resistance as they grow."""
BOOST_PATH = 0.02
"""Resistance of a boost's rectifier beyond what is stated, as in its part model. [ohm]"""
HOT = ICE + 70.0
"""Temperature of conductors under load, as hot as ordinary insulation may get. [K]"""
LOW, HIGH = "low", "high"


@dataclass(frozen=True)
class Loop:
    """A short circuit at the far end of the last part of `out`.

    Attributes
    ----------
    source : Placed
        Pack or adapter that feeds it.
    at : str
        Part at whose far end, or in which, the short lies.
    out, back : tuple of Placed
        In the order of the current: from the source's plus, and to its minus.
    """

    source: Placed
    at: str
    out: tuple[Placed, ...]
    back: tuple[Placed, ...]

    @property
    def parts(self) -> tuple[Placed, ...]:
        """All of them."""
        return self.out + self.back

    def of_kind(self, *kinds: str) -> tuple[Placed, ...]:
        """Parts of some kinds."""
        return tuple(p for p in self.parts if p.kind.name in kinds)

    def behind(self, part: Placed) -> tuple[Placed, ...]:
        """What carries the current once it has passed a part of the loop."""
        names = [p.name for p in self.parts]
        return self.parts[names.index(part.name) + 1 :]

    def short_of(self, part: Placed) -> Loop:
        """The loop with the short just before a part of `out`: a fault within it sees no more than that."""
        names = [p.name for p in self.out]
        return Loop(self.source, self.at, self.out[: names.index(part.name)], self.back) if part.name in names else self


def loops(network: Network, source: Placed) -> tuple[Loop, ...]:
    """A short at the far end of every part that a source can feed, and across every load, the nearest first."""
    plus, minus = (source.nodes[source.kind.terminals.index(t)] for t in ("plus", "minus"))
    away = _search(network, source, plus, stop={0, minus}, with_current=True)
    home = _search(network, source, minus, stop={plus}, with_current=False)
    common = tuple(reversed(home[0][1])) if 0 in home else ()
    found = []
    for node, (ohms, chain) in away.items():
        if chain and node != minus:
            found.append((ohms, Loop(source, chain[-1].name, chain, common)))
    for load in states.of_kind(network, "load"):
        a, b = load.nodes[0], load.nodes[1]
        if a in away and b in home and b not in (0, minus) and (b not in away or home[b][0] < away[b][0]):
            found.append((away[a][0] + home[b][0], Loop(source, load.name, away[a][1], tuple(reversed(home[b][1])))))
    order = sorted(range(len(found)), key=lambda k: found[k][0])
    return tuple(found[k][1] for k in order)


def _search(
    network: Network, source: Placed, start: int, stop: set[int], with_current: bool
) -> dict[int, tuple[float, tuple[Placed, ...]]]:
    """Least resistance from a node to every other, and the parts on the way there."""
    edges: dict[int, list[tuple[int, Placed]]] = {}
    for part in network.parts:
        if part.name == source.name or (part.kind.name == "boost" and number(part, "disconnects")):
            continue
        at = dict(zip(part.kind.terminals, part.nodes))
        for entry, leave in WAYS.get(part.kind.name, ()):
            a, b = (at[entry], at[leave]) if with_current else (at[leave], at[entry])
            edges.setdefault(a, []).append((b, part))
    best: dict[int, tuple[float, tuple[Placed, ...]]] = {}
    queue: list[tuple[float, int, int, tuple[Placed, ...]]] = [(0.0, 0, start, ())]
    count = 0
    while queue:
        ohms, _, node, chain = heapq.heappop(queue)
        if node in best:
            continue
        best[node] = ohms, chain
        if node in stop and node != start:
            continue
        for other, part in edges.get(node, ()):
            if other not in best and part not in chain:
                count += 1
                heapq.heappush(queue, (ohms + resistance(part), count, other, (*chain, part)))
    return best


# --- resistances -----------------------------------------------------------------------------------------------


class _Figures(dict[str, Any]):
    """Figures of a part at their limits, by attribute and by item."""

    def __getattr__(self, name: str) -> Any:
        return self[name]


def figure(part: Placed, name: str, side: str = "") -> float:
    """A figure as written, or at its low or high limit. [SI]"""
    value = part.values[name]
    return float(getattr(value, side or "nominal")) if isinstance(value, Quantity) else float(value)


def resistance(part: Placed, side: str = "", temp: float = TEMP_25) -> float:
    """What a part has in the way of a fault current; at its low, written or high limit. [ohm]"""
    kind = part.kind.name
    if part.kind.like:
        other = {LOW: HIGH, HIGH: LOW, "": ""}[side]
        figures = _Figures({n: figure(part, n, other if n in INVERSE else side) for n in part.values})
        plain = part.kind.like[1](figures)
        ohms = float(plain["resistance"])
        if side == HIGH and "aged_resistance" in figures:
            ohms = max(ohms, figures.aged_resistance * figures.contacts)
        return max(float(resistance_at(ohms, temp, plain["tempco"])), 1e-6)
    names: dict[str, Callable[[], float]] = {
        "switch": lambda: figure(part, "contact_resistance", side),
        "fuse": lambda: figure(part, "resistance", side) * (1.6 if side == HIGH else 1.0),
        "diode": lambda: figure(part, "series_resistance", side),
        "ideal diode": lambda: figure(part, "on_resistance", side),
        "relay": lambda: figure(part, "contact_resistance", side),
        "protection board": lambda: (
            figure(part, "on_resistance", side) * (1.0 + figure(part, "tempco") * (temp - TEMP_25))
        ),
        "boost": lambda: (
            BOOST_PATH
            + sum(
                figure(part, n, side)
                for n in ("coil_resistance", "rectifier_resistance", "input_resistance", "output_resistance")
            )
        ),
    }
    return max(names[kind](), 1e-6)


def _drop(part: Placed) -> float:
    """Voltage that a fault current leaves across a junction. [V]"""
    if part.kind.name == "diode":
        ratio = max(number(part, "forward_current") / number(part, "saturation_current"), 1.0)
        return float(number(part, "ideality") * thermal_voltage(TEMP_25) * np.log(ratio))
    return number(part, "pass_drop") if part.kind.name == "boost" else 0.0


# --- sources ---------------------------------------------------------------------------------------------------


def source_voltage(network: Network, pack: Placed, side: str) -> float:
    """Open-circuit voltage of a pack, as full as its charger makes it or near its cut-off. [V]"""
    soc = states.charges(network, pack, 1.0 if side == HIGH else None)[pack.name, "charge"]
    cell = float(np.asarray(curve(network, pack).value(np.array([[soc]])))[0, 0])
    return cell * number(pack, "series") * number(pack, "cells_per_unit")


def source_resistance(network: Network, pack: Placed, side: str) -> float:
    """Resistance of a pack within the first second: new, full and warm, or aged, nearly empty and cold. [ohm]"""
    low, high = network.need.ambient
    cell = figure(pack, "resistance", side) * figure(pack, "growth", side)
    if side == LOW:
        cell *= float(resistance_factor(high, number(pack, "activation_energy"), TEMP_25))
    else:
        soc = states.charges(network, pack, None)[pack.name, "charge"]
        near = 1.0 + 25.0 * max(0.2 - soc, 0.0) ** 2
        cell *= AGED.value * near * float(resistance_factor(low, number(pack, "activation_energy"), TEMP_25))
    joints = figure(pack, "joint_resistance", side)
    return number(pack, "series") * (cell / figure(pack, "parallel") + joints)


def most(network: Network, loop: Loop) -> float:
    """Largest current of a loop: pack full, new and warm, every resistance at its low limit and cold. [A]

    An adapter gives no more than its own limit.
    """
    if loop.source.kind.name == "adapter":
        return figure(loop.source, "current_limit", HIGH)
    temp = network.need.ambient[0]
    ohms = sum(resistance(p, LOW, temp) for p in loop.parts)
    volts = source_voltage(network, loop.source, HIGH)
    return volts / (source_resistance(network, loop.source, LOW) + ohms)


def least(network: Network, loop: Loop) -> float:
    """Smallest current of a loop: pack nearly empty, aged and cold, every resistance at its high limit and hot. [A]"""
    if loop.source.kind.name == "adapter":
        return figure(loop.source, "current_limit", LOW)
    ohms = sum(resistance(p, HIGH, HOT) for p in loop.parts)
    volts = source_voltage(network, loop.source, LOW) - sum(_drop(p) for p in loop.parts)
    return max(volts, 0.0) / (source_resistance(network, loop.source, HIGH) + ohms)


def stores(network: Network, loop: Loop) -> float:
    """Capacitance that a source charges through a loop, at the node where it ends. [F]"""
    node = end_of(loop)
    total = 0.0
    for part in network.parts:
        at = dict(zip(part.kind.terminals, part.nodes))
        for kinds, terminal, name in STORES:
            if part.kind.name in kinds and at[terminal] == node:
                total += figure(part, name, HIGH)
    return total


CONVERTERS = ("boost", "buck", "buck-boost", "linear regulator")
STORES: tuple[tuple[tuple[str, ...], str, str], ...] = (
    (("capacitor",), "plus", "capacitance"),
    (("load",), "plus", "capacitance"),
    (CONVERTERS, "input", "input_capacitance"),
)
"""Kinds that hold a capacitance, at which terminal, under which name."""


def end_of(loop: Loop) -> int:
    """Node at which the way out ends."""
    node = loop.source.nodes[loop.source.kind.terminals.index("plus")]
    for part in loop.out:
        at = dict(zip(part.kind.terminals, part.nodes))
        node = next(at[b] for a, b in WAYS[part.kind.name] if at[a] == node and at[b] != node)
    return node


def trip_current(board: Placed, side: str = "", temp: float = TEMP_25) -> float:
    """Current at which a board counts an overload: its sense voltage over its resistance, warm or not. [A]

    A resistance without a stated tolerance is taken to lie within 25 %, as those of transistors do.
    """
    ohms = board.values["on_resistance"]
    spread = isinstance(ohms, Quantity) and ohms.low < ohms.high
    other = {LOW: HIGH, HIGH: LOW, "": ""}[side]
    r = resistance(board, other, temp)
    if not spread and side:
        r *= 1.0 + R_ON if side == LOW else 1.0 - R_ON
    return figure(board, "sense_voltage", side) / r


R_ON = 0.25
"""Scatter of the resistance of a switched-on transistor from its typical value (typical, unverified)."""


def ends(part: Placed) -> set[int]:
    """Nodes between which a part lets a fault current pass."""
    at = dict(zip(part.kind.terminals, part.nodes))
    return {at[t] for way in WAYS.get(part.kind.name, ()) for t in way}


def distinct(parts: Iterable[Placed]) -> tuple[Placed, ...]:
    """Each part once, in order."""
    return tuple({p.name: p for p in parts}.values())


def fed_by(network: Network, part: Placed, terminal: str) -> tuple[Placed, ...]:
    """Parts that let current pass from a terminal onwards, up to the next converter or load, the return aside."""
    start = part.nodes[part.kind.terminals.index(terminal)]
    reached = _search(network, part, start, stop={0}, with_current=True)
    return distinct(p for _, chain in reached.values() for p in chain)


def packs_and_adapters(network: Network) -> Sequence[Placed]:
    """Sources, packs first."""
    return (*states.of_kind(network, "pack"), *states.of_kind(network, "adapter"))
