"""What stands on the shelf: complete, readable as quantities, inside its kind's ranges, with a source."""

from __future__ import annotations

import csv
import math
import re
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from ruamel.yaml import YAML
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching

from tideover import shelf
from tideover.parts import KINDS, TYPICAL, Kind
from tideover.quantity import Quantity, parse
from tideover.shelf import Item, items

COUNTS = {
    "adapters": 12,
    "conductors": 36,
    "connectors": 20,
    "diodes": 16,
    "relays": 6,
    "capacitors": 17,
    "converters": 15,
    "chargers": 10,
    "cells": 16,
    "protection": 7,
    "fuses": 18,
    "switches_resistors": 6,
    "loads": 9,
    "boxes": 8,
    "reference": 23,
}
LEFT_TO_THE_BUILDER = {"wire": {"length"}, "strip": {"length"}, "track": {"length"}, "cell": {"series"}}
ANY_VALUE = {"metal-film resistor 0.25 W": {"resistance"}}


def kind_of(item: Item) -> Kind | None:
    return KINDS.get({"cell": "pack"}.get(item.kind, item.kind))


def quantities(item: Item) -> dict[str, Quantity]:
    """Every value of an item that is not a word."""
    kind = kind_of(item)
    assert kind or not item.values
    found = {}
    for name, text in item.values.items():
        parameter = kind.parameter(name)  # type: ignore[union-attr]
        if parameter.unit != "word":
            found[name] = parse(text, parameter.unit)
    return found


each = pytest.mark.parametrize("item", items(), ids=lambda item: item.name)
MODELLED = [item for item in items() if item.family != "reference"]
modelled = pytest.mark.parametrize("item", MODELLED, ids=lambda item: item.name)


def test_every_family_has_its_parts_and_the_shelf_219() -> None:
    counted = Counter(item.family for item in items())
    assert counted == COUNTS
    assert len(items()) == 219
    assert list(COUNTS) == list(shelf.FAMILIES)


@modelled
def test_a_value_belongs_to_a_parameter_of_its_kind_and_lies_in_its_range(item: Item) -> None:
    kind = kind_of(item)
    assert kind, f"{item.name}: no kind {item.kind}"
    for name, text in item.values.items():
        parameter = kind.parameter(name)
        assert parameter.name == name
        if parameter.unit == "word":
            assert text in parameter.choices
        else:
            value = parse(text, parameter.unit)
            inside = parameter.low <= value.low <= value.nominal <= value.high <= parameter.high
            assert inside, f"{name}: {text}"


@modelled
def test_nothing_is_missing_but_what_only_the_builder_knows(item: Item) -> None:
    kind = kind_of(item)
    assert kind
    required = {p.name for p in kind.parameters if p.default is None}
    left = LEFT_TO_THE_BUILDER.get(item.kind, set()) | ANY_VALUE.get(item.name, set())
    assert required - set(item.values) == left


def test_a_part_of_the_reference_family_has_figures_but_no_model() -> None:
    for item in items():
        assert (item.family == "reference") == (kind_of(item) is None) == (not item.values)
        assert item.values or item.also


@each
def test_a_source_is_given_and_says_what_was_not_checked(item: Item) -> None:
    assert len(item.source) >= len(TYPICAL)
    assert (TYPICAL in item.source) != item.verified
    assert item.about


def test_names_are_unique_and_hold_no_code() -> None:
    names = [item.name for item in items()]
    assert len(set(names)) == len(names)
    for item in items():
        for name in (item.name, *item.aliases):
            assert not re.search(r"[A-Z]{3,}-[0-9]", name), f"{name} looks like a part number"
            assert "_" not in name


