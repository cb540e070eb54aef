"""A network made ready to be solved for many cases at once.

Inside, arrays lie unknown by unknown with the cases side by side, shape (unknowns, cases), because every line of
code then runs over contiguous cases; at the faces of `rest` and `march` the case axis leads.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.parts.base import Kind
from tideover.solve import elimination, native
from tideover.solve.look import ROOM, Names
from tideover.solve.program import Program, program
from tideover.solve.trace import Written

Array = NDArray[np.float64]
AIR_START = 298.15
PIECES = ("stage", "rates", "ends", "ledger", "store", "shown", "delays")
V_ROWS, X_ROWS, BASE_ROWS, M_ROWS, S_ROWS = range(5)
Plan = tuple[tuple[int, Any], ...]
"""Where a written function's arguments are: which array, and which of its rows."""


@dataclass(frozen=True)
class Group:
    """All parts that behave as one kind with the same terminals grounded, evaluated together.

    `nodes` gives for each terminal of the program the unknown's rows, one for each part; `x0`, `m0`, `s0` the first
    rows of its states, machines and signals, each block of rows one for each part.
    """

    program: Program
    members: tuple[int, ...]
    nodes: tuple[Any, ...]
    x0: int
    m0: int
    s0: int
    constants: Mapping[str, tuple[Any, ...]]
    curve: Any
    varies: bool
    live: Mapping[str, Plan]
    steady: Mapping[str, Plan]
    stage_rows: tuple[slice, ...]
    follow_rows: tuple[tuple[slice, Any], ...]
    """Rows of each state, and of the (state, node) of each dependence the stage gives out, in its order."""

    @property
    def kind(self) -> Kind:
        return self.program.kind

    @property
    def n(self) -> int:
        return len(self.members)

    def rows(self, first: int, block: int) -> slice:
        """Rows of one state, machine or signal."""
        return slice(first + block * self.n, first + (block + 1) * self.n)

    def take(self, cases: NDArray[Any]) -> Group:
        """The same parts with the constants of some of the cases."""
        constants = {
            piece: tuple(a[:, cases] if isinstance(a, np.ndarray) and a.shape[1] != 1 else a for a in values)
            for piece, values in self.constants.items()
        }
        return replace(self, constants=constants)

    def settle(self, piece: str, M: Any, S: Array, known: Mapping[str, Any] | None = None) -> tuple[Any, ...]:
        """What depends on discrete states, signals and the step alone."""
        written = _written(self.program, piece)
        rows = (None, None, None, M, S)
        arguments = [
            known[sel] if where < 0 and known is not None else rows[where][sel]  # type: ignore[index]
            for where, sel in self.steady[piece]
        ]
        out: tuple[Any, ...] = written.settle(self.constants[piece], *arguments)
        return out

    def call(self, piece: str, V: Array, X: Array, M: Any, S: Array) -> tuple[Any, ...]:
        """Outputs of one written function; see `tideover.solve.program.Program`."""
        steady = self.settle(piece, M, S)
        rows = (V, X, None, M, S)
        arguments = [rows[where][sel] for where, sel in self.live[piece]]  # type: ignore[index]
        out: tuple[Any, ...] = _written(self.program, piece).run(
            self.constants[piece], steady, self.curve, *arguments
        )
        return out


