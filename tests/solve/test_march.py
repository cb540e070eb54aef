"""Marches against closed forms; what is known is met exactly; the books balance; company changes nothing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from judge.generate import draw

from tideover.laws import capacitors
from tideover.solve import Change, Condition, Watch, along, build, march, readings, rest

from .workbench import ROOM, at, nearly, network, ohms, source

ENDED, STOPPED, FAILED = 0, 1, 2
GAP = 1e-8
"""Conductance of an open switch. [S]"""


def storage(farads: float, esr: float, **more) -> tuple:
    given_ = {"capacitance": farads, "ESR": esr - 1e-6, "leakage": 0.0, "voltage_rating": 25.0}
    return "capacitor", {"plus": "bus"}, given_ | more


def switch(a: str, b: str) -> tuple:
    return "switch", {"a": a, "b": b}, {"contact_resistance": 1e-3}


def decaying(r: float = 100.0, c: float = 1e-3, volts: float = 10.0):
    net = network(
        {
            "brick": source(volts, 0.01),
            "switch": switch("in", "bus"),
            "store": storage(c, 1e-3),
            "load": ohms("bus", "return", r),
        }
    )
    system = build(net)
    return net, system, rest(system)


OPEN = Change(0.0, "switch", "closed", 0.0)


def exact_decay(t, v0, r, c, volts=10.0, esr=1e-3):
    """The store's own voltage, the open switch leaking."""
    g = 1.0 / r + GAP
    end = volts * GAP / g
    return end + (v0 - end) * np.exp(-t / (c * (1.0 / g + esr)))


def test_rc_decay():
    _, system, start = decaying()
    waves = march(system, start.state, [OPEN], until=0.3)
    t, one, inside = along(waves, 0)
    store = readings(one, inside).state["store", "charge_voltage"]
    np.testing.assert_allclose(store, exact_decay(t, store[0], 100.0, 1e-3), atol=3e-4)
    assert waves.outcome[0] == ENDED
    assert t[-1] == 0.3


@pytest.mark.parametrize("accuracy", [1e-4, 1e-5, 1e-6])
def test_error_follows_the_accuracy_asked_for(accuracy):
    _, system, start = decaying()
    waves = march(system, start.state, [OPEN], until=0.3, accuracy=accuracy)
    t, one, inside = along(waves, 0)
    store = readings(one, inside).state["store", "charge_voltage"]
    error = np.abs(store - exact_decay(t, store[0], 100.0, 1e-3)).max()
    assert error < 30.0 * accuracy


def test_order_of_accuracy_is_three():
    """Steps held to one length on a smooth problem: halving it divides the error by about eight."""
    _, system, start = decaying(r=20.0, c=1e-3)
    errors = []
    for h in (1e-3, 5e-4, 2.5e-4):
        waves = march(system, start.state, [OPEN], until=0.04, accuracy=10.0, longest=h)
        t, one, inside = along(waves, 0)
        store = readings(one, inside).state["store", "charge_voltage"]
        assert np.diff(t).max() <= h * (1.0 + 1e-9)
        errors.append(abs(store[-1] - exact_decay(0.04, store[0], 20.0, 1e-3)))
    orders = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert np.all(np.abs(orders - 3.0) < 0.25), orders


@pytest.mark.parametrize(("power", "esr", "v_min"), [(10.0, 0.05, 7.0), (4.0, 0.2, 5.0)])
def test_constant_power_hold_up_with_series_resistance(power, esr, v_min):
    """The load's own 1 uF and 1 mohm are counted; what is left is second order."""
    c, r_in = 20e-3, 1e-3
    load = {"law": "power", "power": power, "nominal_voltage": 12.0, "capacitance": 1e-6, "input_resistance": r_in}
    net = network(
        {
            "brick": source(12.0, 0.01),
            "switch": switch("in", "bus"),
            "store": storage(c, esr),
            "load": ("load", {"plus": "bus"}, load),
        }
    )
    system = build(net)
    start = rest(system)
    inside = readings(system, start.state).state["store", "charge_voltage"][0]
    t_hold = capacitors.hold_up_constant_power(c, inside, v_min, power, esr + r_in)
    waves = march(system, start.state, [OPEN], until=t_hold)
    assert readings(*along(waves, 0)[1:]).state["load", "input"][-1] == pytest.approx(v_min, abs=2e-3)


