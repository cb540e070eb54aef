"""Which cells may stand together: nothing is mixed unasked, and every cell is accounted for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tideover.cells.choosing import CannotChoose, Wish, all_out, by_id, choose
from tideover.cells.grouping import group_cells
from tideover.cells.stock import METHODS, STATUSES, StockCell

GOOD = StockCell(
    "A1", model="reed", chemistry="NMC", age="2019", capacity=7200.0, resistance=0.06, method="DC 1 s", status="good"
)


def stock(*changes, count=1):
    """Good cells with something changed, `count` of each."""
    cells = [replace(GOOD, **change) for change in changes for _ in range(count)]
    return [replace(cell, id=f"A{k}") for k, cell in enumerate(cells, 1)]


def reasons(choice):
    return [why for _, why in choice.out]


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"status": "rejected", "reason": "dented"}, "rejected: dented"),
        ({"status": "rejected"}, "rejected"),
        ({"status": "quarantine", "reason": "falls"}, "in quarantine: falls"),
        ({"status": "used"}, "built into a pack already"),
        ({"capacity": None}, "capacity not measured"),
        ({"capacity": 0.0}, "capacity not measured"),
        ({"chemistry": ""}, "chemistry not said"),
        ({"resistance": None, "method": ""}, "resistance not measured"),
        ({"method": ""}, "method of its resistance not said"),
        ({"method": "AC 1 kHz"}, "resistance by another method (AC 1 kHz)"),
        ({"chemistry": "LFP"}, "of another chemistry (LFP)"),
        ({"model": "sedge"}, "of another model (sedge)"),
        ({"model": ""}, "of another model (not said)"),
        ({"age": "2024"}, "of another age (2024)"),
    ],
)
def test_why_a_cell_stays_out(change, why):
    choice = choose(stock({}, {}, {}, {}, change), Wish(2, 2))
    assert [c.id for c in choice.cells] == ["A1", "A2", "A3", "A4"]
    assert reasons(choice) == [why]


def test_model_and_age_are_compared_as_people_read_them():
    choice = choose(stock({}, {"model": "REED"}, {"age": " 2019 "}), Wish(1, 3))
    assert len(choice.cells) == 3 and choice.notes == ()


def test_without_resistance_its_lack_and_its_methods_do_not_matter_and_it_is_said():
    choice = choose(stock({}, {"resistance": None}, {"method": "AC 1 kHz"}), Wish(1, 3, resistance=False))
    assert len(choice.cells) == 3 and choice.method == ""
    assert choice.notes == ("Resistance was left aside: how the cells share the current is not known.",)


def test_of_two_methods_the_one_of_most_cells_is_taken_unless_another_is_asked_for():
    cells = stock({}, {}, {}, {"method": "AC 1 kHz"}, {"method": "AC 1 kHz"})
    choice = choose(cells, Wish(1, 2))
    assert choice.method == "DC 1 s" and len(choice.cells) == 3
    assert choice.notes == ("Also enough for it: NMC, model reed, age 2019, resistance by AC 1 kHz (2 cells).",)
    choice = choose(cells, Wish(1, 2, method="AC 1 kHz"))
    assert choice.method == "AC 1 kHz" and len(choice.cells) == 2


def test_two_chemistries_are_asked_about():
    cells = stock({}, {"chemistry": "LFP"}, count=4)
    with pytest.raises(CannotChoose, match="cells enough of LFP and of NMC") as caught:
        choose(cells, Wish(2, 2))
    assert caught.value.mends == ("Say which: --chemistry LFP",)
    assert {c.chemistry for c in choose(cells, Wish(2, 2, chemistry="nmc")).cells} == {"NMC"}


def test_the_model_whose_best_cells_give_most_is_taken():
    choice = choose(stock({}, {"model": "sedge", "capacity": 9000.0}, count=4), Wish(2, 2))
    assert {c.model for c in choice.cells} == {"sedge"}
    assert choice.notes[0].startswith("Also enough for it: NMC, model reed")
    assert {c.model for c in choose(stock({}, {"model": "sedge"}, count=4), Wish(2, 2, model="reed")).cells} == {"reed"}


def test_what_nobody_judged_or_named_is_said():
    choice = choose(stock({"status": "new", "model": ""}, {"status": "new", "model": ""}), Wish(1, 2))
    assert choice.notes == (
        "2 of the cells are not screened yet (status new); screen before anything is welded.",
        "2 of the cells are without a model: taken as alike, which nobody has said.",
    )


def test_mixing_models_in_series_is_offered_and_then_allowed_with_a_warning():
    cells = stock({}, {"model": "sedge"}, count=4)
    with pytest.raises(CannotChoose) as caught:
        choose(cells, Wish(4, 2))
    told = "\n".join(caught.value.mends)
    assert "4 cells, enough for 2 of the groups: NMC, model reed, age 2019, resistance by DC 1 s" in told
    assert "--mix model would permit it: groups of different models in series, never side by side." in told
    assert "1 side by side would do: --parallel 1" in told and "--series 2" in told
    choice = choose(cells, Wish(4, 2, mix=("model",)))
    assert len(choice.cells) == 8 and set(choice.kinds) == {("reed",), ("sedge",)}
    assert "they age apart" in choice.notes[-1]


def test_when_no_cell_will_do_it_is_said_why_and_what_would_help():
    with pytest.raises(CannotChoose) as caught:
        choose(stock({"capacity": None}, {"method": ""}, {"chemistry": ""}, count=2), Wish(1, 2))
    told = "\n".join(caught.value.mends)
    for said in ("2 stay out: capacity not measured", "--ignore-resistance", "NMC or LFP", "at a known current"):
        assert said in told
    with pytest.raises(CannotChoose, match="1 × 2 = 2 cells are asked for, and none can be used"):
        choose([], Wish(1, 2))
    with pytest.raises(CannotChoose) as caught:
        choose(stock({}, {}), Wish(1, 2, model="red"))
    assert "Of model there is in the inventory: reed." in caught.value.mends


def test_advice_is_about_what_is_missing():
    def told(*changes):
        with pytest.raises(CannotChoose) as caught:
            choose(stock(*changes, count=2), Wish(1, 5))
        return "\n".join(caught.value.mends)

    assert "Measure their resistance" in told({"resistance": None}) and "method" not in told({"resistance": None})
    assert "Say the method" in told({"method": ""}) and "Measure" not in told({"method": ""})
    assert "--ignore-resistance" not in told({"status": "rejected", "reason": "resistance too high"})


cells_of_any_kind = st.builds(
    StockCell,
    id=st.just(""),
    model=st.sampled_from(["", "reed", "sedge"]),
    chemistry=st.sampled_from(["", "NMC", "LFP"]),
    age=st.sampled_from(["", "new"]),
    capacity=st.none() | st.floats(3600.0, 9000.0),
    resistance=st.none() | st.floats(0.02, 0.1),
    method=st.sampled_from(["", *METHODS]),
    status=st.sampled_from(STATUSES),
)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(cells_of_any_kind, max_size=40),
    st.integers(1, 3),
    st.integers(1, 3),
    st.sampled_from([(), ("model",), ("age",), ("model", "age")]),
    st.booleans(),
)
def test_what_must_not_be_mixed_is_never_mixed(cells, series, parallel, mix, resistance):
    cells = [replace(cell, id=f"A{k}") for k, cell in enumerate(cells)]
    wish = Wish(series, parallel, mix, resistance=resistance)
    try:
        choice = choose(cells, wish)
    except CannotChoose:
        return
    q = np.array([c.capacity for c in choice.cells])
    r = np.array([c.resistance for c in choice.cells]) if resistance else None
    found = group_cells(q, r, choice.kinds, series, parallel, np.random.default_rng(1), bool(mix), swaps=2000)
    groups = [[choice.cells[k] for k in row] for row in found.groups]
    whole = [cell for group in groups for cell in group]
    assert len({c.chemistry for c in whole}) == 1 and whole[0].chemistry
    assert all(c.status in ("new", "good") and c.capacity for c in whole)
    assert not resistance or {c.method for c in whole} == {choice.method}
    for word in ("model", "age"):
        assert all(len({getattr(c, word) for c in group}) == 1 for group in groups)
        assert word in mix or len({getattr(c, word) for c in whole}) == 1
    out = [cell.id for cell, why in all_out(choice, found) if why]
    assert sorted([*out, *(c.id for c in whole)]) == sorted(c.id for c in cells)


def test_ids_are_sorted_as_people_sort_them():
    assert sorted(["b1", "A10", "A2", "A02", "10", "9", "A²"], key=by_id) == ["9", "10", "A02", "A2", "A10", "A²", "b1"]


def test_a_kind_is_named_as_its_sleeve_is_written():
    """Kinds are told apart without regard to case, and shown with it: units live by theirs."""
    stock = [StockCell(f"A{k}", model="NMC 18650 2.6 Ah", chemistry="NMC", capacity=7200.0) for k in range(3)]
    with pytest.raises(CannotChoose) as told:
        choose(stock, Wish(2, 2, resistance=False))
    assert told.value.mends[0] == "3 cells, enough for 1 of the groups: NMC, model NMC 18650 2.6 Ah, age not said"
