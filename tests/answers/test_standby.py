"""How long a pack lasts at rest: closed forms of single drains, properties, and what the answer says."""

from __future__ import annotations

import numpy as np
import pytest

from answers.builds import network
from tideover.answers import standby
from tideover.answers.context import Context
from tideover.answers.drains import IDLE, OFF, UNPLUGGED, drain_list, drained, harm
from tideover.laws.cells import Curve
from tideover.laws.chemistry import CHEMISTRY

BOARD = """board: {kind: protection board, series: 2, on resistance: 20 mΩ, cut-off: 2.8 V, cut-off release: 3 V,
    over-charge: 4.25 V, over-charge release: 4.1 V, quiescent: 30 µA}"""
YEAR = 365.25 * 86400.0


def bare(own: str = "0", beside: int = 1, more: str = "", joins: str = "", board: str = BOARD):
    """Two cells in series, a board and a load that is off."""
    cells = f"chemistry: NMC, series: 2, parallel: {beside}, capacity: 2 Ah, resistance: 40 mΩ, capacity spread: 0"
    return network(f"""
title: Drawer
need: {{at: load, window: 5 V to 9 V, ambient: 5 °C to 35 °C}}
parts:
  pack: {{kind: pack, {cells}, self discharge: {own}}}
  {board or "link: {kind: resistor, resistance: 10 mΩ}"}
  wire: {{kind: resistor, resistance: 10 mΩ}}
  lamp: {{kind: load, power: 5 W, nominal voltage: 7.2 V}}
{more}joins:
  - (plus) > pack > (minus) > {"board" if board else "link"} > (return)
{joins or "  - (plus) > wire > (load) > lamp"}
""")


def found_of(build):
    return drained(build, build.part("pack"))


def test_thirty_microamperes_take_a_quarter_of_an_ampere_hour_a_year():
    found = found_of(bare())
    assert found.current(IDLE, 1) == pytest.approx(30e-6, rel=1e-4)
    assert found.current(IDLE, 1) * YEAR / 3600.0 == pytest.approx(0.263, abs=0.001)
    t = found.lasts(IDLE, 1, 1.0, 0.5)
    assert t == pytest.approx(0.5 * 7200.0 / 30e-6, rel=1e-3)


def test_self_discharge_doubles_for_each_twelve_and_a_half_kelvin():
    found = found_of(bare(own="2 %"))
    per_month = 0.02 * 7200.0 / (YEAR / 12.0)
    assert found.own[1] == pytest.approx(per_month, rel=2e-3)
    assert found.own[2] / found.own[1] == pytest.approx(2.0 ** (10.0 / 12.5))
    assert found.own[0] / found.own[1] == pytest.approx(2.0 ** (-20.0 / 12.5))


def boosted(bleeder: str = "", quiescent: str = "1 mA", lockout: str = "", switch: str = "", leak: str = "0 A"):
    """A boost to 12 V with nothing on it but, perhaps, a resistor."""
    figures = f"quiescent: {quiescent}, reverse drain: {leak}{lockout}"
    parts = f"""  raiser: {{kind: boost, set voltage: 12 V, current limit: 4 A, {figures}}}
  charger: {{kind: charger, type: buck, hold voltage: 8.4 V, charge current: 0.5 A, reverse drain: 5 µA}}
  brick: {{kind: adapter, voltage: 12 V, rated current: 1 A, current limit: 1.4 A}}
"""
    joins = "  - brick > (inlet) > charger > (plus)\n"
    if switch:
        parts += "  key: {kind: switch, contact resistance: 10 mΩ}\n"
    joins += f"  - (plus) > {'key > ' if switch else ''}raiser > wire > (load) > lamp\n"
    if bleeder:
        parts += f"  bleeder: {{kind: resistor, resistance: {bleeder}, tempco: 0 1/K}}\n"
        joins += "  - (load) > bleeder > (return)\n"
    return bare(more=parts, joins=joins)


def cost(found, state: str, part: str, words: str) -> float:
    return next(c for d, c in drain_list(found, state) if d.part == part and d.words == words)


def test_an_idle_current_at_the_input_counts_as_it_is():
    found = found_of(boosted())
    assert cost(found, IDLE, "raiser", "quiescent current") == pytest.approx(1e-3, rel=2e-3)


def test_a_milliampere_at_twelve_volts_costs_its_power_and_loss_at_the_cells():
    """Power over voltage, and what the converter loses on the way: the drop of its diode above all."""
    found = found_of(boosted(bleeder="12 kΩ"))
    volts = 2.0 * float(Curve.of(["NMC"]).value(np.array([[0.5]]))[0, 0])
    amps = cost(found, IDLE, "bleeder", "as a divider or bleeder")
    assert 12.0 * 1e-3 / volts < amps < 1.15 * 12.0 * 1e-3 / volts
    diode = (12.0 + 0.45) / 12.0  # the rectifier's drop stands in series with the output for this little current
    assert amps == pytest.approx(diode * 12.0 * 1e-3 / volts, rel=0.03)


