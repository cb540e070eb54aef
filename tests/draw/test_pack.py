"""A pack's drawing shows what its layout says, where it says it, on both sides."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from golden import check
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from draw.packs import NICKEL, pack
from tideover.design.strip_layout import BOTTOM, TOP, geometry
from tideover.draw.pack import SIDES, sheets
from tideover.draw.pack_plan import plan_of
from tideover.draw.plan import table
from tideover.draw.sheet import page
from tideover.draw.svg import STYLE

NS = {"s": "http://www.w3.org/2000/svg"}
LAYOUTS = {
    "1S1P": (1, 1, NICKEL),
    "2S2P": (2, 2, NICKEL),
    "4S1P": (4, 1, NICKEL),
    "3S4P": (3, 4, f"{{along: {NICKEL}, plus: middle, minus: every, sense: last, joined: middle}}"),
    "3S5P in two rows, nested": (3, 5, f"{{along: {NICKEL}, rows: 2, arrangement: nested, pitch: 19 mm}}"),
    "4S10P in two rows": (4, 10, f"{{along: {NICKEL}, rows: 2, layers: 2}}"),
    "prismatic": (2, 2, f"{{along: {NICKEL}, cell: {{width: 27 mm, depth: 70 mm, height: 180 mm}}}}"),
}


@pytest.fixture(params=LAYOUTS, ids=list(LAYOUTS))
def built(request, tmp_path):
    return pack(tmp_path, *LAYOUTS[request.param])


def views(made):
    """The sides that are drawn, by name, with their scale."""
    found = {}
    for sheet in made:
        root = ET.fromstring(sheet.markup().encode())
        for side in SIDES:
            for view in root.iterfind(f".//s:g[@class='view {side}']", NS):
                found.setdefault(side, []).append((view, sheet.scale))
    return found


def cells(view):
    """Middle of each cell by its title, in mm from the outline's corner, and whether plus is seen."""
    out = {}
    for cell in view.iterfind(".//s:g[@class='cell']", NS):
        title = cell.find("s:title", NS).text
        round_, box = cell.find("s:circle[@class='edge can']", NS), cell.find("s:rect[@class='edge can']", NS)
        if round_ is not None:
            x, y, w = (float(round_.get(k)) for k in ("cx", "cy", "r"))
            size = (2 * w, 2 * w)
        else:
            x, y, *size = (float(box.get(k)) for k in ("x", "y", "width", "height"))
            x, y, size = x + size[0] / 2, y + size[1] / 2, tuple(size)
        out[title.rpartition(": group")[0]] = (x, y, size, "plus end" in title, title)
    return out


def test_cells_lie_where_the_layout_says_and_the_bottom_is_mirrored(built):
    plan, placed = plan_of(built), geometry(built.strip, [[c.id for c in g] for g in built.groups])
    drawn = {side: cells(found[0][0]) for side, found in views(sheets(plan)).items()}
    first = placed.cells[0]
    origin = drawn["top"][first.id][:2]
    for cell in placed.cells:
        x, y, size, plus, title = drawn["top"][cell.id]
        assert (x - origin[0], y - origin[1]) == pytest.approx(
            (1e3 * (cell.x - first.x), 1e3 * (cell.y - first.y)), abs=2e-3
        )
        assert size == pytest.approx((1e3 * built.strip.width.nominal, 1e3 * built.strip.depth.nominal), abs=2e-3)
        assert plus == cell.plus_up and f"group {cell.group}," in title
        mirrored = drawn["bottom"][cell.id]
        assert mirrored[:2] == pytest.approx((plan.size.width - x, y), abs=2e-3)
        assert mirrored[3] != plus


def test_every_id_stands_once_on_each_side(built):
    ids = sorted(c.id for g in built.groups for c in g)
    for full in (False, True):
        for found in views(sheets(plan_of(built), full=full)).values():
            said = [
                "".join(t.itertext())
                for view, _ in found
                for t in view.iterfind(".//s:text", NS)
                if "id" in t.get("class").split()
            ]
            assert sorted(said) == ids


