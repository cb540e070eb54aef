"""One kind of cell from its logs: its file, what it does not know, how often its intervals hold the truth."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from cells.synthetic_logs import CUTOFF, LIKE, World
from tideover.cells import model_file
from tideover.cells.capacity import of_fit, usual_condition
from tideover.cells.condition import Condition
from tideover.cells.fit import Fitted, fit
from tideover.cells.log import Log
from tideover.cells.model import cell_cases, of_item
from tideover.cells.predict import predict
from tideover.cells.run import Load, discharge
from tideover.cells.unknowns import FULL_WIDTH
from tideover.design import cell_files
from tideover.design.cell_model import CellModel
from tideover.design.messages import Fault
from tideover.design.model import Place
from tideover.design.source import Scalar
from tideover.parts.pack import PACK
from tideover.shelf import find

LOADS = (Load.constant("current", 5.2), Load.constant("current", 1.3), Load.constant("power", 6.0))
COUNT = 24


def kept(fitted: Fitted, folder: Path) -> CellModel:
    """Written, and read again as a build reads it."""
    model_file.write(fitted, folder / "cell.yaml")
    faults: list[Fault] = []
    found = cell_files.read(Scalar("cell.yaml", Place(str(folder / "build.yaml")), 0, 0), PACK, find, faults.append)
    assert not faults, faults
    assert isinstance(found, CellModel)
    return found


@pytest.fixture(scope="module")
def fitted() -> Fitted:
    world = World.drawn(7)
    return fit([world.constant_current("slow.csv", 0.2), world.constant_current("fast.csv", 1.0)], "NMC", LIKE)


def test_a_fitted_cell_is_the_same_once_it_is_written_and_read(fitted: Fitted, tmp_path: Path) -> None:
    own, read = fitted.cells, cell_cases(kept(fitted, tmp_path))
    for name in ("capacity", "resistance", "slow_resistance", "slow_capacitance", "activation_energy"):
        assert getattr(read, name)[0] == pytest.approx(getattr(own, name)[0], rel=1e-4)
    np.testing.assert_allclose(read.volts, own.volts, atol=1e-4)
    np.testing.assert_allclose(read.lag, own.lag, rtol=1e-3)
    for load in LOADS:
        runtime = discharge(read, load, CUTOFF).runtime[0]
        assert runtime == pytest.approx(discharge(own, load, CUTOFF).runtime[0], rel=2e-4)


def test_its_covariance_survives_the_file(fitted: Fitted, tmp_path: Path) -> None:
    names, factor = model_file.read_factor(kept(fitted, tmp_path))
    assert names == fitted.names
    written, own = factor @ factor.T, fitted.covariance
    sigma = np.sqrt(np.diag(own))
    assert np.abs(written - own).max() <= 0.1 * np.outer(sigma, sigma).max()
    np.testing.assert_allclose(np.sqrt(np.diag(written)), sigma, rtol=0.1)


def test_plain_discharges_do_not_tell_the_pairs_and_say_so(fitted: Fitted, tmp_path: Path) -> None:
    model = kept(fitted, tmp_path)
    assert any("A pulse test with rests tells them" in note for note in fitted.notes)
    assert model_file.PRIOR in model.origins["fast_capacitance"] and "unverified" in model.origins["fast_capacitance"]
    assert "fitted: slow.csv, fast.csv" in model.origins["capacity"]
    assert model.values["fast_capacitance"].low == model.values["fast_capacitance"].high  # type: ignore[union-attr]
    assert model.values["capacity"].low < model.values["capacity"].high  # type: ignore[union-attr]


def test_a_pulse_test_tells_the_resistances(tmp_path: Path) -> None:
    world = World.drawn(3)
    found = fit([world.constant_current("slow.csv", 0.2), world.pulses("pulses.csv", 1.0)], "NMC", LIKE)
    for name in ("resistance", "slow_resistance"):
        assert found.told_by[name] and "pulses.csv" in found.told_by[name]
        true = float(getattr(world.cells, name)[0])
        assert abs(np.log(float(getattr(found.cells, name)[0]) / true)) < 2.0 * found.width(name)


def test_leads_that_are_stated_are_not_blamed_on_the_cell() -> None:
    world = World.drawn(5)
    logs = [world.constant_current("slow.csv", 0.2, leads=0.07), world.constant_current("fast.csv", 1.0, leads=0.07)]
    true = float(world.cells.resistance[0])
    found = fit(logs, "NMC", LIKE, leads=(0.07, 0.003))
    assert float(found.cells.resistance[0]) == pytest.approx(true, abs=0.010)
    blamed = fit(logs, "NMC", LIKE)
    assert float(blamed.cells.resistance[0]) > true + 0.040


def test_leads_far_beyond_any_cell_are_recognised() -> None:
    """Twice the resistance may be a worn cell, and nobody can tell; five times is the fixture."""
    world = World.drawn(5)
    logs = [world.constant_current(f"{rate}.csv", rate, leads=0.25) for rate in (0.2, 1.0)]
    found = fit(logs, "NMC", LIKE)
    assert found.leads[0] == pytest.approx(0.25, abs=0.03)
    assert float(found.cells.resistance[0]) == pytest.approx(float(world.cells.resistance[0]), abs=0.03)
    assert "not blamed" in found.notes[0]
    for leads in (0.0, 0.03):
        logs = [world.constant_current(f"{rate}.csv", rate, leads=leads) for rate in (0.2, 1.0)]
        assert fit(logs, "NMC", LIKE).leads == (0.0, 0.0)


def test_nine_of_ten_intervals_hold_the_truth(tmp_path: Path) -> None:
    """Cells drawn around a typical one, two noisy logs each, three loads that neither log has; the true run begins at
    a full charge that does not repeat exactly either."""
    held = []
    for seed in range(COUNT):
        world = World.drawn(seed)
        logs = [world.constant_current("slow.csv", 0.2), world.constant_current("fast.csv", 1.0)]
        model = kept(fit(logs, "NMC", LIKE), tmp_path)
        for load in LOADS:
            low, _, high = predict(model, load, CUTOFF, rng=np.random.default_rng(seed)).runtime
            true = world.runtime(load) * (1.0 + FULL_WIDTH * world.rng.standard_normal())
            held.append(low <= true <= high)
    assert 0.85 <= np.mean(held) <= 0.95, np.mean(held)


def test_a_prediction_says_where_it_leaves_the_logs(fitted: Fitted, tmp_path: Path) -> None:
    model = kept(fitted, tmp_path)
    within = predict(model, Load.constant("current", 1.3), CUTOFF)
    assert not within.beyond
    strong = predict(model, Load.constant("current", 8.0), CUTOFF)
    assert any("more than the logs have seen" in said for said in strong.beyond)
    cold = predict(model, Load.constant("current", 1.3), CUTOFF, ambient=263.15)
    assert any("outside the temperatures" in said for said in cold.beyond)
    assert cold.runtime[1] < within.runtime[1]
    item = find(LIKE)
    assert item is not None
    shelf = predict(of_item(item), Load.constant("current", 1.3), CUTOFF)
    assert "not fitted" in shelf.beyond[0]


def test_a_fit_gives_its_capacity_at_conditions_that_no_log_has(fitted: Fitted) -> None:
    world = World.drawn(7)
    assert usual_condition(fitted).current == pytest.approx(0.2 * fitted.cells.capacity[0] / 3600.0, rel=0.05)
    for at in (Condition(1.3, 3.0), Condition(1.3, CUTOFF)):
        (low, middle, high), beyond = of_fit(fitted, at, np.random.default_rng(1))
        assert low < middle < high and not beyond
        assert low < at.current * world.runtime(Load.constant("current", at.current), at.cutoff) < high
    _, beyond = of_fit(fitted, Condition(9.0, CUTOFF, 263.15), np.random.default_rng(1))
    assert "more current" in beyond and "temperature" in beyond


def test_logs_that_tell_no_cell_are_refused() -> None:
    rest = Log("rest.csv", np.arange(5.0), np.full(5, 3.7), np.zeros(5))
    with pytest.raises(ValueError, match="moves any charge"):
        fit([rest], "NMC")
    with pytest.raises(LookupError, match="no cell on the shelf"):
        fit([World.drawn(1).constant_current("a.csv", 1.0)], "NMC", like="sundial")
