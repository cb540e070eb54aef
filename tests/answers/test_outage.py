"""Outages against closed forms, what they are blamed on, and what the searches find."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from answers.builds import context, network
from tideover.answers import holding, outage
from tideover.answers.blame import Phase, cause, inrush, phases
from tideover.answers.mask import Mask, judge
from tideover.answers.rides import LOSS, Event, Outage, every_outage, gaps, ride
from tideover.cases import nominal, override, repeat


def stored(capacitance: str = "20 mF", window: str = "11 V to 13 V", more: str = "", esr: str = "50 mΩ") -> str:
    """An adapter, a nearly ideal diode and a capacitor that carries a constant-power load."""
    return f"""
title: Stored
need: {{at: load, window: {window}, ambient: 25 °C{more}}}
parts:
  brick: {{kind: adapter, voltage: 12.4 V, rated current: 4 A, current limit: 6 A, output resistance: 2 mΩ,
          hold-up: 0.1 ms, output capacitance: 10 µF, start delay: 0.2 s, rise time: 30 ms}}
  gate: {{kind: ideal diode, on resistance: 1 mΩ, quiescent: 0 A}}
  tank: {{kind: capacitor, capacitance: {capacitance}, ESR: {esr}}}
  lamp: {{kind: load, power: 12 W, nominal voltage: 12 V, capacitance: 1 µF, input resistance: 1 mΩ}}
joins:
  - brick > gate > (load) > lamp
  - (load) > tank
"""


def constant_power_hold_up(c: float, esr: float, power: float, v_c: float, v_min: float) -> float:
    """Exact time of a capacitor behind a resistance into a constant power, integrated over the terminal voltage."""
    v = np.linspace(v_min, 0.5 * (v_c + np.sqrt(v_c**2 - 4.0 * power * esr)), 200001)
    # v_c = v + P esr / v, so dv_c = (1 - P esr / v^2) dv and dt = -C dv_c / i with i = P / v.
    return float(c * np.trapezoid((1.0 - power * esr / v**2) * v / power, v))


@pytest.mark.parametrize(("capacitance", "esr"), [("20 mF", 0.05), ("60 mF", 0.01), ("20 mF", 0.3)])
def test_a_capacitor_carries_a_constant_power_as_long_as_the_closed_form_says(capacitance: str, esr: float) -> None:
    build = network(stored(capacitance, esr=f"{esr} Ω"))
    rides = ride(build, nominal(build), [Outage("full", "mean", 1.0)])
    t, v = rides.wave(0)
    found = judge(t, v, Mask.of(build.need))
    farad = float(capacitance.split()[0]) * 1e-3
    # The regulator's droop (0.2 mohm and 1.8 mohm at 1 A) and the diode's 20 mV come off the no-load voltage.
    rested = float(v[0])
    wanted = constant_power_hold_up(farad, esr, 12.0, rested, 11.0)
    store = 12.4 * 4.0 * 1e-4 / 12.0  # s: what the adapter's own store adds
    assert found.since - LOSS == pytest.approx(wanted + store, rel=0.03)


def test_a_larger_capacitor_never_lowers_the_lowest_voltage() -> None:
    build = network(stored())
    batch = override(repeat(nominal(build), 6), {("tank", "capacitance"): np.geomspace(5e-3, 0.5, 6)})
    rides = ride(build, batch, [Outage("full", "mean", 0.03)] * 6)
    lowest = [judge(*rides.wave(k), Mask.of(build.need)).lowest for k in range(6)]
    assert all(b >= a - 1e-6 for a, b in pairwise(lowest))


@pytest.fixture(scope="module")
def tank():  # type: ignore[no-untyped-def]
    """Carries the load for about 15 ms, where the return takes 230 ms."""
    return outage.answer(context(stored(capacitance="20 mF ±20 %", more=", dips: [10.5 V for 20 ms]")))


def test_where_no_capacitor_bridges_the_outage_it_says_so(tank) -> None:  # type: ignore[no-untyped-def]
    finding = next(f for f in tank.findings if f.name == "storage before the load is too small")
    assert finding.status == "fails" and finding.value == pytest.approx(0.020)
    # 2 s of outage and the adapter's return at 12 W: no capacitor up to 32 times 20 mF bridges that.
    assert finding.limit is None and "no capacitance" in finding.why


def test_a_short_outage_needs_the_storage_that_the_closed_form_asks_for() -> None:
    built = context(stored(capacitance="20 mF"))
    mask = Mask.of(built.network.need)
    knob = holding.storage(built.network)
    assert knob is not None and knob.part == "tank"
    # ESR falls as the capacitance rises; 30 ms away and 230 ms until the output is up again.
    batch = knob.batch(knob.factors)
    rides = ride(built.network, batch, [Outage("full", "mean", 0.03)] * batch.count, keep=False, stop_below=5.5)
    holds = np.array([judge(*rides.wave(k), mask).worst >= 0.0 for k in range(batch.count)])
    reach = holding.Reach(knob, holds)
    fine = reach.between(upper=False)
    finer = ride(
        built.network, knob.batch(fine), [Outage("full", "mean", 0.03)] * len(fine), keep=False, stop_below=5.5
    )
    reach = reach.joined(fine, np.array([judge(*finer.wave(k), mask).worst >= 0.0 for k in range(len(fine))]))
    smallest = reach.smallest()
    assert smallest is not None
    away = 0.03 + 0.2 + 0.03 * (11.0 / 12.4)  # lost, start delay, and the ramp up to about the load's voltage
    lasts = constant_power_hold_up(20e-3 * smallest, 0.05 / smallest, 12.0, 12.37, 11.0)
    assert lasts == pytest.approx(away, rel=0.10)
    assert not holds[0] and holds[-1]


def relayed(release: str = "0.3", coil: str = "12 V", lockout: str = "4.7 V") -> str:
    """An adapter that holds the coil of its own changeover relay, and a converter that locks out first."""
    return f"""
