"""Cells against their limits and against years: closed forms, published losses, hand-worked builds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from answers.builds import charged, context, network, plain
from tideover.answers import cells, cells_said, cells_tables, exposure, states
from tideover.answers.base import Answer, Finding
from tideover.answers.context import Context
from tideover.answers.fading import YEAR, fade, law_of, left_after
from tideover.answers.keeping import Keeping, crossings, keeping, knee_year, met_until, overtakes, scattered, stands_at
from tideover.answers.packs import full_charge
from tideover.answers.windows import shares, window, worst_share
from tideover.cases import Batch
from tideover.laws.cells import Curve
from tideover.laws.chemistry import CHEMISTRY

GUARD = (
    "  guard: {kind: protection board, series: 2, on resistance: 30 mΩ, cut-off: 2.9 V ±0.05 V, "
    "cut-off release: 3.1 V, over-charge: 4.28 V ±0.05 V, over-charge release: 4.1 V}\n"
)


def kept_box(
    cold: str = "15 °C",
    hold: str = "8.2 V",
    cells: str = "",
    guard: str = GUARD,
    need: str = "runtime: 4 h",
    load: str = "power: 3 W",
    chemistry: str = "NMC",
) -> str:
    """A charger, two cells in series behind a board, a load that lives on the pack; hardly any heat in the box."""
    return f"""
title: Bird hide recorder
need: {{at: load, window: 5.6 V to 13 V, ambient: {cold} to 30 °C, years: 5, {need}}}
parts:
  brick: {{kind: adapter, voltage: 12 V, rated current: 3 A, current limit: 4 A, output resistance: 0.05 Ω}}
  charger: {{kind: charger, hold voltage: {hold}, charge current: 0.5 A ±10 %, type: buck, efficiency: 0.95}}
  pack: {{kind: pack, chemistry: {chemistry}, series: 2, parallel: 2, capacity: 2 Ah, resistance: 50 mΩ ±20 %,
    lowest voltage: 2.5 V, charge rating: 1 A, discharge rating: 4 A{cells}}}
  first: {{kind: diode, saturation current: 1 µA, ideality: 1.05, series resistance: 30 mΩ, leakage: 10 µA}}
  second: {{kind: diode, saturation current: 1 µA, ideality: 1.05, series resistance: 30 mΩ, leakage: 10 µA}}
{guard}  lamp: {{kind: load, nominal voltage: 12 V, {load}}}
joins:
  - brick > (inlet) > charger > (pack plus)
  - (pack plus) > pack > {"guard > " if guard else ""}(return)
  - (inlet) > first > (load) > lamp
  - (pack plus) > second > (load)
