"""What takes current from a pack that carries nothing: standing points down to empty, and each drain taken away alone.

What a drain costs the cells is the change of the pack's current when that drain alone is taken away: so a drain behind
a converter counts with the converter's ratio and losses, and one that a switch cuts off counts nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.blame import CONVERTERS
from tideover.answers.packs import chemistry, curve, figure, full_charge
from tideover.answers.runs import AMBIENT
from tideover.answers.sources import PULLED
from tideover.cases import Batch, written
from tideover.laws.cells import self_discharge_current
from tideover.laws.chemistry import CHEMISTRY
from tideover.laws.constants import TEMP_25
from tideover.network import Network, Placed
from tideover.solve import OUTCOMES, Condition, Readings, build, readings, rest

Array = NDArray[np.float64]
Key = tuple[str, str]
OFF, IDLE, UNPLUGGED = "switched off", "idle", "unplugged"
"""Mains away in all of them. Off: the switch open. Idle: on, the load takes nothing. Unplugged: the adapter's plug
pulled out of the box, off, the load taken off."""
POINTS = 40
"""Charges at which the current is computed, from full to where the cells are harmed."""
FINER = 24
"""Charges put between two of them where the current jumps: a lockout, a module that goes to sleep."""
JUMP = 1.3
"""Ratio of neighbouring currents that is a jump."""
DEEPEST = -0.1
"""No more than this share of the capacity lies below 0 %, whatever the curve's straight end says."""
BLEEDER = 100.0
"""A resistor of more than this cannot lie in the load's path: it is a divider or a bleeder. [ohm]"""
OPEN_RESISTOR = 1e9
HALF_FULL = 0.5

DRAINS: dict[str, tuple[tuple[str, str], ...]] = {
    "protection board": (("quiescent", "quiescent current"),),
    **{
        kind: (
            ("quiescent", "quiescent current"),
            ("off_current", "current while off"),
            ("reverse_drain", "output drain"),
        )
        for kind in CONVERTERS
    },
    "charger": (("quiescent", "quiescent current"), ("reverse_drain", "reverse drain")),
    "ideal diode": (("quiescent", "controller"),),
    "diode": (("leakage", "leakage"),),
    "adapter": (("reverse_leakage", "back leakage"),),
    "capacitor": (("leakage", "leakage"),),
    "resistor": (("resistance", "as a divider or bleeder"),),
}
"""Figures of each kind that drain a pack at rest, and their names."""


@dataclass(frozen=True)
class Drain:
    """One drain: whose, which figure, how large as stated [A; ohm for a resistor], and in words."""

    part: str
    figure: str
    stated: float
    words: str


@dataclass(frozen=True)
class Drained:
    """A pack at rest in some states and rooms.

    Attributes
    ----------
    rooms : array, shape (R,)
        Coldest, 25 °C, warmest. [K]
    charge : array, shape (N,)
        Of the weak group, from where the cells are harmed or cut off up to full. [-]
    amps : dict
        State to the current out of the pack, self-discharge left out, shape (R, N); NaN where nothing stands. [A]
    own : array, shape (R,)
        Self-discharge. [A]
    harmed, cut, full : float
        Charges: where one cell's harm begins, where the board cuts off, where the charger leaves it.
    guarded : bool
        Whether there is a board that cuts off.
    let_go : dict
        State to the charge at which a converter locks out, NaN if none does.
    costs : dict
        State to what each drain takes from the cells at half charge and 25 °C. [A]
    """

    network: Network
    pack: Placed
    rooms: Array
    charge: Array
    amps: dict[str, Array]
    own: Array
    harmed: float
    cut: float
    full: float
    guarded: bool
    let_go: dict[str, float]
    drains: tuple[Drain, ...]
    costs: dict[str, Array]

    @property
    def coulombs(self) -> float:
        """Charge of the weak group between 0 and 100 %. [C]"""
        capacity, health, beside, spread = (
            written(self.network, (self.pack.name, n)) for n in ("capacity", "health", "parallel", "capacity_spread")
        )
        return capacity * health * beside * (1.0 - spread)

    def current(self, state: str, room: int, charge: float = HALF_FULL) -> float:
        """Out of the cells, their own discharge counted. [A]"""
        return float(np.interp(charge, self.charge, self.amps[state][room])) + float(self.own[room])

    def lasts(self, state: str, room: int, begin: float, end: float) -> float:
        """Time from one charge of the weak group to another: 0 if it is below, infinite if nothing drains. [s]"""
        if end >= begin:
            return 0.0
        s = np.unique(np.concatenate([[end, begin], self.charge[(self.charge > end) & (self.charge < begin)]]))
        amps = np.interp(s, self.charge, self.amps[state][room]) + self.own[room]
        if np.isnan(amps).any():
            return float("nan")
        with np.errstate(divide="ignore"):
            pace = np.where(amps > 0.0, self.coulombs / np.maximum(amps, 1e-30), np.inf)
        return float(np.sum(0.5 * (pace[1:] + pace[:-1]) * np.diff(s)))


