import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from tideover.laws import capacitors


@pytest.mark.parametrize(
    ("c", "v_0", "v_min", "p", "esr"),
    [(10e-3, 12.0, 9.0, 20.0, 0.05), (2.5, 5.4, 3.0, 10.0, 0.18), (2.5, 5.4, 0.5, 10.0, 0.18)],
)
def test_hold_up_agrees_with_integrating_the_discharge(c, v_0, v_min, p, esr):
    floor = max(v_min, np.sqrt(p * esr) * (1 + 1e-7))

    def terminal(inside):
        return 0.5 * (inside + np.sqrt(max(inside**2 - 4 * p * esr, 0.0)))

    def below(_, v):
        return v[0] - (floor + p * esr / floor)

    below.terminal = True
    run = solve_ivp(
        lambda _, v: [-p / terminal(v[0]) / c],
        (0, 1e3),
        [v_0],
        events=below,
        rtol=1e-10,
        atol=1e-12,
        max_step=0.01 * c,
    )
    assert capacitors.hold_up_constant_power(c, v_0, v_min, p, esr) == pytest.approx(
        run.t_events[0][0], rel=1e-5
    )


def test_without_resistance_it_is_the_energy_formula():
    assert capacitors.hold_up_constant_power(1e-2, 12.0, 9.0, 20.0) == pytest.approx(
        1e-2 * (144 - 81) / 40, rel=1e-12
    )


def test_no_load_holds_for_ever():
    assert capacitors.hold_up_constant_power(1e-2, 12.0, 9.0, 0.0, 0.05) == np.inf
    assert capacitors.hold_up_constant_current(1e-2, 12.0, 9.0, 0.0, 0.05) == np.inf


def test_no_capacitance_holds_for_no_time():
    assert capacitors.hold_up_constant_power(0.0, 12.0, 9.0, 20.0, 0.05) == 0.0
    assert capacitors.hold_up_constant_current(0.0, 12.0, 9.0, 2.0, 0.05) == 0.0


def test_a_first_step_below_the_limit_holds_for_no_time():
    assert capacitors.hold_up_constant_power(1e-2, 12.0, 11.95, 20.0, 0.05) == 0.0
    assert capacitors.hold_up_constant_current(1e-2, 12.0, 11.95, 2.0, 0.05) == 0.0


def test_a_load_past_the_collapse_has_no_voltage_and_no_time():
    assert np.isnan(capacitors.terminal_voltage(2.0, 10.0, 0.18))
    assert capacitors.hold_up_constant_power(2.5, 2.0, 1.0, 10.0, 0.18) == 0.0


def test_nothing_is_gained_below_the_collapse_voltage():
    at_collapse = capacitors.collapse_voltage(10.0, 0.18)
    held = [capacitors.hold_up_constant_power(2.5, 5.4, v, 10.0, 0.18) for v in (0.0, 0.5, at_collapse)]
    assert held == pytest.approx([held[-1]] * 3, rel=1e-12)


@given(st.floats(1e-3, 10.0), st.floats(1.0, 3.0), st.floats(0.5, 50.0), st.floats(0.0, 0.3))
def test_more_capacitance_never_shortens_hold_up(c, more, p, esr):
    short, long = (capacitors.hold_up_constant_power(x, 12.0, 9.0, p, esr) for x in (c, c * more))
    assert long >= short


@given(st.floats(1e-3, 100.0), st.floats(0.5, 40.0), st.floats(0.0, 0.05), st.floats(0.0, 1e-3))
def test_required_capacitance_just_holds(t, p, esr, esr_c):
    c = capacitors.required_capacitance(t, 12.0, 9.0, p, esr, esr_c)
    assert capacitors.hold_up_constant_power(c, 12.0, 9.0, p, esr + esr_c / c) == pytest.approx(t, rel=1e-6)


def test_no_capacitance_is_enough_when_the_resistance_alone_takes_the_voltage():
    assert capacitors.required_capacitance(1e-3, 12.0, 11.95, 20.0, 0.05) == np.inf
    assert capacitors.required_capacitance(1e-3, 9.0, 12.0, 20.0) == np.inf


def test_no_time_or_no_load_needs_no_capacitance():
    assert capacitors.required_capacitance(0.0, 12.0, 9.0, 20.0) == 0.0
    assert capacitors.required_capacitance(1.0, 12.0, 9.0, 0.0) == 0.0


def test_required_capacitance_takes_arrays():
    c = capacitors.required_capacitance(np.array([1e-3, 2e-3]), 12.0, 9.0, np.array([[10.0], [20.0]]))
    assert c.shape == (2, 2)


def test_inrush_integral_and_loss_agree_with_the_exponential():
    v, r, c = 12.0, 0.15, 1e-2
    t = np.linspace(0.0, 30 * r * c, 200001)
    i = capacitors.inrush_current(v - capacitors.charging_voltage(t, 0.0, v, r, c), r)
    assert np.trapezoid(i**2, t) == pytest.approx(capacitors.inrush_i2t(v, r, c), rel=1e-6)
    assert np.trapezoid(i**2 * r, t) == pytest.approx(capacitors.inrush_loss(v, c), rel=1e-6)


def test_a_perfect_capacitor_keeps_its_nominal_value():
    assert capacitors.effective_capacitance(1e-3, 0.0) == 1e-3


def test_life_doubles_per_ten_kelvin_and_polymer_gains_tenfold_per_twenty():
    assert capacitors.electrolytic_life(1.0, 378.15, 368.15) == 2.0
    assert capacitors.electrolytic_life(1.0, 378.15, 358.15, doubling=20 / np.log2(10)) == pytest.approx(10.0)


def test_class_2_ceramic_is_nominal_after_an_hour():
    assert capacitors.ceramic_ageing(3600.0) == 1.0
