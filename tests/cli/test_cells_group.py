"""``tideover cells group``: the report, the refusals, the pack file and the marks in the inventory."""

from __future__ import annotations

import csv
import json
import os
import re
from pathlib import Path

import golden
import pytest

from cli.test_sheet import told
from tideover.cells.inventory import read_inventory
from tideover.cli.program import run
from tideover.design.source import parse, plain

GOLDEN = Path(__file__).with_name("cells_group.txt")
PAGE = Path(__file__).parents[2] / "docs" / "grouping.md"
EXAMPLE = re.compile(r"<!-- grouping inventory -->\n```csv\n(.*?)```", re.DOTALL)
RUN = re.compile(r"(<!-- run -->\n```text\n\$ (tideover [^\n]*)\n).*?(```\n)", re.DOTALL)
TABLE = """\
id,model,chemistry,age,capacity [Ah],resistance [mΩ],method,status,reason
A1,reed,NMC,2019,2.10,61,DC 1 s,good,
A2,reed,NMC,2019,2.31,58,DC 1 s,good,
A3,reed,NMC,2019,2.24,60,DC 1 s,good,
A4,reed,NMC,2019,2.02,66,DC 1 s,good,
A5,reed,NMC,2019,2.17,62,DC 1 s,new,
A6,reed,NMC,2019,2.28,57,DC 1 s,good,
A7,reed,NMC,2019,1.80,70,DC 1 s,good,
A8,reed,NMC,2019,2.40,95,DC 1 s,rejected,falls steadily at rest
A9,reed,NMC,2019,,59,DC 1 s,good,
B1,sedge,NMC,2022,2.55,40,DC 1 s,good,
B2,sedge,NMC,2022,2.50,41,DC 1 s,good,
B3,sedge,NMC,2022,2.50,33,AC 1 kHz,good,
C1,rush,LFP,2022,1.50,20,,good,
"""