def test_strips_are_as_wide_and_long_as_cut_and_lie_on_their_cells(built):
    ids = [[c.id for c in g] for g in built.groups]
    placed, plan = geometry(built.strip, ids), plan_of(built)
    for side, plane in zip(SIDES, (TOP, BOTTOM), strict=True):
        view = views(sheets(plan))[side][0][0]
        at = cells(view)
        bands = []
        for path in view.iterfind(".//s:path[@class='metal strip']", NS):
            bands.append([tuple(map(float, xy)) for xy in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path.get("d"))])
        pieces = [p for p in placed.pieces if p.plane == plane]
        assert len(bands) >= len(pieces)
        for piece, corners in zip(pieces, bands, strict=False):
            assert math.dist(corners[0], corners[1]) == pytest.approx(1e3 * piece.length, abs=5e-3)
            assert math.dist(corners[1], corners[2]) == pytest.approx(1e3 * piece.width, abs=5e-3)
            met = {n // 2 for k in piece.segments for n in (placed.segments[k].a, placed.segments[k].b)}
            assert {k for k, c in enumerate(placed.cells) if inside(at[c.id][:2], corners)} == met


def inside(point, corners):
    sides = [
        (b[0] - a[0]) * (point[1] - a[1]) - (b[1] - a[1]) * (point[0] - a[0])
        for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)
    ]
    return all(s > 0 for s in sides) or all(s < 0 for s in sides)


def test_every_end_that_carries_current_is_welded_in_four_points_on_a_strip(built):
    plan = plan_of(built)
    for upper in (True, False):
        for spot in plan.spots:
            near = [w for w in plan.welds if w.upper == upper and math.dist(w[:2], (spot.x, spot.y)) < spot.radius]
            over = [b for b in plan.bands if b.upper == upper and b.covers(spot)]
            assert len(near) == 4 * bool(over)
            assert over, f"{spot.id} has an end that nothing is welded to"


