"""``tideover cells draw``: files, and what is refused."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET

import pytest
from draw.packs import text

from tideover.cli.program import run


@pytest.fixture
def loft(tmp_path):
    file = tmp_path / "loft.yaml"
    file.write_text(text(3, 4), encoding="utf-8")
    return file


def test_one_sheet_is_one_file(loft, capsys):
    out = loft.with_name("loft.svg")
    assert run(["cells", "draw", str(loft), "--out", str(out)]) == 0
    assert ET.parse(out).getroot().get("width") == "297mm"
    said = capsys.readouterr().out
    assert "1 sheet of A4, 1:1. 3S4P, 12 cells." in said and "To cut: 6 × 68 mm, 8 × 28 mm." in said


def test_several_sheets_are_several_drawings_or_one_page(tmp_path, capsys):
    file = tmp_path / "large.yaml"
    file.write_text(text(14, 20), encoding="utf-8")
    assert run(["cells", "draw", str(file), "--out", str(tmp_path / "large.svg"), "--paper", "letter"]) == 0
    assert sorted(p.name for p in tmp_path.glob("*.svg")) == ["large-1.svg", "large-2.svg"]
    assert "--full-size" in capsys.readouterr().out
    page = tmp_path / "large.html"
    assert run(["cells", "draw", str(file), "--out", str(page), "--side", "top", "--full-size"]) == 0
    assert page.read_text(encoding="utf-8").count("<svg") > 1 and "--full-size" not in capsys.readouterr().out


def test_a_pack_without_strips_is_a_table_and_it_is_said(tmp_path, capsys):
    file = tmp_path / "loft.yaml"
    file.write_text(text(2, 2, ""), encoding="utf-8")
    assert run(["cells", "draw", str(file), "--out", str(tmp_path / "loft.html")]) == 0
    assert "not to scale" in capsys.readouterr().out


@pytest.mark.parametrize("out", ["loft.pdf", "loft", "loft.yaml"])
def test_other_endings_are_refused(loft, capsys, out):
    before = loft.read_bytes()
    assert run(["cells", "draw", str(loft), "--out", str(loft.with_name(out))]) == 2
    assert "neither an .svg nor an .html" in capsys.readouterr().err and loft.read_bytes() == before


def test_the_pack_itself_is_never_replaced(loft, capsys):
    odd = loft.rename(loft.with_name("loft.svg"))
    before = odd.read_bytes()
    assert run(["cells", "draw", str(odd), "--out", str(odd)]) == 2
    assert "must not replace" in capsys.readouterr().err and odd.read_bytes() == before


@pytest.mark.parametrize("name, said", [("none.yaml", "no such file"), (".", "a folder"), ("a\0b", "no such file")])
def test_what_is_no_pack_file_is_refused(tmp_path, capsys, name, said):
    assert run(["cells", "draw", str(tmp_path / name), "--out", str(tmp_path / "x.svg")]) == 2
    assert said in capsys.readouterr().err


def test_faults_of_the_file_are_told_with_their_place(loft, capsys):
    loft.write_text(text(2, 2).replace("nickel strip", "tin strip"), encoding="utf-8")
    assert run(["cells", "draw", str(loft), "--out", str(loft.with_name("x.svg"))]) == 2
    err = capsys.readouterr().err
    assert "tin strip" in err and "line" in err and not loft.with_name("x.svg").exists()


def test_a_folder_that_does_not_exist_is_told(loft, capsys):
    assert run(["cells", "draw", str(loft), "--out", str(loft.with_name("no") / "x.svg")]) == 2
    assert "cannot be written" in capsys.readouterr().err


def test_shares_are_those_that_cells_pack_tells(loft, capsys):
    out = loft.with_name("loft.svg")
    assert run(["cells", "draw", str(loft), "--out", str(out), "--shares", "--current", "4 A"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Hottest strip:" in said and "in a discharge with 4 A" in said
    drawn = [e.text for e in ET.parse(out).iter() if "share" in (e.get("class") or "").split()]
    assert run(["cells", "pack", str(loft), "--current", "4 A", "--json"]) == 0
    first = json.loads(capsys.readouterr().out)["cases"][0]["cells"]
    assert sorted(drawn) == sorted(2 * [f"{100.0 * c['most']:.0f} %" for c in first])


def test_a_load_without_shares_and_shares_without_strips_are_refused(loft, capsys):
    out = str(loft.with_name("loft.svg"))
    assert run(["cells", "draw", str(loft), "--out", out, "--power", "4 W"]) == 2
    assert "Add: --shares" in capsys.readouterr().err
    loft.write_text(text(3, 4, ""), encoding="utf-8")
    assert run(["cells", "draw", str(loft), "--out", out, "--shares"]) == 2
    assert "how its cells are joined" in capsys.readouterr().err
