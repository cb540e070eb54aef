"""Standing points: where a network comes to rest while charge and temperature hold still.

Voltages and fast states are in equilibrium, discrete states agree with them. The search starts high (sources at
their no-load voltage, loads at their nominal one) and follows the network's own settling in growing implicit
steps, so that of the two roots of a constant-power load it reaches the upper, stable one. There are three honest
outcomes besides a point: none exists, the discrete states alternate, or the search did not converge.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.solve import arcs as discrete
from tideover.solve.newton import CAP, solve, stage
from tideover.solve.system import AIR_START, Array, System, number

FOUND, NO_POINT, CHATTER, NOT_CONVERGED = 0, 1, 2, 3
OUTCOMES = ("found", "no standing point", "chatter", "not converged")
FOREVER = 1e9
"""An implicit step so long that only the equilibrium is left. [s]"""
SHORTEST = 1e-13
"""An implicit step of the search shorter than this has failed. [s]"""
TOLERANCE = 1e-10
ABOVE_LABEL = 1.3
"""No cell stands higher above its nominal voltage."""
PATIENCE, LANDING = 15, 6
"""Newton iterations of a step; a search from 0 V needs one for each `newton.CAP` of the highest source and some to
land on it."""
ROUNDS = 40
"""Rounds of discrete states before giving up."""


@dataclass(frozen=True)
class Rest:
    """Standing points of many cases; the case axis leads.

    Attributes
    ----------
    v : array, shape (cases, nodes)
        Node voltages, the return (0 V) first; NaN where no point was found. [V]
    air : array, shape (cases,)
        Temperature of the air in the box. [K]
    outcome : int array, shape (cases,)
        Position in `OUTCOMES`.
    residual : array, shape (cases,)
        Largest current left over at a node. [A]
    worst : int array, shape (cases,)
        The node where it sits.
    scale : array, shape (cases,)
        Largest current that meets at that node. [A]
    iterations : int array, shape (cases,)
        Newton iterations in all.
    chatter : tuple of tuple
        For each alternating case: (case, period [s], the machine states it goes through).
    state : Inside
        Everything, in the solver's own layout, to start a march from.
    """

    v: Array
    air: Array
    outcome: NDArray[np.int64]
    residual: Array
    worst: NDArray[np.int64]
    scale: Array
    iterations: NDArray[np.int64]
    chatter: tuple[tuple[int, float, tuple[str, ...]], ...]
    state: Inside


@dataclass(frozen=True)
class Inside:
    """Voltages, states, machines and signals in the solver's layout, cases last."""

    V: Array
    X: Array
    M: Any
    S: Array

    def take(self, cases: NDArray[Any]) -> Inside:
        """Some of the cases."""
        return Inside(self.V[:, cases], self.X[:, cases], self.M[:, cases], self.S[:, cases])


@dataclass(frozen=True)
class Condition:
    """What is given when a standing point is sought; each value a number or one for each case.

    Attributes
    ----------
    signals : mapping
        ``(part, signal)`` to its value, over the kind's default. [-]
    states : mapping
        ``(part, state)`` to its value, over its start. [state unit]
    machines : mapping
        ``(part, machine)`` to the state it starts from. [-]
    ambient : float or array
        Temperature that every part and the air start with. [K]
    """

    signals: Mapping[tuple[str, str], Any] = field(default_factory=dict)
    states: Mapping[tuple[str, str], Any] = field(default_factory=dict)
    machines: Mapping[tuple[str, str], str] = field(default_factory=dict)
    ambient: Any = AIR_START


def begin(system: System, condition: Condition) -> Inside:
    """Where the search starts: sources high, loads at their nominal voltage, the rest at its start."""
    count = system.count
    V = np.zeros((system.unknowns, count))
    V[-1] = condition.ambient
    X = np.zeros((system.nx, count))
    M = np.zeros((system.nm, count), dtype=np.int64)
    S = np.zeros((system.ns, count))
    high = _highest(system)
    for g in system.layout:
        n = g.n
        for k, member in enumerate(g.members):
            part = system.network.parts[member]
            for j, name in enumerate(g.program.states):
                X[g.x0 + j * n + k] = _start(system, part, name, condition, high)
            for j, m in enumerate(g.kind.machines):
                first = condition.machines.get((part.name, m.name), m.states[0])
                M[g.m0 + j * n + k] = m.states.index(first)
            for j, (s, value) in enumerate(g.kind.signals.items()):
                S[g.s0 + j * n + k] = condition.signals.get((part.name, s), value)
    return Inside(V, X, M, S)


