import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tideover.laws import ageing
from tideover.laws.constants import TEMP_25, YEAR

LAWS = {
    "NMC standing": lambda t: ageing.nmc_calendar_loss(4.1, TEMP_25, t),
    "NMC used": lambda q: ageing.nmc_cycle_loss(3.7, 0.8, q),
    "NMC resistance standing": lambda t: ageing.nmc_calendar_growth(4.1, TEMP_25, t),
    "NMC resistance used": lambda q: ageing.nmc_cycle_growth(3.7, 0.8, q),
    "LFP standing": lambda t: ageing.lfp_calendar_loss(0.9, TEMP_25, t),
    "LFP used": lambda n: ageing.lfp_cycle_loss(0.5, 0.8, n),
    "LFP throughput": lambda q: ageing.lfp_throughput_loss(0.5, TEMP_25, q),
    "film": lambda t: ageing.film_loss(ageing.film_damage(0.8, 0.5, TEMP_25, 0.0, t)),
}


@pytest.mark.parametrize("law", LAWS.values(), ids=LAWS)
def test_nothing_is_lost_at_first_and_more_later(law):
    assert law(0.0) == pytest.approx(0.0, abs=1e-12)
    assert np.all(np.diff(law(np.linspace(1e5, 1e7, 20))) > 0.0)


def test_warmth_and_voltage_speed_standing_loss():
    assert ageing.nmc_calendar_loss(4.2, 308.15, YEAR) / ageing.nmc_calendar_loss(
        4.2, TEMP_25, YEAR
    ) == pytest.approx(2.1, abs=0.05)
    slower = ageing.nmc_calendar_loss(4.2, TEMP_25, YEAR) / ageing.nmc_calendar_loss(
        np.array([4.05, 3.90]), TEMP_25, YEAR
    )
    assert slower == pytest.approx([1.17, 1.4], abs=0.02)


def test_an_almost_empty_nmc_cell_does_not_gain_capacity():
    assert ageing.nmc_calendar_loss(3.0, TEMP_25, YEAR) == 0.0


def test_lfp_half_full_agrees_with_published_losses():
    t = np.array([1.0, 5.0, 10.0]) * YEAR
    assert ageing.lfp_calendar_loss(0.5, TEMP_25, t) * 100 == pytest.approx([4.3, 9.5, 13.5], abs=0.06)
    assert ageing.lfp_calendar_loss(1.0, TEMP_25, t) * 100 == pytest.approx([6.8, 15.2, 21.4], abs=0.06)


def test_film_law_ends_with_everything_lost():
    assert ageing.film_loss(1e3) == pytest.approx(1.0)


@given(st.floats(1e-4, 0.2), st.floats(1e-4, 0.1), st.sampled_from([0.5, 0.75]), st.floats(0.1, 10.0))
def test_two_steps_at_one_stress_make_one(loss, rate, exponent, step):
    twice = ageing.continue_loss(
        ageing.continue_loss(loss, rate, exponent, step / 2), rate, exponent, step / 2
    )
    assert twice == pytest.approx(ageing.continue_loss(loss, rate, exponent, step), rel=1e-9)


def test_no_time_adds_no_loss():
    assert ageing.continue_loss(0.05, 0.01, 0.75, 0.0) == pytest.approx(0.05)


def test_float_life_halves_per_ten_kelvin():
    assert ageing.lead_acid_float_life(5.0, TEMP_25) == 5.0
    assert ageing.lead_acid_float_life(5.0, TEMP_25 + 10.0) == 2.5
