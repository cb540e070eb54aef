"""A network made ready to be solved for many cases at once.

Inside, arrays lie unknown by unknown with the cases side by side, shape (unknowns, cases), because every line of
code then runs over contiguous cases; at the faces of `rest` and `march` the case axis leads.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.parts.base import Kind
from tideover.solve import elimination
from tideover.solve.program import Program, program
from tideover.solve.trace import Written

Array = NDArray[np.float64]
AIR_START = 298.15
CAP = 3.0
"""Largest change of a node's voltage in one Newton iteration. [V]"""


@dataclass(frozen=True)
class Group:
    """All parts of one kind with the same terminals grounded, evaluated together.

    `nodes` gives for each terminal of the program the unknown's row, one for each part; `x0`, `m0`, `s0` the first rows of
    its states, machines and signals, each block of rows one for each part.
    """

    program: Program
    members: tuple[int, ...]
    nodes: tuple[NDArray[np.intp], ...]
    x0: int
    m0: int
    s0: int
    constants: Mapping[str, tuple[Any, ...]]
    curve: Any
    varies: bool

    def take(self, cases: NDArray[Any]) -> Group:
        """The same parts with the constants of some of the cases."""
        constants = {
            piece: tuple(a[:, cases] if isinstance(a, np.ndarray) and a.shape[1] != 1 else a for a in values)
            for piece, values in self.constants.items()
        }
        return replace(self, constants=constants)

    @property
    def kind(self) -> Kind:
        return self.program.kind

    @property
    def n(self) -> int:
        return len(self.members)


class Curves:
    """Open-circuit curves for arrays with one row a part; `laws.cells.Curve` wants the parts last."""

    def __init__(self, curve: Any) -> None:
        self._curve = curve

    def value(self, s: Array) -> Array:
        return np.asarray(self._curve.value(s.T).T)

    def slope(self, s: Array) -> Array:
        return np.asarray(self._curve.slope(s.T).T)

    def integral(self, s: Array) -> Array:
        return np.asarray(self._curve.integral(s.T).T)


PIECES = ("stage", "rates", "ends", "ledger", "store", "shown", "delays")


def _written(p: Program, piece: str) -> Written:
    written: Written = getattr(p, piece)
    return written


@dataclass(frozen=True)
class System:
    """A network with its parameters for `count` cases.

    Attributes
    ----------
    network : Network
        What it was made from.
    count : int
        Number of cases.
    groups : tuple of Group
        Parts by kind.
    unknowns : int
        Node voltages, then the temperature of the air in the box.
    electrical : int
        How many of them are voltages.
    """

    network: Any
    count: int
    groups: tuple[Group, ...]
    unknowns: int
    electrical: int
    nx: int
    nm: int
    ns: int
    solver: Written
    wiring: tuple[tuple[int, int, int], ...]
    """(group, output, part) of each input of the solver after the voltages."""

    def take(self, cases: NDArray[Any]) -> System:
        """The same network for some of the cases."""
        groups = tuple(g.take(cases) if g.varies else g for g in self.groups)
        return replace(self, groups=groups, count=int(np.size(np.arange(self.count)[cases])))

    def gather(self, g: Group, V: Array, X: Array, M: Any, S: Array) -> list[Any]:
        """Arguments of a group's written functions at given voltages, states, machines and signals."""
        p = g.program
        volts = [V[nodes] for t, nodes in zip(p.terminals, g.nodes) if t != "air"]
        air = V[-1:]
        n = g.n
        states = [X[g.x0 + k * n : g.x0 + (k + 1) * n] for k in range(len(p.states))]
        codes = [M[g.m0 + k * n : g.m0 + (k + 1) * n] for k in range(len(g.kind.machines))]
        signals = [S[g.s0 + k * n : g.s0 + (k + 1) * n] for k in range(len(g.kind.signals))]
        return [*volts, air, *states, *codes, *signals]

    def call(self, g: Group, piece: str, arguments: list[Any]) -> tuple[Any, ...]:
        """Outputs of one written function; see `tideover.solve.program.Program`."""
        written = _written(g.program, piece)
        constants = g.constants[piece]
        by_name = dict(zip(written.inputs, arguments))
        steady = written.settle(constants, *(by_name[k] for k in written.steady_inputs))
        out: tuple[Any, ...] = written.run(constants, steady, g.curve, *arguments)
        return out

    def rates(self, V: Array, X: Array, M: Any, S: Array, moves: float = 1.0) -> Array:
        """How fast each state changes, shape (states, cases)."""
        out = np.empty_like(X)
        for g in self.groups:
            values = self.call(g, "rates", self.gather(g, V, X, M, S))
            for k, y in enumerate(values):
                out[g.x0 + k * g.n : g.x0 + (k + 1) * g.n] = y
        return out

    def powers(self, V: Array, X: Array, M: Any, S: Array) -> Array:
        """Power supplied, lost as heat and delivered, over all parts; shape (3, cases). [W]"""
        out = np.zeros((3, V.shape[1]))
        for g in self.groups:
            self._add_powers(out, self.call(g, "ledger", self.gather(g, V, X, M, S)), g.n)
        return out

    @staticmethod
    def _add_powers(out: Array, values: tuple[Any, ...], n: int) -> None:
        for k, y in enumerate(values):
            if isinstance(y, np.ndarray):
                out[k] += y.sum(axis=0) if y.shape[0] == n else n * y[0]
            else:
                out[k] += n * y

    def store(self, V: Array, X: Array, M: Any, S: Array) -> Array:
        """Energy held by all parts, shape (cases,). [J]"""
        out = np.zeros(V.shape[1])
        for g in self.groups:
            (y,) = self.call(g, "store", self.gather(g, V, X, M, S))
            out += y.sum(axis=0) if isinstance(y, np.ndarray) else g.n * y
        return out


