"""Sharing in time: against the ladder at the first instant, and against IDA on equations written apart."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from .built import PACK, pack
from tideover.cells.sharing import CHARGE, DISCHARGE, HOLD, REST, Case, Phase, run, shared_evenly
from tideover.design import welded
from tideover.laws.cells import KNOTS, OCV
from tideover.laws.sharing import ladder_currents

CAPACITY = [2.1, 2.5, 2.3, 2.6, 1.9, 2.4, 2.2, 2.55]
OHMS = [72.0, 58.0, 64.0, 55.0, 90.0, 60.0, 69.0, 57.0]
NICKEL = "{along: {width: 8 mm, thickness: 0.15 mm, material: nickel}, pitch: 20 mm, weld: 0.3 mΩ}"
LOAD = 12.0


@pytest.fixture
def eight(tmp_path):
    return pack(tmp_path, [CAPACITY], [OHMS], NICKEL)


def test_the_first_instant_is_the_ladder(eight):
    course = run(eight, PACK, [Phase(DISCHARGE, current=LOAD, longest=1.0)], [Case("nominal")])[0]
    strips = welded.network(eight)
    r_cell = welded.cell_growths(eight, PACK) * eight.cell.values["resistance"].nominal + 0.6e-3
    volts = np.full(8, OCV["NMC"][-1])
    expected = ladder_currents(volts, r_cell, strips.ohms[0], LOAD, "same end")
    np.testing.assert_allclose(course.cells[0], expected, rtol=1e-9)


def test_a_long_run_agrees_with_ida(eight):
    """1S8P, unequal cells, both leads at the first: 12 A to the cut-off, then half an hour of rest."""
    phases = [Phase(DISCHARGE, current=LOAD), Phase(REST, longest=1800.0)]
    course = run(eight, PACK, phases, [Case("nominal")])[0]
    judge = _judge(eight)
    t, cells, empty = judge.discharge(LOAD, 2.75)
    assert course.lasted(0) == pytest.approx(empty, rel=1e-3)
    mask = course.during(0)
    for at in np.linspace(0.0, 0.995 * empty, 60):
        ours = [np.interp(at, course.t[mask], course.cells[mask][:, k]) for k in range(8)]
        theirs = [np.interp(at, t, cells[:, k]) for k in range(8)]
        np.testing.assert_allclose(ours, theirs, atol=0.005 * LOAD / 8)
    mask = course.during(1)
    t, cells = judge.rest(1800.0)
    for at in np.linspace(0.0, 1800.0, 30):
        ours = [np.interp(at, course.t[mask] - course.lasted(0), course.cells[mask][:, k]) for k in range(8)]
        np.testing.assert_allclose(ours, [np.interp(at, t, cells[:, k]) for k in range(8)], atol=0.005 * LOAD / 8)


def test_all_energy_is_accounted_for(eight):
    phases = [
        Phase(DISCHARGE, power=45.0),
        Phase(REST, longest=1800.0),
        Phase(CHARGE, current=6.0),
        Phase(HOLD, current=0.5),
    ]
    for course in run(eight, PACK, phases, [Case("nominal"), Case("cold", 273.15)]):
        assert course.ended == ("limit", "time", "limit", "small current")
        assert sum(course.energy.values()) == pytest.approx(0.0, abs=2e-3 * course.energy["cells"])
        mask = course.during(0)
        np.testing.assert_allclose(course.current[mask] * course.volts[mask], 45.0, rtol=1e-6)
        np.testing.assert_allclose(course.cells.sum(axis=1), course.current, atol=1e-6)
        # What charged it is what it has more; the leak of two hours is far smaller than the tolerance.
        gained = np.sum((course.charge[-1] - course.charge[0]) * 3600.0 * np.array(CAPACITY))
        moved = -np.trapezoid(course.current, course.t)
        assert gained == pytest.approx(moved, abs=2e-4 * 3600.0 * sum(CAPACITY))


def test_cells_alike_without_strips_share_evenly_and_agree_with_the_mean_cell(tmp_path):
    twins = pack(tmp_path, [[2.4] * 3] * 2, [[60.0] * 3] * 2)
    phases = [Phase(DISCHARGE, current=6.0)]
    course = run(twins, PACK, phases, [Case("nominal")])[0]
    np.testing.assert_allclose(course.cells, 2.0, rtol=1e-9)
    even = shared_evenly(twins, PACK, phases, Case("nominal"))
    assert course.lasted(0) == pytest.approx(even.lasted(0), rel=1e-6)


def test_the_weakest_group_ends_the_discharge(tmp_path):
    weak = pack(tmp_path, [[2.4, 2.4], [2.0, 2.1], [2.4, 2.5]], [[60.0, 60.0]] * 3, NICKEL)
    course = run(weak, PACK, [Phase(DISCHARGE, current=2.0)], [Case("nominal")])[0]
    assert course.groups[-1].argmin() == 1
    assert course.groups[-1][1] == pytest.approx(2.75, abs=2e-5)
    assert course.volts[-1] == pytest.approx(course.groups[-1].sum(), abs=0.01)


def test_an_open_weld_leaves_its_cell_out(eight):
    welds = np.full(8, 0.6e-3)
    welds[2] = np.inf
    course = run(eight, PACK, [Phase(DISCHARGE, current=LOAD)], [Case("open", welds=welds)])[0]
    np.testing.assert_allclose(course.cells[:, 2], 0.0, atol=1e-12)
    assert course.given(0) < 3600.0 * (sum(CAPACITY) - CAPACITY[2])
    assert np.isfinite(course.groups).all()


def test_more_power_than_the_pack_can_give_is_a_collapse(eight):
    course = run(eight, PACK, [Phase(DISCHARGE, power=5000.0)], [Case("nominal")])[0]
    assert course.ended == ("collapse",)


class _judge:
    """One group on a ladder with both leads at its first cell, as residuals for IDA.

    Unknowns: charge, two pairs and temperature of every cell, then the voltages of both strips at every cell.
    """

    def __init__(self, pack):
        given = {name: value.nominal for name, value in pack.cell.values.items() if hasattr(value, "nominal")}
        self.q = 3600.0 * np.array(CAPACITY)
        # Measured one second after a step; what a common cell drops by then is its resistance and a little of its pairs.
        pairs = [(given[f"{p}_resistance"], given[f"{p}_capacitance"]) for p in ("fast", "slow")]
        one = given["resistance"] + sum(r * (1.0 - np.exp(-1.0 / (r * c))) for r, c in pairs)
        self.growth = 1e-3 * np.array(OHMS) / one
        self.r0, self.pairs = given["resistance"], pairs
        self.activation = given.get("activation_energy", 20000.0)
        self.leak = given.get("self_discharge", 0.02) / 2.63e6
        self.cooled = given.get("thermal_resistance", 24.0), given.get("heat_capacity", 46.0)
        self.bar = 6.99e-8 * 0.020 / (8e-3 * 0.15e-3) * (1.0 + 0.006 * 5.0)
        self.curve = PchipInterpolator(KNOTS, OCV["NMC"])
        self.below = float(self.curve.derivative()(0.0))
        self.load = 0.0
        self.y = np.concatenate([np.ones(8), np.zeros(16), np.full(8, 298.15), np.full(8, 4.1), np.zeros(8)])

    def ocv(self, z):
        beyond = np.minimum(z, 0.0)
        inside = np.clip(z, 0.0, 1.0)
        return self.curve(inside) + beyond * self.below

    def residual(self, t, y, yp, res):
        z, v1, v2, temp, above, under = y.reshape(6, 8)
        warm = self.growth * np.exp(self.activation / 8.314462618 * (1.0 / temp - 1.0 / 298.15))
        low = np.maximum(0.2 - z, 0.0)
        r0 = self.r0 * warm * (1.0 + 25.0 * low**2)
        i = (self.ocv(z) - v1 - v2 - (above - under)) / (r0 + 0.6e-3)
        (ra, ca), (rb, cb) = self.pairs
        res[0:8] = yp[0:8] + i / self.q + self.leak * z
        res[8:16] = yp[8:16] - (i - v1 / (ra * warm)) / ca
        res[16:24] = yp[16:24] - (i - v2 / (rb * warm)) / cb
        joule = i * i * r0 + v1**2 / (ra * warm) + v2**2 / (rb * warm) + self.ocv(z) * self.leak * z * self.q
        r, c = self.cooled
        res[24:32] = yp[24:32] - (joule - (temp - 298.15) / r) / c
        flow = np.diff(above) / self.bar  # towards the first cell
        res[32:40] = i + np.append(flow, 0.0) - np.append(0.0, flow)
        res[32] -= self.load
        back = -np.diff(under) / self.bar  # away from the first cell
        res[40:48] = -i - np.append(back, 0.0) + np.append(0.0, back)
        res[40] = under[0]

    def solver(self, **more):
        from sksundae.ida import IDA

        return IDA(
            self.residual,
            algebraic_idx=np.arange(32, 48),
            calc_initcond="yp0",
            rtol=1e-8,
            atol=1e-9,
            max_step=20.0,
            **more,
        )

    def consistent(self):
        """Voltages of the strips for the present states: linear in them, so one step of Newton's method."""

        def left(v):
            y = np.concatenate([self.y[:32], v])
            res = np.zeros(48)
            self.residual(0.0, y, np.zeros(48), res)
            return res[32:]

        v = self.y[32:]
        base = left(v)
        matrix = np.array([left(v + unit) - base for unit in np.eye(16)]).T
        self.y[32:] = v - np.linalg.solve(matrix, base)

    def currents(self, y):
        z, v1, v2, temp, above, under = y.T.reshape(6, 8, -1)
        warm = self.growth[:, None] * np.exp(self.activation / 8.314462618 * (1.0 / temp - 1.0 / 298.15))
        r0 = self.r0 * warm * (1.0 + 25.0 * np.maximum(0.2 - z, 0.0) ** 2)
        return ((self.ocv(z) - v1 - v2 - (above - under)) / (r0 + 0.6e-3)).T

    def discharge(self, load, stop):
        self.load = load
        self.consistent()

        def empty(t, y, yp, g):
            g[0] = y[32] - y[40] - stop

        empty.terminal, empty.direction = [True], [-1]
        found = self.solver(eventsfn=empty, num_events=1).solve(np.array([0.0, 20000.0]), self.y, np.zeros(48))
        self.y = found.y[-1].copy()
        return found.t, self.currents(found.y), found.t[-1]

    def rest(self, time):
        self.load = 0.0
        self.consistent()
        found = self.solver().solve(np.array([0.0, time]), self.y, np.zeros(48))
        return found.t, self.currents(found.y)
