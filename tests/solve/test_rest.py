"""Standing points against closed forms, and the honest outcomes where there is none."""

from __future__ import annotations

import numpy as np
import pytest
from judge.generate import draw
from scipy.special import lambertw

from tideover.design import examine_text
from tideover.laws import stability
from tideover.laws.constants import thermal_voltage
from tideover.network import settle
from tideover.solve import OUTCOMES, Condition, build, readings, rest

from .workbench import ROOM, at, nearly, network, ohms, source

FOUND, NO_POINT, CHATTER = (OUTCOMES.index(o) for o in ("found", "no standing point", "chatter"))
POWER = {"law": "power", "nominal_voltage": 12.0, "input_resistance": 1e-3}


def test_divider():
    net = network({"brick": source(10.0, 0.1), "upper": ohms("in", "tap", 3.9), "lower": ohms("tap", "return", 6.0)})
    found = rest(build(net))
    assert found.v[0, at(net, "tap")] == pytest.approx(6.0, abs=1e-9)
    assert found.v[0, 0] == 0.0


def diode(i_s: float, n: float, r_s: float, **more: float) -> dict[str, float]:
    return {"saturation_current": i_s, "ideality": n, "series_resistance": r_s, "leakage": 0.0, **more}


def series_current(volts: float, i_s: float, n: float, r: float) -> float:
    """A source, a junction and a resistance in a ring, by the Lambert W function."""
    unit = n * thermal_voltage(ROOM)
    return float(unit / r * lambertw(i_s * r / unit * np.exp((volts + i_s * r) / unit)).real - i_s)


@pytest.mark.parametrize("volts", [3.0, 5.0])
def test_diode_into_a_resistance_agrees_with_lambert_w(volts):
    given = (2e-6, 1.1, 0.05)
    cold = diode(*given, thermal_resistance=1e-3)
    net = network(
        {
            "brick": source(volts, 0.2, current_limit=5.0),
            "diode": ("diode", {"anode": "in", "cathode": "bus"}, cold),
            "load": ohms("bus", "return", 9.0),
        }
    )
    found = rest(build(net))
    i = series_current(volts, given[0], given[1], 0.2 + given[2] + 9.0)
    assert found.v[0, at(net, "bus")] == pytest.approx(9.0 * i, rel=1e-6)


def test_of_two_sources_behind_diodes_the_higher_one_feeds_and_the_lower_one_is_blocked():
    given = (2e-6, 1.1, 0.05)
    two = {
        "brick": source(5.0, 0.2, current_limit=5.0),
        "other": ("adapter", {"plus": "low"}, {**source(4.0, 0.2, current_limit=5.0)[2]}),
        "diode": ("diode", {"anode": "in", "cathode": "bus"}, diode(*given)),
        "blocked": ("diode", {"anode": "low", "cathode": "bus"}, diode(*given)),
        "bleed": ohms("low", "return", 10.0),
        "load": ohms("bus", "return", 9.0),
    }
    system = build(network(two))
    found = rest(system)
    i = series_current(5.0, given[0], given[1], 9.25)
    # The blocked junction lets its saturation current back, which the load does not get.
    assert found.v[0, at(system.network, "bus")] == pytest.approx(9.0 * (i - given[0]), rel=1e-5)
    back = readings(system, found.state).quantity["blocked", "current [A]"][0]
    assert back == pytest.approx(-given[0], rel=1e-3)


def nose(power, r: float = 1.0, **given) -> tuple:
    """A constant-power load behind a resistance, one case for each power."""
    power = np.atleast_1d(np.asarray(power, dtype=float))
    net = network(
        {
            "brick": source(12.0, 0.1, current_limit=90.0),
            "line": ohms("in", "load", r - 0.1 - 1e-3),
            "load": ("load", {"plus": "load"}, {**POWER, "power": 1.0, **given}),
        }
    )
    return build(net, {("load", "power"): power}, count=len(power)), net


def test_constant_power_rests_on_the_upper_root():
    power = np.array([15.0, 25.0, 33.0, 35.0])
    system, _ = nose(power)
    found = rest(system)
    inner = readings(system, found.state).state["load", "input"]
    assert np.all(found.outcome == FOUND)
    np.testing.assert_allclose(inner, stability.standing_voltage(12.0, power, 1.0), rtol=1e-6)