def states_of(network: Network) -> tuple[str, ...]:
    """Off only where there is a switch: without one, off is idle."""
    return (OFF, IDLE, UNPLUGGED) if states.of_kind(network, "switch") else (IDLE, UNPLUGGED)


def drains_of(network: Network) -> tuple[Drain, ...]:
    """Every drain of a build, in the order of the file."""
    found = []
    for part in network.parts:
        for name, words in DRAINS.get(part.kind.name, ()):
            stated = written(network, (part.name, name))
            if stated > (BLEEDER if name == "resistance" else 0.0):
                found.append(Drain(part.name, name, stated, words))
    return tuple(found)


def drained(network: Network, pack: Placed) -> Drained:
    """Standing points of a pack at rest: every state, room and charge, and every drain taken away, in one call."""
    drains, names = drains_of(network), states_of(network)
    rooms = np.array([network.need.ambient[0], TEMP_25, network.need.ambient[1]])
    full = float(full_charge(network, pack, Batch(("nominal",), {}, 1))[0])
    harmed, cut = harm(network, pack), cut_off(network, pack)
    charge = _grid(min(harmed, cut), full, (harmed, cut))
    _, coarse = _current(network, pack, list(_cases(names, rooms[1:2], charge, ())), full)
    charge = _refined(charge, coarse.reshape(len(names), -1)[:, : len(charge)])
    seen, current = _current(network, pack, list(_cases(names, rooms, charge, drains)), full)
    n, r, d = len(charge), len(rooms), len(drains)
    whole = current.reshape(len(names), r * n + d + 1)
    amps = {name: _filled(whole[k, : r * n].reshape(r, n), charge) for k, name in enumerate(names)}
    costs = {name: whole[k, -1] - whole[k, r * n : -1] for k, name in enumerate(names)}
    let_go = {name: _let_go(network, seen, charge, k * (r * n + d + 1) + n, cut) for k, name in enumerate(names)}
    monthly, capacity, health, beside = (
        written(network, (pack.name, f)) for f in ("self_discharge", "capacity", "health", "parallel")
    )
    own = np.asarray(self_discharge_current(capacity * health * beside, monthly, rooms))
    guarded = board_of(network, pack) is not None
    return Drained(network, pack, rooms, charge, amps, own, harmed, cut, full, guarded, let_go, drains, costs)


def harm(network: Network, pack: Placed) -> float:
    """Charge at which one cell at rest stands where its chemistry is harmed. [-]"""
    s = np.linspace(DEEPEST, 1.0, 1101)
    volts = np.asarray(curve(network, pack).value(s[:, None]))[:, 0]
    return float(np.interp(CHEMISTRY[chemistry(network, pack)].discharge_abs, volts, s))


def cut_off(network: Network, pack: Placed) -> float:
    """Charge at which the weak group at rest stands at its board's cut-off, or its own lowest voltage. [-]"""
    board = board_of(network, pack)
    key = (pack.name, "lowest_voltage") if board is None else (board.name, "cut_off")
    volts = written(network, key)
    s = np.linspace(DEEPEST, 1.0, 1101)
    rested = np.asarray(curve(network, pack).value(s[:, None]))[:, 0]
    return float(np.interp(volts / written(network, (pack.name, "cells_per_unit")), rested, s))


def board_of(network: Network, pack: Placed) -> Placed | None:
    """The board that watches a pack."""
    tap = pack.nodes[pack.kind.terminals.index("tap")]
    boards = states.of_kind(network, "protection board")
    return next((b for b in boards if b.nodes[b.kind.terminals.index("sense tap")] == tap), None)


@dataclass(frozen=True)
class _Case:
    state: str
    room: float
    charge: float
    without: Drain | None = None


def _grid(low: float, full: float, marks: Sequence[float]) -> Array:
    """Charges, with points close on both sides of where something happens."""
    close = [m + by for m in marks for by in (-1e-4, 1e-4)]
    points = np.concatenate([np.linspace(low - 1e-4, full, POINTS), close])
    return np.unique(points[points <= full])


def _cases(names: Sequence[str], rooms: Array, charge: Array, drains: Sequence[Drain]) -> Iterator[_Case]:
    """For each state: rooms by charges, then each drain taken away, then none."""
    for state in names:
        yield from (_Case(state, float(room), float(s)) for room in rooms for s in charge)
        yield from (_Case(state, TEMP_25, HALF_FULL, drain) for drain in (*drains, None))


