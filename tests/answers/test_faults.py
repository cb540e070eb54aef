"""Single faults: a planted danger by hand, severities that only grow, and what is said."""

from __future__ import annotations

from dataclasses import fields
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from answers.builds import charged, context, network, plain
from tideover.answers import faults, faults_said
from tideover.answers.context import Context
from tideover.answers.harms import CAUSES, Harm, Reader, severity
from tideover.answers.strikes import Strikes, strikes
from tideover.cases.faults import FAULTS, strike
from tideover.laws.cells import Curve
from tideover.network import load
from tideover.solve import native

EXAMPLES = Path(__file__).parents[2] / "examples"

DANGER = """
title: Two diodes without a board
need: {at: load, window: 9 V to 16 V, ambient: 25 °C}
parts:
  brick: {kind: adapter, voltage: 15 V, rated current: 2 A, current limit: 2 A, output resistance: 0.1 Ω,
    overload: constant current}
  charger: {kind: charger, type: buck, hold voltage: 12.3 V, charge current: 0.5 A, reverse drain: 0 A}
  cells: {kind: pack, chemistry: NMC, series: 3, capacity: 2 Ah, resistance: 45 mΩ, capacity spread: 0,
    resistance spread: 0, joint resistance: 0 Ω, fast resistance: 12 mΩ, slow resistance: 15 mΩ}
  first: {kind: diode, saturation current: 1 µA, ideality: 1.05, series resistance: 30 mΩ, leakage: 0 A}
  second: {kind: diode, saturation current: 1 µA, ideality: 1.05, series resistance: 30 mΩ, leakage: 0 A}
  lamp: {kind: load, law: current, power: 6 W, nominal voltage: 12 V}
joins:
  - brick > (inlet) > first > (load)
  - (inlet) > charger > (pack plus) > cells
  - (pack plus) > second > (load) > lamp
"""


@pytest.fixture(scope="module", autouse=True)
def compiled(tmp_path_factory):  # type: ignore[no-untyped-def]
    """Few networks and many cases: worth compiling."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TIDEOVER_NATIVE", "1")
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        native.compiler.cache_clear()
        yield
    native.compiler.cache_clear()


@cache
def struck(name: str) -> Strikes:
    """Everything about the faults of an example."""
    return strikes(strike(load(EXAMPLES / f"{name}.yaml")))


@pytest.fixture(scope="module")
def danger():  # type: ignore[no-untyped-def]
    return faults.answer(context(DANGER))


def judged(text: str, label: str) -> faults_said.Judged:
    """One fault of a build."""
    return next(j for j in every(text) if j.single.label == label)


@cache
def every(text: str) -> tuple[faults_said.Judged, ...]:
    """All faults of a build."""
    return faults_said.judge(strikes(strike(network(text))))[1]


def test_a_shorted_diode_pushes_the_adapter_onto_the_cells_in_the_time_worked_out_by_hand(danger) -> None:  # type: ignore[no-untyped-def]
    found = judged(DANGER, "second shorts")
    soc = np.linspace(0.0, 1.0, 20001)
    volts = Curve.of(["NMC"]).value(soc[:, None])[:, 0]
    begin = (12.3 - 0.05 * 3 * 0.072) / 3.0  # the charge ended at a tenth of 0.5 A
    i = 2.0 - 0.5  # what the adapter can give less what the lamp takes
    end = 4.25 - i * (0.045 + 0.012 + 0.015 * (1.0 - np.exp(-250.0 / 600.0)))  # the slow pair is under way
    by_hand = 7200.0 * float(np.interp(end, volts, soc) - np.interp(begin, volts, soc)) / i
    assert 120.0 < by_hand < 400.0
    assert found.told.past_charge_limit == pytest.approx(by_hand, rel=0.1)
    assert (found.severity, found.cause) == (5, "fire")
    assert found.sentence.startswith("If second shorts, brick pushes the cells past 4.25 V within ")
    assert found.sentence.endswith("fire is to be expected, and nothing stops it")
    worst = next(f for f in danger.findings if f.name == "single fault overcharges the cells")
    assert worst.status == "fails" and danger.status == "fails" and "protection board" in worst.mend


def test_a_board_stops_what_would_have_been_a_fire() -> None:
    guarded = DANGER.replace(
        "joins:",
        "  guard: {kind: protection board, series: 3, on resistance: 20 mΩ, cut-off: 2.5 V, cut-off release: 3.0 V, "
        "over-charge: 4.28 V, over-charge release: 4.1 V}\njoins:",
    ).replace("(pack plus) > cells", "(pack plus) > cells > guard > (return)")
    found = judged(guarded, "second shorts")
    assert found.severity < 4 and found.told.cell_high == pytest.approx(4.28, abs=0.01)
    assert found.stopped.startswith("guard stops the charge")
    assert judged(guarded, "guard stays on whatever the cells say").hidden


def test_a_shorted_wire_before_any_fuse_is_not_stopped() -> None:
    text = charged(more=", highest voltage: 14 V")
    found = judged(text, "charger shorts at its output")
    assert found.severity == 5 and found.stopped == "" and found.told.current > 50.0


def test_the_load_gets_what_a_converter_at_fault_gives_it() -> None:
    text = """
title: Raised
need: {at: load, window: 11 V to 13 V, ambient: 25 °C}
parts:
  brick: {kind: adapter, voltage: 9 V, rated current: 3 A, current limit: 4 A}
  raiser: {kind: boost, set voltage: 12 V, current limit: 6 A}
  lamp: {kind: load, power: 6 W, nominal voltage: 12 V, highest voltage: 15 V}