def test_the_files_are_yaml_and_read_the_same_by_a_yaml_reader() -> None:
    folder = Path(shelf.__file__).parent
    assert {path.stem for path in folder.glob("*.yaml")} == set(shelf.FAMILIES)
    for family in shelf.FAMILIES:
        loaded = YAML(typ="base").load((folder / f"{family}.yaml").read_text(encoding="utf-8"))
        ours = {item.name: item for item in items() if item.family == family}
        assert list(loaded) == list(ours)
        for name, block in loaded.items():
            item = ours[name]
            also = block.pop("also", {})
            told = {key: block.pop(key) for key in ("kind", "about", "source", "verified")}
            aliases = block.pop("aliases", "")
            assert also == item.also
            assert {shelf.reading.parameter_name(key): value for key, value in block.items()} == item.values
            assert told == {
                "kind": item.kind,
                "about": item.about,
                "source": item.source,
                "verified": "yes" if item.verified else "no",
            }
            assert aliases == "; ".join(item.aliases)


# --- what the figures must mean ---------------------------------------------------------------------------


def test_a_converter_never_stops_above_its_start() -> None:
    """Draws of the two lockout thresholds are independent: their ranges must not overlap."""
    seen = 0
    for item in items():
        if "lockout_on" in item.values:
            q = quantities(item)
            assert q["lockout_off"].high < q["lockout_on"].low, item.name
            seen += 1
    assert seen == 16


def test_a_board_and_a_charger_release_on_the_right_side_of_their_thresholds() -> None:
    for item in items():
        q = quantities(item) if item.kind in ("protection board", "charger") else {}
        if item.kind == "protection board":
            assert q["cut_off"].high < q["cut_off_release"].low
            assert q["over_charge_release"].high < q["over_charge"].low
        if item.kind == "charger" and "restart_voltage" in q:
            assert q["precharge_below"].high < q["restart_voltage"].high < q["hold_voltage"].low


def test_a_stranded_wire_has_the_resistance_of_its_gauge() -> None:
    """ASTM B258 and annealed copper, 3 % for the lay: 21.58 mΩ/m for 18 AWG, worked out by hand."""
    wire = shelf.find("hook-up wire 18 AWG")
    assert wire
    q = quantities(wire)
    area = math.pi / 4 * (0.127e-3 * 92 ** ((36 - 18) / 39)) ** 2
    assert q["resistivity"].nominal / q["section"].nominal == pytest.approx(1.03 * 1.7241e-8 / area, rel=3e-4)
    assert 1.03 * 1.7241e-8 / area == pytest.approx(21.58e-3, rel=3e-4)


def test_section_and_resistivity_give_the_resistance_that_is_written_beside_them() -> None:
    seen = 0
    for item in items():
        if item.family == "conductors":
            q = quantities(item)
            sides = ("section",) if "section" in q else ("width", "thickness")
            per_metre = q["resistivity"].nominal / math.prod(q[side].nominal for side in sides)
            if item.kind == "cable":
                stated = parse(item.also["one core"], "ohm").nominal / q["length"].nominal
            else:
                stated = parse(item.also["resistance"], "ohm/m").nominal
            # a track's is stated for 17.24 nΩ·m and in three digits, its resistivity as 17.2 nΩ·m
            assert per_metre == pytest.approx(stated, rel=4e-3 if item.kind == "track" else 5e-4), item.name
            seen += 1
    assert seen == COUNTS["conductors"]


@pytest.mark.parametrize("item", [i for i in items() if i.kind == "diode"], ids=lambda item: item.name)
def test_the_tolerance_of_a_diode_moves_its_forward_voltage_by_the_stated_amount(item: Item) -> None:
    """The forward voltage's tolerance is written as that of the saturation current, at the rated current."""
    q = quantities(item)
    thermal = q["ideality"].nominal * 1.380649e-23 / 1.602176634e-19 * 298.15
    rated = q["forward_current"].nominal

    def forward(saturation: float) -> float:
        return thermal * math.log(rated / saturation + 1) + rated * q["series_resistance"].nominal

    stated = parse(item.also["forward voltage"].split(" at ")[0], "V")
    current = q["saturation_current"]
    assert forward(current.nominal) == pytest.approx(stated.nominal, abs=0.006)
    assert forward(current.high) == pytest.approx(stated.low, abs=0.01)
    assert forward(current.low) == pytest.approx(stated.high, abs=0.01)


