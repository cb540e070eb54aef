"""What the power path is told: Kirchhoff holds at every node, and the numbers are those of the answers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from answers.builds import context, plain
from tideover.answers import standing, states
from tideover.answers.context import Context
from tideover.answers.flows import GIVERS, drawn, flows
from tideover.network import load

EXAMPLES = Path(__file__).parents[2] / "examples"
BUILDS = ("choir-loft", "harbour-gauge", "reading-room")


@pytest.fixture(scope="module", params=BUILDS)
def shared(request):
    return Context(load(EXAMPLES / request.param / "build.yaml"), ())


def test_every_standing_state_is_told_in_order(shared):
    assert tuple(f.state for f in flows(shared)) == tuple(s.name for s in shared.states) == states.NAMES
    assert all(f.note == "" for f in flows(shared))


def test_currents_into_every_node_sum_to_zero(shared):
    network = shared.network
    for flow in flows(shared):
        left = np.zeros(len(network.nodes))
        for part in drawn(network):
            for terminal, node in zip(part.kind.terminals, part.nodes):
                left[node] -= flow.terminals[part.name, terminal]
        assert np.abs(left).max() < 2e-9


def test_every_watt_that_a_source_gives_is_taken_or_lost(shared):
    for flow in flows(shared):
        kinds = {p.name: p.kind.name for p in drawn(shared.network)}
        given = sum(w for name, w in flow.watts.items() if kinds[name] in GIVERS)
        taken = sum(w for name, w in flow.watts.items() if kinds[name] not in GIVERS)
        assert given == pytest.approx(taken, rel=2e-3, abs=2e-3)


def test_volts_are_those_of_the_standing_answer(shared):
    table = next(t for t in standing.answer(shared).tables if t.title.startswith("Voltage of every node"))
    for column, flow in enumerate(flows(shared), start=1):
        assert table.columns[column][0] == flow.state
        for row in table.rows:
            assert flow.volts[row[0]] == row[column]


def test_a_pack_is_told_as_charged_as_its_state_says(shared):
    told = {f.state: f.charge for f in flows(shared)}
    assert told[states.FULL] > told[states.HALF] > told[states.NEAR] > 0.0
    assert told[states.HALF] == pytest.approx(0.5, abs=0.02)


def test_the_hand_worked_divider():
    flow = flows(context(plain()))[0]
    amperes = (12.0 - np.sqrt(12.0**2 - 4 * 6.0 * 1.0)) / 2.0
    assert flow.currents == pytest.approx({"brick": -amperes, "wire": amperes, "lamp": amperes}, rel=1e-4)
    assert flow.watts["wire"] == pytest.approx(0.75 * amperes**2, rel=1e-4)
    assert flow.charge is None


TOO_MUCH = {
    "collapse": plain(power="60 W"),
    "overloaded adapter": plain().replace("current limit: 9 A", "current limit: 0.4 A").replace("8 A", "0.3 A"),
}


@pytest.mark.parametrize("text", TOO_MUCH.values(), ids=list(TOO_MUCH))
def test_a_state_in_which_nothing_stands_has_no_numbers_but_says_so(text):
    flow = flows(context(text))[0]
    assert flow.note.startswith("No standing point")
    assert set(flow.volts.values()) == set(flow.terminals.values()) == set(flow.watts.values()) == {None}
