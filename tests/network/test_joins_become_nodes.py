"""From chains to nodes: what is entered where, what goes to the return, what is named how."""

from __future__ import annotations

import pytest
from design.fakes import GOOD, KINDS, SHELF

from tideover.design import examine_text
from tideover.network import Network, build, settle

HEAD = """\
tideover: 1
need: {at: out, window: 11 V to 13 V}
box: {wall: 2 mm}
"""


def network(text: str) -> Network:
    return settle(examine_text(text, kinds=KINDS, shelf=SHELF), kinds=KINDS)


def small(parts: str, *joins: str) -> Network:
    names = dict(item.split("=") for item in parts.split(","))
    given = {
        "adapter": "{kind: adapter, voltage: 12 V, rated current: 1 A}",
        "wire": "{kind: wire, length: 1 m}",
        "diode": "{kind: diode}",
        "load": "{kind: load, power: 5 W}",
        "capacitor": "{kind: capacitor, capacitance: 1 mF}",
        "pack": "{kind: pack, series: 3, capacity: 2 Ah}",
        "board": "{kind: protection board, cut-off: 2.7 V}",
        "relay": "{kind: relay, coil voltage: 12 V}",
        "converter": "{kind: converter, set voltage: 12 V}",
    }
    lines = [f"  {name}: {given[kind]}" for name, kind in names.items()]
    return network("\n".join([HEAD + "parts:", *lines, "joins:", *(f"  - {join}" for join in joins), ""]))


def where(net: Network, part: str) -> dict[str, str]:
    placed = net.part(part)
    return {
        terminal: net.nodes[node] for terminal, node in zip(placed.kind.terminals, placed.nodes, strict=True)
    }


def test_good_file_as_a_whole():
    net = network(GOOD)
    assert net.nodes == (
        "return",
        "brick-lead",
        "inlet",
        "bus",
        "pack plus",
        "pack minus",
        "pack fuse-relay back",
        "load",
        "pack tap",
        "relay front",
    )
    assert where(net, "relay") == {
        "coil plus": "inlet",
        "coil minus": "return",
        "common": "bus",
        "front": "relay front",
        "back": "pack fuse-relay back",
    }
    assert net.nodes[net.at] == "load"
    assert [part.name for part in net.parts][-1] == "box"


def test_box_is_placed_without_nodes():
    box = network(GOOD).part("box")
    assert (box.kind.name, box.nodes) == ("box", ())
    assert box.values["width"].nominal == 0.2


def test_part_in_a_chain_is_entered_at_its_first_end():
    net = small("a=adapter,d=diode,l=load", "a > (in) > d > (out) > l")
    assert where(net, "d") == {"anode": "in", "cathode": "out"}


@pytest.mark.parametrize("source", ["adapter", "pack", "capacitor"])
def test_source_that_begins_a_chain_is_left_at_its_plus(source):
    net = small(f"s={source},l=load", "s > (out) > l")
    assert (where(net, "s")["plus"], where(net, "s")["minus"]) == ("out", "return")


@pytest.mark.parametrize("source", ["adapter", "pack", "capacitor"])
def test_source_that_ends_a_chain_is_entered_at_its_plus(source):
    net = small(f"s={source},l=load", "(out) > s", "(out) > l")
    assert (where(net, "s")["plus"], where(net, "s")["minus"]) == ("out", "return")


def test_last_part_of_a_chain_goes_to_the_return():
    net = small("a=adapter,d=diode", "a > (out) > d")
    assert where(net, "d") == {"anode": "out", "cathode": "return"}


def test_far_end_stays_where_another_join_puts_it():
    net = small("a=adapter,w=wire,l=load", "a > (in) > w", "w.b > (out) > l")
    assert where(net, "w") == {"a": "in", "b": "out"}


def test_return_side_may_be_drawn():
    net = small("a=adapter,w=wire,l=load", "a > (out) > l", "a.minus > w > (return)")
    assert where(net, "a")["minus"] == "a minus-w" == where(net, "w")["a"]
    assert where(net, "w")["b"] == "return"


def test_minus_of_a_converter_goes_to_the_return_unless_joined():
    plain = small("a=adapter,c=converter,l=load", "a > c > (out) > l")
    drawn = small("a=adapter,c=converter,w=wire,l=load", "a > c > (out) > l", "c.minus > w > (return)")
    assert where(plain, "c")["minus"] == "return"
    assert where(drawn, "c")["minus"] == "c minus-w"


def test_terminal_in_the_middle_of_a_chain_is_a_point():
    net = small("a=adapter,r=relay,l=load", "a > r.common > r.coil plus", "r.back > (out) > l")
    assert where(net, "r")["common"] == where(net, "r")["coil plus"] == where(net, "a")["plus"]


def test_board_watches_the_pack_beside_it():
    net = small(
        "p=pack,q=pack,d=diode,b=board,l=load",
        "q > d > (out)",
        "(out) > p > (low) > b > (return)",
        "(out) > l",
    )
    assert where(net, "b") == {"cells": "low", "out": "return", "sense plus": "out", "sense tap": "p tap"}


def test_board_finds_the_only_pack_behind_a_wire():
    net = small("p=pack,w=wire,b=board,l=load", "(out) > p > w > b > (return)", "(out) > l")
    assert where(net, "b")["sense plus"] == "out"


def test_board_watches_the_pack_it_names():
    text = HEAD + (
        "parts:\n  p: {kind: pack, series: 3, capacity: 2 Ah}\n  q: {kind: pack, series: 3, capacity: 2 Ah}\n"
        "  d: {kind: diode}\n  b: {kind: protection board, cut-off: 2.7 V, watches: q}\n"
        "  l: {kind: load, power: 5 W}\n"
        "joins:\n  - (up) > q > (low)\n  - (up) > d > (out) > p > (low) > b > (return)\n  - (out) > l\n"
    )
    assert where(network(text), "b")["sense plus"] == "up"


def test_names_of_unnamed_nodes_differ():
    net = small(
        "a=adapter,w=wire,d=diode,e=diode,l=load", "a > w > d > (out)", "w.b > e > (out)", "(out) > l"
    )
    assert len(set(net.nodes)) == len(net.nodes)


def test_unnamed_node_never_takes_a_name_of_the_file():
    net = small("a=adapter,w=wire,d=diode,l=load", "a > w > (a-w) > d > (out) > l")
    assert net.nodes.count("a-w") == 1
    assert where(net, "a")["plus"] == "a-w 2"


def test_load_may_be_judged_at_a_part():
    net = network(GOOD.replace("at: load", "at: lamp"))
    assert net.nodes[net.at] == "load"


def test_build_and_settle_agree():
    draft = examine_text(GOOD, kinds=KINDS, shelf=SHELF)
    assert build(draft.design(), kinds=KINDS) == settle(draft, kinds=KINDS)


def test_order_of_the_joins_changes_no_connection():
    head, _, tail = GOOD.partition("joins:\n")
    joins, box, rest = tail.partition("box:")
    lines = joins.splitlines()
    turned = network(head + "joins:\n" + "\n".join(reversed(lines)) + "\n" + box + rest)
    straight = network(GOOD)
    for part in straight.parts:
        if part.nodes:
            assert where(turned, part.name) == where(straight, part.name)
