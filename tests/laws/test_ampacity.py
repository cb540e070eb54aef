import numpy as np
import pytest

from tideover.laws import ampacity, conductors

# Insulated hook-up wire: gauge, outer diameter [mm], 30 K current [A] worked out apart from this code.
WIRES = [
    (30, 0.75, 2.5),
    (28, 0.90, 3.2),
    (26, 1.10, 4.3),
    (24, 1.25, 5.6),
    (22, 1.50, 7.4),
    (20, 1.75, 9.8),
    (18, 2.10, 13.0),
    (16, 2.60, 17.4),
    (14, 3.10, 23.3),
    (12, 3.80, 31.3),
]


@pytest.mark.parametrize(("gauge", "diameter", "expected"), WIRES)
def test_wire_current_agrees_with_an_independent_table(gauge, diameter, expected):
    r = conductors.awg_resistance(gauge, conductors.LAY_UP)
    i = ampacity.wire_current(30.0, conductors.awg_area(gauge), r, diameter * 1e-3)
    assert i == pytest.approx(expected, rel=0.02)


def test_wire_current_takes_arrays():
    i = ampacity.wire_current(
        np.array([[20.0], [30.0], [45.0]]), 3.255e-7, 0.05455, np.array([1.5e-3, 1.6e-3])
    )
    assert i.shape == (3, 2)
    assert np.all(np.diff(i, axis=0) > 0.0)


def test_track_law_doubles_between_inner_and_outer():
    outer, inner = (ampacity.track_current(20.0, 35e-9, layer) for layer in ("outer", "inner"))
    assert outer == pytest.approx(2 * inner, rel=1e-15)


def test_track_widths_agree_with_published_currents():
    widths = np.array([0.5, 1.0, 2.0, 5.0, 10.0]) * 1e-3
    assert ampacity.track_current(20.0, widths * 35e-6) == pytest.approx(
        [2.0, 3.2, 5.4, 10.4, 17.2], rel=0.03
    )


def test_strip_currents_agree_with_the_rule():
    width, thick = np.array([5, 8, 10, 10]) * 1e-3, np.array([0.1, 0.15, 0.2, 0.3]) * 1e-3
    assert ampacity.strip_current(width, thick) == pytest.approx([3, 6, 9, 11], rel=0.1)


def test_adiabatic_limit_grows_with_the_square_of_the_section():
    assert ampacity.adiabatic_limit(2e-6) == pytest.approx(4 * ampacity.adiabatic_limit(1e-6), rel=1e-15)
    assert ampacity.adiabatic_limit(0.0) == 0.0


def test_wire_in_air_as_hot_as_its_insulation_carries_nothing():
    assert ampacity.installed_current(7.4, 353.15, 353.15) == 0.0
    assert ampacity.installed_current(7.4, 363.15, 353.15) == 0.0


def test_bundle_is_worse_than_box_is_worse_than_free_air():
    currents = [
        ampacity.installed_current(10.0, 298.15, 353.15, place) for place in ("free air", "box", "bundle")
    ]
    assert currents == pytest.approx([10.0, 6.0, 4.0])
