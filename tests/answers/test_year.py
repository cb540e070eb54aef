"""Years of outages against renewal theory, against one full march of the same outages, and what the answer says."""

from __future__ import annotations

import math
from dataclasses import replace
from importlib import import_module
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from answers.builds import BOX, charged, plain
from tideover.answers import year
from tideover.answers.base import QUESTIONS
from tideover.answers.context import Context
from tideover.answers.packs import full_charge
from tideover.answers.refills import on_mains
from tideover.answers.year_course import Curves, course
from tideover.answers.year_events import DAY, YEAR, Events, draw, replayed, settled
from tideover.answers.year_figures import Switch, counted, figures, lost, until_first, without_backup
from tideover.answers.year_pack import measure, month_temps, season_weights
from tideover.answers.year_wear import Use, wear
from tideover.cases import nominal
from tideover.design import examine_text
from tideover.design.model import Outages, Place, Slots
from tideover.design.outages import typical
from tideover.laws import ageing
from tideover.network import Network, settle
from tideover.solve import Change, Condition, along, build, march, readings, rest

H = 3600.0
ALL_YEAR = np.zeros((1, 12), dtype=np.int64)
QUIET = Switch(False, False, 0.0, 0.0)


def straight(left: float, fill: float) -> Curves:
    """A pack that loses and gains charge evenly."""
    empty_to_full = np.array([0.0, 1.0])
    return Curves.of(
        np.array([left]), [(left * empty_to_full, empty_to_full[::-1])], [(fill * empty_to_full, empty_to_full)]
    )


def pattern(rate: float, law: str = "exponential", mean: float = 2 * H, **more: float) -> Outages:
    """Outages so often a year; nothing follows and nothing blinks unless told."""
    plain = replace(typical(Place("")), rate=rate / YEAR, law=law, mean=mean, follow_on=0.0, short_ones=0.0)
    return replace(plain, **more)


def row(*spans: tuple[float, float]) -> Events:
    """One year of outages, in hours."""
    at = np.array(spans) * H
    return Events(at[None, :, 0], at[None, :, 1], np.zeros((1, len(at)), dtype=np.int64), YEAR)


# --- closed forms ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("law", ["exponential", "each", "lognormal"])
def test_a_pack_always_full_is_lost_at_the_rate_of_outages_longer_than_it_lasts(law: str) -> None:
    rate, mean, runtime = 20.0, 2 * H, 1.5 * H
    events = draw(pattern(rate, law, mean), 3000, np.random.default_rng(7))
    flags, time = lost(course(straight(runtime, 1.0), ALL_YEAR, events), events, QUIET)
    found = figures(flags, time, events)[0]
    if law == "exponential":
        share, beyond = math.exp(-runtime / mean), mean * math.exp(-runtime / mean)
    elif law == "each":
        share, beyond = 1.0, mean - runtime
    else:
        mu, s = math.log(mean) - 0.5 * 1.3**2, 1.3
        phi = lambda x: 0.5 * math.erfc(-x / math.sqrt(2.0))  # noqa: E731
        share = phi((mu - math.log(runtime)) / s)
        beyond = mean * phi((mu + s * s - math.log(runtime)) / s) - runtime * share
    sigmas = 2.0  # of two 95 % intervals: one test in ten thousand is wrong by chance, and the seed is fixed
    joined = 2e-3  # a few outages overlap and are one
    assert abs(found.losses.mean - rate * share) < sigmas * (found.losses.high - found.losses.mean) + joined * rate
    assert abs(found.time.mean - rate * beyond) < sigmas * (found.time.high - found.time.mean) + joined * rate * beyond


@pytest.mark.parametrize("fill", [0.01, 6.0, 24.0, 200.0])
def test_outages_that_empty_the_pack_are_lost_when_the_next_comes_before_it_is_full(fill: float) -> None:
    """Two states, full or not: with exponential gaps the next outage is lost with probability 1 - exp(-fill / gap)."""
    gap, runtime = 24 * H, 1 * H
    rng = np.random.default_rng(3)
    start = np.cumsum(rng.exponential(gap, (200, 100)) + runtime, axis=1)
    events = Events(start, start + 0.999 * runtime, np.zeros(start.shape, dtype=np.int64), YEAR)
    found = course(straight(runtime, fill * H), ALL_YEAR, events)
    share = float((found.short[0, :, 1:] > 0.0).mean())
    expected = 1.0 - math.exp(-0.998 * fill * H / gap)
    assert share == pytest.approx(expected, abs=4.0 * math.sqrt(expected * (1.0 - expected) / 19800) + 2e-3)