def _start(system: System, part: Any, name: str, condition: Condition, high: Any) -> Any:
    given = condition.states.get((part.name, name))
    if given is not None:
        return given
    if name == "temp":
        return condition.ambient
    state = next(s for s in part.kind.states if s.name == name)
    if state.unit == "K":
        return condition.ambient
    if state.guess == "supply":
        return high
    return system.parameter(part, state.guess.replace(" ", "_")) if state.guess else state.start


def _highest(system: System) -> Any:
    """Highest voltage of any source, as a guess, for every case. [V]"""
    best: Any = 1.0
    for part in system.network.parts:
        for name, factor in part.kind.source:
            best = np.maximum(best, system.parameter(part, name) * (system.parameter(part, factor) if factor else 1.0))
    return best


def weights(system: System) -> Array:
    """Scale of each state, shape (states, 1)."""
    out = np.ones((system.nx, 1))
    for g in system.layout:
        scales = {s.name: s.scale for s in g.kind.states} | {"temp": 10.0}
        for j, name in enumerate(g.program.states):
            out[g.x0 + j * g.n : g.x0 + (j + 1) * g.n] = scales[name]
    return out


def rest(system: System, condition: Condition | None = None, near: Inside | None = None) -> Rest:
    """Find the standing point of every case.

    Parameters
    ----------
    system : System
        The network and its parameters. [-]
    condition : Condition, optional
        Signals, states, starting discrete states and ambient. [-]
    near : Inside, optional
        A known standing point, of one case or of each, to begin from instead. [-]

    Returns
    -------
    rest : Rest
        One point or one honest outcome for each case. [-]
    """
    here = begin(system, condition or Condition())
    if near is not None:
        here = Inside(
            np.array(np.broadcast_to(near.V, here.V.shape)),
            _nearby(system, near.X, here.X, condition or Condition()),
            np.array(np.broadcast_to(near.M, here.M.shape)),
            here.S,
        )
    V, X, M, S = here.V, here.X, here.M, here.S
    arcs = discrete.tabulate(system)
    weight = weights(system)
    count = system.count
    outcome = np.full(count, NOT_CONVERGED, dtype=np.int64)
    iterations = np.zeros(count, dtype=np.int64)
    cases = np.arange(count)
    sub, table = system, arcs
    trails: list[list[tuple[bytes, bytes]]] = [[] for _ in range(count)]
    loops: list[tuple[int, float, tuple[str, ...]]] = []
    fresh = near is None
    for _ in range(ROUNDS):
        m = discrete.settle_down(table, M[:, cases])
        v, x, s = V[:, cases], X[:, cases], S[:, cases]
        table.enter(M[:, cases], m, x)
        ok, used = _settle(sub, v, x, m, s, weight, fresh)
        fresh = False
        ends = discrete.look(sub, v, x, m, s)
        taken = discrete.fired(table, ends.guards, m) & ok
        after = discrete.follow(table, taken, m)
        table.enter(m, after, x)
        V[:, cases], X[:, cases], M[:, cases] = v, x, np.where(ok, after, m)
        iterations[cases] += used
        moved = taken.any(axis=0)
        still = ok & ~moved
        outcome[cases[still]] = np.where(ends.collapsed[still] > 0.0, NO_POINT, FOUND)
        round_trip = np.zeros(len(cases), dtype=bool)
        for k in np.flatnonzero(moved):
            trail, mark = trails[cases[k]], m[:, k].tobytes()
            trail.append((mark, after[:, k].tobytes()))
            first = next(n for n, (seen, _) in enumerate(trail) if seen == mark)
            if first < len(trail) - 1:
                round_trip[k] = True
                outcome[cases[k]] = CHATTER
                loops.append(_loop(system, int(cases[k]), trail[first:-1], arcs))
        keep = np.flatnonzero(moved & ~round_trip)
        if not len(keep):
            break
        cases = cases[keep]
        sub, table = sub.take(keep), table.take(keep)
    residual, worst, scale = _leftover(system, V, X, M, S)
    bad = (outcome == NOT_CONVERGED) | (outcome == CHATTER)
    volts = np.concatenate([np.zeros((1, count)), V[: system.electrical]]).T
    volts[bad] = np.nan
    return Rest(
        volts, V[-1].copy(), outcome, residual, worst, scale, iterations, tuple(loops), Inside(V, X, M, S)
    )


def _nearby(system: System, known: Array, begun: Array, condition: Condition) -> Array:
    """States of a known point; but slow ones as the condition gives them, and what follows a set point follows it."""
    out = np.array(np.broadcast_to(known, begun.shape))
    for g in system.layout:
        table = {s.name: s for s in g.kind.states}
        for j, name in enumerate(g.program.states):
            for k, member in enumerate(g.members):
                part, row = system.network.parts[member], g.x0 + j * g.n + k
                state = table.get(name)
                if state is None or state.slow or state.unit == "K" or (part.name, name) in condition.states:
                    out[row] = begun[row]
                elif state.guess and state.guess != "supply":
                    key = state.guess.replace(" ", "_")
                    out[row] += system.parameter(part, key) - number(part, key)
    return out


