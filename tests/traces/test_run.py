"""A march read back as labelled columns."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest
from cli.samples import SMALL

from tideover.design import BuildError, examine_text
from tideover.network import settle
from tideover.solve import march
from tideover.traces import run, trace

PACKED = """\
tideover: 1
title: Packed
need: {at: lamp, window: 5 V to 9 V}
parts:
  pack: {cells: NMC 18650 2.6 Ah, series: 2}
  fuse: 5 A blade fuse
  lamp: {kind: load, power: 5 W, nominal voltage: 7.2 V, law: resistance}
joins:
  - (plus) > pack
  - (plus) > fuse > lamp
box: plastic box 150 × 100 × 50 mm, sealed
"""


def network(text):
    return settle(examine_text(text))


def test_columns_are_nodes_then_currents_then_states():
    found = trace(network(PACKED), until=0.01, start="half")
    assert found.headers == (
        "time [s]",
        "plus [V]",
        "fuse-lamp [V]",
        "pack tap [V]",
        "pack plus [A]",
        "pack minus [A]",
        "pack tap [A]",
        "fuse [A]",
        "lamp [A]",
        "fuse state",
        "lamp state",
    )
    assert found.units == ("V",) * 3 + ("A",) * 5 + ("state",) * 2
    assert all(len(array) == len(found.times) for array in found.arrays)
    assert set(found["lamp state"]) == {"working"}
    np.testing.assert_allclose(found["pack plus [A]"], -found["fuse [A]"], atol=1e-8)


def test_a_fuller_pack_starts_higher():
    volts = [trace(network(PACKED), until=0.001, start=start)["plus [V]"][0] for start in ("low", "half", "full")]
    assert volts[0] < volts[1] < volts[2]


def test_it_begins_with_mains_away_when_its_first_event_is_the_return():
    found = trace(network(SMALL), "mains on at 20 ms", until=0.03)
    assert found.start.startswith("mains off")
    assert abs(found["line [V]"][0]) < 0.1


def test_rows_are_what_the_arrays_hold():
    found = trace(network(SMALL), "mains off at 1 ms", until=0.002)
    rows = list(found.rows())
    assert rows[0] == found.headers and len(rows) == len(found.times) + 1
    for row, t, v in zip(rows[1:], found.times, found["line [V]"]):
        assert float(row[0]) == pytest.approx(t, abs=1e-12)
        assert float(row[found.headers.index("line [V]")]) == pytest.approx(v, rel=1e-8)


def test_happenings_and_extremes():
    found = trace(network(SMALL), "switch open at 1 ms; mains off at 2 ms", until=0.003)
    assert [(h.at, h.text, h.part) for h in found.happenings() if not h.part] == [
        (0.001, "switch open", ""),
        (0.002, "mains off", ""),
    ]
    assert ("brick: running > holding", "brick") in [(h.text, h.part) for h in found.happenings()]
    lowest = {name: (low, at) for name, unit, low, at, _, _ in found.extremes() if unit == "V"}
    assert lowest["line"][0] == found["line [V]"].min() and lowest["line"][1] > 0.001


def test_a_header_that_is_none_is_refused_with_those_there_are():
    with pytest.raises(KeyError, match="line \\[V\\]"):
        trace(network(SMALL), until=1e-3)["line"]


def test_a_build_past_its_collapse_starts_with_a_note():
    text = SMALL.replace("law: resistance", "law: power").replace("power: 5 W", "power: 400 W")
    text = text.replace("peak: 12 W for 40 ms, ", "").replace("12 V 2 A adapter", "12 V 5 A adapter")
    found = trace(network(text), until=0.001)
    assert found.notes and "nothing stands still" in found.notes[0]


def test_a_march_that_cannot_go_on_says_how_far_it_came(monkeypatch):
    monkeypatch.setattr(run, "march", partial(march, most_steps=5))
    found = trace(network(SMALL), "mains off at 20 ms", until=1.0)
    assert not found.whole and found.notes[-1].startswith("It could be followed only to ")
    assert found.happenings() == () or found.happenings()[-1].at <= found.times[-1]


@pytest.mark.parametrize(
    ("until", "start"), [(0.0, "full"), (-1.0, "full"), (float("nan"), "full"), (1e12, "full"), (1, "x")]
)
def test_lengths_and_starts_that_are_none_are_refused(until, start):
    with pytest.raises(BuildError):
        trace(network(SMALL), until=until, start=start)