def test_charge_goes_on_from_one_outage_to_the_next() -> None:
    """Six hours of pack, twelve to fill: three out, four back, five out leaves a third of an hour short."""
    found = course(straight(6 * H, 12 * H), ALL_YEAR, row((10, 13), (17, 22.2), (100, 101)))
    assert found.begin[0, 0] == pytest.approx([1.0, 0.5 + 4 / 12, 1.0], abs=2e-3)
    assert found.short[0, 0] == pytest.approx([0.0, 0.2 * H, 0.0], abs=40.0)
    assert not found.short_if_full.any()


def test_what_a_changeover_drops_is_lost_however_full_the_pack() -> None:
    events = row((10, 11), (20, 20.001), (30, 38))
    found = course(straight(6 * H, 1 * H), ALL_YEAR, events)
    flags, time = lost(found, events, Switch(True, True, 60.0, 2.0))
    assert flags.all()
    assert time[0, 0] == pytest.approx([120.0, 3.6 + 60.0, 60.0 + 2 * H + 2.0 + 60.0], abs=1.0)
    alone, gone = without_backup(events, Switch(False, False, 60.0, 2.0))
    assert alone.all() and gone[0, 0, 0] == pytest.approx(1 * H + 62.0)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.01, 20.0), st.floats(0.01, 12.0)), min_size=1, max_size=12),
    st.floats(1.0, 8.0),
    st.floats(0.5, 40.0),
    st.floats(1.0, 4.0),
)
def test_a_larger_pack_never_goes_without_the_load_for_longer(
    steps: list[tuple[float, float]], runtime: float, fill: float, factor: float
) -> None:
    t, spans = 0.0, []
    for gap, length in steps:
        spans.append((t + gap, t + gap + length))
        t += gap + length
    small = course(straight(runtime * H, fill * H), ALL_YEAR, row(*spans))
    large = course(straight(factor * runtime * H, factor * fill * H), ALL_YEAR, row(*spans))
    assert (np.cumsum(large.short) <= np.cumsum(small.short) + 1.0).all()


def test_half_of_supplies_with_a_steady_rate_have_lost_their_load_after_its_half_life() -> None:
    events = draw(pattern(0.3), 20_000, np.random.default_rng(5))
    flags, time = without_backup(events, QUIET)
    one = figures(flags, time, events)[0]
    half, spared = until_first([one] * 5, np.linspace(0.0, 5 * YEAR, 5))
    assert half == pytest.approx(math.log(2.0) / 0.3 * YEAR, rel=0.03)
    assert spared == pytest.approx(math.exp(-1.5), rel=0.06)


@pytest.mark.parametrize(("number", "low", "high"), [(0, 0.0, 3.689), (1, 0.0253, 5.572), (10, 4.795, 18.39)])
def test_the_interval_of_a_count_is_that_of_the_tables(number: int, low: float, high: float) -> None:
    """Garwood, Biometrika 28 (1936) 437."""
    found = counted(number, YEAR)
    assert (found.low, found.high) == (pytest.approx(low, abs=1e-3), pytest.approx(high, rel=1e-3))


# --- outages ---------------------------------------------------------------------------------------------


def test_outages_that_overlap_or_touch_are_one() -> None:
    start = np.array([[5.0, 1.0, 2.0, np.inf, 9.0, 6.0]])
    end = np.array([[6.0, 3.0, 2.5, np.inf, 9.5, 7.0]])
    month = np.array([[5, 1, 2, 0, 9, 6]])
    found = settled(start, end, month, YEAR)
    assert found.start.tolist() == [[1.0, 5.0, 9.0]]
    assert found.end.tolist() == [[3.0, 7.0, 9.5]]
    assert found.month.tolist() == [[1, 5, 9]]