title: Relayed
need: {{at: load, window: 11 V to 13 V, dips: [10 V for 5 ms], ambient: 25 °C}}
parts:
  brick: {{kind: adapter, voltage: 9 V, rated current: 3 A, current limit: 4 A, start delay: 0.2 s}}
  cells: {{kind: pack, chemistry: NMC, series: 2, capacity: 2.6 Ah, resistance: 45 mΩ}}
  swap: {{kind: relay, coil voltage: {coil}, coil resistance: 400 Ω, inductance seated: 1.5 H, inductance open: 0.75 H,
         release fraction: {release}}}
  tank: {{kind: capacitor, capacitance: 4.7 mF, ESR: 20 mΩ}}
  raiser: {{kind: boost, set voltage: 12 V, current limit: 6 A, lockout off: {lockout}, lockout on: 5 V}}
  lamp: {{kind: load, power: 6 W, nominal voltage: 12 V}}
joins:
  - brick > (inlet) > swap.front
  - (inlet) > swap.coil plus
  - cells > swap.back
  - swap.common > (bus) > tank
  - (bus) > raiser > (load) > lamp
"""


@pytest.fixture(scope="module")
def slow():  # type: ignore[no-untyped-def]
    return outage.answer(context(relayed()))


def test_a_coil_that_holds_on_to_the_decaying_adapter_is_blamed(slow) -> None:  # type: ignore[no-untyped-def]
    lost = next(f for f in slow.findings if f.name == "load drops out when mains is lost")
    assert slow.status == "fails" and lost.status == "fails" and lost.subject == "swap"
    assert "the coil of swap still holds on to the decaying adapter" in lost.why
    assert "after mains is lost" in slow.headline


def test_an_early_release_is_found_to_mend_it(slow) -> None:  # type: ignore[no-untyped-def]
    mended = next(f for f in slow.findings if f.name == "no small change mends the outages")
    assert mended.status == "holds" and "letting go at 90 %" in mended.why
    assert "with tank 18.8 mF" in mended.why
    build = network(relayed(release="0.54").replace("4.7 mF", "18.8 mF"))
    every = every_outage(build)
    rides = ride(build, repeat(nominal(build), len(every)), every)
    assert all(judge(*rides.wave(k), Mask.of(build.need)).worst >= 0.0 for k in range(len(every)))


def test_a_faster_relay_alone_is_not_said_to_help_where_the_coil_waits(slow) -> None:  # type: ignore[no-untyped-def]
    finding = next(f for f in slow.findings if f.name == "changeover is too slow")
    assert finding.limit is None or finding.limit < finding.value


def test_events_stand_in_order_with_the_voltage_at_the_load(slow) -> None:  # type: ignore[no-untyped-def]
    table = next(t for t in slow.tables if t.title.startswith("Events"))
    times = [row[0] for row in table.rows]
    assert times == sorted(times)
    assert ("mains", "is lost") in [(row[1], row[2]) for row in table.rows]
    assert any("operated → letting go" in row[2] for row in table.rows)


def test_the_ledger_of_every_outage_closes(slow) -> None:  # type: ignore[no-untyped-def]
    table = next(t for t in slow.tables if t.title == "Energy ledger")
    # Energy over energy; a supply that collapses within milliseconds turns over next to nothing.
    assert all(row[-1] < 1e-3 for row in table.rows)


def joined(capacitance: str = "470 µF ±20 %") -> str:
    """Adapter and converter meet at diodes; the converter always runs."""
    return f"""
