"""A good build file becomes a design that says what it says, and where each value comes from."""

from __future__ import annotations

import jsonschema
import pytest
from ruamel.yaml import YAML

from design.fakes import GOOD, KINDS, SHELF
from tideover.design import BuildError, Design, examine_text, place_of, read, schema


@pytest.fixture
def design(tmp_path) -> Design:
    file = tmp_path / "build.yaml"
    file.write_text(GOOD, encoding="utf-8")
    return read(file, kinds=KINDS, shelf=SHELF)


def of(text: str) -> Design:
    return examine_text(text, kinds=KINDS, shelf=SHELF).design()


def test_title_and_need_are_in_si(design):
    need = design.need
    assert design.title == "Choir loft lamp"
    assert need.at == "load"
    assert need.window == pytest.approx((11.4, 12.6))
    assert need.dips == ((10.5, 5e-3), (9.0, pytest.approx(5e-4)))
    assert (need.runtime, need.recharge) == (8 * 3600, 14 * 3600)
    assert need.ambient == pytest.approx((273.15, 313.15))
    assert need.outages.text == "6 per year, lognormal median 52 min spread 1.3"
    assert (need.policy, need.years) == ("usual", 5.0)


def test_parts_keep_the_order_of_the_file(design):
    assert list(design.parts)[:4] == ["brick", "lead", "mains diode", "charger"]


def test_every_parameter_has_a_value_and_an_origin(design):
    for part in [*design.parts.values(), design.box]:
        names = {p.name for p in KINDS[part.kind].parameters}
        assert set(part.values) == names == set(part.origins), part.name


def test_origin_names_file_shelf_or_default(design):
    charger, diode, pack = (design.parts[name] for name in ("charger", "mains diode", "pack"))
    assert charger.origins == {"hold_voltage": "shelf: typical, unverified", "charge_current": "build.yaml"}
    assert diode.origins == {"drop": "default: tables"}
    assert pack.origins["capacity"] == "shelf: published test"
    assert charger.shelf == "buck charger 12.6 V 2 A"


def test_file_overrules_cell_whatever_comes_first():
    first = of(GOOD.replace("series: 3, parallel: 4", "series: 3, parallel: 4, capacity: 2 Ah"))
    last = of(
        GOOD.replace("{cells: high drain cell 2.5 Ah, ", "{capacity: 2 Ah, cells: high drain cell 2.5 Ah, ")
    )
    for design in (first, last):
        assert design.parts["pack"].values["capacity"].nominal == 7200
        assert design.parts["pack"].values["parallel"].nominal == 4


def test_tolerance_reaches_the_value(design):
    esr = design.parts["hold-up"].values["ESR"]
    assert (esr.low, esr.nominal, esr.high) == pytest.approx((0.0175, 0.035, 0.035))


def test_word_is_kept_as_its_position(design):
    assert design.parts["lamp"].values["law"] == 1.0


def test_nested_keys_are_the_same_as_spoken_ones():
    flat = of(GOOD.replace("lockout: {off: 9.0 V, on: 9.6 V}", "lockout off: 9.0 V, lockout on: 9.6 V"))
    nested = of(GOOD)
    assert flat.parts["converter"].values == nested.parts["converter"].values
    assert nested.parts["converter"].values["lockout_on"].nominal == 9.6


def test_peak_says_three_things(design):
    lamp = design.parts["lamp"].values
    assert [lamp[k].nominal for k in ("peak_power", "peak_duration", "peak_interval")] == [21.6, 0.04, 10.0]


def test_peak_without_interval_keeps_the_usual_one():
    design = of(GOOD.replace(" every 10 s", ""))
    assert design.parts["lamp"].origins["peak_interval"].startswith("default")


def test_box_is_a_part_whose_air_is_that_of_the_need(design):
    box = design.box
    assert box.kind == "box"
    assert [box.values[k].nominal for k in ("width", "depth", "height", "wall")] == [0.2, 0.15, 0.08, 0.0025]
    assert box.values["vent_area"].nominal == pytest.approx(6e-4)
    assert (box.values["ambient"].low, box.values["ambient"].high) == pytest.approx((273.15, 313.15))


def test_unequal_vents_count_as_two_equal_ones_in_line():
    design = of(GOOD.replace("6 cm² low and 6 cm² high", "3 cm² low and 6 cm² high"))
    low, high = 3e-4, 6e-4
    in_line = (low**-2 + high**-2) ** -0.5
    assert design.box.values["vent_area"].nominal == pytest.approx(2**0.5 * in_line)


def test_box_may_come_from_the_shelf():
    design = of(GOOD[: GOOD.index("box:")] + "box: Plastic box, small\n")
    assert design.box.values["width"].nominal == 0.1


def test_places_point_at_the_values(design):
    lines = GOOD.splitlines()
    place = place_of(design, "hold-up", "ESR")
    assert lines[place.line - 1][place.column - 1 :].startswith("35 mΩ")
    place = place_of(design, "lamp", "peak_duration")
    assert lines[place.line - 1][place.column - 1 :].startswith("40 ms")
    place = place_of(design, "lead")
    assert lines[place.line - 1][place.column - 1 :].startswith("lead:")


def test_chain_keeps_nodes_parts_and_terminals(design):
    links = [str(link) for chain in design.chains for link in chain.links]
    assert links[:3] == ["brick", "lead", "(inlet)"]
    assert "relay.back" in links and "relay.coil plus" in links


def test_names_are_found_whatever_their_case_and_spaces():
    design = of(GOOD.replace("(inlet) > mains diode > (bus)", "(INLET)>Mains  Diode → (Bus)"))
    assert [str(link) for link in design.chains[1].links] == ["(inlet)", "mains diode", "(Bus)"]
    assert str(design.chains[5].links[1]) == "(Bus)", "the first spelling names the node"


def test_keys_are_found_whatever_their_case():
    assert (
        of(GOOD.replace("ESR:", "esr:").replace("need:", "Need:")).parts["hold-up"].values["ESR"].nominal
        == 0.035
    )


def test_alias_is_followed():
    text = GOOD.replace("lead: {kind", "lead: &copper {kind").replace(
        "  mains diode: {kind: diode}", "  mains diode: *copper"
    )
    assert of(text).parts["mains diode"].kind == "cable"


def test_windows_line_ends_and_byte_order_mark_are_no_fault(tmp_path):
    file = tmp_path / "build.yaml"
    file.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert read(file, kinds=KINDS, shelf=SHELF).parts.keys() == of(GOOD).parts.keys()


def test_years_are_a_number_or_a_time():
    for written in ("3", "3 years", "36 months"):
        text = GOOD.replace("  policy: usual", f"  policy: usual\n  years: {written}")
        assert of(text).need.years == pytest.approx(3.0)


def test_ambient_has_a_usual_value():
    need = of(GOOD.replace("  ambient: 0 °C to 40 °C\n", "")).need
    assert need.ambient == pytest.approx((288.15, 308.15))


def test_schema_accepts_the_good_file_and_refuses_a_wrong_key():
    data = YAML(typ="safe", pure=True).load(GOOD)
    jsonschema.Draft202012Validator.check_schema(schema())
    jsonschema.validate(data, schema())
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**data, "joints": []}, schema())


def test_build_error_is_sorted_and_names_each_fault_once():
    draft = examine_text(
        GOOD.replace("12.6 V\n", "12.6\n").replace("2 m}", "2 kg}"), kinds=KINDS, shelf=SHELF
    )
    error = BuildError([*reversed(draft.faults), *draft.faults])
    assert [fault.where for fault in error.faults] == ["need.window", "lead.length"]
