import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from tideover.laws import relays


@pytest.mark.parametrize("v_clamp", [0.0, 0.7, 24.7])
def test_release_time_agrees_with_integrating_the_coil(v_clamp):
    inductance, r, i_0, i_release = 2.29, 275.0, 0.0436, 0.0174

    def fallen(_, i):
        return i[0] - i_release

    fallen.terminal = True
    run = solve_ivp(
        lambda _, i: -(i * r + v_clamp) / inductance, (0, 1), [i_0], events=fallen, rtol=1e-10, atol=1e-14
    )
    assert relays.release_time(inductance, r, i_0, i_release, v_clamp) == pytest.approx(
        run.t_events[0][0], rel=1e-7
    )


@given(st.floats(0.0, 50.0), st.floats(0.1, 50.0))
def test_more_clamp_voltage_never_releases_later(v, more):
    slow, fast = (relays.release_time(2.29, 275.0, 0.0436, 0.0174, x) for x in (v, v + more))
    assert fast <= slow


def test_a_coil_already_below_release_takes_only_its_travel():
    assert relays.release_time(2.29, 275.0, 0.01, 0.02, 0.7, t_armature=1.5e-3) == 1.5e-3


def test_operate_time_is_endless_when_the_current_never_gets_there():
    assert relays.operate_time(1.0, 275.0, 8.0, 9.0 / 275.0) == np.inf
    assert relays.operate_time(1.0, 275.0, 12.0, 0.0) == 0.0


def test_operate_time_of_one_time_constant():
    assert relays.operate_time(1.0, 100.0, 10.0, 0.1 * (1 - np.exp(-1))) == pytest.approx(0.01, rel=1e-12)


def test_supply_falls_at_once_without_capacitance():
    assert relays.supply_fall_time(0.0, 12.0, 0.3, 10.0) == 0.0
    assert relays.supply_fall_time(1e-3, 12.0, 1.0, 10.0) == 0.0


def test_warm_coil_needs_more_voltage_in_proportion_to_its_resistance():
    assert relays.operate_voltage(9.0, 350.0) / 9.0 == pytest.approx(
        relays.coil_resistance(275.0, 350.0) / 275.0
    )
