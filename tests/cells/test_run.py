"""Following one cell: the equations of the engine's pack, judged by integrating those themselves."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tideover.cells.log import Log
from tideover.cells.model import PER_CASE, cell_cases, nearest_item, numbers, of_item
from tideover.cells.run import CellCases, Load, Rows, discharge, simulate
from tideover.laws.cell_curve import CellCurve
from tideover.parts.pack import PACK
from tideover.solve.look import Look, complete
from tideover.solve.system import Curves

KNOTS = np.array([0.0, 0.02, 0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0])
CURVE = CellCurve(
    KNOTS,
    np.array([2.5, 2.95, 3.15, 3.3, 3.45, 3.6, 3.75, 3.95, 4.17]),
    np.array([3.0, 2.2, 1.7, 1.3, 1.1, 1.0, 1.0, 1.0, 1.1]),
    np.array([9.0, 6.0, 3.5, 2.0, 1.4, 1.0, 1.0, 1.1, 1.3]),
)
AMBIENT = 293.15


def own() -> dict[str, float]:
    model = of_item(nearest_item("NMC", 2.6 * 3600.0))
    return {**numbers(model), "joint_resistance": 0.0, "resistance_spread": 0.0, "capacity_spread": 0.0}


def cases(hysteresis: float = 0.0) -> CellCases:
    p = {**own(), "hysteresis": hysteresis}
    return CellCases(
        KNOTS,
        np.array([CURVE.volts]),
        np.array([CURVE.ohmic_shape]),
        np.array([CURVE.lag_shape]),
        *(np.array([p[name]]) for name in PER_CASE),
        leads=np.zeros(1),
    )


def engine(law: str, level: float, cutoff: float, hysteresis: float = 0.0):
    """The pack's own equations, one cell in one group, integrated to close tolerances: the independent judge."""
    p = {**own(), "hysteresis": hysteresis, "series": 1.0, "parallel": 1.0, "cells_per_unit": 1.0, "growth": 1.0}
    p["resistance_curve"] = 1.0
    curves = Curves(CURVE.open_circuit, CURVE.ohmic, CURVE.lag)
    names = [s.name for s in PACK.states]

    def flow(x, u):
        state = {name: np.array([[value]]) for name, value in zip(names, x[:5])}
        v = {"plus": np.array([[u]]), "minus": np.zeros((1, 1)), "tap": np.array([[u]])}
        q = Look(PACK, v, state, {k: np.array([[k_]]) for k, k_ in p.items()}, {}, {}, x[5], AMBIENT, curves)
        return complete(PACK.equations(q), q)

    def current(x, u):
        return float(np.ravel(flow(x, u).shown["discharge current [A]"])[0])

    def volts(x):
        i0, i1 = current(x, 0.0), current(x, 1.0)
        ohms = 1.0 / (i0 - i1)
        emf = i0 * ohms
        if law == "current":
            return emf - level * ohms
        if law == "resistance":
            return emf * level / (level + ohms)
        return 0.5 * (emf + np.sqrt(emf * emf - 4.0 * level * ohms))

    def rates(t, x):
        f = flow(x, volts(x))
        return [float(np.ravel(f.rates[name])[0]) for name in (*names, "temp")]

    def empty(t, x):
        return volts(x) - cutoff

    empty.terminal = True
    x0 = np.array([1.0, 1.0, 0.0, 0.0, 0.0, AMBIENT])
    found = solve_ivp(rates, (0.0, 2e5), x0, method="LSODA", rtol=1e-8, atol=1e-10, events=empty, dense_output=True)
    return found.t[-1], found.sol, volts


@pytest.mark.parametrize(
    ("law", "level", "hysteresis"),
    [("current", 0.5, 0.0), ("current", 5.0, 0.015), ("power", 12.0, 0.0), ("resistance", 1.0, 0.0)],
)
def test_a_discharge_is_that_of_the_engines_pack(law, level, hysteresis):
    runtime, sol, volts = engine(law, level, 2.6, hysteresis)
    found = discharge(cases(hysteresis), Load.constant(law, level), 2.6, ambient=AMBIENT)
    assert found.runtime[0] == pytest.approx(runtime, rel=1e-3)
    inside = (found.t > 0.0) & (found.t < 0.995 * runtime)
    judge = np.array([volts(sol(t)) for t in found.t[inside]])
    assert np.abs(found.v[0, inside] - judge).max() < 1e-3 * (1.0 if law == "current" else 2.0)
    assert found.end_temp[0] == pytest.approx(sol(runtime)[5], abs=0.1)


