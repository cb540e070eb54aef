"""Screening: planted leakers and worn cells are caught, sound ones are let through, and every rule has its case."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from cells.synthetic import make_stock
from tideover.cells import rules
from tideover.cells.cohorts import cohorts, histogram, median_mad
from tideover.cells.screening import (
    GOOD,
    MARK,
    OPEN,
    QUARANTINE,
    REJECTED,
    counted,
    new_resistance,
    screen,
)
from tideover.cells.stock import StockCell

BEGIN = datetime(2026, 10, 1)


def caught(verdicts):
    return {v.cell.id for v in verdicts if v.status in (REJECTED, QUARANTINE)}


# --- a box of 400 with known truth ---------------------------------------------------------------

WORLDS = {
    "model on the shelf": {},
    "model nobody knows": {"model": "blue sleeve"},
    "alternating current": {"model": "blue sleeve", "method": "AC 1 kHz"},
    "a day's rest, then 14 days": {"hours": (0.0, 24.0, 14 * 24.0)},
    "two readings only": {"hours": (0.0, 14 * 24.0)},
    "resistances that differ by factors": {"model": "blue", "spread": 0.28, "most": 9.0, "times": (2.6, 4.0)},
    "every fifth leaks, every fifth is worn": {"leaking": 0.2, "worn": 0.2},
}


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("world", WORLDS)
def test_planted_cells_are_caught_and_sound_ones_are_not(world, seed):
    cells, truth = make_stock(np.random.default_rng(seed), **WORLDS[world])
    verdicts = screen(cells)
    bad = caught(verdicts)
    sound = {cell.id for cell in cells} - truth.leaking - truth.worn
    assert truth.leaking <= bad
    assert truth.worn <= bad
    assert len(bad & sound) < 0.02 * len(sound)
    if len(cells[0].rests) > 2:
        assert counted(verdicts)[OPEN] < 0.02 * len(cells)


@pytest.mark.parametrize(("leak", "least", "most"), [(0.03, 0.0, 0.05), (0.05, 0.5, 0.95), (0.06, 0.97, 1.0)])
def test_where_the_limit_of_detection_lies(leak, least, most):
    """Sound cells lose up to 3 % a month. At 3 % nothing is found, rightly; the rule's 5 mV a week above the median of
    2 % lie between 4 and 5 %, where chance decides; from 6 % on all but few are found."""
    found, planted = 0, 0
    for seed in (1, 2, 3):
        cells, truth = make_stock(np.random.default_rng(seed), leak=(leak, leak), worn=0.0)
        found += len(caught(screen(cells)) & truth.leaking)
        planted += len(truth.leaking)
    assert least <= found / planted <= most


def test_the_loss_that_is_stated_is_the_planted_one():
    cells, truth = make_stock(np.random.default_rng(5))
    for verdict in screen(cells):
        said = verdict.leak
        assert said.monthly == pytest.approx(truth.monthly[verdict.cell.id], abs=0.2 * said.monthly + 0.008)
        assert said.current == pytest.approx(said.monthly * verdict.cell.capacity / (365.25 / 12 * 86400))


# --- one rule each -------------------------------------------------------------------------------

SOUND = StockCell(
    "A1",
    model="NMC 18650 2.6 Ah",
    chemistry="NMC",
    nameplate=2.6 * 3600,
    capacity=2.2 * 3600,
    resistance=0.060,
    method="DC 1 s",
    arrival=3.5,
    heating=2.0,
    rests=tuple((BEGIN + timedelta(days=d), v) for d, v in ((0, 4.180), (1, 4.170), (15, 4.164))),
)


def judged(of="", **changed):
    verdict = screen([replace(SOUND, **changed)])[0]
    return next(j for j in verdict.judgements if j.of == of) if of else verdict


def test_a_sound_cell_is_good_with_no_others_to_compare():
    verdict = judged()
    assert verdict.status == GOOD and verdict.why == ""
    assert [j.status for j in verdict.judgements] == [GOOD] * 5
    assert (verdict.becomes.status, verdict.becomes.reason) == (GOOD, "")


@pytest.mark.parametrize(
    ("of", "changed", "status", "said"),
    [
        ("arrival", {"arrival": 1.99}, REJECTED, "1.99 V on arrival, below 2 V"),
        ("arrival", {"arrival": 2.01}, GOOD, "2.01 V on arrival"),
        ("arrival", {"arrival": 4.4}, REJECTED, "above 4.25 V"),
        ("arrival", {"arrival": None}, OPEN, "not noted"),
        ("arrival", {"chemistry": "LTO", "arrival": 1.6}, GOOD, "1.6 V"),
        ("arrival", {"chemistry": "PbA", "arrival": 9.8}, REJECTED, "below"),
        ("heating", {"heating": 10.5}, REJECTED, "more than 10 K"),
        ("heating", {"heating": 9.9}, GOOD, "9.9 K"),
        ("heating", {"heating": None}, OPEN, "not noted"),
        ("capacity", {"capacity": 0.59 * 2.6 * 3600}, REJECTED, "below 60 %"),
        ("capacity", {"capacity": 0.61 * 2.6 * 3600}, GOOD, "usable but below the 75 %"),
        ("capacity", {"capacity": 1.2 * 2.6 * 3600}, OPEN, "measure it again"),
        ("capacity", {"capacity": None}, OPEN, "not measured"),
        ("capacity", {"nameplate": None}, GOOD, "the shelf's typical 2.6 Ah"),
        ("capacity", {"nameplate": None, "model": "blue"}, OPEN, "neither a nameplate nor a model"),
        ("resistance", {"resistance": 0.095}, REJECTED, "more than twice the 45.6 mΩ of a new one"),
        ("resistance", {"resistance": None}, OPEN, "not measured"),
        ("resistance", {"method": ""}, OPEN, "nobody said by which method"),
        ("resistance", {"model": "blue"}, OPEN, "fewer than 6"),
        ("resistance", {"method": "AC 1 kHz", "resistance": 0.2}, OPEN, "fewer than 6"),
        ("self-discharge", {"rests": ()}, OPEN, "no rest voltages"),
        ("self-discharge", {"rests": SOUND.rests[:1]}, OPEN, "read it again after 2026-10-15"),
        ("self-discharge", {"rests": SOUND.rests[:2]}, OPEN, "too short between its rest voltages"),
        ("self-discharge", {"rests": (*SOUND.rests[:2], (BEGIN + timedelta(days=15), 4.12))}, REJECTED, "at most"),
        ("self-discharge", {"rests": (*SOUND.rests[:2], (BEGIN + timedelta(days=15), 4.1495))}, QUARANTINE, "at most"),
        (
            "self-discharge",
            {"rests": (*SOUND.rests[:2], (BEGIN + timedelta(days=15), 4.186))},
            OPEN,
            "one rest voltage",
        ),
        ("self-discharge", {"rests": (SOUND.rests[0], (BEGIN + timedelta(days=15), 4.19))}, OPEN, "the voltage rose"),
        ("self-discharge", {"chemistry": "", "model": ""}, OPEN, "its chemistry is not stated"),
        (
            "self-discharge",
            {"chemistry": "LFP", "rests": tuple((t, v - 0.85) for t, v in SOUND.rests)},
            OPEN,
            "so flat there that the voltage tells nothing",
        ),
    ],
)
def test_each_rule(of, changed, status, said):
    judgement = judged(of, **changed)
    assert (judgement.status, said in judgement.said) == (status, True), judgement.said
    assert judgement.rule
    assert judgement.limit is None or np.isfinite(judgement.limit)
    if status == OPEN and of in ("capacity", "resistance", "self-discharge") and "again" not in judgement.said:
        assert judgement.missing


def test_a_limit_of_the_shelf_is_not_called_the_nameplates():
    assert "the nameplate" in judged("capacity").rule
    rule = judged("capacity", nameplate=None).rule
    assert "the nameplate" not in rule and "the shelf's typical capacity" in rule


def test_an_iron_phosphate_cell_at_3_33_v_is_open_and_says_how_to_tell():
    rests = tuple((t, v - 0.84) for t, v in SOUND.rests)
    judgement = judged("self-discharge", chemistry="LFP", model="blue", rests=rests)
    assert judgement.status == OPEN and "compare its capacity after a month" in judgement.missing


def test_a_fast_leak_is_told_before_14_days_are_over():
    rests = tuple((BEGIN + timedelta(days=d), v) for d, v in ((0, 4.18), (1, 4.165), (5, 4.12)))
    assert judged("self-discharge", rests=rests).status == REJECTED


def test_a_plunge_is_a_doubt_until_it_stands_still_and_a_finding_when_it_comes_again():
    at = [(BEGIN + timedelta(days=d), v) for d, v in ((0, 4.18), (1, 4.17), (2, 3.70), (3, 3.70), (18, 3.698))]
    once = judged("self-discharge", rests=tuple(at[:3]))
    assert once.status == QUARANTINE and "discharged in between, or shorted inside?" in once.said
    assert judged("self-discharge", rests=tuple(at)).status == GOOD
    again = judged("self-discharge", rests=(*at[:3], (BEGIN + timedelta(days=9), 3.1)))
    assert again.status == REJECTED and "not for the first time" in again.said
    charged = judged("self-discharge", rests=(*at[:3], (BEGIN + timedelta(days=9), 4.19)))
    assert charged.status == OPEN


def test_a_missing_need_keeps_a_cell_from_being_good_but_a_missing_note_does_not():
    assert judged(capacity=None).status == OPEN
    assert judged(arrival=None, heating=None).status == GOOD


def test_the_chemistry_of_a_model_on_the_shelf_need_not_be_said():
    verdict = judged(chemistry="")
    assert verdict.status == GOOD and verdict.becomes.chemistry == ""


def test_methods_are_never_compared_with_each_other():
    """Ten alternating-current readings at half the value do not make the ten direct-current ones odd."""
    plain = replace(SOUND, model="blue")
    cells = [replace(plain, id=f"D{k}", resistance=0.060 + 0.001 * k) for k in range(10)]
    cells += [replace(plain, id=f"A{k}", resistance=0.030 + 0.001 * k, method="AC 1 kHz") for k in range(10)]
    assert all(v.status == GOOD for v in screen(cells))
    mixed = [replace(c, method="DC 1 s") if c.id == "A0" else c for c in cells]
    odd = next(v for v in screen(mixed) if v.cell.id == "A0")
    assert odd.status == OPEN and "far below" in odd.why
    groups = {group.like: len(group.ids) for group in cohorts(mixed) if group.of == "resistance"}
    assert groups == {"blue, NMC, DC 1 s": 11, "blue, NMC, AC 1 kHz": 9}


def test_other_models_and_ages_are_not_the_same_cohort():
    cells = [replace(SOUND, id=f"B{k}", model="blue", resistance=0.030) for k in range(8)]
    cells += [replace(SOUND, id=f"R{k}", model="red", resistance=0.090) for k in range(8)]
    assert not caught(screen(cells))


# --- what is written -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("status", "reason", "resistance", "becomes", "starts"),
    [
        ("new", "", 0.2, "rejected", MARK),
        ("good", "", 0.2, "rejected", MARK),
        ("used", "", 0.2, "used", ""),
        ("rejected", "dent", 0.06, "rejected", "dent"),
        ("quarantine", "smells", 0.06, "quarantine", "smells"),
        ("quarantine", "smells", 0.2, "rejected", MARK),
        ("rejected", f"{MARK}resistance", 0.06, "good", ""),
        ("quarantine", f"{MARK}falls", None, "quarantine", f"{MARK}falls"),
        ("good", "", None, "good", ""),
    ],
)
def test_what_a_person_decided_stands_and_nothing_open_is_written(status, reason, resistance, becomes, starts):
    verdict = judged(status=status, reason=reason, resistance=resistance)
    assert verdict.becomes.status == becomes
    assert verdict.becomes.reason.startswith(starts) and (starts or not verdict.becomes.reason)
    same = {f.name for f in fields(StockCell)} - {"status", "reason"}
    assert all(getattr(verdict.becomes, name) == getattr(verdict.cell, name) for name in same)
    if reason == "smells" and becomes == "rejected":
        assert "smells" in verdict.becomes.reason
    if status == "used":
        assert "rejected" in verdict.kept


def test_applying_twice_changes_nothing_more():
    cells, _ = make_stock(np.random.default_rng(4), n=60)
    once = [v.becomes for v in screen(cells)]
    assert [v.becomes for v in screen(once)] == once


# --- figures -------------------------------------------------------------------------------------


def test_resistance_when_new_is_of_the_method():
    r0, r1, r2 = 0.045, 0.012, 0.015
    one, ten = new_resistance("NMC 18650 2.6 Ah", "DC 1 s"), new_resistance("NMC 18650 2.6 Ah", "DC 10 s")
    assert one == pytest.approx(r0 + r1 * (1 - np.exp(-1 / 20)) + r2 * (1 - np.exp(-1 / 600)), rel=1e-5)
    assert ten == pytest.approx(r0 + r1 * (1 - np.exp(-10 / 20)) + r2 * (1 - np.exp(-10 / 600)), rel=1e-5)
    assert new_resistance("NMC 18650 2.6 Ah", "AC 1 kHz") is None
    assert new_resistance("salvaged 18650 2 Ah", "DC 1 s") is None
    assert new_resistance("2.6 ah nmc 18650", "DC 1 s") == one


def test_medians_and_histograms():
    assert median_mad([3.0]) == (3.0, 0.0)
    assert sum(n for *_, n in histogram([1.0, 2.0, 2.5, 9.0])) == 4
    assert histogram([2.0, 2.0]) == ((2.0, 2.0, 2),)
    assert histogram([2.0]) == ((2.0, 2.0, 1),)


def test_every_rule_says_why_and_where_it_comes_from():
    found = [value for value in vars(rules).values() if isinstance(value, rules.Rule)]
    assert len(found) > 15
    assert all(rule.reason and rule.source in (rules.TYPICAL, rules.JUDGEMENT) for rule in found)
    assert set(rules.ARRIVAL_LEAST) >= {"", "NMC", "NCA", "LFP", "LTO", "LCO", "PbA"}
