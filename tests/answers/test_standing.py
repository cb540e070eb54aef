"""What each point reads, against closed forms; and every finding tripped and mended."""

from __future__ import annotations

import math

import pytest

from answers.builds import charged, context, plain
from tideover.answers import standing
from tideover.answers.context import Context


def by_name(answer, name):
    return [f for f in answer.findings if f.name == name]


def nose(power, source=12.0, ohms=1.0):
    return 0.5 * (source + math.sqrt(source**2 - 4.0 * power * ohms))


def test_a_constant_power_load_stands_at_the_upper_root():
    answer = standing.answer(context(plain("20 W")))
    table = next(t for t in answer.tables if t.title.startswith("Voltage of every node"))
    row = dict((r[0], r[1:]) for r in table.rows)["load"]
    inner = nose(20.0)
    assert row[0] == pytest.approx(inner + 0.05 * 20.0 / inner, abs=1e-3)
    assert answer.status == "holds"
    assert "every standing state" in answer.headline


def test_past_the_collapse_limit_there_is_no_point_and_the_distance_is_told():
    answer = standing.answer(context(plain("48 W", window="1 V to 13 V")))
    (finding,) = by_name(answer, "no standing point")
    assert finding.status == "fails" and answer.status == "fails"
    assert finding.value == pytest.approx(36.0 / 48.0, abs=1.0 / 72.0)
    assert finding.place.startswith("build.yaml:")
    assert by_name(standing.answer(context(plain("20 W"))), "no standing point") == []


def test_the_worst_corner_of_the_window_is_the_one_known_by_hand():
    text = plain("10 W ±20 %", "0.75 Ω ±40 %").replace("voltage: 12 V,", "voltage: 12 V ±5 %,", 1)
    answer = standing.answer(context(text))
    low, high = answer.tables[1].rows[0][3:5]
    assert answer.tables[-1].title == "Window of the load"
    inner = nose(12.0, 11.4, 1.3)
    assert low == pytest.approx(inner + 0.05 * 12.0 / inner, abs=1e-3)
    assert high == pytest.approx(nose(8.0, 12.6, 0.7) + 0.05 * 8.0 / nose(8.0, 12.6, 0.7), abs=1e-3)


def test_a_load_outside_its_window_is_told_and_holds_when_the_wire_is_shortened():
    answer = standing.answer(context(plain("20 W", window="10.5 V to 13 V")))
    (finding,) = by_name(answer, "load voltage leaves its window")
    assert finding.status == "fails" and finding.margin < 0.0
    assert finding.limit == 10.5 and "outside" in finding.why
    mended = standing.answer(context(plain("20 W", "0.1 Ω", window="10.5 V to 13 V")))
    assert mended.status == "holds"


def test_a_small_margin_is_tight():
    volts = nose(20.0) + 0.05 * 20.0 / nose(20.0)
    answer = standing.answer(context(plain("20 W", window=f"{volts - 0.05:.4f} V to 13 V")))
    assert answer.status == "tight"


def test_an_overloaded_adapter_is_told_by_how_much():
    answer = standing.answer(context(charged("12 V 1 A adapter", "2 A")))
    finding = by_name(answer, "adapter is overloaded")[0]
    assert finding.state == "mains, charging" and finding.subject == "brick"
    assert finding.value > finding.limit == pytest.approx(0.97 * 1.4)
    assert "tries again" in finding.why
    assert by_name(standing.answer(context(charged("12 V 3 A adapter", "2 A"))), "adapter is overloaded") == []


def test_a_load_in_reset_is_told():
    reset = ", resets below: 11.5 V, restarts above: 12.5 V"
    answer = standing.answer(context(plain("20 W", more=reset)))
    (finding,) = by_name(answer, "load hangs in reset")
    assert finding.status == "fails" and finding.limit == 12.5
    easy = ", resets below: 8 V, restarts above: 9 V"
    assert by_name(standing.answer(context(plain("20 W", more=easy))), "load hangs in reset") == []


HUNTING = """
title: Hunting
need: {{at: load, window: 4 V to 6 V, ambient: 20 °C}}
parts:
  brick: {{kind: adapter, voltage: 12 V, rated current: 8 A, current limit: 9 A, output resistance: 0.2 Ω}}
  wire: {{kind: resistor, resistance: {ohms}}}
  module: {{kind: buck, set voltage: 5 V, current limit: 4 A, lockout off: 10.5 V, lockout on: 11 V}}
  lamp: {{kind: load, law: resistance, power: 10 W, nominal voltage: 5 V}}
joins:
  - brick > wire > module > (load) > lamp
"""


def test_a_converter_that_starves_itself_hunts_between_two_states():
    answer = standing.answer(context(HUNTING.format(ohms="2 Ω")))
    (finding,) = by_name(answer, "build hunts between two states")
    assert finding.status == "fails" and finding.subject == "module"
    assert "locked out" in finding.why and "running" in finding.why
    mended = standing.answer(context(HUNTING.format(ohms="0.2 Ω")))
    assert mended.status == "holds"


def test_a_weak_pack_close_to_collapse_is_told():
    """At 5 % left three cells rest at 10.05 V; aged, 1.56 ohm lie between them and the load."""
    text = """
title: Weak
need: {{at: load, window: 7 V to 20 V, ambient: 25 °C}}
parts:
  cells: {{kind: pack, chemistry: NMC, series: 3, capacity: 2.6 Ah, resistance: {ohms}, capacity spread: 0}}
  lamp: {{kind: load, power: 12 W, nominal voltage: 12 V}}
joins:
  - cells > (load) > lamp
"""
    weak = standing.answer(context(text.format(ohms="200 mΩ")))
    (finding,) = by_name(weak, "pack collapses under little more than its load")
    ohms = 1.5 * 3.05 * (0.2 * (1.0 + 25.0 * 0.15**2) + 0.012 + 0.015) + 0.003
    amps = (10.05 - 7.0) / ohms
    assert finding.value == pytest.approx((7.0 * amps - 0.05 * amps**2) / 12.0, abs=0.02)
    assert finding.status == "tight" and "aged" in finding.case
    strong = standing.answer(context(text.format(ohms="20 mΩ")))
    (finding,) = by_name(strong, "pack collapses under little more than its load")
    assert finding.status == "holds" and finding.value == 2.0


def test_the_same_seed_gives_the_same_answer():
    found = context(plain("10 W ±20 %", "0.75 Ω ±40 %"))
    assert standing.answer(found) == standing.answer(Context.of(found.network, found.seed))
