"""Tolerances: against closed forms and all corners, and the same whoever does the work."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from cases.clusters import loopback

from answers.builds import context, plain, two_diodes
from tideover.answers import tolerance
from tideover.answers.tolerance import Result, all_at_once, answer
from tideover.answers.tolerance_said import together
from tideover.answers.trials import Work, do, trials
from tideover.cases import Extreme, corner, pool, samples
from tideover.cases.samples import lot
from tideover.cases.yields import root_sum_square

VOLTS, OHMS = 0.05, 0.10
DIVIDER = (
    plain("14.4 W", window="10.6 V to 13 V", more=", law: resistance")
    .replace("voltage: 12 V,", "voltage: 12 V ±5 %,", 1)
    .replace("resistance: 0.75 Ω", "resistance: 0.75 Ω ±10 %")
)
"""12 V behind 0.2 ohm, 0.75 ohm of wire, 0.05 ohm and a resistance of 10 ohm."""


def divided(v, wire):
    """Voltage at the load's terminals."""
    return v * 10.05 / (10.05 + 0.2 + wire)


def fixed(text: str):
    """Its room and its box do not vary."""
    c = context(text)
    return replace(c, spreads=tuple(s for s in c.spreads if s.part != "box"))


@pytest.fixture(scope="module")
def divider():
    return fixed(DIVIDER)


def row(c, short):
    """Trial that gives a quantity, and its row there."""
    return next((t, k) for t in trials(c) for k, j in enumerate(t.judged) if j.short == short)


def test_a_divider_has_its_closed_form_in_every_sample(divider):
    trial, k = row(divider, "load, low")
    s = samples(divider.network, divider.spreads, 400, divider.rng)
    y = trial.of(divider, s.batch)[k]
    v, wire = s.batch.values["brick", "voltage"], s.batch.values["wire", "resistance"]
    assert y == pytest.approx(divided(v, wire), abs=2e-4)
    x, w = np.polynomial.legendre.leggauss(8)
    grid = divided(12 * (1 + VOLTS * x[:, None]), 0.75 * (1 + OHMS * x[None]))
    weight = np.outer(w, w) / 4.0
    mean = (weight * grid).sum()
    spread = np.sqrt((weight * (grid - mean) ** 2).sum())
    assert y.mean() == pytest.approx(mean, abs=1e-3)
    assert y.std() == pytest.approx(spread, rel=0.01)


def test_its_extreme_value_and_root_sum_square_are_those_of_the_formula(divider):
    trial, k = row(divider, "load, low")
    e = do(Work(divider, trial))[k]
    assert e.nominal == pytest.approx(divided(12.0, 0.75), abs=2e-4)
    assert e.value == pytest.approx(divided(12.0 * (1 - VOLTS), 0.75 * (1 + OHMS)), abs=2e-4)
    lots = [lot(divider.network, s) for s in divider.spreads]
    a = divided(12.6, 0.75) - divided(11.4, 0.75)
    b = divided(12.0, 0.675) - divided(12.0, 0.825)
    want = divided(12.0, 0.75) - 3.0 * np.sqrt((a * a + b * b) / 12.0)
    assert root_sum_square(e.nominal, e.alone, divider.spreads, lots, "low") == pytest.approx(want, abs=1e-3)


def test_its_yield_is_the_share_of_the_rectangle_above_the_limit(divider):
    """Above 10.6 V: v > 10.6 (10.25 + wire) / 10.05, an area of the rectangle of both tolerances."""
    wire = 0.75 * (1 + OHMS * np.linspace(-1, 1, 20001))
    edge = 10.6 * (10.25 + wire) / 10.05
    true = np.clip((12.6 - edge) / 1.2, 0.0, 1.0).mean()
    found = answer(divider)
    f = next(f for f in found.findings if f.name.startswith("load falls below"))
    assert f.status == found.status == "fails"
    assert f.value == pytest.approx(true, abs=0.01) and f.limit == 0.95
    assert ("brick voltage" in f.why and "narrow" in f.mend) or "brick voltage" in f.mend
    lie = next(s for s in found.spreads if s.name == "load, low")
    above = sum(share for edge, share in zip(lie.edges, lie.shares) if edge >= lie.limit)
    across = max(share for low, high, share in zip(lie.edges, lie.edges[1:], lie.shares) if low < lie.limit < high)
    assert sum(lie.shares) == pytest.approx(1.0) and (lie.held, lie.worse) == (f.value, "low")
    assert above <= lie.held <= above + across and lie.held_low < lie.held < lie.held_high


def test_contributors_share_as_their_variances_do(divider):
    table = next(t for t in answer(divider).tables if t.title.startswith("What makes"))
    k = next(k for k, r in enumerate(table.rows) if r[0] == "load, low")
    assert table.rows[k][1] == "brick voltage" and float(table.rows[k][2].split()[0]) > 95


@pytest.mark.parametrize("short", ["load, low", "load, high", "adapter", "outage"])
def test_no_corner_at_all_is_worse_than_the_extreme_value(short):
    """All 2^6 corners, one by one, of standing points and of outages."""
    text = plain("14 W ±20 %", "0.2 Ω ±30 %").replace(
        "voltage: 12 V, rated current: 8 A, current limit: 9 A, output resistance: 0.2 Ω",
        "voltage: 12 V ±4 %, rated current: 2 A, current limit: 3 A ±20 %, output resistance: 0.2 Ω ±50 %, "
        "hold-up: 10 ms ±30 %",
    )
    c = fixed(text)
    assert len(c.spreads) == 6
    trial, k = row(c, short)
    every = corner(c.network, c.spreads, np.array(list(product((-1.0, 1.0), repeat=6))))
    y = trial.of(c, every)[k]
    judged, found = trial.judged[k], do(Work(c, trial))[k]
    if np.isnan(y).any():
        assert found.failed
    else:
        worst = y.min() if judged.worse == "low" else y.max()
        assert found.value == pytest.approx(worst, abs=1e-3)


