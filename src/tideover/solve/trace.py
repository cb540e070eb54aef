"""From plain formulas to straight array code with exact derivatives.

A part is written once, as arithmetic on numbers. Called with symbols instead, the same function leaves behind a graph
of operations. The graph is differentiated by the chain rule, what depends on parameters alone is split off to be
computed once, and the rest is written out as a Python function of arrays: one line an operation, equal
subexpressions shared, temporaries reused. The code that runs is therefore the formula that was read.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.lib.mixins import NDArrayOperatorsMixin
from scipy.special import wrightomega

FIXED, STEADY, LIVE = 0, 1, 2
"""What a value depends on: parameters alone; also discrete states, signals and the step; voltages and states too."""

CODE = {
    "add": "({0} + {1})",
    "subtract": "({0} - {1})",
    "multiply": "({0} * {1})",
    "divide": "({0} / {1})",
    "negative": "(-{0})",
    "maximum": "np.maximum({0}, {1})",
    "minimum": "np.minimum({0}, {1})",
    "exp": "np.exp({0})",
    "log": "np.log({0})",
    "sqrt": "np.sqrt({0})",
    "absolute": "np.abs({0})",
    "sign": "np.sign({0})",
    "greater": "(1.0 * np.greater({0}, {1}))",
    "equal": "(1.0 * np.equal({0}, {1}))",
    "wrightomega": "wrightomega({0})",
    "among": "among({0}, {1})",
    "link": "{0}",
    "curve": "curve.value({0})",
    "curve_slope": "curve.slope({0})",
    "curve_energy": "curve.integral({0})",
    "ohmic": "curve.ohmic.value({0})",
    "ohmic_slope": "curve.ohmic.slope({0})",
    "lag": "curve.lag.value({0})",
    "lag_slope": "curve.lag.slope({0})",
}
ALIASES = {"true_divide": "divide", "square": "square", "power": "power"}


def among(codes: Any, members: tuple[int, ...]) -> Any:
    """1.0 where a discrete state is one of `members`, else 0.0."""
    found = codes == members[0]
    for m in members[1:]:
        found = found | (codes == m)
    return found * 1.0


class Symbol(NDArrayOperatorsMixin):
    """One operation of the graph; arithmetic on it makes more."""

    __slots__ = ("args", "graph", "key", "level", "op")
    __hash__ = object.__hash__

    def __init__(self, graph: Graph, op: str, args: tuple[Any, ...], key: int, level: int) -> None:
        self.graph, self.op, self.args, self.key, self.level = graph, op, args, key, level

    def __array_ufunc__(self, ufunc: Any, method: str, *inputs: Any, **options: Any) -> Any:
        if method != "__call__" or options:
            return NotImplemented
        name = ALIASES.get(ufunc.__name__, ufunc.__name__)
        if name == "square" or (name == "power" and inputs[1] == 2):
            return self.graph.node("multiply", inputs[0], inputs[0])
        if name not in CODE:
            raise TypeError(f"the tracer has no rule for numpy.{ufunc.__name__}")
        return self.graph.node(name, *inputs)

    def positive_part(self, w: Any) -> Any:
        """Rounded positive part, with its slope stated: see `tideover.laws.smooth.positive`."""
        if isinstance(w, Symbol) and w.level == LIVE:
            raise TypeError("the width of a rounded limit must not follow voltages or states: its slope is left out")
        g = self.graph
        quarter = g.node("divide", 0.25, w)
        above = g.node("maximum", self, g.node("negative", w))
        bent = g.node("minimum", above, w)
        t = g.node("add", bent, w)
        beyond = g.node("subtract", above, bent)
        value = g.node("add", g.node("multiply", g.node("multiply", t, t), quarter), beyond)
        if isinstance(value, Symbol):
            g.slopes[value.key] = ((self, g.node("multiply", t, g.node("multiply", 2.0, quarter))),)
        return value


class Graph:
    """All operations of one kind's equations, each kept once."""

    def __init__(self) -> None:
        self.nodes: list[Symbol] = []
        self.known: dict[Any, Symbol] = {}
        self.slopes: dict[int, tuple[tuple[Symbol, Any], ...]] = {}
        self.derivatives: dict[tuple[int, int], Any] = {}

    def symbol(self, name: str, level: int = LIVE) -> Symbol:
        """An input of the function to be written."""
        return self._keep("input", (name,), level)

    def _keep(self, op: str, args: tuple[Any, ...], level: int) -> Symbol:
        identity = (op, *(a.key if isinstance(a, Symbol) else ("#", a) for a in args))
        if identity not in self.known:
            made = Symbol(self, op, args, len(self.nodes), level)
            self.nodes.append(made)
            self.known[identity] = made
        return self.known[identity]

    def node(self, op: str, *args: Any) -> Any:
        """An operation, simplified where a number makes it trivial."""
        args = tuple(a if isinstance(a, (Symbol, tuple)) else float(a) for a in args)
        if all(isinstance(a, float) for a in args):
            return float(_NUMERIC[op](*args))
        simple = _simplify(self, op, args)
        if simple is not None:
            return simple
        level = max(a.level for a in args if isinstance(a, Symbol))
        return self._keep(op, args, level)

    def slope(self, y: Any, x: Symbol) -> Any:
        """Exact derivative of `y` with respect to the input `x`."""
        if not isinstance(y, Symbol):
            return 0.0
        if y.key == x.key:
            return 1.0
        if y.op in ("input", "link") or y.level == FIXED:
            return 0.0
        memo = (y.key, x.key)
        if memo not in self.derivatives:
            total: Any = 0.0
            for arg, partial in self.slopes.get(y.key) or _partials(self, y):
                inner = self.slope(arg, x)
                if not (isinstance(inner, float) and inner == 0.0):
                    total = self.node("add", total, self.node("multiply", inner, partial))
            self.derivatives[memo] = total
        return self.derivatives[memo]


