"""The command that judges by published tables: it cannot say "met" of what was not judged or is out of bounds."""

from __future__ import annotations

from pathlib import Path

import pytest

from published.__main__ import main
from published.judge import Check, Verdict


def test_without_the_tables_nothing_is_met(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([str(tmp_path)]) == 1
    said = capsys.readouterr().out
    assert "NOT JUDGED" in said and "| met |" not in said.split("\n", 1)[1]


def test_two_folders_are_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["a", "b"]) == 1 and "FOLDER" in capsys.readouterr().err


@pytest.mark.parametrize(
    "verdict",
    [
        Verdict("late", 0.02, 0.01, 0.01, 0.04),
        Verdict("early", -0.02, 0.01, 0.01, 0.04),
        Verdict("far", 0.0, 0.05, 0.01, 0.04),
        Verdict("no number", float("nan"), 0.01, 0.01, 0.04),
        Verdict("not measured", None, 0.01, 0.01, 0.04),
        Verdict("a check", 0.0, 0.01, 0.01, 0.04, (Check("fails", False),)),
        Verdict("nothing claimed", 0.0, 0.01),
    ],
    ids=lambda v: v.record,
)
def test_what_is_out_of_bounds_is_not_met(verdict: Verdict) -> None:
    assert not verdict.met and verdict.cells[-1] == "NOT MET"


def test_what_is_within_is_met() -> None:
    assert Verdict("fine", -0.005, 0.03, 0.01, 0.04, (Check("holds", True),)).met
