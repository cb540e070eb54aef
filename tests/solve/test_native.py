"""The compiled equations compute what the array code computes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.special import wrightomega

from tideover.network import load
from tideover.solve import Change, Condition, build, march, native, newton, rest
from tideover.solve.rest import weights
from tideover.solve.trace import Graph, Written

BUILDS = sorted((Path(__file__).parents[2] / "examples").glob("*/*.yaml"))


@pytest.fixture(autouse=True)
def compiled(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("TIDEOVER_NATIVE", "1")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    native.compiler.cache_clear()
    if native.compiler() is None:
        pytest.skip("no C compiler on this machine: the array code is all there is")


@pytest.fixture
def plain(monkeypatch: pytest.MonkeyPatch) -> None:
    yield
    native.compiler.cache_clear()


@pytest.mark.parametrize("path", BUILDS, ids=lambda p: f"{p.parent.name}-{p.stem}")
def test_rest_and_march_agree_to_rounding(path: Path, monkeypatch: pytest.MonkeyPatch, plain: None) -> None:
    network = load(path)
    names = {p.kind.name: p.name for p in network.parts}
    cases = {(names["load"], "power"): np.array([0.8, 1.0, 1.1]) * network.part(names["load"]).values["power"].nominal}
    condition = Condition(states={(names["pack"], "charge"): 0.5, (names["pack"], "weak_charge"): 0.5})
    changes = [Change(0.02, names["adapter"], "mains", 0.0), Change(0.5, names["adapter"], "mains", 1.0)]

    def run() -> tuple[object, object]:
        system = build(network, cases, 3)
        point = rest(system, condition)
        return point, march(system, point.state, changes, until=0.6)

    fast_point, fast = run()
    assert fast.system.compiled is not None
    monkeypatch.setenv("TIDEOVER_NATIVE", "0")
    native.compiler.cache_clear()
    slow_point, slow = run()
    assert slow.system.compiled is None
    np.testing.assert_array_equal(fast_point.outcome, slow_point.outcome)
    np.testing.assert_allclose(fast_point.v, slow_point.v, atol=1e-9)
    np.testing.assert_array_equal(fast.outcome, slow.outcome)
    for k in range(3):
        np.testing.assert_allclose(fast.case(k).v[-1], slow.case(k).v[-1], atol=1e-6)
        assert abs(len(fast.case(k).t) - len(slow.case(k).t)) <= 2
    np.testing.assert_allclose(fast.heat, slow.heat, rtol=1e-6)


def test_wright_omega_equals_the_library_over_its_whole_range() -> None:
    """Through a network of one diode would reach little of it: the C function is compiled by itself."""
    import ctypes
    import subprocess

    z = np.concatenate([np.linspace(-60.0, 60.0, 4001), np.geomspace(60.0, 1e6, 200)])
    out = np.empty_like(z)
    loop = "void all(long n, In z, double *o) { for (long k = 0; k < n; k++) o[k] = omega(z[k]); }"
    code = native.HEAD % native.BLOCK + loop
    folder = native._folder()
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "omega.c").write_text(code)
    made = folder / "omega.so"
    subprocess.run([native.compiler(), *native.FLAGS, "-o", str(made), str(folder / "omega.c"), "-lm"], check=True)
    ctypes.CDLL(str(made)).all(
        ctypes.c_long(len(z)), z.ctypes.data_as(ctypes.c_void_p), out.ctypes.data_as(ctypes.c_void_p)
    )
    np.testing.assert_allclose(out, wrightomega(z), rtol=2e-14)  # exp(z) itself loses |z| units in the last place


def test_every_operation_of_the_tracer_has_its_form_in_c() -> None:
    from tideover.solve.trace import CODE

    assert set(CODE) - {"among"} == set(native.FORMS)


def test_a_network_without_a_compiler_runs_on_array_code(monkeypatch: pytest.MonkeyPatch, plain: None) -> None:
    monkeypatch.setenv("CC", "no-such-compiler")
    monkeypatch.setenv("PATH", "")
    native.compiler.cache_clear()
    system = build(load(BUILDS[0]))
    assert system.compiled is None
    assert rest(system).outcome[0] in (0, 1, 2)


def test_statements_name_each_temporary_once() -> None:
    g = Graph()
    x = g.symbol("x")
    written = Written([(x + 1.0) * (x + 1.0)], ["x"], "square")
    lines, outputs = native.statements(written, {"x": "x"}, [])
    assert len(lines) == len({line.split("=")[0] for line in lines}) == 2
    assert outputs == [lines[-1].split()[2]]


def test_a_stage_is_iterated_as_the_array_code_does_and_each_case_as_if_alone(
    monkeypatch: pytest.MonkeyPatch, plain: None
) -> None:
    """From a guess volts away, so that steps are capped and damped, with fewer iterations allowed than some need."""
    network = load(BUILDS[0])
    count = native.BLOCK + 6  # more than one block
    rng = np.random.default_rng(3)
    name = next(p.name for p in network.parts if p.kind.name == "load")
    power = network.part(name).values["power"].nominal * rng.uniform(0.5, 1.5, count)

    def run(cases: slice) -> tuple[np.ndarray, ...]:
        n = len(power[cases])
        system = build(network, {(name, "power"): power[cases]}, n)
        point = rest(system).state
        V, X = point.V + shift[:, cases], point.X.copy()
        bend = np.full(n, np.inf)
        at = newton.stage(system, np.full(n, 1e-4), 1.0, point.M, point.S)
        ok, used = newton.solve(system, at, V, X, X.copy(), weights(system), 1e-9, allowed[cases], bend)
        return V, X, bend, ok, used

    shift = rng.normal(0.0, 4.0, (build(network).unknowns, count))
    allowed = rng.integers(0, 12, count)
    V, X, _, ok, used = fast = run(slice(None))
    assert ok.any() and not ok.all() and used.max() > 4 and not used[allowed == 0].any()
    for k in (0, native.BLOCK - 1, native.BLOCK, count - 1):
        for whole, alone in zip(fast, run(slice(k, k + 1))):
            np.testing.assert_array_equal(whole[..., k : k + 1], alone)
    monkeypatch.setenv("TIDEOVER_NATIVE", "0")
    native.compiler.cache_clear()
    V_, X_, _, ok_, used_ = run(slice(None))
    np.testing.assert_array_equal(ok, ok_)
    np.testing.assert_array_equal(used, used_)
    np.testing.assert_allclose(V[:, ok], V_[:, ok], atol=1e-7)
    np.testing.assert_allclose(X[:, ok], X_[:, ok], rtol=1e-7, atol=1e-9)
