"""The ratings answer on small builds: every rule tripped and mended, shares by hand, policies, what is not stated."""

from __future__ import annotations

import math

import pytest

from answers.builds import charged, context, plain
from tideover.answers import ratings
from tideover.answers.allowed import allowance, withstands
from tideover.answers.base import Answer, Finding
from tideover.answers.draws import starting
from tideover.answers.ripple import boost_ripple, buck_ripple
from tideover.laws.ampacity import installed_current


def fused(
    fuse: str = "10 A blade fuse",
    wire: str = "{kind: wire, section: 1.5 mm², length: 0.5 m}",
    power: str = "12 W",
    cells: str = "resistance: 45 mΩ",
    chain: str = "fuse > wire",
    policy: str = "usual",
    more: str = "",
    low: str = "> (return)",
) -> str:
    """Three groups of two cells, a fuse, a wire and a load; nothing else."""
    return f"""
title: Fused
need: {{at: load, window: 8 V to 13 V, ambient: 25 °C, policy: {policy}}}
parts:
  cells: {{kind: pack, chemistry: NMC, series: 3, parallel: 2, capacity: 2.6 Ah, {cells}}}
  fuse: {fuse}
  wire: {wire}
  lamp: {{kind: load, power: {power}, nominal voltage: 12 V}}
{more}joins:
  - (top) > cells {low}
  - (top) > {chain} > (load) > lamp
"""


BOARD = """  board: {kind: protection board, series: 3, on resistance: %s, cut-off: 2.5 V, cut-off release: 2.9 V,
    over-charge: 4.28 V, over-charge release: 4.08 V, short delay: %s}
"""


def answered(text: str) -> Answer:
    return ratings.answer(context(text))


def named(answer: Answer, name: str) -> Finding:
    found = [f for f in answer.findings if f.name == name]
    assert found, f"{name}: not among {[f.name for f in answer.findings]}"
    return found[0]


def test_1_a_fuse_loaded_too_near_its_rating():
    name = "fuse is loaded too near its rating"
    held = named(answered(fused()), name)
    amps = held.value
    assert held.status == "holds" and amps == pytest.approx(12.0 / 9.8, rel=0.1)
    assert held.limit == pytest.approx(7.5, rel=0.01)
    assert named(answered(fused("2 A blade fuse", power="17 W")), name).status == "tight"
    assert named(answered(fused("2 A blade fuse", power="30 W")), name).status == "fails"


def test_2_a_fuse_above_what_the_wire_carries_fails_and_a_thicker_wire_mends_it():
    name = "fuse does not protect the conductor behind it"
    thin = named(answered(fused(wire="{kind: wire, section: 0.14 mm², length: 0.5 m}")), name)
    assert (thin.status, thin.subject, thin.value) == ("fails", "wire", 10.0)
    assert "typical, unverified" in thin.why and thin.margin == pytest.approx(thin.limit - 10.0)
    assert named(answered(fused()), name).status == "holds"
    stated = named(answered(fused(wire="{kind: wire, section: 0.14 mm², length: 0.5 m, ampacity: 11 A}")), name)
    assert (stated.status, stated.margin) == ("holds", pytest.approx(1.0))


def test_3_a_conductor_that_burns_before_the_fuse_has_cleared():
    """A 5 mm track of 35 µm bears (115 A s^0.5/mm² * 0.175 mm²)² = 405 A²s; a 10 A blade lets 345 through at least."""
    name = "conductor burns before the fuse has cleared"
    track = "{kind: track, width: %s, length: 5 mm, ampacity: 12 A}"
    wide = named(answered(fused(wire=track % "6 mm")), name)
    assert (wide.status, wide.limit) == ("holds", pytest.approx((115.0 * 0.21) ** 2))
    narrow = named(answered(fused(wire=track % "4 mm")), name)
    assert (narrow.status, narrow.limit) == ("fails", pytest.approx((115.0 * 0.14) ** 2))
    assert narrow.value > 345.0


def test_4_a_long_thin_wire_keeps_a_short_from_opening_the_fuse():
    """20 m of 1 mm² and back are 0.8 ohm: some 10 A from tired cells, which a 10 A blade may carry for ever."""
    name = "short circuit is cleared slowly"
    assert named(answered(fused()), name).status == "holds"
    wire = "{kind: wire, section: 1 mm², length: 20 m, cores: 2, contacts: 0, ampacity: 12 A}"
    slow = named(answered(fused(wire=wire)), name)
    assert slow.status == "fails" and slow.value is None and "need not open" in slow.why
    weak = named(answered(fused(cells="resistance: 600 mΩ")), "source cannot open the fuse")
    assert weak.status == "tight" and weak.limit == 30.0 and weak.value < 30.0