def test_the_watch_stops_at_the_voltage_asked_for():
    net, system, start = decaying()
    waves = march(system, start.state, [OPEN], until=1.0, watch=Watch(at(net, "bus"), 4.0), keep=[at(net, "bus")])
    wave = waves.case(0)
    assert waves.outcome[0] == STOPPED
    assert wave.v[-1, 0] == pytest.approx(4.0, abs=1e-4)
    v0 = wave.v[0, 0]
    assert wave.t[-1] == pytest.approx(0.1 * np.log(v0 / 4.0), rel=2e-4)


def test_coil_lets_go_when_its_current_has_decayed_against_the_clamp():
    """``i = (i_0 + V/R) exp(-t R/L) - V/R`` with the clamp's slope of 1 ohm in R; event within 20 us."""
    coil = {
        "coil_voltage": 12.0,
        "coil_resistance": 270.0,
        "inductance_seated": 0.6,
        "inductance_open": 0.4,
        "clamp_voltage": 0.8,
        "thermal_resistance": 1e-3,
        "release_fraction": 0.2,
    }
    net = network(
        {
            "brick": source(12.0, 0.01),
            "switch": switch("in", "coil"),
            "relay": ("relay", {"coil plus": "coil", "common": "c", "front": "f", "back": "b"}, coil),
            "c": ohms("c", "return", 1e3),
            "f": ohms("f", "return", 1e3),
            "b": ohms("b", "return", 1e3),
        }
    )
    system = build(net)
    start = rest(system)
    seen = readings(system, start.state)
    assert seen.machine["relay", "contact"] == ("operated",)
    i_0 = seen.quantity["relay", "coil current [A]"][0]
    hot = 270.0 * (1.0 + 0.00393 * (start.air[0] - 293.15))
    assert i_0 == pytest.approx(12.0 / hot, rel=1e-4)
    waves = march(system, start.state, [Change(0.01, "switch", "closed", 0.0)], until=0.1)
    t, one, inside = along(waves, 0)
    states = readings(one, inside).machine["relay", "contact"]
    released = t[states.index("letting go")] - 0.01
    r = hot + 1.0
    i_release = 0.2 * 12.0 / 270.0
    expected = 0.6 / r * np.log((i_0 + 0.8 / r) / (i_release + 0.8 / r))
    assert released == pytest.approx(expected, abs=20e-6)
    opened = t[states.index("crossing to back")] - 0.01
    assert opened - released == pytest.approx(0.0025, abs=1e-12)


def test_current_of_a_charger_tails_off_exponentially_at_its_hold_voltage():
    """The regulator is a slope of 300 I/V behind the pack's resistance: tau = C (R + V / 300 I)."""
    c, r = 100.0, 0.1
    charger = {
        "type": "buck",
        "hold_voltage": 8.4,
        "charge_current": 1.0,
        "termination_fraction": 0.0,
        "reverse_drain": 0.0,
        "dropout": 0.5,
    }
    net = network(
        {
            "brick": source(15.0, 0.05),
            "charger": ("charger", {"input": "in", "output": "bus"}, charger),
            "store": storage(c, r),
            "switch": switch("bus", "extra"),
            "extra": ohms("extra", "return", 1e3),
            "load": ohms("bus", "return", 100.0),
        }
    )
    system = build(net)
    start = rest(system)
    held = start.state
    row = _row(system, "store", "charge_voltage")
    held.X[row] = 8.2
    waves = march(system, held, until=40.0)
    t, one, inside = along(waves, 0)
    seen = readings(one, inside)
    into = seen.quantity["store", "current [A]"]
    late = (t > 15.0) & (into > 1e-3)
    assert late.sum() > 3
    stiff = _stiffness(charger)
    # The load beside the store is part of the slope that the store sees.
    tau = c * (r + 1.0 / (stiff + 0.01 + 1e-3))
    first = np.flatnonzero(late)[0]
    expected = into[first] * np.exp(-(t - t[first]) / tau)
    np.testing.assert_allclose(into[late], expected[late], rtol=2e-3, atol=2e-5)
    assert into[t > 1e-3].max() < 1.0, "constant current, once the charger's own capacitor has met the store"


