"""Strips as a network: the ladder's closed solutions, published shares, and Kirchhoff's laws on whole packs."""

from __future__ import annotations

import numpy as np
import pytest

from tideover.laws.ampacity import span_rise, strip_current, strip_rise
from tideover.laws.sharing import ladder_currents, parallel_currents
from tideover.laws.strips import StripNetwork, joint_resistance

FEEDS = {"same end": lambda n: (0, 0), "diagonal": lambda n: (0, n - 1), "centre": lambda n: (n // 2, n // 2)}


def row(n, ohms, plus, minus):
    """One group along two strips."""
    ends = [(2 * k, 2 * k + 2) for k in range(n - 1)] + [(2 * k + 1, 2 * k + 3) for k in range(n - 1)]
    return StripNetwork.of(n, ends, np.broadcast_to(ohms, 2 * (n - 1)), [2 * plus], [2 * minus + 1])


def grid(series, parallel, ohms):
    """Groups side by side, joined at every column, both leads at the first column."""
    ends = []
    for g in range(series):
        cells = range(g * parallel, (g + 1) * parallel)
        ends += [(2 * k + e, 2 * k + 2 + e) for e in (0, 1) for k in cells[:-1]]
        if g + 1 < series:
            ends += [(2 * k + 1, 2 * (k + parallel)) for k in cells]
    last = (series - 1) * parallel
    return StripNetwork.of(series * parallel, ends, np.broadcast_to(ohms, len(ends)), [0], [2 * last + 1])


@pytest.mark.parametrize(
    ("n", "feed", "shares"),
    [
        (4, "same end", [1.157, 1.020, 0.933, 0.890]),
        (4, "diagonal", [1.023, 0.977, 0.977, 1.023]),
        (8, "same end", [1.68, 1.38, 1.14, 0.96, 0.82, 0.72, 0.66, 0.63]),
    ],
)
def test_published_shares(n, feed, shares):
    found = row(n, 1.2e-3, *FEEDS[feed](n)).solve(np.full(n, 3.7), np.full(n, 0.05), float(n))
    np.testing.assert_allclose(found.currents, shares, atol=0.005 if n == 8 else 0.0005)


@pytest.mark.parametrize("feed", list(FEEDS))
def test_any_row_is_the_ladder(feed):
    rng = np.random.default_rng(3)
    ocv, r = rng.uniform(3.5, 3.8, 6), rng.uniform(0.03, 0.09, 6)
    bars = rng.uniform(0.0, 3e-3, 5)
    bars[2] = 0.0
    found = row(6, np.concatenate([bars, bars]), *FEEDS[feed](6)).solve(ocv, r, 9.0)
    np.testing.assert_allclose(found.currents, ladder_currents(ocv, r, bars, 9.0, feed), rtol=1e-8)


def test_strips_without_resistance_are_a_plain_parallel_circuit_even_in_rings():
    ocv, r = np.array([3.6, 3.7, 3.65, 3.6, 3.5, 3.7]), np.array([0.05, 0.06, 0.07, 0.05, np.inf, 0.06])
    found = grid(2, 3, 0.0).solve(ocv, r, 4.0)
    expected = np.concatenate([parallel_currents(ocv[:3], r[:3], 4.0), parallel_currents(ocv[3:], r[3:], 4.0)])
    np.testing.assert_allclose(found.currents, expected, atol=1e-10)
    assert np.isfinite(found.segments).all()


def test_kirchhoff_and_the_ledger_on_a_pack_with_an_open_weld():
    rng = np.random.default_rng(5)
    network = grid(3, 5, 1.2e-3)
    ocv, r = rng.uniform(3.6, 3.7, (7, 15)), rng.uniform(0.03, 0.08, (7, 15))
    r[2, 4] = np.inf
    load = rng.uniform(-5.0, 20.0, 7)
    found = network.solve(ocv, r, load)
    at = np.zeros((7, 32))
    np.add.at(at, (slice(None), network.ends[:, 0]), -found.segments)
    np.add.at(at, (slice(None), network.ends[:, 1]), found.segments)
    at[:, 0:-2:2] += found.currents
    at[:, 1:-2:2] -= found.currents
    at[:, -2] -= load
    at[:, -1] += load
    np.testing.assert_allclose(at, 0.0, atol=1e-9)
    drops = found.nodes[:, network.ends[:, 0]] - found.nodes[:, network.ends[:, 1]]
    np.testing.assert_allclose(drops, network.ohms * found.segments, atol=1e-9)
    across = found.nodes[:, 0:-2:2] - found.nodes[:, 1:-2:2]
    whole = np.isfinite(r)
    np.testing.assert_allclose(across[whole], (ocv - np.where(whole, r, 0.0) * found.currents)[whole], atol=1e-9)
    joule = np.sum(np.where(whole, r, 0.0) * found.currents**2, axis=1) + found.heat.sum(axis=1)
    np.testing.assert_allclose(np.sum(ocv * found.currents, axis=1), found.volts * load + joule, rtol=1e-9)


def test_a_batch_is_its_cases_and_the_line_is_the_solution():
    rng = np.random.default_rng(7)
    ocv, r = rng.uniform(3.6, 3.7, (4, 6)), rng.uniform(0.03, 0.08, (4, 6))
    network = grid(2, 3, 1e-3)
    together = network.solve(ocv, r, 5.0)
    i_0, i_1, v_0, ohms = network.line(ocv, r)
    for k in range(4):
        alone = network.solve(ocv[k], r[k], 5.0)
        np.testing.assert_allclose(together.currents[k], alone.currents, rtol=1e-12)
        np.testing.assert_allclose(i_0[k] + 5.0 * i_1[k], alone.currents, rtol=1e-9)
        assert v_0[k] - 5.0 * ohms[k] == pytest.approx(alone.volts, rel=1e-12)


def test_joint_resistance_of_two_cells_in_closed_form():
    """Leads at the first of two: its resistance stands beside the other's and two bars."""
    r, bar, weld = 0.05, 2e-3, 1e-3
    found = joint_resistance(row(2, bar, 0, 0), np.full(2, r), weld, 1)
    one, other = r + weld, r + weld + 2 * bar
    assert found == pytest.approx(one * other / (one + other) - r / 2, rel=1e-9)


def test_a_strip_over_both_ends_of_a_cell_is_refused():
    with pytest.raises(ValueError, match="short circuit"):
        StripNetwork.of(2, [(0, 2), (1, 3), (2, 3)], [1e-3] * 3, [0], [1])


def test_the_rise_of_a_strip_is_the_inverse_of_its_current():
    for width, thick, rise in ((5e-3, 0.1e-3, 10.0), (8e-3, 0.15e-3, 20.0), (10e-3, 0.3e-3, 35.0)):
        i = strip_current(width, thick, rise)
        assert strip_rise(i, width, thick, alpha=0.0) == pytest.approx(rise)
        assert strip_rise(i, width, thick) > rise
    assert np.isinf(strip_rise(30.0, 8e-3, 0.15e-3))


def test_a_long_span_rises_as_a_free_strip_and_a_short_one_as_a_rod_held_at_both_ends():
    assert span_rise(5.0, 8e-3, 0.15e-3, 2.0) == pytest.approx(strip_rise(5.0, 8e-3, 0.15e-3), rel=1e-3)
    i, width, thick, length, temp = 1.0, 8e-3, 0.15e-3, 4e-3, 293.15
    conducts = 2.45e-8 * temp / 6.99e-8 * width * thick
    rod = i**2 * 6.99e-8 / (width * thick) * length**2 / (8.0 * conducts)
    assert span_rise(i, width, thick, length, temp) == pytest.approx(rod, rel=1e-2)
