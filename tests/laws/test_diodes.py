import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tideover.laws import diodes
from tideover.laws.constants import TEMP_25, thermal_voltage

SCHOTTKY_3A = diodes.Junction(3.888e-5, 1.378, 0.02056)


def left_out(fit, i_first):
    """Voltage by which the fit may miss: the saturation current is neglected beside the first current."""
    return fit.n * thermal_voltage(TEMP_25) * fit.i_s / i_first


def test_three_points_are_met():
    v, i = (0.28, 0.38, 0.46), (0.1, 1.0, 3.0)
    fit = diodes.fit_three_points(v, i)
    assert diodes.forward_voltage(np.array(i), *fit, TEMP_25) == pytest.approx(v, abs=left_out(fit, i[0]))


def test_two_points_are_met():
    fit = diodes.fit_two_points((0.6, 0.8), (0.01, 1.0))
    assert diodes.forward_voltage(np.array([0.01, 1.0]), *fit, TEMP_25) == pytest.approx([0.6, 0.8], abs=1e-6)


def test_points_made_from_a_known_diode_give_it_back():
    i = np.array([0.1, 1.0, 5.0])
    v = diodes.forward_voltage(i, 1e-6, 1.5, 0.03, TEMP_25)
    assert diodes.fit_three_points(tuple(v), tuple(i)) == pytest.approx((1e-6, 1.5, 0.03), rel=1e-3)


def test_points_that_bend_the_wrong_way_are_fitted_without_resistance():
    fit = diodes.fit_three_points((0.28, 0.40, 0.42), (0.1, 1.0, 3.0))
    assert fit.r_s == 0.0
    assert diodes.forward_voltage(3.0, *fit, TEMP_25) == pytest.approx(0.42, abs=left_out(fit, 0.1))


@pytest.mark.parametrize("v", [(0.4, 0.3, 0.5), (0.3, 0.3, 0.5), (-0.1, 0.3, 0.5)])
def test_points_out_of_order_are_refused(v):
    with pytest.raises(ValueError, match="voltages of a diode's points must be above zero and ascend"):
        diodes.fit_three_points(v, (0.1, 1.0, 3.0))


@given(st.floats(-1e-5, 100.0))
def test_current_and_voltage_are_inverse(i):
    v = diodes.forward_voltage(i, *SCHOTTKY_3A, TEMP_25)
    assert diodes.forward_current(v, *SCHOTTKY_3A, TEMP_25) == pytest.approx(i, rel=1e-9, abs=1e-12)


@given(st.floats(-50.0, 50.0), st.floats(250.0, 400.0))
def test_diode_equation_holds_at_any_voltage_and_temperature(v, temp):
    i_s, n, r_s = SCHOTTKY_3A
    i_s = diodes.saturation_current(i_s, n, temp, *diodes.SCHOTTKY)
    i = float(diodes.forward_current(v, i_s, n, r_s, temp))
    assert np.isfinite(i)
    if i > -0.999 * i_s:
        assert n * thermal_voltage(temp) * np.log1p(i / i_s) + i * r_s == pytest.approx(v, rel=1e-6, abs=1e-6)
    else:
        assert i == pytest.approx(-i_s, rel=1e-2)


def test_no_voltage_no_current():
    assert diodes.forward_current(0.0, *SCHOTTKY_3A, TEMP_25) == pytest.approx(0.0, abs=1e-18)
    assert diodes.junction_current(0.0, 1e-9, 1.8, TEMP_25) == 0.0


def test_small_resistance_tends_to_the_bare_junction():
    bare = diodes.junction_current(0.35, 3.888e-5, 1.378, TEMP_25)
    assert diodes.forward_current(0.35, 3.888e-5, 1.378, 1e-9, TEMP_25) == pytest.approx(bare, rel=1e-6)


def test_bare_junction_goes_on_straight_without_overflow():
    v = np.array([1.0, 10.0, 1000.0])
    i = diodes.junction_current(v, 1e-9, 1.0, TEMP_25)
    assert np.all(np.isfinite(i))
    a, edge = thermal_voltage(TEMP_25), diodes.STEEPEST * thermal_voltage(TEMP_25)
    slope = (
        diodes.junction_current(edge + 1e-6, 1e-9, 1.0, TEMP_25)
        - diodes.junction_current(edge, 1e-9, 1.0, TEMP_25)
    ) / 1e-6
    assert slope == pytest.approx(1e-9 * np.exp(diodes.STEEPEST) / a, rel=1e-5)


def test_saturation_current_is_unchanged_at_the_reference():
    assert diodes.saturation_current(1e-6, 1.4, TEMP_25, *diodes.SILICON) == pytest.approx(1e-6, rel=1e-15)


@pytest.mark.parametrize(
    ("fit", "gap", "current"),
    [((1.62e-7, 2.19, 0.062), diodes.SILICON, 1.0), ((1.87e-4, 1.67, 0.0128), diodes.SCHOTTKY, 5.0)],
)
def test_forward_voltage_falls_by_one_to_two_millivolts_a_kelvin(fit, gap, current):
    hot = diodes.saturation_current(fit[0], fit[1], 348.15, *gap)
    fall = diodes.forward_voltage(current, *fit, TEMP_25) - diodes.forward_voltage(
        current, hot, fit[1], fit[2], 348.15
    )
    assert 0.8e-3 < fall / 50.0 < 2.2e-3


def test_leakage_doubles_and_follows_the_voltage():
    rated = diodes.leakage_current(40.0, 3e-4, 40.0, TEMP_25, 11.0)
    assert rated == pytest.approx(3e-4, rel=1e-9)
    assert diodes.leakage_current(40.0, 3e-4, 40.0, TEMP_25 + 11.0, 11.0) == pytest.approx(6e-4, rel=1e-9)
    assert diodes.leakage_current(20.0, 3e-4, 40.0, TEMP_25, 11.0) == pytest.approx(1.5e-4, rel=1e-9)
    assert diodes.leakage_current(10.0, 3e-4, 40.0, TEMP_25, 11.0, 0.5) == pytest.approx(1.5e-4, rel=1e-9)


def test_forward_bias_has_no_leakage():
    assert diodes.leakage_current(-0.4, 3e-4, 40.0, TEMP_25) < 1e-16
    assert diodes.leakage_current(0.0, 3e-4, 40.0, TEMP_25) < 1e-16


def test_runaway_is_where_the_slope_of_heat_exceeds_that_of_cooling():
    v, theta, temp = 40.0, 50.0, 350.0
    leak = diodes.leakage_current(v, 3e-4, 40.0, np.array([temp - 0.01, temp + 0.01]), 11.0)
    slope = v * np.diff(leak)[0] / 0.02 * theta
    gain = diodes.leakage_runaway(v, diodes.leakage_current(v, 3e-4, 40.0, temp, 11.0), theta, 11.0)
    assert gain == pytest.approx(slope, rel=1e-6)
