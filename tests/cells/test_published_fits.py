"""Fits judged by published measurements; the tables are not part of the project, and without them nothing is judged.

Cases, bounds and what judges them stand in `tests/published`; ``python -m tests.published`` prints them all.
"""

from __future__ import annotations

import numpy as np
from published import cases
from published.tables import log

from tideover.cells.fit import fit
from tideover.cells.run import Rows, simulate


def held(case: cases.Case) -> None:
    verdicts = case.judge(log)
    assert verdicts
    for verdict in verdicts:
        assert verdict.met, verdict.cells


def test_a_tenth_and_once_the_capacity_an_hour_tell_twice() -> None:
    held(cases.TWICE)


def test_twenty_degrees_tell_forty() -> None:
    held(cases.WARMER)


def test_two_wires_are_recognised_and_the_cell_is_not_blamed() -> None:
    held(cases.LEADS)
    held(cases.NO_LEADS)


def test_pulses_at_one_level_tell_the_other() -> None:
    held(cases.AT_TWICE)


def test_discharges_and_pulses_tell_a_profile_of_power() -> None:
    held(cases.PROFILE)


def test_a_capacity_test_and_one_mission_tell_the_next_four() -> None:
    held(cases.MISSIONS)


def test_only_cold_pulses_tell_the_cold() -> None:
    """At 0 °C one activation energy for ohmic resistance and pairs is coarse; without such pulses none is told."""
    names = ("ocv_C20_25C", "cc_1C_25C_start_run2", "hppc5_25C", "hppc5_0C")
    logs = [log(f"nca18650_2p9Ah_{name}.csv") for name in names]
    assert not fit(logs[:3], "NCA").told_by["activation_energy"]
    found, record = fit(logs, "NCA"), logs[3]
    assert found.told_by["activation_energy"]
    off = (simulate(found.cells, Rows.of(record)).v[0] - record.v)[record.i > 0.5]
    rms = float(np.sqrt(np.mean(off**2)))
    assert rms < 0.125, f"{1e3 * rms:.1f} mV"