def test_past_the_limit_there_is_no_standing_point_and_before_it_there_is():
    limit = stability.power_limit(12.0, 1.0)
    system, _ = nose(limit * np.array([0.5, 0.999, 1.01, 1.5, 4.0]))
    found = rest(system)
    assert [OUTCOMES[o] for o in found.outcome] == ["found"] * 2 + ["no standing point"] * 3


def test_distance_to_the_limit_found_by_bisection_is_the_load_factor():
    """Scaling the demand until the point vanishes gives lambda = V^2 / 4 R P, which is what a user is told."""
    system, _ = nose([20.0])
    low, high = 1.0, 3.0
    for _ in range(30):
        middle = 0.5 * (low + high)
        found = rest(system, Condition(signals={("load", "demand"): middle}))
        low, high = (middle, high) if found.outcome[0] == FOUND else (low, middle)
    assert low == pytest.approx(stability.load_factor(12.0, 20.0, 1.0), rel=1e-4)


def hiccup():
    adapter = {"current_limit": 2.0, "rated_current": 1.5, "overload": "hiccup"}
    adapter |= {"overload_time": 0.02, "retry_time": 0.4}
    return rest(build(network({"brick": source(12.0, 0.1, **adapter), "load": ohms("in", "return", 3.0)})))


def test_hiccup_adapter_in_overload_alternates():
    found = hiccup()
    assert OUTCOMES[found.outcome[0]] == "chatter"
    assert np.isnan(found.v[0]).all()
    assert found.chatter[0][0] == 0


def test_alternation_of_one_part_is_told_with_its_states_and_its_period():
    _, period, states = hiccup().chatter[0]
    assert period == pytest.approx(0.42, rel=1e-6)
    assert {"brick: overloaded", "brick: pausing"} <= set(states)


def converter_on_a_pack(charge: float, r: float) -> tuple:
    net = network(
        {
            "pack": (
                "pack",
                {"plus": "in", "tap": "tap"},
                {"chemistry": "NMC", "series": 3, "capacity": 9000.0, "resistance": 0.05, "parallel": 1},
            ),
            "line": ohms("in", "far", r),
            "bypass": ohms("tap", "return", 1e6),
            "boost": (
                "buck-boost",
                {"input": "far", "output": "out"},
                {
                    "set_voltage": 12.0,
                    "current_limit": 8.0,
                    "lockout_off": 8.5,
                    "lockout_on": 9.0,
                    "switching_frequency": 4e5,
                },
            ),
            "load": ("load", {"plus": "out"}, {**POWER, "power": 12.0}),
        }
    )
    system = build(net)
    states = {("pack", "charge"): charge, ("pack", "weak_charge"): charge}
    return system, rest(system, Condition(states=states))


def test_near_empty_pack_behind_thin_wire_makes_the_lockout_alternate():
    """Locked out the pack recovers above the upper threshold; switched on it sags below the lower one."""
    _, full = converter_on_a_pack(0.8, 1.5)
    _, empty = converter_on_a_pack(0.05, 1.5)
    _, thick = converter_on_a_pack(0.05, 0.05)
    assert full.outcome[0] == FOUND
    assert empty.outcome[0] == CHATTER
    assert any("locked out" in s for s in empty.chatter[0][2])
    assert thick.outcome[0] == FOUND


@pytest.mark.parametrize("seed", range(1, 21))
def test_currents_balance_at_every_node(seed):
    case = draw(seed)
    states = {("pack", "charge"): case.charge, ("pack", "weak_charge"): case.charge - 0.01}
    found = rest(build(case.network), Condition(states=states, ambient=case.ambient))
    assert found.outcome[0] == FOUND
    assert found.residual[0] <= 1e-9 + 1e-9 * found.scale[0], case.network.nodes[found.worst[0]]


def mixed(count: int) -> tuple:
    """One supply without a converter, cases that differ in load, wire and charge; the third cannot stand."""
    net = network(
        {
            "pack": (
                "pack",
                {"plus": "in", "tap": "tap"},
                {"chemistry": "NMC", "series": 3, "capacity": 9000.0, "resistance": 0.05, "parallel": 1},
            ),
            "sense": ohms("tap", "return", 1e6),
            "line": ohms("in", "load", 0.5),
            "modem": ("load", {"plus": "load"}, {**POWER, "power": 1.0}),
            "store": ("capacitor", {"plus": "load"}, {"capacitance": 1e-3}),
        }
    )
    rng = np.random.default_rng(7)
    power = rng.uniform(1.0, 20.0, count)
    power[2] = 200.0
    varied = {
        ("modem", "power"): power,
        ("line", "resistance"): rng.uniform(0.1, 0.8, count),
        ("store", "leakage"): np.where(np.arange(count) % 2, 0.0, 1e-5),
    }
    charge = rng.uniform(0.3, 0.9, count)
    return net, varied, charge


