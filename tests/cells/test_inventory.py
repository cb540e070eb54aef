"""The inventory: read tolerantly, rewritten to the letter, never changed without a trace."""

from __future__ import annotations

import csv
import multiprocessing
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tideover.cells import columns as col
from tideover.cells.columns import BY_FIELD, COLUMNS, WrongValueError
from tideover.cells.inventory import HISTORY, history_file, inventory_file, load, read_inventory, store
from tideover.cells.stock import METHODS, STATUSES, StockCell
from tideover.design.messages import BuildError
from tideover.parts.pack import CHEMISTRIES

WHOLE = StockCell(
    id="A1",
    model="NMC 18650 2.6 Ah",
    chemistry="NMC",
    source='lamps, "old"; blue',
    acquired=date(2026, 9, 12),
    age="2019 scrap",
    nameplate=2.6 * 3600,
    capacity=2.1 * 3600,
    capacity_spread=0.02,
    resistance=0.065,
    method="DC 1 s",
    resistance_spread=0.05,
    arrival=3.61,
    rests=((datetime(2026, 10, 1, 18, 0), 4.182), (datetime(2026, 10, 15, 18, 0), 4.176)),
    heating=4.0,
    status="quarantine",
    reason="falls",
    notes="second box",
)


def write(path, text):
    path.write_bytes(text.encode())
    return path


def rows(path):
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.reader(stream))


def test_every_field_is_written_and_read_back(tmp_path):
    path = tmp_path / "inventory.csv"
    store(path, lambda _: [WHOLE, StockCell("A2")], "test")
    assert read_inventory(path) == (WHOLE, StockCell("A2"))
    assert path.read_text().splitlines()[0] == ",".join(column.header for column in COLUMNS)
    assert "2026-10-01T18:00 4.182; 2026-10-15T18:00 4.176" in path.read_text()


WORDS = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S")), max_size=20)
AMOUNT = st.floats(1e-3, 15.0)
CELLS = st.builds(
    StockCell,
    id=st.from_regex(r"[A-Za-z0-9]{1,12}", fullmatch=True),
    model=WORDS,
    chemistry=st.sampled_from(("", *CHEMISTRIES)),
    acquired=st.none() | st.dates(),
    nameplate=st.none() | st.floats(40.0, 3e6),
    capacity=st.none() | st.floats(0.0, 3e6),
    capacity_spread=st.floats(0.0, 0.5),
    resistance=st.none() | st.floats(1e-4, 50.0),
    method=st.sampled_from(("", *METHODS)),
    arrival=st.none() | st.floats(-10.0, 15.0),
    rests=st.dictionaries(
        st.datetimes(datetime(1990, 1, 1), datetime(2090, 1, 1)).map(lambda t: t.replace(microsecond=0)), AMOUNT
    ).map(lambda found: tuple(sorted(found.items()))),
    status=st.sampled_from(STATUSES),
    notes=WORDS,
)


@settings(max_examples=60, deadline=None)
@given(cells=st.lists(CELLS, max_size=5, unique_by=lambda c: c.id.casefold()), semicolons=st.booleans())
def test_any_cells_come_back_as_they_went(tmp_path_factory, cells, semicolons):
    path = tmp_path_factory.mktemp("any") / "inventory.csv"
    if semicolons:
        write(path, "id;capacity [mAh];arrival;rest voltages [V]\r\nzz/0;2,5;3,5 V;2020-01-01T00:00 4,2\r\n")
    store(path, lambda _: cells, "test")
    found = {cell.id: cell for cell in read_inventory(path)} if cells or semicolons else {}
    for cell in cells:
        for column in COLUMNS:
            was, now = getattr(cell, column.field), getattr(found[cell.id], column.field)
            assert now == (pytest.approx(was, rel=1e-9) if isinstance(was, float) else now)
            assert isinstance(was, float) or column.kind == "rests" or was == now
        assert [t for t, _ in cell.rests] == [t for t, _ in found[cell.id].rests]
        assert [v for _, v in cell.rests] == pytest.approx([v for _, v in found[cell.id].rests], rel=1e-9)


BY_HAND = (
    "\ufeff# cells of the boat club\r\n"
    "id;shelf;capacity [mAh];resistance;method;rest voltages [V];capcity;arrival (mV)\r\n"
    "\r\n"
    'A1; red ;2100,5;65 mohm;dc 1s;"2026-10-15T18:00 4,176; 1.10.2026 18:00 4,182 V";;3610\r\n'
    "# the next is odd\r\n"
    "A2;blue\r\n"
)


def test_a_table_kept_by_hand_is_understood(tmp_path):
    found = load(write(tmp_path / "inventory.csv", BY_HAND))
    first, second = found.cells
    assert first.capacity == pytest.approx(2.1005 * 3600)
    assert (first.resistance, first.method, first.arrival) == (0.065, "DC 1 s", pytest.approx(3.61))
    assert first.rests == ((datetime(2026, 10, 1, 18), 4.182), (datetime(2026, 10, 15, 18), 4.176))
    assert second == StockCell("A2")
    assert found.notes == ()


