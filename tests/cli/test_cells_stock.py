"""``tideover cells add``, ``import``, ``list``, ``screen`` and ``labels``, as a builder meets them."""

from __future__ import annotations

import csv
import json
import os
import re
from pathlib import Path

import golden
import numpy as np
import pytest
from cells.synthetic import make_stock

from cli.test_sheet import told
from tideover.cells.inventory import read_inventory, store
from tideover.cli.cells.add import join_values
from tideover.cli.cells.list import natural
from tideover.cli.program import run

GOLDEN = Path(__file__).with_name("cells_stock.txt")
PAGE = Path(__file__).parents[2] / "docs" / "inventory.md"
TABLE = re.compile(r"<!-- inventory -->\n```csv\n(.*?)```", re.DOTALL)
RUN = re.compile(r"(<!-- run -->\n```text\n\$ (tideover [^\n]*)\n).*?(```\n)", re.DOTALL)
TESTER = """\
Cell;Cap (mAh);IR mOhm;Voltage [V];Date;Slot
B1;2050;71,5;4,181;01.10.2026 18:00;1
A1;2150;70;4,17;02.10.2026 18:00;3
"""
FILE = Path("cells/inventory.csv")
HISTORY = Path("cells/inventory.log.csv")


@pytest.fixture(autouse=True)
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def test_adding_and_importing_as_told(capsys):
    Path("tester.csv").write_text(TESTER, encoding="utf-8")
    Path("notes.txt").write_text("mine\n")
    Path("mine.html").write_text("mine\n")
    method = ("--method", "DC 1 s")
    golden.check(
        GOLDEN,
        {
            "no inventory yet": told(capsys, "cells", "list"),
            "no folder": told(capsys, "cells", "list", "--in", "far"),
            "a new cell, spoken": told(
                capsys,
                *("cells", "add", "A1", "--model", "NMC", "18650", "2.6", "Ah"),
                *("--chemistry", "nmc", "--capacity", "2.1", "Ah"),
            ),
            "further readings": told(
                capsys,
                *("cells", "add", "A1", "--capacity", "2.15Ah", "--resistance", "65mohm", *method),
                *("--rest", "4.182 V at 2026-10-01 18:00"),
            ),
            "the same again": told(capsys, "cells", "add", "A1", "--capacity", "2150 mAh"),
            "an id like another": told(capsys, "cells", "add", "a1", "--arrival", "3.6V"),
            "values that are none": told(
                capsys,
                *("cells", "add", "A2", "--resistance", "65", "--capacity", "2V", "--status", "bad"),
                *("--rest", "4.18 V at 1.10.2026", "--acquired", "3/4/2026", "--model", " "),
            ),
            "an instant with two voltages": told(capsys, "cells", "add", "A1", "--rest", "4.1 V at 2026-10-01T18:00"),
            "rejected without a reason": told(capsys, "cells", "add", "A2", "--status", "rejected"),
            "rejected with one": told(
                capsys, "cells", "add", "A2", "--status", "rejected", "--reason", 'dent, beside "the" ring'
            ),
            "resistances without a method": told(capsys, "cells", "import", "tester.csv"),
            "a method that is none": told(capsys, "cells", "import", "tester.csv", "--method", "DC"),
            "a time that is none": told(capsys, "cells", "import", "tester.csv", "--at", "noon"),
            "columns that are none": told(capsys, "cells", "import", "tester.csv", "--columns", "capasity = Cap"),
            "a conflict": told(capsys, "cells", "import", "tester.csv", *method),
            "replaced": told(
                capsys, "cells", "import", "tester.csv", *method, "--replace", "--each", "chemistry = NMC"
            ),
            "a table that is none": told(capsys, "cells", "import", "notes.txt"),
            "the inventory itself": told(capsys, "cells", "import", str(FILE)),
            "the list": told(capsys, "cells", "list"),
            "the list of one kind": told(capsys, "cells", "list", "--status", "rejected"),
            "a model that is none": told(capsys, "cells", "list", "--model", "blue"),
            "screening what is not there": told(capsys, "cells", "screen", "A9"),
            "a rest that is none": told(capsys, "cells", "screen", "--rested", "24"),
            "labels too small": told(capsys, "cells", "labels", "--size", "12 x 8 mm"),
            "labels of no size": told(capsys, "cells", "labels", "--size", "large"),
            "labels over something else": told(capsys, "cells", "labels", "--out", "mine.html"),
            "labels in another form": told(capsys, "cells", "labels", "--out", "labels.pdf"),
        },
    )
    assert Path("mine.html").read_text() == "mine\n"


