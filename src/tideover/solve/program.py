"""A kind's equations as the array functions that the solver runs.

For an implicit stage ``x = base + h g(v, x)`` each part eliminates its own states: linearised, they follow its
terminal voltages, so that the network that remains has only nodes for unknowns. The elimination is done once, on
symbols, and written out; what runs is straight array code.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from tideover.parts.base import ALWAYS, Kind
from tideover.solve.look import Look, complete, symbolic
from tideover.solve.trace import STEADY, Graph, Symbol, Written


def _zero(a: Any) -> bool:
    return isinstance(a, float) and a == 0.0


@dataclass(frozen=True)
class Program:
    """What one kind contributes to a network.

    Attributes
    ----------
    terminals : tuple of str
        Those that carry an unknown: not the grounded ones; ``air`` last where the part warms it.
    states : tuple of str
        In the order of the state arrays, ``temp`` last.
    stage : Written
        Effective currents, then the conductances listed in `entries`, then each state's own correction, then its
        dependence on the terminals listed in `follows`.
    entries, follows : tuple of pairs
        (terminal, terminal) and (state, terminal) positions of the non-zero outputs.
    rates, ends, ledger, store, shown : Written
        Rates of the states; guards of the arcs, the sign of collapse and the ledger; power supplied, heat, delivered;
        energy held; currents of all terminals and named quantities.
    guards : tuple of (machine position, arc position in it)
        In the order of the outputs of `ends`.
    timers : tuple of (machine position, arc position in it)
        In the order of the outputs of `delays`.
    """

    kind: Kind
    terminals: tuple[str, ...]
    states: tuple[str, ...]
    stage: Written
    entries: tuple[tuple[int, int], ...]
    follows: tuple[tuple[int, int], ...]
    rates: Written
    ends: Written
    ledger: Written
    store: Written
    shown: Written
    shown_names: tuple[str, ...]
    guards: tuple[tuple[int, int], ...]
    delays: Written
    timers: tuple[tuple[int, int], ...]

    @property
    def pieces(self) -> tuple[Written, ...]:
        return (self.stage, self.rates, self.ends, self.ledger, self.store, self.shown, self.delays)


@cache
def program(
    kind: Kind, grounded: frozenset[str], folded: frozenset[tuple[str, float]] = frozenset()
) -> Program:
    """Trace, differentiate, eliminate and write a kind's equations.

    Parameters
    ----------
    kind : Kind
        The kind of part.
    grounded : frozenset of str
        Terminals joined to the return in every part of the group.
    folded : frozenset of (str, float)
        Parameters that are these numbers in every part and case, so that what they make vanish is not computed.

    Returns
    -------
    program : Program
        Compiled once for each pair of arguments.
    """
    g, q = symbolic(kind, grounded, dict(folded))
    flow = complete(kind.equations(q), q)
    terminals = tuple(t for t in (*kind.terminals, "air") if t in flow.currents and t not in grounded)
    if kind.terminals == ("air",):
        terminals = ("air",)
    states = tuple(s.name for s in kind.states) + (("temp",) if kind.warm else ())
    slow = {s.name for s in kind.states if s.slow} | {"temp"}
    held = g.symbol("moves", level=STEADY)
    h = g.symbol("h", level=STEADY)
    v = [q.air if t == "air" else q.v[t] for t in terminals]
    x = [q.temp if s == "temp" else q.x[s] for s in states]
    rates = [g.node("multiply", flow.rates[s], held) if s in slow else flow.rates[s] for s in states]
    currents = [flow.currents[t] for t in terminals]
    base = [g.symbol(f"b_{s}") for s in states]
    steers = _steers(kind, dict(folded))
    loose = [s.loose for s in kind.states] + [not steers] * kind.warm
    hot = [s.unit == "K" for s in kind.states] + [True] * kind.warm
    electrical = [k for k, t in enumerate(terminals) if t != "air"]
    free = electrical[:-1] if electrical and not grounded else electrical
    links = [y for y in g.nodes if y.op == "link"]
    local = _Local(g, x, rates, base, h, loose, hot, links, v, q.air)
    own, follow = local.eliminated([vb if k in free else q.air for k, vb in enumerate(v)])
    effective: dict[int, Any] = {}
    table: dict[tuple[int, int], Any] = {}
    for a, i in enumerate(currents):
        if a in electrical and a not in free:
            continue
        thermal = terminals[a] == "air"
        seen = [hot[k] if thermal else not loose[k] for k in range(len(x))]
        seen += [not thermal or steers] * len(links)
        slopes = [g.slope(i, y) if seen[k] else 0.0 for k, y in enumerate([*x, *links])]
        effective[a] = i
        for s, slope in enumerate(slopes):
            if _zero(slope):
                continue
            effective[a] = g.node("add", effective[a], g.node("multiply", slope, own[s]))
        for b, vb in enumerate(v):
            if b in electrical and b not in free:
                continue
            entry = g.slope(i, vb) if (terminals[b] == "air") == thermal else 0.0
            for s, slope in enumerate(slopes):
                entry = g.node("add", entry, g.node("multiply", slope, follow[s][b]))
            if not _zero(entry):
                table[a, b] = entry
    follows = {
        (s, b): y
        for s, row in enumerate(follow)
        for b, y in enumerate(row)
        if s < len(x) and not _zero(y) and (b in free or b not in electrical)
    }
    if free != electrical:
        _refer(g, electrical[-1], free, effective, table, follows)
    inputs = _inputs(kind, q, states)
    whens = [
        (k, j, arc)
        for k, m in enumerate(kind.machines)
        for j, arc in enumerate(m.arcs)
        if arc.when is not None
    ]
    afters = [
        (k, j, arc)
        for k, m in enumerate(kind.machines)
        for j, arc in enumerate(m.arcs)
        if arc.after is not None
    ]
    guards = [arc.when(q) for _, _, arc in whens if arc.when]
    name = kind.name
    stage_inputs = (*inputs, *(f"b_{s}" for s in states), "h", "moves")
    stage_outputs = [
        *(effective[a] for a in range(len(terminals))),
        *table.values(),
        *own[: len(x)],
        *follows.values(),
    ]
    shown = {f"{t} [A]": c for t, c in flow.currents.items() if t != "air"} | flow.shown
    powers = [flow.supplied, flow.heat, flow.delivered]
    return Program(
        kind,
        terminals,
        states,
        Written(stage_outputs, stage_inputs, f"{name} stage"),
        tuple(table),
        tuple(follows),
        Written([flow.rates[s] for s in states], inputs, f"{name} rates"),
        Written([*guards, flow.collapsed, *powers], inputs, f"{name} ends"),
        Written(powers, inputs, f"{name} ledger"),
        Written([flow.store], inputs, f"{name} store"),
        Written(list(shown.values()), inputs, f"{name} shown"),
        tuple(shown),
        tuple((k, j) for k, j, _ in whens),
        Written([arc.after(q) for _, _, arc in afters if arc.after], inputs, f"{name} delays"),
        tuple((k, j) for k, j, _ in afters),
    )


def _steers(kind: Kind, folded: dict[str, float]) -> bool:
    """Whether temperature sets the current: so it may, unless another word is known for good."""
    if kind.heat_steers in (None, ALWAYS):
        return kind.heat_steers is not None
    name, choice = kind.heat_steers
    return folded.get(name) in (None, float(kind.parameter(name).choices.index(choice)))


def _inputs(kind: Kind, q: Look, states: tuple[str, ...]) -> tuple[str, ...]:
    """Argument order of every written function: voltages, air, states, discrete states, signals."""
    volts = tuple(f"v_{k}" for k, t in enumerate(kind.terminals) if t != "air" and isinstance(q.v[t], Symbol))
    return (
        *volts,
        "v_air",
        *(f"x_{s}" for s in states),
        *(f"m_{m.name}" for m in kind.machines),
        *(f"s_{s}" for s in kind.signals),
    )


def _refer(
    g: Graph,
    ref: int,
    free: list[int],
    effective: dict[int, Any],
    table: dict[tuple[int, int], Any],
    follows: dict[tuple[int, int], Any],
) -> None:
    """Fill in the reference terminal: currents sum to zero, and only voltage differences matter to a part."""

    def minus(values: list[Any]) -> Any:
        total: Any = 0.0
        for y in values:
            total = g.node("add", total, y)
        return g.node("negative", total)

    effective[ref] = minus([effective[a] for a in free])
    for a in sorted({a for a, _ in table}):
        entry = minus([table[a, b] for b in free if (a, b) in table])
        if not _zero(entry):
            table[a, ref] = entry
    for b in sorted({b for _, b in table}):
        entry = minus([table[a, b] for a in free if (a, b) in table])
        if not _zero(entry):
            table[ref, b] = entry
    for s in sorted({s for s, _ in follows}):
        entry = minus([follows[s, b] for b in free if (s, b) in follows])
        if not _zero(entry):
            follows[s, ref] = entry


@dataclass(frozen=True)
class _Local:
    """A part's own linear equations: its states, and the quantities it marked as links."""

    g: Graph
    x: list[Any]
    rates: list[Any]
    base: list[Any]
    h: Symbol
    loose: list[bool]
    hot: list[bool]
    links: list[Symbol]
    v: list[Any]
    air: Symbol

    def eliminated(self, directions: list[Any]) -> tuple[list[Any], list[list[Any]]]:
        """Solve ``(1 - h dg/dx) dx = base + h g - x + h dg/dv dv`` for dx, by Gauss-Jordan on symbols.

        A link y = f(v, x) is carried along as ``dy = df/dx dx + df/dv dv``. A loose state keeps only its own slope, and
        a temperature that on the air: what it does to the voltages and they to it is left to the next iteration. No
        pivoting: states are listed so that each pivot is safe, which the contract test of all kinds checks.
        """
        g, node = self.g, self.g.node
        unknowns = [*self.x, *self.links]
        n, nx = len(unknowns), len(self.x)
        a: list[list[Any]] = [[0.0] * n for _ in range(n)]
        right: list[Any] = [0.0] * n
        wide: list[list[Any]] = [[0.0] * len(directions) for _ in range(n)]
        for r in range(n):
            function = self.rates[r] if r < nx else self.links[r - nx].args[0]
            scale: Any = self.h if r < nx else 1.0
            for c in range(n):
                if self._coupled(r, c):
                    a[r][c] = node("negative", node("multiply", scale, g.slope(function, unknowns[c])))
            a[r][r] = node("add", 1.0, a[r][r])
            if r < nx:
                step = node("multiply", self.h, self.rates[r])
                right[r] = node("subtract", node("add", self.base[r], step), self.x[r])
            for b, vb in enumerate(directions):
                if self._coupled_to(r, vb):
                    wide[r][b] = node("multiply", scale, g.slope(function, vb))
        for k in range(n):
            inverse = node("divide", 1.0, a[k][k])
            for r in range(n):
                if r == k or _zero(a[r][k]):
                    continue
                factor = node("multiply", a[r][k], inverse)
                for c in range(k + 1, n):
                    a[r][c] = node("subtract", a[r][c], node("multiply", factor, a[k][c]))
                right[r] = node("subtract", right[r], node("multiply", factor, right[k]))
                wide[r] = [node("subtract", w, node("multiply", factor, u)) for w, u in zip(wide[r], wide[k])]
                a[r][k] = 0.0
        for k in range(n):
            inverse = node("divide", 1.0, a[k][k])
            right[k] = node("multiply", right[k], inverse)
            wide[k] = [node("multiply", w, inverse) for w in wide[k]]
        return right, wide

    def _coupled(self, r: int, c: int) -> bool:
        nx = len(self.x)
        tied_r, tied_c = r >= nx or not self.loose[r], c >= nx or not self.loose[c]
        return r == c or (tied_r and tied_c)

    def _coupled_to(self, r: int, direction: Any) -> bool:
        nx = len(self.x)
        if direction.key == self.air.key:
            return r < nx and self.hot[r]
        return r >= nx or not self.loose[r]
