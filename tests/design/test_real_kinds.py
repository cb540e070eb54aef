"""The manual's build file and the real kinds: every example that a message could give is itself right."""

from __future__ import annotations

import re
from pathlib import Path

import jsonschema
import pytest
from ruamel.yaml import YAML

from tideover.design import examine_text, schema, values
from tideover.network import settle
from tideover.parts import KINDS

MANUAL = Path(__file__).parents[2] / "docs" / "build-file.md"
PARAMETERS = [(kind.name, p) for kind in KINDS.values() for p in kind.parameters]


def block() -> str:
    found = re.search(r"```yaml\n(.*?)```", MANUAL.read_text(encoding="utf-8"), re.DOTALL)
    assert found
    return found[1]


def test_manual_reads_as_a_network():
    net = settle(examine_text(block()))
    assert net.nodes[net.at] == "load"
    assert len(net.parts) == 12


def test_manual_obeys_the_schema():
    jsonschema.validate(YAML(typ="safe", pure=True).load(block()), schema())


def test_a_long_wire_gives_off_its_heat_along_all_of_it():
    """36 m out and 36 m back give off seventy-two times what a metre does; what the file says stays as it says."""
    long = "out wire: {kind: wire, section: 4 mm², length: 36 m, cores: 2"
    stated = long.replace("out wire", "stated") + ", thermal resistance: 3 K/W"
    text = block().replace("  modem:  ", f"  {long}}}\n  {stated}}}\n  modem:  ")
    text = text.replace("converter > (load)", "converter > out wire > stated > (load)")
    parts = {p.name: p.values for p in settle(examine_text(text)).parts}
    assert parts["out wire"]["thermal_resistance"].nominal == pytest.approx(40.0 / 72.0)
    assert parts["out wire"]["heat_capacity"].nominal == pytest.approx(5.0 * 72.0)
    assert parts["stated"]["thermal_resistance"].nominal == pytest.approx(3.0)
    assert parts["lead"]["thermal_resistance"].nominal == pytest.approx(20.0 / 2.0)


@pytest.mark.parametrize("name", [name for name in KINDS if name != "box"])
def test_manual_lists_the_terminals_of_every_kind(name):
    kind = KINDS[name]
    rows = [
        line.split("|") for line in MANUAL.read_text(encoding="utf-8").splitlines() if line.startswith("| ")
    ]
    row = next(row for row in rows if name in row[1].strip().split(", ") and "`" in row[2])
    assert re.findall(r"`([^`]+)`", row[2]) == list(kind.terminals)
    assert row[3].strip() == (", ".join(kind.through) if kind.through else "name them")


@pytest.mark.parametrize(("kind", "p"), PARAMETERS, ids=[f"{kind}.{p.key}" for kind, p in PARAMETERS])
def test_example_of_a_parameter_is_right(kind, p):
    assert values.fits(values.example(p), p), values.example(p)


@pytest.mark.parametrize(
    ("kind", "p"),
    [(kind, p) for kind, p in PARAMETERS if p.default is not None],
    ids=[f"{kind}.{p.key}" for kind, p in PARAMETERS if p.default is not None],
)
def test_default_of_a_parameter_can_be_kept(kind, p):
    value = values.default(p)
    if p.unit == "word":
        assert p.choices[int(value)] == p.default
    else:
        assert p.low <= value.low <= value.high <= p.high
