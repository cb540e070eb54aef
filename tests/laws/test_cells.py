import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from tideover.laws import cells
from tideover.laws.cells import KNOTS, OCV, OCV_SOURCE, STEEP, Curve

NAMES = list(OCV)
ALL = Curve.of(NAMES)
SOC = st.floats(-0.5, 1.5)
OFF_THE_ENDS = SOC.filter(lambda soc: min(abs(soc), abs(soc - 1.0)) > 1e-5)
"""The curve of a lead-acid cell has a corner at either end."""


def test_every_table_has_its_source_and_rises():
    assert OCV.keys() == OCV_SOURCE.keys()
    for name, volts in OCV.items():
        assert len(volts) == len(KNOTS), name
        assert np.all(np.diff(volts) > 0.0), name


def test_curves_pass_through_their_tables():
    at_knots = ALL.value(np.array(KNOTS)[:, None])
    assert at_knots == pytest.approx(np.array([OCV[name] for name in NAMES]).T, abs=1e-12)


@given(SOC, st.floats(1e-6, 0.3))
def test_curves_never_fall(soc, more):
    assert np.all(ALL.value(soc + more) >= ALL.value(soc) - 1e-12)
    assert np.all(ALL.slope(soc) >= 0.0)


@given(OFF_THE_ENDS)
def test_slope_is_the_derivative_of_the_value(soc):
    h = 1e-7
    assert (ALL.value(soc + h) - ALL.value(soc - h)) / (2 * h) == pytest.approx(
        ALL.slope(soc), rel=1e-4, abs=1e-4
    )


@given(OFF_THE_ENDS)
def test_value_is_the_derivative_of_the_integral(soc):
    h = 1e-6
    assert (ALL.integral(soc + h) - ALL.integral(soc - h)) / (2 * h) == pytest.approx(
        ALL.value(soc), rel=1e-7
    )


@pytest.mark.parametrize("soc", [-0.3, 0.0, 0.07, 0.5, 0.93, 1.0, 1.4])
def test_integral_agrees_with_quadrature(soc):
    for k, name in enumerate(NAMES):
        one = Curve.of([name])
        by_hand, _ = quad(
            lambda s, one=one: one.value(s).item(), 0.0, soc, points=[x for x in KNOTS if 0 < x < soc] or None
        )
        assert ALL.integral(soc)[k] == pytest.approx(by_hand, rel=1e-9, abs=1e-12)


def test_curves_go_on_straight_beyond_their_ends():
    for end, outside in ((0.0, [-0.1, -0.7]), (1.0, [1.1, 1.7])):
        for soc in outside:
            slope = np.maximum(ALL.slope(end), [STEEP.get(name, 0.0) for name in NAMES])
            assert ALL.slope(soc) == pytest.approx(slope, rel=1e-12)
            assert ALL.value(soc) == pytest.approx(ALL.value(end) + (soc - end) * slope, rel=1e-12)


def test_a_lead_acid_cell_is_empty_and_full_within_a_twentieth_of_its_table():
    """Else a block of 7 Ah, drawn down to 1.75 V and charged up to 2.4 V a cell, would hold twice as much."""
    curve = Curve.of(["PbA"])
    assert curve.value(-0.05).item() < 1.75 and curve.value(1.06).item() > 2.4


def test_each_part_follows_its_own_curve_in_a_batch():
    rng = np.random.default_rng(7)
    soc = rng.uniform(-0.2, 1.2, (40, len(NAMES)))
    for method in ("value", "slope", "integral"):
        together = getattr(ALL, method)(soc)
        assert together.shape == soc.shape
        for k, name in enumerate(NAMES):
            alone = getattr(Curve.of([name]), method)(soc[:, k : k + 1])
            assert np.array_equal(together[:, k : k + 1], alone)
        assert np.array_equal(together[3], getattr(ALL, method)(soc[3]))


