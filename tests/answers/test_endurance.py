"""Runs on the pack against closed forms, the waterfall's sum, and what the answer says."""

from __future__ import annotations

import numpy as np
import pytest

from answers.builds import context, network
from tideover.answers import endurance
from tideover.answers.packs import full_charge
from tideover.answers.peaks import peaks
from tideover.answers.runs import AMBIENT, aged, label_energy, longest_run, plain, run
from tideover.answers.stoppers import stoppers
from tideover.answers.waterfall import waterfall
from tideover.cases import nominal
from tideover.laws.cells import Curve

QUIET = (
    "capacity spread: 0, resistance spread: 0, resistance: 20 µΩ, fast resistance: 2 µΩ, slow resistance: 2 µΩ, "
    "joint resistance: 0 Ω, self discharge: 0"
)
NMC = Curve.of(["NMC"])


def bare(load: str, window: str = "6.8 V to 9 V", more: str = "", cells: str = QUIET) -> str:
    """Two cells in series and a load, next to nothing between them."""
    return f"""
title: Bare
need: {{at: load, window: {window}, ambient: 5 °C to 35 °C, runtime: 1 h}}
parts:
  pack: {{kind: pack, chemistry: NMC, series: 2, parallel: 1, capacity: 2 Ah, nominal voltage: 3.6 V, {cells}}}
  lamp: {{kind: load, nominal voltage: 7.2 V, {load}, input resistance: 1 mΩ}}
joins:
  - (return) > pack.minus
  - pack.plus > (load) > lamp
{more}"""


def held_at(volts: float) -> float:
    """Charge at which two cells in series stand at this voltage."""
    soc = np.linspace(0.0, 1.0, 20001)
    return float(np.interp(0.5 * volts, NMC.value(soc[:, None])[:, 0], soc))


def test_a_constant_current_drains_the_pack_in_charge_over_current() -> None:
    build = network(bare("law: current, power: 7.2 W"))  # 1 A
    runs = run(build, nominal(build))
    assert runs.runtime[0] == pytest.approx(7200.0 * (1.0 - held_at(6.8)), rel=2e-4)


def test_a_constant_power_takes_the_energy_under_the_open_circuit_curve() -> None:
    build = network(bare("power: 9 W"))
    runs = run(build, nominal(build))
    area = NMC.integral(np.array([[1.0], [held_at(6.8)]]))[:, 0]
    assert runs.runtime[0] == pytest.approx(2.0 * 7200.0 * (area[0] - area[1]) / 9.0, rel=3e-4)


REAL = (
    "resistance: 60 mΩ ±20 %, capacity spread: 0.04, fast resistance: 15 mΩ, slow resistance: 20 mΩ, growth: 1, "
    "health: 1"
)


def boosted(cells: str = REAL, lockout: str = "lockout off: 5.6 V, lockout on: 5.8 V", load: str = "power: 6 W") -> str:
    """Two cells, a thin wire and a converter."""
    return f"""
title: Tide gauge
need: {{at: load, window: 11.4 V to 12.6 V, ambient: 0 °C to 40 °C, runtime: 1 h}}
parts:
  brick: {{kind: adapter, voltage: 9 V, rated current: 3 A, current limit: 4 A}}
  charger: {{kind: charger, hold voltage: 8.2 V, charge current: 0.5 A, type: buck}}
  pack: {{kind: pack, chemistry: NMC, series: 2, parallel: 1, capacity: 2 Ah, nominal voltage: 3.6 V, {cells}}}
  wire: {{kind: resistor, resistance: 0.1 Ω}}
  raiser: {{kind: boost, set voltage: 12 V, current limit: 6 A, {lockout}}}
  gauge: {{kind: load, nominal voltage: 12 V, {load}}}
joins:
  - brick > (inlet) > charger > (pack plus)
  - (pack plus) > pack > (return)
  - (pack plus) > wire > raiser > (load) > gauge
"""


@pytest.fixture(scope="module")
def gauge_runs():  # type: ignore[no-untyped-def]
    build = network(boosted())
    batch = plain(
        build,
        [
            ("as written", {AMBIENT: 298.15}),
            ("more capacity", {AMBIENT: 298.15, ("pack", "capacity"): 7920.0}),
            ("cold", {AMBIENT: 273.15}),
            ("colder", {AMBIENT: 263.15}),
            ("held higher", {AMBIENT: 298.15, ("charger", "hold_voltage"): 8.4}),
            ("no wire", {AMBIENT: 298.15, ("wire", "resistance"): 1e-4}),
        ],
    )
    return run(build, batch)