def test_as_many_outages_as_written_those_that_follow_another_included() -> None:
    events = draw(pattern(12.0, mean=0.5 * H, follow_on=0.3), 4000, np.random.default_rng(2))
    number = events.real.sum(axis=1)
    assert number.mean() == pytest.approx(12.0, abs=4.0 * number.std() / math.sqrt(4000))
    following = events.real[:, 1:]
    gaps = events.start[:, 1:][following] - events.end[:, :-1][following]
    near = float((gaps < DAY).sum() / events.real.sum())
    alone = 1.0 - math.exp(-12.0 * 0.7 * DAY / YEAR)
    assert near == pytest.approx(0.3 + 0.7 * alone, abs=0.01)


def test_short_ones_last_up_to_five_minutes_and_slots_come_on_their_days() -> None:
    events = draw(pattern(0.0, short_ones=100.0 / YEAR), 200, np.random.default_rng(2))
    assert events.real.sum() == pytest.approx(20_000, rel=0.03)
    assert events.length[events.real].min() >= 0.1 and events.length.max() <= 300.0 + 1e-6
    slots = Slots(((6 * H, 8 * H), (22 * H, 25 * H)), (0, 1, 2, 3, 4), 0.5)
    planned = draw(replace(pattern(0.0), slots=slots), 200, np.random.default_rng(2))
    assert planned.real.sum() / 200 == pytest.approx(2 * 0.5 * 5 * 52.18, rel=0.02)
    assert set(np.round(planned.length[planned.real] / H, 6)) == {2.0, 3.0}


# --- the pack of a build ---------------------------------------------------------------------------------


def small(need: str = "") -> str:
    """Two cells, a charger and a load that resets when they are empty and waits for mains."""
    text = charged("12 V 1 A adapter", "0.5 A", ", resets below: 6 V, restarts above: 9 V, reboots in: 1 min")
    old = "window: 5 V to 13 V, ambient: 25 °C"
    assert old in text
    return text.replace(old, f"window: 5.5 V to 13 V, ambient: 25 °C{need}")


def network_of(text: str, path: str = "build.yaml") -> Network:
    return settle(examine_text("tideover: 1\n" + text + BOX, path))


def test_curves_carry_the_pack_as_one_full_march_of_the_same_outages_does() -> None:
    """Charge at every loss and return of mains within 1 %, and the same outages lost, within a minute."""
    n = network_of(small())
    events = row((1, 2), (3, 4.2), (5.5, 7.8), (10, 10.5))
    batch = nominal(n)
    system = build(n, batch.values, 1)
    full = full_charge(n, n.part("cells"), batch)
    inside = {("cells", "charge"): full, ("cells", "weak_charge"): full}
    begun = Condition(on_mains(n, batch, inside).signals, inside, {("charger", "phase"): "full"}, 298.15)
    changes = [
        Change(at, "brick", "mains", value)
        for start, end in zip(events.start[0], events.end[0])
        for at, value in ((start, 0.0), (end, 1.0))
    ]
    waves = march(system, rest(system, begun).state, changes, until=11 * H, accuracy=1e-3)
    assert waves.outcome[0] == 0
    t, alone, points = along(waves, 0)
    charge = readings(alone, points).state["cells", "charge"]
    reset = np.array([m != "working" for m in readings(alone, points).machine["lamp", "work"]])
    found = course(measure(n, [{}]).curves.blend(season_weights(n)), np.arange(12)[None], events)
    assert found.begin[0, 0] == pytest.approx(np.interp(events.start[0], t, charge), abs=0.01)
    assert found.end[0, 0] == pytest.approx(np.interp(events.end[0], t, charge), abs=0.01)
    for k, (start, end) in enumerate(zip(events.start[0], events.end[0])):
        gone = reset & (t > start) & (t <= end)
        assert gone.any() == (found.short[0, 0, k] > 0.0)
        if gone.any():
            assert end - found.short[0, 0, k] == pytest.approx(t[gone][0], abs=60.0)
    assert [bool(s > 0.0) for s in found.short[0, 0]] == [False, False, True, False]


def test_wear_at_one_temperature_is_the_law_itself_and_cycles_add_to_it() -> None:
    n = network_of(small())
    pack, ages, room = n.part("cells"), np.linspace(0.0, 5 * YEAR, 5), np.full(12, 298.15)
    still = wear(n, pack, ages, room, Use(0.0, 1e-3, 2 * H))
    full = float(full_charge(n, pack, nominal(n))[0])
    from tideover.answers.packs import curve

    volts = float(np.asarray(curve(n, pack).value(np.array([[full]])))[0, 0])
    assert 1.0 - still.health == pytest.approx(ageing.nmc_calendar_loss(volts, 298.15, ages), rel=1e-3)
    used = wear(n, pack, ages, room, Use(200.0, 0.5, 2 * H))
    assert (used.health[1:] < still.health[1:] - 0.02).all() and (used.growth[1:] > still.growth[1:]).all()
    warm = wear(n, pack, ages, room + 10.0, Use(0.0, 1e-3, 2 * H))
    assert (warm.health[1:] < still.health[1:]).all()


