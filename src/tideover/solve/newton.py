"""Newton's method for one implicit stage, many cases at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.solve.damping import AIR_SHARE, CAP, DOUBT, PROMISE, QUICKER, SHRINKS, SLOWER, SLOWEST
from tideover.solve.system import Array, System

FEW, MANY = 0.4, 48
"""When fewer than this share of more than so many cases are left, they go on by themselves."""


@dataclass(frozen=True)
class Stage:
    """What stays the same while a stage is iterated: the step, and what depends on it alone."""

    h: Array
    moves: float
    M: Any
    S: Array
    steady: tuple[tuple[Any, ...], ...]

    def take(self, cases: NDArray[Any]) -> Stage:
        """The same for some of the cases."""
        steady = tuple(
            tuple(a[..., cases] if isinstance(a, np.ndarray) and a.shape[-1] != 1 else a for a in values)
            for values in self.steady
        )
        return Stage(self.h[cases], self.moves, self.M[:, cases], self.S[:, cases], steady)


def stage(system: System, h: Array, moves: float, M: Any, S: Array) -> Stage:
    """Prepare a stage ``x = base + h g(v, x)`` for every case.

    Parameters
    ----------
    system : System
        The network and its parameters. [-]
    h : array, shape (cases,)
        Step times the method's diagonal coefficient; 0 holds every state. [s]
    moves : float
        1 lets slow states move, 0 holds them. [-]
    M, S : array
        Discrete states, shape (machines, cases); signals, shape (signals, cases). [-]

    Returns
    -------
    stage : Stage
        For `solve`. [-]
    """
    if system.compiled:  # it works all of that out itself
        return Stage(h, moves, M, S, ())
    known = {"h": h, "moves": moves}
    return Stage(h, moves, M, S, tuple(g.settle("stage", M, S, known) for g in system.groups))


def iterate(system: System, at: Stage, V: Array, X: Array, base: Array) -> tuple[Array, Array]:
    """One full Newton step: changes of voltages and of states."""
    rows = (V, X, base)
    given: list[Any] = [V]
    for g, steady in zip(system.groups, at.steady):
        arguments = [rows[where][sel] for where, sel in g.live["stage"]]
        given.append(g.program.stage.run(g.constants["stage"], steady, g.curve, *arguments))
    solved = system.solver.run((), (), None, given)
    dV, dX = np.empty_like(V), np.empty_like(X)
    for k in range(system.unknowns):
        dV[k] = solved[k]
    for g, out in zip(system.groups, given[1:]):
        at_own = len(g.program.terminals) + len(g.program.entries)
        for k, rows_of in enumerate(g.stage_rows, at_own):
            dX[rows_of] = out[k]
        for k, (rows_of, nodes) in enumerate(g.follow_rows, at_own + len(g.stage_rows)):
            dX[rows_of] += out[k] * dV[nodes]
    return dV, dX


def solve(
    system: System,
    at: Stage,
    V: Array,
    X: Array,
    base: Array,
    weight: Array,
    tolerance: Any,
    most: Any,
    bend: Array | None = None,
) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:
    """Iterate a stage until every case is done or gives up; `V` and `X` are changed in place.

    Parameters
    ----------
    system, at : System, Stage
        The network and the prepared stage. [-]
    V, X, base : array
        Guess of voltages, shape (unknowns, cases), and states, shape (states, cases); base of the stage.
        [V, state unit]
    weight : array, shape (states, 1)
        Scale of each state. [state unit]
    tolerance : float or array, shape (cases,)
        Largest last change, of voltages in volts and of states in scales, that counts as converged. [-]
    most : int or array, shape (cases,)
        Iterations allowed. [-]
    bend : array, shape (cases,), optional
        How strongly the equations bend: a change over the square of the one before it, as last seen; changed in place.
        Where it promises that the next change will be far below the tolerance, that iteration is saved; each saved
        one makes the next less trusted, or an old promise would be believed for ever. [-]

    Returns
    -------
    ok : bool array, shape (cases,)
        Converged. [-]
    used : int array, shape (cases,)
        Iterations each case took. [-]
    """
    count = V.shape[1]
    bend = np.full(count, np.inf) if bend is None else bend
    allowed = np.broadcast_to(np.asarray(most, dtype=np.int64), (count,))
    close = np.broadcast_to(np.asarray(tolerance, dtype=float), (count,))
    per_scale = 1.0 / weight
    ne = system.electrical
    if system.compiled and system.tables:
        return system.compiled.newton(
            system.tables, system.column, at, V, X, base, ne, per_scale, close, allowed, bend
        )
    last = np.full(count, np.inf)
    pace = np.ones(count)
    ok = np.zeros(count, dtype=bool)
    used = np.zeros(count, dtype=np.int64)
    cases = np.arange(count)
    going = allowed > 0
    sub, here, b = system, at, base
    v, x = np.ascontiguousarray(V), np.ascontiguousarray(X)
    for _ in range(int(allowed.max(initial=0))):
        dV, dX = iterate(sub, here, v, x, b)
        size = np.abs(dV[:ne]).max(axis=0, initial=0.0)
        change = np.maximum(size, np.abs(dX * per_scale).max(axis=0, initial=0.0))
        change = np.maximum(change, AIR_SHARE * np.abs(dV[-1]))
        finite = np.isfinite(change)
        gaining = (change < SHRINKS * last[cases]) | (last[cases] > CAP)
        faster, slower = np.minimum(QUICKER * pace[cases], 1.0), np.maximum(SLOWER * pace[cases], SLOWEST)
        pace[cases] = np.where(gaining, faster, slower)
        step = going * finite * pace[cases] * np.minimum(1.0, CAP / np.maximum(size, 1e-30))
        if not finite.all():
            dV, dX = np.where(finite, dV, 0.0), np.where(finite, dX, 0.0)
            step = np.where(finite, step, 0.0)
        dV *= step
        dX *= step
        v += dV
        x += dX
        if v is not V or x is not X:
            V[:, cases], X[:, cases] = v, x
        used[cases] += going
        with np.errstate(invalid="ignore"):  # a network without any voltage changes by nothing at all
            promised = bend[cases] * change * change < PROMISE * close[cases]
        done = going & finite & ((change < close[cases]) | (promised & (pace[cases] == 1.0)))
        before = last[cases]
        seen = going & finite & (before < 1.0) & (change > 0.0)
        bend[cases] = np.where(seen, change / np.where(seen, before * before, 1.0), bend[cases])
        unseen = done & (change >= close[cases])
        bend[cases] = np.where(unseen, DOUBT * bend[cases], bend[cases])
        last[cases] = change
        ok[cases[done]] = True
        going &= ~done & finite & (used[cases] < allowed[cases])
        left = int(going.sum())
        if not left:
            break
        if left <= FEW * len(cases) and len(cases) > MANY:
            keep = np.flatnonzero(going)
            cases, going = cases[keep], going[keep]
            sub, here = sub.take(keep), here.take(keep)
            v, x, b = (np.ascontiguousarray(a[:, keep]) for a in (v, x, b))
    return ok, used
