"""Steps of current read back to the resistances that made them."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from cells.synthetic_logs import World
from tideover.cells.log import Log
from tideover.cells.pulses import TIMES, readings
from tideover.cli.program import run


def steps(every: float, noise: float = 0.0, seed: int = 1) -> Log:
    """Rest, a step of 2 A for 30 s, rest; the voltage drifts by 1 mV a minute throughout. By hand."""
    r0, r1, tau = 0.050, 0.020, 8.0
    t = np.arange(0.0, 200.0, every)
    on = (t >= 100.0) & (t < 130.0)
    since, off = np.maximum(t - 100.0, 0.0), np.maximum(t - 130.0, 0.0)
    up = r1 * (1.0 - np.exp(-since / tau))
    pair = np.where(t < 130.0, up, r1 * (1.0 - np.exp(-30.0 / tau)) * np.exp(-off / tau))
    v = 3.8 - t / 60.0 * 1e-3 - 2.0 * (r0 * on + pair)
    return Log("steps", t, v + noise * np.random.default_rng(seed).standard_normal(len(t)), 2.0 * on)


@pytest.mark.parametrize("every", (0.02, 0.1))
def test_both_readings_by_hand(every: float) -> None:
    down, up = readings(steps(every))
    assert (down.step, up.step) == (2.0, -2.0)
    for k, after in enumerate(TIMES):
        true = 0.050 + 0.020 * (1.0 - np.exp(-after / 8.0))
        assert down.resistance[k] == pytest.approx(true, abs=max(3.0 * down.spread[k], 3e-4))
        assert down.spread[k] < 1e-3


def test_rows_too_far_apart_give_no_reading_at_one_second() -> None:
    first = readings(steps(5.0))[0]
    assert np.isnan(first.resistance[0]) and first.resistance[1] > 0.0
    assert readings(steps(40.0)) == ()


def test_a_hole_in_the_record_is_no_step() -> None:
    log = steps(0.1)
    k = int(np.flatnonzero(log.i)[0])
    assert len(readings(Log(log.name, log.t, log.v, log.i, breaks=(k,)))) == 1


def test_nine_of_ten_intervals_hold_the_truth() -> None:
    true = 0.050 + 0.020 * (1.0 - np.exp(-10.0 / 8.0))
    found = [readings(steps(0.1, noise=0.002, seed=seed))[0] for seed in range(200)]
    held = [abs(r.resistance[1] - true) < 1.645 * r.spread[1] for r in found]
    assert 0.85 <= np.mean(held) <= 0.95, np.mean(held)


def test_pulses_of_a_cell_are_its_own_resistances() -> None:
    world = World.drawn(3)
    c = world.cells
    read = [r for r in readings(world.pulses("pulses", 1.0)) if abs(r.step - 2.6) < 0.1]
    assert len(read) >= 8
    middle = min(read, key=lambda r: abs(r.discharged / c.capacity[0] - 0.5))
    fast = c.fast_resistance[0] * (1.0 - np.exp(-10.0 / (c.fast_resistance[0] * c.fast_capacitance[0])))
    slow = c.slow_resistance[0] * (1.0 - np.exp(-10.0 / (c.slow_resistance[0] * c.slow_capacitance[0])))
    assert middle.resistance[1] == pytest.approx(float(c.resistance[0] + fast + slow), rel=0.10)


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = steps(0.1)
    rows = "\n".join(f"{t:.1f},{v:.4f},{i:.3f}" for t, v, i in zip(log.t, log.v, log.i))
    (tmp_path / "steps.csv").write_text("time [s],voltage [V],current [A]\n" + rows + "\n")
    assert run(["cells", "resistance", str(tmp_path / "steps.csv")]) == 0
    said = capsys.readouterr().out
    assert "DC 1 s" in said and "DC 10 s" in said and "mΩ ±" in said
    assert run(["cells", "resistance", str(tmp_path / "steps.csv"), "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)[0]["steps"]) == 2
    assert run(["cells", "resistance", str(tmp_path / "none.csv")]) == 2
