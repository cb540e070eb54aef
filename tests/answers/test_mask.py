"""The mask: exact stretches on straight lines, dips read from the window down, and margins in volts."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tideover.answers.mask import Mask, held, judge, longest, stretches_below, worst

WITH_DIPS = Mask(12.6, ((11.4, 0.005), (10.5, 0.0005), (9.0, 0.0)))
STRICT = Mask(12.6, ((11.4, 0.0),))


def notch(depth: float, width: float, top: float = 12.0) -> tuple[np.ndarray, np.ndarray]:
    """A straight-sided dip: down and up within a nanosecond, `width` wide."""
    t = np.array([0.0, 1.0, 1.0, 1.0 + width, 1.0 + width, 2.0])
    v = np.array([top, top, depth, depth, top, top])
    return t, v


def test_a_dip_lets_the_voltage_leave_the_window_for_its_time_and_no_deeper_than_its_voltage() -> None:
    need = SimpleNamespace(window=(11.4, 12.6), dips=((10.5, 0.005), (9.0, 0.0005)))
    assert Mask.of(need) == WITH_DIPS  # type: ignore[arg-type]


def test_without_dips_the_window_is_all_there_is() -> None:
    need = SimpleNamespace(window=(11.4, 12.6), dips=())
    assert Mask.of(need) == STRICT  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("depth", "width", "holds"),
    [
        (10.6, 0.0049, True),
        (10.6, 0.0051, False),
        (10.4, 0.0049, False),
        (9.1, 0.00049, True),
        (9.1, 0.00051, False),
        (8.9, 0.00001, False),
        (11.5, 0.9, True),
    ],
)
def test_depth_and_width_decide_together(depth: float, width: float, holds: bool) -> None:
    assert (judge(*notch(depth, width), WITH_DIPS).margin >= 0.0) is holds


def test_the_margin_is_how_far_the_wave_can_be_lowered() -> None:
    t, v = notch(11.0, 0.003)
    margin = judge(t, v, WITH_DIPS).margin
    assert margin == pytest.approx(0.5)  # the notch may sink to 10.5 V; the rest has 0.6 V left
    assert judge(t, v - 0.999 * margin, WITH_DIPS).margin > 0.0
    assert judge(t, v - 1.001 * margin, WITH_DIPS).margin < 0.0


def test_crossings_lie_on_the_straight_line_between_points() -> None:
    t, v = np.array([0.0, 1.0, 3.0]), np.array([12.0, 10.0, 12.0])
    starts, ends = stretches_below(t, v, 11.0)
    assert starts == pytest.approx([0.5]) and ends == pytest.approx([2.0])
    assert longest(t, v, 11.0) == pytest.approx((1.5, 0.5))


def test_a_jump_is_crossed_at_its_instant() -> None:
    assert longest(*notch(10.0, 0.25), 11.0) == pytest.approx((0.25, 1.0))


def test_a_wave_that_ends_low_is_out_until_its_end_and_does_not_count_as_back() -> None:
    t, v = np.array([0.0, 1.0, 1.0, 1.001]), np.array([12.0, 12.0, 11.0, 11.0])
    found = judge(t, v, WITH_DIPS)
    assert not found.back
    assert found.margin == pytest.approx(-0.4)  # no 5 ms have passed, but nothing says that it ever comes back
    assert found.stayed == pytest.approx(0.001)


def test_too_much_voltage_is_judged_against_the_upper_limit() -> None:
    t, v = notch(13.0, 1e-6)
    found = judge(t, v, WITH_DIPS)
    assert found.over == pytest.approx(-0.4)
    assert found.worst == found.over


@given(
    v=st.lists(st.floats(0.0, 13.0), min_size=2, max_size=12),
    seconds=st.floats(0.0, 3.0),
    level=st.floats(0.0, 13.0),
)
def test_the_level_held_and_the_longest_stretch_agree(v: list[float], seconds: float, level: float) -> None:
    t, wave = np.arange(len(v), dtype=float), np.array(v)
    h = held(t, wave, seconds)
    assert wave.min() <= h <= wave.max()
    if level < h - 1e-6:
        assert longest(t, wave, level)[0] <= seconds + 1e-9
    if h + 1e-6 < level <= wave.max():
        assert longest(t, wave, level)[0] > seconds - 1e-6


@given(v=st.lists(st.floats(0.0, 13.0), min_size=2, max_size=12), a=st.floats(0.0, 3.0), b=st.floats(0.0, 3.0))
def test_the_longer_the_spell_allowed_the_higher_the_level_held(v: list[float], a: float, b: float) -> None:
    t, wave = np.arange(len(v), dtype=float), np.array(v)
    short, long = sorted((a, b))
    assert held(t, wave, short) <= held(t, wave, long) + 1e-6


@pytest.mark.parametrize("mask", [WITH_DIPS, STRICT], ids=["dips", "strict"])
def test_the_short_way_to_the_margin_is_the_long_way(mask: Mask) -> None:
    """Waves that start well inside, with dips of every depth and width, some ending low, some too high."""
    rng = np.random.default_rng(2)
    for _ in range(300):
        n = int(rng.integers(2, 40))
        t = np.cumsum(rng.choice([0.0, 1e-4, 1e-3, 0.1], n))
        v = 12.0 + rng.choice([0.0, 0.1, 1.0]) * np.minimum(rng.normal(0.0, 1.0, n), 0.8)
        assert worst(t, v, mask) == pytest.approx(judge(t, v, mask).worst, abs=1e-12)