CONDITIONS = """\
Cell;Cap (mAh);IR mOhm;Discharge current [A];Cut-off [V];Ambient [°C]
C1;2050;71;1;3,0;21
C2;2150;65;1;3,0;21
D1;2210;70;0,5;2,8;23
D2;2230;70;0,5;2,8;
"""


def test_capacities_at_one_condition_as_told(capsys):
    Path("tester.csv").write_text(CONDITIONS, encoding="utf-8")
    told_of = ("--method", "DC 1 s", "--each", "chemistry = NMC; nameplate = 2.6 Ah")
    golden.check(
        GOLDEN.with_name("cells_conditions.txt"),
        {
            "a table that says how capacities were measured": told(capsys, "cells", "import", "tester.csv", *told_of),
            "at the commonest": told(capsys, "cells", "list"),
            "at another": told(capsys, "cells", "list", "--at", "0.5 A to 2.8 V at 25 °C"),
            "in groups": told(capsys, "cells", "group", "--series", "2", "--parallel", "1", "--out", "cells/pack.yaml"),
            "no current": told(capsys, "cells", "list", "--at", "0 A to 2.8 V"),
            "a cut-off above a full cell": told(capsys, "cells", "screen", "--at", "1 A to 4.3 V"),
            "half a condition": told(capsys, "cells", "list", "--at", "1 A"),
            "of a wrong unit": told(capsys, "cells", "group", "--series", "1", "--parallel", "1", "--at", "1 V to 3 V"),
            "through no cell": told(capsys, "cells", "list", "--through", "sundial"),
            "values that are none": told(
                capsys, "cells", "add", "D1", "--cut-off", "30V", "--discharge-current", "0A", "--ambient", "3V"
            ),
            "measured again": told(capsys, "cells", "add", "D1", "--capacity", "2.3Ah"),
        },
    )
    assert "cells:  # capacities at 1 A to 3 V at 21 °C" in Path("cells/pack.yaml").read_text(encoding="utf-8")
    assert read_inventory(FILE)[0].capacity == 2.05 * 3600.0  # the inventory keeps what was measured


def test_what_was_refused_changed_nothing(capsys):
    run(["cells", "add", "A1", "--capacity", "2.1Ah"])
    before = FILE.read_bytes(), HISTORY.read_bytes()
    for wrong in (
        ["add", "A1", "--resistance", "65mohm"],
        ["add", "a1", "--capacity", "2Ah"],
        ["add", "A2", "--capacity", "2V"],
        ["add", "A2", "--status", "rejected"],
        ["import", "none.csv"],
    ):
        assert run(["cells", *wrong]) == 2
    assert (FILE.read_bytes(), HISTORY.read_bytes()) == before
    assert not list(FILE.parent.glob(".*"))


def test_a_refused_first_cell_leaves_no_folder():
    assert run(["cells", "add", "A2", "--status", "rejected"]) == 2
    assert not FILE.parent.exists()


def test_a_rest_voltage_without_a_time_is_now(capsys):
    assert run(["cells", "add", "A1", "--rest", "4.18V"]) == 0
    ((when, volts),) = read_inventory(FILE)[0].rests
    assert volts == 4.18 and f"{when:%Y-%m-%dT%H:%M} 4.18 V added" in capsys.readouterr().out


def test_notes_are_added_to_those_there():
    run(["cells", "add", "A1", "--notes", "second box"])
    run(["cells", "add", "A1", "--notes", "a scratch"])
    assert read_inventory(FILE)[0].notes == "second box; a scratch"


