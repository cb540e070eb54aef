"""``tideover cells read``: told, kept beside the log, asked once; the log itself is never touched."""

from __future__ import annotations

import json
import shutil

import pytest
from cells.make_logs import FOLDER

from tideover.cells.log_sidecar import place_of
from tideover.cli.program import run


@pytest.fixture
def log(tmp_path):
    def copy(name):
        shutil.copy(FOLDER / f"{name}.csv", tmp_path / "box 7.csv")
        return tmp_path / "box 7.csv"

    return copy


def test_what_was_read_and_assumed_is_told_in_80_columns(log, capsys):
    path = log("charge_and_discharge_negative")
    assert run(["cells", "read", str(path)]) == 0
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 80 or str(path) in out
    for said in ("44 rows over 43 min", "out: ", "in: ", "constant current", "charge", "Assumed", "turned round"):
        assert said in out


def test_what_is_stated_is_asked_once_and_the_log_stays_as_it_was(log, capsys):
    path = log("refused_no_header_unstated")
    before = path.read_bytes()
    assert run(["cells", "read", str(path)]) == 2
    assert "--columns" in capsys.readouterr().err and not place_of(path).exists()
    assert run(["cells", "read", str(path), "--columns", "time [s], voltage [V], current [A]"]) == 0
    kept = place_of(path).read_text()
    assert 'columns: "time [s], voltage [V], current [A]"' in kept and "form: 1" in kept
    assert run(["cells", "read", str(path)]) == 0
    assert "says so already" in capsys.readouterr().out
    assert path.read_bytes() == before


def test_an_option_overrides_what_was_kept(log, capsys):
    path = log("refused_sign_unproved")
    for sign, current in (("positive", 2.5), ("negative", -2.5)):
        assert run(["cells", "read", str(path), "--discharge", sign, "--json"]) == 0
        told = json.loads(capsys.readouterr().out)["logs"][0]
        assert max((told["highest current"], told["lowest current"]), key=abs) == current
        assert told["stated"] == {"discharge": sign}


def test_a_changed_log_is_told(log, capsys):
    path = log("refused_time_without_unit")
    assert run(["cells", "read", str(path), "--units", "time=s"]) == 0
    path.write_bytes(path.read_bytes() + b"1440,3.2,0\n")
    assert run(["cells", "read", str(path)]) == 0
    assert "another content" in capsys.readouterr().out


def test_a_stated_sign_that_the_voltage_contradicts_is_told(log, capsys):
    assert run(["cells", "read", str(log("plain")), "--discharge", "negative"]) == 0
    assert "LOOK AGAIN" in capsys.readouterr().out


def test_several_files_are_told_although_one_cannot_be_read(capsys, tmp_path):
    for name in ("plain", "refused_empty"):
        shutil.copy(FOLDER / f"{name}.csv", tmp_path)
    files = [str(tmp_path / f"{name}.csv") for name in ("refused_empty", "plain")]
    assert run(["cells", "read", *files, "--json"]) == 2
    said = capsys.readouterr()
    assert "no table" in said.err
    assert [one["read"] for one in json.loads(said.out)["logs"]] == [False, True]


def test_a_tidy_copy_is_read_as_the_same_record(log, tmp_path, capsys):
    path = log("semicolons_decimal_comma")
    copy = tmp_path / "tidy.csv"
    assert run(["cells", "read", str(path), "--out", str(copy)]) == 0
    one, two = _logs(path, copy, capsys)
    for key in ("rows", "span", "highest voltage", "charge out"):
        assert one[key] == pytest.approx(two[key])


def _logs(path, copy, capsys):
    capsys.readouterr()
    run(["cells", "read", str(path), str(copy), "--json"])
    return json.loads(capsys.readouterr().out)["logs"]


def test_nothing_but_a_tidy_copy_is_replaced(log, capsys):
    path = log("plain")
    for target in (path, path.with_name("notes.txt")):
        if not target.exists():
            target.write_text("mine")
        before = target.read_bytes()
        assert run(["cells", "read", str(path), "--out", str(target)]) == 2
        assert target.read_bytes() == before
    assert run(["cells", "read", str(path), "--resistor", "plenty"]) == 2
    assert "plenty" in capsys.readouterr().err
