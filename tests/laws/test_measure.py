import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from tideover.laws import measure

ROW = arrays(float, 3, elements=st.floats(-2.0, 2.0))
FACTOR = arrays(float, (3, 3), elements=st.floats(-1.0, 1.0))


def updated(p, h, r):
    """Covariance after the reading, by the textbook update of a linear model."""
    return np.linalg.inv(np.linalg.inv(p) + np.outer(h, h) / r)


@given(ROW, FACTOR, st.floats(0.01, 1.0))
def test_information_is_half_the_fall_of_the_log_determinant(h, a, r):
    p = a @ a.T + 0.1 * np.eye(3)
    fall = np.linalg.slogdet(p)[1] - np.linalg.slogdet(updated(p, h, r))[1]
    assert measure.information_gain(h, p, r) == pytest.approx(0.5 * fall, rel=1e-6, abs=1e-9)


@given(ROW, ROW, FACTOR, st.floats(0.01, 1.0))
def test_variance_gain_is_the_fall_of_the_variance(c, h, a, r):
    p = a @ a.T + 0.1 * np.eye(3)
    fall = c @ p @ c - c @ updated(p, h, r) @ c
    assert measure.variance_gain(c, h, p, r) == pytest.approx(fall, rel=1e-6, abs=1e-9)


def test_a_reading_that_depends_on_nothing_tells_nothing():
    p = np.eye(2)
    assert measure.information_gain([0.0, 0.0], p, 0.1) == 0.0
    assert measure.variance_gain([1.0, 1.0], [0.0, 0.0], p, 0.1) == 0.0


def test_many_readings_are_ranked_at_once():
    h = np.array([[1.0, 0.0], [0.0, 1.0], [1.0, 1.0]])
    assert measure.information_gain(h, np.eye(2), 0.1).shape == (3,)
    assert measure.variance_gain([1.0, 1.0], h, np.eye(2), 0.1).argmax() == 2


def test_meter_limit_counts_both_parts_whatever_the_sign():
    assert measure.meter_limit(np.array([-10.0, 0.0, 10.0]), 0.005, 2, 0.01) == pytest.approx(
        [0.07, 0.02, 0.07]
    )


def test_uniform_limit_has_the_deviation_of_a_uniform_distribution():
    draws = np.random.default_rng(1).uniform(-1.0, 1.0, 400_000)
    assert measure.standard_uncertainty(1.0) == pytest.approx(draws.std(), rel=5e-3)


def test_gain_error_cancels_in_the_difference_of_equal_readings():
    u = measure.difference_uncertainty(12.0, 12.0, 0.005, 2, 0.01)
    assert u == pytest.approx(np.sqrt(2) * 0.02 / np.sqrt(3))
    assert measure.difference_uncertainty(12.0, 2.0, 0.005, 0, 0.01) == pytest.approx(0.05 / np.sqrt(3))


def test_burden_is_taken_out_exactly():
    v, r_source, r_burden = 1.0, 0.5, 0.03
    assert measure.unburdened_current(v / (r_source + r_burden), r_burden, r_source) == pytest.approx(
        v / r_source
    )


@given(st.floats(-1e-5, 1e-5))
def test_a_thermal_voltage_drops_out(offset):
    r = 3e-3
    assert measure.four_wire_resistance(r * 1.0 + offset, r * -1.0 + offset, 1.0, -1.0) == pytest.approx(
        r, rel=1e-9
    )
