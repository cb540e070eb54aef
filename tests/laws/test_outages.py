import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from tideover.laws import outages


def test_mean_of_the_distribution_is_the_mean_given():
    mean, _ = quad(lambda t: outages.outage_exceedance(t, 100.0, 0.8), 0.0, np.inf, limit=200)
    assert mean == pytest.approx(100.0, rel=1e-5)


@given(st.floats(0.001, 0.999), st.floats(60.0, 1e5), st.floats(0.1, 2.0))
def test_quantile_and_exceedance_are_inverse(share, mean, sigma):
    t = outages.outage_quantile(share, mean, sigma)
    assert outages.outage_exceedance(t, mean, sigma) == pytest.approx(1.0 - share, rel=1e-9, abs=1e-12)


def test_every_outage_outlasts_nothing_and_none_lasts_for_ever():
    assert outages.outage_exceedance(0.0) == 1.0
    assert outages.outage_exceedance(np.inf) == 0.0


def test_draws_from_the_law_have_its_median_and_tail():
    rng = np.random.default_rng(20)
    draws = rng.lognormal(outages.lognormal_mu(7200.0, 1.3), 1.3, 200_000)
    assert np.median(draws) == pytest.approx(outages.outage_quantile(0.5, 7200.0), rel=0.02)
    assert np.mean(draws > 14400.0) == pytest.approx(outages.outage_exceedance(14400.0, 7200.0), abs=0.003)


def test_no_outages_none_follows():
    assert outages.another_within(0.0, 1e6) == 0.0
    assert outages.another_within(1.0, 1e3) == pytest.approx(1.0)


def test_availability_of_no_minutes_is_full():
    assert outages.availability(0.0) == 1.0
    assert outages.availability(525_960.0) == pytest.approx(0.0, abs=1e-12)


def test_latent_fault_is_half_of_rate_times_interval_while_small():
    assert outages.latent_unavailability(0.0, 1.0) == 0.0
    assert outages.latent_unavailability(1e-9, 1.0) == pytest.approx(0.5e-9)
    assert outages.latent_unavailability(1e-5, 1.0) == pytest.approx(0.5e-5, rel=1e-4)
    assert outages.latent_unavailability(1e6, 1.0) == pytest.approx(1.0, rel=1e-5)