class Curves:
    """Open-circuit curves for arrays with one row a part; `laws.cells.Curve` wants the parts last.

    One look finds the piece of the curve for both value and slope: the slopes of the last arrays asked for are kept
    beside them. `ohmic` and `lag` are curves of the same form, for cells that have their own.
    """

    def __init__(self, curve: Any, ohmic: Any = None, lag: Any = None) -> None:
        self._curve = curve
        self._kept: list[tuple[Array, Array]] = []
        self.ohmic = None if ohmic is None else Curves(ohmic)
        self.lag = None if lag is None else Curves(lag)

    def value(self, s: Array) -> Array:
        value, slope = self._curve.both(s.T)
        self._kept = [*self._kept[-1:], (s, slope.T)]
        return np.asarray(value.T)

    def slope(self, s: Array) -> Array:
        for known, slope in self._kept:
            if known is s:
                return slope
        return np.asarray(self._curve.slope(s.T).T)

    def integral(self, s: Array) -> Array:
        return np.asarray(self._curve.integral(s.T).T)

    def table(self) -> Array:
        """Each part's curve in one row: number of pieces, their left knots, five numbers a piece, slopes outside."""
        c = self._curve
        pieces = len(c.knots) - 1
        before = np.asarray(c._before).reshape(-1, pieces, 1)
        rows = np.concatenate([before, c.coefficients], axis=2).reshape(len(before), -1)
        head = np.concatenate([[float(pieces)], c.knots[:-1]])
        own = np.concatenate([np.broadcast_to(head, (len(rows), len(head))), rows, c.outside], axis=1)
        return np.concatenate([own, *(more.table() for more in (self.ohmic, self.lag) if more)], axis=1)


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
    layout : tuple of Group
        Parts by kind, with the constants of all cases it was built for.
    column : int array, shape (cases,)
        Which of those cases these are.
    unknowns : int
        Node voltages, then the temperature of the air in the box.
    electrical : int
        How many of them are voltages.
    nx, nm, ns : int
        Rows of states, machines and signals.
    solver : Written
        Elimination of the nodes, from the voltages and the outputs of every group's stage.
    compiled : Native or None
        All of this as machine code, where there is a compiler.
    given : mapping
        The parameters that differ, for all cases it was built for.
    """

    network: Any
    count: int
    layout: tuple[Group, ...]
    column: NDArray[np.int64]
    unknowns: int
    electrical: int
    nx: int
    nm: int
    ns: int
    solver: Written
    compiled: native.Native | None
    tables: native.Tables | None
    given: Mapping[tuple[str, str], Array]

    @cached_property
    def groups(self) -> tuple[Group, ...]:
        """Parts by kind, with the constants of these cases, for the array code."""
        if len(self.column) == 0 or not any(g.varies for g in self.layout):
            return self.layout
        return tuple(g.take(self.column) if g.varies else g for g in self.layout)

    def piece(self, name: str, V: Array, X: Array, M: Any, S: Array) -> Array | None:
        """Outputs of one piece of all groups by the compiled code, one row each; None without it."""
        if self.compiled is None or self.tables is None:
            return None
        return self.compiled.piece(name, self.tables, self.column, V, X, M, S)

    def parameter(self, part: Any, name: str) -> Any:
        """A part's parameter in SI: one number, or one for each case where it differs."""
        varied = self.given.get((part.name, name))
        return number(part, name) if varied is None else np.atleast_1d(varied)[self.column]

    def take(self, cases: NDArray[Any]) -> System:
        """The same network for some of the cases."""
        column = self.column[cases]
        return replace(self, column=column, count=len(column))

    def rates(self, V: Array, X: Array, M: Any, S: Array) -> Array:
        """How fast each state changes, shape (states, cases)."""
        rows = self.piece("rates", V, X, M, S)
        if rows is not None:
            return rows
        out = np.empty_like(X)
        for g in self.groups:
            for k, y in enumerate(g.call("rates", V, X, M, S)):
                out[g.rows(g.x0, k)] = y
        return out

    def powers(self, V: Array, X: Array, M: Any, S: Array) -> Array:
        """Power supplied, lost as heat and delivered, over all parts; shape (3, cases). [W]"""
        rows = self.piece("ledger", V, X, M, S)
        if rows is not None:
            return three(rows)
        out = np.zeros((3, V.shape[1]))
        for g in self.groups:
            add_powers(out, g.call("ledger", V, X, M, S), g.n)
        return out

    def store(self, V: Array, X: Array, M: Any, S: Array) -> Array:
        """Energy held by all parts, shape (cases,). [J]"""
        rows = self.piece("store", V, X, M, S)
        if rows is not None:
            return np.asarray(rows.sum(axis=0))
        out = np.zeros(V.shape[1])
        for g in self.groups:
            (y,) = g.call("store", V, X, M, S)
            out += y.sum(axis=0) if isinstance(y, np.ndarray) else g.n * y
        return out


def three(rows: Array) -> Array:
    """Sum powers listed kind by kind, all parts of each, shape (3 parts, cases), to shape (3, cases)."""
    return np.asarray(rows.reshape(3, -1, rows.shape[1]).sum(axis=1))


