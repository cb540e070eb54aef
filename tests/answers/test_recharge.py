"""What the recharge answer says about small builds of which one knows how their charge must end."""

from __future__ import annotations

import math

import numpy as np
import pytest

from answers.builds import charged, context, network, two_diodes
from tideover.answers import recharge
from tideover.answers.base import Answer
from tideover.answers.packs import full_charge
from tideover.answers.recharge_read import ENDS
from tideover.answers.refills import refill
from tideover.answers.restraint import SET, TAPER, stretches
from tideover.answers.runs import AMBIENT, plain, run
from tideover.answers.topping import topping
from tideover.cases import nominal
from tideover.laws.cells import Curve
from tideover.laws.chargers import float_cycle
from tideover.laws.constants import TEMP_25

ASKED = "ambient: 15 °C to 35 °C, runtime: 1 h, recharge: 5 h"
STRONG = "12 V 3 A adapter"
NEVER, LATE = "charger never ends its charge", "pack is not full again in time"
NOTHING = "nothing is charged with the load attached"


def station(
    adapter: str = STRONG, charge: str = "1 A", need: str = ASKED, power: str = "6 W", charger: str = ""
) -> str:
    """Two cells, an adapter, a charger; the load stands where two diodes meet."""
    text = charged(adapter, charge).replace("ambient: 25 °C", need).replace("power: 6 W", f"power: {power}")
    text = text.replace("5 V to 13 V", "5.8 V to 13 V")
    return text.replace("restart voltage: 8.1 V", f"restart voltage: 8.1 V{charger}")


def on_the_pack(text: str) -> str:
    """The load moved to the battery's side for good."""
    kept = [line for line in text.split("\n") if "first" not in line]
    return "\n".join(kept)


def answered(text: str) -> Answer:
    return recharge.answer(context(text))


def found(answer: Answer, name: str):  # type: ignore[no-untyped-def]
    return [f for f in answer.findings if f.name == name]


BUILDS = {
    "strong": station(),
    "nothing asked": station(need="ambient: 15 °C to 35 °C"),
    "too slow": station(charge="300 mA"),
    "load on the pack": on_the_pack(station(power="1.2 W")),
    "load beyond the charger": on_the_pack(station(charge="100 mA", power="1.2 W")),
    "no headroom": station(
        "{kind: adapter, voltage: 9 V, rated current: 3 A, current limit: 4 A, output resistance: 50 mΩ}",
        charger=", dropout: 1.2 V",
    ),
    "weak adapter": station("{kind: adapter, voltage: 12 V, rated current: 0.5 A, current limit: 0.7 A}"),
    "weak adapter that holds on": station(
        "{kind: adapter, voltage: 12 V, rated current: 0.9 A, current limit: 1.1 A, overload: constant current}"
    ),
    "made to float": station(charger=", termination fraction: 0"),
}


@pytest.fixture(scope="module")
def answers() -> dict[str, Answer]:
    return {name: answered(text) for name, text in BUILDS.items()}


def test_a_strong_supply_is_full_in_time_and_its_charge_ends(answers) -> None:  # type: ignore[no-untyped-def]
    answer = answers["strong"]
    assert all(f.status == "holds" for f in found(answer, LATE)) and found(answer, NEVER)[0].status == "holds"
    first = found(answer, LATE)[0]
    # 2.6 Ah at 1 A and a tail.
    assert 2.6 * 3600.0 < first.value < 1.35 * 2.6 * 3600.0
    assert first.margin == pytest.approx(5 * 3600.0 - first.value)
    assert "Full again after" in answer.headline and "ends by itself" in answer.headline


def test_a_small_charge_current_is_too_slow_and_the_current_that_would_do_is_told(answers) -> None:  # type: ignore[no-untyped-def]
    late = found(answers["too slow"], LATE)
    assert answers["too slow"].status == "fails" and late[0].status == "fails" and late[0].value > 5 * 3600.0
    wanted = float(late[0].mend.split(" mA")[0].rsplit(" ", 1)[1])
    again = found(answered(station(charge=f"{wanted} mA")), LATE)[0]
    assert again.status == "holds"