@pytest.fixture(autouse=True)
def shed(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("cells").mkdir()
    Path("cells/inventory.csv").write_text(TABLE, encoding="utf-8")


def group(*arguments):
    return ("cells", "group", *arguments)


THREE_BY_TWO = group("--series", "3", "--parallel", "2")


def pack(name="cells/pack.yaml"):
    root, faults = parse(Path(name).read_text(encoding="utf-8"), name)
    assert not faults
    return plain(root)


def status(*ids):
    return [cell.status for cell in read_inventory(Path("cells/inventory.csv")) if cell.id in ids]


def test_whole_outputs(capsys):
    Path("cells/note.yaml").write_text("title: mine\n")
    out = ("--out", "cells/pack.yaml")
    golden.check(
        GOLDEN,
        {
            "three groups of two": told(capsys, *THREE_BY_TWO),
            "capacity alone": told(capsys, *THREE_BY_TWO, "--ignore-resistance"),
            "one cell, written": told(capsys, *group("--series", "1", "--parallel", "1", *out)),
            "groups of two models": told(
                capsys, *group("--series", "4", "--parallel", "2", "--mix", "model", "--mix", "age")
            ),
            "too many": told(capsys, *group("--series", "4", "--parallel", "2")),
            "none of that model": told(capsys, *group("--series", "1", "--parallel", "2", "--model", "red")),
            "none by that method": told(capsys, *THREE_BY_TWO, "--method", "DC 10 s"),
            "the file is there": told(capsys, *THREE_BY_TWO, *out),
            "a file that is no pack": told(capsys, *THREE_BY_TWO, "--out", "cells/note.yaml", "--replace"),
            "a file of another kind": told(capsys, *THREE_BY_TWO, "--out", "cells/inventory.csv", "--replace"),
            "a folder for a file": told(capsys, *THREE_BY_TWO, "--out", "cells"),
            "a folder that is not there": told(capsys, *THREE_BY_TWO, "--out", "far/pack.yaml"),
            "a cell that is none": told(capsys, *THREE_BY_TWO, "--out", "cells/new.yaml", "--cell", "reed"),
            "a cell file that is not there": told(capsys, *THREE_BY_TWO, "--out", "cells/new.yaml", "--cell", "r.yaml"),
            "marks without a file": told(capsys, *THREE_BY_TWO, "--use"),
            "no inventory": told(capsys, *THREE_BY_TWO, "--in", "far"),
            "no groups": told(capsys, *group("--series", "0", "--parallel", "2")),
            "a pack beyond reason": told(capsys, *group("--series", "500", "--parallel", "50")),
        },
    )
    assert Path("cells/inventory.csv").read_text(encoding="utf-8") == TABLE
    assert Path("cells/note.yaml").read_text() == "title: mine\n"
    assert sorted(f.name for f in Path("cells").iterdir()) == ["inventory.csv", "note.yaml", "pack.yaml"]


def test_json_has_the_same_groups_and_the_figures(capsys):
    assert run([*THREE_BY_TWO, "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert sorted(c for g in said["groups"] for c in g["cells"]) == ["A1", "A2", "A3", "A4", "A5", "A6"]
    assert said["usable"] == min(g["capacity"] for g in said["groups"]) <= said["matched"] <= said["bound"]
    assert sum(g["capacity"] for g in said["groups"]) == pytest.approx(13.12 * 3600)
    assert {c["cell"]: c["why"] for c in said["out"]}["A8"] == "rejected: falls steadily at rest"
    assert (said["series"], said["parallel"], said["method"], said["file"]) == (3, 2, "DC 1 s", None)


def test_the_order_of_the_inventory_and_the_folder_named_do_not_matter(capsys):
    run([*THREE_BY_TWO])
    first = capsys.readouterr().out
    head, *rows = TABLE.splitlines(keepends=True)
    Path("cells/inventory.csv").write_text("".join([head, *reversed(rows)]), encoding="utf-8")
    for folder in (".", "cells"):
        run([*THREE_BY_TWO, "--in", folder])
        assert capsys.readouterr().out == first


def test_groups_too_unlike_fail(capsys):
    Path("cells/inventory.csv").write_text(
        "id,chemistry,capacity [Ah],resistance [mΩ],method\nA,NMC,2.0,60,DC 1 s\nB,NMC,2.5,30,DC 1 s\n"
    )
    assert run([*group("--series", "2", "--parallel", "1")]) == 1
    said = capsys.readouterr().out
    assert "▼ fails  spread" in said and "◆ tight  resistance" in said


def test_the_pack_file_and_the_marks(capsys):
    out = ("--out", "cells/pack.yaml")
    assert run([*THREE_BY_TWO, *out, "--use", "--title", "Tide gauge", "--cell", "nmc 18650 2.6ah"]) == 0
    first = pack()
    groups = [c for g in first["groups"] for c in g]
    assert [len(g) for g in first["groups"]] == [2, 2, 2] and list(first["cells"]) == groups
    assert first["title"] == "Tide gauge"
    assert first["cells"]["A4"] == {
        "capacity": "2.02 Ah ±2 %", "resistance": "66 mΩ ±6 %", "method": "DC 1 s",
        "model": "reed", "age": "2019", "chemistry": "NMC",
    }  # fmt: skip
    assert status(*groups) == ["used"] * 6 and status("A7", "B1") == ["good", "good"]
    # They cannot be used twice, but their own pack may be grouped anew; what was added to it stays.
    assert run([*THREE_BY_TWO]) == 2
    with Path("cells/pack.yaml").open("a", encoding="utf-8") as stream:
        stream.write("strip: {rows: 2}  # measured\n")
    before = Path("cells/pack.yaml").read_text(encoding="utf-8")
    capsys.readouterr()
    assert run([*group("--series", "2", "--parallel", "2", *out), "--replace", "--use"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Kept in it: strip. See whether that still fits these groups." in said
    assert "2 that left the pack are new again" in said
    assert "strip: {rows: 2}  # measured\n" in Path("cells/pack.yaml").read_text(encoding="utf-8")
    assert Path("cells/pack.before-1.yaml").read_text(encoding="utf-8") == before
    assert status("A2", "A3", "A5", "A6") == ["used"] * 4 and status("A1", "A4") == ["new"] * 2
    assert pack()["title"] == "Tide gauge" and pack()["cell"] == first["cell"]
    with open("cells/inventory.log.csv", newline="", encoding="utf-8") as stream:
        assert {row["command"] for row in csv.DictReader(stream)} == {"tideover cells group --out cells/pack.yaml"}


def test_a_fault_in_the_inventory_is_told_with_its_place(capsys):
    Path("cells/inventory.csv").write_text(TABLE.replace("2.31", "2.31 V"), encoding="utf-8")
    assert run([*THREE_BY_TWO, "--out", "cells/pack.yaml"]) == 2
    assert capsys.readouterr().err.startswith("cells/inventory.csv, line 3, column 18: cell A2, capacity:")
    assert not Path("cells/pack.yaml").exists()


def test_the_example_of_the_manual_is_true(capsys):
    page = PAGE.read_text(encoding="utf-8")
    example, command = EXAMPLE.search(page), RUN.search(page)
    Path("cells/inventory.csv").write_text(example[1], encoding="utf-8")
    assert run(command[2].split()[1:]) == 0
    said = capsys.readouterr().out
    if os.environ.get("TIDEOVER_RENEW"):
        page = RUN.sub(lambda found: found[1] + said + found[3], page)
        PAGE.write_text(page, encoding="utf-8")
    assert f"{command[1]}{said}{command[3]}" in page
    head = "\n".join([f"$ {command[2]}", said.splitlines()[0]])
    assert head in (PAGE.parent / "command-line.md").read_text(encoding="utf-8")
    for group in pack()["groups"]:
        assert f"  - [{', '.join(group)}]\n" in page, group
