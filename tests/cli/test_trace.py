"""``tideover trace``: the CSV, the summary, and what is said of wrong events."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import golden
import pytest

from cli.samples import SMALL
from cli.test_sheet import told
from tideover.cli.program import run
from tideover.cli.trace import join_time

GOLDEN = Path(__file__).with_name("traces.txt")
EVENTS = "switch open at 20 ms; switch closed at 40 ms; lamp peak at 60 ms"


@pytest.fixture(autouse=True)
def build(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("build.yaml").write_text(SMALL, encoding="utf-8")


def test_what_is_said_of_wrong_arguments(capsys):
    Path("notes.csv").write_text("mine\n")
    golden.check(
        GOLDEN,
        {
            "events that are none": told(
                capsys,
                "trace",
                ".",
                "--events",
                "mains of at 20 ms; brik off at 2 s; mains off; lamp dim at 1 s; nonsense; mains on at 20; "
                "line off at 1 s; mains at 2 s; ;; mains off at 2 V; mains off at -2 s\nmains on at 20 s",
                "--for",
                "3 s",
            ),
            "a part to which nothing happens": told(capsys, "trace", ".", "--events", "box off at 1 s", "--for", "2 s"),
            "a length that is none": told(capsys, "trace", ".", "--for", "3"),
            "a length of another kind": told(capsys, "trace", ".", "--for", "3 V"),
            "a length of nothing": told(capsys, "trace", ".", "--for", "0 s"),
            "a length of a year": told(capsys, "trace", ".", "--for", "1 year"),
            "a start that is none": told(capsys, "trace", ".", "--start", "fll"),
            "a file that is no trace": told(capsys, "trace", ".", "--out", "notes.csv"),
            "a folder for a file": told(capsys, "trace", ".", "--out", "."),
            "a folder that is not there": told(capsys, "trace", ".", "--out", "far/away.csv"),
            "two things to one place": told(capsys, "trace", ".", "--out", "-", "--json"),
        },
    )
    assert Path("notes.csv").read_text() == "mine\n"


def test_the_summary_tells_events_and_extremes_and_where_the_waveforms_went(capsys):
    assert run(["trace", ".", "--events", EVENTS, "--for", "100", "ms", "--out", "wave.csv"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Lamp: 100 ms from mains on, switch closed\n")
    happened = [line.split() for line in said[said.index("What") : said.index("How far")].splitlines()]
    outside = [line for line in happened if len(line) == 4 and line[1] == "ms"]
    assert outside == [
        ["20", "ms", "switch", "open"],
        ["40", "ms", "switch", "closed"],
        ["60", "ms", "lamp", "peak"],
    ]
    assert "Waveforms: wave.csv" in said and max(map(len, said.splitlines())) <= 80
    assert [f.name for f in Path().iterdir() if f.suffix == ".csv"] == ["wave.csv"]


def test_the_file_has_the_documented_columns():
    run(["trace", ".", "--events", EVENTS, "--for", "100 ms", "--out", "wave.csv"])
    with open("wave.csv", newline="", encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    assert list(rows[0]) == [
        "time [s]", "brick-switch [V]", "line [V]", "brick [A]", "switch [A]", "lamp [A]", "brick state", "lamp state",
    ]  # fmt: skip
    times = [float(row["time [s]"]) for row in rows]
    assert times == sorted(times) and times[0] == 0.0 and times[-1] == 0.1
    for instant in (0.02, 0.04, 0.06):
        assert times.count(instant) == 2, "an instant of switching stands twice, before and after"
    for row in rows:  # one loop: what leaves the adapter passes the switch and the lamp
        current = float(row["switch [A]"])
        assert float(row["lamp [A]"]) == pytest.approx(current, abs=2e-9)
        assert -float(row["brick [A]"]) == pytest.approx(current, abs=2e-9)
    off = [row for row in rows if 0.03 < float(row["time [s]"]) < 0.04]
    assert off and all(abs(float(row["switch [A]"])) < 1e-6 for row in off)
    assert float(rows[0]["lamp [A]"]) == pytest.approx(float(rows[0]["line [V]"]) * 5 / 144, rel=0.01)
    assert float(rows[-1]["lamp [A]"]) == pytest.approx(float(rows[-1]["line [V]"]) * 12 / 144, rel=0.01)


def test_standard_output_takes_the_same_csv_and_json_the_same_numbers(capsys):
    arguments = ["trace", ".", "--events", EVENTS, "--for", "100 ms"]
    run([*arguments, "--out", "wave.csv"])
    capsys.readouterr()
    run([*arguments, "--out", "-"])
    assert capsys.readouterr().out == Path("wave.csv").read_text(encoding="utf-8")
    run([*arguments, "--json"])
    said = json.loads(capsys.readouterr().out)
    rows = list(csv.reader(io.StringIO(Path("wave.csv").read_text(encoding="utf-8"))))
    assert ["time [s]", *(c["header"] for c in said["columns"])] == rows[0]
    assert len(said["time"]) == len(rows) - 1
    assert [h["what"] for h in said["events"] if not h["part"]] == ["switch open", "switch closed", "lamp peak"]


def test_a_trace_is_replaced_by_the_next(capsys):
    run(["trace", ".", "--for", "1 ms", "--out", "wave.csv"])
    first = Path("wave.csv").read_text()
    assert run(["trace", ".", "--for", "2 ms", "--out", "wave.csv"]) == 0
    assert Path("wave.csv").read_text() != first


def test_without_a_file_it_says_how_to_keep_the_waveforms(capsys):
    assert run(["trace", ".", "--for", "1 ms"]) == 0
    assert "--out trace.csv" in capsys.readouterr().out
    assert [f.name for f in Path().iterdir()] == ["build.yaml"]


@pytest.mark.parametrize(
    ("written", "read"),
    [
        (["b", "--for", "3", "s"], ["b", "--for", "3 s"]),
        (["--for", "1", "h", "30", "min", "b"], ["--for", "1 h 30 min", "b"]),
        (["--for", "3s", "b"], ["--for", "3s", "b"]),
        (["--for", "3", "b"], ["--for", "3", "b"]),
        (["b", "--for"], ["b", "--for"]),
        (["b", "--json"], ["b", "--json"]),
    ],
)
def test_a_time_may_be_typed_without_quotes(written, read):
    assert join_time(written) == read
