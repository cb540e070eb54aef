import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tideover.laws import conductors
from tideover.laws.constants import COPPER, TEMP_20


def test_gauge_is_fixed_at_its_two_ends():
    assert conductors.awg_diameter(36) == pytest.approx(0.005 * 0.0254, rel=1e-12)
    assert conductors.awg_diameter(-3) == pytest.approx(0.46 * 0.0254, rel=1e-12)


def test_thirty_nine_gauges_make_a_factor_of_92():
    assert conductors.awg_diameter(0) / conductors.awg_diameter(39) == pytest.approx(92.0, rel=1e-12)


@pytest.mark.parametrize("build", conductors.IEC_60228)
def test_every_section_of_the_table_is_found(build):
    for area, r in zip(conductors.SECTIONS, conductors.IEC_60228[build]):
        assert conductors.iec_60228_resistance(area, build) == r


@pytest.mark.parametrize(
    ("build", "low", "high"), [("solid", 1.75e-8, 1.87e-8), ("flexible", 1.90e-8, 2.01e-8)]
)
def test_table_implies_a_resistivity_a_little_above_copper(build, low, high):
    rho = np.array(conductors.IEC_60228[build]) * np.array(conductors.SECTIONS)
    assert np.all((rho > low) & (rho < high)), rho


def test_a_section_that_is_not_in_the_table_names_its_neighbours():
    with pytest.raises(
        ValueError, match=r"0\.6 mm² is not a nominal section; the nearest are 0\.5 mm², 0\.75 mm²"
    ):
        conductors.iec_60228_resistance(0.6e-6)


def test_an_unknown_build_names_the_choices():
    with pytest.raises(ValueError, match=r'"braid" is not known; choose one of: solid, flexible\.'):
        conductors.iec_60228_resistance(0.5e-6, "braid")


def test_an_absurd_section_is_refused():
    for area in (0.0, -1e-6, float("nan"), float("inf")):
        with pytest.raises(ValueError):
            conductors.iec_60228_resistance(area)


def test_resistance_at_20_degrees_is_the_table_value():
    assert conductors.resistance_at(0.123, TEMP_20) == 0.123


def test_copper_law_is_that_of_the_234_5_degree_rule():
    temp = np.linspace(-40.0, 120.0, 9)
    assert conductors.resistance_at(1.0, temp + 273.15) == pytest.approx((234.5 + temp) / 254.5, rel=1e-3)


def test_a_lead_of_no_length_is_its_contacts():
    assert conductors.pair_resistance(0.0, 0.05, 0.05, 350.0, 0.03) == 0.03


def test_return_conductor_counts_in_full():
    one = conductors.pair_resistance(1.0, 0.05, 0.0)
    assert conductors.pair_resistance(1.0, 0.05, 0.05) == pytest.approx(2 * one, rel=1e-15)


def test_two_bars_in_series_add():
    whole = conductors.bar_resistance(30e-3, 8e-3, 0.15e-3)
    assert whole == pytest.approx(conductors.bar_resistance(10e-3, 8e-3, 0.15e-3) * 3, rel=1e-12)


@given(st.floats(0.1, 20.0), st.floats(1.0, 60.0))
def test_self_heating_closes_its_balance_or_has_none(i, h):
    r_20, perimeter, temp = 0.053, 4.7e-3, 303.15
    rise = float(conductors.self_heating_rise(i, r_20, perimeter, h, temp))
    if np.isinf(rise):
        assert i**2 * COPPER.alpha * r_20 >= h * perimeter
    else:
        assert h * perimeter * rise == pytest.approx(
            i**2 * conductors.resistance_at(r_20, temp + rise), rel=1e-9
        )


def test_no_current_no_rise():
    assert conductors.self_heating_rise(0.0, 0.05, 5e-3, 10.0, 300.0) == 0.0