def test_the_room_is_coldest_where_the_year_turns_and_every_month_is_a_mean_of_two_rooms() -> None:
    n = network_of(small().replace("ambient: 25 °C", "ambient: 0 °C to 40 °C"))
    temps, weights = month_temps(n), season_weights(n)
    assert temps.argmin() in (0, 11) and temps.argmax() in (5, 6) and temps.mean() == pytest.approx(293.15)
    assert weights.sum(axis=1) == pytest.approx(np.ones(12))
    assert weights @ np.array([273.15, 293.15, 313.15]) == pytest.approx(temps)


# --- the answer ------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def answered():  # type: ignore[no-untyped-def]
    context = Context.of(network_of(small(", outages: '100 a year, mean 2 h'")))
    reckoned = year.reckon(context)
    return reckoned, year.told(context, reckoned)


def test_its_page_has_its_headings() -> None:
    text = import_module("tideover.answers.year").__doc__ or ""
    assert text.startswith(QUESTIONS["year"])


def test_a_weak_supply_on_a_weak_grid_fails_and_says_what_would_mend_it(answered) -> None:  # type: ignore[no-untyped-def]
    reckoned, answer = answered
    assert answer.status == "fails"
    found = [f for f in answer.findings if f.name == "load drops too often"]
    assert [f.status for f in found] == ["fails", "fails"] and all(f.mend for f in found)
    assert found[0].value < found[1].value == reckoned.by_age[-1].losses.mean
    assert all(f.status == "holds" for f in answer.findings if f.name == "every outage drops the load")
    assert "times a year" in answer.headline and "typical of" not in answer.headline


def test_losses_are_never_more_than_outages_and_age_adds_to_them(answered) -> None:  # type: ignore[no-untyped-def]
    reckoned, _ = answered
    rates = [f.losses.mean for f in reckoned.by_age]
    assert all(a <= b + 1e-9 for a, b in pairwise(rates))
    assert rates[-1] < reckoned.mains.losses.mean
    for f in reckoned.by_age:
        assert f.losses.low <= f.losses.mean <= f.losses.high
        assert f.bridged.mean == pytest.approx(1.0 - f.losses.mean / reckoned.mains.losses.mean)
        assert f.monthly.sum() == pytest.approx(f.losses.mean)


def test_more_cells_never_lose_more_in_any_year(answered) -> None:  # type: ignore[no-untyped-def]
    reckoned, _ = answered
    short = reckoned.course.short.sum(axis=2)
    drawn, half_more, twice = short[4], short[5], short[6]
    assert (half_more <= drawn + 60.0).all() and (twice <= half_more + 60.0).all()
    assert twice.sum() < 0.8 * drawn.sum()


def test_without_outages_written_it_assumes_and_says_so(answered) -> None:  # type: ignore[no-untyped-def]
    assumed = replace(answered[0], stated=False, pattern=typical(Place("")))
    answer = year.told(Context.of(network_of(small())), assumed)
    assert "because the need states none" in answer.headline
    origins = [r[2] for t in answer.tables if t.title == "The outages" for r in t.rows]
    assert origins and all("typical" in o for o in origins)


def test_losses_allowed_are_judged_by_what_the_need_says(answered) -> None:  # type: ignore[no-untyped-def]
    context = Context.of(network_of(small(", outages: '100 a year, mean 2 h', losses: 80 a year")))
    found = next(f for f in year.told(context, answered[0]).findings if f.name == "load drops too often")
    assert found.limit == pytest.approx(80.0) and found.status != "fails"


def test_without_a_pack_it_says_so_and_claims_nothing_of_capacitors() -> None:
    found = year.answer(Context.of(_plain_network()))
    assert found.status == "open" and "no pack" in found.headline and "outage" in found.headline


def _plain_network() -> Network:
    return settle(examine_text("tideover: 1\n" + plain() + BOX))


