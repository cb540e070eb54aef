"""Cells from other tables: what is certain is recognised, the rest is asked for, nothing is overwritten unasked."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tideover.cells.importing import KNOWN, Meaning, Told, merge, pairs, read_table, recognised, united
from tideover.cells.inventory import store
from tideover.cells.stock import StockCell
from tideover.design.messages import BuildError

NOTHING = Told({}, {})


def table(tmp_path, text, told=NOTHING):
    path = tmp_path / "tester.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_table(path, told)


def refused(tmp_path, text, told=NOTHING):
    with pytest.raises(BuildError) as caught:
        table(tmp_path, text, told)
    return str(caught.value)


@pytest.mark.parametrize(
    ("header", "meaning"),
    [
        ("Cell", Meaning("id")),
        ("Cell No.", Meaning("id")),
        ("Cap (mAh)", Meaning("capacity", "mAh")),
        ("Capacity mAh", Meaning("capacity", "mAh")),
        ("capacity_mAh", Meaning("capacity", "mAh")),
        ("mAh", Meaning("capacity", "mAh")),
        ("IR [mΩ]", Meaning("resistance", "mohm")),
        ("IR mOhm", Meaning("resistance", "mohm")),
        ("DC 1s IR (mohm)", Meaning("resistance", "mohm", "DC 1 s")),
        ("IR AC 1kHz", Meaning("resistance", "", "AC 1 kHz")),
        ("OCV [mV]", Meaning("rest voltage", "mV")),
        ("Voltage", Meaning("rest voltage")),
        ("Rated capacity [Ah]", Meaning("nameplate", "Ah")),
        ("capacity spread [%]", Meaning("capacity_spread", "%")),
        ("rest voltages [V]", Meaning("rests", "V")),
        ("Date", Meaning("date")),
        ("Slot", Meaning("")),
        ("Temp", Meaning("")),
        ("", Meaning("")),
    ],
)
def test_headers_that_are_certain(header, meaning):
    assert recognised(header) == meaning


def test_no_two_fields_share_a_header():
    names = [name for field in KNOWN.values() for name in field]
    assert len(names) == len(set(names))


def test_a_table_of_a_tester(tmp_path):
    rows, notes = table(
        tmp_path,
        "\ufeffCell;Cap (mAh);IR mOhm;Voltage [V];Date;Slot\r\n"
        "B1;2050;71,5;4,181;01.10.2026 18:00;1\r\n\r\n# a remark\r\n"
        "B2;;;4,179;02.10.2026;2\r\n",
        Told({}, {"chemistry": "nmc", "age": "2019 scrap"}, method="DC 1 s"),
    )
    assert [row.id for row in rows] == ["B1", "B2"]
    assert rows[0].values == {
        "capacity": pytest.approx(2.05 * 3600),
        "resistance": pytest.approx(0.0715),
        "method": "DC 1 s",
        "rests": ((datetime(2026, 10, 1, 18), 4.181),),
        "chemistry": "NMC",
        "age": "2019 scrap",
    }
    assert rows[1].values["rests"] == ((datetime(2026, 10, 2, 12), 4.179),)
    assert "method" not in rows[1].values and "capacity" not in rows[1].values
    assert '"Slot" is not read' in notes and '"Cap (mAh)" is the capacity in mAh' in notes
    assert "Dates have no hour; noon was assumed" in notes


def test_date_and_time_in_two_columns_and_one_column_named_time(tmp_path):
    rows, _ = table(tmp_path, "id,V [V],date,time\nA1,4.18,2026-10-01,18:00\n", Told({"rest voltage": "V [V]"}, {}))
    assert rows[0].values["rests"] == ((datetime(2026, 10, 1, 18), 4.18),)
    rows, _ = table(tmp_path, "id,voltage [V],time\nA1,4.18,2026-10-01 18:00\n")
    assert rows[0].values["rests"] == ((datetime(2026, 10, 1, 18), 4.18),)


def test_another_inventory_is_read_whole(tmp_path):
    cell = StockCell(
        "A1", capacity=7560.0, resistance=0.065, method="DC 10 s", acquired=date(2026, 9, 1), notes="x", heating=2.0
    )
    cell = replace(cell, rests=((datetime(2026, 10, 1, 18), 4.182),), capacity_spread=0.02)
    store(tmp_path / "inventory.csv", lambda _: [cell], "test")
    rows, _ = read_table(tmp_path / "inventory.csv", NOTHING)
    assert merge((), rows, tmp_path / "inventory.csv") == (cell,)


def test_western_european_bytes_are_read_and_told(tmp_path):
    rows, notes = table(tmp_path, "id,notes,capacity [Ah]\nA1,grün,2\n".encode("cp1252"))
    assert rows[0].values["notes"] == "grün"
    assert "cp1252" in notes[0]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Cell,IR mOhm\nA1,65\n", "nothing says by which method"),
        ("Cell,IR mOhm\nA1,65\n", "DC 1 s, DC 10 s or AC 1 kHz"),
        ("Cell,voltage\nA1,4.1\n", "nothing says when they were read"),
        ("Cell,capacity\nA1,2050\n", 'State it: --columns "capacity = capacity [Ah]"'),
        ("Cell,capacity [mAh]\nA1,2050\n,2000\n", "line 3, column 1: the row has no id"),
        ("Cell,cap [mAh],capacity [mAh]\nA1,1,2\n", "can both be the capacity"),
        ("Slot,capacity [mAh]\nA1,2050\n", "no column holds the cells' ids"),
        ("Cell,Slot\nA1,2\n", "no column besides the id is recognised"),
        ("Cell,V [V],Date\nA1,4.1,01/02/2026 12:00\n", '--dates "day first", or --dates "month first"'),
        ("Cell,V [V],Date\nA1,4.1,\n", "has no date"),
        ("Cell\n", "holds no row of headers with cells below it"),
        ("Cell,capacity [mAh]\nA1,\0\n", "no text file"),
        ("Cell,capacity [mAh]\nA1,twelve\n", 'line 2, column 4: cell A1, capacity: "twelve" is not a number'),
    ],
)
def test_what_is_not_certain_is_asked_for(tmp_path, text, said):
    assert said in refused(tmp_path, text)


def test_a_column_without_a_unit_is_told_once(tmp_path):
    said = refused(tmp_path, "Cell,capacity,IR mOhm DC 1 s\n" + "".join(f"A{k},{2000 + k},65\n" for k in range(9)))
    assert said.count("without a unit") == 1 and 'State it: --columns "capacity = capacity [Ah]"' in said


def test_columns_are_taken_as_told(tmp_path):
    text = "Slot,C1,R,U\n7,2050,66,3.61\n"
    told = Told(pairs("id = Slot; capacity = C1 [mAh]; resistance =; arrival = U [V]"), {})
    rows, _ = table(tmp_path, text, told)
    assert rows[0].id == "7"
    assert rows[0].values == {"capacity": pytest.approx(7380.0), "arrival": 3.61}
    assert 'there is no column "Nr" for the id' in refused(tmp_path, text, Told(pairs("id = Nr"), {}))
    with pytest.raises(ValueError, match="capacity"):
        pairs("capasity = C1")


def rows_of(tmp_path, text, **told):
    return table(tmp_path, text, Told({}, {}, **told))[0]


def test_several_rows_of_one_cell_add_up_and_contradictions_are_told(tmp_path):
    text = "id,voltage [V],date,capacity [Ah]\nA1,4.18,2026-10-01 18:00,2\nA1,4.17,2026-10-02 18:00,{}\n"
    found = merge((), rows_of(tmp_path, text.format("")), tmp_path / "t.csv")
    assert len(found) == 1 and len(found[0].rests) == 2
    for replacing in (False, True):
        with pytest.raises(BuildError, match=r"line 3, column 1: cell A1, capacity, is 2.1 Ah here and 2 Ah in line 2"):
            merge((), rows_of(tmp_path, text.format("2.1")), tmp_path / "t.csv", replacing)


def test_what_is_there_gives_way_only_when_allowed(tmp_path):
    there = (
        StockCell("A1", capacity=7200.0, resistance=0.065, method="DC 1 s", rests=((datetime(2026, 10, 1), 4.18),)),
    )
    text = "id,capacity [Ah],voltage [V],date\nA1,2.1,4.17,2026-10-01T00:00\nA2,2,,\n"
    with pytest.raises(BuildError) as caught:
        merge(there, rows_of(tmp_path, text), tmp_path / "t.csv")
    assert "capacity, is 2.1 Ah here and 2 Ah in the inventory" in str(caught.value)
    assert "2 faults" in str(caught.value)
    new = merge(there, rows_of(tmp_path, text), tmp_path / "t.csv", replacing=True)
    assert (new[0].capacity, new[0].rests[0][1], new[0].resistance) == (7560.0, 4.17, 0.065)
    with pytest.raises(BuildError, match="too much like A1"):
        merge(there, rows_of(tmp_path, "id,capacity [Ah]\na1,2\n"), tmp_path / "t.csv")


def test_an_empty_field_erases_nothing(tmp_path):
    there = (StockCell("A1", capacity=7200.0, notes="kept"),)
    assert merge(there, rows_of(tmp_path, "id,capacity [Ah],notes\nA1,,\n"), tmp_path / "t.csv") == there


def test_rest_voltages_of_two_sources():
    t = [datetime(2026, 10, day) for day in (1, 2, 3)]
    both, clash = united(((t[0], 4.18), (t[2], 4.16)), ((t[1], 4.17), (t[2], 4.15)))
    assert [v for _, v in both] == [4.18, 4.17, 4.16]
    assert clash == ((t[2], 4.16),)


@settings(max_examples=150, deadline=None)
@given(
    head=st.lists(st.sampled_from(["id", "cap mAh", "IR [mohm]", "V", "date", "time", "x", "", "notes"]), max_size=5),
    body=st.text(st.sampled_from('A1 4.18,;\t"\n2026-10-01 18:00µ-'), max_size=80),
)
def test_no_table_upsets_it(tmp_path_factory, head, body):
    path = tmp_path_factory.mktemp("fuzz") / "t.csv"
    path.write_text(",".join(head) + "\n" + body, encoding="utf-8")
    try:
        rows, _ = read_table(path, Told({}, {}, method="DC 1 s"))
        merge((), rows, path)
    except BuildError as error:
        assert str(error)
