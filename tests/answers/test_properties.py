"""What no figure may turn round, over drawn figures: more of a good thing never does harm."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from answers.builds import network
from tideover.answers import states
from tideover.answers.context import Context
from tideover.answers.runs import run
from tideover.answers.soaks import soak
from tideover.answers.states import FULL, HALF, NEAR, Setting
from tideover.cases import nominal, override, repeat, written
from tideover.network import Network, load
from tideover.solve import Change, Condition, Watch, build, march, rest

EXAMPLES = Path(__file__).parents[2] / "examples"
BUILDS = ("choir-loft/build", "harbour-gauge/build", "reading-room/build")
HOLD_UP = """
title: Hold-up
need: {at: load, window: 9 V to 13 V, ambient: 20 °C}
parts:
  brick: {kind: adapter, voltage: 12 V, rated current: 4 A, current limit: 6 A}
  lead: {kind: resistor, resistance: 0.05 Ω}
  store: {kind: capacitor, capacitance: 1 mF, ESR: 50 mΩ, voltage rating: 16 V}
  lamp: {kind: load, power: 12 W, nominal voltage: 12 V}
joins:
  - brick > lead > (load) > store
  - (load) > lamp
"""


@cache
def example(name: str) -> Network:
    return load(EXAMPLES / f"{name}.yaml")


@cache
def hold_up() -> Network:
    return network(HOLD_UP)


@given(
    farads=st.floats(1e-5, 2e-2),
    more=st.floats(1.0, 10.0),
    watts=st.floats(0.5, 30.0),
    ohms=st.floats(0.0, 0.2),
)
@settings(max_examples=60, deadline=None)
def test_more_capacitance_never_shortens_hold_up(farads, more, watts, ohms):
    batch = override(
        repeat(nominal(hold_up()), 2),
        {
            ("store", "capacitance"): np.array([farads, farads * more]),
            ("store", "ESR"): ohms,
            ("lamp", "power"): watts,
        },
    )
    system = build(hold_up(), batch.values, 2)
    point = rest(system, Condition())
    assert (point.outcome == 0).all()
    lost = [Change(0.001, "brick", "mains", 0.0)]
    waves = march(system, point.state, lost, until=20.0, watch=Watch(hold_up().at, 9.0), accuracy=1e-4)
    assert (waves.outcome == 1).all()
    less, longer = (waves.case(k).t[-1] for k in (0, 1))
    assert longer >= less - 1e-6


@given(
    name=st.sampled_from(BUILDS),
    thicker=st.floats(1.0, 8.0),
    state=st.sampled_from((FULL, HALF, NEAR)),
    level=st.sampled_from((states.MEAN, states.PEAK)),
    load_share=st.floats(0.1, 1.2),
)
@settings(max_examples=60, deadline=None)
def test_thicker_wire_never_lowers_the_voltage_at_the_load_on_the_pack(name, thicker, state, level, load_share):
    n = example(name)
    context = Context.of(n)
    setting = next(Setting(s, level) for s in context.states if s.name == state)
    wires = states.of_kind(n, "wire", "cable")
    assert wires
    thin = {(w.name, "section"): written(n, (w.name, "section")) for w in wires}
    batch = override(repeat(nominal(n), 2), {k: np.array([v, thicker * v]) for k, v in thin.items()})
    found = context.points(batch, [setting], fresh=True, scale=np.full((1, 2), load_share))
    before, after = found.v(n.at)[0]
    assert np.isnan(before) or after >= before - 1e-7


@given(name=st.sampled_from(BUILDS), beside=st.integers(1, 8), more=st.integers(0, 8))
@settings(max_examples=20, deadline=None)
def test_a_larger_pack_never_shortens_the_runtime(name, beside, more):
    n = example(name)
    (pack,) = states.of_kind(n, "pack")
    batch = override(repeat(nominal(n), 2), {(pack.name, "parallel"): np.array([beside, beside + more])})
    small, large = run(n, batch, keep=False).runtime
    assert large >= small - 0.5  # a run is good to 0.1 s


@given(name=st.sampled_from(BUILDS), cold=st.floats(253.15, 320.0), warmer=st.floats(0.0, 30.0))
@settings(max_examples=20, deadline=None)
def test_a_higher_ambient_never_cools_a_part(name, cold, warmer):
    n = example(name)
    context = Context.of(n)
    batch = override(repeat(nominal(n), 2), {("box", "ambient"): np.array([cold, cold + warmer])})
    warm = soak(n, batch, [Setting(s) for s in context.states])
    for part in (p for p in n.parts if p.kind.warm):
        before, after = warm.q(part.name, "temperature [K]").T
        both = np.isfinite(before + after)
        assert (after[both] >= before[both] - 0.02).all(), part.name
