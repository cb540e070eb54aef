"""States a build can stand in."""

from __future__ import annotations

import pytest

from answers.builds import charged, context, network, plain, two_diodes
from tideover.answers.states import MAINS_FULL, NAMES, Setting, charges, empty_at, levels, standing_states


def names(text):
    return [s.name for s in standing_states(network(text))]


def test_a_whole_build_has_all_six_states():
    assert names(charged()) == list(NAMES)


def test_a_build_without_a_charger_has_no_charging_state():
    assert names(two_diodes()) == [n for n in NAMES if n != "mains, charging"]


def test_a_build_without_a_pack_only_stands_on_mains_or_off():
    assert names(plain()) == ["mains, full", "switched off"]


def test_a_build_without_an_adapter_only_stands_on_the_pack_or_off():
    text = two_diodes().replace("  - brick > lead > (inlet) > first > (load)\n", "")
    for part in ("brick", "lead", "first"):
        text = "\n".join(line for line in text.split("\n") if not line.startswith(f"  {part}:"))
    assert names(text) == ["on pack, full", "on pack, half", "on pack, near cut-off", "switched off"]


def test_every_group_has_given_the_same_charge():
    build = network(two_diodes().replace("resistance: 45 mΩ", "resistance: 45 mΩ, capacity spread: 0.1"))
    found = charges(build, build.part("cells"), 0.5)
    assert found["cells", "charge"] == pytest.approx(0.5)
    assert 1.0 - found["cells", "weak_charge"] == pytest.approx(0.5 / 0.9)


def test_near_cut_off_leaves_a_twentieth_above_the_boards_cut_off():
    text = two_diodes(
        more="  board: {kind: protection board, series: 3, on resistance: 20 mΩ, cut-off: 3.35 V, "
        "cut-off release: 3.5 V, over-charge: 4.25 V, over-charge release: 4.1 V}\n"
    ).replace("  - cells >", "  - cells.minus > board > (return)\n  - cells.plus >")
    build = network(text)
    assert empty_at(build, build.part("cells")) == pytest.approx(0.05, abs=2e-3)
    near = next(s for s in standing_states(build) if s.name == "on pack, near cut-off")
    assert near.states["cells", "weak_charge"] == pytest.approx(0.10, abs=2e-3)


def test_a_load_without_a_switch_is_off_and_one_with_a_switch_is_cut_off():
    found = context(plain())
    off = next(s for s in found.states if s.name == "switched off")
    assert found.nominal.v(found.network.at)[found.row(Setting(off, "none")), 0] == pytest.approx(12.0, abs=1e-2)
    cut = context(
        plain(more="}\n  key: {kind: switch, contact resistance: 10 mΩ").replace("brick > wire", "brick > key > wire")
    )
    off = next(s for s in cut.states if s.name == "switched off")
    assert off.signals["key", "closed"] == 0.0
    assert abs(cut.nominal.v(cut.network.at)[cut.row(Setting(off)), 0]) < 0.1


def test_the_peak_only_counts_where_there_is_one():
    assert levels(network(plain())) == ("mean",)
    assert levels(network(plain(more=", peak power: 12 W"))) == ("mean", "peak")


def test_nothing_is_solved_twice():
    found = context(charged())
    assert found.nominal is found.nominal
    assert found.states is found.states


FLOAT = """
title: Float
need: {at: load, window: 10.5 V to 15 V, runtime: 4 h, recharge: 24 h}
parts:
  brick: 19 V 3.4 A adapter
  charger: lead-acid charger 12 V 1.5 A
  pack: {cells: AGM 12 V 7 Ah, series: 1}
  lamp: {kind: load, power: 3 W, nominal voltage: 12 V}
joins:
  - brick > charger > (load)
  - (load) > pack
  - (load) > lamp
"""


def test_a_block_on_float_takes_no_more_than_its_load_does():
    """It rests at 12.85 V by its table and is floated at 13.6 V: full is where next to none flows into it."""
    about = context(FLOAT)
    full = about.row(next(s for s in about.settings if s.standing.name == MAINS_FULL))
    points = about.nominal
    assert abs(points.q("pack", "discharge current [A]")[full, 0]) < 0.1
    assert points.q("charger", "charge current [A]")[full, 0] < 3.0 / 13.6