def test_what_is_not_asked_is_no_failure_but_told_against_half_a_day(answers) -> None:  # type: ignore[no-untyped-def]
    answer = answers["nothing asked"]
    usual = found(answer, "pack is slow to be full after an ordinary outage")[0]
    assert usual.status == "holds" and usual.limit == 12 * 3600.0 and "90 % of a full charge" in usual.why
    assert all(f.limit is None and f.status == "holds" for f in found(answer, "pack is not full again"))
    slow = answered(station(charge="40 mA", need="ambient: 15 °C to 35 °C"))
    assert found(slow, "pack is slow to be full after an ordinary outage")[0].status == "tight"


def test_a_load_on_the_pack_that_takes_the_last_current_keeps_the_charge_from_ending(answers) -> None:  # type: ignore[no-untyped-def]
    end = found(answers["load on the pack"], NEVER)[0]
    assert end.status == "tight" and "for ever" in end.why
    # 1.2 W from 8.4 V less a diode, more than the 0.1 A that would end it.
    assert end.value == pytest.approx(0.15, abs=0.015) and end.limit == pytest.approx(0.1)
    assert all(f.status == "holds" for f in found(answers["load on the pack"], LATE))
    assert "never ends" in answers["load on the pack"].headline


def test_a_load_beyond_the_charge_current_empties_the_pack_while_mains_is_present(answers) -> None:  # type: ignore[no-untyped-def]
    answer = answers["load beyond the charger"]
    assert answer.status == "fails" and found(answer, LATE)[0].status == "fails"


def test_a_charger_without_headroom_stops_short_and_what_is_left_is_told(answers) -> None:  # type: ignore[no-untyped-def]
    answer = answers["no headroom"]
    end = found(answer, NEVER)[0]
    assert end.status == "fails" and "never reaches its hold voltage" in end.why and "a run from there" in end.why
    # It stands where 9 V less 1.2 V leaves it, 3.9 V a cell.
    stands = next(t for t in answer.tables if t.title == "How the charge ends").rows[0]
    assert stands[2] == pytest.approx(3.88, abs=0.05) and stands[4] == "stays short"
    held = found(answer, "charge current is held back")[0]
    assert held.status == "tight" and "its dropout" in held.why


def test_an_adapter_that_gives_up_charges_nothing(answers) -> None:  # type: ignore[no-untyped-def]
    answer = answers["weak adapter"]
    nothing = found(answer, NOTHING)
    assert answer.status == "fails" and len(nothing) == 1 and nothing[0].subject == "brick"
    assert "no recharge with the load attached" in answer.headline
    assert not found(answer, LATE)  # nothing is said twice
    table = next(t for t in answer.tables if t.title == "Runtime regained")
    assert {row[1] for row in table.rows} == {"off"}


def test_an_adapter_that_holds_its_limit_is_named_as_what_holds_the_charge_back(answers) -> None:  # type: ignore[no-untyped-def]
    held = found(answers["weak adapter that holds on"], "charge current is held back")[0]
    assert held.status == "tight" and "the current limit of brick" in held.why and held.value < 0.95


def test_a_charger_made_to_float_holds(answers) -> None:  # type: ignore[no-untyped-def]
    end = found(answers["made to float"], NEVER)[0]
    assert end.status == "holds" and "made to hold" in end.why
    assert found(answers["made to float"], LATE)[0].value is not None


@pytest.mark.parametrize("name", BUILDS)
def test_every_finding_is_whole_and_every_number_finite(answers, name: str) -> None:  # type: ignore[no-untyped-def]
    answer = answers[name]
    for f in answer.findings:
        assert f.name and f.subject and f.state and f.why and f.source, f
        assert (f.status == "holds") != bool(f.mend), f
        assert "nan" not in f.why.lower() and "unknown" not in f.why, f
        assert all(x is None or math.isfinite(x) for x in (f.value, f.limit, f.margin)), f
        assert f.status != "open", f
    for t in answer.tables:
        assert all(len(row) == len(t.columns) for row in t.rows)
        assert all(math.isfinite(c) for row in t.rows for c in row if isinstance(c, float)), t.title
    for s in answer.series:
        assert len(s.x) == len(s.y) and np.isfinite(s.y).all()