def test_the_band_gap_of_an_indicator_gives_its_stated_drift() -> None:
    """At constant current the junction's voltage drifts by (v - Eg) / T."""
    for name in ("red LED 5 mm", "green LED 5 mm", "white LED 5 mm"):
        item = shelf.find(name)
        assert item
        q = quantities(item)
        thermal = q["ideality"].nominal * 1.380649e-23 / 1.602176634e-19 * 298.15
        junction = thermal * math.log(q["forward_current"].nominal / q["saturation_current"].nominal)
        drift = parse(item.also["forward voltage with temperature"], "V/K").nominal
        assert (junction - q["band_gap"].nominal) / 298.15 == pytest.approx(drift, rel=0.02)


def test_a_cell_cools_as_its_surface_and_holds_heat_as_its_mass() -> None:
    for item in items():
        if item.kind == "cell":
            q = quantities(item)
            mass, specific = parse(item.also["mass"], "kg"), parse(item.also["specific heat"], "J/(kg K)")
            assert q["heat_capacity"].nominal == pytest.approx(mass.nominal * specific.nominal)
            sides = [float(x) * 1e-3 for x in re.findall(r"[0-9.]+", item.also["size"])]
            if len(sides) == 2:
                surface = math.pi * sides[0] * (sides[1] + sides[0] / 2)
            else:
                surface = 2 * (sides[0] * sides[1] + sides[1] * sides[2] + sides[2] * sides[0])
            assert q["thermal_resistance"].nominal == pytest.approx(1 / (10 * surface), rel=0.01)


def test_a_boost_passes_its_input_through_when_off() -> None:
    for item in items():
        if item.kind == "boost":
            q = quantities(item)
            assert q["disconnects"].nominal == 0
            assert q["pass_drop"].nominal == (q["diode_drop"].nominal or 0.6)


# --- nothing lost of the list the shelf was made from -----------------------------------------------------

LIST = Path(__file__).resolve().parents[3] / "shared" / "data" / "parts.csv"
FAMILY_OF = {
    **dict.fromkeys(("cable", "wire", "strip", "pcb_track"), "conductors"),
    **dict.fromkeys(("diode", "led", "ideal_diode"), "diodes"),
    **dict.fromkeys(("boost", "buck", "buckboost", "ldo"), "converters"),
    **dict.fromkeys(("charger_lin", "charger_sw"), "chargers"),
    **dict.fromkeys(("switch", "resistor"), "switches_resistors"),
    **dict.fromkeys(("tvs", "mosfet", "inductor", "ptc", "ntc", "heatsink", "meter"), "reference"),
    **{"adapter": "adapters", "connector": "connectors", "relay": "relays", "capacitor": "capacitors"},
    **{"cell": "cells", "protection": "protection", "fuse": "fuses", "enclosure": "boxes", "load": "loads"},
}
SCALES = {"k": 1e3, "M": 1e6, "m": 1e-3, "µ": 1e-6, "n": 1e-9, "p": 1e-12, "g": 1e-3, "%": 1e-2, "ppm": 1e-6}
SCALES |= {"h": 3600.0, "A": 3600.0}  # hours; ampere-hours


NUMBER = r"\d+(?:\.\d+)?(?:e[+-]?\d+)?"
SAID_TWICE = {("adapter", "I_max"), ("cable", "R_neg")}
NOT_NUMBERS = {"power_path", "family", "type", "chem", "base"}


def close(a: float, b: float) -> bool:
    return abs(a - b) <= 1e-3 * abs(b) + 1e-20


def row_figures(row: dict[str, str]) -> list[float]:
    """Every number in the parameters and ratings of a row."""
    found: list[str] = []
    for pair in row["params"].split(";") + row["ratings"].split(";"):
        key, _, value = pair.partition("=")
        if key not in NOT_NUMBERS and (row["kind"], key) not in SAID_TWICE:
            found += re.findall(rf"-?{NUMBER}", value)
    return [float(number) for number in found]


