"""The pack file: read again it says what was grouped, and new groups leave everything else as it was."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from tideover.cells.groups_file import Pack, place_for_old, read_old, rewritten, written
from tideover.cells.stock import StockCell
from tideover.design.messages import BuildError
from tideover.design.source import parse, plain
from tideover.quantity import parse as quantity

CELL = StockCell("A1", model="reed 18650", chemistry="NMC", age="2019 scrap", capacity=7956.0, method="DC 1 s")
OLD = """\
# mine
tideover pack: 1
seed: 7   # the lucky one

# how it is laid out
strip:
  rows: 2   # of two
groups:
  - [A1, A2]
cells:
  A1: {capacity: 1 Ah ±1 %, welded: "twice # at least"}   # scratched
  A2: {capacity: 1 Ah ±1 %}
# for the replicator
notes: "by hand: see #3"
"""


def cells(*ids):
    return [replace(CELL, id=id_, resistance=0.061) for id_ in ids]


def tree(text):
    root, faults = parse(text, "pack.yaml")
    assert not faults
    return plain(root)


def test_a_new_file_in_full():
    pack = Pack([cells("A1", "12"), [CELL]], 1, "Tide gauge: spare", "spool-cell.yaml")
    assert written(pack) == (
        "# Cells grouped by capacity and conductance; values are those of the inventory.\n"
        "# ± is two standard uncertainties.\n"
        "tideover pack: 1\n"
        'title: "Tide gauge: spare"\n'
        "cell: spool-cell.yaml\n"
        "seed: 1\n"
        "groups:\n"
        '  - [A1, "12"]\n'
        "  - [A1]\n"
        "cells:\n"
        "  A1: {capacity: 2.21 Ah ±2 %, resistance: 61 mΩ ±6 %, method: DC 1 s, model: reed 18650, age: 2019 scrap, "
        "chemistry: NMC}\n"
        '  "12": {capacity: 2.21 Ah ±2 %, resistance: 61 mΩ ±6 %, method: DC 1 s, model: reed 18650, age: 2019 scrap, '
        "chemistry: NMC}\n"
        "  A1: {capacity: 2.21 Ah ±2 %, model: reed 18650, age: 2019 scrap, chemistry: NMC}\n"
    )


words = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zl", "Zp", "Co", "Cn"]), max_size=20)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(words.map(str.strip).filter(bool), min_size=1, max_size=30, unique=True),
    words.map(str.strip),
    st.floats(40.0, 3e6),
    st.floats(3e-5, 90.0),
    st.floats(0.0, 0.3),
)
@pytest.mark.filterwarnings("ignore")
def test_two_readers_find_in_it_what_was_written(ids, word, capacity, resistance, spread):
    one = replace(CELL, model=word, age=word, capacity=capacity, resistance=resistance, capacity_spread=spread)
    group = [replace(one, id=id_) for id_ in ids]
    text = written(Pack([group], 3, word))
    for read in (tree(text), YAML(typ="safe").load(text)):
        assert read["groups"] == [ids] and list(read["cells"]) == ids
        assert read.get("title", "") == word and str(read["seed"]) == "3"
        for cell in read["cells"].values():
            assert cell.get("model", "") == word and cell["chemistry"] == "NMC"
            said = quantity(cell["capacity"], "C")
            assert said.nominal == pytest.approx(capacity, rel=1e-4)
            assert said.high - said.nominal == pytest.approx(2.0 * spread * capacity, rel=0.06, abs=4e-6 * capacity)
            assert quantity(cell["resistance"], "ohm").nominal == pytest.approx(resistance, rel=1e-3)


def test_new_groups_leave_other_keys_and_remarks_to_the_letter(tmp_path):
    file = tmp_path / "pack.yaml"
    file.write_text(OLD, encoding="utf-8")
    old = read_old(file)
    assert old.ids == {"A1", "A2"} and old.others == ("strip", "notes")
    assert rewritten(old, Pack([cells("A1"), cells("A3")], 2, "Spare")) == (
        "# mine\n"
        "tideover pack: 1\n"
        "seed: 2   # the lucky one\n"
        "\n"
        "# how it is laid out\n"
        "strip:\n"
        "  rows: 2   # of two\n"
        "groups:\n"
        "  - [A1]\n"
        "  - [A3]\n"
        "cells:\n"
        "  A1: {capacity: 2.21 Ah ±2 %, resistance: 61 mΩ ±6 %, method: DC 1 s, model: reed 18650, age: 2019 scrap, "
        'chemistry: NMC, welded: "twice # at least"}   # scratched\n'
        "  A3: {capacity: 2.21 Ah ±2 %, resistance: 61 mΩ ±6 %, method: DC 1 s, model: reed 18650, age: 2019 scrap, "
        "chemistry: NMC}\n"
        "# for the replicator\n"
        'notes: "by hand: see #3"\n'
        "title: Spare\n"
    )


def test_line_ends_stay_as_they_are(tmp_path):
    file = tmp_path / "pack.yaml"
    file.write_bytes(OLD.replace("\n", "\r\n").encode())
    text = rewritten(read_old(file), Pack([cells("A1")], 2))
    assert text.count("\n") == text.count("\r\n") and tree(text)["groups"] == [["A1"]]


@pytest.mark.parametrize(
    "text", ["", "tideover: 1\n", "tideover pack: 2\n", "tideover pack: [\n", "- a\n", "id,capacity\n"]
)
def test_what_is_no_pack_file_is_refused(tmp_path, text):
    file = tmp_path / "pack.yaml"
    file.write_text(text)
    with pytest.raises(BuildError, match=r"pack\.yaml"):
        read_old(file)


def test_the_file_as_it_was_gets_a_name_of_its_own(tmp_path):
    file = tmp_path / "pack.yaml"
    assert place_for_old(file).name == "pack.before-1.yaml"
    (tmp_path / "pack.before-1.yaml").write_text("")
    assert place_for_old(file).name == "pack.before-2.yaml"


def test_long_groups_are_broken():
    text = written(Pack([cells(*(f"cell {k}" for k in range(40)))], 1))
    listed = text[text.index("groups") : text.index("cells:")].splitlines()
    assert len(listed) > 4 and max(map(len, listed)) <= 100
    assert len(tree(text)["groups"][0]) == 40