def test_more_capacity_never_shortens_a_run(gauge_runs) -> None:  # type: ignore[no-untyped-def]
    assert gauge_runs.runtime[1] > 1.08 * gauge_runs.runtime[0]


def test_a_colder_room_never_lengthens_a_run(gauge_runs) -> None:  # type: ignore[no-untyped-def]
    assert gauge_runs.runtime[0] > gauge_runs.runtime[2] > gauge_runs.runtime[3]


def test_a_pack_held_lower_starts_lower_and_runs_shorter(gauge_runs) -> None:  # type: ignore[no-untyped-def]
    start = gauge_runs.start["pack", "charge"]
    assert start[0] < start[4] <= 1.0
    assert gauge_runs.runtime[4] > gauge_runs.runtime[0]


def test_a_wire_costs_time(gauge_runs) -> None:  # type: ignore[no-untyped-def]
    assert gauge_runs.runtime[5] > gauge_runs.runtime[0]


def test_full_is_where_the_charger_leaves_the_pack() -> None:
    build = network(boosted())
    charge = float(full_charge(build, build.part("pack"), nominal(build))[0])
    last = 0.1 * 0.5 * 2.0 * (0.060 + 0.015 + 0.020 + 0.001)  # V: last current through both cells and their joints
    assert charge == pytest.approx(held_at(8.2 - last), abs=1e-3)


@pytest.mark.parametrize("case", range(6))
def test_the_waterfall_sums_to_the_difference(gauge_runs, case: int) -> None:  # type: ignore[no-untyped-def]
    falls = waterfall(gauge_runs, case)
    build = gauge_runs.network
    assert falls.label == pytest.approx(label_energy(build, build.part("pack")))
    assert falls.label - sum(s.energy for s in falls.steps) == pytest.approx(falls.delivered, rel=1e-9)
    assert falls.delivered == pytest.approx(6.0 * gauge_runs.runtime[case], rel=2e-3)
    assert abs(falls.closed) < 0.01


def test_heat_in_the_wire_is_booked_to_the_path_by_current_squared(gauge_runs) -> None:  # type: ignore[no-untyped-def]
    falls = {s.name: s.energy for s in waterfall(gauge_runs, 0).steps}
    _, v = gauge_runs.wave(0)
    t, _ = gauge_runs.wave(0)
    nodes = gauge_runs.network.nodes
    drop = v[:, nodes.index("pack plus")] - v[:, nodes.index("wire-raiser")]
    wire = float(np.sum(0.5 * (drop[1:] ** 2 + drop[:-1] ** 2) / 0.1 * np.diff(t)))
    own = 0.05 * 0.5**2 * t[-1]  # the resistance at the input of the load, at half an ampere
    assert falls["wires, contacts, fuse and board"] == pytest.approx(wire + own, rel=0.01)


def test_the_lockout_is_named_as_what_ends_the_run(gauge_runs) -> None:  # type: ignore[no-untyped-def]
    first = stoppers(gauge_runs, 0)[0]
    assert first.acted and first.name == "lockout of raiser"
    assert first.value == pytest.approx(5.6, abs=0.02)


def test_a_board_that_cuts_off_first_is_named_and_the_lockout_comes_next() -> None:
    text = boosted(lockout="lockout off: 4.5 V, lockout on: 4.7 V").replace(
        "  wire:",
        "  guard: {kind: protection board, series: 2, on resistance: 30 mΩ, cut-off: 2.9 V, cut-off release: 3.0 V, "
        "over-charge: 4.28 V, over-charge release: 4.1 V}\n  wire:",
    )
    build = network(text.replace("(pack plus) > pack > (return)", "(pack plus) > pack > guard > (return)"))
    found = stoppers(run(build, nominal(build)), 0)
    assert found[0].name == "cut-off of guard" and found[0].acted
    lockout = next(s for s in found if s.name == "lockout of raiser")
    assert 0.0 < lockout.left < 3600.0


def test_a_peak_on_a_low_pack_ends_it_before_the_mean_does() -> None:
    build = network(boosted(load="power: 3 W, peak power: 14 W, peak duration: 0.1 s"))
    runs = run(build, nominal(build))
    tried = peaks(runs, [0])
    assert 0.2 < tried.until[0] < 0.97
    mild = network(boosted(load="power: 3 W, peak power: 3.1 W, peak duration: 0.1 s"))
    assert peaks(run(mild, nominal(mild)), [0]).until[0] > 0.97