def _stiffness(charger: dict) -> float:
    """Slope of the regulator as the kind has it, from two points of its own current. [S]"""
    out = []
    for r_load in (60.0, 30.0):
        net = network(
            {
                "brick": source(15.0, 0.05),
                "charger": ("charger", {"input": "in", "output": "bus"}, charger),
                "load": ohms("bus", "return", r_load),
            }
        )
        found = rest(build(net))
        volts = found.v[0, at(net, "bus")]
        out.append((volts, volts / r_load))
    (v1, i1), (v2, i2) = out
    return (i2 - i1) / (v1 - v2)


def _row(system, part, state):
    for g in system.groups:
        for k, member in enumerate(g.members):
            if system.network.parts[member].name == part:
                return g.x0 + g.program.states.index(state) * g.n + k
    raise KeyError(part)


def test_a_part_warms_up_with_one_time_constant():
    warm = {"thermal_resistance": 50.0, "heat_capacity": 2.0}
    net = network({"brick": source(10.0, 0.01, thermal_resistance=1e-3), "load": ohms("in", "return", 100.0, **warm)})
    system = build(net)
    start = rest(system, Condition(ambient=ROOM))
    waves = march(system, start.state, until=500.0)
    t, one, inside = along(waves, 0)
    seen = readings(one, inside)
    power = seen.heat["load"][0]
    rise = seen.quantity["load", "temperature [K]"] - inside.V[-1]
    np.testing.assert_allclose(rise, 50.0 * power * (1.0 - np.exp(-t / 100.0)), atol=0.02)
    assert power == pytest.approx(1.0, rel=1e-3)


def test_known_instants_are_met_exactly_and_stand_twice():
    _, system, start = decaying()
    instants = (0.01234567, 0.05, 0.1)
    changes = [Change(s, "switch", "closed", float(k % 2)) for k, s in enumerate(instants)]
    t = march(system, start.state, changes, until=0.2).case(0).t
    for s in instants:
        assert np.count_nonzero(t == s) == 2
    assert t[-1] == 0.2
    assert np.all(np.diff(t) >= 0.0)


def test_a_guard_is_located_in_time():
    """A load resets when its own input has fallen to a limit, at an instant that is known in closed form."""
    load = {"law": "resistance", "power": 1.44, "nominal_voltage": 12.0, "capacitance": 1e-3, "resets_below": 6.0}
    load["restarts_above"] = 11.0
    net = network({"brick": source(12.0, 0.01), "switch": switch("in", "bus"), "load": ("load", {"plus": "bus"}, load)})
    system = build(net)
    start = rest(system)
    waves = march(system, start.state, [OPEN], until=0.2)
    t, one, inside = along(waves, 0)
    seen = readings(one, inside)
    states = seen.machine["load", "work"]
    v0 = seen.state["load", "input"][0]
    expected = 0.1 * np.log(v0 / 6.0)
    assert t[states.index("reset")] == pytest.approx(expected, abs=5e-6)
    k = states.index("reset")
    assert seen.state["load", "input"][k] == pytest.approx(6.0, abs=2e-5)


def passage(seed: int, **options):
    case = draw(seed)
    system = build(case.network)
    states = {("pack", "charge"): case.charge, ("pack", "weak_charge"): case.charge - 0.01}
    start = rest(system, Condition(states=states, ambient=case.ambient))
    return march(system, start.state, [Change(*s) for s in case.signals()], until=case.until, **options)


