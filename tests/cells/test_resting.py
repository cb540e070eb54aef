"""What a resting cell loses: relaxation told apart from leak, and honest about what cannot be told."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pytest

from tideover.cells.resting import charge_state, count, curve_slope, fall, since_charge
from tideover.laws.cells import OCV

BEGIN = datetime(2026, 10, 1)
DAYS = 86400.0


def readings(*pairs):
    return tuple((BEGIN + timedelta(hours=hours), volts) for hours, volts in pairs)


def in_14_days(found):
    return tuple(1e3 * rate * 14 * DAYS for rate in (found.low, found.rate, found.high))


def test_a_cell_that_falls_for_hours_and_then_holds_loses_next_to_nothing():
    low, mean, high = in_14_days(fall(readings((0, 4.190), (4, 4.172), (24, 4.170), (14 * 24, 4.169))))
    assert low < 1.0 and mean < 3.0 and high < 5.0


def test_a_cell_that_falls_steadily_leaks():
    low, mean, high = in_14_days(fall(readings((0, 4.190), (4, 4.185), (24, 4.180), (14 * 24, 4.130))))
    assert low < 50 * 14 / 13 < high
    assert mean == pytest.approx(50 * 14 / 13, abs=2.0)
    assert low > 45.0


def test_readings_a_day_after_charge_need_no_model():
    found = fall(readings((0, 4.180), (14 * 24, 4.150)), rested=2 * DAYS)
    assert in_14_days(found)[1] == pytest.approx(30.0, abs=0.5)
    assert found.span == 14 * DAYS


def test_two_readings_may_be_all_relaxation_so_the_interval_is_wide():
    low, _, high = in_14_days(fall(readings((0, 4.180), (14 * 24, 4.150))))
    assert low < 10.0 and high > 25.0
    sure = in_14_days(fall(readings((0, 4.180), (14 * 24, 4.150)), rested=2 * DAYS))
    assert sure[2] - sure[0] < 0.4 * (high - low)


def test_a_small_fall_is_small_whatever_it_is():
    assert in_14_days(fall(readings((0, 4.180), (14 * 24, 4.177))))[2] < 5.0


def test_only_readings_since_the_last_charge_count():
    rests = readings((0, 4.05), (24 * 10, 4.00), (24 * 11, 4.19), (24 * 12, 4.18), (24 * 26, 4.178))
    assert since_charge(rests) == 2
    found = fall(rests)
    assert (found.used, found.left) == (3, 2)
    assert in_14_days(found)[2] < 6.0


def test_one_reading_tells_nothing():
    assert fall(readings((0, 4.18))) is None
    assert fall(readings((0, 4.00), (24, 4.18))) is None
    assert fall(()) is None


def test_a_cell_read_off_the_charger_relaxes_by_far_more():
    found = fall(readings((0, 3.60), (1, 3.42), (24, 3.345), (48, 3.345), (14 * 24, 3.344)))
    assert found.relaxation > 0.2
    assert in_14_days(found)[1] < 0.25 * 256


def test_a_cell_that_rests_after_discharge_rises_first():
    found = fall(readings((0, 3.50), (2, 3.512), (24, 3.515), (14 * 24, 3.510)), charged=False)
    assert in_14_days(found)[1] == pytest.approx(5.0, abs=3.0)


@pytest.mark.parametrize("volts", [(4.0, 4.014), (3.0, 3.0), (4.2, 1.0), (-3.0, -8.0)])
def test_no_readings_upset_it(volts):
    found = fall(readings((0, volts[0]), (14 * 24, volts[1])))
    assert all(np.isfinite(x) and x >= 0 for x in (found.rate, found.low, found.high, found.relaxation, found.rose))


def test_nine_intervals_of_ten_hold_the_truth():
    """Leaks of any size, relaxation of any shape within hours, the stated uncertainty of a reading."""
    rng = np.random.default_rng(7)
    hours = np.array([0.0, 3.0, 26.0, 168.0, 504.0])
    held, n = 0, 400
    for _ in range(n):
        leak, height, tau = rng.uniform(0.0, 4e-5), abs(rng.normal(0.012, 0.010)), rng.uniform(0.5, 8.0)
        volts = 4.18 + height * np.exp(-hours / tau) - leak * hours + rng.normal(0.0, 0.0011, 5)
        found = fall(readings(*zip(hours.tolist(), volts.tolist())))
        held += found.low <= leak / 3600.0 <= found.high
    assert 0.85 <= held / n <= 0.95


def test_slope_and_state_come_from_the_open_circuit_curve():
    for name in OCV:
        units = 6 if name == "PbA" else 1
        for soc in (0.2, 0.5, 0.9):
            volts = float(np.interp(soc, (0.2, 0.5, 0.9), [OCV[name][k] for k in (3, 6, 10)])) * units
            assert charge_state(name, volts) == pytest.approx(soc, abs=2e-3)
    assert curve_slope("NMC", 4.15) == pytest.approx(1.07, abs=0.05)
    assert curve_slope("LFP", 3.29) < 0.1
    assert curve_slope("PbA", 12.8) == pytest.approx(6 * curve_slope("PbA", 12.8 / 6))
    assert curve_slope("", 4.0) is None and charge_state("", 4.0) is None
    assert (count("PbA", 12.8), count("PbA", 2.1), count("NMC", 12.8)) == (6, 1, 1)
