"""An outage played with settings of the reader's own: the outage answer's numbers where the settings are the same."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tideover.answers import states
from tideover.answers.base import FAILS, HOLDS, OPEN
from tideover.answers.mask import Mask, judge
from tideover.answers.replay import BETWEEN, GAP, TIMES, knobs, replay
from tideover.answers.rides import LOSS, Outage, ride
from tideover.cases import nominal, override
from tideover.design import examine_text
from tideover.network import load, settle

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module", params=["choir-loft", "harbour-gauge"])
def network(request):
    return load(EXAMPLES / request.param / "build.yaml")


@pytest.fixture(scope="module")
def gauge():
    return load(EXAMPLES / "harbour-gauge" / "build.yaml")


def ridden(network, outage, figures=None):
    """What the outage answer would find: its own march, everything kept."""
    batch = override(nominal(network), {key: np.array([value]) for key, value in (figures or {}).items()})
    rides = ride(network, batch, [outage])
    assert rides.outcome(0) == 0
    return judge(*rides.wave(0), Mask.of(network.need))


def close(ours, theirs):
    assert ours.lowest == pytest.approx(theirs.lowest, abs=1e-3)
    assert ours.highest == pytest.approx(theirs.highest, abs=1e-3)
    assert ours.worst == pytest.approx(theirs.worst, abs=1e-3)


def test_as_drawn_it_shows_the_outage_answers_own_numbers(network):
    played = replay(network, {GAP: 2.0})
    close(played.verdict, ridden(network, Outage("full", states.MEAN, 2.0)))
    assert played.losses == (LOSS,) and played.returns == (LOSS + 2.0,)


def test_a_short_one_on_a_half_full_pack_at_peak_shows_them_too(network):
    (mine,) = states.of_kind(network, "load")
    demand = states.demand(network, mine, states.PEAK)
    power = demand * next(k.value for k in knobs(network) if k.part == mine.name)
    played = replay(network, {GAP: 0.03, (mine.name, "power"): power, ("pack", "charge"): 0.5})
    close(played.verdict, ridden(network, Outage("half", states.PEAK, 0.03)))


def test_a_turned_capacitor_is_the_one_that_the_answers_search_would_try(gauge):
    farad, ohm = (gauge.part("hold-up").values[n].nominal for n in ("capacitance", "ESR"))
    played = replay(gauge, {GAP: 0.03, ("hold-up", "storage"): farad / 4})
    figures = {("hold-up", "capacitance"): farad / 4, ("hold-up", "ESR"): 4 * ohm}
    close(played.verdict, ridden(gauge, Outage("full", states.MEAN, 0.03), figures))


def test_a_slow_changeover_on_a_small_capacitor_lets_the_bus_sag_deeper(gauge):
    there = {k.parameter: k for k in knobs(gauge)}
    store, move = there["storage"], there["changeover"]

    def bus(settings):
        return min(next(s.y for s in replay(gauge, settings).series if s.name == "(bus)"))

    assert bus({store.key: store.low, move.key: move.high}) < bus({}) - 0.1


def test_more_load_pulls_the_volts_down(gauge):
    power = next(k for k in knobs(gauge) if k.key == ("modem", "power"))
    assert replay(gauge, {power.key: power.value * 2}).verdict.lowest < replay(gauge).verdict.lowest


def test_several_outages_stand_one_after_the_other(gauge):
    played = replay(gauge, {GAP: 0.05, TIMES: 3.0, BETWEEN: 0.2})
    assert played.losses == pytest.approx((0.02, 0.27, 0.52)) and played.returns == pytest.approx((0.07, 0.32, 0.57))
    time = np.array(played.series[0].x)
    for instant in (*played.losses, *played.returns):
        assert np.count_nonzero(np.isclose(time, instant, rtol=0.0, atol=1e-12)) >= 1
    assert [e.t for e in played.events] == sorted(e.t for e in played.events)


def test_while_mains_is_away_the_pack_feeds_and_before_that_the_adapter(gauge):
    played = replay(gauge, {GAP: 1.0})
    series = {s.name: s for s in played.series}
    time = np.array(series["out of pack"].x)
    away = (time > 0.5) & (time < 1.0)
    pack, brick = (np.array(series[f"out of {name}"].y) for name in ("pack", "brick"))
    assert away.any() and (pack[away] > 0.5).all() and (np.abs(brick[away]) < 0.01).all()
    assert brick[0] > 0.3 and abs(pack[0]) < 0.05
    assert {s.y_unit for s in played.series} == {"V", "A"} and "(load)" in series and "(bus)" in series


def test_time_outside_the_window_is_counted_and_said(gauge):
    low, _ = gauge.need.window
    power = next(k for k in knobs(gauge) if k.key == ("modem", "power"))
    played = replay(gauge, {power.key: power.high, ("pack", "charge"): 0.02})
    if played.verdict is None:
        assert played.status == FAILS and "does not stand" in played.said
        return
    assert (played.outside > 0.0) == (played.verdict.lowest < low)
    assert (played.status == HOLDS) <= (played.verdict.worst >= 0.0)


def test_a_dead_load_is_said_to_be_at_nothing_and_not_a_little_below(gauge):
    power = next(k for k in knobs(gauge) if k.key == ("modem", "power"))
    said = replay(gauge, {GAP: 600.0, ("pack", "charge"): 0.02, power.key: power.high}).said
    assert "mask does not allow" in said and " -" not in said


def test_values_out_of_range_and_knobs_that_are_not_there_are_refused(gauge):
    with pytest.raises(ValueError, match=r"outage: 1000 is beyond what can be played, 1 ms to 10 min"):
        replay(gauge, {GAP: 1000.0})
    with pytest.raises(ValueError, match="pack charge"):
        replay(gauge, {("pack", "charge"): float("nan")})
    with pytest.raises(KeyError):
        replay(gauge, {("nothing", "power"): 1.0})


def test_every_knob_stands_within_its_range_and_turning_none_changes_nothing(network):
    every = knobs(network)
    assert len({k.key for k in every}) == len(every)
    assert all(k.low <= k.value <= k.high for k in every)
    turned, plain = replay(network, {k.key: k.value for k in every}), replay(network)
    assert (turned.series, turned.said, turned.events) == (plain.series, plain.said, plain.events)


def test_without_an_adapter_there_is_nothing_to_play(tmp_path):
    text = (
        "tideover: 1\ntitle: a lamp\nneed: {at: lamp in, window: 9 V to 13 V, ambient: 20 °C}\n"
        "parts:\n  pack: {cells: NMC 18650 2.5 Ah high drain, series: 3, parallel: 1}\n"
        "  lamp: {kind: load, power: 3 W, nominal voltage: 12 V}\n"
        "joins: [pack > (lamp in) > lamp]\nbox: plastic box 200 × 150 × 80 mm, vented\n"
    )
    lamp = settle(examine_text(text, str(tmp_path / "build.yaml")))
    assert knobs(lamp) == ()
    assert replay(lamp).status == OPEN