@pytest.mark.parametrize("seed", [1, 2, 4, 7, 8, 14, 16])
def test_energy_balances_over_an_outage_and_return(seed):
    waves = passage(seed)
    assert waves.outcome[0] == ENDED
    assert abs(waves.imbalance[0]) < 1e-4 * waves.throughput[0]


def varied_outage(which, count=5):
    """One supply with diodes, cases that differ in load and hold-up; the last one's load is far too large."""
    case = draw(4)
    rng = np.random.default_rng(3)
    power = rng.uniform(1.0, 5.0, count)
    hold_up = rng.uniform(5e-4, 4e-3, count)
    on = rng.uniform(0.1, 0.5, count)
    system = build(
        case.network, {("modem", "power"): power[which], ("hold-up", "capacitance"): hold_up[which]}, count=len(which)
    )
    states = {("pack", "charge"): case.charge, ("pack", "weak_charge"): case.charge - 0.01}
    start = rest(system, Condition(states=states))
    changes = [Change(0.02, "brick", "mains", 0.0), Change(on[which], "brick", "mains", 1.0)]
    return march(system, start.state, changes, until=0.6)


def test_a_case_alone_equals_itself_in_any_company_and_order():
    together = varied_outage(np.arange(5))
    order = np.array([3, 0, 4, 2, 1])
    shuffled = varied_outage(order)
    for k in range(5):
        alone = varied_outage(np.array([k])).case(0)
        for waves, place in ((together, k), (shuffled, int(np.flatnonzero(order == k)[0]))):
            other = waves.case(place)
            assert other.t.shape == alone.t.shape
            assert nearly(other.t, alone.t) < 1e-9
            assert nearly(other.v, alone.v) < 1e-9


def test_a_case_that_runs_out_of_steps_does_not_stop_its_neighbours():
    """Each case has its own number of steps; the one with a thousand changes needs too many."""
    net, system, start = decaying()
    system = build(net, count=3)
    start = rest(system)
    changes = [
        Change(np.where(np.arange(3) == 1, 1e-4 * k, 1.0 + k), "switch", "closed", float(k % 2)) for k in range(200)
    ]
    waves = march(system, start.state, changes, until=0.1, most_steps=150)
    assert list(waves.outcome) == [ENDED, FAILED, ENDED]
    assert nearly(waves.case(0).v, waves.case(2).v) == 0.0
    assert waves.case(0).t[-1] == 0.1


@settings(max_examples=8, deadline=None)
@given(
    power=st.floats(1.0, 20.0),
    esr=st.floats(0.01, 0.15),
    smaller=st.floats(1e-3, 1e-2),
    more=st.floats(1.02, 3.0),
)
def test_more_capacitance_never_shortens_hold_up(power, esr, smaller, more):
    load = {"law": "power", "power": power, "nominal_voltage": 12.0, "capacitance": 1e-4}
    net = network(
        {
            "brick": source(12.0, 0.01),
            "switch": switch("in", "bus"),
            "store": storage(1e-3, esr),
            "load": ("load", {"plus": "bus"}, load),
        }
    )
    system = build(net, {("store", "capacitance"): np.array([smaller, smaller * more])}, count=2)
    start = rest(system)
    waves = march(system, start.state, [OPEN], until=10.0, watch=Watch(at(net, "bus"), 8.0), keep=[at(net, "bus")])
    assert np.all(waves.outcome == STOPPED)
    assert waves.case(1).t[-1] > waves.case(0).t[-1]


def test_finished_cases_wait_for_the_others():
    net, _, _ = decaying()
    system = build(net, count=3)
    start = rest(system)
    waves = march(system, start.state, [OPEN], until=np.array([0.01, 0.3, 0.05]))
    assert [waves.case(k).t[-1] for k in range(3)] == [0.01, 0.3, 0.05]