def test_drains_add_up_to_the_whole_but_for_losses_shared():
    found = found_of(boosted(bleeder="12 kΩ", leak="0.2 mA"))
    total = sum(c for _, c in drain_list(found, IDLE))
    assert total == pytest.approx(found.current(IDLE, 1) - found.own[1], rel=0.02)


def test_a_switch_leaves_only_what_stands_before_it():
    found = found_of(boosted(switch="yes"))
    assert tuple(found.amps) == (OFF, IDLE, UNPLUGGED)
    volts = 2.0 * float(Curve.of(["NMC"]).value(np.array([[0.5]]))[0, 0])
    assert found.current(OFF, 1) == pytest.approx(30e-6 + 5e-6 * volts / 8.4, rel=0.02)  # the board, and the charger
    assert found.current(IDLE, 1) == pytest.approx(found.current(OFF, 1) + 1e-3, rel=1e-3)
    assert found.lasts(OFF, 1, 1.0, found.cut) > 20.0 * found.lasts(IDLE, 1, 1.0, found.cut)


def test_a_lockout_lets_go_before_the_board_and_saves_what_is_left():
    never, early = found_of(boosted()), found_of(boosted(lockout=", lockout off: 6.8 V, lockout on: 7.2 V"))
    volts = Curve.of(["NMC"]).value(np.array([[early.let_go[IDLE]]]))[0, 0]
    assert 2.0 * float(volts) == pytest.approx(6.8, abs=0.02)
    assert np.isnan(never.let_go[IDLE])
    assert early.lasts(IDLE, 1, 1.0, early.cut) > 1.5 * never.lasts(IDLE, 1, 1.0, never.cut)
    first = early.lasts(IDLE, 1, 1.0, early.let_go[IDLE])
    assert first == pytest.approx(7200.0 * (1.0 - early.let_go[IDLE]) / early.current(IDLE, 1), rel=0.02)


def test_warmer_fuller_and_more_never_the_wrong_way():
    small, large = found_of(bare(own="3 %")), found_of(boosted(leak="0.1 mA"))
    for found in (small, large):
        for state in found.amps:
            times = [found.lasts(state, room, found.full, found.cut) for room in range(3)]
            assert (np.diff(times) <= 1e-5 * times[0]).all() and times[2] > 0.0
            assert found.lasts(state, 1, 0.5, found.cut) < times[1]
            whole = found.lasts(state, 1, found.full, 0.4) + found.lasts(state, 1, 0.4, found.cut)
            assert whole == pytest.approx(times[1], rel=1e-6)
    twice = found_of(bare(own="3 %", beside=2))
    assert twice.lasts(IDLE, 1, 1.0, 0.1) > small.lasts(IDLE, 1, 1.0, 0.1)


def test_harm_stands_where_the_chemistry_says():
    build = bare()
    s = harm(build, build.part("pack"))
    volts = float(Curve.of(["NMC"]).value(np.array([[s]]))[0, 0])
    assert volts == pytest.approx(CHEMISTRY["NMC"].discharge_abs, abs=1e-3)
    found = found_of(build)
    left = (found.cut - s) * 7200.0
    assert found.lasts(IDLE, 1, found.cut, s) == pytest.approx(left / 30e-6, rel=0.01)


def test_what_the_answer_says():
    quick = standby.answer(Context.of(boosted(quiescent="15 mA")))
    assert quick.status == "fails"
    (idle,) = [f for f in quick.findings if f.state == IDLE and f.name == "pack empties at rest"]
    assert idle.status == "fails" and "switch before raiser" in idle.mend
    assert any(f.name == "nothing switches it off" and f.status == "tight" for f in quick.findings)
    calm = standby.answer(Context.of(boosted(quiescent="15 mA", switch="yes")))
    assert not [f for f in calm.findings if f.status == "fails"]
    assert not [f for f in calm.findings if f.name == "nothing switches it off"]
    assert "switched off" in calm.headline and "idle" in calm.headline


def test_a_pack_without_a_board_is_told_that_nothing_cuts_it_off():
    answer = standby.answer(Context.of(bare(own="2 %", board="")))
    (bare_cells,) = [f for f in answer.findings if f.name == "nothing cuts the pack off at rest"]
    assert bare_cells.value is not None and "no board" in bare_cells.why


def test_a_build_without_a_pack_says_what_is_missing():
    from answers.builds import plain

    answer = standby.answer(Context.of(network(plain())))
    assert answer.status == "open" and "no pack" in answer.headline


def test_a_current_that_is_not_known_is_open_and_does_not_hold(monkeypatch):
    import tideover.answers.drains as module

    monkeypatch.setattr(module.Drained, "lasts", lambda *_: float("nan"))
    found = standby.answer(Context.of(bare(board="")))
    assert {f.status for f in found.findings} == {"open"}
