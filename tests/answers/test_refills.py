"""Recharges as marches: against closed forms, by their ledger, and over a day with two outages."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from answers.builds import network
from tideover.answers import states
from tideover.answers.packs import full_charge
from tideover.answers.recharge_read import GIVES_UP, HANGS, read
from tideover.answers.refills import ACCURACY, on_mains, refill
from tideover.answers.runs import AMBIENT, plain
from tideover.cases import nominal
from tideover.design import examine
from tideover.laws.cells import Curve
from tideover.laws.chargers import charge_time
from tideover.laws.constants import TEMP_25
from tideover.network import settle
from tideover.solve import Change, along, build, march, readings, rest

EXAMPLES = Path(__file__).parents[2] / "examples"
NMC = Curve.of(["NMC"])
DAY = 86400.0


def bench(load: str = "power: 10 mW", where: str = "(inlet)", adapter: str = "12 V", more: str = "") -> str:
    """An adapter, a charger and one cell of 2 Ah; the load on the adapter's side or on the cell."""
    return f"""
title: Bench
need: {{at: load, window: 3 V to 13 V, ambient: 25 °C}}
parts:
  brick: {{kind: adapter, voltage: {adapter}, rated current: 3 A, current limit: 4 A, output resistance: 20 mΩ{more}}}
  charger: {{kind: charger, type: buck, hold voltage: 4.1 V, charge current: 1 A, dropout: 0.2 V}}
  wire: {{kind: resistor, resistance: 50 mΩ, tempco: 0 1/K}}
  pack:
    kind: pack
    chemistry: NMC
    series: 1
    capacity: 2 Ah
    resistance: 60 mΩ
    fast resistance: 20 µΩ
    slow resistance: 20 µΩ
    joint resistance: 0 Ω
    capacity spread: 0
    resistance spread: 0
    activation energy: 0 J/mol
    self discharge: 0
  bare: {{kind: resistor, resistance: 1 mΩ}}
  lamp: {{kind: load, law: current, nominal voltage: 5 V, {load}, input resistance: 1 mΩ}}
joins:
  - brick > (inlet) > charger > (battery) > wire > (plus) > pack > (return)
  - {where} > bare > (load) > lamp
"""


def from_charge(text: str, soc: float, until: float = DAY, level: str = states.MEAN):  # type: ignore[no-untyped-def]
    build_ = network(text)
    both = {("pack", name): np.array([soc]) for name in ("charge", "weak_charge")}
    return refill(build_, nominal(build_), both, until, level)


def slope_near(low: float, high: float) -> tuple[float, float]:
    """Slope of the curve between two charges, and where that straight line stands at 1. [V] [V]"""
    v = NMC.value(np.array([[low], [high]]))[:, 0]
    slope = float((v[1] - v[0]) / (high - low))
    return slope, float(v[0] + slope * (1.0 - low))


def test_a_charge_takes_what_constant_current_and_then_voltage_take_in_closed_form() -> None:
    found = from_charge(bench(), 0.5)
    slope, full = slope_near(0.78, 0.90)  # where the current falls, the curve is nearly straight
    regulation = 4.1 / (300.0 * 1.0)  # a charger gives up its full current within a three-hundredth of its voltage
    closed = charge_time(0.5, 7200.0, 1.0, 0.1, 0.060 + 0.050 + 0.01 + regulation, slope, full, 4.1)
    assert found.ended_at[0] == pytest.approx(closed.t_current + closed.t_voltage, rel=0.01)


def test_a_load_on_the_cells_takes_its_share_of_the_charge_current() -> None:
    alone = from_charge(bench(), 0.2, 1800.0)
    shared = from_charge(bench("power: 2 W", "(battery)"), 0.2, 1800.0)  # 0.4 A
    gained = [f.last[0].state["pack", "charge"][0] - 0.2 for f in (alone, shared)]  # type: ignore[index]
    assert gained[0] == pytest.approx(1800.0 / 7200.0, rel=2e-3)
    assert gained[1] == pytest.approx(0.6 * 1800.0 / 7200.0, rel=2e-3)


@pytest.mark.parametrize(("power", "ends"), [("0.45 W", True), ("0.55 W", False)])
def test_a_charge_ends_only_while_the_load_takes_less_than_the_termination_current(power: str, ends: bool) -> None:
    """0.1 A ends it; the load takes 0.09 A or 0.11 A from the charger's output."""
    found = from_charge(bench(f"power: {power}", "(battery)"), 0.5)
    assert np.isfinite(found.ended_at[0]) == ends
    if not ends:
        one = read(found, 0, found.network.part("pack"), "", True)
        assert one.how == HANGS and one.ever_full
        assert one.current == pytest.approx(0.11, rel=0.02) and one.into == pytest.approx(0.0, abs=2e-3)
        assert one.volts == pytest.approx(4.1, abs=0.015)