def test_a_curve_made_by_hand_is_a_straight_line():
    line = Curve(np.array([0.0, 1.0]), np.array([[[3.0, 1.0, 0.0, 0.0]]]))
    assert line.value(0.25) == pytest.approx([3.25])
    assert line.integral(2.0) == pytest.approx([8.0])


def test_parts_of_no_case_are_allowed():
    assert ALL.value(np.zeros((0, len(NAMES)))).shape == (0, len(NAMES))


@pytest.mark.parametrize(
    ("knots", "volts"), [([0, 0.5], [3, 4]), ([0, 0.6, 0.5, 1], [1, 2, 3, 4]), ([0, 1], [[3, 4, 5]])]
)
def test_a_table_that_makes_no_curve_is_refused(knots, volts):
    with pytest.raises(ValueError, match=r"ascend from 0 to 1|one per knot"):
        Curve.through(knots, volts)


def test_an_unknown_chemistry_names_the_choices():
    with pytest.raises(ValueError, match=r'"NiMH"; choose one of: NMC, NCA, LFP, LTO, LCO, PbA\.'):
        Curve.of(["NMC", "NiMH"])


def test_resistance_is_unchanged_at_its_reference_and_when_full():
    assert cells.resistance_factor(298.15) == 1.0
    assert cells.resistance_soc_factor(np.array([0.0, 0.05, 0.2, 1.0])) == pytest.approx([2.0, 1.5, 1.0, 1.0])


@given(st.floats(-0.2, 0.2), st.floats(-5.0, 5.0), st.floats(1.0, 1e3), st.floats(0.0, 1e3))
def test_two_steps_of_an_rc_pair_make_one(v, i, tau, t):
    twice = cells.rc_step(cells.rc_step(v, i, 0.01, tau, t / 2), i, 0.01, tau, t / 2)
    assert twice == pytest.approx(cells.rc_step(v, i, 0.01, tau, t), rel=1e-9, abs=1e-12)


def test_an_rc_pair_rests_at_its_start_and_ends_at_ohms_law():
    assert cells.rc_step(0.05, 2.0, 0.01, 20.0, 0.0) == 0.05
    assert cells.rc_step(0.05, 2.0, 0.01, 20.0, 1e6) == pytest.approx(0.02)


def test_hysteresis_settles_on_the_branch_of_the_current():
    assert cells.hysteresis_rate(-0.015, 1.0, 9e3) == pytest.approx(0.0, abs=1e-18)
    assert cells.hysteresis_rate(0.015, -1.0, 9e3) == pytest.approx(0.0, abs=1e-18)
    assert cells.hysteresis_rate(0.01, 0.0, 9e3) == 0.0


def test_heat_is_joule_heat_without_entropy_and_zero_at_rest():
    assert cells.cell_heat(2.0, 3.7, 3.5, 298.15) == pytest.approx(0.4)
    assert cells.cell_heat(-2.0, 3.7, 3.9, 298.15) == pytest.approx(0.4)
    assert cells.cell_heat(0.0, 3.7, 3.7, 298.15, 4e-4) == 0.0


def test_peukert_gives_the_rated_time_at_the_rated_current():
    assert cells.peukert_time(0.35, 7 * 3600.0) == pytest.approx(20 * 3600.0)
    assert cells.peukert_time(0.7, 7 * 3600.0, k=1.0) == pytest.approx(10 * 3600.0)


def test_lead_acid_gives_up_to_two_thirds_of_its_capacity_in_an_hour():
    from scipy.optimize import brentq

    i = brentq(lambda i: cells.peukert_time(i, 7 * 3600.0) - 3600.0, 0.5, 20.0)
    assert 0.55 < i / 7.0 < 0.70


def test_self_discharge_takes_its_share_in_a_month():
    from tideover.laws.constants import MONTH

    i = cells.self_discharge_current(9e3, 0.02, 298.15)
    assert i * MONTH == pytest.approx(0.02 * 9e3)
    assert cells.self_discharge_current(9e3, 0.02, 298.15 + 12.5) == pytest.approx(2 * i)