joins:
  - brick > raiser > (load) > lamp
"""
    high = judged(text, "raiser regulates 30 % too high")  # it swings a little past its new set point
    assert high.told.load_high == pytest.approx(1.3 * 12.0, rel=0.05) and high.cause == "over-voltage"
    assert "15 V is the most it bears" in high.verdict
    assert judged(text, "raiser stops switching").cause == "dark"
    bears = text.replace("highest voltage: 15 V", "highest voltage: 18 V")
    assert judged(bears, "raiser regulates 30 % too high").cause != "over-voltage"


def test_a_dead_adapter_leaves_the_load_to_the_pack_for_as_long_as_the_pack_lasts() -> None:
    found = judged(DANGER, "brick gives no output")
    assert found.cause == "over-discharge"  # no board, and a lamp that never resets
    assert 0.8 * 12000.0 < found.told.dark_after < 1.2 * 14400.0  # 2 Ah at half an ampere, less what 9 V leaves inside
    assert not found.hidden


def test_what_could_not_be_followed_is_said() -> None:
    answer = faults.answer(context(plain("40 W")))  # 36 W is all that its resistance lets through
    missing = next(f for f in answer.findings if f.status == "open")
    assert "with mains present" in missing.state and "on the pack" not in missing.state and missing.mend
    assert answer.tables[0].rows
    assert all(f.status != "open" for f in faults.answer(context(plain())).findings)  # no pack is no riddle


TWO_PACKS = DANGER.replace(
    "joins:",
    "  other charger: {kind: charger, type: buck, hold voltage: 14.2 V, charge current: 0.5 A}\n"
    "  iron: {kind: pack, chemistry: LFP, series: 4, capacity: 2 Ah, resistance: 30 mΩ}\njoins:",
).replace("joins:\n", "joins:\n  - (inlet) > other charger > (iron plus) > iron\n")


def test_two_packs_are_each_judged_by_their_own_chemistry() -> None:
    """LFP cells bear 3.8 V and NMC cells 4.25 V: what pushes the latter is not told by the limit of the former."""
    found = judged(TWO_PACKS, "second shorts")
    assert found.told.charge_limit == 4.25 and "past 4.25 V" in found.sentence


def test_what_a_build_does_without_a_fault_is_not_told_of_every_fault() -> None:
    """A load that the adapter destroys is destroyed whatever breaks; only faults of their own make a finding."""
    always = charged("{from: 12 V 1 A adapter, voltage: 12.6 V}", more=", highest voltage: 12.1 V")
    answer = faults.answer(context(always))
    assert any(f.name == "build does not hold even without a fault" for f in answer.findings)
    for f in answer.findings:
        assert "as bad as without" not in f.why
        if f.margin is not None and f.name.startswith("single fault"):
            assert f.status == "holds" or f.margin <= 0.0, f


NUMBERS = st.floats(-2.0, 3.0)
HARMS = st.builds(Harm, **{f.name: NUMBERS for f in fields(Harm)})


@given(HARMS, HARMS)
@settings(max_examples=200, deadline=None)
def test_more_harm_is_never_less_severe(one: Harm, other: Harm) -> None:
    both = severity(one.worst(other))[0]
    assert both >= max(severity(one)[0], severity(other)[0])


@pytest.mark.parametrize("name", ["reading-room/build", "reading-room/as-first-drawn"])
def test_a_fault_never_makes_a_build_better(name: str) -> None:
    healthy, found = faults_said.judge(struck(name))
    for j in found:
        assert j.severity >= healthy.severity
        assert all(getattr(j.harm, f.name) >= getattr(healthy.harm, f.name) for f in fields(Harm))
    ranks = [j.severity for j in found]
    assert ranks == sorted(ranks, reverse=True)


def test_a_fault_alone_equals_itself_in_company() -> None:
    done = struck("reading-room/build")
    whole, batch = Reader(done), done.struck.batch
    for label in ("pack diode shorts", "board opens both ways", "brick gives no output", "catalogue shorts"):
        case = batch.labels.index(label)
        alone = Reader(strikes(done.struck.pick([0, case])))
        for mine, theirs in zip(alone.read(1), whole.read(case)):
            for f in fields(mine):
                x, y = getattr(mine, f.name), getattr(theirs, f.name)
                if isinstance(x, str | bool):
                    assert x == y, (label, f.name)
                else:
                    assert x == pytest.approx(y, rel=1e-6, abs=1e-9, nan_ok=True), (label, f.name)


def test_every_cause_has_words_and_every_fault_a_verdict() -> None:
    for _, cause, _ in CAUSES:
        assert hasattr(faults_said.Speaker, "_" + cause.replace(" ", "_").replace("-", "_")), cause
    assert all(f.words for kind in FAULTS.values() for f in kind)


def test_the_first_drawing_fails_and_the_revised_one_does_not() -> None:
    first, revised = (
        faults.told(Context.of(load(EXAMPLES / f"{n}.yaml")), struck(n))
        for n in ("reading-room/as-first-drawn", "reading-room/build")
    )
    assert first.status == "fails" and "even without a fault" in first.headline
    assert revised.status == "tight"
    for a in (first, revised):
        for f in a.findings:
            assert f.mend or f.status == "holds"
            assert all(x is None or np.isfinite(x) for x in (f.value, f.limit, f.margin))
