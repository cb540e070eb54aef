"""The ten rules of coordination, each with margins worked out by hand, and the gates that standards publish."""

from __future__ import annotations

import math

import pytest

from tideover.answers import coordination as rule
from tideover.answers.allowed import Allowance
from tideover.laws.ampacity import adiabatic_limit
from tideover.laws.fuses import opening_time

BLADE, TUBE = rule.gates_of("blade"), rule.gates_of("time-lag 5x20")


@pytest.mark.parametrize(
    ("multiple", "least", "most"),
    [(2.1, None, 120.0), (2.75, 0.6, 10.0), (4.0, 0.15, 3.0), (10.0, 0.020, 0.300)],
)
def test_gates_of_a_time_lag_fuse_are_those_of_iec_60127_2_sheet_3(multiple, least, most):
    opening = opening_time(multiple * 2.0, 2.0, TUBE.gates)
    assert float(opening.t_max) == pytest.approx(most)
    assert least is None or float(opening.t_min) == pytest.approx(least)
    assert math.isinf(float(opening_time(1.5 * 2.0, 2.0, TUBE.gates).t_max))


def test_1_a_fuse_carries_three_quarters_of_its_rating_and_a_short_peak_all_of_it():
    held = rule.carries(load=3.0, as_drawn=2.8, peak=4.5, rating=5.0, share=0.75)
    assert (held.status, held.margin) == ("holds", pytest.approx(0.75))
    assert rule.carries(4.0, 3.5, 4.5, 5.0, 0.75).status == "tight"
    over = rule.carries(3.0, 2.8, 5.5, 5.0, 0.75)
    assert (over.status, over.limit, over.margin) == ("tight", 5.0, pytest.approx(-0.5))
    assert rule.carries(5.6, 5.2, 0.0, 5.0, 0.75).status == "fails"


def test_2_a_fuse_is_not_above_what_the_conductor_behind_it_may_carry():
    assert rule.protects(5.0, Allowance(6.0, 6.0)).margin == pytest.approx(1.0)
    assert rule.protects(7.5, Allowance(6.0, 6.0)).status == "fails"
    assert rule.protects(7.5, Allowance(6.0, 10.0, "computed")).status == "tight"
    assert rule.protects(7.5, Allowance(6.0, 6.0), held=5.0).status == "tight"
    assert rule.protects(7.5, Allowance(6.0, 6.0), held=20.0).status == "fails"


def test_3_what_a_fuse_lets_through_is_its_clearing_integral_or_its_gate():
    """143 A into a 10 A blade fuse, past its last gate: 3 times 115 A^2 s. At 35 A it is the gate, 0.5 s."""
    assert rule.lets_through(143.0, 10.0, 115.0, BLADE) == pytest.approx(345.0)
    assert rule.lets_through(35.0, 10.0, 115.0, BLADE) == pytest.approx(35.0**2 * 0.5)
    assert math.isinf(rule.lets_through(13.5, 10.0, 115.0, BLADE))
    bears = float(adiabatic_limit(0.5e-6))
    assert bears == pytest.approx(3306, abs=1)
    assert rule.survives(345.0, bears, spared=False).status == "holds"
    assert rule.survives(345.0, 100.0, spared=False).status == "fails"
    assert rule.survives(345.0, 100.0, spared=True).status == "tight"


def test_4_a_short_is_five_times_a_blade_fuse_or_ten_times_a_tube_or_the_time_counts():
    fast = rule.opens_fast(51.0, 10.0, "blade", boarded=False)
    assert (fast.status, fast.margin) == ("holds", pytest.approx(1.0))
    slower = rule.opens_fast(35.0, 10.0, "blade", boarded=False)
    assert (slower.status, slower.unit, slower.value) == ("holds", "s", pytest.approx(0.5))
    assert rule.opens_fast(16.0, 10.0, "blade", boarded=False).value == pytest.approx(50.0)
    assert rule.opens_fast(16.0, 10.0, "blade", boarded=False).status == "tight"
    assert rule.opens_fast(12.0, 10.0, "blade", boarded=False).status == "fails"
    assert rule.opens_fast(12.0, 10.0, "blade", boarded=True).status == "tight"
    assert rule.opens_fast(20.0, 5.0, "time-lag 5x20", boarded=False).value == pytest.approx(3.0)
    assert rule.delivers(31.0, 10.0).status == "holds" and rule.delivers(29.0, 10.0).status == "tight"


