"""Groups that are alike: against every possible grouping, against the proved bound, and what must never happen."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tideover.cells.balance import balance
from tideover.cells.grouping import (
    WEIGHT,
    WITHIN,
    TooFew,
    allot,
    best_mean,
    greedy,
    group_cells,
    serpentine,
    spread_within,
)
from tideover.cells.stock import StockCell
from tideover.cells.swaps import SWAPS, Box, rounds_of

AH, MAH = 3600.0, 3.6


def box_of_cells(n, seed, spread=0.05, unlike=0.04):
    """Capacities and resistances of salvaged cells. [C, ohm]"""
    rng = np.random.default_rng(seed)
    return 2.2 * AH * rng.normal(1.0, spread, n), 0.06 * np.exp(rng.normal(0.0, unlike, n))


def cost(q, r, groups):
    """The cost as it is defined, written out once more and slowly."""
    series, parallel = np.shape(groups)
    bound = sum(sorted(q)[-series * parallel :]) / series
    order = np.argsort(-q)[: series * parallel]
    scale = parallel * np.mean(1.0 / r[order])
    g = [sum(1.0 / r[k] for k in row) for row in groups]
    total = 0.0
    for row, its in zip(groups, g):
        low, high = min(r[k] for k in row), max(r[k] for k in row)
        total += (1.0 - sum(q[k] for k in row) / bound) ** 2
        total += WEIGHT * ((its - np.mean(g)) / scale) ** 2
        total += WEIGHT * max(0.0, (high - low) / (high + low) - WITHIN) ** 2
    return total


def every_grouping(n, series, parallel):
    """All ways to put `n` cells into groups in which order does not matter; the first cell left leads its group."""

    def fill(left, more):
        if not more:
            yield []
            return
        first, *others = left
        for rest in combinations(others, parallel - 1):
            remaining = [k for k in others if k not in rest]
            for tail in fill(remaining, more - 1):
                yield [[first, *rest], *tail]

    for chosen in combinations(range(n), series * parallel):
        yield from fill(list(chosen), series)


@pytest.mark.parametrize(("n", "series", "parallel"), [(12, 3, 4), (12, 4, 3), (10, 2, 4), (9, 4, 2)])
@pytest.mark.parametrize("unlike", [0.04, 0.15])
def test_a_small_case_is_the_best_of_all_groupings(n, series, parallel, unlike):
    q, r = box_of_cells(n, 10 * n + series, unlike=unlike)
    all_groups = np.array(list(every_grouping(n, series, parallel)))
    found = group_cells(q, r, None, series, parallel, np.random.default_rng(1))
    order = np.argsort(-q)[: series * parallel]
    y = np.sqrt(WEIGHT) / r / (parallel * np.mean(1.0 / r[order]))
    costs = Box(q / best_mean(q, series, parallel), y, r, WITHIN, WEIGHT).cost(all_groups)
    assert found.cost == pytest.approx(cost(q, r, found.groups), rel=1e-9)
    assert found.cost == pytest.approx(costs.min(), rel=1e-9)
    assert costs.max() > 1.5 * costs.min()


@pytest.mark.parametrize(("n", "series", "parallel"), [(12, 3, 4), (12, 4, 3)])
def test_the_smallest_group_of_a_small_case_is_within_a_thousandth_of_the_largest_possible(n, series, parallel):
    q, _ = box_of_cells(n, n + series)
    possible = q[np.array(list(every_grouping(n, series, parallel)))].sum(-1).min(-1).max()
    found = group_cells(q, None, None, series, parallel, np.random.default_rng(1))
    assert found.smallest <= possible * (1 + 1e-12) <= found.bound * (1 + 2e-12)
    assert found.smallest >= 0.999 * possible


@pytest.mark.parametrize("seed", range(3))
def test_80_cells_in_10_groups_come_within_8_mah_of_the_bound(seed):
    q, r = box_of_cells(80, seed)
    found = group_cells(q, r, None, 10, 8, np.random.default_rng(seed))
    assert 0.0 <= found.bound - found.smallest < 8 * MAH
    assert np.ptp(found.conductance) / found.conductance.mean() < 0.01


@pytest.mark.parametrize("series", [20, 14])
def test_400_cells_come_within_8_mah_of_the_bound_in_a_counted_number_of_exchanges(series):
    q, r = box_of_cells(400, 4)
    found = group_cells(q, r, None, series, 20, np.random.default_rng(1))
    assert 0.0 <= found.bound - found.smallest < 8 * MAH
    assert found.spread < 8 * MAH
    assert np.all(spread_within(r[found.groups]) <= WITHIN)
    assert found.weighed < 1.5 * SWAPS


def test_among_more_cells_than_needed_those_of_odd_resistance_stay_out():
    q, r = box_of_cells(60, 5)
    best = np.argsort(-q)[:4]
    r[best] *= 1.8
    found = group_cells(q, r, None, 5, 10, np.random.default_rng(1))
    assert set(best) <= set(found.left_out)
    assert found.smallest > 0.98 * found.bound


def test_the_best_cells_are_chosen():
    q, _ = box_of_cells(60, 6)
    found = group_cells(q, None, None, 4, 10, np.random.default_rng(1))
    assert found.conductance is None
    assert set(found.left_out) >= set(np.argsort(q)[:15])
    assert found.bound - found.smallest < 2 * MAH


def test_exact_halves_are_found_and_known_to_be_the_most():
    q = np.array([5.0, 5.0, 4.0, 3.0, 3.0])
    found = group_cells(q, None, None, 2, 2, np.random.default_rng(0))
    assert found.left_out.tolist() in ([3], [4])
    assert found.smallest == 8.0 and found.bound == 8.5


@st.composite
def cases(draw):
    series, parallel, more = draw(st.integers(1, 5)), draw(st.integers(1, 5)), draw(st.integers(0, 6))
    n = series * parallel + more
    q = draw(st.lists(st.floats(0.5, 3.0), min_size=n, max_size=n))
    r = draw(st.lists(st.floats(0.02, 0.3), min_size=n, max_size=n))
    kinds = draw(st.lists(st.sampled_from(["a", "b"]), min_size=n, max_size=n))
    return np.array(q) * AH, np.array(r), kinds, series, parallel


def grouped(case, seed=1, order=None, **options):
    q, r, kinds, series, parallel = case
    order = np.arange(len(q)) if order is None else order
    rng = np.random.default_rng(seed)
    return group_cells(q[order], r[order], [kinds[k] for k in order], series, parallel, rng, swaps=20_000, **options)


@settings(max_examples=25, deadline=None)
@given(cases(), st.booleans(), st.randoms(use_true_random=False))
def test_what_holds_for_any_cells(case, mixed, random):
    q, r, kinds, series, parallel = case
    try:
        found = grouped(case, mixed=mixed)
    except TooFew:
        most = [kinds.count(kind) for kind in "ab"]
        assert sum(n // parallel for n in most) < series if mixed else max(most) < series * parallel
        return
    used = found.groups.ravel().tolist()
    assert sorted([*used, *found.left_out.tolist()]) == list(range(len(q)))
    assert all(len({kinds[k] for k in row}) == 1 for row in found.groups)
    assert mixed or len({kinds[k] for k in used}) == 1
    assert found.smallest <= found.bound * (1 + 1e-9)
    np.testing.assert_allclose(found.capacity, q[found.groups].sum(1))
    np.testing.assert_allclose(found.conductance, (1 / r[found.groups]).sum(1))
    again = grouped(case, mixed=mixed)
    assert np.array_equal(again.groups, found.groups)
    order = list(range(len(q)))
    random.shuffle(order)
    other = grouped(case, order=np.array(order), mixed=mixed)
    assert other.smallest == pytest.approx(found.smallest, rel=1e-12)
    assert other.cost == pytest.approx(found.cost, rel=1e-9, abs=1e-15)


@settings(max_examples=25, deadline=None)
@given(cases(), st.integers(0, 9))
def test_never_worse_than_dealing_out_sorted_cells(case, seed):
    q, r, _, series, parallel = case
    found = grouped((q, r, ["a"] * len(q), series, parallel), seed)
    rows = np.lexsort((r, -q))
    for simple in (serpentine(len(q), series, parallel), greedy(q[rows], series, parallel)):
        assert found.cost <= cost(q, r, rows[simple]) + 1e-12


@settings(max_examples=25, deadline=None)
@given(cases())
def test_no_exchange_of_two_cells_makes_it_better(case):
    q, r, _, series, parallel = case
    found = grouped((q, r, ["a"] * len(q), series, parallel))
    cells = [*found.groups.ravel(), *found.left_out]
    for i, j in combinations(range(len(cells)), 2):
        if i < series * parallel:
            other = np.array(cells)
            other[[i, j]] = other[[j, i]]
            assert found.cost <= cost(q, r, other[: series * parallel].reshape(series, parallel)) + 1e-9


def test_kinds_share_the_groups_so_that_the_weakest_is_strongest():
    strong, weak = np.full(9, 3.0 * AH), np.full(30, 2.0 * AH)
    assert allot([strong, weak], 4, 3, mixed=True) == [3, 1]
    assert allot([strong, weak], 4, 3) == [0, 4]
    assert allot([strong, weak], 3, 3) == [3, 0]
    with pytest.raises(TooFew):
        allot([strong, weak], 14, 3, mixed=True)
    with pytest.raises(TooFew):
        allot([], 1, 1)


@pytest.mark.parametrize(
    "wrong",
    [
        {"capacity": [1.0, -1.0]},
        {"capacity": [1.0, np.nan]},
        {"resistance": [0.0, 1.0]},
        {"resistance": [1.0]},
        {"series": 0},
        {"kinds": ["a"]},
    ],
)
def test_what_is_no_cell_is_refused(wrong):
    right = {"capacity": [1.0, 1.0], "resistance": [1.0, 1.0], "kinds": None, "series": 1, "parallel": 1}
    with pytest.raises(ValueError):
        group_cells(**{**right, **wrong}, rng=np.random.default_rng(0))


@pytest.mark.parametrize("series", range(1, 9))
def test_each_group_meets_each_other_once(series):
    rounds = rounds_of(series)
    met = [frozenset(map(int, pair)) for first, second in rounds for pair in zip(first, second)]
    assert sorted(map(sorted, met)) == [list(pair) for pair in combinations(range(series), 2)]
    assert all(len({*first, *second}) == 2 * len(first) for first, second in rounds)


def test_figures_of_four_cells_worked_out_by_hand():
    cells = [
        StockCell("A", capacity=2.0 * AH, capacity_spread=0.03, resistance=0.06),
        StockCell("B", capacity=2.0 * AH, capacity_spread=0.04, resistance=0.05),
        StockCell("C", capacity=2.1 * AH, capacity_spread=0.0, resistance=0.05),
        StockCell("D", capacity=1.9 * AH, capacity_spread=0.0, resistance=0.05),
    ]
    found = group_cells(
        [c.capacity for c in cells], [c.resistance for c in cells], None, 1, 4, np.random.default_rng(0)
    )
    figures = balance(cells, found)
    assert figures.capacity.tolist() == [8.0 * AH]
    assert figures.uncertainty == pytest.approx([0.1 * AH])
    assert figures.resistance == pytest.approx([1 / (1 / 0.06 + 3 / 0.05)])
    assert figures.within == pytest.approx([0.01 / 0.11])
    assert figures.share == pytest.approx([20.0 / ((1 / 0.06 + 60.0) / 4)])
    assert figures.expected_loss == 0.0 and figures.off == 0.0 and not figures.measured


def test_the_expected_loss_is_that_of_equal_groups_measured_with_noise():
    cells = [StockCell(f"A{k}", capacity=2.0 * AH, capacity_spread=0.02) for k in range(40)]
    found = group_cells([c.capacity for c in cells], None, None, 10, 4, np.random.default_rng(0))
    figures = balance(cells, found)
    drawn = np.random.default_rng(1).normal(2.0 * AH, 0.04 * AH, (4000, 10, 4)).sum(-1)
    assert figures.expected_loss == pytest.approx(8.0 * AH - drawn.min(-1).mean(), rel=0.03)
    assert figures.resistance is None and not figures.measured