def test_wires_are_soldered_to_strip_and_named_from_the_minus_end(built):
    plan = plan_of(built)
    assert plan.wires[0].names == ("+ lead", "B+") and plan.wires[-1].names == ("− lead", "B−")
    assert [w.label for w in plan.wires[1:-1]] == [f"B{k}" for k in range(built.series - 1, 0, -1)]
    found = views(sheets(plan))
    for view, scale in (v for side in found.values() for v in side):
        corners = [
            [(float(x) / scale, float(y) / scale) for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", p.get("d"))]
            for p in view.iterfind(".//s:path[@class='metal strip']", NS)
        ]
        for mark in view.iterfind(".//s:g[@class='wires']//s:circle", NS):
            at, r = (float(mark.get("cx")), float(mark.get("cy"))), float(mark.get("r"))
            around = [(at[0] + r * math.cos(a), at[1] + r * math.sin(a)) for a in (k * math.pi / 8 for k in range(16))]
            assert any(inside(p, c) for p in around for c in corners), "a wire ends in the air"


def test_labels_of_wires_stand_outside_the_outline_and_apart(built):
    for view, scale in (v for side in views(sheets(plan_of(built))).values() for v in side):
        size = [d / scale for d in plan_of(built).size]
        boxes = [
            tuple(float(b.get(k)) for k in ("x", "y", "width", "height"))
            for b in view.iterfind(".//s:g[@class='wires']//s:rect", NS)
        ]
        for k, (x, y, w, h) in enumerate(boxes):
            assert x + w < 0 or y + h < 0 or x > size[0] or y > size[1]
            for x2, y2, w2, h2 in boxes[:k]:
                assert x + w <= x2 or x2 + w2 <= x or y + h <= y2 or y2 + h2 <= y


@pytest.mark.parametrize("paper, width", [("A4", {210.0, 297.0}), ("letter", {215.9, 279.4})])
def test_a_large_pack_is_reduced_or_cut_over_sheets(tmp_path, paper, width):
    plan = plan_of(pack(tmp_path, 14, 20))
    made = sheets(plan, paper)
    assert len(made) == 2 and made[0].scale == made[1].scale > 1.0
    assert f"Scale 1:{made[0].scale:g}" in made[0].markup()
    view, scale = views(made)["top"][0]
    factor = float(view.find("s:g[@class='pack']", NS).get("transform")[6:-1])
    assert factor == pytest.approx(1.0 / scale)
    cut = sheets(plan, paper, full=True)
    assert {sheet.scale for sheet in cut} == {1.0} and {sheet.paper.width for sheet in cut} <= width
    for found in views(cut).values():
        drawn = [id for view, _ in found for id in cells(view)]
        assert len(drawn) == len(set(drawn)) == 280


def test_shares_and_the_hottest_strip_are_drawn_when_given(tmp_path):
    built = pack(tmp_path, 2, 2)
    plain = "".join(s.markup() for s in sheets(plan_of(built)))
    told = "".join(s.markup() for s in sheets(plan_of(built, {"A01": 1.157, "A02": 0.843}, (0, "6 K above the air"))))
    bars = [
        [float(r.get("width")) for r in g.findall("s:rect", NS)]
        for view, _ in views(sheets(plan_of(built, {"A01": 1.157, "A02": 0.843})))["top"]
        for g in view.findall(".//s:g[@class='gauge']", NS)
    ]
    assert sorted(round(2.0 * full / frame, 2) for frame, full in bars) == [0.84, 1.16]  # legible without colour
    assert "116 %" in told and "84 %" in told and "116 %" not in plain
    assert told.count('class="hottest"') == 1 and "6 K above the air" in told and "hottest" not in plain


def test_without_strips_there_is_a_table_and_it_says_so(tmp_path):
    plan = plan_of(pack(tmp_path, 3, 4, ""))
    made = sheets(plan)
    text = made[0].markup()
    assert "Not to scale" in text and "Scale 1:1" not in text and "50 mm" not in text
    assert len(cells(views(made)["top"][0][0])) == 12


def test_the_cut_list_adds_up_to_the_layout(tmp_path):
    built = pack(tmp_path, 4, 10, f"{{along: {NICKEL}, rows: 2, layers: 2}}")
    placed = geometry(built.strip, [[c.id for c in g] for g in built.groups])
    note = plan_of(built).notes[0]
    found = re.findall(r"(\d+) × ([\d.]+) mm(?=[,.]| of)", note.partition("To cut:")[2])
    total = sum(int(n) * float(long) for n, long in found)
    assert total == pytest.approx(sum(1e3 * p.length * p.layers for p in placed.pieces), abs=0.1 * len(found))


nasty = st.lists(
    st.text(st.characters(blacklist_categories=("Cs", "Cc", "Zs", "Zl", "Zp", "Cn")), min_size=1, max_size=40),
    min_size=4,
    max_size=4,
    unique=True,
)


@given(nasty, st.text(max_size=80))
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_any_id_and_title_leave_the_drawing_well_formed(ids, title):
    made = sheets(table(title, "loft.yaml", [ids[:2], ids[2:]]))
    for sheet in made:
        ET.fromstring(sheet.markup().encode())
        assert "<script" not in sheet.markup()
    for found in views(made).values():
        assert len(cells(found[0][0])) == 4
    text = page(title, made)
    assert text.count("<svg") == len(made) and text.endswith("</html>\n")


def test_a_page_prints_each_sheet_on_its_own_paper(tmp_path):
    made = sheets(plan_of(pack(tmp_path, 3, 4)))
    text = page("Loft & <loft>", made)
    size = f"{made[0].paper.width:g}mm {made[0].paper.height:g}mm"
    assert f"@page {{ size: {size}; margin: 0 }}" in text
    assert "Loft &amp; &lt;loft&gt;" in text and "http" not in text.replace("http://www.w3.org/2000/svg", "")


def test_the_same_pack_gives_the_same_bytes(tmp_path):
    one, two = ("".join(s.markup() for s in sheets(plan_of(pack(tmp_path, 3, 4)))) for _ in range(2))
    assert one == two


def test_a_small_pack_word_for_word(tmp_path):
    strip = f"{{along: {NICKEL}, pitch: 20 mm, cell: {{diameter: 18.4 mm}}, minus: last}}"
    (sheet,) = sheets(plan_of(pack(tmp_path, 2, 2, strip, ["A&1", "<B>", "é 3", "D4"], "Lamp & loft")))
    check(Path(__file__).with_name("pack.txt"), {"2S2P": sheet.markup().replace(STYLE, "").rstrip()})