def test_more_charge_current_never_lengthens_a_recharge() -> None:
    build_ = network(bench())
    amps = np.geomspace(0.05, 3.0, 12)
    batch = plain(build_, [(f"{a:.2g} A", {AMBIENT: TEMP_25, ("charger", "charge_current"): float(a)}) for a in amps])
    both = {("pack", name): np.full(12, 0.1) for name in ("charge", "weak_charge")}
    # Each ends at its own termination current, the larger the sooner; so the time to one charge is asked.
    found = refill(build_, batch, both, 10 * DAY)
    level = 0.8 * full_charge(build_, build_.part("pack"), batch).min()
    reached = []
    for case in range(12):
        one = read(found, case, build_.part("pack"), "", True)
        assert one.end > level
        reached.append(_time_to(found, case, level))
    assert np.isfinite(found.gave_up_at).sum() == 0
    assert (np.diff(reached) < 0.0).all() and (np.diff(found.ended_at) < 0.0).all()


def _time_to(found, case: int, level: float) -> float:  # type: ignore[no-untyped-def]
    from tideover.answers.recharge_read import curve_of

    t, charge = curve_of(found, case, found.network.part("pack"))
    return float(np.interp(level, charge, t))


def test_an_adapter_that_is_asked_for_more_as_the_cells_fill_gives_up_on_the_way() -> None:
    """4.1 V at 1 A from a 5 V adapter: 0.92 A at the end of constant current, 0.83 A at the beginning; it stops at
    0.97 of 0.88 A."""
    text = bench(adapter="5 V").replace("current: 3 A, current limit: 4 A", "current: 0.8 A, current limit: 0.9 A")
    found = from_charge(text, 0.1)
    assert found.standing[0] == 0 and np.isinf(found.ended_at[0])
    assert 600.0 < found.gave_up_at[0] < 6000.0
    one = read(found, 0, found.network.part("pack"), "", True)
    assert one.how == GIVES_UP and one.loop == "brick" and not one.ever_full
    heavier = from_charge(text.replace("current limit: 0.9 A", "current limit: 1.2 A"), 0.1)
    assert np.isfinite(heavier.ended_at[0])


def test_past_a_boards_release_the_ledger_still_closes() -> None:
    """The equations are straight before the board closes again and bent after it."""
    build_ = settle(examine(EXAMPLES / "reading-room" / "as-first-drawn.yaml"))
    at = {("pack", "charge"): np.array([-0.044]), ("pack", "weak_charge"): np.array([-0.0655])}
    system = build(build_, {}, 1)
    start = rest(system, on_mains(build_, nominal(build_), at, states.NONE))
    waves = march(system, start.state, until=3 * DAY, accuracy=1e-3, most_steps=4000)
    assert waves.outcome[0] == 0 and waves.steps[0] < 300
    assert abs(waves.imbalance[0]) < 1e-4 * waves.throughput[0]


def test_the_ledger_of_a_day_with_two_outages_closes() -> None:
    """From full: away at 1 h for three hours, away again at 13 h for two; both recharged in between."""
    build_ = settle(examine(EXAMPLES / "harbour-gauge" / "build.yaml"))
    pack = build_.part("pack")
    full = float(full_charge(build_, pack, nominal(build_))[0])
    at = {("pack", name): np.array([full]) for name in ("charge", "weak_charge")}
    condition = on_mains(build_, nominal(build_), at)
    system = build(build_, {}, 1)
    start = rest(system, condition)
    assert start.outcome[0] == 0
    times = ((1.0, 0.0), (4.0, 1.0), (13.0, 0.0), (15.0, 1.0))
    changes = [Change(3600.0 * hour, "brick", "mains", value) for hour, value in times]
    waves = march(system, start.state, changes, until=DAY, accuracy=ACCURACY, most_steps=4000)
    assert waves.outcome[0] == 0
    assert waves.delivered[0] == pytest.approx(8.5 * DAY, rel=2e-3)
    _, alone, inside = along(waves, 0)
    phases = readings(alone, inside).machine["charger", "phase"]
    assert sum(a != "full" and b == "full" for a, b in pairwise(phases)) >= 2
    assert abs(waves.imbalance[0]) < 1e-4 * waves.throughput[0]
