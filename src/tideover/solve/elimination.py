"""Elimination of a network's nodes, written out once for its structure.

The order is found once (fewest neighbours first) and every non-zero of the factors becomes one line of array code, so a
thousand cases cost little more than one and each case's arithmetic is the same in any company. No pivoting: the
diagonal of a network with a capacitance or a load at its nodes dominates, and every node has insulation to the
return.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from tideover.solve.trace import Graph, Written

INSULATION = 1e-11
"""Conductance from every node to the return: 100 Gohm of board and air. [S]"""


def order_of(count: int, pairs: Sequence[tuple[int, int]]) -> list[int]:
    """Order of elimination by fewest remaining neighbours.

    Parameters
    ----------
    count : int
        Number of nodes. [-]
    pairs : sequence of (int, int)
        Non-zero places of the matrix. [-]

    Returns
    -------
    order : list of int
        Each node once. [-]
    """
    near: dict[int, set[int]] = {k: set() for k in range(count)}
    for a, b in pairs:
        if a != b:
            near[a].add(b)
            near[b].add(a)
    order = []
    while near:
        k = min(near, key=lambda n: (len(near[n]), n))
        around = near.pop(k)
        for a in around:
            near[a] |= around - {a}
            near[a].discard(k)
        order.append(k)
    return order


def write(
    count: int, electrical: int, matrix: dict[tuple[int, int], list[str | float]], flows: list[list[str | float]]
) -> Written:
    """Code that solves ``G dv = -f`` from the parts' own entries.

    Parameters
    ----------
    count, electrical : int
        Nodes in all, and how many of them (the first) are electrical and have insulation. [-]
    matrix : dict
        For each non-zero place what adds up to it: numbers, or where to find an array in ``given``. [-]
    flows : list
        For each node the currents that leave it into parts, alike. [-]

    Returns
    -------
    written : Written
        Outputs: dv of each node, then f of each node. ``given[0]`` are the node voltages, the rest is the caller's. [-]
    """
    g = Graph()
    node = g.node
    symbols: dict[str, Any] = {}

    def symbol(place: str | float) -> Any:
        if isinstance(place, float):
            return place
        return symbols.setdefault(place, g.symbol(place))

    def total(parts: list[str | float]) -> Any:
        acc: Any = 0.0
        for p in parts:
            acc = node("add", acc, symbol(p))
        return acc

    volts = [f"given[0][{k}]" for k in range(count)]
    a: dict[tuple[int, int], Any] = {place: total(parts) for place, parts in matrix.items()}
    f = [total(parts) for parts in flows]
    for k in range(electrical):
        a[k, k] = node("add", a.get((k, k), 0.0), INSULATION)
        f[k] = node("add", f[k], node("multiply", symbol(volts[k]), INSULATION))
    right = [node("negative", x) for x in f]
    order = order_of(count, list(a))
    inverse: dict[int, Any] = {}
    upper: dict[int, list[tuple[int, Any]]] = {}
    left = set(range(count))
    for k in order:
        left.discard(k)
        inverse[k] = node("divide", 1.0, a[k, k])
        across = [(c, a[k, c]) for c in left if (k, c) in a]
        upper[k] = across
        for r in [r for r in left if (r, k) in a]:
            factor = node("multiply", a[r, k], inverse[k])
            for c, value in across:
                a[r, c] = node("subtract", a.get((r, c), 0.0), node("multiply", factor, value))
            right[r] = node("subtract", right[r], node("multiply", factor, right[k]))
    dv: dict[int, Any] = {}
    for k in reversed(order):
        rest = right[k]
        for c, value in upper[k]:
            rest = node("subtract", rest, node("multiply", value, dv[c]))
        dv[k] = node("multiply", rest, inverse[k])
    return Written([*(dv[k] for k in range(count)), *f], list(symbols), "elimination", {p: p for p in symbols})
