"""Which cells go side by side: groups alike in capacity and conductance, out of cells that may stand together.

A string of groups gives what its weakest group gives, so the smallest sum of capacities is what counts: first the
best cells are chosen, then they are exchanged until the sums are alike. No smallest group can exceed the mean of the
groups, and no mean that of the best cells there are: that bound is proved, and what is reached is told against it.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tideover.cells.swaps import SWAPS, Box, anneal

Array = NDArray[np.float64]
Index = NDArray[np.intp]

WITHIN = 0.15
"""Resistances of cells side by side stay within this share of their mid range where the cells allow. [-] Practice
of matching used cells; typical, unverified."""
WEIGHT = (0.025 / 0.10) ** 2
"""What resistance weighs in the cost of a grouping against capacity. [-] In practice groups are matched to 2 to 3 % in
capacity and to 10 % in resistance (typical, unverified); that far off, both shall cost the same."""


class TooFew(ValueError):
    """There are not cells enough of one kind."""


@dataclass(frozen=True, eq=False)
class Grouping:
    """Cells in their groups.

    Attributes
    ----------
    groups : array, shape (series, parallel)
        Rows of the cells given; the group of most capacity first, the cells of a group in the order given. [-]
    left_out : array, shape (n - series * parallel,)
        All others, in the order given. [-]
    capacity : array, shape (series,)
        Sums of the groups. [C]
    conductance : array, shape (series,), or None
        Sums of the groups, where resistance was looked at. [S]
    bound : float
        Proved: whatever the grouping, the smallest group has no more. [C]
    cost : float
        What was made small, as `tideover.cells.swaps` defines it; summed over the kinds of cells. [-]
    weighed : int
        Exchanges of two cells that were weighed. [-]
    """

    groups: Index
    left_out: Index
    capacity: Array
    conductance: Array | None
    bound: float
    cost: float
    weighed: int

    @property
    def smallest(self) -> float:
        """Capacity of the weakest group, and so of the string. [C]"""
        return float(self.capacity.min())

    @property
    def matched(self) -> float:
        """Capacity that each group would have if the same cells were alike. [C]"""
        return float(self.capacity.mean())

    @property
    def spread(self) -> float:
        """Largest group less smallest. [C]"""
        return float(np.ptp(self.capacity))


def group_cells(
    capacity: ArrayLike,
    resistance: ArrayLike | None,
    kinds: Sequence[Hashable] | None,
    series: int,
    parallel: int,
    rng: np.random.Generator,
    mixed: bool = False,
    swaps: int = SWAPS,
) -> Grouping:
    """Choose cells and put them into groups that are alike.

    Parameters
    ----------
    capacity : array, shape (n,)
        Above zero. [C]
    resistance : array, shape (n,), or None
        All by the same method, above zero; None to look at capacity alone. [ohm]
    kinds : sequence of hashable, length n, or None
        Cells of different kinds never stand in one group; None if all are of one. [-]
    series, parallel : int
        Groups, and cells in each. [-]
    rng : Generator
        Of the annealing: the same draws give the same groups, in whatever order the cells are given. [-]
    mixed : bool
        Whether groups of different kinds may follow in series. Otherwise all cells are of that kind whose best cells
        give most. [-]
    swaps : int
        About how many exchanges to weigh. [-]

    Returns
    -------
    grouping : Grouping

    Raises
    ------
    TooFew
        When the groups cannot be filled.
    ValueError
        For a capacity or resistance that is none, or no group or cell asked for.

    Examples
    --------
    >>> found = group_cells([3.0, 1.0, 2.0, 2.0], None, None, 2, 2, np.random.default_rng(1))
    >>> found.groups.tolist(), found.smallest, found.bound
    ([[0, 1], [2, 3]], 4.0, 4.0)
    """
    q = np.asarray(capacity, dtype=float)
    r = None if resistance is None else np.asarray(resistance, dtype=float)
    if series < 1 or parallel < 1:
        raise ValueError("There must be a group, and a cell in it.")
    if q.ndim != 1 or (r is not None and r.shape != q.shape) or (kinds is not None and len(kinds) != len(q)):
        raise ValueError("Each cell has one capacity, one resistance and one kind.")
    for values in (q, *(() if r is None else (r,))):
        if not np.all(np.isfinite(values) & (values > 0.0)):
            raise ValueError("Capacity and resistance are above zero.")
    members = _by_kind(q, r, kinds)
    shares = allot([q[rows] for rows in members], series, parallel, mixed)
    groups, cost, weighed = [], 0.0, 0
    for rows, count in zip(members, shares):
        if count:
            its_r = None if r is None else r[rows]
            found, its_cost, its_weighed = _one_kind(q[rows], its_r, count, parallel, rng, swaps)
            groups.append(rows[found])
            cost, weighed = cost + its_cost, weighed + its_weighed
    chosen = np.concatenate(groups)
    chosen = np.sort(chosen, axis=1)
    chosen = chosen[np.lexsort((chosen[:, 0], -q[chosen].sum(1)))]
    return Grouping(
        groups=chosen,
        left_out=np.setdiff1d(np.arange(len(q)), chosen),
        capacity=q[chosen].sum(1),
        conductance=None if r is None else (1.0 / r[chosen]).sum(1),
        bound=min(best_mean(q[rows], count, parallel) for rows, count in zip(members, shares) if count),
        cost=cost,
        weighed=weighed,
    )


def best_mean(capacity: Array, series: int, parallel: int) -> float:
    """Mean capacity of `series` groups of the best cells, which the smallest group cannot exceed. [C]

    Minus infinity where there are not cells enough.
    """
    count = series * parallel
    if count > len(capacity):
        return -np.inf
    return float(np.sort(capacity)[len(capacity) - count :].sum()) / series


def allot(capacities: Sequence[Array], series: int, parallel: int, mixed: bool = False) -> list[int]:
    """How many groups each kind of cells makes, so that the bound of the smallest group is highest.

    Parameters
    ----------
    capacities : sequence of array
        Of the cells of each kind. [C]
    series, parallel : int
        Groups, and cells in each. [-]
    mixed : bool
        Whether several kinds may share the groups. [-]

    Returns
    -------
    counts : list of int
        Groups of each kind, their sum is `series`.

    Raises
    ------
    TooFew
        When the groups cannot be filled.

    Notes
    -----
    The mean of a kind's best cells falls with every further group, so always giving the next group to the kind that
    then has the highest mean leaves the lowest of these means as high as it can be.
    """
    counts = [0] * len(capacities)
    if not mixed:
        means = [best_mean(q, series, parallel) for q in capacities]
        if not means or max(means) == -np.inf:
            raise TooFew(f"No kind has {series * parallel} cells.")
        counts[int(np.argmax(means))] = series
        return counts
    for _ in range(series):
        means = [best_mean(q, n + 1, parallel) for q, n in zip(capacities, counts)]
        if not means or max(means) == -np.inf:
            raise TooFew(f"{series} groups of {parallel} cells of one kind each cannot be filled.")
        counts[int(np.argmax(means))] += 1
    return counts


def spread_within(resistance: Array) -> Array:
    """Half range of resistances over their mid range, along the last axis. [-]

    Examples
    --------
    >>> print(spread_within(np.array([0.085, 0.1, 0.115])).round(3))
    0.15
    """
    low, high = resistance.min(-1), resistance.max(-1)
    return np.asarray((high - low) / (high + low))


def serpentine(count: int, series: int, parallel: int) -> Index:
    """Groups of cells that are sorted: dealt out forwards, then backwards, as schoolchildren choose sides.

    Examples
    --------
    >>> serpentine(5, 2, 2).tolist()
    [[0, 3], [1, 2]]
    """
    rows = np.arange(series * parallel).reshape(parallel, series)
    rows[1::2] = rows[1::2, ::-1]
    return np.ascontiguousarray(rows.T)


def greedy(capacity: Array, series: int, parallel: int) -> Index:
    """Groups of cells that are sorted: each goes to the group with least so far that has room.

    Examples
    --------
    >>> greedy(np.array([5.0, 4.0, 3.0, 1.0]), 2, 2).tolist()
    [[0, 3], [1, 2]]
    """
    sums = np.zeros(series)
    groups: list[list[int]] = [[] for _ in range(series)]
    for k in range(series * parallel):
        room = [n for n in range(series) if len(groups[n]) < parallel]
        least = min(room, key=lambda n: sums[n])
        groups[least].append(k)
        sums[least] += capacity[k]
    return np.array(groups, dtype=np.intp)


def _by_kind(q: Array, r: Array | None, kinds: Sequence[Hashable] | None) -> list[Index]:
    """Rows of the cells of each kind, the best cell first; the same whatever order the cells were given in."""
    rows = np.lexsort((np.zeros_like(q) if r is None else r, -q))
    if kinds is None:
        return [rows] if len(rows) else []
    found: dict[Hashable, list[int]] = {}
    for row in rows:
        found.setdefault(kinds[row], []).append(int(row))
    return [np.array(cells, dtype=np.intp) for cells in found.values()]


def _one_kind(
    q: Array, r: Array | None, series: int, parallel: int, rng: np.random.Generator, swaps: int
) -> tuple[Index, float, int]:
    """Groups of sorted cells of one kind, their cost, and how many exchanges were weighed."""
    if r is None:
        box = Box(q / best_mean(q, series, parallel), np.zeros_like(q), None, WITHIN, WEIGHT)
    else:
        g = 1.0 / r
        y = g / (parallel * g[: series * parallel].mean()) * np.sqrt(WEIGHT)
        box = Box(q / best_mean(q, series, parallel), y, r if spread_within(r) > WITHIN else None, WITHIN, WEIGHT)
    start = np.stack([serpentine(len(q), series, parallel), greedy(q, series, parallel)])
    out = np.broadcast_to(np.arange(series * parallel, len(q)), (2, len(q) - series * parallel))
    groups, _, weighed = anneal(box, start, out, rng, swaps)
    return groups, float(box.cost(groups)), weighed
