"""Every public law says what it takes and gives, in which unit, and shows itself at work."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from tideover import laws

MODULES = sorted(module.name for module in pkgutil.iter_modules(laws.__path__))
SYMBOL = r"(?:V|A|ohm|F|H|s|C|J|W|K|m|kg|g|Hz|Pa|mol|mil|nat)"
FACTOR = rf"{SYMBOL}(?:\^-?\d+(?:\.\d+)?)?"
PRODUCT = rf"{FACTOR}(?: {FACTOR})*"
UNIT = re.compile(rf"-|(?:{PRODUCT}|1)(?:/(?:{FACTOR}|\({PRODUCT}\)))?")
ENDING = re.compile(r"\[([^\[\]]+)\]$")
SECTION = re.compile(r"^(\S[^\n]*)\n-{3,}$", re.MULTILINE)


def load(name: str) -> Any:
    return importlib.import_module(f"tideover.laws.{name}")


def public(name: str) -> Iterator[tuple[str, Any]]:
    """Public functions, classes, and their public methods, written in one module of the laws."""
    module = load(name)
    for key, thing in vars(module).items():
        if key.startswith("_") or getattr(thing, "__module__", None) != module.__name__:
            continue
        if inspect.isfunction(thing):
            yield key, thing
        elif inspect.isclass(thing):
            yield key, thing
            for method, inner in vars(thing).items():
                inner = getattr(inner, "__func__", inner)
                if inspect.isfunction(inner) and not method.startswith("_"):
                    yield f"{key}.{method}", inner


THINGS = [pytest.param(thing, id=f"{m}.{key}") for m in MODULES for key, thing in public(m)]
FUNCTIONS = [p for p in THINGS if inspect.isfunction(p.values[0])]


def sections(thing: Any) -> dict[str, str]:
    text = inspect.getdoc(thing) or ""
    marks = list(SECTION.finditer(text))
    ends = [mark.start() for mark in marks[1:]] + [len(text)]
    return {mark[1]: text[mark.end() : end].strip("\n") for mark, end in zip(marks, ends)}


def entries(body: str) -> list[tuple[list[str], str]]:
    """Names and description of each entry of a numpydoc section."""
    found: list[tuple[list[str], list[str]]] = []
    for line in body.splitlines():
        if line and not line.startswith(" "):
            found.append(([name.strip() for name in line.split(" : ")[0].split(",")], []))
        elif line.strip():
            found[-1][1].append(line.strip())
    return [(names, " ".join(words)) for names, words in found]


def missing_units(thing: Any) -> list[str]:
    faults = []
    for heading, body in sections(thing).items():
        if heading not in ("Parameters", "Returns", "Attributes"):
            continue
        for names, words in entries(body):
            end = ENDING.search(words)
            units = end[1].split(", ") if end else []
            if not end or not all(UNIT.fullmatch(unit) for unit in units):
                faults.append(f"{heading}: {', '.join(names)}: {words[-40:]!r} does not end in a unit")
    return faults


@pytest.mark.parametrize("thing", THINGS)
def test_every_description_ends_in_a_unit(thing: Any) -> None:
    assert missing_units(thing) == []


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_argument_is_described_in_order(function: Callable[..., Any]) -> None:
    described = [name for names, _ in entries(sections(function).get("Parameters", "")) for name in names]
    arguments = [name for name in inspect.signature(function).parameters if name not in ("self", "cls")]
    assert sorted(described) == sorted(arguments)


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_function_says_what_it_returns_and_shows_an_example(function: Callable[..., Any]) -> None:
    parts = sections(function)
    assert parts.get("Returns"), "no Returns section"
    assert ">>> " in parts.get("Examples", ""), "no example"


@pytest.mark.parametrize("function", [p for p in FUNCTIONS if "." not in p.values[0].__qualname__])
def test_every_law_names_its_source(function: Callable[..., Any]) -> None:
    if function.__module__.endswith(".smooth"):
        pytest.skip("rounding of corners is ours: there is no source to name")
    assert ".. [1]" in sections(function).get("References", "")


@pytest.mark.parametrize("name", MODULES)
def test_examples_print_what_they_say(name: str) -> None:
    result = doctest.testmod(load(name))
    assert result.failed == 0
    assert result.attempted > 0


def test_the_check_itself_catches_a_missing_unit() -> None:
    def bad(length: float) -> float:
        """Do something.

        Parameters
        ----------
        length : float
            One way.

        Returns
        -------
        area : float
            Section. [parsec]
        """
        return length

    assert len(missing_units(bad)) == 2