@pytest.mark.parametrize("warm", [False, True])
def test_following_a_log_is_following_the_engines_pack(warm):
    runtime, sol, volts = engine("current", 2.6, 2.6)
    t = np.linspace(0.0, runtime, 400)
    v = np.array([volts(sol(x)) for x in t])
    temp = np.array([sol(x)[5] for x in t])
    log = Log("a", t, v, np.full(400, 2.6), temp if warm else None)
    run = simulate(cases(), Rows.of(log, ambient=AMBIENT))
    # The first row has no time before it in which the pairs could follow; all others have.
    assert np.abs(run.v[0, 1:] - v[1:]).max() < 1.5e-3
    assert np.abs(run.temp[0] - temp).max() < 0.1


def test_a_hole_in_the_record_is_a_rest():
    """Charge taken out unseen counts, and the pairs have relaxed."""
    t = np.array([0.0, 10.0, 20.0, 36020.0, 36030.0])
    i = np.array([0.0, 2.0, 2.0, 0.0, 0.0])
    charge = np.array([0.0, 20.0, 40.0, 4680.0, 4680.0])
    log = Log("a", t, np.full(5, 3.7), i, None, charge, breaks=(3,))
    run = simulate(cases(), Rows.of(log, ambient=298.15))
    one = cases()
    assert run.charge[0, 3] == pytest.approx(0.5)
    assert run.v[0, 3] == pytest.approx(float(one.at(run.charge[:, 3:4].T)[0][0, 0]), abs=1e-6)


def test_cases_do_not_know_of_each_other():
    one = cases()
    two = CellCases(
        **{
            **{
                k: np.repeat(v, 2, axis=0) if isinstance(v, np.ndarray) and k != "knots" else v
                for k, v in one.__dict__.items()
                if k != "curves"
            },
            "resistance": np.array([0.045, 0.09]),
        }
    )
    alone = discharge(one, Load.constant("power", 8.0), 2.8)
    both = discharge(two, Load.constant("power", 8.0), 2.8)
    assert both.runtime[0] == pytest.approx(alone.runtime[0], rel=1e-9)
    assert both.runtime[1] < 0.97 * both.runtime[0]
    assert both.energy[0] == pytest.approx(8.0 * both.runtime[0], rel=1e-3)


def test_a_table_repeats_until_the_cell_is_empty():
    table = Load.table("current", np.array([0.0, 60.0, 120.0]), np.array([4.0, 0.0, 1.0]))
    found = discharge(cases(), table, 2.6)
    assert found.charge[0] / found.runtime[0] == pytest.approx(5.0 / 3.0, rel=0.02)
    slow = discharge(cases(), Load.constant("current", 5.0 / 3.0), 2.6)
    assert 0.9 * slow.runtime[0] < found.runtime[0] < slow.runtime[0]


def test_a_power_beyond_reach_ends_at_once_and_no_load_never():
    assert discharge(cases(), Load.constant("power", 500.0), 2.6).runtime[0] == 0.0
    assert np.isinf(discharge(cases(), Load.constant("current", 0.0), 2.6, until=1e6).runtime[0])


def test_the_shelf_has_something_like_every_chemistry():
    for word in ("NMC", "NCA", "LFP", "LTO", "LCO", "PbA"):
        model = of_item(nearest_item(word, 3.0 * 3600.0))
        found = discharge(
            cell_cases(model),
            Load.constant("current", numbers(model)["capacity"] / 7200.0),
            numbers(model)["lowest_voltage"],
        )
        assert 0.8 < found.charge[0] / numbers(model)["capacity"] < 1.3


def test_the_noise_of_a_thermometer_is_not_taken_for_the_cell() -> None:
    """Noise from row to row would move the resistance with it, and say that it does not follow the temperature."""
    rng = np.random.default_rng(4)
    t = np.unique(np.concatenate([np.arange(0.0, 900.0, 5.0), np.arange(900.0, 3600.0, 20.0)]))
    true = 298.0 + 12.0 * (1.0 - np.exp(-t / 900.0))
    log = Log("warm.csv", t, np.full_like(t, 3.7), np.zeros_like(t), true + 0.2 * rng.standard_normal(len(t)))
    temp = Rows.of(log).temp
    assert temp is not None
    inside = (t > 60.0) & (t < t[-1] - 60.0)
    assert np.sqrt(np.mean((temp - true)[inside] ** 2)) < 0.09
    even = Rows.of(Log("even.csv", t, log.v, log.i, 290.0 + 0.01 * t)).temp
    np.testing.assert_allclose(even, 290.0 + 0.01 * t, atol=1e-9)
