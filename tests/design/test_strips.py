"""The key ``strip`` of a pack file: where everything lies, and what is said of faults."""

from __future__ import annotations

import pytest
from cells.built import PACK, pack, read, text

from tideover.design import built, welded
from tideover.laws.conductors import bar_resistance
from tideover.quantity import parse
from tideover.shelf import find

NICKEL = "{along: nickel strip 8 × 0.15 mm, pitch: 20 mm}"


def cells(series, parallel, folder, strip=NICKEL, ohms=60.0):
    return pack(folder, [[2.4] * parallel] * series, [[ohms] * parallel] * series, strip)


def test_groups_stand_upside_down_by_turns_and_joints_are_in_one_plane(tmp_path):
    where = welded.place(cells(3, 4, tmp_path))
    assert [c.plus_up for c in where.cells] == [True] * 4 + [False] * 4 + [True] * 4
    assert (where.cells[5].x, where.cells[5].y) == pytest.approx((0.02, 0.02))
    assert len(where.segments) == 3 * 2 * 3 + 2 * 4
    for s in where.segments:
        ends = {where.cells[node // 2].plane(node % 2 == 0) for node in (s.a, s.b)}
        assert ends == {s.plane}
        assert s.length == pytest.approx(0.02)
    assert sorted(k for piece in where.pieces for k in piece.segments) == list(range(len(where.segments)))
    assert (where.plus.nodes, where.plus.plane) == ((0,), "top")
    assert (where.minus.nodes, where.minus.plane) == ((17,), "bottom")
    assert [tap.nodes for tap in where.sense] == [(1,), (9,)]


def test_nested_rows_are_half_a_pitch_apart_and_their_strips_as_long_as_the_pitch(tmp_path):
    found = cells(2, 6, tmp_path, "{along: nickel strip 8 × 0.15 mm, rows: 2, arrangement: nested, joined: last}")
    where = welded.place(found)
    assert found.strip.columns == 3
    assert where.cells[3].x == pytest.approx(0.010)
    assert all(s.length == pytest.approx(0.020) for s in where.segments)
    assert [s.kind for s in where.segments].count("link") == 1
    link = next(s for s in where.segments if s.kind == "link")
    assert (where.cells[link.a // 2].id, where.cells[link.b // 2].id) == ("A06", "A09")


def test_a_short_last_row_leaves_no_cell_out(tmp_path):
    where = welded.place(cells(2, 5, tmp_path, "{along: nickel strip 8 × 0.15 mm, rows: 2, minus: last}"))
    joined = {node for s in where.segments for node in (s.a, s.b)}
    assert joined == set(range(20))
    assert where.minus.nodes == (2 * 7 + 1,)  # its last row has no third column, so the row before


def test_what_is_not_said_is_told_and_the_usual_weld_is_that_of_the_shelf(tmp_path):
    plan = cells(1, 4, tmp_path, "nickel strip 8 × 0.15 mm").strip
    assert plan.pitch.nominal == pytest.approx(0.020)
    assert {"weld", "pitch", "rows", "joined", "plus", "minus"} <= set(plan.origins)
    shelf = parse(find("spot weld").values["contact_resistance"], "ohm")
    assert (plan.weld.low, plan.weld.high) == pytest.approx((shelf.low, shelf.high))


def test_joint_resistance_follows_from_strips_and_welds(tmp_path):
    """Two groups of one cell: one link and four welds."""
    found = cells(2, 1, tmp_path, "{along: {width: 8 mm, thickness: 0.15 mm, material: nickel}, weld: 0.3 mΩ ±0.1 mΩ}")
    values, origins = built.figures(found, PACK)
    link = bar_resistance(0.020, 8e-3, 0.15e-3, 6.99e-8) * (1.0 + 0.006 * 5.0)
    assert values["joint_resistance"].nominal == pytest.approx((link + 4 * 0.3e-3) / 2, rel=1e-6)
    assert values["joint_resistance"].high > values["joint_resistance"].nominal + 0.19e-3
    assert "pack.yaml" in origins["joint_resistance"]
    assert "joint_resistance" not in built.figures(cells(2, 1, tmp_path, ""), PACK)[0]


def test_a_lost_weld_costs_the_cell_and_more_resistance(tmp_path):
    lost = welded.losses_of_a_weld(cells(2, 4, tmp_path, ""), PACK)
    assert [w.id for w in lost] == [f"A0{k}" for k in range(1, 9)]
    for w in lost:
        assert w.capacity == pytest.approx(3 * 2.4 * 3600.0)
        assert (w.growth, w.largest) == pytest.approx((4 / 3, 4 / 3), rel=1e-6)
    alone = welded.losses_of_a_weld(cells(2, 1, tmp_path, ""), PACK)
    assert all(w.growth == float("inf") and w.capacity == 0.0 for w in alone)


@pytest.mark.parametrize(
    ("strip", "said"),
    [
        ("nickle strip", 'strip.along is "nickle strip", which is not on the shelf'),
        ("spot weld", "which is of kind connector"),
        ("[a, b]", "strip is a list"),
        ("{pitch: 20 mm}", "strip.along is missing"),
        ("{along: nickel strip 8 × 0.15 mm, pitch: 12 mm}", "cells of 18.4 mm stand 12 mm apart"),
        ("{along: nickel strip 8 × 0.15 mm, pitch: 20}", "a number without a unit"),
        ("{along: nickel strip 8 × 0.15 mm, plus: 9}", "which is no column of this pack"),
        ("{along: nickel strip 8 × 0.15 mm, rows: 9}", "strip.rows is 9, but a group has 4 cells"),
        ("{along: nickel strip 8 × 0.15 mm, minnus: 1}", "Write: minus"),
        ("{along: {width: 8 mm, material: gold}}", "strip.along.thickness is missing"),
        ("{along: {width: 8 mm, material: gold}}", "which is none of its choices"),
        ("{along: nickel strip 8 × 0.15 mm, weld: 5 Ω}", "which is more than 100 mΩ"),
        ("{along: nickel strip 8 × 0.15 mm, cell: {width: 20 mm}}", "strip.cell.depth is missing"),
        ("{along: nickel strip 8 × 0.15 mm, cell: {width: 20 mm, diameter: 2 cm}}", "given a diameter and a width"),
    ],
)
def test_faults_say_what_and_how_to_mend_it(tmp_path, strip, said):
    found, faults = read(tmp_path, text([[2.4] * 4], [[60.0] * 4], strip))
    assert found is None
    report = "\n".join(map(str, faults))
    assert said in report
    assert "pack.yaml, line " in report
