"""The tracer: what it writes computes what was read, its slopes are exact, and work is split by how often it runs."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import wrightomega

from tideover.laws.smooth import between, larger, positive, smaller
from tideover.solve.trace import FIXED, LIVE, STEADY, Graph, Written


def value(function, *numbers, of=None):
    """Run what the tracer writes for `function` (or for `of(graph, y, symbols)`) at some numbers."""
    g = Graph()
    names = [f"x{k}" for k in range(len(numbers))]
    symbols = [g.symbol(n) for n in names]
    y = function(*symbols)
    outputs = [y] if of is None else of(g, y, symbols)
    written = Written(outputs, names, "test")
    by_name = dict(zip(names, numbers))
    return written.run(written.prepare({}), (), None, *(by_name[n] for n in written.live_inputs))


def slope(function, k, *numbers):
    return value(function, *numbers, of=lambda g, y, s: [g.slope(y, s[k])])[0]


FUNCTIONS = {
    "sum and product": lambda a, b: a * b + 3.0 * a - b / 7.0,
    "quotient": lambda a, b: a / (b * b + 1.0),
    "exponential": lambda a, b: np.exp(-a * a) * np.log(b * b + 2.0),
    "root": lambda a, b: np.sqrt(a * a + b * b + 0.1),
    "square": lambda a, b: (a - b) ** 2 + np.square(a),
    "wright omega": lambda a, b: wrightomega(a + 2.0 * b),
    "rounded": lambda a, b: positive(a, 0.3) + smaller(a, b, 0.2) * larger(a, b, 0.1),
    "held": lambda a, b: between(a + b, -0.5, 0.5, 0.1),
    "corner": lambda a, b: np.maximum(a, b) + np.minimum(2.0 * a, b) + np.abs(a),
}
number = st.floats(-3.0, 3.0)


@pytest.mark.parametrize("name", FUNCTIONS)
@settings(max_examples=60, deadline=None)
@given(a=number, b=number)
def test_written_code_gives_the_value_of_the_formula(name, a, b):
    f = FUNCTIONS[name]
    assert value(f, a, b)[0] == pytest.approx(f(a, b), rel=1e-13, abs=1e-13)


@pytest.mark.parametrize("name", [n for n in FUNCTIONS if n != "corner"])
@settings(max_examples=60, deadline=None)
@given(a=number, b=number)
def test_slopes_are_exact(name, a, b):
    f, h = FUNCTIONS[name], 1e-5
    for k, (da, db) in enumerate(((h, 0.0), (0.0, h))):
        difference = (f(a + da, b + db) - f(a - da, b - db)) / (2.0 * h)
        assert slope(f, k, a, b) == pytest.approx(difference, rel=1e-4, abs=1e-4)


def test_slope_at_a_corner_is_that_of_one_side():
    f = FUNCTIONS["corner"]
    assert slope(f, 0, 1.0, -1.0) == 1.0 + 0.0 + 1.0
    assert slope(f, 0, -1.0, 1.0) == 0.0 + 2.0 - 1.0


def test_a_number_stays_a_number():
    (y,) = value(lambda a: 2.0 * 3.0 + 0.0 * a, 5.0)
    assert y == 6.0
    assert isinstance(y, float)


def test_equal_operations_are_kept_once():
    g = Graph()
    a, b = g.symbol("a"), g.symbol("b")
    first, again = np.exp(a * b) + a * b, np.exp(a * b)
    assert again.key < first.key
    assert sum(y.op == "exp" for y in g.nodes) == 1


def test_a_function_without_a_rule_is_refused_by_name():
    with pytest.raises(TypeError, match=r"no rule for numpy\.tan"):
        np.tan(Graph().symbol("a"))


def test_work_is_split_by_what_it_depends_on():
    g = Graph()
    p, m, v = g.symbol("p", level=FIXED), g.symbol("m", level=STEADY), g.symbol("v", level=LIVE)
    fixed, steady = np.exp(p) * 2.0, np.sqrt(m + np.exp(p))
    y = v * fixed + steady
    assert (fixed.level, steady.level, y.level) == (FIXED, STEADY, LIVE)
    written = Written([y], ["m", "v"], "split")
    constants = written.prepare({"p": 1.5})
    settled = written.settle(constants, 0.7)
    expected = 4.0 * np.exp(1.5) + np.sqrt(0.7 + np.exp(1.5))
    assert written.run(constants, settled, None, 2.0)[0] == pytest.approx(expected)
    assert "exp" not in written.source, "the exponential of a parameter is not for every iteration"
    assert "sqrt" not in written.source, "nor is a root of what changes once a step"


def test_names_are_used_again_once_their_value_is_spent():
    def long(a):
        for k in range(40):
            a = np.exp(-a) + float(k)
        return a

    g = Graph()
    written = Written([long(g.symbol("x0"))], ["x0"], "long")
    names = {line.split(" = ")[0].strip() for line in written.source.splitlines() if " = " in line}
    assert len(names) <= 3
    assert written.run((), (), None, 0.3)[0] == pytest.approx(long(0.3), rel=1e-13)


def test_a_value_needed_later_is_not_overwritten():
    def tangled(a, b):
        early = a * b
        y = np.exp(early)
        for k in range(10):
            y = y * 0.5 + a * float(k)
        return y + early, early, y

    g = Graph()
    symbols = g.symbol("x0"), g.symbol("x1")
    written = Written(list(tangled(*symbols)), ["x0", "x1"], "tangled")
    assert written.run((), (), None, 0.4, 0.9) == pytest.approx(tangled(0.4, 0.9), rel=1e-13)


def test_arrays_of_any_shape_go_through():
    a = np.linspace(-1.0, 2.0, 12).reshape(3, 4)
    b = np.linspace(0.5, 1.5, 4)
    got = value(FUNCTIONS["root"], a, b)[0]
    np.testing.assert_allclose(got, FUNCTIONS["root"](a, b), rtol=1e-14)


def test_a_width_that_follows_a_voltage_is_refused():
    """The slope by the width is left out, so a live width would give a wrong derivative without a word."""
    g = Graph()
    x = g.symbol("x")
    with pytest.raises(TypeError, match="width of a rounded limit"):
        positive(x, 0.1 * x)