def test_a_header_that_is_nearly_right_is_told(tmp_path):
    found = load(write(tmp_path / "inventory.csv", "id,capcity [Ah],shelf\nA1,2,red\n"))
    assert found.cells[0].capacity is None
    assert found.notes == ('The column "capcity [Ah]" is not read; if it is meant for capacity, call it so.',)


def test_rewriting_changes_nothing_but_what_was_changed(tmp_path):
    path = write(tmp_path / "inventory.csv", BY_HAND)
    new = StockCell("A3", rests=((datetime(2026, 1, 1, 1), 4.1),))
    store(path, lambda cells: [replace(cells[1], capacity=7200.0, status="good"), new], "test")
    assert path.read_bytes().decode() == BY_HAND.replace("arrival (mV)", "arrival (mV);status").replace(
        "A2;blue\r\n", "A2;blue;2 Ah;;;;;;good\r\nA3;;;;;2026-01-01T01:00 4,1;;;\r\n"
    )
    assert read_inventory(path)[1].capacity == 7200.0


def test_a_first_column_that_begins_like_a_remark_is_none(tmp_path):
    path = write(tmp_path / "inventory.csv", "notes,id\n# a remark\nplain,A1\n")
    store(path, lambda cells: [replace(cells[0], notes="#1, the best"), StockCell("A2", notes="#2")], "test")
    assert [(cell.id, cell.notes) for cell in read_inventory(path)] == [("A1", "#1, the best"), ("A2", "#2")]
    assert path.read_text() == 'notes,id\n# a remark\n"#1, the best",A1\n"#2",A2\n'


def test_every_change_is_entered_in_a_history_that_only_grows(tmp_path):
    path, now = tmp_path / "inventory.csv", datetime(2026, 11, 25, 12, 0)
    store(path, lambda _: [StockCell("A1", capacity=7560.0)], "first", now)
    before = history_file(path).read_text()
    store(path, lambda cells: [replace(cells[0], capacity=7200.0)], "second", now)
    assert store(path, lambda cells: list(cells), "third", now) == ()
    after = history_file(path).read_text()
    assert after.startswith(before)
    told = rows(history_file(path))
    assert tuple(told[0]) == HISTORY
    assert [row[1:] for row in told[1:]] == [
        ["A1", "id", "", "A1", "first"],
        ["A1", "capacity [Ah]", "", "2.1", "first"],
        ["A1", "capacity [Ah]", "2.1", "2", "second"],
    ]


def test_what_could_not_be_written_is_no_history(tmp_path, monkeypatch):
    path = tmp_path / "inventory.csv"
    store(path, lambda _: [StockCell("A1")], "first")
    before, kept = history_file(path).read_text(), path.read_text()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("tideover.cells.inventory.write_text", full)
    with pytest.raises(OSError, match="No space"):
        store(path, lambda _: [StockCell("A2")], "second")
    assert history_file(path).read_text() == before
    assert path.read_text() == kept


def test_a_file_changed_under_our_hands_is_not_overwritten(tmp_path):
    path = tmp_path / "inventory.csv"
    store(path, lambda _: [StockCell("A1")], "first")
    before = history_file(path).read_text()

    def edit(cells):
        with path.open("a") as stream:  # an editor saves just now
            stream.write("A9\n")
        return [StockCell("A2")]

    with pytest.raises(BuildError, match="changed by another program"):
        store(path, edit, "second")
    assert [cell.id for cell in read_inventory(path)] == ["A1", "A9"]
    assert history_file(path).read_text() == before


def _one(path, k):
    store(path, lambda _: [StockCell(f"P{k}")], "together")


