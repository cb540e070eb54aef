"""Bench readings and cells in a browser."""

from __future__ import annotations

import csv
import io
import uuid

import pytest

from web.screen import PHONE, SLOW

expect = pytest.importorskip("playwright.sync_api", reason="no Playwright: the bench is not seen by a browser").expect
expect.set_options(timeout=SLOW * 1000)

BENCH, CELLS = "/b/ferry-landing/bench", "/b/ferry-landing/cells"


def write_down(page, reading, note):
    page.get_by_label("Reading", exact=True).fill(reading)
    page.get_by_label("At", exact=True).fill("bus")
    page.get_by_label("Meter").fill("hand meter, 20 V range")
    page.get_by_label("Note").fill(note)
    page.get_by_role("button", name="Write it down").click()


def test_a_reading_is_acknowledged_listed_and_on_the_other_browser(look, served):
    note = uuid.uuid4().hex[:8]
    laptop, phone = look(BENCH), look(BENCH, PHONE)
    write_down(phone, "12.31 V", note)
    row = phone.locator("#readings tr", has_text=note)
    expect(row).to_contain_text("12.31 V")
    expect(row).to_contain_text("bus")
    rows = list(csv.DictReader(io.StringIO(served.ask("GET", BENCH + "/readings.csv")[1])))
    assert [float(r["value"]) for r in rows if r["note"] == note] == [12.31]
    expect(laptop.locator("#readings tr", has_text=note)).to_contain_text("12.31 V")


def test_a_wrong_unit_is_refused_and_what_was_typed_stays(look):
    note = uuid.uuid4().hex[:8]
    page = look(BENCH, PHONE)
    write_down(page, "12.31 kg", note)
    expect(page.get_by_role("alert")).to_contain_text("12.31 kg")
    expect(page.get_by_role("alert")).to_contain_text("Write:")
    expect(page.get_by_label("Reading", exact=True)).to_have_value("12.31 kg")
    expect(page.get_by_label("Note")).to_have_value(note)
    expect(page.locator("#readings tr", has_text=note)).to_have_count(0)


def test_what_is_struck_out_stays(look):
    note = uuid.uuid4().hex[:8]
    page = look(BENCH)
    write_down(page, "1.62 A", note)
    row = page.locator("#readings tr", has_text=note)
    row.get_by_placeholder("why").fill("probe slipped")
    row.get_by_role("button", name="Strike out").click()
    expect(row.locator("s")).to_have_text("1.62 A")
    expect(row).to_contain_text("struck out: probe slipped")


def test_the_inventory_is_edited_and_a_wrong_value_is_answered_in_its_cell(look, served):
    file = served.folder / "ferry-landing/cells/inventory.csv"
    page = look(CELLS)
    field = page.get_by_label("capacity of C01", exact=True)
    field.fill("2.3 kg")
    field.press("Tab")
    expect(page.locator("td", has=field).get_by_role("alert")).to_contain_text("2.3 kg")
    expect(field).to_have_value("2.3 kg")
    expect(field).to_have_attribute("aria-invalid", "true")
    assert "2.3" not in next(line for line in file.read_text().splitlines() if line.startswith("C01,"))
    field.fill("2.345 Ah")
    field.press("Tab")
    expect(field).not_to_have_attribute("aria-invalid", "true")
    page.reload()
    expect(field).to_have_value("2.345 Ah")
    assert ",2.345," in next(line for line in file.read_text().splitlines() if line.startswith("C01,"))


def test_a_word_filters_the_rows(look):
    page = look(CELLS)
    rows = page.locator("#stock tbody tr:visible")
    before = rows.count()
    page.get_by_label("Show only those with").fill("C07")
    expect(rows).to_have_count(1)
    page.get_by_label("Show only those with").fill("")
    expect(rows).to_have_count(before)


def test_a_table_is_taken_in_and_what_is_not_certain_is_asked(look, tmp_path):
    page = look(CELLS)
    unsure, table = tmp_path / "unsure.csv", tmp_path / "more.csv"
    unsure.write_text("id,capacity\nT1,2.1\n")
    name = "T" + uuid.uuid4().hex[:5]
    table.write_text(f"id,capacity [Ah]\n{name},2.222\n")
    page.get_by_label("A table with a row for each cell").set_input_files(unsure)
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_role("alert")).to_contain_text("Nothing was taken in.")
    page.get_by_label("A table with a row for each cell").set_input_files(table)
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_label(f"capacity of {name}", exact=True)).to_have_value("2.222 Ah")
    expect(page.get_by_role("status").filter(has_text="new or changed")).to_be_visible()


@pytest.mark.parametrize("size", [None, PHONE], ids=["laptop", "phone"])
def test_kinds_of_cell_and_packs_are_drawn(look, size):
    page = look(CELLS, **({"size": size} if size else {}))
    drawn = page.locator("main figure svg")
    assert drawn.count() >= 3
    for svg in drawn.all():
        box = svg.bounding_box()
        assert box and box["width"] > 200 and box["height"] > 60
