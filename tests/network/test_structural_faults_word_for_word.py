"""Every complaint about a drawing, word for word; the expected texts stand in faults.txt beside this file."""

from __future__ import annotations

from pathlib import Path

import golden
import pytest
from design.fakes import GOOD, KINDS, SHELF

from tideover.design import BuildError, examine_text
from tideover.network import load, settle

GOLDEN = Path(__file__).with_name("faults.txt")
END = "  - (bus) > converter > (load) > lamp\n"

# Name of the case: how many faults, and (text in the good file, text in its place), one or more.
CHANGED: dict[str, tuple[int, tuple[tuple[str, str], ...]]] = {
    "a part joined to nothing": (1, (("  - (bus) > hold-up\n", ""),)),
    "a terminal joined to nothing": (1, (("  - relay.common > (bus)\n", ""),)),
    "a near end joined to nothing": (1, (("  - (inlet) > mains diode > (bus)", "  - mains diode > (bus)"),)),
    "a node with one terminal": (1, (("(inlet) > charger", "(inlt) > charger"),)),
    "a part in brackets": (
        2,
        (("(bus) > hold-up", "(bus) > lead > (hold-up)"), ("brick > lead >", "brick >")),
    ),
    "an island": (
        1,
        (
            ("  - (bus) > hold-up\n", "  - (x) > hold-up > (y) > mains diode > (x)\n"),
            ("  - (inlet) > mains diode > (bus)\n", ""),
        ),
    ),
    "nothing on the return": (
        1,
        (
            (
                GOOD[GOOD.index("parts:") : GOOD.index("box:")],
                "parts:\n  x: {kind: diode}\n  load: {kind: diode}\njoins: [(a) > x > (b) > load > (a)]\n",
            ),
        ),
    ),
    "a part bridged": (1, (("(bus) > hold-up", "(bus) > hold-up > (bus)"),)),
    "a wire that ends where it begins": (
        1,
        (("brick > lead > (inlet)", "brick > (inlet) > lead > (inlet)"),),
    ),
    "a source shorted": (
        1,
        (("(pack plus) > pack > (pack minus) > board", "(pack plus) > pack > (pack plus) > board"),),
    ),
    "a source shorted through a fuse": (
        1,
        (("(pack plus) > pack fuse > relay.back", "(pack plus) > pack fuse"),),
    ),
    "a source shorted through its lead": (1, (("brick > lead > (inlet)", "brick > (inlet) > lead"),)),
    "a source shorted through a drawn wire": (
        1,
        (("brick > lead > (inlet)", "brick > (inlet) > lead > (return)"),),
    ),
    "two sources side by side": (
        1,
        (("  lead: {", "  spare: 19 V 3.4 A adapter\n  lead: {"), (END, END + "  - spare > brick.plus\n")),
    ),
    "two packs side by side": (
        2,
        (
            ("  lead: {", "  spare: {kind: pack, series: 3, capacity: 2 Ah}\n  lead: {"),
            (END, END + "  - (pack plus) > spare > (pack minus)\n"),
        ),
    ),
    "a part in two chains": (1, ((END, END + "  - (load) > hold-up\n"),)),
    "two parts in the middle of two chains": (
        2,
        ((END, END + "  - (x) > mains diode > (y) > lead > (z)\n"),),
    ),
    "two nodes side by side, one of them lonely": (1, (("(bus) > hold-up", "(bus) > (buss) > hold-up"),)),
    "a relay without its terminal": (1, (("> relay.back", "> relay"),)),
    "two nodes side by side": (1, ((END, END + "  - (bus) > (inlet)\n"),)),
    "two nodes on one terminal": (1, ((END, END + "  - (load) > relay.common\n"),)),
    "a board without a pack": (
        1,
        (
            (
                "  - (pack plus) > pack > (pack minus) > board > (return)",
                "  - (pack plus) > hold-up > (pack minus) > board > (return)",
            ),
            ("  - (bus) > hold-up\n", ""),
            ("  pack: {cells: high drain cell 2.5 Ah, series: 3, parallel: 4}\n", ""),
        ),
    ),
    "need at no node": (1, (("at: load", "at: laod"),)),
    "faults of the file and of the drawing together": (
        3,
        (("length: 2 m", "length: 2"), ("at: load", "at: roof"), ("  - (bus) > hold-up\n", "")),
    ),
    "an unknown part hides no other fault": (
        2,
        (("brick: 19 V 3.4 A adapter", "brick: sundial"), ("  - (bus) > hold-up\n", "")),
    ),
    "a misspelt part is not also unjoined": (1, (("(bus) > hold-up", "(bus) > holdup"),)),
    "two misspelt words": (2, (("(bus) > hold-up", "(bus) > holdup"), ("at: load", "at: loud"))),
}


def changed(case: str) -> str:
    text = GOOD
    for old, new in CHANGED[case][1]:
        assert old in text, f"{old!r} is not in the good file"
        text = text.replace(old, new, 1)
    return text


def faults(text: str) -> BuildError:
    with pytest.raises(BuildError) as caught:
        settle(examine_text(text, kinds=KINDS, shelf=SHELF), kinds=KINDS)
    return caught.value


def test_every_structural_fault_word_for_word():
    golden.check(GOLDEN, {case: str(faults(changed(case))) for case in CHANGED})


@pytest.mark.parametrize("case", CHANGED)
def test_no_fault_brings_others_with_it(case):
    error = faults(changed(case))
    assert len(error.faults) == CHANGED[case][0], str(error)


def test_load_raises_for_a_missing_file(tmp_path):
    with pytest.raises(BuildError, match="there is no such file"):
        load(tmp_path / "build.yaml", kinds=KINDS, shelf=SHELF)
