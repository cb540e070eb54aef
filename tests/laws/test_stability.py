import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tideover.laws import stability


@given(st.floats(1.0, 60.0), st.floats(1e-3, 2.0), st.floats(0.0, 0.999))
def test_standing_voltage_balances_power_on_the_upper_branch(v_source, r, share):
    p = share * stability.power_limit(v_source, r)
    v = stability.standing_voltage(v_source, p, r)
    assert v * (v_source - v) / r == pytest.approx(p, rel=1e-6, abs=1e-9)
    assert v >= 0.5 * v_source


def test_no_standing_point_past_the_limit():
    assert np.isnan(stability.standing_voltage(12.0, 72.1, 0.5))
    assert stability.load_factor(12.0, 144.0, 0.5) == pytest.approx(0.5)


def test_no_load_or_no_resistance_leaves_the_source_alone():
    assert stability.standing_voltage(12.0, 0.0, 0.5) == 12.0
    assert stability.standing_voltage(12.0, 50.0, 0.0) == 12.0
    assert stability.load_factor(12.0, 0.0, 0.5) == np.inf


@pytest.mark.parametrize(("v", "r", "limit"), [(3.6, 0.15, 21.6), (5.0, 0.4, 15.6)])
def test_published_limits(v, r, limit):
    assert stability.power_limit(v, r) == pytest.approx(limit, rel=5e-3)


def test_lockout_is_the_collapse_when_it_comes_later():
    assert stability.lockout_power(3.6, 1.0, 0.15) == stability.power_limit(3.6, 0.15)
    assert stability.lockout_power(3.6, 3.6, 0.15) == 0.0
    assert stability.lockout_power(3.6, 3.7, 0.15) == 0.0


def roots(inductance, r, c, v, p, esr):
    rho = v**2 / p
    return np.roots(
        [inductance * c * (1 - esr / rho), c * (r + esr - r * esr / rho) - inductance / rho, 1 - r / rho]
    )


@given(st.floats(1e-7, 1e-5), st.floats(0.01, 1.0), st.floats(0.0, 0.2), st.floats(1.0, 30.0))
def test_input_capacitance_separates_ringing_down_from_ringing_up(inductance, r, esr, p):
    c = stability.least_input_capacitance(inductance, r, 9.0, p, esr)
    assert np.all(roots(inductance, r, 1.01 * c, 9.0, p, esr).real < 0.0)
    assert np.any(roots(inductance, r, 0.99 * c, 9.0, p, esr).real > 0.0)


def test_no_capacitor_helps_a_source_of_too_much_resistance():
    assert stability.least_input_capacitance(1e-6, 5.0, 9.0, 20.0) == np.inf


def test_no_load_needs_no_input_capacitance():
    with np.errstate(divide="ignore"):
        assert stability.least_input_capacitance(1e-6, 0.2, 9.0, np.float64(0.0)) == 0.0


def test_droop_is_the_larger_of_its_two_causes():
    assert stability.load_step_droop(1.0, 0.5, 5e3, 1.0) == 0.5
    assert stability.load_step_droop(0.0, 0.5, 5e3, 1e-6) == 0.0


def test_damping_resistance_is_the_wave_impedance():
    assert stability.damping_branch(1e-6, 1e-6) == (4e-6, 1.0)


def test_boost_zero_sinks_as_the_duty_grows():
    zero = stability.boost_zero(12.0, np.array([0.3, 0.5, 0.7]), 1e-5)
    assert np.all(np.diff(zero) < 0.0)
