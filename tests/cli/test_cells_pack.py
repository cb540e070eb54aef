"""``tideover cells pack``: what it shows is the ladder at the begin, and what it refuses says how to mend it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from cells.built import text

from tideover.cli.program import run

STRIP = "{along: {width: 8 mm, thickness: 0.15 mm, material: nickel}, pitch: 20 mm, weld: 0 mΩ, minus: first}"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "pack.yaml"
    path.write_text(text([[2.5] * 4], [[50.0] * 4], STRIP), encoding="utf-8")
    return path


def test_even_cells_share_by_their_place_and_the_leads_belong_at_opposite_ends(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["cells", "pack", str(file), "--current", "4 A", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    begin = [cell["begin"] for cell in found["cells"]]
    assert begin == sorted(begin, reverse=True) and 1.0 < begin[0] < 1.3
    assert sum(begin) == pytest.approx(4.0)
    best = found["leads"][0]
    assert {best["plus"], best["minus"]} in ({"first", "last"}, {"middle"})
    assert best["largest"] < begin[0]
    assert found["strips"][0]["current"] > 2.5  # next to the leads: all but the first cell's current
    assert found["runtime"] <= found["shared evenly"]
    assert run(["cells", "pack", str(file), "--current", "4 A"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "A01 works hardest" in said and "Leads: plus at the" in said and "eye protection" in said


def test_without_strips_it_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "pack.yaml"
    path.write_text(text([[2.5, 2.2], [2.4, 2.3]], [[50.0, 60.0], [55.0, 52.0]]), encoding="utf-8")
    assert run(["cells", "pack", str(path)]) == 0
    assert "no key strip" in capsys.readouterr().out


@pytest.mark.parametrize("current", ("0 A", "-2 A", "4000 A", "2 V"))
def test_a_current_that_cannot_be_is_refused(current: str, file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["cells", "pack", str(file), "--current", current]) == 2
    caught = capsys.readouterr()
    assert "--current" in caught.err and not caught.out
