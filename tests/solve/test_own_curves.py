"""Packs whose cells have curves of their own: the march against the equations written out, and against machine code."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from cells.builds import lay
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator

from tideover.laws.cell_curve import CellCurve, beside
from tideover.laws.cells import KNOTS, OCV, Curve
from tideover.network import load
from tideover.solve import Condition, build, march, native, rest

CHARGE, VOLTS = [0.0, 0.1, 0.5, 1.0], [2.90, 3.35, 3.68, 4.18]
OHMIC, LAG = [3.1, 1.4, 1.0, 1.1], [4.2, 1.8, 1.0, 0.9]
TESTER = """\
tideover: 1
title: Tester
need: {at: sink, window: 2 V to 9 V, ambient: 25 °C}
parts:
  cells: {from: cells/spool.yaml, series: 1, capacity spread: 0, resistance spread: 0, joint resistance: 0 Ω,
    self discharge: 0, activation energy: 0 J/mol}
  sink: {kind: load, law: current, power: 8.4 W, nominal voltage: 3.5 V, resets below: 0 V}
joins:
  - cells > (sink) > sink
box: {width: 150 mm, depth: 100 mm, height: 50 mm}
"""


def test_curves_beside_each_other_keep_their_values() -> None:
    own = CellCurve(CHARGE, VOLTS, OHMIC, LAG)
    both = beside([own.open_circuit, Curve.of(["LFP"])])
    s = np.linspace(-0.1, 1.1, 241)[:, None]
    np.testing.assert_allclose(both.value(s)[:, 0], own.open_circuit.value(s)[:, 0], atol=1e-14)
    np.testing.assert_allclose(both.value(s)[:, 1], Curve.of(["LFP"]).value(s)[:, 0], atol=1e-14)
    np.testing.assert_allclose(both.integral(s)[:, 1], Curve.of(["LFP"]).integral(s)[:, 0], atol=1e-13)
    assert set(KNOTS) <= set(both.knots) and len(OCV["LFP"]) == len(KNOTS)


def test_a_run_of_a_measured_cell_is_the_integral_of_its_equations(tmp_path: Path) -> None:
    """2.4 A from full for 50 minutes, near the steep end, against an integrator that knows nothing of ours."""
    lay(tmp_path)
    file = tmp_path / "build.yaml"
    file.write_text(TESTER, encoding="utf-8")
    network = load(file)
    system = build(network)
    point = rest(system, Condition(states={("cells", "charge"): 1.0, ("cells", "weak_charge"): 1.0}))
    until = 3000.0
    result = march(system, point.state, until=until)
    t, v = result.case(0).t, result.case(0).v[:, network.at]
    ocv, ohmic, lag = (PchipInterpolator(CHARGE, table) for table in (VOLTS, OHMIC, LAG))
    capacity, i, r1, c1, r2, c2 = 2.4 * 3600.0, 2.4, 0.010, 2000.0, 0.025, 16e3

    def rates(_t: float, x: np.ndarray) -> list[float]:
        shape = lag(x[0])
        return [-i / capacity, (i - x[1] / (r1 * shape)) / c1, (i - x[2] / (r2 * shape)) / c2]

    begun = [1.0, i * r1 * lag(1.0), i * r2 * lag(1.0)]
    run = solve_ivp(rates, (0.0, until), begun, rtol=1e-10, atol=1e-12, dense_output=True)
    s, fast, slow = run.sol(t)
    expected = ocv(s) - 0.040 * ohmic(s) * i - fast - slow
    assert result.case(0).t[-1] == until
    np.testing.assert_allclose(v, expected, atol=1e-3)


def test_machine_code_has_the_same_curves(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = lay(tmp_path)
    network = load(file)
    cases = {("lamp", "power"): np.array([3.0, 5.0, 6.0])}
    condition = Condition(
        states={("cells", "charge"): 0.3, ("cells", "weak_charge"): 0.28}, signals={("brick", "mains"): 0.0}
    )

    def run() -> tuple[np.ndarray, np.ndarray]:
        system = build(network, cases, 3)
        point = rest(system, condition)
        assert (system.compiled is not None) == (native.compiler() is not None)
        ends = march(system, point.state, until=900.0)
        return point.v, np.array([ends.case(k).v[-1] for k in range(3)])

    slow = run()
    monkeypatch.setenv("TIDEOVER_NATIVE", "1")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    native.compiler.cache_clear()
    try:
        if native.compiler() is None:
            pytest.skip("no C compiler on this machine: the array code is all there is")
        fast = run()
    finally:
        native.compiler.cache_clear()
    np.testing.assert_allclose(fast[0], slow[0], atol=1e-9)
    np.testing.assert_allclose(fast[1], slow[1], atol=1e-6)
