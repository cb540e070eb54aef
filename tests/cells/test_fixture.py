"""Leads are told from the resistance of the unit, whether it holds one cell or six."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tideover.cells.fixture import recognised
from tideover.cells.log import Log
from tideover.cells.model import nearest_item, numbers, of_chemistry, of_item
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


def test_what_a_worn_cell_of_the_shelf_explains_is_no_leads() -> None:
    """A worn cell of 2.16 Ah beside a new one of high drain, that is nearest to it in size."""
    shelf = of_item(nearest_item("NMC", 3600.0 * 2.5, "NMC 18650 2.5 Ah high drain"))
    size, low = 3600.0 * 2.16, numbers(shelf)["lowest_voltage"]
    new = typical_cell(shelf, size, low)
    others = [typical_cell(other, size, low) for other in of_chemistry("NMC")]
    worn = {n: 2.9 * getattr(new, n) for n in ("resistance", "fast_resistance", "slow_resistance")}
    worn |= {n: getattr(new, n) / 2.9 for n in ("fast_capacitance", "slow_capacitance")}  # its time constants stay
    logs = [run_down(replace(new, **worn), low, rate, 0.0) for rate in (0.2, 0.5)]
    assert recognised(logs, new) is not None
    assert recognised(logs, new, others) is None
    far = [run_down(new, low, rate, 0.2) for rate in (0.2, 0.5)]
    assert recognised(far, new, others) is not None