def test_the_ledger_of_every_recharge_closes(answers) -> None:  # type: ignore[no-untyped-def]
    for answer in answers.values():
        for table in answer.tables:
            if table.title == "Energy ledger":
                assert all(row[-1] < 1e-4 for row in table.rows), table


def test_more_recharge_gives_more_runtime_which_is_a_run_from_that_charge(answers) -> None:  # type: ignore[no-untyped-def]
    table = next(t for t in answers["strong"].tables if t.title == "Runtime regained")
    rows = [r for r in table.rows if r[1] == "attached"]
    assert [r[0] for r in rows] == [3600.0, 7200.0, 14400.0]
    assert rows[0][2] < rows[1][2] < rows[2][2] and rows[0][3] < rows[1][3] < rows[2][3]
    build = network(BUILDS["strong"])
    batch = plain(build, [("full", {AMBIENT: TEMP_25})])
    full = full_charge(build, build.part("cells"), batch)
    same = {("cells", n): full for n in ("charge", "weak_charge")}
    assert run(build, batch, charges=same).runtime[0] == pytest.approx(run(build, batch).runtime[0])


def test_stretches_add_up_to_the_whole_recharge() -> None:
    build = network(station(charger=", input current limit: 0.5 A"))
    at = {("cells", n): np.array([0.05]) for n in ("charge", "weak_charge")}
    refills = refill(build, nominal(build), at, 86400.0)
    some = stretches(refills, 0, build.part("charger"), build.part("cells"))
    assert [s.limit for s in some] == ["its input current limit", TAPER]
    assert sum(s.t for s in some) == pytest.approx(refills.ended_at[0], rel=1e-3)
    # 12 V at 0.5 A and 90 % into about 7.5 V.
    assert some[0].current == pytest.approx(0.72, abs=0.05)
    charge = sum(s.t * s.current for s in some) / (2.6 * 3600.0)
    assert charge == pytest.approx(refills.last[0].state["cells", "charge"][0] - 0.05, rel=0.01)  # type: ignore[index]
    free = network(station())
    free_some = stretches(refill(free, nominal(free), at, 86400.0), 0, free.part("charger"), free.part("cells"))
    assert [s.limit for s in free_some] == [SET, TAPER]


def test_the_small_cycle_is_that_of_the_closed_form() -> None:
    """A load of 0.05 A on the pack: it drains from where the charge ended to the restart voltage."""
    text = on_the_pack(station(power="0.3 W")).replace("power: 0.3 W", "power: 0.6 W, law: current")
    build = network(text)
    at = {("cells", n): np.array([0.8]) for n in ("charge", "weak_charge")}
    refills = refill(build, nominal(build), at, 86400.0)
    assert np.isfinite(refills.ended_at[0])
    cycle = topping(refills, 0, build.part("cells"))
    end = float(refills.last[0].state["cells", "charge"][0])  # type: ignore[index]
    soc = np.linspace(0.5, 1.0, 501)
    volts = Curve.of(["NMC"]).value(soc[:, None])[:, 0]
    top = float(np.interp(end, soc, volts))
    slope = (top - 4.05) / (end - float(np.interp(4.05, volts, soc)))
    depth, t = float_cycle(top, 4.05, slope, 2.6 * 3600.0, 0.05)
    assert cycle.depth == pytest.approx(depth, rel=0.06)
    assert cycle.period == pytest.approx(t, rel=0.06)
    assert cycle.full_cycles(cycle.period) == pytest.approx(cycle.depth)


