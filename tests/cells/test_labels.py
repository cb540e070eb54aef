"""Labels: their places on the paper, the code as drawn, nothing but text in the text."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from xml.etree import ElementTree

import numpy as np
import pytest
import segno

from tideover.cells.labels import PAD, PAPERS, QUIET, code_path, in_grid, lines_of, of_size, page, sheets
from tideover.cells.stock import StockCell

TODAY = date(2026, 11, 25)
CELL = StockCell(
    "A17", model="blue sleeve", chemistry="NMC", capacity=7560.0, resistance=0.065, method="DC 1 s", status="good"
)
RUN = re.compile(r"M([\d.]+) ([\d.]+)h([\d.]+)v([\d.]+)h-([\d.]+)z")


def drawn(path, module, x, y, n):
    """The modules that a path blackens."""
    found = np.zeros((n, n), dtype=int)
    for left, top, width, height, back in RUN.findall(path):
        assert float(width) == float(back) and float(height) == pytest.approx(module, abs=1e-3)
        row, column = round((float(top) - y) / module) - QUIET, round((float(left) - x) / module) - QUIET
        found[row, column : column + round(float(width) / module)] += 1
    return found


@pytest.mark.parametrize("text", ["A17", "S000", "harbour 12/3", "x" * 32])
def test_the_code_as_drawn_is_the_code(text):
    path, module = code_path(text, 10.0, 20.0, 25.0)
    matrix = np.array([list(line) for line in segno.make(text, error="m", micro=False).matrix])
    assert (drawn(path, module, 10.0, 20.0, len(matrix)) == matrix).all()
    assert module == pytest.approx(25.0 / (len(matrix) + 2 * QUIET))
    assert "".join(RUN.sub("", path)) == ""


def test_other_letters_say_how_they_are_written():
    eci = segno.make("Ünit 7", error="m", micro=False, encoding="utf-8", eci=True)
    path, module = code_path("Ünit 7", 0.0, 0.0, 20.0)
    assert (drawn(path, module, 0.0, 0.0, len(eci.matrix)) == np.array([list(line) for line in eci.matrix])).all()


@pytest.mark.parametrize("paper", PAPERS)
def test_labels_stay_on_the_paper(paper):
    width, height = PAPERS[paper]
    for sheet in (in_grid(paper, 4, 10), of_size(paper, 38.0, 21.0), of_size(paper, width - 8, height - 8)):
        assert sheet.left > 0 and sheet.top > 0
        assert sheet.left + sheet.columns * sheet.width == pytest.approx(width - sheet.left)
        assert sheet.top + sheet.rows * sheet.height == pytest.approx(height - sheet.top)
    assert of_size("A4", 38.0, 21.0).labels == 5 * 13
    with pytest.raises(ValueError, match="does not fit"):
        of_size(paper, 250.0, 20.0)


def test_what_a_label_says():
    assert lines_of(CELL, TODAY) == ["NMC blue sleeve", "2.1 Ah", "65 mΩ DC 1 s", "good 2026-11-25"]
    assert lines_of(StockCell("A1"), TODAY) == ["new 2026-11-25"]
    assert lines_of(replace(CELL, status="rejected"), TODAY)[-1] == "REJECTED 2026-11-25"
    assert lines_of(replace(CELL, method=""), TODAY)[2] == "65 mΩ (method?)"
    assert lines_of(replace(CELL, model="NMC 18650 2.6 Ah"), TODAY)[0] == "NMC 18650 2.6 Ah"


def test_sheets_hold_each_cell_once_and_leave_used_places_free():
    cells = [replace(CELL, id=f"A{k}") for k in range(45)]
    drawings = sheets(cells, in_grid("A4", 4, 10), TODAY, skip=3)
    assert len(drawings) == 2
    roots = [ElementTree.fromstring(drawing) for drawing in drawings]
    names = [t.text for root in roots for t in root.iter("{http://www.w3.org/2000/svg}text") if t.get("font-weight")]
    assert names == [cell.id for cell in cells]
    first = next(roots[0].iter("{http://www.w3.org/2000/svg}text"))
    assert float(first.get("x")) == pytest.approx(8.0 + 3 * 48.5 + PAD)
    assert roots[0].get("width") == "210mm" and roots[0].get("viewBox") == "0 0 210 297"
    assert sheets([], in_grid("A4", 4, 10), TODAY) == []


def test_every_text_stays_in_its_label():
    cells = [replace(CELL, id=name, model="x" * 60) for name in ("A", "W" * 16, "i" * 32)]
    sheet = in_grid("A4", 4, 10)
    (drawing,) = sheets(cells, sheet, TODAY)
    for text in ElementTree.fromstring(drawing).iter("{http://www.w3.org/2000/svg}text"):
        size, x, y = (float(text.get(key)) for key in ("font-size", "x", "y"))
        column, row = int((x - 8) // sheet.width), int((y - 8) // sheet.height)
        assert row == 0 and y - size > 8.0 - PAD and y < 8 + sheet.height
        wide = float(text.get("textLength", 0.62 * size * len(text.text)))
        assert x + wide <= 8 + (column + 1) * sheet.width


def test_a_label_too_small_for_its_code_is_refused():
    with pytest.raises(ValueError, match="too small for the code of A17"):
        sheets([CELL], of_size("A4", 15.0, 9.0), TODAY)


def test_signs_of_markup_stay_text_and_the_page_needs_nothing_else():
    (drawing,) = sheets([replace(CELL, id="<b>&", model='"><script>')], in_grid("A4", 2, 5), TODAY)
    texts = [t.text for t in ElementTree.fromstring(drawing).iter("{http://www.w3.org/2000/svg}text")]
    assert texts[0] == "<b>&" and texts[1] == 'NMC "><script>'
    html = page([drawing], in_grid("A4", 2, 5))
    assert "@page { size: 210mm 297mm; margin: 0 }" in html
    assert "<script" not in html and "src=" not in html and "url(" not in html