def _is(a: Any, value: float) -> bool:
    return isinstance(a, float) and a == value


def _simplify(g: Graph, op: str, args: tuple[Any, ...]) -> Any:
    if op == "add":
        a, b = args
        return b if _is(a, 0.0) else a if _is(b, 0.0) else None
    if op == "subtract":
        a, b = args
        if isinstance(a, Symbol) and isinstance(b, Symbol) and a.key == b.key:
            return 0.0
        return g.node("negative", b) if _is(a, 0.0) else a if _is(b, 0.0) else None
    if op == "multiply":
        a, b = args
        if _is(a, 0.0) or _is(b, 0.0):
            return 0.0
        if _is(a, 1.0):
            return b
        if _is(b, 1.0):
            return a
        if _is(a, -1.0):
            return g.node("negative", b)
        return g.node("negative", a) if _is(b, -1.0) else None
    if op == "divide":
        a, b = args
        if _is(a, 0.0):
            return 0.0
        if isinstance(b, float):
            return g.node("multiply", a, 1.0 / b)
        return None
    if op == "negative" and isinstance(args[0], Symbol) and args[0].op == "negative":
        return args[0].args[0]
    return None


def _partials(g: Graph, y: Symbol) -> list[tuple[Any, Any]]:
    a = y.args[0]
    b = y.args[1] if len(y.args) > 1 else None
    match y.op:
        case "add":
            return [(a, 1.0), (b, 1.0)]
        case "subtract":
            return [(a, 1.0), (b, -1.0)]
        case "multiply":
            return [(a, b), (b, a)]
        case "divide":
            inverse = g.node("divide", 1.0, b)
            return [(a, inverse), (b, g.node("negative", g.node("multiply", y, inverse)))]
        case "negative":
            return [(a, -1.0)]
        case "maximum":
            first = g.node("greater", a, b)
            return [(a, first), (b, g.node("subtract", 1.0, first))]
        case "minimum":
            first = g.node("greater", b, a)
            return [(a, first), (b, g.node("subtract", 1.0, first))]
        case "exp":
            return [(a, y)]
        case "log":
            return [(a, g.node("divide", 1.0, a))]
        case "sqrt":
            return [(a, g.node("divide", 0.5, y))]
        case "absolute":
            return [(a, g.node("sign", a))]
        case "wrightomega":
            return [(a, g.node("divide", y, g.node("add", 1.0, y)))]
        case "curve":
            return [(a, g.node("curve_slope", a))]
        case "curve_energy":
            return [(a, g.node("curve", a))]
        case "ohmic" | "lag":
            return [(a, g.node(f"{y.op}_slope", a))]
        case _:  # comparisons, signs and slopes of curves are flat between their jumps
            return []


_NUMERIC: dict[str, Any] = {
    "add": np.add,
    "subtract": np.subtract,
    "multiply": np.multiply,
    "divide": np.divide,
    "negative": np.negative,
    "maximum": np.maximum,
    "minimum": np.minimum,
    "exp": np.exp,
    "log": np.log,
    "sqrt": np.sqrt,
    "absolute": np.abs,
    "sign": np.sign,
    "greater": np.greater,
    "equal": np.equal,
    "wrightomega": wrightomega,
}


def _needed(outputs: Iterable[Any], keep: Any) -> list[Symbol]:
    seen: set[int] = set()
    stack = [y for y in outputs if isinstance(y, Symbol)]
    while stack:
        y = stack.pop()
        if y.key not in seen and keep(y):
            seen.add(y.key)
            stack.extend(a for a in y.args if isinstance(a, Symbol))
    graph = next((y.graph for y in outputs if isinstance(y, Symbol)), None)
    return [graph.nodes[k] for k in sorted(seen)] if graph else []


