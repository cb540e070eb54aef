"""The equations on the pages of parts are those of the part models: read as written, evaluated, compared.

A page's formulas are plain arithmetic. Here they are worked out, line by line, at random points, and must give the
same currents, rates, powers, guards and delays as the model: whoever builds a part from its page gets our numbers.
"""

from __future__ import annotations

import inspect
import re
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from parts.draws import draw
from scipy.special import wrightomega

from tideover.parts import ALL, Kind
from tideover.solve.look import Look, Names

DOCS = Path(__file__).parents[1] / "docs"
sys.path.insert(0, str(DOCS))
from generate import ARC, conditions, formulas, fragment, page_name  # noqa: E402
from worked import EXAMPLES, OneCell, look  # noqa: E402

COUNT = 60
CLOSE = 1e-9
every_kind = pytest.mark.parametrize("kind", ALL, ids=lambda k: k.name)


# --- reading a page's arithmetic --------------------------------------------------------------------


def positive(u: float, w: float) -> float:
    return 0.0 if u <= -w else u if u >= w else (u + w) ** 2 / (4.0 * w)


TOOLS: dict[str, Any] = {
    "positive": positive,
    "smaller": lambda a, b, w: a - positive(a - b, w),
    "larger": lambda a, b, w: a + positive(b - a, w),
    "between": lambda u, low, high, w: low + positive(u - low, w) - positive(u - high, w),
    "exp": np.exp,
    "ln": np.log,
    "sqrt": np.sqrt,
    "pi": np.pi,
    "omega": lambda z: float(wrightomega(z)),
}


def arithmetic(text: str) -> str:
    """A page's formula as Python: ``^`` is a power, ``[a is b or c]`` and ``[a = b]`` are 1 or 0."""
    text = re.sub(r"\[(\w+) is ([\w ]+)\]", lambda m: f"is_in({m[1]!r}, {m[2].split(' or ')!r})", text)
    text = re.sub(r"\[(\w+) = ([\w ]+)\]", lambda m: f"is_word({m[1]!r}, {m[2]!r})", text)
    return text.replace("^", "**")


class Sheet:
    """A page being worked out at one point."""

    def __init__(self, q: Look, curve: Any) -> None:
        kind = q.kind
        self.names: dict[str, Any] = {
            **TOOLS,
            **{p.name: float(q.p[p.name]) for p in kind.parameters},
            **{w: SimpleNamespace(**{k: float(v) for k, v in getattr(q, w)._values.items()}) for w in "vxs"},
            "temp": q.temp,
            "air": q.air,
            "is_in": lambda machine, states: float(q.among(machine, *states)),
            "is_word": self._is,
        }
        if curve is not None:
            self.names |= {"curve": curve.value, "curve_energy": curve.integral}
            self.names |= {"ohmic": curve.ohmic.value, "lag": curve.lag.value}
        self.kind = kind
        self.results: dict[str, float] = {}

    def _is(self, name: str, word: str) -> float:
        p = self.kind.parameter(name)
        return 1.0 * (self.names[p.name] == (p.choices.index(word) if p.choices else float(word)))

    def value(self, text: str) -> float:
        return float(eval(arithmetic(text), self.names))

    def work_out(self, lines: list[str]) -> None:
        for line in lines:
            if ARC.match(line):
                continue
            name, _, text = (s.strip() for s in line.partition(" = "))
            if call := re.fullmatch(r"(\w+)\((.+)\)", name):
                self.names[call[1]] = eval(f"lambda {call[2]}: {arithmetic(text)}", self.names)
            elif re.fullmatch(r"i\.\w+|dx\.\w+/dt|heat|supplied|delivered|store", name):
                self.results[name] = self.value(text)
            else:
                self.names[name] = self.value(text)


# --- points ---------------------------------------------------------------------------------------


def looks(kind: Kind) -> list[tuple[Look, Any]]:
    """Random points, one at a time, each parameter a plain number; and the three points of the page."""
    points = draw(kind, COUNT, 7)
    found = []
    for r, k in np.ndindex(points.air.shape):

        def of(values: dict[str, Any], r: int = r, k: int = k) -> dict[str, Any]:
            return {name: np.asarray(v)[r, k].item() for name, v in values.items()}

        p = of(points.p)
        curve = OneCell(kind.parameter("chemistry").choices[int(p["chemistry"])]) if "chemistry" in p else None
        temp, air = float(points.temp[r, k]), float(points.air[r, k])
        found.append(
            (Look(kind, of(points.v), of(points.x), p, of(points.s), of(points.m), temp, air, curve), curve)
        )
    example = EXAMPLES[kind.name]
    for point in example.points:
        q = look(kind, example, point)
        found.append((q, q._curve))
    return found


def lines_of(kind: Kind) -> tuple[list[str], dict[str, list[str]], dict[str, dict[tuple[str, str], list[str]]]]:
    equations, sections = fragment(kind.name)
    return (
        formulas(equations),
        {m: formulas(text) for m, text in sections.items()},
        {m: conditions(text) for m, text in sections.items()},
    )