def test_recovery_above_the_restart_voltage_is_noticed_as_chatter() -> None:
    build = network(boosted(lockout="lockout off: 6.4 V, lockout on: 6.45 V"))
    assert peaks(run(build, nominal(build)), [0]).chatters[0]
    wide = network(boosted(lockout="lockout off: 5.6 V, lockout on: 7.5 V"))
    assert not peaks(run(wide, nominal(wide)), [0]).chatters[0]


def test_ageing_follows_the_law_of_the_chemistry_and_says_when_there_is_none() -> None:
    build = network(boosted())
    found = aged(build, build.part("pack"), 5.0)
    assert 0.82 < found.health < 0.92 and found.growth > 1.1 and "NMC" in found.words
    other = network(bare("power: 5 W", window="3 V to 6 V").replace("NMC", "LTO"))
    convention = aged(other, other.part("pack"), 5.0)
    assert (convention.health, convention.growth) == (0.8, 1.5) and "convention" in convention.words


def test_a_run_is_followed_to_its_end_however_little_is_asked_for() -> None:
    """Counted for four times the runtime asked for, it had no end, no stopper, and nothing that moved it."""
    build = network(bare("law: current, power: 20 mW"))
    assert longest_run(build) == 4 * 3600.0
    runs = run(build, nominal(build))
    assert runs.outcome(0) == 1 and runs.runtime[0] > 40 * 3600.0


def test_the_worst_corner_does_not_depend_on_the_runtime_asked_for() -> None:
    def lasts(asked: str) -> list[float]:
        found = endurance.answer(context(boosted().replace("runtime: 1 h", f"runtime: {asked}")))
        return [f.value for f in found.findings if f.name == "pack runs out too early" and f.value is not None]

    assert lasts("10 min") == lasts("1 h")


def test_a_run_that_nothing_ended_is_more_than_was_counted_in_every_word() -> None:
    """The label says a quarter of what the cells have, so the count stops before the run does."""
    written = bare("power: 2 W").replace("nominal voltage: 3.6 V", "nominal voltage: 1 V, lowest voltage: 0.5 V")
    found = endurance.answer(context(written))
    assert "for more than 3 h 12 min new" in found.headline
    assert "more than 3 h 12 min with everything against it" in found.headline
    runs = next(t for t in found.tables if t.title == "How long it carries the load")
    assert runs.columns[-1][0] == "how it ends" and all("nothing had ended it" in row[-1] for row in runs.rows)


@pytest.fixture(scope="module")
def answered():  # type: ignore[no-untyped-def]
    return endurance.answer(context(boosted()))


def test_every_case_is_judged_against_the_runtime_asked(answered) -> None:  # type: ignore[no-untyped-def]
    judged = [f for f in answered.findings if f.name == "pack runs out too early"]
    assert [f.state for f in judged] == [f"on pack, {label}" for label in endurance.LABELS]
    for f in judged:
        assert f.limit == 3600.0 and f.margin == pytest.approx(f.value - 3600.0)
        assert (f.status == "fails") == (f.margin < 0.0 and f is not judged[-1])
    by_state = {f.state: f.value for f in judged}
    assert by_state["on pack, new, 25 °C"] > by_state["on pack, aged, 25 °C"] > by_state[judged[-1].state]


def test_the_worst_corner_pushes_every_figure_against_the_run(answered) -> None:  # type: ignore[no-untyped-def]
    corner = next(f for f in answered.findings if f.state.endswith("new, 25 °C, worst corner"))
    assert corner.case == "pack resistance +20 %"


def test_the_waterfall_table_goes_on_to_the_worst_case(answered) -> None:  # type: ignore[no-untyped-def]
    table = next(t for t in answered.tables if t.title == "From the label to the load")
    names = [row[0] for row in table.rows]
    assert names[0] == "on the label" and names[-3:] == ["coldest room", "aged as well", "worst corner as well"]
    left = table.rows[0][2]
    for name, change, after, _ in table.rows[1:]:
        if not name.startswith("delivered"):
            left += change
        assert after == pytest.approx(left, rel=1e-9)


def test_without_a_pack_it_is_open() -> None:
    text = """
title: No pack
need: {at: load, window: 11 V to 13 V}
parts:
  brick: {kind: adapter, voltage: 12 V, rated current: 1 A, current limit: 1.4 A}
  lamp: {kind: load, power: 5 W, nominal voltage: 12 V}
joins:
  - brick > (load) > lamp
"""
    assert endurance.answer(context(text)).status == "open"


def test_a_pack_that_cannot_carry_the_load_fails_and_says_so() -> None:
    answer = endurance.answer(context(boosted(load="power: 60 W")))
    assert answer.status == "fails" and "cannot carry" in answer.findings[0].name
