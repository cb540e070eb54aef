"""Boxes of a power path never overlap, lines never enter them, and every join is drawn once."""

from __future__ import annotations

from time import process_time

import pytest
from hypothesis import example as always
from hypothesis import given, settings
from hypothesis import strategies as st
from judge.generate import draw as supply

from draw.paths import (
    BUILDS,
    chain,
    crossings,
    example,
    islands,
    joins,
    lot,
    overlaps,
    pieces,
    rewired,
    run_together,
    sides,
    through_boxes,
)
from tideover.draw.path import THICK
from tideover.draw.path_items import MOST, plan
from tideover.draw.path_layout import layout
from tideover.draw.path_types import PHONE, TEXT
from tideover.draw.svg import breadth


def keeps_the_rules(net, down, folded, marked=()):
    some = plan(net, folded)
    placed = layout(some, down, marked)
    assert overlaps(placed) == []
    assert through_boxes(placed) == []
    assert run_together(placed) == []
    assert {name for box in placed.boxes.values() for name in box.item.parts} == {p.name for p in net.parts if p.nodes}
    for x1, y1, x2, y2 in sides(placed).values():
        assert 0 <= x1 < x2 <= placed.width and 0 <= y1 < y2 <= placed.height
    for wire in placed.wires:
        assert all(0 <= x <= placed.width and 0 <= y <= placed.height for x, y in wire.points)
        assert all(a[0] == b[0] or a[1] == b[1] for a, b in zip(wire.points, wire.points[1:]))
    if down:
        assert placed.width == PHONE
    meets_every_join_once(net, some, placed)
    return placed


def meets_every_join_once(net, some, placed):
    """Each terminal is where a line touches its box; a line between two boxes speaks for the terminals at both ends."""
    wanted = joins(net)
    if any(len(box.parts) > 1 for box in some.boxes):
        shown = {(p.part, p.terminal) for box in some.boxes for p in box.ports}
        shown |= {t for box in some.boxes for t in box.grounds}
        wanted = {t: n for t, n in wanted.items() if t in shown}
    touched = []
    for box in placed.boxes.values():
        for wire in placed.wires:
            for x, y in {wire.points[0], wire.points[-1]}:
                across = x in (box.x, box.right) and box.y < y < box.bottom
                along = y in (box.y, box.bottom) and box.x < x < box.right
                if across or along:
                    touched.append((box.item.name, wire.net))
    ends = [
        (box.item.name, node)
        for box in placed.boxes.values()
        for t, node in wanted.items()
        if t in {(p.part, p.terminal) for p in box.item.ports} | set(box.item.grounds)
    ]
    assert sorted(touched) == sorted(ends)
    leads = [t for wire in placed.wires if len(wire.behind) == 1 for t in wire.behind]
    assert set(leads) <= set(wanted)
    for node in {n for n in wanted.values() if n}:
        assert islands(placed, node) == 1


@pytest.mark.parametrize("down", [False, True], ids=["across", "down"])
@pytest.mark.parametrize("name", BUILDS)
def test_examples_keep_the_rules_and_no_line_crosses_another(name, down):
    placed = keeps_the_rules(example(name), down, True, ("converter", "pack"))
    assert crossings(placed) == 0


@pytest.mark.parametrize("down", [False, True], ids=["across", "down"])
@pytest.mark.parametrize("every", [False, True], ids=["one mark", "marks on all"])
@pytest.mark.parametrize("name", BUILDS)
def test_no_voltage_of_an_example_stands_on_a_line_or_a_box(name, every, down):
    net = example(name)
    placed = layout(plan(net), down, tuple(p.name for p in net.parts) if every else ("converter",))
    wide, high = breadth("88.88 V", TEXT), 0.72 * TEXT
    places = []
    for label in placed.labels:
        left = label.x - {"middle": wide / 2, "end": wide}.get(label.anchor, 0.0)
        places.append((left, label.y - high, left + wide, label.y))
    half = THICK / 2
    lines = [(x1 - half, y1 - half, x2 + half, y2 + half) for _, x1, y1, x2, y2 in pieces(placed)]
    for k, (x1, y1, x2, y2) in enumerate(places):
        assert x1 >= 0 and x2 <= placed.width and y1 >= 0
        for a1, b1, a2, b2 in [*sides(placed).values(), *lines, *places[:k]]:
            assert not (x1 < a2 - 1 and x2 > a1 + 1 and y1 < b2 and y2 > b1), placed.labels[k]


@pytest.mark.parametrize("name", BUILDS[:3])
def test_examples_fit_a_page(name):
    assert layout(plan(example(name))).width <= 1120


@given(seed=st.integers(0, 10**6), down=st.booleans())
@settings(max_examples=80, deadline=None)
def test_supplies_drawn_by_lot_keep_the_rules(seed, down):
    keeps_the_rules(supply(seed).network, down, True)


@given(seed=st.integers(0, 10**6), down=st.booleans(), folded=st.booleans())
@always(seed=0, down=False, folded=False)  # a stack on a node of its own
@always(seed=138, down=False, folded=False)  # only one way to the return's line
@always(seed=1184, down=True, folded=False)  # marks of the return under the last box
@settings(max_examples=150, deadline=None)
def test_anything_joined_anyhow_keeps_the_rules(seed, down, folded):
    keeps_the_rules(lot(seed), down, folded)


def test_long_series_runs_are_folded_and_unfolded_on_demand():
    net = chain(30)
    assert [box.parts for box in plan(net).items][1] == tuple(f"lead {k}" for k in range(30))
    assert len(plan(net).items) == 3
    assert len(plan(net, folded=False).items) == 32
    assert len(plan(chain(MOST - 2)).items) == MOST
    keeps_the_rules(net, True, True)


def test_what_leads_to_the_return_alone_hangs_from_its_node():
    stacks = {s.items[0].name: [i.name for i in s.items] for s in plan(example("harbour-gauge/build")).stacks}
    assert stacks == {"pack": ["pack", "board"], "hold-up": ["hold-up"]}
    placed = layout(plan(example("harbour-gauge/build")))
    assert placed.boxes["pack"].bottom < placed.boxes["board"].y
    assert placed.boxes["pack"].x == placed.boxes["board"].x


@pytest.mark.parametrize("down", [False, True], ids=["across", "down"])
def test_adapter_comes_first_and_load_last(down):
    for name in BUILDS:
        placed = layout(plan(example(name)), down)
        along = {n: (b.y if down else b.x) for n, b in placed.boxes.items()}
        kinds = {b.item.kind: n for n, b in placed.boxes.items()}
        assert along[kinds["adapter"]] == min(along.values())
        assert along[kinds["load"]] == max(along.values())


def test_parts_in_a_ring_are_still_laid_out():
    ring = rewired([("a", "diode", (1, 2)), ("b", "diode", (2, 3)), ("c", "diode", (3, 1))], 4)
    for down in (False, True):
        keeps_the_rules(ring, down, False)


def test_a_layout_is_the_same_every_time():
    assert layout(plan(lot(7))) == layout(plan(lot(7)))


def test_sixty_parts_are_laid_out_in_a_blink():
    net = next(n for n in map(lot, range(1000)) if len(n.parts) > 58)
    for down in (False, True):
        before = process_time()
        layout(plan(net, folded=False), down)
        assert process_time() - before < 0.15