SMALL = (
    two_diodes("12 V ±3 %")
    .replace("window: 8 V to 16 V", "window: 8 V to 16 V, runtime: 1 h")
    .replace("6 W", "6 W ±9 %")
)


@pytest.fixture(scope="module")
def small():
    """Three pieces of work for each trial."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tolerance, "PIECE", 40)
        yield replace(context(SMALL), samples=100)


@pytest.fixture(scope="module")
def alone(small):
    return answer(small)


def test_every_answer_gives_its_quantity(small, alone):
    table = alone.tables[0]
    names = ("outage", "runtime", "load, low", "load, high", "adapter", "heat", "together")
    assert tuple(r[0] for r in table.rows) == names
    assert alone.status in ("holds", "tight") and "100 builds" in alone.headline


def test_workers_change_no_number(small, alone):
    with pool(2) as two:
        assert answer(replace(small, executor=two)) == alone


def test_a_cluster_of_two_workers_changes_no_number(small, alone):
    with loopback() as executor:
        assert answer(replace(small, executor=executor)) == alone


def test_another_seed_gives_other_numbers_of_the_same_kind(small, alone):
    other = answer(replace(small, seed=2, samples=80))
    assert other.status == alone.status and other.tables[1] != alone.tables[1]  # percentiles


def test_an_interrupt_keeps_what_is_finished_and_says_so(divider, monkeypatch):
    monkeypatch.setattr(tolerance, "PIECE", 500)  # whatever a build of small pieces has left behind
    every = len(trials(divider))

    def stop(done, total):
        if done == 2 * every:  # all worst corners, and one piece of each trial
            raise KeyboardInterrupt

    found = answer(replace(divider, told=stop))
    assert f"interrupted: {tolerance.PIECE} of 2000 samples" in found.headline
    failed = [f.state for f in found.findings if f.status == "fails"]
    assert failed and all(f"{tolerance.PIECE} samples" in state for state in failed)


def test_an_interrupt_before_anything_is_finished_is_open(divider):
    def stop(done, total):
        raise KeyboardInterrupt

    found = answer(replace(divider, told=stop))
    assert found.status == "open" and "interrupted" in found.headline
    assert all(f.mend for f in found.findings if f.status == "open")


def test_what_fails_as_written_is_said_to(divider):
    c = fixed(DIVIDER.replace("10.6 V to 13 V", "11.5 V to 13 V"))
    f = next(f for f in answer(replace(c, samples=200)).findings if f.name.startswith("load falls below"))
    assert f.status == "fails" and f.why.startswith("as written already")
    assert "mend that first" in f.mend and "narrower" not in f.mend


def test_a_ride_that_was_given_up_is_not_told_as_a_margin():
    """Without any backup the load falls to 0 V; the ride is given up at half its window."""
    f = next(f for f in answer(replace(context(DIVIDER), samples=200)).findings if f.name.startswith("load drops out"))
    assert f.status == "fails" and "-5.3 V or worse" in f.why
    assert "5.3 V higher" not in f.mend and "root-sum-square" not in f.why and "random corner" not in f.why


def test_root_sum_square_is_never_worse_than_every_figure_at_its_worst(divider):
    """One even distribution reaches 1.7 of its deviations; three of them would be a build that cannot be."""
    one = replace(divider, spreads=tuple(s for s in divider.spreads if s.name == "voltage"), samples=200)
    f = next(f for f in answer(one).findings if f.name.startswith("load falls below"))
    worst = f"{divided(11.4, 0.75):.2f}"
    assert f"every figure at its worst {worst} V, by root-sum-square {worst} V" in f.why


def test_a_load_that_collapses_the_supply_fails_with_its_reason():
    c = fixed(plain("36 W ±5 %", window="1 V to 13 V"))
    found = answer(replace(c, samples=200))
    f = next(f for f in found.findings if f.name.startswith("load falls below"))
    assert f.status == "fails" and "no standing point" in f.why


def test_all_corners_inside_hold_and_need_no_mending():
    c = fixed(DIVIDER.replace("10.6 V to 13 V", "9 V to 13 V"))
    f = next(f for f in answer(replace(c, samples=200)).findings if f.name.startswith("load falls below"))
    assert f.status == "holds" and not f.mend and f.margin > 0.0


def test_each_need_kept_often_and_all_of_them_seldom(divider):
    """Two needs that 96 % of builds keep each, and never the same miss both: 92 % keep both."""
    judged = row(divider, "load, low")[0].judged[:2]
    extreme = Extreme(0.0, 12.0, (), "brick voltage -5 %", 64, alone=((11.4, 12.6),))
    u = (np.arange(1000) + 0.5) / 1000
    y = [u - 0.04, u - 0.96]
    worst = [replace(extreme, value=-0.04), replace(extreme, value=0.04)]
    asked = [Result(replace(j, limit=0.0), e, np.nan, v, (), (), 1.0) for j, e, v in zip(judged, worst, y)]
    assert [r.status for r in asked] == ["tight", "tight"]
    every = all_at_once(asked)
    assert every.value == pytest.approx(0.92)
    (f,) = together(divider, asked, every)
    assert f.status == "fails" and f.margin == pytest.approx(-0.03)


def test_a_build_without_tolerances_is_open_and_says_what_is_missing():
    c = replace(context(plain()), spreads=())
    found = answer(c)
    assert found.status == "open" and "±" in found.headline