title: Joined
need: {{at: load, window: 11 V to 13 V, ambient: 10 °C to 40 °C}}
parts:
  brick: {{kind: adapter, voltage: 12.6 V ±1 %, rated current: 3 A, current limit: 4 A, start delay: 0.2 s}}
  cells: {{kind: pack, chemistry: NMC, series: 2, capacity: 2.6 Ah, resistance: 45 mΩ}}
  raiser: {{kind: boost, set voltage: 12 V ±1 %, current limit: 6 A}}
  front: Schottky 3 A 40 V
  back: Schottky 3 A 40 V
  tank: {{kind: capacitor, capacitance: {capacitance}, ESR: 50 mΩ}}
  lamp: {{kind: load, power: 6 W ±5 %, nominal voltage: 12 V, resets below: 9 V, restarts above: 10 V}}
joins:
  - brick > front > (load) > lamp
  - cells > raiser > back > (load) > tank
"""


@pytest.fixture(scope="module")
def smooth():  # type: ignore[no-untyped-def]
    return outage.answer(context(joined()))


def test_sources_joined_at_diodes_ride_through_every_outage(smooth) -> None:  # type: ignore[no-untyped-def]
    assert smooth.status in ("holds", "tight")
    assert all(f.status != "fails" for f in smooth.findings)
    assert {row[-1] for row in smooth.tables[0].rows} <= {"holds", "tight"}
    assert len(smooth.tables[0].rows) == 3 * 3


def test_a_load_that_never_resets_in_an_outage_is_said_to_hold(smooth) -> None:  # type: ignore[no-untyped-def]
    finding = next(f for f in smooth.findings if f.name == "load resets")
    assert finding.status == "holds" and finding.value == 0.0


def test_without_dips_it_is_said_that_the_window_is_all(smooth) -> None:  # type: ignore[no-untyped-def]
    lost = next(f for f in smooth.findings if f.name == "load drops out when mains is lost")
    assert "no dips are stated" in lost.why


def test_the_worst_corner_is_no_better_than_nominal(smooth) -> None:  # type: ignore[no-untyped-def]
    corner = next(f for f in smooth.findings if f.name.endswith("corner of the tolerances"))
    worst = min(row[-2] for row in smooth.tables[0].rows)
    assert corner.margin is not None and corner.margin <= worst + 1e-3
    assert "raiser set voltage -1 %" in corner.case


def test_what_the_load_bears_is_told_from_the_top_down(tank, smooth) -> None:  # type: ignore[no-untyped-def]
    told = [next(t for t in a.tables if t.title == "What the load bears").rows for a in (tank, smooth)]
    above = ("above its window", 13.0, 0.0)
    assert told[0] == (above, ("below its window", 11.0, 0.02), ("in a dip, below", 10.5, 0.0))
    assert told[1] == (above, ("below its window", 11.0, 0.0))


def test_waves_of_the_worst_outage_and_of_the_worst_corner_are_given(smooth) -> None:  # type: ignore[no-untyped-def]
    assert [s.name for s in smooth.series] == ["load, nominal", "load, worst corner"]
    assert all(len(s.x) == len(s.y) > 20 and s.x_unit == "s" and s.y_unit == "V" for s in smooth.series)


def test_an_outage_alone_equals_itself_in_a_batch() -> None:
    build = network(joined())
    every = every_outage(build)
    together = ride(build, repeat(nominal(build), len(every)), every)
    alone = ride(build, nominal(build), every[4:5])
    assert alone.wave(0)[0] == pytest.approx(together.wave(4)[0], rel=1e-12)
    assert alone.wave(0)[1] == pytest.approx(together.wave(4)[1], rel=1e-12)


def test_an_adapter_that_cannot_feed_load_and_charger_is_a_failure_before_the_outage() -> None:
    text = joined().replace(
        "  front:", "  top: {kind: charger, type: buck, hold voltage: 8.4 V, charge current: 2 A}\n  front:"
    )
    text = text.replace("- brick > front", "- brick > (inlet) > top > (pack plus)\n  - (inlet) > front")
    text = text.replace("cells > raiser", "(pack plus) > cells\n  - (pack plus) > raiser")
    text = text.replace("rated current: 3 A, current limit: 4 A", "rated current: 1 A, current limit: 1.3 A")
    answer = outage.answer(context(text))
    early = [f for f in answer.findings if f.name == "supply does not stand before mains is lost"]
    assert len(early) == 1 and answer.status == "fails"
    assert "pack half" in early[0].state and "pack full" not in early[0].state


def test_without_an_adapter_it_is_open() -> None:
    text = """