"""


def named(answer: Answer, name: str) -> Finding:
    return _only(answer.findings, name)


def _only(findings: Iterable[Finding], name: str) -> Finding:
    (found,) = [f for f in findings if f.name == name]
    return found


def table(answer: Answer, start: str):  # type: ignore[no-untyped-def]
    return next(t for t in answer.tables if t.title.startswith(start))


@pytest.fixture(scope="module")
def seen() -> cells.Seen:
    (only,) = cells.look(context(kept_box()))
    return only


@pytest.fixture(scope="module")
def answered(seen: cells.Seen) -> Answer:
    return cells.told(context(kept_box()), [seen])


def as_drawn(text: str, seen: cells.Seen) -> tuple[Context, cells.Seen]:
    """Another build with what was marched of the first one: only what the drawing says differs."""
    other = context(text)
    (pack,), charger = states.of_kind(other.network, "pack"), other.network.part("charger")
    return other, replace(seen, pack=pack, charger=charger, reach=np.inf, window=window(other.network, pack))


def said_of(text: str, seen: cells.Seen, name: str) -> Finding:
    """One finding of a build that need not be marched for it."""
    return _only(cells_said.findings(*as_drawn(text, seen)), name)


def recharged(text: str, seen: cells.Seen, name: str) -> Finding:
    """One finding of a build that is recharged, but neither emptied nor aged."""
    other, drawn = as_drawn(text, seen)
    assert drawn.charger is not None
    refills = exposure.recharges(other, (drawn.pack,))
    charged = exposure.charged(refills, drawn.pack, drawn.charger)
    return _only(cells_said.findings(other, replace(drawn, charged=charged)), name)


# --- ageing ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("volts", "celsius", "losses"),
    [
        (4.20, 25.0, {1: 0.046, 3: 0.104, 5: 0.153}),
        (4.20, 35.0, {1: 0.098, 3: 0.22, 5: 0.33}),
        (4.00, 25.0, {1: 0.037, 3: 0.084, 5: 0.124}),
    ],
)
def test_nmc_cells_fade_as_published(volts: float, celsius: float, losses: dict[int, float]) -> None:
    """Schmalstieg et al. 2014."""
    for years, loss in losses.items():
        found = fade("NMC", volts, 1.0, 273.15 + celsius, years * YEAR)
        assert found is not None and float(found[0]) == pytest.approx(loss, rel=0.02)


def test_lfp_cells_fade_as_published_and_lead_acid_by_half_its_life_in_the_warmth() -> None:
    """Naumann et al. 2018; half the life for 10 K."""
    for years, loss in ((1, 0.068), (5, 0.152)):
        found = fade("LFP", 3.4, 1.0, 298.15, years * YEAR)
        assert found is not None and float(found[0]) == pytest.approx(loss, rel=0.01)
    warm, cool = (fade("PbA", 2.27, 1.0, t, YEAR) for t in (308.15, 298.15))
    assert warm is not None and cool is not None
    assert float(warm[0]) == pytest.approx(2.0 * float(cool[0])) and float(cool[0]) == pytest.approx(0.05)
    assert fade("LTO", 2.7, 1.0, 298.15, YEAR) is None and law_of("LTO") is None


def test_the_answer_s_table_says_what_is_published(seen: cells.Seen) -> None:
    """Cells at 25 °C held at 4.20 V lose 15.3 % in five years, at 4.00 V 12.4 %; at 35 °C and 4.20 V 33 %."""
    temps = np.array([308.15, 298.15])
    other = context(kept_box(hold="8.4 V"))
    pack, charger = other.network.part("pack"), other.network.part("charger")
    kept = keeping(other.network, pack, charger, temps, ("as the room", "cells at 25 °C"), 0, 4.2)
    rows = {row[0]: row for row in cells_tables.years(replace(seen, kept=kept))[0].rows}
    assert rows[4.2][1] == "as built"
    assert 1.0 - rows[4.2][3] == pytest.approx(0.153, abs=1e-3)
    assert 1.0 - rows[4.0][3] == pytest.approx(0.124, abs=1e-3)
    assert 1.0 - rows[4.2][2] == pytest.approx(0.33, abs=5e-3)


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(("NMC", "NCA", "LCO", "LFP", "PbA")),
    st.floats(0.0, 1.0),
    st.floats(0.0, 1.0),
    st.floats(263.15, 333.15),
    st.floats(0.0, 20.0),
)
def test_a_higher_hold_never_leaves_more_capacity(name: str, one: float, two: float, temp: float, years: float) -> None:
    low, high = sorted((one, two))
    left = []
    for soc in (low, high):
        volts = float(Curve.of([name]).value(np.array([soc]))[0])
        found = fade(name, volts, soc, temp, years * YEAR)
        assert found is not None
        left.append(float(left_after(found[0])))
    assert left[1] <= left[0] + 1e-12


# --- years and hours -------------------------------------------------------------------------------------


def test_where_two_straight_lines_cross() -> None:
    """10 h less 0.4 h a year against 8 h less 0.08 h a year: equal after 2 / 0.32 years."""
    years = np.linspace(0.0, 10.0, 6)
    assert overtakes(years, 10.0 - 0.4 * years, 8.0 - 0.08 * years) == pytest.approx(6.25)
    assert overtakes(years, 10.0 - 0.1 * years, 8.0 - 0.08 * years) is None
    assert overtakes(years, 8.0 - 0.1 * years, 9.0 - 0.1 * years) == 0.0


def by_hand(full: float, low: float) -> Keeping:
    """Runtimes that fall in straight lines: 10 h and 8 h new, less a share each year, and health with them."""
    years = np.linspace(0.0, 10.0, 11)
    rates = np.array([full, low])[:, None]
    health = 1.0 - rates * years
    hours = np.array([[10.0], [8.0]]) * 3600.0 * health
    law = law_of("NMC")
    none = np.zeros((2, 1))
    return Keeping(
        pack=None,  # type: ignore[arg-type]
        law=law,
        asked=5.0,
        volts=np.array([4.2, 4.0]),
        own=0,
        temps=np.array([298.15]),
        temp_names=("cells at 25 °C",),
        usual=0,
        left=none,
        grown=none,
        now=hours[:, 0],
        then=hours[:, 5:6],
        years=years,
        hours=hours,
        health=health,
        doubled=0.0,
        capped=np.inf,
    )


def test_the_crossing_of_two_hold_voltages_by_hand() -> None:
    """10 (1 - 0.04 y) = 8 (1 - 0.01 y) at y = 6.25, before 0.7 is left at y = 7.5."""
    kept = by_hand(0.04, 0.01)
    assert knee_year(kept, 0) == pytest.approx(7.5)
    assert crossings(kept) == (None, pytest.approx(6.25))
    assert met_until(kept, 0, 7.0 * 3600.0) == pytest.approx(7.5)


def test_a_crossing_past_the_knee_is_none() -> None:
    """10 (1 - 0.05 y) = 8 (1 - 0.02 y) at y = 5.88, past the knee at y = 6 only if it comes later."""
    assert crossings(by_hand(0.05, 0.02))[1] == pytest.approx(2.0 / 0.34)
    assert crossings(by_hand(0.06, 0.04))[1] is None  # at y = 7.14; the knee is at y = 5


def test_a_loss_twice_as_fast_reaches_the_same_state_in_2_to_the_1_over_power_less_time() -> None:
    kept = by_hand(0.04, 0.01)
    early, late = scattered(kept, 5.0)
    for year, factor in ((early, 2.0), (late, 0.5)):
        one, same = (fade("NMC", 4.1, 1.0, 300.0, y * YEAR) for y in (year, 5.0))
        assert one is not None and same is not None
        assert factor * float(one[0]) == pytest.approx(float(same[0]))


@pytest.fixture(scope="module")
def linear() -> Keeping:
    """Constant current from ideal cells: runtime is charge over current, all of it, whatever the voltage."""
    ideal = (
        ", capacity spread: 0, resistance spread: 0, fast resistance: 0.1 mΩ, slow resistance: 0.1 mΩ, "
        "joint resistance: 0 Ω, self discharge: 0"
    )
    text = kept_box(cells=ideal, guard="", load="law: current, power: 3.6 W")
    build = network(
        text.replace("50 mΩ ±20 %", "2 mΩ")
        .replace("nominal voltage: 12 V", "nominal voltage: 7.2 V")
        .replace("5.6 V to", "6.4 V to")
    )
    pack, charger = build.part("pack"), build.part("charger")
    temps = np.array([278.15, 298.15, 308.15])
    return keeping(build, pack, charger, temps, ("cold", "25 °C", "warm"), 1, 4.2)


def test_hours_after_years_follow_the_capacity_left(linear: Keeping) -> None:
    """I t = Q (health s_full - s_end): runs at two ages and two hold voltages give Q and s_end, and the rest follow."""
    build = network(kept_box(guard=""))
    lamp = 0.5  # A: 3.6 W at 7.2 V, and the same at any other
    held = Batch(("",) * len(linear.volts), {("charger", "hold_voltage"): 2.0 * linear.volts}, len(linear.volts))
    soc = full_charge(build, build.part("pack"), held)
    assert (np.diff(linear.volts) < 0.0).all() and linear.volts[linear.own] == pytest.approx(4.1)
    drop = linear.hours[1, 0] - linear.hours[-1, 0]
    assert drop == pytest.approx(4.0 * 3600.0 * (soc[1] - soc[-1]) / lamp, rel=0.02)
    for v in range(1, len(linear.volts)):
        ratio = linear.hours[v] / linear.hours[v, 0]
        assert ratio == pytest.approx(linear.health[v], rel=2e-3)


def test_a_warmer_or_higher_held_pack_has_less_left_and_an_older_one_runs_shorter(linear: Keeping) -> None:
    assert (np.diff(linear.left, axis=1) < 0.0).all()
    assert (np.diff(linear.left, axis=0) > 0.0).all()
    assert (np.diff(linear.hours, axis=1) < 0.0).all()
    assert (np.diff(linear.now) < 0.0).all()
    assert linear.doubled < linear.then[linear.own, linear.usual]


def test_more_cells_side_by_side_never_shorten_a_run(seen: cells.Seen) -> None:
    more = network(kept_box().replace("parallel: 2", "parallel: 3"))
    few = seen.kept
    many = keeping(more, more.part("pack"), more.part("charger"), few.temps, few.temp_names, few.usual, 4.2)
    assert (many.volts == few.volts).all()
    assert (many.hours > few.hours).all() and (many.then > few.then).all()


# --- limits ----------------------------------------------------------------------------------------------


def test_one_of_four_with_a_fifth_more_resistance_carries_13_percent_less() -> None:
    odd, others = shares(4, 1.2)
    assert odd == pytest.approx(1.0 - 0.1304, abs=1e-4)
    assert 3.0 * others + odd == pytest.approx(4.0)


def test_the_hardest_worked_cell_has_the_lowest_resistance_of_its_spread() -> None:
    build = network(kept_box().replace("parallel: 2", "parallel: 4"))
    share, words = worst_share(build, build.part("pack"))
    assert share == pytest.approx(4.0 * 1.25 / (3.0 + 1.25)) and "20 %" in words
    single = network(kept_box().replace("parallel: 2", "parallel: 1"))
    assert worst_share(single, single.part("pack"))[0] == 1.0


def test_stated_limits_prevail_over_the_chemistry_s() -> None:
    build = network(kept_box(chemistry="LFP", hold="7.1 V"))
    limits = window(build, build.part("pack"))
    assert (limits.highest, limits.lowest) == (CHEMISTRY["LFP"].charge_max, 2.5)
    assert limits.in_use == CHEMISTRY["LFP"].discharge_min and limits.borne == CHEMISTRY["LFP"].discharge_abs
    own = network(kept_box(cells=", highest voltage: 4.35 V, coldest charge: 5 °C"))
    high = window(own, own.part("pack"))
    assert (high.highest, high.coldest_charge) == (4.35, 278.15)
    assert high.absolute == pytest.approx(4.40)


def test_a_sound_box_holds_all_its_limits(answered: Answer) -> None:
    bad = [f.name for f in answered.findings if f.status in ("fails", "open")]
    assert not bad
    assert named(answered, "charger takes the cells above their limit").value == pytest.approx(4.1)
    assert named(answered, "cells are charged too fast").value == pytest.approx(0.55 / 2.0 * 1.1111, rel=0.01)
    top = named(answered, "a group is charged too high")
    assert top.value is not None and 4.07 < top.value < 4.11


def test_charging_in_the_frost_fails_and_says_that_no_cut_out_is_modelled(seen: cells.Seen) -> None:
    found = recharged(kept_box(cold="-5 °C"), seen, "cells are charged too cold")
    assert found.status == "fails" and found.value == pytest.approx(268.15, abs=0.5)
    assert "cut-out" in found.why and "plated" in found.why
    bears = kept_box(cold="-5 °C", cells=", coldest charge: -20 °C")
    assert said_of(bears, replace(seen, charged=_colder(seen)), "cells are charged too cold").status == "holds"


def _colder(seen: cells.Seen) -> exposure.Charged:
    assert seen.charged is not None
    return replace(seen.charged, coldest=seen.charged.coldest - 20.0)


def test_a_charger_at_4_25_volts_a_cell_fails_and_at_its_tolerance_is_tight(seen: cells.Seen) -> None:
    name = "charger takes the cells above their limit"
    above = said_of(kept_box(hold="8.5 V"), seen, name)
    assert (above.status, above.limit) == ("fails", 4.2) and above.value == pytest.approx(4.25)
    edge = said_of(kept_box(hold="8.4 V ±1 %"), seen, name)
    assert edge.status == "tight" and edge.value == pytest.approx(4.242)
    wide = said_of(kept_box(hold="8.4 V ±2 %"), seen, name)
    assert wide.status == "fails" and wide.limit == 4.25


def test_an_over_generous_board_is_named(seen: cells.Seen) -> None:
    name = "protection board lets the cells go too high"
    lax = said_of(kept_box(guard=GUARD.replace("4.28 V", "4.4 V")), seen, name)
    assert (lax.status, lax.subject) == ("fails", "guard") and lax.value == pytest.approx(4.45)
    assert said_of(kept_box(chemistry="LFP", hold="7.1 V"), seen, name).status == "fails"
    assert said_of(kept_box(guard=""), seen, "nothing watches the groups").status == "tight"


def test_a_board_that_ends_the_run_below_the_cells_lowest_fails_and_prices_the_mend(seen: cells.Seen) -> None:
    deep = kept_box(guard=GUARD.replace("2.9 V ±0.05 V", "2.3 V")).replace("5.6 V to 13 V", "3 V to 13 V")
    other, drawn = as_drawn(deep, seen)
    emptied = exposure.emptied(exposure.discharges(other), drawn.pack, drawn.window)
    found = _only(cells_said.findings(other, replace(drawn, emptied=emptied)), "cells are emptied too far")
    assert found.status == "fails" and found.value == pytest.approx(2.3, abs=0.01) and found.limit == 2.5
    assert "cut-off of guard" in found.why and "costs" in found.mend


def test_groups_joined_when_empty_end_apart_by_the_spread_of_their_capacity(seen: cells.Seen) -> None:
    """Level at s0, the mean group then charged to s and the weak one to s0 + (s - s0) / (1 - spread)."""
    text = kept_box(hold="8.4 V", cells=", capacity spread: 0.12")
    found = recharged(text, seen, "groups joined when empty take the weak one too high")
    assert found.status == "tight" and found.value is not None and 4.25 < found.value < 4.34


def test_a_load_left_on_without_board_or_lockout_runs_the_cells_flat(seen: cells.Seen) -> None:
    """The run asked for ends with charge to spare, and a dark load still draws: what nothing stops goes on."""
    assert not np.isfinite(seen.left_on)
    bare = context(kept_box(guard="", need="runtime: 30 min"))
    (pack,) = states.of_kind(bare.network, "pack")
    low = exposure.left_on(bare, (pack,))[pack.name]
    assert low < 1.0
    found = _only(cells_said.findings(bare, replace(seen, pack=pack, left_on=low)), "load left on runs the cells flat")
    assert found.status == "fails" and found.mend and found.value == low


def test_without_charger_law_or_pack_it_says_what_is_missing(seen: cells.Seen) -> None:
    assert cells.answer(context(plain())).status == "open"
    other, drawn = as_drawn(kept_box(chemistry="LTO", hold="5.4 V"), seen)
    told = _only(
        cells_said.findings(other, replace(drawn, kept=replace(seen.kept, law=None))), "years could not be judged"
    )
    assert told.status == "open" and "LTO" in told.why
    stuck = recharged(charged(charge="2 A"), seen, "recharge could not be judged")
    assert stuck.status == "open" and "adapter" in stuck.why


def test_the_runtime_asked_for_is_judged_after_the_years(answered: Answer, seen: cells.Seen) -> None:
    found = named(answered, "aged pack no longer carries the load")
    assert found.limit == 14400.0 and found.margin == pytest.approx(found.value - 14400.0)
    short = kept_box(need="runtime: 9 h")
    fails = said_of(short, seen, "aged pack no longer carries the load")
    assert fails.status == "fails" and fails.mend
    lower = said_of(short, seen, "a lower hold voltage would carry the load longer")
    assert lower.status == "holds" and "does not catch up" in lower.why


def test_what_is_held_is_the_float_voltage_where_there_is_one() -> None:
    build = network(kept_box().replace("type: buck", "type: buck, float voltage: 8.0 V"))
    assert stands_at(build, build.part("pack"), build.part("charger")) == pytest.approx(4.0)
    assert stands_at(build, build.part("pack"), None) == pytest.approx(4.185)


def test_findings_are_complete_and_numbers_finite(answered: Answer) -> None:
    for f in answered.findings:
        assert f.subject and f.state and f.why and f.source
        assert (f.status == "holds") != bool(f.mend), f
        assert "nan" not in f.why and all(x is None or np.isfinite(x) for x in (f.value, f.limit, f.margin))
    for t in answered.tables:
        assert all(len(row) == len(t.columns) for row in t.rows)
        assert all(np.isfinite(x) for row in t.rows for x in row if isinstance(x, float))
    assert {s.x_name for s in answered.series} == {"years of service", "time"}


def test_a_law_that_is_none_leaves_every_age_new() -> None:
    kept = replace(by_hand(0.0, 0.0), law=None)
    assert knee_year(kept, 0) is None