def test_5_a_fuse_that_cannot_break_what_the_pack_drives():
    stated = "{kind: fuse, rating: 10 A, resistance: 8 mΩ, melting integral: 115 A²·s, %s}"
    small = answered(fused(stated % "voltage rating: 10 V, breaking capacity: 35 A"))
    assert named(small, "fuse cannot break the short circuit").status == "fails"
    assert named(small, "fuse cannot break the voltage").margin == pytest.approx(10.0 - 12.6, abs=0.1)
    silent = answered(fused(stated % "fusing factor: 1.6"))
    told = named(silent, "rating is not stated")
    assert "fuse: voltage rating" in told.why and "fuse: breaking capacity" in told.why
    assert told.status == "open" and silent.status != "open"


def test_6_two_fuses_in_a_row():
    name = "upper fuse melts with the lower one"
    second = "  second: %s A blade fuse\n"
    good = answered(fused("15 A blade fuse", chain="fuse > second > wire", more=second % 5))
    assert named(good, name).status == "holds"
    assert named(good, name).limit == pytest.approx(0.75 * 340.0 * 0.7)
    bad = answered(fused("7.5 A blade fuse", chain="fuse > second > wire", more=second % 5))
    assert named(bad, name).status == "tight"


def test_7_the_board_opens_before_the_fuse_melts():
    name = "fuse melts before the board opens"
    quick = answered(fused(more=BOARD % ("12 mΩ", "0.3 ms"), low="> (low) > board > (return)"))
    assert named(quick, name).status == "holds"
    slow = answered(fused(more=BOARD % ("12 mΩ", "20 ms"), low="> (low) > board > (return)"))
    assert named(slow, name).status == "tight"
    assert named(slow, name).limit == pytest.approx(0.020)


def test_7_an_adapter_gives_no_more_than_its_lead_bears():
    text = plain().replace(
        "wire: {kind: resistor, resistance: 0.75 Ω, tempco: 0 1/K}", "wire: {kind: cable, section: %s, length: 1 m}"
    )
    name = "limit of the source lies above what the wire bears"
    assert named(answered(text % "0.14 mm²"), name).status == "tight"
    assert named(answered(text % "1.5 mm²"), name).status == "holds"


def filled(farads: str) -> Answer:
    """A switch that joins the pack to a capacitor."""
    text = f"""
title: Filled
need: {{at: load, window: 8 V to 13 V, ambient: 25 °C}}
parts:
  cells: {{kind: pack, chemistry: NMC, series: 3, parallel: 2, capacity: 2.6 Ah, resistance: 45 mΩ}}
  fuse: 5 A blade fuse
  switch: {{kind: switch, contact resistance: 5 mΩ, ampacity: 6 A}}
  store: {{kind: capacitor, capacitance: {farads}, ESR: 20 mΩ}}
  wire: {{kind: resistor, resistance: 0.1 Ω}}
  lamp: {{kind: load, power: 12 W, nominal voltage: 12 V}}
joins:
  - cells > fuse > switch > (bus) > wire > (load) > lamp
  - (bus) > store
"""
    return answered(text)


def test_a_fuse_that_only_an_adapter_feeds_hardly_protects():
    """A 9 A limit behind a 5 A fuse is 1.8 times its rating, behind a 3 A fuse it is enough."""
    text = plain(more="}\n  fuse: FUSE blade fuse\n  spare: {kind: resistor, resistance: 1 kΩ").replace(
        "brick > wire", "brick > fuse > wire"
    )
    text = text.replace("> (load) > lamp", "> (load) > lamp\n  - (load) > spare > (return)")
    five = named(answered(text.replace("FUSE", "5 A")), "source cannot open the fuse")
    assert five.status == "tight" and five.margin == pytest.approx(9.0 - 15.0) and "1.8 times" in five.why
    assert named(answered(text.replace("FUSE", "3 A")), "source cannot open the fuse").status == "holds"


