"""A kind's equations as the array functions that the solver runs.

For an implicit stage ``x = base + h g(v, x)`` each part eliminates its own states: linearised, they follow its
terminal voltages, so that the network that remains has only nodes for unknowns. The elimination is done once, on
symbols, and written out; what runs is straight array code.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from tideover.parts.base import Kind
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
        Those that carry an unknown: not the grounded ones; ``air`` last where the part is warm.
    states : tuple of str
        In the order of the state arrays, ``temp`` last.
    stage : Written
        Effective currents, then the conductances listed in `entries`, then each state's own correction, then its
        dependence on the terminals listed in `follows`.
    entries, follows : tuple of pairs
        (terminal, terminal) and (state, terminal) positions of the non-zero outputs.
    rates, ends, ledger, store, shown : Written
        Rates of the states; guards of the arcs, the sign of collapse, the ledger; supplied, heat, delivered; energy held; currents of
        all terminals and named quantities.
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
def program(kind: Kind, grounded: frozenset[str]) -> Program:
    """Trace, differentiate, eliminate and write a kind's equations.

    Parameters
    ----------
    kind : Kind
        The kind of part.
    grounded : frozenset of str
        Terminals joined to the return in every part of the group.

    Returns
    -------
    program : Program
        Compiled once for each pair of arguments.
    """
    g, q = symbolic(kind, grounded)
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
    loose = [s.loose for s in kind.states] + [not kind.heat_steers] * kind.warm
    hot = [s.unit == "K" for s in kind.states] + [True] * kind.warm
    own, follow = _eliminated(g, loose, hot, rates, x, v, q.air, base, h)
    effective = []
    table: dict[tuple[int, int], Any] = {}
    for a, i in enumerate(currents):
        thermal = terminals[a] == "air"
        seen = [hot[k] if thermal else not loose[k] for k in range(len(x))]
        slopes = [g.slope(i, xs) if seen[k] else 0.0 for k, xs in enumerate(x)]
        total = i
        for s, slope in enumerate(slopes):
            total = g.node("add", total, g.node("multiply", slope, own[s]))
        effective.append(total)
        for b, vb in enumerate(v):
            entry = g.slope(i, vb) if (terminals[b] == "air") == thermal else 0.0
            for s, slope in enumerate(slopes):
                entry = g.node("add", entry, g.node("multiply", slope, follow[s][b]))
            if not _zero(entry):
                table[a, b] = entry
    follows = {(s, b): y for s, row in enumerate(follow) for b, y in enumerate(row) if not _zero(y)}
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
    full = (*inputs, *(f"b_{s}" for s in states), "h", "moves")
    shown = {f"{t} [A]": c for t, c in flow.currents.items() if t != "air"} | flow.shown
    powers = [flow.supplied, flow.heat, flow.delivered]
    return Program(
        kind,
        terminals,
        states,
        Written([*effective, *table.values(), *own, *follows.values()], full, f"{name} stage"),
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


def _eliminated(
    g: Graph,
    loose: list[bool],
    hot: list[bool],
    rates: list[Any],
    x: list[Any],
    v: list[Any],
    air: Symbol,
    base: list[Any],
    h: Symbol,
) -> tuple[list[Any], list[list[Any]]]:
    """Solve ``(1 - h dg/dx) dx = base + h g - x + h dg/dv dv`` for dx, by Gauss-Jordan on symbols.

    A loose state keeps only its own slope, and a temperature that on the air: what it does to the voltages and
    they to it is left to the next iteration. No pivoting: states are listed so that each pivot is safe, which the contract test of all kinds checks.
    """
    n = len(rates)
    node = g.node

    def coupled(r: int, c: int) -> bool:
        return r == c or not (loose[r] or loose[c])

    def coupled_to(r: int, b: int) -> bool:
        return hot[r] if v[b].key == air.key else not loose[r]

    a = [
        [
            node("negative", node("multiply", h, g.slope(rates[r], x[c]))) if coupled(r, c) else 0.0
            for c in range(n)
        ]
        for r in range(n)
    ]
    for r in range(n):
        a[r][r] = node("add", 1.0, a[r][r])
    right = [node("subtract", node("add", base[r], node("multiply", h, rates[r])), x[r]) for r in range(n)]
    wide = [
        [node("multiply", h, g.slope(rates[r], vb)) if coupled_to(r, b) else 0.0 for b, vb in enumerate(v)]
        for r in range(n)
    ]
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
