"""What samples say, against shares, variances and intervals that are known."""

from __future__ import annotations

import numpy as np
import pytest
from answers.builds import network, plain

from tideover.cases import Spread, samples, spreads
from tideover.cases.yields import (
    contributions,
    filled,
    holds,
    places,
    root_sum_square,
    wilks,
    wilson,
)

INF = np.inf


def test_the_interval_covers_the_true_share_as_often_as_it_says():
    """The product of two even draws lies below 0.1 with a probability of 0.1 (1 - ln 0.1)."""
    rng = np.random.default_rng(3)
    true = 1.0 - 0.1 * (1.0 - np.log(0.1))
    held = holds(rng.random((3000, 150)) * rng.random((3000, 150)), "low", 0.1).sum(axis=1)
    inside = [s.low <= true <= s.high for s in (wilson(int(k), 150) for k in held)]
    assert 0.935 <= np.mean(inside) <= 0.965


def test_stratified_samples_keep_the_interval_on_the_safe_side():
    net = network(plain().replace("voltage: 12 V", "voltage: 12 V ±5 %", 1).replace("0.75 Ω", "0.75 Ω ±10 %"))
    every = spreads(net)
    inside = 0
    for seed in range(100):
        u = samples(net, every, 100, np.random.default_rng(seed)).u
        s = wilson(int((u[:, 0] * u[:, 1] >= 0.1).sum()), 100)
        inside += s.low <= 1.0 - 0.1 * (1.0 - np.log(0.1)) <= s.high
    assert inside >= 95


def test_all_and_none_have_an_interval_too():
    assert wilson(20, 20).high == 1.0 and 0.8 < wilson(20, 20).low < 0.86
    assert wilson(0, 20).low == 0.0 and 0.14 < wilson(0, 20).high < 0.2
    assert wilson(0, 0).count == 0


def test_order_statistics_bound_the_share_that_the_standard_tables_say():
    """59 samples for 95 % with 95 % confidence, 459 for 99 %: the usual table of one-sided limits."""
    assert wilks(58) < 0.95 <= wilks(59)
    assert wilks(298) < 0.99 <= wilks(299)


def test_percentiles_stand_between_their_limits_and_cover_the_true_ones():
    rng = np.random.default_rng(5)
    hits = np.zeros(3)
    for _ in range(60):
        y = np.sort(rng.random(500))
        value, low, high = y[places(500, rng)].T
        assert (low <= value).all() and (value <= high).all()
        hits += (low <= [0.01, 0.5, 0.99]) & (high >= [0.01, 0.5, 0.99])
    assert (hits >= 50).all()


def test_what_has_no_value_is_the_worst_there_is():
    y = [1.0, np.nan, 3.0]
    assert filled(y, "low").tolist() == [1.0, -INF, 3.0]
    assert filled(y, "high").tolist() == [1.0, INF, 3.0]
    assert holds(y, "low", 2.0).tolist() == [False, False, True]
    assert holds(y, "high", 2.0).tolist() == [True, False, False]


def test_contributions_recover_the_shares_that_were_planted():
    rng = np.random.default_rng(7)
    u = rng.random((4000, 8))
    weight = np.array([3.0, 2.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.5])
    share, r2 = contributions(u, u @ weight)
    assert share == pytest.approx(weight**2 / (weight**2).sum(), abs=0.02)
    assert r2 == pytest.approx(1.0, abs=0.001) and share.sum() == pytest.approx(r2, abs=0.01)


def test_a_jump_does_not_hide_who_makes_it():
    u = np.random.default_rng(8).random((4000, 4))
    share, r2 = contributions(u, np.where(u[:, 2] > 0.8, -INF, u[:, 0]))
    assert set(np.argsort(-share)[:2].tolist()) == {0, 2} and share[[1, 3]].max() < 0.01 and 0.5 < r2 < 0.95


def test_shares_of_a_lot_add_up_to_what_is_explained():
    rng = np.random.default_rng(9)
    common = rng.normal(size=4000)
    u = np.column_stack([common + rng.normal(size=4000), common + rng.normal(size=4000), rng.normal(size=4000)])
    share, r2 = contributions(u, u @ np.ones(3))
    # Variances 2, 2 and 1, and a covariance of 1 each way between the first two: 3 + 3 + 1.
    assert share == pytest.approx([3 / 7, 3 / 7, 1 / 7], abs=0.03) and r2 > 0.97


def test_nothing_is_said_of_who_scatters_what_does_not_scatter():
    share, r2 = contributions(np.random.default_rng(1).random((100, 3)), np.ones(100))
    assert share.tolist() == [0.0] * 3 and r2 == 0.0


def random(name="r"):
    return Spread("wire", name, 1.0, 0.9, 1.1)


def test_random_figures_add_in_squares_and_biases_in_full():
    """y = 10 + a + b + c with a, b within ±1 and the room within ±2: 10 - 2 - 3 sqrt(1/3 + 1/3)."""
    room = Spread("box", "ambient", 293.0, 283.0, 303.0, "K")
    alone = [(9.0, 11.0), (11.0, 9.0), (8.0, 12.0)]
    low = root_sum_square(10.0, alone, [random("a"), random("b"), room], [None] * 3, "low")
    assert low == pytest.approx(10.0 - 2.0 - 3.0 * np.sqrt(2.0 / 3.0))
    high = root_sum_square(10.0, alone, [random("a"), random("b"), room], [None] * 3, "high")
    assert high == pytest.approx(10.0 + 2.0 + 3.0 * np.sqrt(2.0 / 3.0))


def test_a_lot_averages_out_less():
    alone = [(9.0, 11.0), (9.0, 11.0)]
    apart = root_sum_square(10.0, alone, [random("a"), random("b")], [None, None], "low")
    lot = root_sum_square(10.0, alone, [random("a"), random("b")], ["reel", "reel"], "low")
    rho = 6 / np.pi * np.arcsin(0.25)
    assert apart == pytest.approx(10.0 - 3.0 * np.sqrt(2 / 3))
    assert lot == pytest.approx(10.0 - 3.0 * np.sqrt(2 / 3 * (1 + rho)))


def test_a_one_sided_figure_moves_the_middle():
    """-20/+0 %: the middle lies 1 below what is written."""
    assert root_sum_square(10.0, [(8.0, 10.0)], [random()], [None], "low") == pytest.approx(9.0 - 3.0 / np.sqrt(3))


def test_no_sum_where_a_single_figure_leaves_nothing():
    assert np.isnan(root_sum_square(10.0, [(np.nan, 10.0)], [random()], [None], "low"))
