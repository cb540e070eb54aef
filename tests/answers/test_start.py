"""Starts from dead states: the rush against closed forms, planted deadlocks and their mends, hiccups without end."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from answers.builds import context, network, plain
from tideover.answers import start, start_said
from tideover.answers.base import Answer, Finding
from tideover.answers.context import Context
from tideover.answers.mask import Mask, judge
from tideover.answers.rides import Event
from tideover.answers.start_read import _begun, going_round
from tideover.answers.starts import EMPTY, JOINED, Dead, Starts, cases, dead_states
from tideover.answers.starts import start as march_starts
from tideover.cases import nominal, repeat

DEAD = "load stays dead when mains returns"
ALONE = "pack alone does not start the load"
LOCKED = "pack stays locked out when mains returns"


def rushed(ohms: str = "1 Ω", more: str = "", chain: str = "pack > lead > main fuse > (load) > lamp") -> str:
    """A stiff pack, a resistance, a fuse and an empty capacitor; the load takes next to nothing."""
    return f"""
title: Rushed
need: {{at: load, window: 8 V to 13 V, ambient: 25 °C}}
parts:
  pack: {{kind: pack, chemistry: NMC, series: 3, parallel: 20, capacity: 2.6 Ah, resistance: 10 mΩ,
         joint resistance: 0 Ω, capacity spread: 0, resistance spread: 0, self discharge: 0}}
  lead: {{kind: resistor, resistance: {ohms}, tempco: 0 1/K, thermal resistance: 0.001 K/W}}
  main fuse: {{kind: fuse, rating: 5 A, resistance: 10 mΩ, melting integral: 50 A^2 s}}
  tank: {{kind: capacitor, capacitance: 2 mF, ESR: 50 mΩ}}
  lamp: {{kind: load, power: 0 W, nominal voltage: 12 V, capacitance: 1 µF, input resistance: 10 Ω}}
{more}joins:
  - {chain}
  - (load) > tank
"""


def joined(built: Context) -> tuple[Starts, Dead]:
    dead = next(d for d in dead_states(built) if d.key == JOINED)
    return march_starts(built.network, nominal(built.network), [dead], ["mean"]), dead


def named(answer: Answer, name: str, state: str = "") -> Finding:
    return next(f for f in answer.findings if f.name == name and state in f.state)


# --- the rush ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ohms", [0.2, 1.0, 5.0])
def test_a_rush_into_an_empty_capacitor_is_the_closed_form(ohms: float) -> None:
    built = context(rushed(f"{ohms} Ω"))
    starts, _ = joined(built)
    t, known = starts.read(0)
    volts = float(known.state["tank", "charge_voltage"][-1])
    r = ohms + 0.010 + 0.050 + 3 * 0.010 / 20  # lead, fuse, series resistance, cells
    i = known.quantity["main fuse", "a [A]"]
    assert i.max() == pytest.approx(volts / r, rel=0.01)
    assert np.trapezoid(i**2, t) == pytest.approx((volts / r) ** 2 * r * 2e-3 / 2.0, rel=0.01)
    answer = start.answer(built)
    table = next(t for t in answer.tables if t.title.startswith("Largest rush"))
    tank = next(row for row in table.rows if row[0] == "tank")
    assert tank[5] == pytest.approx(0.5 * 2e-3 * volts**2, rel=0.01)


def test_as_much_is_lost_on_the_way_as_ends_in_the_capacitor_whatever_the_resistance() -> None:
    lost = []
    for ohms in ("0.2 Ω", "5 Ω"):
        starts, _ = joined(context(rushed(ohms)))
        _, known = starts.read(0)
        volts = float(known.state["tank", "charge_voltage"][-1])
        heat = float(starts.waves.heat[0])
        lost.append(heat / (0.5 * 2e-3 * volts**2))
    assert lost == pytest.approx([1.0, 1.0], rel=0.03)


def test_a_fuse_is_worn_by_the_share_of_its_melting_integral() -> None:
    answer = start.answer(context(rushed("0.2 Ω")))
    worn = named(answer, "fuse is worn by the rush of each start")
    r = 0.2 + 0.010 + 0.050 + 3 * 0.010 / 20
    assert worn.value == pytest.approx((12.35 / r) ** 2 * r * 2e-3 / 2.0 / 50.0, rel=0.05)
    assert worn.status == "holds"
    small = start.answer(context(rushed("0.2 Ω").replace("50 A^2 s", "0.2 A^2 s")))
    assert named(small, "fuse melts at the start").status == "fails"
    assert named(small, ALONE, "full pack").status == "fails"


def guarded(delay: str) -> str:
    board = f"""  guard: {{kind: protection board, series: 3, on resistance: 20 mΩ, cut-off: 2.5 V,
          cut-off release: 3 V, over-charge: 4.3 V, over-charge release: 4.1 V, short voltage: 200 mV,
          short delay: {delay}}}