def _text(a: Any, names: dict[int, str]) -> str:
    if isinstance(a, Symbol):
        return names[a.key]
    return repr(a)


class Written:
    """Array code for some outputs of a graph, in three parts by how often it must run.

    ``c = prepare(p)`` once, from the parameters; ``m = settle(c, ...)`` once a step, from discrete states, signals and
    the step; ``run(c, m, curve, ...)`` at every iteration, from voltages and states. `settle` and `run` take only
    the inputs they use, listed in `steady_inputs` and `live_inputs`. Outputs come in the order given; an output that
    is a number for good stays a float.
    """

    def __init__(
        self, outputs: Sequence[Any], inputs: Sequence[str], name: str, found: Mapping[str, str] | None = None
    ) -> None:
        self.outputs = list(outputs)
        self.inputs = tuple(inputs)
        self.body = _needed(self.outputs, lambda y: y.level != FIXED)
        live = _needed(self.outputs, lambda y: y.level == LIVE)
        self.steady = _feeding(live, self.outputs, STEADY)
        steady = _needed(self.steady, lambda y: y.level == STEADY)
        self.fixed = _feeding([*live, *steady], self.outputs, FIXED)
        given = {y.key: f"c[{k}]" for k, y in enumerate(self.fixed)}
        kept = {y.key: f"m[{k}]" for k, y in enumerate(self.steady)}
        wanted = {y.args[0] for y in steady if y.op == "input"}
        self.steady_inputs = tuple(i for i in inputs if i in wanted)
        used = {y.args[0] for y in live if y.op == "input"} | {
            y.args[0] for y in self.outputs if isinstance(y, Symbol) and y.op == "input"
        }
        self.live_inputs = tuple(i for i in inputs if i in used)
        arguments = self.live_inputs if found is None else ("given",)
        known = _needed(self.fixed, lambda y: True)
        space: dict[str, Any] = {"np": np, "wrightomega": wrightomega, "among": among}
        for text in (
            _function("prepare(p)", known, self.fixed, {}, {i: f"p[{i!r}]" for i in self._names(known)}),
            _function(f"settle({', '.join(['c', *self.steady_inputs])})", steady, self.steady, given),
            _function(
                f"run({', '.join(['c', 'm', 'curve', *arguments])})", live, self.outputs, given | kept, found or {}
            ),
        ):
            exec(compile(text, f"<{name}>", "exec"), space)
            self.source = text
        self.prepare, self.settle, self.run = space["prepare"], space["settle"], space["run"]

    @staticmethod
    def _names(order: Sequence[Symbol]) -> list[str]:
        return [y.args[0] for y in order if y.op == "input"]


def _feeding(users: Sequence[Symbol], outputs: Sequence[Any], level: int) -> list[Symbol]:
    """Values of one level that code of a higher level, or the caller, needs."""
    wanted = {
        a.key: a
        for y in users
        if y.level > level
        for a in y.args
        if isinstance(a, Symbol) and a.level == level
    }
    wanted |= {y.key: y for y in outputs if isinstance(y, Symbol) and y.level == level}
    return [wanted[k] for k in sorted(wanted)]


def _function(
    head: str,
    order: Sequence[Symbol],
    outputs: Sequence[Any],
    known: dict[int, str],
    found: Mapping[str, str] | None = None,
) -> str:
    """Straight code for the symbols in `order`; a temporary's name is used again once its value is spent.

    `found` tells where inputs that are not arguments of the function are to be found.
    """
    names = dict(known)
    last: dict[int, int] = {}
    for k, y in enumerate(order):
        for a in y.args:
            if isinstance(a, Symbol):
                last[a.key] = k
    for y in outputs:
        if isinstance(y, Symbol):
            last[y.key] = len(order)
    lines = [f"def {head}:"]
    free: list[str] = []
    temporary: dict[int, str] = {}
    for k, y in enumerate(order):
        if y.op == "link":
            last[y.args[0].key] = max(last[y.args[0].key], last.get(y.key, k))
            names[y.key] = names[y.args[0].key]
            continue
        if y.op == "input":
            names[y.key] = found.get(y.args[0], y.args[0]) if found else y.args[0]
            continue
        value = CODE[y.op].format(*(_text(a, names) for a in y.args))
        for key in {a.key for a in y.args if isinstance(a, Symbol)}:
            if key in temporary and last[key] == k:
                free.append(temporary.pop(key))
        names[y.key] = free.pop() if free else f"r{k}"
        temporary[y.key] = names[y.key]
        lines.append(f"    {names[y.key]} = {value}")
    lines.append(f"    return ({''.join(_text(y, names) + ', ' for y in outputs)})")
    return "\n".join(lines)