def test_mains_that_never_fails_drops_nothing() -> None:
    answer = year.answer(Context.of(network_of(small(", outages: none"))))
    assert answer.status == "holds" and "never fails" in answer.headline


def test_a_log_is_played_again_outage_by_outage(tmp_path) -> None:  # type: ignore[no-untyped-def]
    (tmp_path / "log.csv").write_text(
        "mains lost;mains back\n"
        "2025-01-04 18:00;2025-01-04 20:00\n"  # bridged
        "2025-01-04 20:30;2025-01-04 22:30\n"  # lost, though a full pack would have carried it
        "2025-03-01 08:00;2025-03-01 12:00\n"  # lost in any case
        "2025-06-01 08:00;2025-06-01 08:10\n"
        "2025-09-01 08:00;\n"
    )
    need = ", outages: {log: log.csv, from: 2025-01-01, to: 2025-12-31}"
    context = Context.of(network_of(small(need), str(tmp_path / "build.yaml")))
    reckoned = year.reckon(context)
    assert reckoned is not None
    answer = year.told(context, reckoned)
    events, played = reckoned.log
    assert events.start.tolist() == replayed(reckoned.pattern.log).start.tolist()
    assert (played.short[0, 0] > 0.0).tolist() == [False, True, True, False]
    assert (played.short_if_full[0, 0] > 0.0).tolist() == [False, False, True, False]
    told = [f for f in answer.findings if f.name == "outages in the log are not bridged"]
    assert [f.value for f in told] == [2.0, 2.0] and "2025-01-04 20:30" in told[0].why
    table = next(t for t in answer.tables if t.title.startswith("The log"))
    assert [r[3] for r in table.rows] == ["bridged", "lost", "lost", "bridged"]
    days = next(t for t in answer.tables if "outage by outage" in t.title)
    assert [r[-1] for r in days.rows] == [r[5] for r in table.rows]
    assert [r[1] for r in days.rows] == ["1", "1", "3", "6"]
    assert [r[0] for r in days.rows] == events.start[0].tolist()
    assert [r[2] for r in days.rows] == [2 * H, 2 * H, 4 * H, H / 6]
    assert any("no end" in str(cell) for t in answer.tables for r in t.rows for cell in r)
    first = reckoned.by_age[0].losses
    assert first.low < 0.5 and first.high > 6.0  # two losses in one year say no more than that


def test_a_pack_that_nothing_charges_fails_and_says_so() -> None:
    text = small(", outages: 20 a year").replace(
        "  - (inlet) > charger > (pack plus) > cells\n", "  - (pack plus) > cells\n"
    )
    lines = [line for line in text.splitlines() if not line.startswith("  charger:")]
    answer = year.answer(Context.of(network_of("\n".join(lines) + "\n")))
    found = next(f for f in answer.findings if f.name.startswith("pack is not filled"))
    assert answer.status == "fails" and found.status == "fails" and "nothing in the drawing" in found.why


def test_numbers_are_finite_and_findings_complete(answered) -> None:  # type: ignore[no-untyped-def]
    _, answer = answered
    cells = [c for t in answer.tables for r in t.rows for c in r]
    cells += [x for f in answer.findings for x in (f.value, f.limit, f.margin)]
    cells += [x for s in answer.series for x in (*s.x, *s.y)]
    assert not [c for c in cells if isinstance(c, float) and not math.isfinite(c)]
    assert all(len(r) == len(t.columns) for t in answer.tables for r in t.rows)
    for f in answer.findings:
        assert f.name and f.subject and f.state and f.why and f.source, f
        assert (f.status == "holds") != bool(f.mend), f
    assert all(list(s.x) == sorted(s.x) for s in answer.series)


def test_a_load_is_never_gone_for_longer_than_there_is_time() -> None:
    """Mains but for a minute a day, and a load that takes half a minute to come back: gone all day, every day."""
    night = Slots(((0.0, DAY - 60.0),), tuple(range(7)), 1.0)
    some = draw(replace(typical(Place("")), rate=0.0, short_ones=0.0, slots=night), 400, np.random.default_rng(1))
    assert some.real.sum(axis=1).mean() == pytest.approx(365.25)
    switch = Switch(True, True, 90.0, 2.0)
    _, time = without_backup(some, switch)
    assert time.sum(axis=2).max() <= 366.1 * DAY and time.max() <= DAY + 32.0