def _settle(
    system: System, V: Array, X: Array, M: Any, S: Array, weight: Array, fresh: bool
) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:
    """Equilibrium at given discrete states: at one stroke if near, else by growing implicit steps."""
    count = V.shape[1]
    used = np.zeros(count, dtype=np.int64)
    ok = np.zeros(count, dtype=bool)
    if not fresh:
        v, x = V.copy(), X.copy()
        at = stage(system, np.full(count, FOREVER), 0.0, M, S)
        ok, used = solve(system, at, v, x, X.copy(), weight, TOLERANCE, PATIENCE)
        V[:, ok], X[:, ok] = v[:, ok], x[:, ok]
    if ok.all():
        return ok, used
    todo = np.flatnonzero(~ok)
    sub = system.take(todo)
    h = np.full(len(todo), 1e-7)
    v, x, m, s = V[:, todo], X[:, todo], M[:, todo], S[:, todo]
    done = np.zeros(len(todo), dtype=bool)
    climb = np.ceil(ABOVE_LABEL * np.broadcast_to(_highest(sub), (len(todo),)) / CAP).astype(int)
    most = np.maximum(PATIENCE, climb + LANDING)
    for _ in range(120):
        trial_v, trial_x = v.copy(), x.copy()
        last = h >= FOREVER
        tolerance = np.where(last, TOLERANCE, 1e-4)
        patience = np.where(done | (h < SHORTEST), 0, most)
        good, its = solve(sub, stage(sub, h, 0.0, m, s), trial_v, trial_x, x, weight, tolerance, patience)
        good &= patience > 0
        used[todo] += np.minimum(its, patience)
        v[:, good], x[:, good] = trial_v[:, good], trial_x[:, good]
        done |= good & last
        grown = np.minimum(h * np.where(its <= 6, 10.0, 3.0), FOREVER)
        h = np.where(patience > 0, np.where(good, grown, h * 0.2), h)
        if (done | (h < SHORTEST)).all():
            break
    V[:, todo], X[:, todo] = v, x
    ok[todo] = done
    return ok, used


def _leftover(system: System, V: Array, X: Array, M: Any, S: Array) -> tuple[Array, NDArray[np.int64], Array]:
    """Largest current left over at any node, where, and the largest current meeting there."""
    ne, count = system.electrical, V.shape[1]
    total = V[:ne] * 1e-11
    largest = np.zeros((ne, count))
    for g in system.groups:
        p = g.program
        values = g.call("shown", V, X, M, S)
        for t, nodes in zip(p.terminals, g.nodes):
            if t == "air":
                continue
            i = np.broadcast_to(values[p.shown_names.index(f"{t} [A]")], (g.n, count))
            for k in range(g.n):
                total[nodes[k]] += i[k]
                largest[nodes[k]] = np.maximum(largest[nodes[k]], np.abs(i[k]))
    if not ne:
        return np.zeros(count), np.zeros(count, dtype=np.int64), np.zeros(count)
    worst = np.abs(total).argmax(axis=0)
    every = np.arange(count)
    return np.abs(total)[worst, every], worst + 1, largest[worst, every]


def _loop(
    system: System, case: int, rounds: list[tuple[bytes, bytes]], arcs: discrete.Arcs
) -> tuple[int, float, tuple[str, ...]]:
    """Period and states of an alternation: what the rounds it repeats lead through, timed states included."""
    alone = arcs.take(np.array([case]))
    period = 0.0
    path: list[tuple[int, int]] = []
    for stood, moved in rounds:
        M = np.frombuffer(stood, dtype=np.int64)[:, None]
        after = np.frombuffer(moved, dtype=np.int64)[:, None]
        while (after != M).any():
            path += [(int(row), int(M[row, 0])) for row in np.flatnonzero((after != M)[:, 0])]
            M, (after, spent) = after, discrete.onward(alone, after)
            period += float(spent[0])
    label = _labels(system)
    return case, period, tuple(dict.fromkeys(f"{label[row][0]}: {label[row][1].states[code]}" for row, code in path))


def _labels(system: System) -> dict[int, tuple[str, Any]]:
    """Part and machine of each row of discrete states."""
    return {
        g.m0 + j * g.n + k: (system.network.parts[member].name, m)
        for g in system.layout
        for j, m in enumerate(g.kind.machines)
        for k, member in enumerate(g.members)
    }