def test_writers_at_the_same_time_lose_no_rows(tmp_path):
    path = tmp_path / "inventory.csv"
    context = multiprocessing.get_context("fork")
    workers = [context.Process(target=_one, args=(path, k)) for k in range(8)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert {cell.id for cell in read_inventory(path)} == {f"P{k}" for k in range(8)}
    assert len(rows(history_file(path))) == 9


def test_ids_that_labels_would_mistake_are_refused(tmp_path):
    path = tmp_path / "inventory.csv"
    store(path, lambda _: [StockCell("A1")], "first")
    for name, said in (("a1", "too much like A1"), ("#1", "is no id"), ("x" * 40, "is no id")):
        with pytest.raises(BuildError, match=said):
            store(path, lambda _, name=name: [StockCell(name)], "second")
    assert read_inventory(path) == (StockCell("A1"),)


def test_every_fault_of_a_table_is_told_with_line_column_value_and_mend(tmp_path):
    path = write(
        tmp_path / "inventory.csv",
        "id,capacity [Ah],method,rest voltages [V],acquired\n"
        "A1,2.1V,AC,2026-10-01 4.1,3/4/2026\n"
        "a1,99999,,4.1\n"
        ",2\n"
        "A5,2,DC 1 s,,,,7\n"
        'A6,"2,1 Ah",,2026-10-01T18:00 4.1; 2026-10-01T18:00 4.2\n',
    )
    with pytest.raises(BuildError) as caught:
        read_inventory(path)
    said = str(caught.value).replace(f"{path}, ", "")
    for words in (
        'line 2, column 4: cell A1, capacity: "2.1V" is a voltage.\n   A charge is expected, such as "2.1 Ah".',
        'line 2, column 9: cell A1, method: "AC" is no method.\n   Known are: DC 1 s, DC 10 s, AC 1 kHz.',
        'line 2, column 12: cell A1, rest voltages: "2026-10-01 4.1" has a day without its hour.',
        '"3/4/2026" can be read with the day or the month first.',
        "line 3, column 1: cell a1 stands here again; the first is in line 2.",
        '"99999" is outside of what can be: 0 Ah to 1000 Ah.',
        "line 4, column 1: the row has no id.",
        "the row has 7 values, but there are 5 columns.",
        "two voltages are given for 2026-10-01T18:00: 4.1 V and 4.2 V.",
        "10 faults",
    ):
        assert words in said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the inventory is empty"),
        ("# only a remark\n\n", "the inventory is empty"),
        ("name,capacity [Ah]\nA1,2\n", 'One column is expected to be called "id"'),
        ("id,capacity [Ah],Capacity (mAh)\nA1,2,2000\n", "heads two columns"),
        ("id,capacity [V]\nA1,2\n", "has a unit that cannot be read"),
        ("id,capacity\nA1,2\n", "is a number without a unit"),
        ('id,capacity [mAh]\nA1,"2,100"\n', "can be read in two ways"),
        ("id,notes\nA1,\0\n", "no text file"),
    ],
)
def test_what_is_said_of_wrong_tables(tmp_path, text, said):
    with pytest.raises(BuildError, match=said):
        read_inventory(write(tmp_path / "inventory.csv", text))


def test_a_file_that_is_not_utf8_or_not_there(tmp_path):
    (tmp_path / "inventory.csv").write_bytes(b"id\nA1\nB\xb5\n")
    with pytest.raises(BuildError, match=r"line 3, column 1: there is a byte that is not UTF-8"):
        read_inventory(tmp_path / "inventory.csv")
    with pytest.raises(BuildError, match="there is no inventory"):
        read_inventory(tmp_path / "other.csv")


@settings(max_examples=150, deadline=None)
@given(data=st.text(st.sampled_from('id,capacity [mAh];A1 2.1"\n\r\t#µ€rest voltages0-:T'), max_size=120))
def test_no_text_upsets_the_reader(tmp_path_factory, data):
    path = write(tmp_path_factory.mktemp("fuzz") / "inventory.csv", "id,capacity [Ah],notes\n" + data)
    try:
        cells = read_inventory(path)
    except BuildError:
        return
    assert len({cell.id for cell in cells}) == len(cells)


@pytest.mark.parametrize(
    ("text", "dates", "moment", "told"),
    [
        ("2026-10-01T18:00", "", datetime(2026, 10, 1, 18), True),
        ("2026-10-01 18:00:30", "", datetime(2026, 10, 1, 18, 0, 30), True),
        ("1.10.2026 8:05", "", datetime(2026, 10, 1, 8, 5), True),
        ("2026/10/01 18:00", "", datetime(2026, 10, 1, 18), True),
        ("2026-10-01", "", datetime(2026, 10, 1, 12), False),
        ("01/02/2026 18:00", "day first", datetime(2026, 2, 1, 18), True),
        ("01/02/2026 18:00", "month first", datetime(2026, 1, 2, 18), True),
    ],
)
def test_times(text, dates, moment, told):
    assert col.read_time(text, dates) == (moment, told)


@pytest.mark.parametrize("text", ["01/02/2026", "31.2.2026", "yesterday", "", "2026-13-01"])
def test_times_that_are_none(text):
    with pytest.raises(WrongValueError):
        col.read_time(text)


def test_values_take_other_spellings_and_refuse_what_is_not_certain():
    assert col.read(BY_FIELD["chemistry"], "LiFePO4") == "LFP"
    assert col.read(BY_FIELD["method"], "1 kHz AC") == "AC 1 kHz"
    assert col.read(BY_FIELD["heating"], "4 K") == 4.0
    for field, text in (("chemistry", "Li-ion"), ("method", "DC"), ("capacity", "2 Ah ±2 %"), ("resistance", "65")):
        with pytest.raises(WrongValueError):
            col.read(BY_FIELD[field], text)


def test_where_the_inventory_lies(tmp_path):
    assert inventory_file(tmp_path) == tmp_path / "cells" / "inventory.csv"
    write(tmp_path / "inventory.csv", "id\nA1\n")
    assert inventory_file(tmp_path) == Path(tmp_path / "inventory.csv")