"""
    text = rushed("0.2 Ω", board, "(plus) > lead > main fuse > (load) > lamp")
    text = text.replace("power: 0 W", "power: 1 W, law: resistance")  # which keeps a tripped board from closing again
    return text.replace("  - (load) > tank", "  - (plus) > pack > (minus) > guard > (return)\n  - (load) > tank")


def test_a_board_trips_when_the_rush_stays_above_its_threshold_longer_than_its_delay() -> None:
    r = 0.2 + 0.010 + 0.050 + 3 * 0.010 / 20 + 0.020
    above = r * 2e-3 * math.log(12.35 / r / (0.95 * 0.200 / 0.020))  # 10 A starts it, 9.5 A ends it
    short = start.answer(context(guarded(f"{0.9 * above * 1e6:.0f} µs")))
    long = start.answer(context(guarded(f"{1.1 * above * 1e6:.0f} µs")))
    assert named(short, "protection board trips on the rush").status == "fails"
    assert "trips" in named(short, ALONE, "full pack").why
    tight = named(long, "protection board trips on the rush")
    assert tight.status == "tight" and tight.value == pytest.approx(1.0 / 1.1, abs=0.015)  # near its delay, and no trip
    assert named(long, ALONE, "full pack").status == "holds"
    assert "in the way of the rush" in named(short, ALONE, "full pack").mend


# --- deadlocks -----------------------------------------------------------------------------------------------


def locked(charger: str = "", board: str = "", lockout: str = "off: 5 V, on: 6 V") -> str:
    """An adapter and a pack behind a board, joined by diodes before a converter; the charger may need a pack."""
    return f"""
title: Locked
need: {{at: load, window: 4.7 V to 5.3 V, ambient: 25 °C}}
parts:
  brick: {{kind: adapter, voltage: 12 V, rated current: 3 A, current limit: 4 A, start delay: 0.2 s}}
  charger: {{kind: charger, type: buck, hold voltage: 8.2 V, charge current: 0.5 A, restart voltage: 7.8 V{charger}}}
  cells: {{kind: pack, chemistry: NMC, series: 2, capacity: 2.6 Ah, resistance: 45 mΩ}}
  board: {{kind: protection board, series: 2, on resistance: 30 mΩ, cut-off: 2.8 V, cut-off release: 3 V,
          over-charge: 4.28 V, over-charge release: 4.1 V, short voltage: 0.6 V{board}}}
  mains diode: {{kind: ideal diode, on resistance: 10 mΩ}}
  pack diode: {{kind: ideal diode, on resistance: 10 mΩ}}
  way: {{kind: resistor, resistance: 0.3 Ω}}
  tank: {{kind: capacitor, capacitance: 470 µF, ESR: 50 mΩ}}
  converter: {{kind: buck, set voltage: 5 V, current limit: 3 A, lockout: {{{lockout}}}}}
  board computer: {{kind: load, power: 3 W, nominal voltage: 5 V, resets below: 4.4 V, restarts above: 4.6 V,
                   reboots in: 2 s}}
joins:
  - brick > (inlet) > mains diode > (bus)
  - (inlet) > charger > (plus) > cells > (minus) > board > (return)
  - (plus) > way > pack diode > (bus)
  - (bus) > tank
  - (bus) > converter > (load) > board computer
"""


def test_a_healthy_build_starts_from_every_dead_state() -> None:
    answer = start.answer(context(locked()))
    assert answer.status == "holds", [f for f in answer.findings if f.status != "holds"]
    assert "5 of 5 dead states" in answer.headline
    served = named(answer, DEAD, "12 h")
    # 0.2 s of start delay, some milliseconds of rise, 2 s of booting.
    assert served.value == pytest.approx(2.22, abs=0.03)


def test_a_charger_that_waits_for_a_pack_behind_a_board_that_waits_for_a_charger_is_named() -> None:
    answer = start.answer(context(locked(charger=", starts above: 4 V")))
    found = named(answer, LOCKED)
    assert found.status == "fails" and "run empty" in found.state
    assert "board has cut the pack off as empty and waits for a charger" in found.why
    assert "charger waits for 4 V of pack voltage at its output; it sees" in found.why
    assert found.why.endswith("so neither moves")
    assert "wakes a pack at 0 V" in found.mend and "a button that bridges" in found.mend
    # The load itself lives on mains.
    assert named(answer, DEAD, "12 h").status == "holds"
    assert "pack stays locked out" in answer.headline


def test_a_converter_whose_lockout_lies_above_the_adapter_never_starts() -> None:
    answer = start.answer(context(locked(lockout="off: 5 V, on: 13 V")))
    found = named(answer, DEAD, "12 h")
    assert found.status == "fails"
    assert "converter waits for 13 V at its input; it has 1" in found.why
    assert "whole lockout at 70 %" in found.mend


# --- what goes round ---------------------------------------------------------------------------------------


def heavy(style: str) -> str:
    """An adapter that must fill 100 mF at its limit, which takes longer than a hiccup lasts."""
    return f"""