def test_8_and_9_closing_a_switch_onto_a_capacitor():
    small, large = filled("1 µF"), filled("47 mF")
    assert named(small, "inrush wears the fuse").status == "holds"
    assert named(large, "inrush wears the fuse").status == "fails"
    makes = named(large, "contact makes into an empty capacitor")
    assert makes.status == "tight" and makes.limit == 18.0
    ohms = 3 * (0.045 / 2 + 1e-3) + 0.0179 * 0.85 + 0.005 + 0.020
    assert makes.value == pytest.approx(12.6 / ohms, rel=0.1)
    welds = named(large, "contact welds before the short is cleared")
    assert welds.limit == pytest.approx(3.6 * 36.0) and welds.status == "holds"


def test_10_a_board_that_trips_on_the_load():
    name = "board trips before the converter's peak is over"
    clear = answered(fused(more=BOARD % ("12 mΩ", "0.3 ms"), low="> (low) > board > (return)"))
    assert named(clear, name).status == "holds"
    near = answered(fused(power="36 W", more=BOARD % ("50 mΩ", "0.3 ms"), low="> (low) > board > (return)"))
    assert named(near, name).status == "fails"


CONVERTED = """
title: Converted
need: {at: load, window: 4.5 V to 5.5 V, ambient: 25 °C}
parts:
  cells: {kind: pack, chemistry: NMC, series: 3, parallel: 2, capacity: 2.6 Ah, resistance: 45 mΩ}
  fuse: %s
  buck: {kind: buck, set voltage: 5 V, current limit: 6 A, lockout off: 7 V, lockout on: 7.5 V}
  jack: {kind: connector, contact resistance: 5 mΩ, ampacity: %s}
  lamp: {kind: load, power: 5 W, nominal voltage: 5 V}
joins:
  - cells > fuse > buck > jack > (load) > lamp
"""


def test_7_a_converter_at_its_limit_and_what_stands_before_and_behind_it():
    """6 A at 5 V from 7 V are 4.3 A: a 3 A blade, which carries 3.3 A, opens; a 5 A one does not."""
    before, behind = "fuse opens while the converter only limits", "limit of the source lies above what the wire bears"
    bad = answered(CONVERTED % ("3 A blade fuse", "5 A"))
    assert named(bad, before).value == pytest.approx(6.0 * 5.0 / 7.0, rel=0.05)
    assert (named(bad, before).status, named(bad, behind).status) == ("tight", "tight")
    good = answered(CONVERTED % ("5 A blade fuse", "8 A"))
    assert (named(good, before).status, named(good, behind).status) == ("holds", "holds")


def test_10_a_start_counts_for_as_long_as_the_coil_limits_it():
    """72 mJ into 1 mF at 12 V: 10 W and 48 W more for 3 ms ask for 11.6 A at 5 V; 5 A leave 15 W, so 4.8 ms."""
    text = CONVERTED.replace(
        "kind: buck, set voltage: 5 V, current limit: 6 A, lockout off: 7 V, lockout on: 7.5 V", "%s"
    )
    boost = "kind: boost, set voltage: 12 V, current limit: %s, lockout off: 4.7 V, lockout on: 5 V, soft start: 3 ms"
    parts = [context(text % ("5 A blade fuse", boost % limit, "8 A")).network.part("buck") for limit in ("5 A", "20 A")]
    amps, lasts = starting(parts[0], 10.0, 7.0, 1e-3)
    assert (amps, lasts) == (pytest.approx(5.0), pytest.approx(0.072 / 15.0))
    amps, lasts = starting(parts[1], 10.0, 7.0, 1e-3)
    assert (amps, lasts) == (pytest.approx(11.6), pytest.approx(3e-3))


def test_a_pack_without_a_fuse_fails_and_a_board_alone_is_tight():
    name = "pack is not fused"
    bare = fused("{kind: resistor, resistance: 10 mΩ}")
    assert named(answered(bare), name).status == "fails"
    boarded = fused(
        "{kind: resistor, resistance: 10 mΩ}", more=BOARD % ("12 mΩ", "0.3 ms"), low="> (low) > board > (return)"
    )
    assert named(answered(boarded), name).status == "tight"
    assert not [f for f in answered(fused()).findings if f.name == name]


