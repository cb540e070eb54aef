"""Leads are told from the resistance of the unit, whether it holds one cell or six."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tideover.cells.fixture import recognised
from tideover.cells.log import Log
from tideover.cells.model import nearest_item, numbers, of_item
from tideover.cells.run import CellCases, Load, Rows, discharge, simulate
from tideover.cells.unknowns import typical_cell


def unit(word: str, ampere_hours: float) -> tuple[CellCases, float]:
    """A new one of the shelf, and the voltage at which it is empty."""
    shelf = of_item(nearest_item(word, 3600.0 * ampere_hours))
    low = numbers(shelf)["lowest_voltage"]
    return typical_cell(shelf, 3600.0 * ampere_hours, low), low


def run_down(cells: CellCases, cutoff: float, rate: float, leads: float) -> Log:
    """A discharge from full at so many times the capacity an hour, read by two wires."""
    current = rate * float(cells.capacity[0]) / 3600.0
    lasted = 0.95 * float(discharge(cells, Load.constant("current", current), cutoff).runtime[0])
    t = np.linspace(0.0, lasted, 400)
    i = np.append(0.0, np.full(399, current))
    charge = np.maximum(t - 0.5 * t[1], 0.0) * current
    flat = Log(f"{rate:g}", t, np.zeros(400), i, None, charge)
    wired = replace(cells, leads=np.array([leads]))
    return Log(flat.name, t, simulate(wired, Rows.of(flat)).v[0], i, None, charge)


@pytest.mark.parametrize(("word", "ampere_hours"), [("NMC", 2.6), ("PbA", 7.0)])
def test_leads_of_three_times_the_unit_are_recognised_and_none_are_invented(word: str, ampere_hours: float) -> None:
    cells, low = unit(word, ampere_hours)
    own = float(cells.resistance[0] + cells.fast_resistance[0] + cells.slow_resistance[0])
    rates = (0.05, 0.2)
    found = recognised([run_down(cells, low, rate, 3.0 * own) for rate in rates], cells)
    assert found is not None
    assert found.leads == pytest.approx(3.0 * own, rel=0.2)
    assert found.expected < 1.1 * own
    assert recognised([run_down(cells, low, rate, 0.0) for rate in rates], cells) is None
