"""Events in words become signals; what a first event says of the time before it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tideover.design import BuildError, examine_text
from tideover.network import settle
from tideover.traces import begin, read_events

TWO = """\
tideover: 1
title: Two adapters
need: {at: lamp, window: 10 V to 14 V}
parts:
  brick: 12 V 2 A adapter
  other-brick: 12 V 2 A adapter
  first: Schottky 3 A 40 V
  second: Schottky 3 A 40 V
  switch: rocker switch 6 A
  lamp: {kind: load, power: 5 W, nominal voltage: 12 V, peak: 12 W for 40 ms}
  dull lamp: {kind: load, power: 5 W, nominal voltage: 12 V}
joins:
  - brick > first > (bus)
  - other-brick > second > (bus)
  - (bus) > switch > (line) > lamp
  - (line) > dull lamp
box: plastic box 150 × 100 × 50 mm, sealed
"""


@pytest.fixture(scope="module")
def network():
    return settle(examine_text(TWO))


def told(events):
    return [(e.at, e.part, e.signal, e.value) for e in events]


def test_mains_is_every_adapter_and_a_name_is_one(network):
    events = read_events("Mains off at 20 ms; other BRICK on at 1 s", network)
    assert told(events) == [
        (0.02, "brick", "mains", 0.0),
        (0.02, "other-brick", "mains", 0.0),
        (1.0, "other-brick", "mains", 1.0),
    ]


def test_a_peak_is_peak_power_over_mean_power(network):
    events = read_events("lamp peak at 1 s; lamp mean at 1.5 s; lamp off at 2 s", network)
    assert told(events) == [(1.0, "lamp", "demand", 2.4), (1.5, "lamp", "demand", 1.0), (2.0, "lamp", "demand", 0.0)]


def test_a_load_without_a_peak_cannot_have_one(network):
    with pytest.raises(BuildError, match="dull lamp states no peak power"):
        read_events("dull lamp peak at 1 s", network)


def test_events_are_sorted_by_time_and_those_of_one_instant_keep_their_order(network):
    events = read_events("switch open at 2 s\nlamp off at 1 s;\n\n switch closed at 2 s;", network)
    assert [e.text for e in events] == ["lamp off", "switch open", "switch closed"]


def test_what_returns_first_was_away(network):
    def before(text):
        return begin(read_events(text, network))

    assert before("brick on at 1 s; brick off at 2 s") == {("brick", "mains"): 0.0}
    assert before("switch closed at 1 s") == {("switch", "closed"): 0.0}
    assert before("mains off at 1 s; mains on at 2 s; lamp mean at 1 s") == {}


def test_every_fault_is_told_with_its_place(network):
    with pytest.raises(BuildError) as told:
        read_events("mains off at 1 s; mans on at 2 s\n  lamp dims at 3 s", network)
    assert [(f.place.line, f.place.column) for f in told.value.faults] == [(1, 19), (2, 3)]


def test_too_many_events_are_refused(network):
    with pytest.raises(BuildError, match="1001 events are more than"):
        read_events("lamp off at 1 s;" * 1001, network)


@given(
    st.text(max_size=40)
    | st.lists(st.sampled_from(["mains", "lamp", "off", "at", "on", "20", "ms", "1", ";", "switch", "peak", "at"])).map(
        " ".join
    )
)
def test_any_text_is_read_or_refused(text):
    network = settle(examine_text(TWO))
    try:
        events = read_events(text, network, 10.0)
    except BuildError as error:
        assert all(fault.place.line > 0 for fault in error.faults)
    else:
        assert all(0.0 <= e.at <= 10.0 for e in events)