def same(said: float, modelled: Any, size: float) -> bool:
    return abs(said - float(modelled)) <= CLOSE * max(size, abs(float(modelled)), 1e-6)


# --- the claims -----------------------------------------------------------------------------------


@every_kind
def test_equations_of_the_page_give_the_numbers_of_the_model(kind):
    lines, *_ = lines_of(kind)
    for q, curve in looks(kind):
        flow = kind.equations(q)
        sheet = Sheet(q, curve)
        sheet.work_out(lines)
        wanted = {f"i.{t.replace(' ', '_')}": i for t, i in flow.currents.items()}
        wanted |= {f"dx.{s}/dt": rate for s, rate in flow.rates.items()}
        wanted |= {n: getattr(flow, n) for n in ("heat", "supplied", "delivered", "store") if n in sheet.results}
        assert set(wanted) == set(sheet.results)
        largest = max(abs(float(i)) for i in flow.currents.values())
        for name, modelled in wanted.items():
            size = largest if name.startswith("i.") else max(largest, float(np.abs(flow.heat)))
            if name.startswith("dx."):
                size = largest * 1e3  # rates are differences of currents over small capacitances
            assert same(sheet.results[name], modelled, size), f"{name}: {sheet.results[name]} {modelled}"
        left = {"heat", "supplied", "delivered", "store"} - set(sheet.results)
        assert all(float(np.abs(getattr(flow, n))) == 0.0 for n in left), left


@every_kind
def test_arcs_of_the_page_are_those_of_the_model(kind):
    lines, machine_lines, arcs = lines_of(kind)
    assert set(arcs) == {m.name for m in kind.machines}
    for machine in kind.machines:
        ends = [(a.source, a.target) for a in machine.arcs]
        assert {e for e in ends} == set(arcs[machine.name])
        assert len(ends) == sum(len(texts) for texts in arcs[machine.name].values())
        for q, curve in looks(kind):
            sheet = Sheet(q, curve)
            sheet.work_out(lines + machine_lines[machine.name])
            left = {e: list(texts) for e, texts in arcs[machine.name].items()}
            for arc in machine.arcs:
                said = sheet.value(left[arc.source, arc.target].pop(0))
                modelled = (arc.when or arc.after)(q)
                assert same(said, modelled, 1.0), f"{arc.source} > {arc.target}: {said} {modelled}"


@every_kind
def test_every_parameter_that_the_equations_read_is_on_the_page(kind):
    read: set[str] = set()

    class Noting(Names):
        def __getattr__(self, name: str) -> Any:
            read.add(name)
            return super().__getattr__(name)

        def __getitem__(self, name: str) -> Any:
            read.add(name)
            return super().__getitem__(name)

    for q, _ in looks(kind):
        q.p = Noting(q.p._values)
        kind.equations(q)
        for m in kind.machines:
            for arc in m.arcs:
                (arc.when or arc.after)(q)
    text = "\n".join([fragment(kind.name)[0], *fragment(kind.name)[1].values()])
    read -= {"_values"}
    assert read and {name for name in read if not re.search(rf"\b{name}\b", text)} == set()


@every_kind
def test_every_discrete_state_parameter_and_terminal_is_on_the_page(kind):
    page = (DOCS / "parts" / page_name(kind.name)).read_text(encoding="utf-8")
    for m in kind.machines:
        assert all(f"`{s}`" in page for s in m.states)
    assert all(f"| `{p.key}` |" in page for p in kind.parameters)
    assert all(f"`{t}`" in page for t in kind.terminals if t != "air")


def test_every_constant_of_a_part_file_is_on_a_page_of_its_kinds():
    by_file: dict[Any, str] = {}
    for kind in ALL:
        text = "\n".join([fragment(kind.name)[0], *fragment(kind.name)[1].values()])
        module = inspect.getmodule(kind.equations)
        by_file[module] = by_file.get(module, "") + text
    for module, text in by_file.items():
        numbers = {float(n) for n in re.findall(r"(?<![\w.])\d+\.?\d*(?:e-?\d+)?", text)}
        for name, value in vars(module).items():
            if name.isupper() and isinstance(value, float):
                assert value in numbers or name == "AIR_CAPACITY", f"{module.__name__}.{name} = {value}"
    assert "1.177 * 1007" in fragment("box")[0]  # the one constant that is a product


def test_a_page_that_says_something_else_is_noticed():
    kind = next(k for k in ALL if k.name == "adapter")
    q, curve = looks(kind)[-1]
    good, bad = Sheet(q, curve), Sheet(q, curve)
    lines = lines_of(kind)[0]
    good.work_out(lines)
    bad.work_out([line.replace("0.9 * output_resistance", "output_resistance") for line in lines])
    assert good.results["i.plus"] != bad.results["i.plus"]
