import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tideover.laws import fuses

EACH = pytest.mark.parametrize("name", fuses.FAMILIES)


@EACH
def test_gates_are_met(name):
    for gate in fuses.family(name).gates:
        opening = fuses.opening_time(gate.multiple * 5.0, 5.0, fuses.family(name).gates)
        if gate.t_min > 0.0:
            assert opening.t_min == pytest.approx(gate.t_min, rel=1e-9)
        if np.isfinite(gate.t_max):
            assert opening.t_max == pytest.approx(gate.t_max, rel=1e-9)


@EACH
def test_rated_current_is_carried_for_ever(name):
    for i in (0.0, 2.5, 5.0):
        assert fuses.opening_time(i, 5.0, fuses.family(name).gates) == (np.inf, np.inf, np.inf)


@EACH
@given(x=st.floats(1.01, 30.0), more=st.floats(1.0, 3.0))
def test_more_current_never_opens_later(name, x, more):
    gates = fuses.family(name).gates
    slow, fast = fuses.opening_time(x, 1.0, gates), fuses.opening_time(x * more, 1.0, gates)
    assert fast.t_min <= slow.t_min * (1 + 1e-9)
    assert fast.t_max <= slow.t_max * (1 + 1e-9)


@EACH
@given(x=st.floats(1.01, 30.0))
def test_earliest_is_before_latest_with_the_middle_between(name, x):
    opening = fuses.opening_time(x, 1.0, fuses.family(name).gates)
    assert opening.t_min <= opening.t_max
    if opening.t_min > 0.0:
        assert opening.t_min * (1 - 1e-9) <= opening.t_mid <= opening.t_max * (1 + 1e-9)
    else:
        assert np.isnan(opening.t_mid)


def test_middle_of_a_gate_is_the_geometric_mean():
    gates = fuses.family("time-lag, low breaking").gates
    assert fuses.opening_time(2.75, 1.0, gates).t_mid == pytest.approx(np.sqrt(0.6 * 10.0))


def test_middle_is_straight_between_gates_on_logarithmic_axes():
    gates = fuses.family("time-lag, low breaking").gates
    x = np.sqrt(2.75 * 4.0)
    ends = fuses.opening_time(np.array([2.75, 4.0]), 1.0, gates).t_mid
    assert fuses.opening_time(x, 1.0, gates).t_mid == pytest.approx(np.sqrt(ends[0] * ends[1]))


def test_past_the_last_gate_the_integral_is_held():
    gates = fuses.family("blade").gates
    opening = fuses.opening_time(np.array([6.0, 12.0]), 1.0, gates)
    assert opening.t_max[1] == pytest.approx(opening.t_max[0] / 4)
    assert opening.t_min[1] == pytest.approx(opening.t_min[0] / 4)


def test_a_slight_overload_may_never_open_the_fuse():
    gates = fuses.family("time-lag, low breaking").gates
    assert fuses.opening_time(1.45, 1.0, gates) == (3600.0, np.inf, np.inf)


def test_families_that_were_not_checked_say_so():
    for name in ("blade", "quick"):
        assert "typical, unverified" in fuses.family(name).source


def test_an_unknown_family_names_the_choices():
    with pytest.raises(ValueError, match="choose one of: time-lag, low breaking"):
        fuses.family("slow")


def test_short_time_spends_the_melting_integral():
    melting, clearing = fuses.short_time(100.0, 115.0)
    assert melting * 100.0**2 == pytest.approx(115.0)
    assert clearing == pytest.approx(3 * melting)


def test_rating_is_unchanged_at_25_degrees_and_never_negative():
    assert fuses.rerated_current(10.0, 298.15) == 10.0
    assert fuses.rerated_current(10.0, 2000.0) == 0.0


@pytest.mark.parametrize(("pulses", "share"), [(1, 0.48), (100, 0.48), (1e3, 0.38), (1e4, 0.29), (1e5, 0.22)])
def test_pulse_allowance_meets_its_table(pulses, share):
    assert fuses.pulse_allowance(pulses) == pytest.approx(share)


def test_pulse_allowance_is_unknown_beyond_its_table():
    assert np.isnan(fuses.pulse_allowance(2e5))


def test_a_source_without_resistance_is_not_asked_for():
    assert fuses.prospective_current(12.6, 0.088) == pytest.approx(143.0, abs=0.5)