title: Pack only
need: {at: load, window: 6 V to 9 V}
parts:
  cells: {kind: pack, chemistry: NMC, series: 2, capacity: 2.6 Ah, resistance: 45 mΩ}
  lamp: {kind: load, power: 5 W, nominal voltage: 7 V}
joins:
  - cells > (load) > lamp
"""
    assert outage.answer(context(text)).status == "open"


def test_large_storage_makes_the_long_outage_longer() -> None:
    assert gaps(network(stored("20 mF")))[-1] == 2.0
    carried = 0.5 * 5.0 * 25.0**2 / 12.0  # s: at its rating, by 12 W
    assert gaps(network(stored("5 F")))[-1] == pytest.approx(3.0 * carried, rel=1e-3)
    assert gaps(network(stored("50 F")))[-1] == 600.0


# --- reading events ----------------------------------------------------------------------------------


def test_the_longest_passing_phase_before_recovery_is_the_cause() -> None:
    found = (
        Phase(0.020, 0.030, "brick", "adapter", "holding", "store"),
        Phase(0.030, 0.052, "swap", "relay", "waiting", "coil"),
        Phase(0.045, 0.070, "raiser", "boost", "locked out", "locked"),
        Phase(0.052, 0.054, "swap", "relay", "letting go", "releasing"),
        Phase(2.000, 3.500, "brick", "adapter", "starting", "starts"),
    )
    dominant = cause(found, LOSS, 0.046, 0.075)
    assert dominant is not None and dominant.state == "waiting"


def test_a_board_that_trips_on_a_short_spike_is_read_as_inrush() -> None:
    guard = (
        "  guard: {kind: protection board, series: 2, on resistance: 30 mΩ, cut-off: 2.5 V, cut-off release: 2.9 V,\n"
        "          over-charge: 4.28 V, over-charge release: 4.1 V}\n"
    )
    text = relayed().replace("  swap:", f"{guard}  swap:")
    joins = "(pack plus) > cells > guard > (return)\n  - (pack plus) > swap.back"
    build = network(text.replace("cells > swap.back", joins))
    events = (
        Event(0.062, "guard", "discharge", "on", "shorted"),
        Event(0.0623, "guard", "discharge", "shorted", "tripped"),
    )
    found = phases(build, events, 1.0)
    spike = inrush(build, found, 1.0)
    assert spike is not None and spike.length == pytest.approx(3e-4)
    assert inrush(build, found, 0.05) is None
