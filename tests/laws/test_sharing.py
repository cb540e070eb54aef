import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from tideover.laws import sharing

VOLTS = arrays(float, 5, elements=st.floats(3.0, 4.2))
OHMS = arrays(float, 5, elements=st.floats(0.01, 0.2))


@given(VOLTS, OHMS, st.floats(-10.0, 10.0))
def test_parallel_currents_add_up_and_share_one_voltage(ocv, r, i):
    shares = sharing.parallel_currents(ocv, r, i)
    assert shares.sum() == pytest.approx(i, abs=1e-9)
    assert np.ptp(ocv - shares * r) < 1e-9


def test_unequal_cells_trade_current_without_load():
    assert sharing.parallel_currents([3.75, 3.70], [0.05, 0.05], 0.0) == pytest.approx([0.5, -0.5])
    assert sharing.joining_current(0.05, 0.05, 0.05) == pytest.approx(0.5)


def test_groups_are_solved_side_by_side():
    ocv, r = np.full((3, 4), 3.7), np.full((3, 4), 0.05)
    assert sharing.parallel_currents(ocv, r, np.array([1.0, 2.0, 4.0]))[:, 0] == pytest.approx(
        [0.25, 0.5, 1.0]
    )


@pytest.mark.parametrize("feed", sharing.FEEDS)
@given(ocv=VOLTS, r=OHMS, segment=st.floats(1e-4, 1e-2), i=st.floats(-10.0, 10.0))
def test_ladder_currents_add_up(feed, ocv, r, segment, i):
    assert sharing.ladder_currents(ocv, r, segment, i, feed).sum() == pytest.approx(i, abs=1e-8)


@pytest.mark.parametrize("feed", sharing.FEEDS)
def test_strips_without_resistance_leave_the_plain_share(feed):
    ocv, r = np.array([3.70, 3.71, 3.69, 3.70]), np.array([0.05, 0.06, 0.04, 0.05])
    plain = sharing.parallel_currents(ocv, r, 4.0)
    assert sharing.ladder_currents(ocv, r, 0.0, 4.0, feed) == pytest.approx(plain)
    assert sharing.ladder_currents(ocv, r, 1e-12, 4.0, feed) == pytest.approx(plain, rel=1e-6)


def test_one_bar_without_resistance_is_allowed():
    shares = sharing.ladder_currents([3.7] * 3, [0.05] * 3, [0.0, 1e-3], 3.0)
    assert shares[0] == pytest.approx(shares[1], rel=1e-12)
    assert shares[2] < shares[1]


def test_an_open_weld_carries_nothing_and_the_others_take_over():
    shares = sharing.ladder_currents([3.7] * 4, [0.05, np.inf, 0.05, 0.05], 1e-3, 3.0)
    assert shares[1] == 0.0
    assert shares.sum() == pytest.approx(3.0)


def test_a_single_cell_carries_all():
    assert sharing.ladder_currents([3.7], [0.05], 1e-3, 2.0) == pytest.approx([2.0])


def test_leads_at_opposite_ends_share_symmetrically_and_better():
    same, across = (
        sharing.ladder_currents([3.7] * 6, [0.05] * 6, 1.2e-3, 6.0, feed) for feed in ("same end", "diagonal")
    )
    assert across == pytest.approx(across[::-1], rel=1e-9)
    assert np.ptp(across) < 0.3 * np.ptp(same)


def test_an_unknown_feed_names_the_choices():
    with pytest.raises(ValueError, match="choose one of: same end, diagonal, centre"):
        sharing.ladder_currents([3.7], [0.05], 1e-3, 1.0, "middle")
