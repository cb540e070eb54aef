"""Every complaint about a build file, word for word; the expected texts stand in faults.txt beside it."""

from __future__ import annotations

from pathlib import Path

import golden
import pytest

from design.fakes import GOOD, KINDS, SHELF
from tideover.design import BuildError, examine, examine_text

GOLDEN = Path(__file__).with_name("faults.txt")

# Name of the case: (text in the good file, text in its place), one or more.
CHANGED: dict[str, tuple[tuple[str, str], ...]] = {
    "a number without a unit": (("capacitance: 2.2 mF ±20 %", "capacitance: 2.2"),),
    "the unit of something else": (("length: 2 m", "length: 2 kg"),),
    "a unit in the wrong case": (("set voltage: 12.05 V ±1 %", "set voltage: 12.05 v"),),
    "a unit nobody knows": (("section: 0.75 mm²", "section: 0.75 sqmm"),),
    "a decimal comma": (("set voltage: 12.05 V ±1 %", 'set voltage: "12,05 V"'),),
    "no value": (("capacitance: 2.2 mF ±20 %", "capacitance: "),),
    "a tolerance without a unit": (("2.2 mF ±20 %", "2.2 mF ±20"),),
    "limits of a range in the wrong order": (("window: 11.4 V to 12.6 V", "window: 12.6 V to 11.4 V"),),
    "a negative length": (("length: 2 m", "length: -2 m"),),
    "an absurd capacity": (("parallel: 4}", "parallel: 4, capacity: 2500 Ah}"),),
    "a tolerance in another unit": (("on: 9.6 V}", "on: 9.6 V}, efficiency: 99 % ±1 V"),),
    "a percentage of a percentage": (("on: 9.6 V}", "on: 9.6 V}, efficiency: 90 % ±2 %"),),
    "an efficiency above one": (("on: 9.6 V}", "on: 9.6 V}, efficiency: 110 %"),),
    "a tolerance beyond the limit": (("on: 9.6 V}", "on: 9.6 V}, efficiency: 0.99 ±5 %"),),
    "half a cell": (("series: 3", "series: 3.5"),),
    "too many cells": (("series: 3", "series: 300"),),
    "a word that is no choice": (("law: current", "law: curent"),),
    "an unknown key": (("length: 2 m", "lenght: 2 m"),),
    "half a key, told by its unit": (("peak: 21.6 W for 40 ms every 10 s", "duration: 40 ms"),),
    "a key of nothing alike": (("length: 2 m}", "length: 2 m, colour: red}"),),
    "an unknown key inside a group": (("{off: 9.0 V, on: 9.6 V}", "{of: 9.0 V, on: 9.6 V}"),),
    "a group where one value is expected": (("power: 13.2 W", "power: {mean: 13.2 W}"),),
    "a list where one value is expected": (("power: 13.2 W", "power: [13.2 W, 14 W]"),),
    "a missing value": ((", length: 2 m}", "}"),),
    "an unknown kind": (("kind: cable", "kind: cabel"),),
    "an unknown shelf name": (("brick: 19 V 3.4 A adapter", "brick: 19 V 3.5 A adaptor"),),
    "a shelf name of nothing alike": (("brick: 19 V 3.4 A adapter", "brick: sundial"),),
    "an unknown cell": (("high drain cell 2.5 Ah", "high drain cell 2.6 Ah"),),
    "no cell but an adapter": (("cells: high drain cell 2.5 Ah", "cells: 19 V 3.4 A adapter"),),
    "a cell that is no part": (("brick: 19 V 3.4 A adapter", "brick: high drain cell 2.5 Ah"),),
    "a kind in place of a part": (("mains diode: {kind: diode}", "mains diode: diode"),),
    "a part without a kind": (("mains diode: {kind: diode}", "mains diode: {drop: 0.4 V}"),),
    "two kinds": (("{from: buck", "{kind: converter, from: buck"),),
    "a box as a part": (("mains diode: {kind: diode}", "mains diode: {kind: box}"),),
    "a part as the box": (("box: {inside", "box: {from: 19 V 3.4 A adapter, inside"),),
    "thresholds that contradict": (("{off: 9.0 V, on: 9.6 V}", "{off: 9.6 V, on: 9.0 V}"),),
    "a part described twice": (("  lead: {kind", "  Brick: {kind: diode}\n  lead: {kind"),),
    "a key that stands twice": (("length: 2 m", "length: 2 m, length: 3 m"),),
    "a value said twice in two ways": (("lockout: {off: 9.0 V", "lockout off: 9 V, lockout: {off: 9.0 V"),),
    "a part called box": (("  lead: {kind", "  box: {kind: diode}\n  lead: {kind"),),
    "a part with an arrow in its name": (("  lead: {kind", '  "a > b": {kind: diode}\n  lead: {kind'),),
    "a board that watches a diode": (("cut-off: 2.7 V", "cut-off: 2.7 V, watches: mains diode"),),
    "a peak without a duration": (("21.6 W for 40 ms every 10 s", "21.6 W"),),
    "a peak whose duration is no time": (("for 40 ms every", "for 40 mV every"),),
    "two lengths of three": (("200 × 150 × 80 mm", "200 × 150 mm"),),
    "an unknown material": (("ABS 2.5 mm", "marble 25 mm"),),
    "vents without areas": (("6 cm² low and 6 cm² high", "a few"),),
    "need without window": (("  window: 11.4 V to 12.6 V\n", ""),),
    "a window of one voltage": (("11.4 V to 12.6 V", "12 V"),),
    "a dip without a time": (("10.5 V for 5 ms", "10.5 V"),),
    "a dip inside the window": (("10.5 V for 5 ms", "11.8 V for 5 ms"),),
    "dips in contradiction": (("9 V for 500 us", "9 V for 50 ms"),),
    "a misspelt window": (("  window:", "  windw:"),),
    "an unknown key of need": (("runtime: 8 h", "run time: 8 h"),),
    "a policy nobody knows": (("policy: usual", "policy: stirct"),),
    "an empty at": (("at: load", "at:"),),
    "no parts at all": ((GOOD[GOOD.index("parts:") : GOOD.index("joins:")], ""),),
    "parts as a list": ((GOOD[GOOD.index("parts:") : GOOD.index("joins:")], "parts: [lamp, brick]\n"),),
    "a part as a list": (("mains diode: {kind: diode}", "mains diode: [diode]"),),
    "no box": ((GOOD[GOOD.index("box:") :], ""),),
    "an empty box": ((GOOD[GOOD.index("box:") :], "box:\n"),),
    "an unknown top key": (("title: Choir", "titel: Choir"),),
    "another version": (("tideover: 1", "tideover: 2"),),
    "no version": (("tideover: 1\n", ""),),
    "a join of one name": (("  - (bus) > hold-up\n", "  - hold-up\n"),),
    "a join with nothing between": (("(bus) > hold-up", "(bus) > > hold-up"),),
    "a join with half a bracket": (("(bus) > hold-up", "(bus > hold-up"),),
    "a join to a misspelt part": (("(bus) > hold-up", "(bus) > holdup"),),
    "a node without its brackets": (("(bus) > hold-up", "bus > hold-up"),),
    "a join to a terminal that is none": (("relay.back", "relay.rear"),),
    "a join that is a mapping": (("  - (bus) > hold-up", "  - {from: bus, to: hold-up}"),),
    "a bracket not closed": (("length: 2 m}", "length: 2 m"),),
    "a quote not closed": (("title: Choir", 'title: "Choir'),),
    "a colon too many": (("title: Choir loft", "title: Choir: loft"),),
    "a line out of step": (("  runtime: 8 h", "   runtime: 8 h"),),
    "a percent sign first": (("title: Choir loft lamp", "title: %lamp"),),
    "an indent with tabs": (("  runtime: 8 h\n  recharge", "\truntime: 8 h\n\trecharge"),),
    "an unknown escape": (("title: Choir loft lamp", 'title: "C:\\loft"'),),
    "a control character": (("title: Choir", "title: \x07Choir"),),
    "a control character by escape": (("title: Choir loft lamp", 'title: "a\\0b"'),),
    "a second document": (("parts:", "---\nparts:"),),
    "a tag": (("title: Choir", "title: !!str Choir"),),
    "a merge": (("{kind: diode}", "{<<: {kind: diode}}"),),
    "an alias to nothing": (("{kind: diode}", "*nobody"),),
    "an alias into itself": (("{kind: diode}", "&me {kind: diode, drop: *me}"),),
    "a list as a key": (("{kind: diode}", "{[kind]: diode}"),),
    "many faults at once": (
        ("tideover: 1", "tideover: 3"),
        ("length: 2 m", "length: 2"),
        ("runtime: 8 h", "runtime: 8"),
        ("kind: fuse, rating: 7.5 A", "kind: fuze, rating: 7.5 A"),
        ("(bus) > hold-up", "(bus) > holdup"),
    ),
}