def run_rest(net, varied, charge, which):
    system = build(net, {k: v[which] for k, v in varied.items()}, count=len(which))
    states = {("pack", "charge"): charge[which], ("pack", "weak_charge"): charge[which] - 0.01}
    return rest(system, Condition(states=states))


def test_a_case_alone_equals_itself_in_any_company_and_order():
    net, varied, charge = mixed(7)
    together = run_rest(net, varied, charge, np.arange(7))
    order = np.random.default_rng(1).permutation(7)
    shuffled = run_rest(net, varied, charge, order)
    assert together.outcome[2] != FOUND
    for k in range(7):
        alone = run_rest(net, varied, charge, np.array([k]))
        place = int(np.flatnonzero(order == k)[0])
        assert alone.outcome[0] == together.outcome[k] == shuffled.outcome[place]
        if together.outcome[k] == FOUND:
            assert nearly(alone.v[0], together.v[k]) < 1e-9
            assert nearly(alone.v[0], shuffled.v[place]) < 1e-9


def test_one_failing_neighbour_leaves_the_others_found():
    net, varied, charge = mixed(7)
    found = run_rest(net, varied, charge, np.arange(7))
    assert np.all(found.outcome[[0, 1, 3, 4, 5, 6]] == FOUND)
    assert np.isfinite(found.v[[0, 1, 3, 4, 5, 6]]).all()


def test_beginning_near_a_known_point_reaches_the_same_one():
    system, _ = nose([15.0, 25.0])
    first = rest(system)
    again = rest(system, Condition(signals={("load", "demand"): 1.2}), near=first.state)
    fresh = rest(system, Condition(signals={("load", "demand"): 1.2}))
    assert np.all(again.outcome == fresh.outcome)
    assert nearly(again.v, fresh.v) < 1e-9


def test_a_search_from_nothing_climbs_to_the_highest_pack():
    """Thirteen and twenty cells in series: a step of Newton's method takes no node further than a few volts."""
    for cells, volts in ((13, 13 * 4.185), (20, 20 * 4.185)):
        text = f"""
tideover: 1
title: High
need: {{at: load, window: 30 V to 100 V}}
parts:
  pack: {{kind: pack, chemistry: NMC, series: {cells}, capacity: 2.6 Ah, resistance: 45 mΩ}}
  lamp: {{kind: load, law: resistance, power: 1 W, nominal voltage: 48 V}}
joins:
  - pack > (load) > lamp
box: {{width: 150 mm, depth: 100 mm, height: 50 mm}}
"""
        net = settle(examine_text(text))
        point = rest(build(net))
        assert OUTCOMES[point.outcome[0]] == "found"
        assert point.v[0, net.at] == pytest.approx(volts, rel=2e-3)


def test_an_open_switch_leaves_what_hangs_behind_it_defined():
    net = network(
        {
            "brick": source(12.0, 0.1),
            "switch": ("switch", {"a": "in", "b": "out"}, {"contact_resistance": 0.01}),
            "load": ohms("out", "return", 100.0),
        }
    )
    system = build(net)
    off = rest(system, Condition(signals={("switch", "closed"): 0.0}))
    on = rest(system)
    fed = off.v[0, at(net, "in")]
    assert fed == pytest.approx(12.0, abs=0.01)
    assert off.v[0, at(net, "out")] == pytest.approx(fed * 100.0 / (100.0 + 1e8), rel=1e-6)
    assert on.v[0, at(net, "out")] == pytest.approx(on.v[0, at(net, "in")] * 100.0 / 100.01, rel=1e-6)


def test_a_case_is_searched_for_in_the_same_steps_in_any_company():
    """Counted work shows company that equal digits hide: the search's own tolerance once followed its neighbours."""
    powers = [1.0, 20.0, 35.9, 60.0]
    together = rest(nose(powers)[0])
    alone = [rest(nose([p])[0]).iterations[0] for p in powers]
    assert together.iterations.tolist() == alone