def row_margins(row: dict[str, str]) -> set[float]:
    """Every tolerance of a row, relative or absolute."""
    margins = set()
    for pair in filter(None, row["tolerance"].split(";")):
        low, high, mode, _ = pair.partition("=")[2].split("/")
        margins |= {float(x) - (1.0 if mode == "fac" else 0.0) for x in (low, high)}
    return margins


def readings(text: str) -> list[set[float]]:
    """What each number of a text may mean: as written or scaled by its unit, with either sign."""
    joined = re.sub(r"(?<=\d) (?=\d{3}\b)", "", text)
    found = []
    for number, unit in re.findall(rf"({NUMBER})\s*(ppm|mm²|cm²|[^\s\d±+-]?)", joined):
        scale = {"mm²": 1e-6, "cm²": 1e-4}.get(unit, SCALES.get(unit, 1.0))
        found.append({sign * value for sign in (1, -1) for value in (float(number), float(number) * scale)})
    return found


def item_figures(item: Item) -> list[set[float]]:
    """Every value of an item and every number said of it beside, each once, with what it may mean."""
    q = quantities(item)
    found = [{value.nominal, -value.nominal, *readings(value.text)[0]} for value in q.values()]
    found += [reading for text in item.also.values() for reading in readings(text)]
    if "lockout_on" in q:
        found.append({q["lockout_on"].nominal - q["lockout_off"].nominal})  # hysteresis
    for words in ("short-circuit constant", "heat capacity of the copper"):  # per mm², in MJ
        found += [{float(item.also[words].split()[0]) * 1e6}] if words in item.also else []
    return found


def item_margins(item: Item) -> set[float]:
    """Every tolerance of an item."""
    margins = {0.0}
    for text in (*item.values.values(), *item.also.values()):
        for number, unit in re.findall(rf"±({NUMBER})\s*(\S?)", text):
            margins |= {sign * float(number) * SCALES.get(unit, 1.0) for sign in (1, -1)}
        for low, high, unit in re.findall(rf"-({NUMBER})/\+({NUMBER}) (\S)", text):
            margins |= {-float(low) * SCALES.get(unit, 1.0), float(high) * SCALES.get(unit, 1.0)}
    for words in ("reverse_threshold",):  # listed with the other sign
        margins |= {-m for m in margins} if words in item.values else set()
    for words in ("ageing", "resistance lies"):
        margins |= {m for reading in readings(item.also.get(words, "")) for m in reading}
    return margins


def unmatched(row: dict[str, str], item: Item) -> int:
    """How many numbers of the row the item does not hold, each number of the item counting once."""
    wanted, held = row_figures(row), item_figures(item)
    pairs = np.array([[any(close(value, n) for value in reading) for reading in held] for n in wanted])
    matched = maximum_bipartite_matching(csr_matrix(pairs.astype(np.int8)), perm_type="column")
    margins = item_margins(item)
    lost = [m for m in row_margins(row) if not any(close(margin, m) for margin in margins)]
    return int((matched < 0).sum()) + len(lost)


@pytest.mark.skipif(not LIST.exists(), reason=f"SKIPPED, NOT CHECKED: the list of parts is not at {LIST}")
def test_every_number_of_the_list_is_on_the_shelf() -> None:
    with LIST.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(items())
    for family in shelf.FAMILIES:
        listed = [row for row in rows if FAMILY_OF[row["kind"]] == family]
        shelved = [item for item in items() if item.family == family]
        lost = np.array([[unmatched(row, item) for item in shelved] for row in listed])
        worst = {row["name"]: min(counts) for row, counts in zip(listed, lost.tolist()) if min(counts)}
        assert not worst, f"{family}: numbers of the list that no part holds"
        match = maximum_bipartite_matching(csr_matrix((lost == 0).astype(np.int8)), perm_type="column")
        assert (match >= 0).all(), f"{family}: two rows of the list are one part of the shelf"