def test_screening_writes_only_when_told_and_tells_by_its_status(capsys):
    cells, truth = make_stock(np.random.default_rng(3), n=60)
    FILE.parent.mkdir()
    store(FILE, lambda _: cells, "test")
    before = FILE.read_bytes()
    assert run(["cells", "screen"]) == 1
    assert FILE.read_bytes() == before
    assert "Nothing was changed; 60 statuses would change: --apply." in capsys.readouterr().out
    assert run(["cells", "screen", "S001", "--apply"]) in (0, 1)
    assert sum(cell.status != "new" for cell in read_inventory(FILE)) == 1
    run(["cells", "screen", "--apply"])
    now = {cell.id: cell for cell in read_inventory(FILE)}
    planted = truth.leaking | truth.worn
    assert {name for name, cell in now.items() if cell.status == "rejected"} == planted
    assert all(now[name].reason.startswith("screened: ") for name in planted)
    capsys.readouterr()
    run(["cells", "screen", "--apply"])
    assert "0 cells changed" in capsys.readouterr().out
    told = list(csv.reader(HISTORY.open(encoding="utf-8")))
    assert [row[2:] for row in told if row[1] == "S001" and "apply" in row[5]] == [
        ["status", "new", now["S001"].status, "tideover cells screen --apply"],
    ]


def test_what_is_written_for_other_programs(capsys):
    cells, _ = make_stock(np.random.default_rng(3), n=20)
    FILE.parent.mkdir()
    store(FILE, lambda _: cells, "test")
    assert run(["cells", "list", "--json", "--sort", "capacity"]) == 0
    data = json.loads(capsys.readouterr().out)
    sizes = [cell["capacity"] for cell in data["cells"]]
    assert sizes == sorted(sizes, reverse=True) and data["cohorts"][0]["n"] == 20
    assert data["cells"][0]["rests"][0].keys() == {"at", "volts"}
    run(["cells", "screen", "--json"])
    first = json.loads(capsys.readouterr().out)["cells"][0]
    assert first["verdict"] in ("good", "rejected", "quarantine", "open")
    assert {j["of"] for j in first["judgements"]} == {
        "arrival",
        "heating",
        "capacity",
        "resistance",
        "self-discharge",
    }
    assert first["self-discharge"]["low"] <= first["self-discharge"]["rate"] <= first["self-discharge"]["high"]


def test_labels_are_written_and_renewed(capsys):
    cells, _ = make_stock(np.random.default_rng(3), n=50)
    FILE.parent.mkdir()
    store(FILE, lambda _: cells, "test")
    for _ in range(2):
        assert run(["cells", "labels", "--skip", "5"]) == 0
    page = Path("labels.html").read_text(encoding="utf-8")
    assert page.count("<svg") == 2 and page.count("<path") == 50
    assert run(["cells", "labels", "S001", "S002", "--size", "38 x 21 mm", "--paper", "letter", "--out", "l.svg"]) == 0
    assert Path("l.svg").read_text(encoding="utf-8").count("<path") == 2
    assert run(["cells", "labels", "--rows", "2", "--out", "l.svg"]) == 0
    assert len(list(Path().glob("l-*.svg"))) == 7


def test_words_after_an_option_are_one_value_only_where_that_is_certain():
    assert join_values(["A1", "--rest", "4.1", "V", "at", "2026-10-01", "18:00", "--notes", "x"]) == [
        "A1",
        "--rest",
        "4.1 V at 2026-10-01 18:00",
        "--notes",
        "x",
    ]
    assert join_values(["--capacity", "2Ah", "A1"]) == ["--capacity", "2Ah", "A1"]
    assert join_values(["A1", "B2"]) == ["A1", "B2"]
    assert join_values([]) == []


def test_ids_are_sorted_as_people_count():
    assert sorted(["A10", "A9", "b1", "7", "A"], key=natural) == ["7", "A", "A9", "A10", "b1"]


def test_the_page_about_the_inventory_shows_what_is_said(capsys):
    FILE.parent.mkdir()
    page = PAGE.read_text(encoding="utf-8")
    FILE.write_text(TABLE.search(page)[1], encoding="utf-8")

    def said(found):
        run(found[2].split()[1:])
        return f"{found[1]}{capsys.readouterr().out}{found[3]}"

    renewed = RUN.sub(said, page)
    if os.environ.get("TIDEOVER_RENEW"):
        PAGE.write_text(renewed, encoding="utf-8")
    assert RUN.search(page)
    assert renewed == PAGE.read_text(encoding="utf-8")
