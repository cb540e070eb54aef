"""``tideover sheet``, with answers made up: what is written where, and the exit statuses."""

from __future__ import annotations

import json
from pathlib import Path

import golden
import pytest
from render.samples import ANSWERS, ENDURANCE, OUTAGE, STANDING, TIGHT

from cli.samples import SMALL, answer_with
from tideover.cli.program import run

GOLDEN = Path(__file__).with_name("sheets.txt")


@pytest.fixture
def build(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "lamp").mkdir()
    (tmp_path / "lamp" / "build.yaml").write_text(SMALL, encoding="utf-8")
    return "lamp"


def told(capsys, *arguments):
    """Exit status, standard output and standard error as one text."""
    status = run(arguments)
    out, err = capsys.readouterr()
    return f"$ tideover {' '.join(arguments)}\n{out}{'--- standard error' if err else ''}\n{err}exit status {status}"


def test_whole_outputs(build, capsys, monkeypatch):
    answer_with(monkeypatch, ANSWERS)
    golden.check(
        GOLDEN,
        {
            "the sheet": told(capsys, "sheet", build),
            "one answer": told(capsys, "sheet", build, "standing"),
            "two answers": told(capsys, "sheet", "lamp/build.yaml", "budget", "endurance"),
            "no such question": told(capsys, "sheet", build, "outag"),
            "a question without a build": told(capsys, "sheet", "outage"),
            "no such build": told(capsys, "sheet", "nowhere"),
            "no build at all": told(capsys, "sheet"),
            "a folder without a build": told(capsys, "sheet", "."),
            "a seed that is none": told(capsys, "sheet", build, "--seed", "-1"),
        },
    )


@pytest.mark.parametrize(
    ("answers", "status"),
    [((STANDING,), 0), ((STANDING, TIGHT), 0), ((ENDURANCE,), 0), (ANSWERS, 1), ((OUTAGE,), 1)],
)
def test_exit_status_says_whether_something_fails(build, answers, status, monkeypatch):
    answer_with(monkeypatch, answers)
    assert run(["sheet", build]) == status
    assert run(["sheet", build, "--json"]) == status


def test_keys_and_seed_are_passed_on_and_keys_may_be_written_in_any_case(build, monkeypatch):
    asked = answer_with(monkeypatch, ANSWERS)
    run(["sheet", build, "OUTAGE", "standing", "outage", "--seed", "7"])
    run(["sheet", build])
    assert asked == [("Lamp", ("outage", "standing"), 7), ("Lamp", None, 1)]


def test_json_is_one_document_with_a_key_for_every_question(build, capsys, monkeypatch):
    answer_with(monkeypatch, ANSWERS)
    run(["sheet", build, "--json", "--seed", "3"])
    said = json.loads(capsys.readouterr().out)
    assert list(said["answers"]) == ["standing", "budget", "outage", "endurance"]
    assert (said["title"], said["build"], said["seed"], said["status"]) == ("Lamp", "lamp/build.yaml", 3, "fails")
    assert any("certified" in caution for caution in said["cautions"])


def test_faults_of_the_build_go_to_standard_error_and_nothing_else_is_said(build, capsys):
    Path("lamp/build.yaml").write_text(SMALL.replace("10 V to 14 V", "10 to 14"), encoding="utf-8")
    assert run(["sheet", build]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("lamp/build.yaml, line 3, column 26: need.window is")
    assert "Traceback" not in err


def test_a_fault_of_ours_says_so_without_a_traceback(build, capsys, monkeypatch):
    answer_with(monkeypatch, ZeroDivisionError("float division"))
    monkeypatch.delenv("TIDEOVER_DEBUG", raising=False)
    assert run(["sheet", build]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("This is a fault of ours, not of your build: ZeroDivisionError (float division)")
    assert "tideover sheet lamp" in err and "TIDEOVER_DEBUG=1" in err and "Traceback" not in err
    monkeypatch.setenv("TIDEOVER_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        run(["sheet", build])


def test_an_interruption_is_quiet(build, capsys, monkeypatch):
    answer_with(monkeypatch, KeyboardInterrupt())
    assert run(["sheet", build]) == 130
    out, err = capsys.readouterr()
    assert out == "" and err.strip() == ""
