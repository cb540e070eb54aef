"""Samples: even in every figure, the same for the same seed, and a figure's draws are its own."""

from __future__ import annotations

import numpy as np
import pytest
from answers.builds import network

from tideover.cases import Spread, samples, spreads
from tideover.cases.samples import LOG, LOT_SHARE, UNIFORM, at, law, sign

BRICK = "brick: {kind: adapter, voltage: 12 V ±5 %, rated current: 8 A, current limit: 9 A, output resistance: 0.2 Ω}"


def build(more: str = ""):
    """An adapter, two leads off one reel, a jack and a boost; `more` stands before all others."""
    return network(f"""
title: Drawn
need: {{at: load, window: 5 V to 13 V, ambient: 10 °C to 30 °C}}
parts:
{more}  {BRICK}
  out: DC cable 18 AWG 1.5 m
  back: {{from: DC cable 18 AWG 1.5 m, length: 1 m}}
  jack: {{from: barrel jack 5.5/2.1, contact resistance: 8 mΩ -50/+300 %}}
  converter: boost module 2 cells to 12 V
  lamp: {{kind: load, power: 6 W ±20 %, nominal voltage: 12 V}}
joins:
  - brick > {"more > " if more else ""}out > jack > back > converter > (load) > lamp
""")


def drawn(net, count=200, seed=1):
    every = spreads(net)
    return every, samples(net, every, count, np.random.default_rng(seed))


def test_every_figure_has_one_sample_in_each_part_of_its_range():
    every, s = drawn(build())
    assert len(every) > 6
    cells = np.sort(np.floor(s.u * 200), axis=0)
    assert (cells == np.arange(200)[:, None]).all()


def test_values_lie_between_the_limits_and_follow_their_law():
    every, s = drawn(build())
    for k, one in enumerate(every):
        v = s.batch.values[one.part, one.name]
        assert v.min() >= one.low * (1 - 1e-12) and v.max() <= one.high * (1 + 1e-12)
        middle = np.sqrt(one.low * one.high) if law(one) == LOG else 0.5 * (one.low + one.high)
        assert np.median(v) == pytest.approx(middle, rel=0.01)
        assert v == pytest.approx(at(one, s.u[:, k]), rel=1e-12)


def test_limits_far_apart_are_factors():
    assert law(Spread("jack", "r", 8.0, 4.0, 32.0)) == LOG
    assert law(Spread("jack", "r", 8.0, 4.0, 11.9)) == UNIFORM
    assert law(Spread("jack", "leakage", 1.0, 0.0, 32.0)) == UNIFORM


def test_a_limit_that_is_the_nominal_value_has_its_own_side():
    one = Spread("hold-up", "ESR", 2.0, 1.0, 2.0)
    assert sign(one, np.array([0.0, 0.5, 1.0])).tolist() == [-1.0, -0.5, 0.0]


def test_the_same_seed_gives_the_same_builds_and_another_gives_others():
    net = build()
    a, b, c = (drawn(net, seed=seed)[1].u for seed in (1, 1, 2))
    assert (a == b).all() and (a != c).all()


def test_another_part_reshuffles_no_other_figure():
    """Variants of a build are compared on the same draws."""
    every, before = drawn(build())
    more, after = drawn(build("  more: {kind: resistor, resistance: 0.1 Ω ±5 %}\n"))
    assert len(more) == len(every) + 1
    where = [[(s.part, s.name) for s in more].index((s.part, s.name)) for s in every]
    assert (after.u[:, where] == before.u).all()


def test_like_parts_share_a_lot_and_others_do_not():
    every, s = drawn(build(), 4000)
    column = {(one.part, one.name): s.u[:, k] for k, one in enumerate(every)}
    rho = np.corrcoef(column["out", "resistivity"], column["back", "resistivity"])[0, 1]
    assert rho == pytest.approx(6 / np.pi * np.arcsin(LOT_SHARE / 2), abs=0.04)
    other = np.corrcoef(column["out", "resistivity"], column["jack", "contact_resistance"])[0, 1]
    assert abs(other) < 0.06


def test_thresholds_of_one_part_move_together():
    net = build()
    _, s = drawn(net)
    off, on = (s.batch.values["converter", n] for n in ("lockout_off", "lockout_on"))
    assert (off < on).all()
    assert (np.diff(on[np.argsort(off)]) >= -1e-12).all()
