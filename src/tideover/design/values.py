"""One value of the file against the parameter that declares it."""

from __future__ import annotations

from collections.abc import Callable

from tideover.design import messages as say
from tideover.design.messages import Fault
from tideover.design.model import Place, Value
from tideover.design.source import Node, Scalar, Sequence
from tideover.parts.base import Parameter
from tideover.quantity import Quantity, QuantityError, exact, expectation, parse, show, show_range, usual

Report = Callable[[Fault], None]


def is_count(p: Parameter) -> bool:
    """Whether only whole numbers will do: a plain number whose limits are declared as whole numbers."""
    return p.unit == "" and isinstance(p.low, int) and isinstance(p.high, int)


def _unit(p: Parameter) -> str:
    """How its limits are shown: a share of one reads better in percent."""
    return "%" if p.unit == "" and p.high <= 1 and not is_count(p) else p.unit


def example(p: Parameter) -> str:
    """An example of the right form that lies within the limits."""
    if p.unit == "word":
        return p.choices[0]
    if isinstance(p.default, str):
        return p.default
    if p.default and p.low <= p.default <= p.high:
        return show(p.default, _unit(p))
    if is_count(p):
        return str(int(min(max(3, p.low), p.high)))
    if p.low <= parse(usual(_unit(p)), p.unit).nominal <= p.high:
        return usual(_unit(p))
    middle = (p.low * p.high) ** 0.5 if p.low > 0 else p.high / 2
    return show(middle, _unit(p), 2)


def fits(text: str, p: Parameter) -> bool:
    """Whether a text would do as a value of that parameter."""
    faults: list[Fault] = []
    read("", "", Scalar(text, Place(""), 0, 0), p, faults.append)
    return not faults


def limits(p: Parameter) -> str:
    return f"{p.low} to {p.high}" if is_count(p) else show_range(p.low, p.high, _unit(p))


def read(owner: str, key: str, node: Node, p: Parameter, report: Report) -> Value | None:
    """Read one value.

    Parameters
    ----------
    owner, key : str
        Part, and key as the file has it: together they say where.
    node : Node
        What stands there.
    p : Parameter
        What must stand there.
    report : callable
        Takes each fault.

    Returns
    -------
    Quantity, float or None
        In SI, a word as its position; None after a fault.
    """
    where = f"{owner}.{key}"
    if not isinstance(node, Scalar):
        what = "a list" if isinstance(node, Sequence) else "a set of keys"
        report(
            say.wrong_shape(node.place, where, what, "One value is expected.", f"Write: {key}: {example(p)}")
        )
        return None
    if p.unit == "word":
        choices = [say.folded(choice) for choice in p.choices]
        if say.folded(node.text) in choices:
            return float(choices.index(say.folded(node.text)))
        report(say.unknown_word(node.place, where, key, node.text, p.choices))
        return None
    return _number(where, key, node, p, report)


def _number(where: str, key: str, node: Scalar, p: Parameter, report: Report) -> Quantity | None:
    right = "A whole number is expected" if is_count(p) else expectation(_unit(p), example(p))
    right = f'{right}, such as "{example(p)}"' if is_count(p) else right
    try:
        value = parse(node.text, p.unit, example(p))
    except QuantityError as error:
        usual_words = error.expected == expectation(p.unit, example(p)) + "."
        expected = f"{right}; it may be {limits(p)}." if usual_words else error.expected
        report(say.bad_value(node.place, where, node.text, error.problem, expected, f"{key}: {error.mend}"))
        return None
    expected = f"{right}; it may be {limits(p)}."
    problem, mend = "", example(p)
    if is_count(p) and not (value.nominal.is_integer() and value.low == value.high):
        problem, mend = (
            "which is no whole number",
            str(min(max(round(value.nominal), int(p.low)), int(p.high))),
        )
    elif _below(value.nominal, p.low):
        problem = f"which is less than {_limit(p.low, p)}"
        if p.low <= -value.nominal <= p.high:
            mend = show(-value.nominal, _unit(p), 6)
    elif _below(p.high, value.nominal):
        problem = f"which is more than {_limit(p.high, p)}"
    elif _below(value.low, p.low):
        problem = f"whose tolerance reaches down to {show(value.low, _unit(p))}"
        mend = show_range(p.low, value.high, _unit(p), 4)
    elif _below(p.high, value.high):
        problem = f"whose tolerance reaches up to {show(value.high, _unit(p))}"
        mend = show_range(value.low, p.high, _unit(p), 4)
    if problem:
        report(say.out_of_range(node.place, where, node.text, problem, expected, f"{key}: {mend}"))
        return None
    return value


def _limit(value: float, p: Parameter) -> str:
    return str(value) if is_count(p) else show(value, _unit(p))


def default(p: Parameter) -> Value:
    """The value of a parameter that nobody states."""
    if p.unit == "word":
        return float(p.choices.index(str(p.default)))
    if isinstance(p.default, str):
        return parse(p.default, p.unit)
    return exact(float(p.default or 0.0), p.unit)


def _below(a: float, b: float) -> bool:
    """Whether `a` is less than `b` by more than rounding: 10 µΩ is not less than 1e-5 ohm."""
    return a < b - 1e-9 * abs(b)