def build(network: Any, cases: Mapping[tuple[str, str], Array] | None = None, count: int = 1) -> System:
    """Make a network ready.

    Parameters
    ----------
    network : Network
        Parts at nodes, with their values.
    cases : mapping, optional
        ``(part, parameter name)`` to one value for each case, shape (count,), in SI. [-]
    count : int
        Number of cases. [-]

    Returns
    -------
    system : System
        Ready for `rest` and `march`. [-]
    """
    cases = cases or {}
    by_key: dict[tuple[str, frozenset[str]], list[int]] = {}
    for k, part in enumerate(network.parts):
        grounded = frozenset(t for t, node in zip(part.kind.terminals, part.nodes) if node == 0)
        by_key.setdefault((part.kind.name, grounded), []).append(k)
    electrical = len(network.nodes) - 1
    unknowns = electrical + 1
    groups: list[Group] = []
    x0 = m0 = s0 = 0
    for (_, grounded), members in by_key.items():
        kind = network.parts[members[0]].kind
        p = program(kind, grounded)
        nodes = []
        for t in p.terminals:
            if t == "air":
                nodes.append(np.full(len(members), electrical, dtype=np.intp))
            else:
                at = kind.terminals.index(t)
                nodes.append(np.array([network.parts[k].nodes[at] - 1 for k in members], dtype=np.intp))
        values = {q.name: _parameter(network, members, q.name, cases, count) for q in kind.parameters}
        constants = {piece: tuple(_written(p, piece).prepare(values)) for piece in PIECES}
        varies = any(v.shape[1] != 1 for v in values.values())
        groups.append(
            Group(p, tuple(members), tuple(nodes), x0, m0, s0, constants, _curve(network, members, kind), varies)
        )
        x0 += len(p.states) * len(members)
        m0 += len(kind.machines) * len(members)
        s0 += len(kind.signals) * len(members)
    solver, wiring = _solver(groups, unknowns, electrical)
    return System(network, count, tuple(groups), unknowns, electrical, x0, m0, s0, solver, wiring)


def number(part: Any, name: str) -> float:
    """Nominal value of a part's parameter in SI; a word as its position among its choices."""
    value = part.values[name]
    if isinstance(value, str):
        return float(part.kind.parameter(name).choices.index(value))
    return float(getattr(value, "nominal", value))


def _parameter(
    network: Any, members: list[int], name: str, cases: Mapping[tuple[str, str], Array], count: int
) -> Array:
    """Shape (parts, cases), or (parts, 1) when no case differs."""
    parts = [network.parts[k] for k in members]
    varied = [cases.get((p.name, name)) for p in parts]
    wide = count if any(v is not None for v in varied) else 1
    out = np.empty((len(parts), wide))
    for row, (part, v) in enumerate(zip(parts, varied)):
        out[row] = number(part, name) if v is None else v
    return out


def _curve(network: Any, members: list[int], kind: Kind) -> Any:
    if kind.name != "pack":
        return None
    from tideover.laws.cells import Curve

    choices = kind.parameter("chemistry").choices
    return Curves(Curve.of([choices[int(number(network.parts[k], "chemistry"))] for k in members]))


def _solver(
    groups: list[Group], unknowns: int, electrical: int
) -> tuple[Written, tuple[tuple[int, int, int], ...]]:
    matrix: dict[tuple[int, int], list[str]] = {}
    flows: list[list[str]] = [[] for _ in range(unknowns)]
    place: dict[str, tuple[int, int, int]] = {}
    for gi, g in enumerate(groups):
        p = g.program
        nt = len(p.terminals)
        for k in range(g.n):
            for t in range(nt):
                name = f"g{gi}_{t}_{k}"
                place[name] = (gi, t, k)
                flows[int(g.nodes[t][k])].append(name)
            for e, (a, b) in enumerate(p.entries):
                name = f"g{gi}_{nt + e}_{k}"
                place[name] = (gi, nt + e, k)
                matrix.setdefault((int(g.nodes[a][k]), int(g.nodes[b][k])), []).append(name)
    solver = elimination.write(unknowns, electrical, matrix, flows)
    wiring = tuple(place[n] for n in solver.inputs[unknowns:])
    return solver, wiring


__all__ = ["Array", "Group", "System", "build", "number"]
