import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tideover.laws import chargers


def test_charge_time_agrees_with_integrating_the_charge():
    soc, capacity, i, i_end, r, slope, full, v_cv = 0.2, 9000.0, 1.25, 0.125, 0.12, 0.85, 4.185, 4.2

    def current(s):
        return min(i, (v_cv - full + slope * (1 - s)) / r)

    def ended(_, s):
        return current(s[0]) - i_end

    ended.terminal = True
    run = solve_ivp(
        lambda _, s: [current(s[0]) / capacity], (0, 1e5), [soc], events=ended, rtol=1e-9, max_step=20.0
    )
    charge = chargers.charge_time(soc, capacity, i, i_end, r, slope, full, v_cv)
    assert charge.t_current + charge.t_voltage == pytest.approx(run.t_events[0][0], rel=1e-4)


def test_a_start_on_the_tail_has_no_constant_current():
    charge = chargers.charge_time(0.95, 9000.0, 1.25, 0.125, 0.12, 0.85, 4.185, 4.2)
    assert charge.t_current == 0.0
    assert charge.t_voltage == pytest.approx(
        0.12 * 9000 / 0.85 * np.log((0.015 + 0.85 * 0.05) / 0.12 / 0.125)
    )


def test_a_full_pack_takes_no_time():
    charge = chargers.charge_time(1.0, 9000.0, 1.25, 0.2, 0.12, 0.85, 4.185, 4.2)
    assert (charge.t_current, charge.t_voltage) == (0.0, 0.0)


@pytest.mark.parametrize(("temp", "expected"), [(298.15, 1.22), (328.15, 0.83)])
def test_foldback_agrees_with_published_currents(temp, expected):
    assert chargers.foldback_current(2.0, 393.15, temp, 60.0, 5.0, 3.7) == pytest.approx(expected, abs=0.005)


def test_foldback_lets_the_set_current_through_when_cool_and_nothing_when_hot():
    assert chargers.foldback_current(0.5, 393.15, 298.15, 60.0, 5.0, 3.7) == 0.5
    assert chargers.foldback_current(0.5, 393.15, 393.15, 60.0, 5.0, 3.7) == 0.0
    assert chargers.foldback_current(0.5, 393.15, 298.15, 60.0, 3.7, 3.7) == 0.5


def test_no_current_flows_back_into_a_low_input():
    assert chargers.dropout_current(3.5, 4.0, 0.5) == 0.0
    assert chargers.input_regulation_current(4.0, 4.4, 0.4) == 0.0
    assert chargers.charge_current_from_input(5.0, 4.0, 0.001, 0.9, 0.002) == 0.0


def test_input_and_charge_current_are_inverse():
    i_in = chargers.charger_input_current(12.0, 8.2, 1.0, 0.9, 0.002)
    assert chargers.charge_current_from_input(12.0, 8.2, i_in, 0.9, 0.002) == pytest.approx(1.0, rel=1e-12)


def test_a_charger_that_restarts_at_once_cycles_nothing():
    assert chargers.float_cycle(4.2, 4.2, 0.85, 9000.0, 0.05) == (0.0, 0.0)
