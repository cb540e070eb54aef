"""Leads and clips in a two-wire record: more resistance than such a cell can have, the same at every charge.

Two discharges at different currents, read at the same charge taken out, tell how much all resistances drop together.
A worn cell has up to twice what a new one has; what is far above that is taken to lie outside the cell, and the cell
is not blamed for it, unless a worn cell of the shelf has as much at that size. Between the two nobody can tell without
measuring by four wires.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from tideover.cells.log import Array, Log
from tideover.cells.run import CellCases
from tideover.quantity import show

FAR_ABOVE = 2.5
"""Resistance over that of a new cell of the shelf from which it is taken to be the leads': used cells are rejected at
twice (practice with used cells: typical, unverified)."""
CELL_WIDTH = 0.4
"""How well the shelf knows the cell's own share, standard deviation of the logarithm: typical, unverified."""
GRID = np.linspace(0.03, 0.15, 9)
"""Charge taken out, of the capacity, at which voltages are compared: past the first seconds, before runs differ. [-]"""
APART = 1.5
"""Least ratio of two currents that are compared."""


@dataclass(frozen=True)
class Fixture:
    """What a set of records says of its leads.

    Attributes
    ----------
    leads, spread : float
        Resistance outside the cell, and its standard uncertainty. [ohm]
    total, expected : float
        Of cell and leads as measured, and of a new cell of the shelf. [ohm]
    """

    leads: float
    spread: float
    total: float
    expected: float

    def said(self, like: str) -> str:
        """In words."""
        return (
            f"About {show(self.leads, 'ohm', 2)} of leads or clips are in these records, give or take "
            f"{show(self.spread, 'ohm', 1)}: together with the cell they drop {show(self.total, 'ohm', 2)}, "
            f"{self.total / self.expected:.1f} times what {like} has by then. The cell is not blamed for it. Measure "
            'by four wires, or state the leads: --leads "0 mΩ" if there are none and the cell is that bad.'
        )


def recognised(logs: Sequence[Log], base: CellCases, others: Sequence[CellCases] = ()) -> Fixture | None:
    """Leads that are in the voltages of several discharges.

    Parameters
    ----------
    logs : sequence of Log
        Of one cell on one fixture. [-]
    base : CellCases
        A new cell of the shelf, scaled to the size measured; one case. [-]
    others : sequence of CellCases
        More of its chemistry, worn ones too, scaled alike: what one of them explains is no leads. [-]

    Returns
    -------
    found : Fixture or None
        None where the resistance is one that such a cell may have, or where no two discharges can be compared.
    """
    capacity = float(base.capacity[0])
    runs = [run for log in logs if (run := _steady(log, capacity)) is not None]
    found = []
    for (slow, v_slow), (fast, v_fast) in combinations(sorted(runs, key=lambda run: run[0]), 2):
        if fast >= APART * slow:
            total = float(np.median((v_slow - v_fast) / (fast - slow)))
            by_then = capacity * float(GRID.mean()) / fast
            explained = max((_expected(other, by_then) for other in others), default=0.0)
            found.append((total, _expected(base, by_then), explained))
    if not found:
        return None
    total, expected, explained = (float(np.median(x)) for x in zip(*found))
    if total < max(FAR_ABOVE * expected, explained):
        return None
    return Fixture(total - expected, CELL_WIDTH * expected, total, expected)


def _steady(log: Log, capacity: float) -> tuple[float, Array] | None:
    """Current of a discharge at constant current that begins full, and its voltages on the grid."""
    under = np.flatnonzero(log.i > 0.0)
    if len(under) < 10:
        return None
    current = float(np.median(log.i[under]))
    first, last = int(under[0]), int(under[-1])
    steady = np.abs(log.i[first : last + 1] - current) < 0.1 * current
    out = log.charge[first : last + 1] - log.charge[first]
    if steady.mean() < 0.98 or out[-1] < 0.7 * capacity:
        return None
    return current, np.interp(GRID * capacity, out, log.v[first : last + 1])


def _expected(base: CellCases, t: float) -> float:
    """What the cell of the shelf drops for each ampere, so long after a step. [ohm]"""
    total = float(base.resistance[0])
    for pair in ("fast", "slow"):
        r, c = (float(getattr(base, f"{pair}_{what}")[0]) for what in ("resistance", "capacitance"))
        total += r * (1.0 - float(np.exp(-t / (r * c))))
    return total
