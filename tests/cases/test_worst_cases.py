"""Spreads, batches and extreme values, on a build small enough to know the answers by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tideover.cases import (
    Spread,
    corner,
    cross,
    extreme,
    extremes,
    join,
    nominal,
    one_at_a_time,
    override,
    random_corners,
    repeat,
    spreads,
)
from tideover.design import examine_text
from tideover.network import settle
from tideover.solve import build, rest

DIVIDER = """
tideover: 1
title: Divider
need: {at: load, window: 4 V to 6 V, ambient: 25 °C}
parts:
  brick: {kind: adapter, voltage: 10 V ±5 %, rated current: 1 A, current limit: 2 A, output resistance: 100 mΩ}
  upper: {kind: resistor, resistance: 100 Ω ±10 %, tempco: 0 1/K}
  lower: {kind: resistor, resistance: 100 Ω ±20 %, tempco: 0 1/K}
joins:
  - brick > upper > (load) > lower > (return)
box: {width: 100 mm, depth: 100 mm, height: 50 mm}
"""


@pytest.fixture(scope="module")
def divider():
    return settle(examine_text(DIVIDER))


@pytest.fixture(scope="module")
def varied(divider):
    return tuple(s for s in spreads(divider) if s.part in ("brick", "upper", "lower"))


def middle(network):
    def evaluate(batch):
        return rest(build(network, batch.values, batch.count)).v[:, network.at]

    return evaluate


def test_spreads_come_in_the_order_of_the_file(varied):
    assert [(s.part, s.name) for s in varied] == [
        ("brick", "voltage"),
        ("upper", "resistance"),
        ("lower", "resistance"),
    ]
    assert varied[1].low == pytest.approx(90.0) and varied[1].high == pytest.approx(110.0)


def test_one_at_a_time_moves_one_figure_per_case(divider, varied):
    batch = one_at_a_time(divider, varied)
    assert batch.count == 4 and batch.labels[0] == "nominal"
    assert batch.values["lower", "resistance"] == pytest.approx([100.0, 100.0, 100.0, 120.0])
    assert batch.labels[3] == "lower resistance +20 %"
    only_low = (Spread("upper", "resistance", 100.0, 90.0, 100.0, "ohm"),)
    assert one_at_a_time(divider, only_low).values["upper", "resistance"] == pytest.approx([100.0, 90.0])


def test_the_worst_corner_of_a_divider_is_the_one_known_by_hand(divider, varied):
    found = extreme(divider, varied, middle(divider), "low", np.random.default_rng(1))
    assert found.value == pytest.approx(9.5 * 80.0 / (80.0 + 110.0 + 0.1), rel=1e-4)
    assert found.nominal == pytest.approx(1000.0 / 200.1, rel=1e-4)
    assert found.signs == (-1.0, 1.0, -1.0)
    assert found.label == "lower resistance -20 %, brick voltage -5 %, upper resistance +10 %"
    assert found.checked == 64 and not found.surprised


def test_both_ends_are_found_with_the_same_calls(divider, varied):
    calls = []

    def evaluate(batch):
        calls.append(batch.count)
        return np.tile(middle(divider)(batch), (2, 1))

    low, high = extremes(divider, varied, evaluate, ("low", "high"), np.random.default_rng(1))
    assert high.value == pytest.approx(10.5 * 120.0 / (120.0 + 90.0 + 0.1), rel=1e-4)
    assert low.value < low.nominal < high.value
    assert calls == [7, 8]  # single figures; one corner for each end among all corners as the check


def test_a_random_corner_catches_what_single_figures_miss(divider, varied):
    def saddle(batch):
        upper = batch.values["upper", "resistance"] / 100.0 - 1.0
        lower = batch.values["lower", "resistance"] / 100.0 - 1.0
        return upper * lower

    found = extreme(divider, varied, saddle, "low", np.random.default_rng(3))
    assert found.surprised
    assert found.value == pytest.approx(-0.02)


def test_the_climb_goes_on_from_a_lucky_corner(divider):
    many = tuple(Spread("upper", f"p{k}", 0.0, -1.0, 1.0) for k in range(12))

    def evaluate(batch):
        """Flat for one figure alone; once the first two agree, each of the others counts."""
        p = np.array([batch.values["upper", f"p{k}"] for k in range(12)])
        return np.where(p[0] * p[1] > 0.5, -p[2:].sum(axis=0) - 20.0, 0.0)

    found = extreme(divider, many, evaluate, "low", np.random.default_rng(2))
    assert found.surprised and found.value == pytest.approx(-30.0)


def test_a_case_without_a_value_is_the_worst_of_all(divider, varied):
    def evaluate(batch):
        v = batch.values["brick", "voltage"]
        return np.where(v < 9.9, np.nan, v)

    found = extreme(divider, varied, evaluate, "low", np.random.default_rng(1))
    assert found.failed and found.label == "brick voltage -5 %" and found.nominal == pytest.approx(10.0)


def test_a_build_without_spreads_is_its_own_worst_case(divider):
    found = extreme(divider, (), middle(divider), "low", np.random.default_rng(1))
    assert found.label == "nominal" and found.value == found.nominal


def test_thresholds_of_one_reference_move_together():
    text = DIVIDER.replace(
        "joins:",
        "  module: {kind: buck, set voltage: 5 V, current limit: 2 A, lockout off: 6 V ±5 %, lockout on: 6.5 V}\n"
        "joins:\n  - brick.plus > module.input\n  - module.output > (five)\n  - (five) > load\n",
    ).replace("  lower:", "  load: {kind: load, power: 1 W, nominal voltage: 5 V}\n  lower:")
    network = settle(examine_text(text))
    (lockout,) = [s for s in spreads(network) if s.part == "module" and s.name == "lockout_off"]
    assert [p.name for p in lockout.partners] == ["lockout_on"]
    batch = corner(network, (lockout,), [[-1.0], [1.0]])
    gap = batch.values["module", "lockout_on"] - batch.values["module", "lockout_off"]
    assert gap == pytest.approx([0.5, 0.5])


def test_join_fills_in_what_a_batch_does_not_list(divider, varied):
    batch = join(divider, [nominal(divider), one_at_a_time(divider, varied[:1])])
    assert batch.count == 3
    assert batch.values["brick", "voltage"] == pytest.approx([10.0, 10.0, 10.5])


def test_cross_puts_every_case_under_every_condition(divider, varied):
    batch, given = cross(one_at_a_time(divider, varied[:1]), ("half", "full"), {"charge": (0.5, 1.0)})
    assert batch.labels == (
        "half; nominal",
        "half; brick voltage +5 %",
        "full; nominal",
        "full; brick voltage +5 %",
    )
    assert given["charge"] == pytest.approx([0.5, 0.5, 1.0, 1.0])
    assert batch.values["brick", "voltage"] == pytest.approx([10.0, 10.5, 10.0, 10.5])


def test_override_and_repeat_keep_the_rest(divider, varied):
    batch = override(one_at_a_time(divider, varied[:1]), {("upper", "resistance"): 1e6}, "upper broken")
    assert batch.values["upper", "resistance"] == pytest.approx([1e6, 1e6])
    assert batch.labels[0] == "nominal; upper broken"
    assert repeat(batch, 2).count == 4


def test_random_corners_are_the_same_for_the_same_seed(divider, varied):
    first = random_corners(divider, varied, 8, np.random.default_rng(5))
    again = random_corners(divider, varied, 8, np.random.default_rng(5))
    for key, values in first.values.items():
        assert values == pytest.approx(again.values[key])
        s = next(s for s in varied if (s.part, s.name) == key)
        assert set(np.round(values, 9)) <= {round(s.low, 9), round(s.high, 9)}