def test_5_a_fuse_that_states_nothing_of_direct_current_is_open():
    current, volts = rule.interrupts(143.0, 12.6, 1000.0, 32.0)
    assert (current.margin, volts.margin) == (pytest.approx(857.0), pytest.approx(19.4))
    assert [v.status for v in rule.interrupts(143.0, 12.6, 35.0, 10.0)] == ["fails", "fails"]
    assert [v.status for v in rule.interrupts(143.0, 12.6, 0.0, 0.0)] == ["open", "open"]


def test_6_the_lower_fuse_has_cleared_before_the_upper_one_melts():
    """10 A above 3 A: 3 * 6.7 = 20.1 A^2 s against 0.75 * 115; 5 A is too near."""
    assert rule.selective(115.0, 6.7).margin == pytest.approx(0.75 * 115.0 - 20.1)
    assert rule.selective(60.0, 26.0).status == "tight"


def test_7_electronic_limits_act_first():
    """100 A melt 26 A^2 s in 2.6 ms; the board needs 0.4 ms. 15 A open a 5 A blade in 0.05 s, it needs 13 ms."""
    assert rule.board_first(100.0, 26.0, 4e-4).margin == pytest.approx(2.2e-3)
    assert rule.board_first(300.0, 26.0, 4e-4).status == "tight"
    assert rule.overload_first(15.0, 5.0, 13e-3, BLADE).status == "holds"
    assert rule.overload_first(60.0, 5.0, 13e-3, BLADE).status == "tight"
    assert rule.overload_first(4.0, 5.0, 13e-3, BLADE).value is None
    assert rule.limit_spares(4.2, Allowance(5.0, 5.0)).margin == pytest.approx(0.8)
    assert rule.limit_spares(5.5, Allowance(5.0, 5.0)).status == "tight"
    assert rule.limit_before_fuse(5.0, 5.0, BLADE).margin == pytest.approx(0.5)
    assert rule.limit_before_fuse(6.0, 5.0, BLADE).status == "tight"


def test_8_the_inrush_is_half_of_peak_squared_times_the_time_constant():
    """8.4 V into 1 mF through 0.1 ohm: 84 A, 0.1 ms, 0.353 A^2 s; ten thousand such may take 29 %."""
    i2t = rule.inrush(8.4, 0.1, 1e-3)
    assert i2t == pytest.approx(0.5 * 84.0**2 * 1e-4)
    assert rule.bears_inrush(i2t, 1.4).margin == pytest.approx(0.29 * 1.4 - 0.3528)
    assert rule.bears_inrush(i2t, 1.0).status == "tight"
    assert rule.bears_inrush(i2t, 0.3).status == "fails"
    assert rule.bears_inrush(i2t, 1.0, pulses=100).limit == pytest.approx(0.48)


def test_9_a_contact_bears_six_times_its_rating_for_a_tenth_of_a_second():
    assert rule.contact_bears(300.0, 10.0).margin == pytest.approx(60.0)
    assert rule.contact_bears(400.0, 10.0).status == "tight"
    assert rule.contact_makes(25.0, 10.0).status == "holds" and rule.contact_makes(31.0, 10.0).status == "tight"


def test_10_a_board_trips_above_the_peak():
    assert rule.trips_late(4.0, 5.0, 3.5, 3.0).margin == pytest.approx(0.5)
    assert rule.trips_late(3.3, 5.0, 3.5, 3.0).status == "tight"
    assert rule.trips_late(3.3, 4.4, 3.2, 3.6).status == "tight"
    assert rule.trips_late(2.0, 2.8, 3.5, 3.0).status == "fails"
