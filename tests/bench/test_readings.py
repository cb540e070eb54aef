"""Readings: what is acknowledged stays, what is sent twice stands once, what is no quantity is refused."""

from __future__ import annotations

import csv
import io
import sqlite3
import threading
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from tideover.bench.readings import COLUMNS, NAME, ReadingError, Readings, measured, typed

TAKEN = datetime(2026, 3, 1, 18, 5, tzinfo=UTC)


def one(written="12.31 V", **more):
    return typed("load", "mains and full", written, **{"meter": "bench meter", "taken": TAKEN, **more})


@pytest.mark.parametrize(
    "written, value, unit",
    [
        ("12.31 V", 12.31, "V"),
        ("31 mV", 0.031, "V"),
        ("-0.4 A", -0.4, "A"),
        ("25 °C", 298.15, "K"),
        ("25 C", 298.15, "K"),
        ("2.5 Ah", 9000.0, "C"),
        ("35 mΩ", 0.035, "ohm"),
        ("1 h 30 min", 5400.0, "s"),
        ("12.3 V ±0.1 V", 12.3, "V"),
    ],
)
def test_a_reading_is_read_with_the_unit_stated(written, value, unit):
    found = measured(written)
    assert (found.nominal, found.unit) == (pytest.approx(value), unit)


@pytest.mark.parametrize(
    "written, report",
    [
        (
            "12.31",
            'The reading is "12.31", a number without a unit.\n   A reading is expected with its unit: a voltage, '
            "current, resistance, temperature or time.\n   Write: 12.31 V",
        ),
        (
            "12,31 V",
            'The reading is "12,31 V", written with a comma.\n   A decimal point is expected, and a space or nothing '
            "between thousands.\n   Write: 12.31 V",
        ),
        (
            "quite warm",
            'The reading is "quite warm", not a number with a unit.\n   A reading is expected with its unit: a '
            "voltage, current, resistance, temperature or time.\n   Write: 12.31 V",
        ),
        (
            "3 m",
            'The reading is "3 m", of a kind that no reading has.\n   A reading is expected with its unit: a voltage, '
            "current, resistance, temperature or time.\n   Write: 12.31 V",
        ),
        ("12 V to 13 V", 'The reading is "12 V to 13 V", two limits.\n   One value is expected.\n   Write: 12.31 V'),
        (
            "  ",
            "The reading is empty.\n   A reading is expected with its unit: a voltage, current, resistance, "
            "temperature or time.\n   Write: 12.31 V",
        ),
    ],
)
def test_what_is_no_reading_is_refused_with_its_mend(written, report):
    with pytest.raises(ReadingError) as refused:
        measured(written)
    assert str(refused.value) == report


def test_a_reading_comes_back_as_it_was_given(tmp_path):
    readings = Readings(tmp_path / "bench")
    assert readings.all() == () and not (tmp_path / "bench").exists()
    given = one(note="clip on the screw; naïve “quotes” 12 Ω", device="phone")
    assert readings.add(given) == given
    assert Readings(tmp_path / "bench").all() == (given,)


def test_a_reading_sent_twice_stands_once(tmp_path):
    readings = Readings(tmp_path)
    given = one(id="phone-1")
    assert readings.add(given) == readings.add(replace(given, taken=datetime(2026, 3, 2, tzinfo=UTC))) == given
    assert readings.all() == (given,)


def test_another_reading_with_the_same_id_is_told_and_replaces_nothing(tmp_path):
    readings = Readings(tmp_path)
    given = readings.add(one(id="phone-1"))
    with pytest.raises(ReadingError, match='has the id "phone-1" of another one'):
        readings.add(one("9 V", id="phone-1"))
    assert readings.all() == (given,)


def test_struck_out_is_not_deleted(tmp_path):
    readings = Readings(tmp_path)
    kept, slipped = readings.add(one()), readings.add(one("3 V"))
    assert readings.strike(slipped.id, "probe slipped").struck == "probe slipped"
    assert readings.strike(slipped.id, "again").struck == "probe slipped"
    assert readings.counting() == (kept,)
    assert readings.all() == (kept, replace(slipped, struck="probe slipped"))
    with pytest.raises(KeyError):
        readings.strike("nobody", "because")
    with pytest.raises(ReadingError, match="A reason is expected"):
        readings.strike(kept.id, " ")
    base = sqlite3.connect(tmp_path / NAME)
    for order in ("DELETE FROM readings", "UPDATE readings SET value = 0"):
        with pytest.raises(sqlite3.IntegrityError):
            base.execute(order)
    base.close()


def test_the_exported_table_reads_back(tmp_path):
    readings = Readings(tmp_path)
    readings.add(one("31 mV", note='over the "jack", cold\nand warm', device="phone"))
    struck = readings.add(one("3 V"))
    readings.strike(struck.id, "slipped")
    header, row = csv.reader(io.StringIO(readings.export()))
    assert header == list(COLUMNS) == ["node", "state", "value", "unit", "meter", "taken", "device", "note"]
    assert row == [
        "load",
        "mains and full",
        "0.031",
        "V",
        "bench meter",
        "2026-03-01T18:05:00+00:00",
        "phone",
        'over the "jack", cold\nand warm',
    ]
    assert len(list(csv.reader(io.StringIO(readings.export(struck=True))))) == 3


def test_the_store_is_written_through_to_the_disk(tmp_path):
    readings = Readings(tmp_path)
    with readings._open(make=True) as base:
        assert base.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert base.execute("PRAGMA synchronous").fetchone() == (2,)  # FULL


def test_many_devices_at_once_lose_nothing(tmp_path):
    given = [[one(f"{n}.{k} V", id=f"{n}-{k}") for k in range(10)] for n in range(6)]
    threads = [threading.Thread(target=lambda mine=mine: [Readings(tmp_path).add(r) for r in mine]) for mine in given]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert {r.id for r in Readings(tmp_path).all()} == {r.id for mine in given for r in mine}


@pytest.mark.parametrize("what", ["node", "id", "note", "device"])
def test_what_cannot_be_kept_is_refused_in_words(tmp_path, what):
    bad = {"node": " ", "id": "", "note": "x" * 3000, "device": "\ud800"}[what]
    with pytest.raises(ReadingError):
        Readings(tmp_path).add(replace(one(), **{what: bad}))
    assert Readings(tmp_path).all() == ()


def test_a_file_that_is_no_store_is_told_and_left_alone(tmp_path):
    (tmp_path / NAME).write_text("my notes\n" * 200)
    with pytest.raises(ReadingError, match="put a file aside"):
        Readings(tmp_path).add(one())
    assert (tmp_path / NAME).read_text() == "my notes\n" * 200


def test_a_store_of_a_later_release_is_left_alone(tmp_path):
    readings = Readings(tmp_path)
    readings.add(one())
    base = sqlite3.connect(tmp_path / NAME)
    base.execute("PRAGMA user_version = 2")
    base.close()
    with pytest.raises(ReadingError, match="later release"):
        readings.add(one())
