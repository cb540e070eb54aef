import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tideover.laws import heat


@pytest.mark.parametrize(("millimetres", "h"), [(30, 6.8), (50, 5.9), (100, 5.1), (200, 4.5)])
def test_vertical_plate_agrees_with_published_row(millimetres, h):
    assert heat.vertical_plate(318.15, 298.15, millimetres * 1e-3) == pytest.approx(h, rel=0.02)


@pytest.mark.parametrize(
    ("temp", "k", "nu", "pr"), [(300.0, 26.3e-3, 15.89e-6, 0.707), (350.0, 30.0e-3, 20.92e-6, 0.700)]
)
def test_air_agrees_with_the_textbook_table(temp, k, nu, pr):
    air = heat.air(temp)
    assert air.conductivity == pytest.approx(k, rel=0.02)
    assert air.viscosity == pytest.approx(nu, rel=0.025)
    assert air.viscosity / air.diffusivity == pytest.approx(pr, rel=0.02)


@given(st.floats(10.0, 40.0), st.floats(0.03, 0.3))
def test_short_formula_stays_within_8_percent(rise, height):
    full = heat.vertical_plate(298.15 + rise, 298.15, height)
    assert heat.vertical_plate_laminar(298.15 + rise, 298.15, height) == pytest.approx(full, rel=0.085)


def test_conduction_is_left_at_equal_temperatures():
    assert 0.0 < heat.vertical_plate(300.0, 300.0, 0.1) < 0.3
    assert heat.vertical_plate_laminar(300.0, 300.0, 0.1) == 0.0


def test_thin_cylinders_cool_better():
    h = heat.horizontal_cylinder(318.15, 298.15, np.array([0.7e-3, 4.8e-3, 18e-3]))
    assert np.all(np.diff(h) < 0.0)
    total = h[:2] + heat.radiation_coefficient(318.15, 298.15)
    assert total == pytest.approx([38.0, 17.0], rel=0.05)


def test_cooling_a_surface_is_as_good_as_warming_it():
    assert heat.vertical_plate(290.0, 310.0, 0.1) == pytest.approx(
        heat.vertical_plate(310.0, 290.0, 0.1), rel=1e-12
    )


def test_warm_side_down_loses_half_of_warm_side_up():
    up, down = (heat.horizontal_plate(318.15, 298.15, 0.03, facing) for facing in ("up", "down"))
    assert down == pytest.approx(0.5 * up, rel=1e-12)


def test_large_plates_turn_turbulent():
    small, large, larger = heat.horizontal_plate(318.15, 298.15, np.array([0.1, 0.5, 1.0]))
    assert large == pytest.approx(larger, rel=1e-12)
    assert large > small * (0.1 / 0.5) ** 0.25 * 1.1


@given(st.floats(273.0, 400.0), st.floats(273.0, 400.0), st.floats(0.05, 1.0))
def test_radiation_coefficient_times_difference_is_the_difference_of_fourth_powers(a, b, eps):
    flux = heat.radiation_coefficient(a, b, eps) * (a - b)
    assert flux == pytest.approx(eps * 5.670374419e-8 * (a**4 - b**4), rel=1e-9, abs=1e-6)


def test_bright_metal_radiates_little():
    assert heat.radiation_coefficient(333.15, 298.15, 0.1) < 0.8


def test_altitude_takes_nothing_at_sea_level():
    assert heat.altitude_factor(0.0) == 1.0


def test_node_starts_where_it_was_and_ends_at_power_times_resistance():
    assert heat.node_temperature(0.0, 2.0, 24.0, 46.0, 300.0, 310.0) == pytest.approx(310.0)
    assert heat.node_temperature(1e6, 2.0, 24.0, 46.0, 300.0, 310.0) == pytest.approx(348.0)
    assert heat.node_temperature(24.0 * 46.0, 2.0, 24.0, 46.0, 300.0, 300.0) == pytest.approx(
        300 + 48 * (1 - np.exp(-1))
    )


@pytest.mark.parametrize("diameter", [6e-3, 10e-3, 18e-3])
def test_cylinder_agrees_with_the_laminar_form_of_the_same_authors(diameter):
    air = heat.air(308.15)
    ra = 9.80665 * air.expansion * 20.0 * diameter**3 / (air.viscosity * air.diffusivity)
    pr = air.viscosity / air.diffusivity
    laminar = 0.36 + 0.518 * ra**0.25 / (1 + (0.559 / pr) ** (9 / 16)) ** (4 / 9)
    h = heat.horizontal_cylinder(318.15, 298.15, diameter)
    assert h * diameter / air.conductivity == pytest.approx(laminar, rel=0.04)


def test_cylinder_in_air_of_its_own_temperature_only_conducts():
    h = heat.horizontal_cylinder(300.0, 300.0, 0.01)
    assert h == pytest.approx(0.36 * heat.air(300.0).conductivity / 0.01, rel=1e-12)
