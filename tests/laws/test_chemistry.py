"""The limits of every chemistry hang together, and meet the shelf's cells and boards."""

from __future__ import annotations

import pytest

from tideover.laws.chemistry import CHEMISTRY
from tideover.parts.pack import CHEMISTRIES, PACK


def test_every_chemistry_of_a_pack_has_limits() -> None:
    assert set(CHEMISTRY) == set(CHEMISTRIES)


@pytest.mark.parametrize("name", CHEMISTRIES)
def test_limits_stand_in_their_order(name: str) -> None:
    c = CHEMISTRY[name]
    assert 0.0 < c.discharge_abs < c.discharge_min < c.standby_max < c.charge_max < c.charge_abs
    assert c.discharge_coldest <= c.charge_coldest < c.charge_warmest <= c.discharge_warmest
    assert c.source


def test_the_usual_figures_of_a_lithium_cell() -> None:
    c = CHEMISTRY["NMC"]
    assert (c.charge_max, c.charge_abs, c.discharge_abs) == (4.20, 4.25, 2.5)
    assert c.charge_coldest == pytest.approx(273.15) and c.charge_warmest == pytest.approx(318.15)
    assert c.charge_coldest == PACK.parameter("coldest charge").default
    assert c.charge_warmest == PACK.parameter("warmest charge").default
