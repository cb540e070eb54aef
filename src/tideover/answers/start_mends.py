"""What would mend a start that fails: single changes and a few pairs, each tried from the same dead state."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from tideover.answers import states
from tideover.answers.blame import CONVERTERS
from tideover.answers.context import Context, choice
from tideover.answers.holding import storage
from tideover.answers.mask import Mask
from tideover.answers.start_read import pack_waits, read
from tideover.answers.starts import LOW, MAINS, Dead, Starts, start
from tideover.cases import Batch, written
from tideover.network import Network
from tideover.quantity import show
from tideover.solve import Inside, along

if TYPE_CHECKING:
    from tideover.answers.start import Tried

Key = tuple[str, str]
TRIES = 900
MOST = 3
"""Dead states for which changes are tried; the others are told with the first of them."""
OHMS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
"""Resistors tried in the way of a rush. [ohm]"""
FOREVER = 1e6
"""Overload time of an adapter that holds its current instead of stopping. [s]"""


@dataclass(frozen=True)
class Change:
    """One change of the build, in words; `bridged` closes the protection boards once all has come to rest, by hand."""

    words: str
    values: Mapping[Key, float]
    bridged: bool = False


@dataclass(frozen=True)
class Mend:
    """What was tried from one dead state, what brought the load back (and the pack, if that was locked), and the
    gentlest of that."""

    dead: Dead
    level: str
    tried: tuple[str, ...]
    worked: tuple[str, ...]
    holds: tuple[str, ...]


def mends(context: Context, tried: Tried, mask: Mask) -> tuple[Mend, ...]:
    """Try the changes from every dead state that fails, at its gentlest load that fails."""
    network, starts = context.network, tried.starts
    bad: dict[int, int] = {}
    for k, outcome in enumerate(tried.outcomes):
        dead = starts.deads[k]
        if (not outcome.back or (dead.wakes == MAINS and tried.locked(k))) and dead.key != LOW:
            bad.setdefault(id(dead), k)
    chosen = list(bad.values())[:MOST]
    plan = [(k, c) for k in chosen for c in changes(network, starts.deads[k]) if starts.ended(k) or not c.bridged]
    if not plan:
        return ()
    keys = dict.fromkeys(key for _, change in plan for key in change.values)
    values = {key: np.array([c.values.get(key, written(network, key)) for _, c in plan]) for key in keys}
    batch = Batch(tuple(c.words for _, c in plan), values, len(plan))
    deads = [_bridged(starts, k) if c.bridged else starts.deads[k] for k, c in plan]
    again = start(network, batch, deads, [starts.levels[k] for k, _ in plan], TRIES)
    out = []
    for k in chosen:
        rows = [j for j, (case, _) in enumerate(plan) if case == k]
        good = []
        for j in rows:
            one = read(again, j, mask)
            locked = starts.deads[k].wakes == MAINS and pack_waits(network, one)
            if one.back and not (locked and tried.locked(k)):
                good.append(plan[j][1])
        everything, worked = (tuple(c.words for c in some) for some in ([plan[j][1] for j in rows], good))
        out.append(Mend(starts.deads[k], starts.levels[k], everything, worked, _gentlest(good)))
    return tuple(out)


def _gentlest(good: list[Change]) -> tuple[str, ...]:
    """Of several resistors in one place the smallest is enough, and of a pair the one that does it alone."""
    larger = [c for place in (IN_THE_WAY, BESIDE) for c in [g for g in good if place in g.words][1:]]
    more = [c for c in good for d in good if d.values and d.values.items() < c.values.items()]
    return tuple(c.words for c in good if c not in larger and c not in more)


IN_THE_WAY = "in the way of the rush (a resistor bridged afterwards, or a thermistor)"
BESIDE = "in series with"


def changes(network: Network, dead: Dead) -> Iterator[Change]:
    """What might make a start hold."""
    adapters, chargers = states.of_kind(network, "adapter"), states.of_kind(network, "charger")
    larger: dict[Key, float] = {}
    if dead.wakes == MAINS:
        for charger in chargers:
            if written(network, (charger.name, "starts_above")) > 0.0:
                yield Change(f"a {charger.name} that wakes a pack at 0 V", {(charger.name, "starts_above"): 0.0})
        if states.of_kind(network, "protection board"):
            yield Change("a button that bridges the protection board for a moment", {}, bridged=True)
        for adapter in adapters:
            larger |= {
                (adapter.name, n): 2.0 * written(network, (adapter.name, n)) for n in ("rated_current", "current_limit")
            }
            yield Change(f"a {adapter.name} of twice the current", larger)
            if choice(adapter, "overload") == "hiccup":
                holds = {(adapter.name, "overload_time"): FOREVER}
                yield Change(f"a {adapter.name} that holds its current instead of stopping", holds)
                yield Change(f"a {adapter.name} of twice the current that does not stop either", holds | larger)
        halved = {(c.name, "charge_current"): 0.5 * written(network, (c.name, "charge_current")) for c in chargers}
        if halved:
            yield Change("half the charge current", halved)
            if larger:
                yield Change("twice the adapter's current and half the charge current", halved | larger)
    for converter in states.of_kind(network, *CONVERTERS):
        off, on = (written(network, (converter.name, n)) for n in ("lockout_off", "lockout_on"))
        if on > 0.0:
            wide = {(converter.name, "lockout_off"): 0.7 * off}
            yield Change(f"a {converter.name} that locks out only below {show(0.7 * off, 'V')}", wide)
            both = wide | {(converter.name, "lockout_on"): 0.7 * on}
            yield Change(f"a {converter.name} with its whole lockout at 70 % of the present one", both)
    if dead.wakes != MAINS:
        yield from _against_the_rush(network)


def _against_the_rush(network: Network) -> Iterator[Change]:
    for key in _in_the_way(network):
        for ohm in OHMS:
            yield Change(f"{show(ohm, 'ohm')} {IN_THE_WAY}", {key: written(network, key) + ohm})
        break
    knob = storage(network)
    if knob is not None and network.part(knob.part).kind.name == "capacitor":
        key = (knob.part, "ESR")
        for ohm in OHMS:
            yield Change(f"{show(ohm, 'ohm')} {BESIDE} {knob.part} alone", {key: written(network, key) + ohm})
        for share in (0.5, 0.2):
            batch = knob.batch(np.array([share]))
            yield Change(f"only {batch.labels[0]}", {key: float(v[0]) for key, v in batch.values.items()})
    for board in states.of_kind(network, "protection board"):
        names = ("short_delay", "overload_delay")
        slow = {(board.name, n): 10.0 * written(network, (board.name, n)) for n in names}
        yield Change(f"a {board.name} with ten times its trip delays", slow)


def _in_the_way(network: Network) -> Iterator[Key]:
    """A resistance that the pack's current to the load passes."""
    for kind, name in (("fuse", "resistance"), ("switch", "contact_resistance"), ("relay", "contact_resistance")):
        for part in states.of_kind(network, kind):
            yield part.name, name


def _bridged(starts: Starts, case: int) -> Dead:
    """The end of a start, mains present and everything waiting, with every protection board closed for a moment."""
    t, system, inside = along(starts.waves, case)
    last = inside.take(np.array([len(t) - 1]))
    M = last.M.copy()
    for g in system.layout:
        for j, machine in enumerate(g.kind.machines):
            for k, member in enumerate(g.members):
                if starts.network.parts[member].kind.name == "protection board" and machine.name == "discharge":
                    M[g.m0 + j * g.n + k] = machine.states.index("on")
    return replace(starts.deads[case], inside=Inside(last.V, last.X, M, last.S), signals={}, trigger=0.0)