title: Heavy
need: {{at: load, window: 11 V to 13 V, ambient: 25 °C}}
parts:
  brick: {{kind: adapter, voltage: 12 V, rated current: 1.5 A, current limit: 2 A, overload: {style},
          start delay: 0.2 s, overload time: 30 ms, retry time: 0.5 s}}
  tank: {{kind: capacitor, capacitance: 100 mF, ESR: 20 mΩ}}
  lamp: {{kind: load, power: 6 W, nominal voltage: 12 V, law: resistance}}
joins:
  - brick > (load) > lamp
  - (load) > tank
"""


def test_a_hiccup_adapter_never_fills_what_one_of_constant_current_does() -> None:
    stuck = start.answer(context(heavy("hiccup")))
    found = named(stuck, DEAD)
    assert found.status == "fails" and "without end" in found.why and "brick" in found.why
    # Round: 0.5 s of pause, 30 ms of overload, and the ramp until the overload begins.
    assert "brick gives up and tries again every 5" in found.why and " ms without end" in found.why
    assert "holds its current instead of stopping" in found.mend
    steady = start.answer(context(heavy("constant current")))
    assert named(steady, DEAD).status == "holds"
    # 100 mF to 11 V at 2 A less what the lamp takes (24 ohm, mean 0.24 A): about 0.63 s after 0.2 s.
    assert named(steady, DEAD).value == pytest.approx(0.2 + 0.1 * 11.0 / (2.0 - 0.24), abs=0.05)


def test_events_at_equal_intervals_are_a_cycle_and_others_are_none() -> None:
    build = network(heavy("hiccup"))

    def every(times: list[float]) -> list[Event]:
        return [
            e
            for t in times
            for e in (
                Event(t - 0.03, "brick", "output", "ramping", "overloaded"),
                Event(t, "brick", "output", "overloaded", "pausing"),
            )
        ]

    cycle = going_round(build, every([0.5, 1.03, 1.56, 2.09]))
    assert cycle is not None and cycle.part == "brick"
    assert cycle.period == pytest.approx(0.53) and "overloaded, pausing" in cycle.words
    assert going_round(build, every([0.5, 1.03])) is None
    assert going_round(build, every([0.5, 1.0, 2.5, 3.0])) is None


# --- the dead states themselves -------------------------------------------------------------------------------


def test_the_pack_is_run_down_and_its_board_has_cut_off() -> None:
    built = context(locked())
    empty = [d for d in dead_states(built) if d.key == EMPTY]
    assert [d.words for d in empty] == [f"pack run empty, mains back {gap} later" for gap in ("10 s", "12 h")]
    which, levels = cases(built.network, empty)
    starts = march_starts(built.network, repeat(nominal(built.network), len(which)), which, levels)
    for k in range(len(which)):
        _, known = starts.read(k)
        assert known.machine["board", "discharge"][0] == "empty"
        assert known.machine["board computer", "work"][0] == "reset"
        assert float(known.quantity["board", "lowest group [V]"][0]) < 3.0


def test_a_build_without_any_source_of_its_own_states_has_only_those_it_can_reach() -> None:
    answer = start.answer(context(heavy("constant current")))
    assert [f.name for f in answer.findings if f.name in (DEAD, ALONE)] == [DEAD]
    assert not any("board" in f.name or "pack" in f.name for f in answer.findings)


def test_a_glimpse_of_the_window_begins_nothing():
    """A rush bounces through the window for microseconds before the load's own input is filled: no dip of a start."""
    t = np.array([0.0, 1e-6, 3e-6, 5e-6, 1.0, 2.0])
    mask = Mask(13.0, ((10.0, 0.0),))
    glimpse = np.array([0.0, 12.0, 5.0, 12.0, 12.0, 12.0])
    late = np.array([0.0, 12.0, 12.0, 12.0, 5.0, 12.0])
    assert judge(t[_begun(t, glimpse, mask) :], glimpse[_begun(t, glimpse, mask) :], mask).margin > 0.0
    assert judge(t[_begun(t, late, mask) :], late[_begun(t, late, mask) :], mask).margin < 0.0


def test_a_mend_that_was_tried_in_vain_is_not_proposed():
    about = context(plain())
    assert "button" in start_said._wakes(about, ())
    assert "button" not in start_said._wakes(about, ("a button that bridges the protection board for a moment",))
    assert "0 V" not in start_said._wakes(about, ())  # no charger here waits for a voltage


def test_a_pack_that_is_charged_while_the_load_is_dead_is_told():
    assert "94.9 mA flow into the pack" in start_said._meanwhile(SimpleNamespace(charge=0.0949))
    assert start_said._meanwhile(SimpleNamespace(charge=float("nan"))) == ""
    assert start_said._meanwhile(SimpleNamespace(charge=-1e-5)) == ""