def changed(case: str) -> str:
    text = GOOD
    for old, new in CHANGED[case]:
        assert text.count(old) >= 1, f"{old!r} is not in the good file"
        text = text.replace(old, new, 1)
    return text


def report(text: str) -> str:
    draft = examine_text(text, kinds=KINDS, shelf=SHELF)
    assert draft.faults, "no fault was found"
    return str(BuildError(draft.faults))


def report_of(path: Path | str, shown: str) -> str:
    """Report on a file whose folder is left out, because it differs from run to run."""
    return str(BuildError(examine(path, kinds=KINDS, shelf=SHELF).faults)).replace(shown, "")


def test_every_fault_word_for_word(tmp_path):
    texts = {case: report(changed(case)) for case in CHANGED}
    here = f"{tmp_path}/"
    for name, content in {
        "empty.yaml": b"",
        "blank.yaml": b"\n   \n",
        "comment.yaml": b"# nothing yet\n",
        "list.yaml": b"- a\n- b\n",
        "word.yaml": b"hello\n",
        "utf16.yaml": GOOD.encode("utf-16"),
        "utf16-unmarked.yaml": GOOD.encode("utf-16-le"),
        "latin1.yaml": GOOD.replace("²", "2").encode("latin-1", errors="replace"),
        "large.yaml": b"# a comment\n" * 450_000,
        "laughs.yaml": b"a: &a [x,x,x,x,x,x,x,x,x]\n"
        + b"".join(b"%c: &%c [%s]\n" % (c, c, b",".join([b"*%c" % (c - 1)] * 9)) for c in range(98, 107)),
        "deep.yaml": b"a: " + b"[" * 5000,
    }.items():
        (tmp_path / name).write_bytes(content)
        texts[name] = report_of(tmp_path / name, here)
    (tmp_path / "loft").mkdir()
    texts["a folder"] = report_of(tmp_path / "loft", here)
    (tmp_path / "loft" / "build.yaml").write_text(GOOD)
    texts["a folder with a build in it"] = report_of(tmp_path / "loft", here)
    texts["no file"] = report_of(tmp_path / "nowhere.yaml", here)
    texts["no folder"] = report_of(tmp_path / "empty.yaml" / "build.yaml", here)
    texts["no path"] = report_of("a\0b", here)
    golden.check(GOLDEN, texts)


@pytest.mark.parametrize("case", CHANGED)
def test_each_fault_is_told_alone(case):
    """No follow-on noise: as many faults as were put in."""
    faults = examine_text(changed(case), kinds=KINDS, shelf=SHELF).faults
    assert len(faults) == len(CHANGED[case]), "\n".join(map(str, faults))


def test_every_fault_says_where_it_is():
    for case in CHANGED:
        for fault in examine_text(changed(case), kinds=KINDS, shelf=SHELF).faults:
            assert fault.place.line > 0 or case in ("no version", "no box", "no parts at all"), case