def test_a_capacitor_past_its_share_is_tight_and_past_its_rating_fails():
    """12 V no load at a capacitor of 16 V: 75 %; of 13 V: 92 %, more than the 85 % of the usual policy; of 10 V."""

    def with_store(volts: str, policy: str = "usual") -> Answer:
        text = plain(more="}\n  store: {kind: capacitor, capacitance: 1 mF, voltage rating: " + volts)
        text = text.replace("> (load) > lamp", "> (load) > lamp\n  - (load) > store")
        return answered(text.replace("ambient: 20 °C", f"ambient: 20 °C, policy: {policy}"))

    name = "voltage past its rating"
    assert not [f for f in with_store("16 V").findings if f.name == name]
    tight = named(with_store("13 V"), name)
    assert (tight.status, tight.value) == ("tight", pytest.approx(12.0, rel=1e-3))
    assert tight.margin == pytest.approx(0.85 * 13.0 - 12.0, rel=1e-2) and "92 %" in tight.why
    assert named(with_store("10 V"), name).status == "fails"
    assert named(with_store("16 V", "strict"), name).status == "tight"


def test_shares_by_hand_in_the_table():
    answer = answered(plain())
    rows = {(row[0], row[1]): row for row in answer.tables[0].rows}
    amps = 6.0 / 11.5
    assert rows["brick", "current out"][4] == pytest.approx(amps / (0.9 * 8.0), rel=0.02)
    assert answer.status == "holds"


def test_ripple_of_converters_in_closed_form():
    assert boost_ripple(1.0, 6.0, 12.0) == pytest.approx(1.0)
    assert buck_ripple(2.0, 12.0, 6.0) == pytest.approx(1.0)
    text = charged("12 V 1 A adapter", "1 A", "}\n  store: {kind: capacitor, capacitance: 1 mF, ripple rating: 0.3 A")
    text = text.replace("  - brick > lead > (inlet)", "  - brick > lead > (inlet)\n  - (inlet) > store")
    (used,) = [f for f in answered(text).findings if f.subject == "store" and f.quantity == "ripple current"]
    assert used.status == "fails"
    duty = 8.0 / 11.5
    assert used.value == pytest.approx(math.sqrt(duty * (1.0 - duty)), rel=0.1)


def test_a_build_that_stands_nowhere_is_judged_by_what_needs_no_standing_point():
    answer = answered(fused(cells="resistance: 5 Ω", power="40 W"))
    assert named(answer, "source cannot open the fuse").status == "tight"
    assert named(answer, "fuse does not protect the conductor behind it").status == "holds"
    assert not [f for f in answer.findings if f.name == "fuse is loaded too near its rating"]


def test_a_collapsed_build_without_a_fuse_is_open_and_says_so():
    answer = answered(plain("48 W", window="1 V to 13 V"))
    assert answer.status == "open" and "no state has a standing point" in answer.headline


def test_nothing_stated_and_nothing_to_coordinate_is_open():
    text = plain().replace(
        "brick: {kind: adapter, voltage: 12 V, rated current: 8 A, current limit: 9 A, output resistance: 0.2 Ω}",
        "brick: {kind: pack, chemistry: NMC, series: 3, capacity: 2.6 Ah, resistance: 45 mΩ}",
    )
    answer = answered(text)
    assert "discharge rating" in named(answer, "rating is not stated").why


def test_allowances_follow_their_laws():
    net = context(fused(wire="{kind: track, width: 1 mm, length: 50 mm}")).network
    assert allowance(net.part("wire"), 298.15, 298.15).current == pytest.approx(3.24, abs=0.01)
    net = context(fused(wire="{kind: wire, section: 0.5 mm², length: 1 m}")).network
    cool, hot = (allowance(net.part("wire"), t, 298.15) for t in (298.15, 333.15))
    assert cool.breaks == pytest.approx(cool.current / 0.6)
    assert hot.current == pytest.approx(float(installed_current(cool.breaks, 333.15, 343.15)))
    assert withstands(net.part("wire")) == pytest.approx(3306, abs=1)
    net = context(fused(wire="{kind: strip, width: 8 mm, thickness: 0.15 mm, length: 20 mm}")).network
    assert allowance(net.part("wire"), 298.15, 298.15).current == pytest.approx(6.1, abs=0.05)


def test_curves_are_in_decades_and_above_nothing():
    curves = answered(fused(more=BOARD % ("12 mΩ", "0.3 ms"), low="> (low) > board > (return)")).series
    names = [c.name for c in curves]
    assert names[:3] == ["fuse, earliest", "fuse, middle", "fuse, latest"]
    assert "board, trips" in names and "wire, bears" in names
    assert all(c.log and min(c.x) > 0.0 < min(c.y) for c in curves)
