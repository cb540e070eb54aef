"""``tideover cells pack`` as it is used."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from cells.built import text

from tideover.cli.program import run

DOCS = Path(__file__).parents[2] / "docs"
STRIP = "{along: nickel strip 8 × 0.15 mm, pitch: 20 mm, plus: first, minus: first}"


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "loft.yaml"
    path.write_text(text([[2.4] * 4] * 2, [[60.0, 61.0, 62.0, 90.0]] * 2, STRIP), encoding="utf-8")
    return path


def told(capsys, *words):
    """Exit status, standard output and standard error."""
    status = run(["cells", "pack", *map(str, words)])
    out, err = capsys.readouterr()
    return status, out, err


def test_the_page_has_shares_strips_leads_the_weakest_spot_and_cautions(capsys, file):
    status, out, err = told(capsys, file, "--current", "4A")
    assert (status, err) == (0, "")
    for words in (
        "2 × 4 cells under 4 A",
        "Groups from the plus end",
        "poor welds",
        "Shares over the mean of the group",
        "A01 to A02",
        "Leads at other columns, best first",
        "Rule of thumb",
        "Weakest spot",
        "Cautions",
        "eye protection",
        "Shorted at its leads",
    ):
        assert words in out
    assert max(map(len, out.splitlines())) <= 80
    assert "nan" not in out and "inf" not in out


def test_beyond_a_limit_is_status_one_and_says_what_helps(capsys, file):
    file.write_text(file.read_text().replace("pitch: 20 mm", "pitch: 20 mm, joined: last"), encoding="utf-8")
    status, out, _ = told(capsys, file, "--current", "12A")
    assert status == 1
    assert "A04 to A08" in " ".join(out.split()).partition("Weakest spot (fails")[2]
    assert "joined: every" in out


def test_json_has_the_same_and_no_number_that_it_lacks(capsys, file):
    status, out, _ = told(capsys, file, "--power", "20 W", "--ambient", "25 °C", "--json")
    data = json.loads(out)
    assert (status, data["form"], data["power"], data["current"]) == (0, 1, 20.0, None)
    assert [case["name"] for case in data["cases"]] == ["as described", "poor welds"]
    assert [cell["id"] for cell in data["cases"][0]["cells"]] == [f"A0{k}" for k in range(1, 9)]
    assert data["groups"][0]["capacity"] == pytest.approx(4 * 2.4 * 3600.0)


def test_without_a_load_half_the_capacity_is_taken_and_said(capsys, file):
    _, out, _ = told(capsys, file)
    assert "half its capacity in an hour is taken: 4.8 A" in out


def test_without_strips_it_says_what_to_add(capsys, file):
    file.write_text(file.read_text().partition("strip:")[0], encoding="utf-8")
    status, out, _ = told(capsys, file, "--current", "2 A")
    assert status == 0 and "Its strips are not described" in out and "Leads at" not in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--current", "5"), "a number without a unit"),
        (("--current=-5A",), "which is no load"),
        (("--current", "5A", "--power", "3W"), "not both"),
        (("--power", "3 V"), "--power is"),
        (("--ambient", "300"), "--ambient is"),
        (("--ambient", "900 °C"), "where no pack stands"),
    ],
)
def test_wrong_options_are_refused(capsys, file, words, said):
    status, out, err = told(capsys, file, *words)
    assert (status, out) == (2, "") and said in err


def test_wrong_files_are_refused(capsys, file, tmp_path):
    status, _, err = told(capsys, tmp_path / "nothing.yaml")
    assert status == 2 and "there is no such file" in err
    status, _, err = told(capsys, tmp_path)
    assert status == 2 and "this is a folder" in err
    file.write_text(file.read_text().replace("plus: first", "plus: frist").replace("20 mm", "20"), encoding="utf-8")
    status, _, err = told(capsys, file)
    assert status == 2 and "strip.pitch" in err and "loft.yaml, line" in err
    (tmp_path / "cell.yaml").write_text(
        "tideover cell: 1\nvalues: {chemistry: NMC, capacity: 2 Ah, resistance: 50 mΩ}\n", encoding="utf-8"
    )
    status, _, err = told(capsys, tmp_path / "cell.yaml")
    assert status == 2 and "one kind of cell, not a pack" in err


def test_the_example_of_the_manual_is_true(capsys, tmp_path):
    example = (DOCS / "pack-as-built.md").read_text(encoding="utf-8").partition("```yaml\n")[2].partition("```")[0]
    (tmp_path / "loft.yaml").write_text(example, encoding="utf-8")
    status, out, _ = told(capsys, tmp_path / "loft.yaml", "--power", "25W")
    section = (DOCS / "command-line.md").read_text(encoding="utf-8").partition("## tideover cells pack")[2]
    shown = section.partition("has among others:")[2].partition("```text\n")[2].partition("```")[0]
    assert status == 0 and shown.strip() and shown in out