def add_powers(out: Array, values: tuple[Any, ...], n: int) -> None:
    """Add a group's powers, one row a part or a number for all, to the network's."""
    for k, y in enumerate(values):
        if isinstance(y, np.ndarray):
            out[k] += y.sum(axis=0) if y.shape[0] == n else n * y[0]
        elif y:
            out[k] += n * y


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
    by_key: dict[tuple[str, frozenset[str], tuple[float, ...]], list[int]] = {}
    for k, part in enumerate(network.parts):
        grounded = frozenset(t for t, node in zip(part.kind.terminals, part.nodes) if node == 0)
        words = tuple(number(part, q.name) for q in _model(part.kind).parameters if q.unit == "word")
        by_key.setdefault((_model(part.kind).name, grounded, words), []).append(k)
    electrical = len(network.nodes) - 1
    groups: list[Group] = []
    x0 = m0 = s0 = 0
    for (_, grounded, _), members in by_key.items():
        kind = _model(network.parts[members[0]].kind)
        values = _values(network, members, kind, cases, count)
        p = program(kind, grounded, _foldable(kind, values))
        nodes = tuple(_rows(network, members, kind, t, electrical) for t in p.terminals)
        n = len(members)
        states = [slice(x0 + r * n, x0 + (r + 1) * n) for r in range(len(p.states))]
        plans = {piece: _plans(p, piece, nodes, len(members), x0, m0, s0) for piece in PIECES}
        groups.append(
            Group(
                p,
                tuple(members),
                nodes,
                x0,
                m0,
                s0,
                {piece: tuple(_written(p, piece).prepare(values)) for piece in PIECES},
                _curve(network, members, kind),
                any(v.shape[1] != 1 for v in values.values()),
                {piece: plan[0] for piece, plan in plans.items()},
                {piece: plan[1] for piece, plan in plans.items()},
                tuple(states),
                tuple((states[r], nodes[t]) for r, t in p.follows),
            )
        )
        x0 += len(p.states) * len(members)
        m0 += len(kind.machines) * len(members)
        s0 += len(kind.signals) * len(members)
    solver = _solver(groups, electrical + 1, electrical)
    compiled = native.build(groups, solver, electrical + 1)
    tables = native.Tables(groups) if compiled else None
    column = np.arange(count)
    return System(
        network, count, tuple(groups), column, electrical + 1, electrical, x0, m0, s0, solver, compiled, tables, cases
    )


def number(part: Any, name: str) -> float:
    """Nominal value of a part's parameter in SI; a word as its position among its choices."""
    value = part.values[name]
    if isinstance(value, str):
        return float(part.kind.parameter(name).choices.index(value))
    return float(getattr(value, "nominal", value))


def _model(kind: Kind) -> Kind:
    return kind.like[0] if kind.like else kind


def _rows(network: Any, members: list[int], kind: Kind, terminal: str, air: int) -> Any:
    """Rows of the unknowns that a terminal of every part is joined to; a slice where they lie side by side."""
    if terminal == "air":
        return np.full(len(members), air, dtype=np.intp)
    at = kind.terminals.index(terminal)
    return np.array([network.parts[k].nodes[at] - 1 for k in members], dtype=np.intp)


def _values(
    network: Any, members: list[int], kind: Kind, cases: Mapping[tuple[str, str], Array], count: int
) -> dict[str, Array]:
    """Parameters of the group's kind, shape (parts, cases), or (parts, 1) when no case differs."""
    columns: dict[str, list[Any]] = {q.name: [] for q in kind.parameters}
    for k in members:
        part = network.parts[k]
        own = {q.name: cases.get((part.name, q.name), number(part, q.name)) for q in part.kind.parameters}
        shown = part.kind.like[1](Names(own)) if part.kind.like else own
        for name, column in columns.items():
            column.append(np.atleast_1d(np.asarray(shown[name], dtype=float)))
    out = {}
    for name, column in columns.items():
        wide = count if any(c.shape[0] != 1 for c in column) or (count == 1) else 1
        out[name] = np.stack([np.broadcast_to(c, (wide,)) for c in column])
    if kind.apart:
        room = np.atleast_1d(np.asarray(_ambient(network, cases), dtype=float))
        out[ROOM] = np.broadcast_to(room, (len(members), len(room))).copy()
    return out


def _ambient(network: Any, cases: Mapping[tuple[str, str], Array]) -> Any:
    """Of the room in which the box stands: one number, or one for each case. [K]"""
    box = next((part for part in network.parts if part.kind.name == "box"), None)
    return AIR_START if box is None else cases.get((box.name, "ambient"), number(box, "ambient"))


