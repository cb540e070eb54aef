"""Who feeds and what flows back, against the diodes' law; every finding tripped and mended."""

from __future__ import annotations

import pytest

from answers.builds import context, plain, two_diodes
from tideover.answers import sources

FEEDS = "pack feeds the load while mains is present"


def named(answer, name):
    return [f for f in answer.findings if f.name == name]


def test_a_pack_above_the_adapter_feeds_the_load_and_a_higher_adapter_mends_it():
    answer = sources.answer(context(two_diodes("12 V ±5 %")))
    finding = named(answer, FEEDS)[0]
    assert finding.status == "fails" and finding.state == "mains, full" and finding.value > 0.9
    mended = sources.answer(context(two_diodes("15 V ±5 %")))
    finding = named(mended, FEEDS)[0]
    assert finding.status == "holds" and finding.value < 1e-3
    assert "brick feeds the load" in mended.headline


def test_only_the_low_corner_of_the_adapter_lets_the_pack_in():
    answer = sources.answer(context(two_diodes("13 V ±8 %")))
    finding = named(answer, FEEDS)[0]
    assert finding.status == "fails" and "brick voltage -8 %" in finding.case
    table = answer.tables[0]
    assert table.rows[0][-3] < 0.05 < 0.9 < table.rows[0][-2]


def test_two_like_sources_behind_like_diodes_share_by_resistance():
    """At equal open-circuit voltages the currents are as the conductances, diodes being alike and stiff."""
    text = two_diodes("12.52 V").replace("saturation current: 1 µA", "saturation current: 10 mA")
    found = context(text)
    sources.answer(found)
    points = found.nominal
    k = next(k for k, s in enumerate(points.settings) if s.label == "mains, full")
    out = float(points.q("brick", "current out [A]")[k, 0])
    pack = float(points.q("cells", "discharge current [A]")[k, 0])
    load = float(points.q("lamp", "drawn [A]")[k, 0])
    assert out + pack == pytest.approx(load, rel=1e-3)
    assert 0.1 < pack / load < 0.9


def test_a_diode_keeps_a_pulled_plug_dead_and_its_absence_does_not():
    kept = sources.answer(context(two_diodes("15 V")))
    (finding,) = named(kept, "pulled plug is live")
    assert finding.status == "holds" and abs(finding.value) < 1.0
    (back,) = named(kept, "pack feeds back into the adapter")
    assert back.status == "holds"
    bare = two_diodes("15 V").replace("first: {kind: diode, saturation current: 1 µA, ideality: 1.05, ", "first: {")
    bare = bare.replace("first: {series resistance: 30 mΩ, leakage: 10 µA}", "first: {kind: resistor, resistance: 1 Ω}")
    (finding,) = named(sources.answer(context(bare)), "pulled plug is live")
    assert finding.status == "tight" and finding.value == pytest.approx(12.0, abs=0.5)
    assert "through second" in finding.why


def test_a_greedy_dead_adapter_is_fed_back():
    bare = two_diodes("15 V").replace("current limit: 2.8 A", "current limit: 2.8 A, reverse leakage: 0.05 A")
    bare = bare.replace(
        "first: {kind: diode, saturation current: 1 µA, ideality: 1.05, series resistance: 30 mΩ, leakage: 10 µA}",
        "first: {kind: resistor, resistance: 1 Ω}",
    )
    (finding,) = named(sources.answer(context(bare)), "pack feeds back into the adapter")
    assert finding.status == "tight" and finding.value == pytest.approx(0.05 * 11.9 / 15.0, rel=0.05)


def test_a_leaky_part_on_the_pack_drains_it_while_mains_is_present():
    text = two_diodes("15 V", "  bleeder: {kind: resistor, resistance: 1.2 kΩ}\n").replace(
        "  - cells > second", "  - (pack plus) > bleeder > (return)\n  - cells > (pack plus) > second"
    )
    (finding,) = named(sources.answer(context(text)), "pack is drained while mains is present")
    assert finding.status == "fails" and finding.value == pytest.approx(12.55 / 1200.0, rel=0.05)
    (finding,) = named(sources.answer(context(two_diodes("15 V"))), "pack is drained while mains is present")
    assert finding.status == "holds"


def test_a_modules_reverse_drain_is_told():
    text = two_diodes(
        "15 V",
        "  module: {kind: boost, set voltage: 12 V, current limit: 2 A, reverse drain: 5 mA}\n",
    ).replace("  - cells > second", "  - (inlet) > module > (pack plus)\n  - cells > (pack plus) > second")
    (finding,) = named(sources.answer(context(text)), "unpowered module drains the pack")
    assert finding.subject == "module" and finding.status == "fails"
    less = sources.answer(context(text.replace("reverse drain: 5 mA", "reverse drain: 1 µA")))
    assert named(less, "unpowered module drains the pack") == []


def test_a_single_source_needs_no_judging():
    answer = sources.answer(context(plain()))
    assert answer.status == "holds" and "only source" in answer.headline