def _refined(charge: Array, amps: Array) -> Array:
    """A grid with more points where the current of any state jumps from one to the next; shape of `amps` (S, N)."""
    size = np.abs(amps) + 1e-9
    with np.errstate(invalid="ignore"):
        ratio = size[:, 1:] / size[:, :-1]
        jumps = ((ratio > JUMP) | (ratio < 1.0 / JUMP)).any(axis=0)
    more = [np.linspace(charge[k], charge[k + 1], FINER + 2) for k in np.flatnonzero(jumps)]
    return np.unique(np.concatenate([charge, *more]))


def _current(network: Network, pack: Placed, cases: Sequence[_Case], full: float) -> tuple[Readings, Array]:
    """Standing points of all cases, mains away, adapters and chargers long at rest; and the current out of the pack,
    NaN where nothing stands. [A]"""
    count = len(cases)
    batch = Batch(tuple(c.state for c in cases), _values(network, cases), count)
    weak = np.array([c.charge for c in cases])
    spread = written(network, (pack.name, "capacity_spread"))
    common = full - (full - weak) * (1.0 - spread)
    signals: dict[Key, Array] = {}
    for adapter in states.of_kind(network, "adapter"):
        signals[adapter.name, "mains"] = np.zeros(count)
    for switch in states.of_kind(network, "switch"):
        signals[switch.name, "closed"] = np.array([1.0 * (c.state == IDLE) for c in cases])
    for load in states.of_kind(network, "load"):
        signals[load.name, "demand"] = np.array([1.0 * (c.state == OFF) for c in cases])
    inside: dict[Key, Array | float] = {}
    for p in states.of_kind(network, "pack"):
        inside |= {(p.name, "charge"): common, (p.name, "weak_charge"): weak}
    spent = {}
    for adapter in states.of_kind(network, "adapter"):
        inside |= {(adapter.name, s): 0.0 for s in ("output", "store", "reference")}
        spent[adapter.name, "output"] = "dead"
    spent |= {(c.name, "phase"): "off" for c in states.of_kind(network, "charger")}
    system = build(network, batch.values, count)
    point = rest(system, Condition(signals, inside, spent, figure(network, batch, AMBIENT)))
    seen = readings(system, point.state)
    stands = point.outcome == OUTCOMES.index("found")
    return seen, np.asarray(np.where(stands, seen.quantity[pack.name, "discharge current [A]"], np.nan))


def _values(network: Network, cases: Sequence[_Case]) -> dict[Key, Array]:
    """Rooms, pulled plugs, and the drain that is taken away."""
    values: dict[Key, Array] = {AMBIENT: np.array([c.room for c in cases])}
    for adapter in states.of_kind(network, "adapter"):
        key = (adapter.name, "output_resistance")
        values[key] = np.array([PULLED if c.state == UNPLUGGED else written(network, key) for c in cases])
    for k, case in enumerate(cases):
        if case.without is not None:
            drain = case.without
            key = (drain.part, drain.figure)
            column = values.setdefault(key, np.full(len(cases), written(network, key)))
            column[k] = OPEN_RESISTOR if drain.figure == "resistance" else 0.0
    return values


def _filled(amps: Array, charge: Array) -> Array:
    """Where a charge has no standing point, what lies between its neighbours; NaN where a room has none at all."""
    out = amps.copy()
    for row in out:
        known = np.isfinite(row)
        if known.any():
            row[~known] = np.interp(charge[~known], charge[known], row[known])
    return out


def _let_go(network: Network, seen: Readings, charge: Array, first: int, cut: float) -> float:
    """Charge below which a converter that ran on a full pack is locked out or cut off, at 25 °C; NaN for none before
    the board acts."""
    best = float("nan")
    n = len(charge)
    for part in states.of_kind(network, *CONVERTERS):
        supply = seen.machine[part.name, "supply"][first : first + n]
        alive = np.array([s in ("running", "idling", "starting") for s in supply])
        if alive[-1] and not alive.all():
            last = int(np.flatnonzero(~alive)[-1])
            best = float(np.fmax(best, 0.5 * (charge[last] + charge[last + 1])))
    return best if best > cut + 1e-3 else float("nan")


def drain_list(found: Drained, state: str) -> list[tuple[Drain, float]]:
    """Drains of a state and what they take from the cells, the largest first. [A]"""
    costs: Mapping[str, Array] = found.costs
    pairs = [(d, float(c)) for d, c in zip(found.drains, costs[state]) if np.isfinite(c)]
    return sorted(pairs, key=lambda pair: -pair[1])