def _foldable(kind: Kind, values: Mapping[str, Array]) -> frozenset[tuple[str, float]]:
    """Parameters that make terms vanish for good: words and zeros that are alike in every part and case."""
    found = []
    for q in kind.parameters:
        v = values[q.name]
        if (q.unit == "word" or v[0, 0] == 0.0) and (v == v[0, 0]).all():
            found.append((q.name, float(v[0, 0])))
    return frozenset(found)


def _plans(p: Program, piece: str, nodes: tuple[Any, ...], n: int, x0: int, m0: int, s0: int) -> tuple[Plan, Plan]:
    """Where the arguments of one written function are found."""
    places: dict[str, tuple[int, Any]] = {}
    for k, t in enumerate(p.kind.terminals):
        if t in p.terminals and t != "air":
            row = nodes[p.terminals.index(t)]
            places[f"v_{k}"] = (V_ROWS, slice(int(row[0]), int(row[0]) + 1) if n == 1 else row)
    places["v_air"] = (V_ROWS, slice(-1, None))
    for k, s in enumerate(p.states):
        block = slice(x0 + k * n, x0 + (k + 1) * n)
        places[f"x_{s}"], places[f"b_{s}"] = (X_ROWS, block), (BASE_ROWS, block)
    for k, m in enumerate(p.kind.machines):
        places[f"m_{m.name}"] = (M_ROWS, slice(m0 + k * n, m0 + (k + 1) * n))
    for k, s in enumerate(p.kind.signals):
        places[f"s_{s}"] = (S_ROWS, slice(s0 + k * n, s0 + (k + 1) * n))
    places["h"], places["moves"] = (-1, "h"), (-1, "moves")
    written = _written(p, piece)
    return tuple(places[i] for i in written.live_inputs), tuple(places[i] for i in written.steady_inputs)


def _curve(network: Any, members: list[int], kind: Kind) -> Any:
    """Curves of the packs of a group: those of their own cells, or else the chemistry's."""
    if kind.name != "pack":
        return None
    from tideover.laws.cell_curve import CellCurve, beside
    from tideover.laws.cells import Curve

    choices = kind.parameter("chemistry").choices
    parts = [network.parts[k] for k in members]
    own: list[CellCurve | None] = [getattr(part, "curve", None) for part in parts]
    words = [choices[int(number(part, "chemistry"))] for part in parts]
    if not any(own):
        return Curves(Curve.of(words))
    whole = [curve or CellCurve.of(word) for curve, word in zip(own, words)]
    return Curves(
        beside([c.open_circuit for c in whole]),
        beside([c.ohmic for c in whole]),
        beside([c.lag for c in whole]),
    )


def _solver(groups: list[Group], unknowns: int, electrical: int) -> Written:
    """The elimination of this structure; written once and kept, as a change of a value does not touch it."""
    structure = (unknowns, electrical, tuple((id(g.program), *(n.tobytes() for n in g.nodes)) for g in groups))
    if structure not in _WRITTEN:
        while len(_WRITTEN) >= KEPT:
            del _WRITTEN[next(iter(_WRITTEN))]
        _WRITTEN[structure] = (_eliminated(groups, unknowns, electrical), [g.program for g in groups])
    return _WRITTEN[structure][0]


KEPT = 50
"""Structures whose elimination is kept: what a person edits in an hour."""
_WRITTEN: dict[Any, tuple[Written, list[Program]]] = {}
"""Eliminations by structure, with the programs whose identity stands in the key; it changes no result."""


def _eliminated(groups: list[Group], unknowns: int, electrical: int) -> Written:
    matrix: dict[tuple[int, int], list[str | float]] = {}
    flows: list[list[str | float]] = [[] for _ in range(unknowns)]
    for gi, g in enumerate(groups):
        p = g.program
        nt = len(p.terminals)
        for k in range(g.n):
            for t in range(nt):
                flows[int(g.nodes[t][k])].append(_found(g, gi, t, k))
            for e, (a, b) in enumerate(p.entries):
                place = int(g.nodes[a][k]), int(g.nodes[b][k])
                matrix.setdefault(place, []).append(_found(g, gi, nt + e, k))
    return elimination.write(unknowns, electrical, matrix, flows)


def _found(g: Group, position: int, output: int, k: int) -> str | float:
    """Where the elimination finds one output of a group's stage for one part; a number where it is one."""
    y = g.program.stage.outputs[output]
    return y if isinstance(y, float) else f"given[{position + 1}][{output}][{k}]"


__all__ = ["Array", "Group", "System", "build", "number"]
