"""The writer of SVG: nothing that is said becomes markup, and words fit where they are put."""

from __future__ import annotations

import doctest
import itertools
import xml.etree.ElementTree as ET

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tideover.draw import pack_wires, paper, svg
from tideover.draw.svg import Ink, Size

NS = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("module", [svg, paper, pack_wires], ids=lambda module: module.__name__)
def test_examples_in_the_documentation(module):
    found = doctest.testmod(module)
    assert found.attempted and not found.failed


@given(st.text(), st.text())
def test_whatever_is_said_is_shown_and_is_no_markup(said, title):
    body = svg.group(svg.text(1.0, 2.0, said, 3.0), said, title=title, class_=said)
    root = ET.fromstring(svg.document(Size(10.0, 20.0), body, title=title, about=said).encode())
    assert {e.tag.removeprefix(NS) for e in root.iter()} <= {"svg", "title", "desc", "style", "g", "text"}
    kept = "".join(c for c in said if c in "\t\n" or ord(c) >= 32).replace("\ufffe", "\ufffd")
    shown = root.find(f".//{NS}text").text or ""
    if all(c.isprintable() for c in said):
        assert shown == kept


def test_plain_text_among_the_children_of_a_drawing_is_escaped():
    assert "<b>" not in svg.document(Size(1.0, 1.0), "<b>", title="")


@pytest.mark.parametrize("tag", ["script", "foreignObject", "image", "a", "use", "SVG"])
def test_other_elements_are_refused(tag):
    with pytest.raises(ValueError, match="no element"):
        svg.element(tag)


@pytest.mark.parametrize("key", ["onload", "ONCLICK", "href", "style", "a b", "x>"])
def test_other_attributes_are_refused(key):
    with pytest.raises(ValueError, match="no attribute"):
        svg.element("g", **{key: "1"})


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_what_is_no_place_is_refused(value):
    with pytest.raises(ValueError, match="no place"):
        svg.circle(value, 0.0, 1.0, "line")


@given(st.floats(-1e6, 1e6))
def test_coordinates_are_right_to_half_a_micrometre(value):
    said = svg.number(value)
    assert "e" not in said and said != "-0" and abs(float(said) - value) <= 0.5e-3 + 1e-9


def test_a_drawing_is_as_large_as_its_paper():
    root = ET.fromstring(svg.document(Size(210.0, 297.0), title="A").encode())
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("210mm", "297mm", "0 0 210 297")
    assert root.get("role") == "img" and root.get("aria-labelledby") == "d-title"


@given(st.text(min_size=1, max_size=60), st.floats(4.0, 30.0))
def test_a_name_fits_its_room_in_few_lines(name, width):
    size, lines = svg.fitted(name, width, 3.0, 1.6)
    assert 1 <= len(lines) <= 3 and size <= 3.0
    assert all(svg.breadth(row, size) <= width + 1e-6 or len(row) <= 2 for row in lines)


def test_a_name_that_fits_in_three_lines_is_shown_in_full():
    _, lines = svg.fitted("attic-box-2019-cell-0117", 10.0, 3.0, 1.8)
    assert "".join(lines) == "attic-box-2019-cell-0117"


def test_no_two_dashes_are_alike():
    assert len(set(svg.DASHES.values())) == len(svg.DASHES)


def test_ink_is_text():
    assert isinstance(svg.element("g"), Ink) and svg.element("g") == "<g/>"


@given(st.lists(st.floats(0.0, 100.0), min_size=1, max_size=12), st.floats(1.0, 12.0))
def test_labels_never_overlap_and_stay_where_there_is_room(wanted, size):
    wanted = sorted(wanted)
    found = pack_wires.apart(wanted, [size] * len(wanted))
    assert all(b - a >= size - 1e-9 for a, b in itertools.pairwise(found))
    if all(b - a >= size for a, b in itertools.pairwise(wanted)):
        assert found == pytest.approx(wanted)


@given(st.floats(1.0, 5000.0), st.floats(20.0, 200.0), st.floats(0.0, 30.0))
@example(1000.0, 20.0, 5e-324)
def test_cuts_cover_a_length_in_parts_that_fit(length, room, step):
    ends = paper.cuts(length, room, step)
    assert ends[0] == 0.0 and ends[-1] == length
    assert all(0.0 < b - a <= room + 1e-6 for a, b in itertools.pairwise(ends))


@given(st.floats(1.0, 1e5), st.floats(1.0, 1e5), st.floats(30.0, 300.0), st.floats(30.0, 300.0))
def test_a_reduced_thing_fits(width, height, room_width, room_height):
    scale = paper.reduction(Size(width, height), Size(room_width, room_height))
    assert scale >= 1.0
    assert width / scale <= room_width + 1e-3 and height / scale <= room_height + 1e-3
