"""A log that is not followed is named, the worst first; a sound one is not."""

from __future__ import annotations

from dataclasses import dataclass

from tideover.cells.poor import MOST, poorly


@dataclass(frozen=True)
class Left:
    name: str
    rms: float


def test_logs_that_are_not_followed_are_named_the_worst_first() -> None:
    (said,) = poorly([Left("fine.csv", 0.5 * MOST), Left("bad.csv", 1.5 * MOST), Left("worse.csv", 6 * MOST)], 1, 1.4)
    assert said.startswith("Poor fit") and said.index("worse.csv") < said.index("bad.csv")
    assert "fine.csv" not in said and "--leads" in said and "--ambient" in said


def test_a_block_of_six_cells_is_allowed_more_but_no_more_than_a_share_of_its_window() -> None:
    log = [Left("block.csv", 0.040)]
    assert not poorly(log, 6, 2.4)
    assert poorly(log, 1, 2.4) and poorly(log, 6, 1.5)
    assert "90 mV" in poorly([Left("block.csv", 0.09)], 6, 2.4)[0]


def test_a_flat_chemistry_is_not_blamed_for_its_small_window():
    """18.5 mV is left on the published pulses of an LFP cell, which still predict a run at 40 degrees within 2 %."""
    assert not poorly([Left("pulses.csv", 0.0185)], 1, 0.9)
