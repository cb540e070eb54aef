"""What a grouping is worth: how alike the groups are, what that costs, and how much of it was measured at all."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from tideover.cells.grouping import Grouping, spread_within
from tideover.cells.stock import StockCell
from tideover.laws.sharing import parallel_currents

Array = NDArray[np.float64]

APART = 0.03
"""A group's capacity stays within this share of the mean of all groups. [-] Practice asks for 2 to 3 %; typical,
unverified."""
APART_RESISTANCE = 0.10
"""The same of a group's resistance. [-] Practice; typical, unverified."""


@dataclass(frozen=True, eq=False)
class Balance:
    """Figures of a grouping, in its order.

    Attributes
    ----------
    capacity : array, shape (series,)
        Sums of the groups. [C]
    uncertainty : array, shape (series,)
        Standard uncertainty of these sums, errors of single cells taken as independent; an error that all cells
        share, as of one meter, makes the groups no more unlike and is not in it. [C]
    resistance : array, shape (series,), or None
        Of the cells side by side, strips and welds left out. [ohm]
    within : array, shape (series,), or None
        Half range of the cells' resistances over their mid range. [-]
    share : array, shape (series,), or None
        Largest current of a cell over the mean of its group at the start of a discharge, strips left out. [-]
    """

    capacity: Array
    uncertainty: Array
    resistance: Array | None = None
    within: Array | None = None
    share: Array | None = None

    @property
    def off(self) -> float:
        """Largest distance of a group's capacity from the mean, as a share of it. [-]"""
        return float(np.abs(self.capacity / self.capacity.mean() - 1.0).max())

    @property
    def off_resistance(self) -> float:
        """The same of resistance; zero where it is not known. [-]"""
        if self.resistance is None:
            return 0.0
        return float(np.abs(self.resistance / self.resistance.mean() - 1.0).max())

    @property
    def measured(self) -> bool:
        """Whether the groups differ by more than what measuring leaves open."""
        return bool(np.abs(self.capacity - self.capacity.mean()).max() > self.uncertainty.max())

    @property
    def expected_loss(self) -> float:
        """How far below the mean the weakest of equal groups is to be expected, for the uncertainty alone. [C]

        The lowest of n normal deviates, after Blom: the quantile (n - 0.375) / (n + 0.25).
        """
        n = len(self.capacity)
        if n == 1:
            return 0.0
        return NormalDist().inv_cdf((n - 0.375) / (n + 0.25)) * math.sqrt(float(np.mean(self.uncertainty**2)))


def balance(cells: Sequence[StockCell], grouping: Grouping) -> Balance:
    """Figures of a grouping of these cells.

    Parameters
    ----------
    cells : sequence of StockCell
        Those that were grouped, with capacity; with resistance where the grouping looked at it. [-]
    grouping : Grouping
        Rows of `cells`. [-]

    Returns
    -------
    balance : Balance
    """
    q = np.array([cell.capacity or math.nan for cell in cells])
    unsure = (q * np.array([cell.capacity_spread for cell in cells]))[grouping.groups]
    known = Balance(grouping.capacity, np.sqrt((unsure**2).sum(-1)))
    if grouping.conductance is None:
        return known
    r = np.array([cell.resistance or math.nan for cell in cells])[grouping.groups]
    currents = parallel_currents(np.zeros_like(r), r, np.full(len(r), float(r.shape[1])))
    return Balance(
        known.capacity, known.uncertainty, 1.0 / grouping.conductance, spread_within(r), np.asarray(currents).max(-1)
    )
