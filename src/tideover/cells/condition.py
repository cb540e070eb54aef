"""At what current, to what cut-off and at what temperature a capacity was measured."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from tideover.cells.stock import StockCell
from tideover.laws.constants import TEMP_25
from tideover.quantity import show

ALIKE = (2e-3, 2e-3, 0.2)
"""How near two conditions are taken for one: share of the current, of the cut-off, and kelvin."""


@dataclass(frozen=True, order=True)
class Condition:
    """How a capacity is measured: from full, at a current, until the voltage falls to a cut-off.

    Attributes
    ----------
    current : float
        Of one cell. [A]
    cutoff : float
        At its terminals. [V]
    ambient : float
        Around it. [K]
    """

    current: float
    cutoff: float
    ambient: float = TEMP_25

    def __str__(self) -> str:
        return f"{show(self.current, 'A', 4)} to {show(self.cutoff, 'V', 4)} at {show(self.ambient, 'K')}"

    def like(self, other: Condition) -> bool:
        """Whether both are one, but for how exactly a tester keeps to it."""
        share, volts, kelvin = ALIKE
        return (
            math.isclose(self.current, other.current, rel_tol=share)
            and math.isclose(self.cutoff, other.cutoff, rel_tol=volts)
            and abs(self.ambient - other.ambient) <= kelvin
        )


def condition_of(cell: StockCell) -> Condition | None:
    """How a cell's capacity was measured; None where that is not said in full."""
    if cell.discharge_current is None or cell.cutoff is None or cell.ambient is None:
        return None
    return Condition(cell.discharge_current, cell.cutoff, cell.ambient)


def commonest(cells: Sequence[StockCell]) -> Condition | None:
    """The condition at which most capacities were measured; of equals the smaller current. None where none is known."""
    counts: Counter[Condition] = Counter()
    for cell in cells:
        own = condition_of(cell)
        if own is not None and cell.capacity is not None:
            counts[next((seen for seen in counts if seen.like(own)), own)] += 1
    return min(counts, key=lambda c: (-counts[c], c)) if counts else None
