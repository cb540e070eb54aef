"""Newton's method for one implicit stage, many cases at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.solve.system import CAP, Array, System


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
    steady = []
    for g in system.groups:
        written = g.program.stage
        n = g.n
        known: dict[str, Any] = {"h": h, "moves": moves}
        for k, m in enumerate(g.kind.machines):
            known[f"m_{m.name}"] = M[g.m0 + k * n : g.m0 + (k + 1) * n]
        for k, s in enumerate(g.kind.signals):
            known[f"s_{s}"] = S[g.s0 + k * n : g.s0 + (k + 1) * n]
        steady.append(written.settle(g.constants["stage"], *(known[i] for i in written.steady_inputs)))
    return Stage(h, moves, M, S, tuple(steady))


def iterate(system: System, at: Stage, V: Array, X: Array, base: Array) -> tuple[Array, Array, Array]:
    """One full Newton step: changes of voltages and states, and the currents left over at the nodes."""
    outputs = []
    for g, steady in zip(system.groups, at.steady):
        n = g.n
        bases = [base[g.x0 + k * n : g.x0 + (k + 1) * n] for k in range(len(g.program.states))]
        arguments = [*system.gather(g, V, X, at.M, at.S), *bases, at.h, at.moves]
        outputs.append(g.program.stage.run(g.constants["stage"], steady, g.curve, *arguments))
    rows = [_row(outputs[gi][o], k) for gi, o, k in system.wiring]
    solved = system.solver.run((), (), None, *V, *rows)
    nu = system.unknowns
    dV = np.empty_like(V)
    for k in range(nu):
        dV[k] = solved[k]
    left = np.empty_like(V)
    for k in range(nu):
        left[k] = solved[nu + k]
    dX = np.empty_like(X)
    for g, out in zip(system.groups, outputs):
        p = g.program
        n = g.n
        at0 = len(p.terminals) + len(p.entries)
        for k in range(len(p.states)):
            dX[g.x0 + k * n : g.x0 + (k + 1) * n] = out[at0 + k]
        for e, (s, t) in enumerate(p.follows):
            dX[g.x0 + s * n : g.x0 + (s + 1) * n] += out[at0 + len(p.states) + e] * dV[g.nodes[t]]
    return dV, dX, left


def _row(y: Any, k: int) -> Any:
    return (y[k] if y.shape[0] > 1 else y[0]) if isinstance(y, np.ndarray) else y


def solve(
    system: System,
    at: Stage,
    V: Array,
    X: Array,
    base: Array,
    weight: Array,
    tolerance: float,
    most: int,
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
    tolerance : float
        Largest last change, of voltages in volts and of states in scales, that counts as converged. [-]
    most : int
        Iterations allowed. [-]
    bend : array, shape (cases,), optional
        How strongly the equations bend: a change over the square of the one before it, as last seen; changed in place.
        Where it promises that the next change will be far below the tolerance, that iteration is saved. [-]

    Returns
    -------
    ok : bool array, shape (cases,)
        Converged. [-]
    used : int array, shape (cases,)
        Iterations each case took. [-]
    """
    count = V.shape[1]
    if bend is None:
        bend = np.full(count, np.inf)
    last = np.full(count, np.inf)
    ok = np.zeros(count, dtype=bool)
    used = np.zeros(count, dtype=np.int64)
    cases = np.arange(count)
    sub, here = system, at
    v, x, b = V, X, base
    whole = True
    ne = system.electrical
    for _ in range(most):
        dV, dX, _left = iterate(sub, here, v, x, b)
        size = np.abs(dV[:ne]).max(axis=0) if ne else np.zeros(v.shape[1])
        step = np.minimum(1.0, CAP / np.maximum(size, 1e-30))
        v += dV * step
        x += dX * step
        used[cases] += 1
        change = np.maximum(size, np.abs(dX / weight).max(axis=0) if x.shape[0] else 0.0)
        change = np.maximum(change, 1e-2 * np.abs(dV[ne:]).max(axis=0))
        done = (change < tolerance) | (bend[cases] * change * change < 0.02 * tolerance)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            seen = np.where(last[cases] < 1.0, change / (last[cases] * last[cases]), np.inf)
        bend[cases] = np.where(np.isfinite(seen) & (seen > 0.0), seen, bend[cases])
        last[cases] = change
        finite = np.isfinite(change)
        if not whole:
            V[:, cases], X[:, cases] = v, x
        ok[cases[done]] = True
        going = ~done & finite
        if not going.any():
            break
        if going.sum() <= 0.7 * len(cases):
            keep = np.flatnonzero(going)
            cases = cases[keep]
            sub, here = sub.take(keep), here.take(keep)
            v, x, b = v[:, keep], x[:, keep], b[:, keep]
            whole = False
    return ok, used
