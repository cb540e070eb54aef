"""Which cautions a build calls for."""

from __future__ import annotations

import pytest

from tideover.answers.cautions import CAUTIONS, for_network
from tideover.design import examine_text
from tideover.network import settle

BUILD = """\
tideover: 1
title: Supply
need: {{at: lamp, window: 10 V to 14 V}}
parts:
  brick: {adapter}
  fuse: {{from: 5 A blade fuse}}
  first: Schottky 10 A 100 V, one leg
  charger: {charger}
  pack: {pack}
  second: Schottky 10 A 100 V, one leg
  hold-up: {{kind: capacitor, capacitance: {capacitance}, ESR: 35 mΩ, voltage rating: 63 V}}
  lamp: {{kind: load, power: 5 W, nominal voltage: 12 V}}
joins:
  - brick > (inlet) > first > (bus)
  - (inlet) > charger > (plus)
  - (plus) > pack
  - (plus) > {fuse} > second > (bus)
  - (bus) > hold-up
  - (bus) > lamp
box: plastic box 150 × 100 × 50 mm, sealed
"""
USUAL = {
    "adapter": "19 V 3.4 A adapter",
    "charger": "switching charger 3 series 2 A",
    "pack": "{cells: NMC 18650 2.6 Ah, series: 3}",
    "capacitance": "2.2 mF",
    "fuse": "fuse",
}
LITHIUM = {"lithium fire", "charging", "transport"}
ALWAYS = {"mains", "short circuit", "heat", "use", "rules"}


def keys(**changed):
    text = BUILD.format(**{**USUAL, **changed})
    if changed.get("fuse") == "wire":
        text = text.replace("fuse: {from: 5 A blade fuse}", "wire: {kind: wire, section: 1 mm², length: 1 m}")
    texts = for_network(settle(examine_text(text)))
    found = [c.key for c in CAUTIONS if c.text in texts]
    assert [c.text for c in CAUTIONS if c.key in found] == list(texts)
    return set(found)


def test_a_lithium_pack_with_a_charger():
    assert keys() == ALWAYS | LITHIUM | {"welding"}


def test_lead_acid_gives_off_gas_and_does_not_burn_like_lithium():
    found = keys(pack="{cells: AGM 12 V 7 Ah, series: 1}", charger="lead-acid charger 12 V 1.5 A")
    assert found == ALWAYS | {"lead-acid gas"}


@pytest.mark.parametrize(
    "pack",
    ["{cells: salvaged 18650 2 Ah, series: 3}", "{cells: NMC 18650 2.6 Ah, series: 3, health: 80 %}"],
)
def test_salvaged_cells_are_known_by_name_or_by_their_health(pack):
    assert "salvaged cells" in keys(pack=pack)


def test_a_single_cell_is_not_welded():
    assert "welding" not in keys(pack="{cells: NMC 18650 2.6 Ah, series: 1}")


def test_a_build_without_a_fuse():
    assert keys(fuse="wire") == keys() | {"unfused"}


def test_a_capacitor_that_stays_charged():
    assert "capacitors" in keys(capacitance="47 mF")


def test_more_than_sixty_volts():
    assert "voltage" not in keys(pack="{cells: NMC 18650 2.6 Ah, series: 14}")  # 58.8 V
    assert "voltage" in keys(pack="{cells: NMC 18650 2.6 Ah, series: 15}")


def test_every_caution_is_short_and_its_own():
    assert len({c.key for c in CAUTIONS}) == len({c.text for c in CAUTIONS}) == len(CAUTIONS)
    assert max(len(c.text) for c in CAUTIONS) < 200
    assert CAUTIONS[-1].key == "rules"
