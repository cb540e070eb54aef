"""Discrete states: which arcs a network has, which of them are due, and taking them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.solve.system import Array, System, add_powers, three

NEVER = np.inf


@dataclass(frozen=True)
class Ends:
    """What is looked at after a step: guards (rows, cases), sign of collapse (cases,), powers (3, cases)."""

    guards: Array
    collapsed: Array
    powers: Array


@dataclass(frozen=True)
class Arcs:
    """All arcs of a network as tables, one row for each arc of each part.

    `row`, `source`, `target` are the machine's row and the two states' positions. `settles` marks guarded arcs that a
    standing point follows at once; `delays` holds the timed arcs' dwell, shape (rows, cases or 1). [s]
    """

    guard_row: NDArray[np.intp]
    guard_source: NDArray[np.int64]
    guard_target: NDArray[np.int64]
    settles: NDArray[np.bool_]
    timer_row: NDArray[np.intp]
    timer_source: NDArray[np.int64]
    timer_target: NDArray[np.int64]
    delays: Array
    entries: tuple[tuple[int, int, int, float], ...]
    """(machine row, state entered, row of the continuous state, value it takes)."""

    def take(self, cases: NDArray[Any]) -> Arcs:
        """The same for some of the cases."""
        delays = self.delays if self.delays.shape[1] == 1 else self.delays[:, cases]
        return Arcs(
            self.guard_row,
            self.guard_source,
            self.guard_target,
            self.settles,
            self.timer_row,
            self.timer_source,
            self.timer_target,
            delays,
            self.entries,
        )

    def enter(self, before: Any, after: Any, X: Array) -> None:
        """Set the continuous states that entering a discrete state resets; `X` is changed in place."""
        for row, code, x, value in self.entries:
            X[x] = np.where((after[row] == code) & (before[row] != code), value, X[x])


def tabulate(system: System) -> Arcs:
    """Collect the arcs of every part of a network."""
    guard: list[tuple[int, int, int, bool]] = []
    timer: list[tuple[int, int, int]] = []
    delays: list[Array] = []
    for g in system.groups:
        n = g.n
        for m, a in g.program.guards:
            machine = g.kind.machines[m]
            arc = machine.arcs[a]
            ends = machine.states.index(arc.source), machine.states.index(arc.target)
            guard += [(g.m0 + m * n + k, *ends, arc.settles) for k in range(n)]
        written = g.program.delays
        values = written.run(g.constants["delays"], (), None)  # delays depend on parameters alone
        for (m, a), value in zip(g.program.timers, values):
            machine = g.kind.machines[m]
            arc = machine.arcs[a]
            ends = machine.states.index(arc.source), machine.states.index(arc.target)
            timer += [(g.m0 + m * n + k, *ends) for k in range(n)]
            delays.append(np.broadcast_to(value, (n, np.shape(value)[1] if np.ndim(value) else 1)))
    wide = max((d.shape[1] for d in delays), default=1)
    table = [np.broadcast_to(d, (d.shape[0], wide)) for d in delays]
    gt = np.array(guard, dtype=np.int64).reshape(-1, 4)
    tt = np.array(timer, dtype=np.int64).reshape(-1, 3)
    return Arcs(
        gt[:, 0].astype(np.intp),
        gt[:, 1],
        gt[:, 2],
        gt[:, 3].astype(bool),
        tt[:, 0].astype(np.intp),
        tt[:, 1],
        tt[:, 2],
        np.concatenate(table) if table else np.empty((0, 1)),
        tuple(
            (g.m0 + j * g.n + k, m.states.index(state), g.x0 + g.program.states.index(x) * g.n + k, value)
            for g in system.layout
            for j, m in enumerate(g.kind.machines)
            for state, x, value in m.entry
            for k in range(g.n)
        ),
    )


def look(system: System, V: Array, X: Array, M: Any, S: Array) -> Ends:
    """Evaluate all guards, the sign of collapse and the powers."""
    count = V.shape[1]
    out = system.piece("ends", V, X, M, S)
    if out is not None:
        parts = sum(g.n for g in system.layout)
        first = len(out) - 4 * parts
        return Ends(out[:first], out[first : first + parts].max(axis=0), three(out[first + parts :]))
    rows: list[Array] = []
    collapsed = np.full(count, -1.0)
    powers = np.zeros((3, count))
    for g in system.groups:
        values = g.call("ends", V, X, M, S)
        ng = len(g.program.guards)
        rows += [np.broadcast_to(y, (g.n, count)) for y in values[:ng]]
        sign = values[ng]
        if isinstance(sign, np.ndarray):
            collapsed = np.maximum(collapsed, np.broadcast_to(sign, (g.n, count)).max(axis=0))
        add_powers(powers, values[ng + 1 :], g.n)
    return Ends(np.concatenate(rows) if rows else np.empty((0, count)), collapsed, powers)


def fired(arcs: Arcs, guards: Array, M: Any) -> NDArray[np.bool_]:
    """Which guarded arcs are open now: their machine is in their source and their guard is positive."""
    out: NDArray[np.bool_] = (M[arcs.guard_row] == arcs.guard_source[:, None]) & (guards > 0.0)
    return out


def follow(arcs: Arcs, taken: NDArray[np.bool_], M: Any) -> Any:
    """Discrete states after the arcs marked; where a machine has several, the first in its table wins."""
    out = M.copy()
    for k in np.flatnonzero(taken.any(axis=1))[::-1]:
        out[arcs.guard_row[k]] = np.where(taken[k], arcs.guard_target[k], out[arcs.guard_row[k]])
    return out


def onward(arcs: Arcs, M: Any) -> tuple[Any, Array]:
    """One move along every timed arc, and every arc that settles, from the states in `M`; the longest delay. [s]"""
    out, spent = M.copy(), np.zeros(M.shape[1])
    for j, row in enumerate(arcs.timer_row):
        due = M[row] == arcs.timer_source[j]
        out[row] = np.where(due, arcs.timer_target[j], out[row])
        spent = np.maximum(spent, np.where(due, arcs.delays[j], 0.0))
    for k in np.flatnonzero(arcs.settles):
        row = arcs.guard_row[k]
        out[row] = np.where(M[row] == arcs.guard_source[k], arcs.guard_target[k], out[row])
    return out, spent


def settle_down(arcs: Arcs, M: Any) -> Any:
    """Follow every timed arc, and every arc that settles, as far as they lead; a ring of them ends after eight."""
    for _ in range(8):
        after, _spent = onward(arcs, M)
        if (after == M).all():
            break
        M = after
    return M
