"""Fits judged by published measurements; the tables are not part of the project, and without them nothing is judged.

Cases, bounds and what judges them stand in `tests/published`; ``python -m tests.published`` prints them all.
"""

from __future__ import annotations

from published import cases
from published.tables import log


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