def test_a_restart_voltage_above_where_the_pack_rests_is_noticed() -> None:
    answer = answered(station().replace("restart voltage: 8.1 V", "restart voltage: 8.39 V"))
    cycled = found(answer, "pack is cycled while mains is present")[0]
    assert cycled.status == "tight" and "at once" in cycled.why


def test_cells_charged_outside_their_window_are_noticed() -> None:
    answer = answered(station(need=ASKED.replace("15 °C", "-15 °C")))
    cold = found(answer, "cells are charged too cold or too warm")[0]
    assert cold.status == "fails" and cold.limit == pytest.approx(273.15) and cold.value < 262.0


def test_a_charger_that_gives_all_it_is_set_to_is_not_told_to_find_headroom() -> None:
    """210 mA into two cells that feed 1.3 W: what remains is too little, whatever the adapter's voltage."""
    end = found(answered(on_the_pack(station(charge="210 mA", power="1.3 W"))), NEVER)[0]
    assert end.status == "fails" and "never reaches its hold voltage" in end.why and "reach the cells" in end.why
    assert "at its input" not in end.mend and "Feed the load from before charger" in end.mend


def test_runs_after_a_recharge_are_followed_to_their_end() -> None:
    """A runtime of ten minutes is asked for; what full cells give is told all the same."""
    long, short = (answered(station(need=ASKED.replace("1 h", asked))) for asked in ("1 h", "10 min"))
    told = [next(t for t in a.tables if t.title == "Runtime regained").rows[-1][-1] for a in (long, short)]
    assert told[1] > 4 * 600.0 and told[0] == pytest.approx(told[1], rel=0.01)


def test_tolerances_are_moved_the_way_that_lengthens_the_recharge() -> None:
    answer = answered(station(charge="1 A ±10 %").replace("capacity: 2.6 Ah", "capacity: 2.6 Ah ±5 %"))
    corner = found(answer, LATE)[-1]
    assert "worst corner" in corner.state
    assert "charger charge current -10 %" in corner.case and "cells capacity +5 %" in corner.case
    assert corner.value > found(answer, LATE)[0].value


def test_without_a_pack_or_a_charger_it_is_open_and_says_what_is_missing() -> None:
    text = """
title: No pack
need: {at: load, window: 11 V to 13 V}
parts:
  brick: {kind: adapter, voltage: 12 V, rated current: 1 A, current limit: 1.4 A}
  lamp: {kind: load, power: 5 W, nominal voltage: 12 V}
joins:
  - brick > (load) > lamp
"""
    answer = answered(text)
    assert answer.status == "open" and "no pack" in answer.headline
    answer = answered(two_diodes())
    assert answer.status == "open" and "no charger" in answer.headline


def test_the_word_for_how_it_ends_is_in_the_table(answers) -> None:  # type: ignore[no-untyped-def]
    assert next(t for t in answers["strong"].tables if t.title == "How the charge ends").rows[0][-1] == ENDS


ON_THE_PACK = """
title: On the pack
need: {at: load, window: 10.5 V to 13.6 V, runtime: 1 h, recharge: 24 h}
parts:
  brick: 19 V 3.4 A adapter
  charger: {kind: charger, type: buck, hold voltage: HOLD, charge current: 1.5 A, float voltage: 13.0 V}
  pack: {cells: AGM 12 V 7 Ah, series: 1}
  wire: {kind: resistor, resistance: 10 mΩ}
  lamp: {kind: load, power: 3 W, nominal voltage: 12 V}
joins:
  - brick > charger > (plus)
  - (plus) > pack
  - (plus) > wire > (load) > lamp
"""


@pytest.mark.parametrize("hold, status", [("14.4 V", "fails"), ("13.2 V", "holds")])
def test_a_load_on_the_pack_sees_the_hold_voltage_at_the_end_of_a_charge(hold: str, status: str) -> None:
    found = answered(ON_THE_PACK.replace("HOLD", hold)).findings
    (kept,) = (f for f in found if f.name.startswith("load voltage rises"))
    assert kept.status == status
    assert kept.value == pytest.approx(float(hold[:4]), abs=0.06)
