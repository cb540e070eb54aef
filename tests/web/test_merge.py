"""Two texts from one: whatever either changed alone is in the outcome, whatever both changed is asked about."""

from __future__ import annotations

from design.fakes import GOOD
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tideover.design.edit import replaced, values
from tideover.web.merge import changes, key, merge

PLACES = [place for place in values(GOOD) if place[0] != "joins"]
VALUES = st.sampled_from(["1 V", "2 V", "yes", "a: b", None])
EDITS = st.dictionaries(st.sampled_from(PLACES), VALUES, max_size=4)


def edited(text: str, edits) -> str:
    for where, value in edits.items():
        text = replaced(text, where, "0" if value is None and where[-1] == "from" else value)
    return text


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(EDITS, EDITS, st.sampled_from(["", "ours", "theirs"]))
def test_what_one_side_changed_is_kept_and_what_both_changed_is_disputed(mine, other, keep):
    ours, theirs = edited(GOOD, mine), edited(GOOD, other).replace("# from the shelf", "# a remark of theirs")
    we, they = changes(GOOD, ours), changes(GOOD, theirs)
    found = merge(GOOD, ours, theirs, keep)
    after = {key(where): value for where, value in values(found.text).items()}
    both = {place for place in we if place in they and we[place][2] != they[place][2]}
    if not found.whole:
        assert found.text == (ours if keep == "ours" else theirs)
        return
    assert {key(where) for where in found.disputed} == both
    assert "# a remark of theirs" in found.text
    for place in {*we, *they}:
        side = we if place in we and (place not in they or keep == "ours") else they
        assert after.get(place) == side[place][2]
    untouched = {key(where): value for where, value in values(GOOD).items() if key(where) not in {*we, *they}}
    assert {place: after.get(place) for place in untouched} == untouched


def test_a_part_that_they_took_out_and_we_changed_is_all_in_dispute():
    ours = replaced(GOOD, ("parts", "brick", "voltage"), "18 V")
    theirs = GOOD.replace("  brick: 19 V 3.4 A adapter     # from the shelf\n", "")
    found = merge(GOOD, ours, theirs)
    assert found.text == theirs and found.disputed == ((),) and not found.whole
    assert merge(GOOD, ours, theirs, "ours").text == ours


def test_remarks_that_both_moved_are_not_weighed():
    ours = GOOD.replace("# from the shelf", "# ours")
    theirs = GOOD.replace("# from the shelf", "# theirs")
    assert not merge(GOOD, ours, theirs).whole
