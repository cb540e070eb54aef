import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tideover.laws import boxes

# Plastic boxes of 2 mm wall, worked out apart from this code: power, sides, rise of wall and of inner air.
BOXES = [
    (2, (0.10, 0.06, 0.03), 10.6, 28),
    (5, (0.10, 0.06, 0.03), 23, 66),
    (5, (0.15, 0.10, 0.05), 11, 28),
    (10, (0.15, 0.10, 0.05), 20, 54),
    (10, (0.20, 0.15, 0.08), 11, 27),
    (20, (0.20, 0.15, 0.08), 20, 51),
    (20, (0.30, 0.20, 0.10), 12, 29),
]


@pytest.mark.parametrize(("p", "size", "wall", "inside"), BOXES)
def test_sealed_box_agrees_with_an_independent_table(p, size, wall, inside):
    rise = boxes.sealed_box(p, *size)
    assert rise.wall == pytest.approx(wall, abs=0.5)
    assert rise.inside == pytest.approx(inside, abs=0.7)


@settings(deadline=None)
@given(st.floats(0.1, 50.0))
def test_wall_gives_off_the_whole_power(p):
    rise = boxes.sealed_box(p, 0.15, 0.10, 0.05)
    assert boxes.wall_power(rise.wall, 0.15, 0.10, 0.05) == pytest.approx(p, rel=1e-6)


def test_no_power_no_rise():
    assert boxes.sealed_box(0.0, 0.15, 0.10, 0.05) == (0.0, 0.0)
    assert boxes.vented_box(0.0, 0.15, 0.10, 0.05, 1e-3, 1e-3, 0.05) == (0.0, 0.0)
    assert boxes.chimney_rise(0.0, 1e-3, 1e-3, 0.1) == 0.0


def test_twice_the_power_is_less_than_twice_the_wall_rise():
    one, two = (boxes.sealed_box(p, 0.15, 0.10, 0.05).wall for p in (5.0, 10.0))
    assert one < two < 2 * one


def test_a_box_in_free_air_is_cooler_and_bright_metal_hotter():
    plain = boxes.sealed_box(10.0, 0.15, 0.10, 0.05)
    assert boxes.sealed_box(10.0, 0.15, 0.10, 0.05, standing=False).wall < plain.wall
    bright = boxes.sealed_box(10.0, 0.15, 0.10, 0.05, emissivity=0.1)
    assert 1.5 < bright.wall / plain.wall < 2.1


def test_a_box_without_openings_is_a_sealed_box():
    sealed = boxes.sealed_box(10.0, 0.15, 0.10, 0.05)
    assert boxes.vented_box(10.0, 0.15, 0.10, 0.05, 0.0, 1e-3, 0.05) == sealed
    almost = boxes.vented_box(10.0, 0.15, 0.10, 0.05, 1e-8, 1e-8, 0.05)
    assert almost.inside == pytest.approx(sealed.inside, rel=1e-3)


@settings(deadline=None)
@given(st.floats(1e-5, 1e-2), st.floats(1.1, 3.0))
def test_larger_openings_never_make_it_hotter(area, more):
    small, large = (boxes.vented_box(10.0, 0.15, 0.10, 0.05, a, a, 0.05).inside for a in (area, area * more))
    assert large <= small + 1e-6


def test_chimney_balances_heat_against_draught():
    p, area, height, temp = 10.0, 1e-3, 0.1, 298.15
    rise = boxes.chimney_rise(p, area, area, height, temp)
    flow = 0.6 * area / 2**0.5 * (2 * 9.80665 * height * 0.5 * rise / temp) ** 0.5
    assert 1.177 * 300 / temp * 1007.0 * flow * rise == pytest.approx(p, rel=1e-9)


def test_no_opening_at_all_lets_no_heat_out():
    assert boxes.chimney_rise(10.0, 1e-3, 1e-3, 0.0) == float("inf")
