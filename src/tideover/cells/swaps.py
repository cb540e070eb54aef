"""Exchanging cells between groups until the groups are alike: annealing by heat bath, then descent.

What is made small is the **cost** of a grouping,

    sum over groups of (1 - Q / Q_bound)^2 + w (G / G_mean - 1)^2 + w max(0, h - limit)^2

with Q the sum of the cells' capacities and G that of their conductances 1/R, Q_bound what no smallest group can
exceed, h the half range of the cells' resistances over their mid range, and w a weight. As the first target is the
bound and not the mean, the cost also falls when better cells are chosen out of more than are needed.

Groups meet in pairs. Of one pair all exchanges of one cell for one are weighed at once, for what they change depends
on two sums and two cells only, and one of them (or none) is drawn with the probability exp(-change/temperature).
Pairs that share no group do not touch each other, so a whole round of pairs is one array; so are several chains that
are annealed side by side. Cells left out take part in groups that have no cost.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]

WIDTH = 32
"""Cells of a group that are weighed in one meeting while annealing; of larger groups so many are drawn."""
SWAPS = 20_000_000
"""Exchanges that are weighed while annealing: 400 cells come within a few mAh of the bound by it."""
ROUNDS = (200, 5000)
"""Fewest and most rounds of it: small packs are finished sooner, large ones still cool slowly enough."""
FILLED, CHAINS = 4000, 16
"""Exchanges of a round up to which more chains are annealed side by side, for an array of fewer costs as much; and the
most chains."""
COLDEST = 1e-6
"""Last temperature over the first: groups differ by then a thousand times less than two cells do."""
TINY = np.float32(1e-30)
"""Keeps the logarithm of a chance finite."""
LEAST = 1e-15
"""A change of the cost below this is rounding. [-]"""


@dataclass(frozen=True, eq=False)
class Box:
    """What is known of the cells to be grouped, scaled for the cost.

    Attributes
    ----------
    x : array, shape (n,)
        Capacity over the bound of a group's. [-]
    y : array, shape (n,)
        Conductance over the mean of a group's, times the root of the weight; zeros where resistance is left aside. [-]
    r : array, shape (n,), or None
        Resistances; None where no group can break the limit, or resistance is left aside. [ohm]
    limit : float
        Half range over mid range of the resistances in a group that costs nothing. [-]
    weight : float
        Of what is above it. [-]
    """

    x: Array
    y: Array
    r: Array | None
    limit: float
    weight: float

    def cost(self, groups: Index) -> Array:
        """Cost of groupings, shape (...) for `groups` of shape (..., series, parallel)."""
        short = 1.0 - self.x[groups].sum(-1)
        y = self.y[groups].sum(-1)
        cost = short**2 + (y - y.mean(-1, keepdims=True)) ** 2
        if self.r is not None:
            r = self.r[groups]
            cost += self.excess(r.min(-1), r.max(-1))
        return cost.sum(-1)

    def excess(self, low: Array, high: Array) -> Array:
        """Cost of resistances that reach from `low` to `high` in one group. [-]"""
        over = (high - low) / (high + low)
        over -= self.limit
        np.maximum(over, 0.0, out=over)
        over *= over
        over *= self.weight
        return over


@dataclass(eq=False)
class _Table:
    """Groupings that are being changed, several chains at once.

    Attributes
    ----------
    box : Box
        The cells.
    groups : array, shape (chains, series, parallel)
        Which cells.
    out : array, shape (chains, left out)
        The others.
    weighed : int
        Exchanges weighed so far.
    """

    box: Box
    groups: Index
    out: Index
    weighed: int = 0

    def meet(self, first: Index, second: Index, rng: np.random.Generator | None = None, heat: float = 0.0) -> bool:
        """Let pairs of groups exchange a cell each, the best one or, in the heat, one by chance.

        Parameters
        ----------
        first, second : array, shape (pairs,)
            Groups that meet; none stands twice. [-]
        rng : Generator, optional
            With it the exchange is drawn, among `WIDTH` cells of each group. [-]
        heat : float
            Temperature of the drawing. [-]

        Returns
        -------
        any : bool
            Whether anything was exchanged.
        """
        a, b = self.groups[:, first], self.groups[:, second]  # (chains, pairs, parallel)
        places = _some(a.shape[-1], rng)
        box = self.box
        cells_a, cells_b = a[..., places], b[..., places]
        gap = (box.x[a].sum(-1) - box.x[b].sum(-1))[..., None, None]
        d = box.x[cells_b][..., None, :] - box.x[cells_a][..., :, None]
        change = (d + gap) * d
        gap = (box.y[a].sum(-1) - box.y[b].sum(-1))[..., None, None]
        d = box.y[cells_b][..., None, :] - box.y[cells_a][..., :, None]
        change += (d + gap) * d
        change *= 2.0
        if box.r is not None:
            change += _stretch(box, a, places, cells_b)
            change += _stretch(box, b, places, cells_a).swapaxes(-1, -2)
        chain, pair, i, j = self._drawn(change, rng, heat)
        if not len(chain):
            return False
        i, j, first, second = places[i], places[j], first[pair], second[pair]
        moved = self.groups[chain, first, i]
        self.groups[chain, first, i] = self.groups[chain, second, j]
        self.groups[chain, second, j] = moved
        return True

    def renew(
        self, which: Index, first: int, width: int, rng: np.random.Generator | None = None, heat: float = 0.0
    ) -> bool:
        """Let groups exchange a cell each with cells left out.

        The group `which[k]` meets the `width` cells left out from ``first + k * width`` on; otherwise like `meet`.
        """
        a = self.groups[:, which]
        places = _some(a.shape[-1], rng)
        chains, series = self.groups.shape[:2]
        box = self.box
        cells_a = a[..., places]
        cells_b = self.out[:, first : first + len(which) * width].reshape(chains, len(which), width)
        d = box.x[cells_b][..., None, :] - box.x[cells_a][..., :, None]
        change = (d - 2.0 * (1.0 - box.x[a].sum(-1))[..., None, None]) * d
        # Another cell moves the mean of the groups, too; hence the last factor.
        y = box.y[self.groups].sum(-1)
        gap = (box.y[a].sum(-1) - y.mean(-1, keepdims=True))[..., None, None]
        d = box.y[cells_b][..., None, :] - box.y[cells_a][..., :, None]
        change += (d * (1.0 - 1.0 / series) + 2.0 * gap) * d
        if box.r is not None:
            change += _stretch(box, a, places, cells_b)
        chain, pair, i, j = self._drawn(change, rng, heat)
        if not len(chain):
            return False
        i, j, group = places[i], first + pair * width + j, which[pair]
        moved = self.groups[chain, group, i]
        self.groups[chain, group, i] = self.out[chain, j]
        self.out[chain, j] = moved
        return True

    def _drawn(self, change: Array, rng: np.random.Generator | None, heat: float) -> tuple[Index, Index, Index, Index]:
        """Which exchange is made where: chain, pair, place in the first, place in the second."""
        chains, pairs, p, q = change.shape
        self.weighed += change.size
        flat = change.reshape(chains, pairs, p * q)
        if rng is None:
            best = flat.argmin(-1)
            made = np.take_along_axis(flat, best[..., None], -1)[..., 0] < -LEAST
        else:
            # The least of change + T log(E), with E from the exponential law, is one drawn by exp(-change/T).
            chance = np.log(rng.standard_exponential(flat.shape, dtype=np.float32) + TINY)
            score = flat + heat * chance
            best = score.argmin(-1)
            stay = heat * np.log(rng.standard_exponential((chains, pairs)))
            made = np.take_along_axis(score, best[..., None], -1)[..., 0] < stay
        chain, pair = np.nonzero(made)
        i, j = np.divmod(best[chain, pair], q)
        return chain, pair, i, j


def _some(parallel: int, rng: np.random.Generator | None) -> Index:
    """Places in a group that take part: all, or some by chance where there are many."""
    if rng is None or parallel <= WIDTH:
        return np.arange(parallel)
    return rng.permutation(parallel)[:WIDTH]


def _stretch(box: Box, a: Index, places: Index, come: Index) -> Array:
    """Change of the cost of resistances when a cell of `a` in one of its `places` goes and one of `come` comes.

    Shape (..., places, come): the group's lowest and highest without the cell that goes are the lowest and highest,
    or the second of them if it was the cell itself.
    """
    assert box.r is not None
    r, new = box.r[a], box.r[come][..., None, :]
    goes = r[..., places]
    now = box.excess(r.min(-1), r.max(-1))[..., None, None]
    if a.shape[-1] == 1:
        return np.broadcast_to(-now, (*goes.shape, come.shape[-1]))
    ranked = np.partition(r, (1, -2) if a.shape[-1] > 2 else (0, 1), -1)
    low, second, under, high = (ranked[..., k, None] for k in (0, 1, -2, -1))
    if a.shape[-1] == 3:  # the middle one is second from both sides
        ranked.sort(-1)
        low, second, under, high = (ranked[..., k, None] for k in (0, 1, 1, 2))
    least = np.where(goes == low, second, low)[..., :, None]
    most = np.where(goes == high, under, high)[..., :, None]
    return box.excess(np.minimum(least, new), np.maximum(most, new)) - now


def anneal(
    box: Box, start: Index, out: Index, rng: np.random.Generator, swaps: int = SWAPS
) -> tuple[Index, Index, int]:
    """Exchange cells until no exchange of two makes the cost less.

    Parameters
    ----------
    box : Box
        The cells. [-]
    start : array, shape (starts, series, parallel)
        Groupings to begin from; the chains start from the first, and the result is no worse than any. [-]
    out : array, shape (starts, left out)
        Cells in none of their groups. [-]
    rng : Generator
        Of the drawing. [-]
    swaps : int
        About how many exchanges to weigh while annealing. [-]

    Returns
    -------
    groups : array, shape (series, parallel)
        The best found. [-]
    out : array, shape (left out,)
        The other cells. [-]
    weighed : int
        How many exchanges were weighed in all. [-]

    References
    ----------
    .. [1] S. Kirkpatrick, C. D. Gelatt, M. P. Vecchi, Optimization by simulated annealing, Science 220 (1983) 671.
    """
    table = _cooled(box, start[0], out[0], rng, swaps)
    while _downhill(table):
        pass
    costs, before = box.cost(table.groups), box.cost(start)
    best = int(costs.argmin())
    if before.min() < costs[best]:
        first = before.argmin()
        table = _Table(box, start[first : first + 1].copy(), out[first : first + 1].copy(), table.weighed)
        best = 0
        while _downhill(table):
            pass
    return table.groups[best], table.out[best], table.weighed


def _cooled(box: Box, start: Index, out: Index, rng: np.random.Generator, swaps: int) -> _Table:
    """Chains of groupings, annealed side by side from one start."""
    series, parallel = start.shape
    width, left = min(parallel, WIDTH), len(out)
    share = min(WIDTH, max(1, left // series))
    each = (series // 2) * width**2 + min(series, left // share) * width * share
    chains = int(np.clip(FILLED // max(each, 1), 1, CHAINS))
    table = _Table(box, np.repeat(start[None], chains, 0), np.repeat(out[None], chains, 0))
    if not each:
        return table
    rounds = int(np.clip(swaps // (chains * each), *ROUNDS))
    heat = 2.0 * float(np.var(box.x) + np.var(box.y)) + LEAST
    for t in heat * np.geomspace(1.0, COLDEST, rounds):
        order = rng.permutation(series)
        if series > 1:
            half = series // 2
            table.meet(order[:half], order[half : 2 * half], rng, t)
        if left:
            table.out = table.out[:, rng.permutation(left)]
            table.renew(order[: left // share], 0, share, rng, t)
    return table


def _downhill(table: _Table) -> bool:
    """Once every group with every other and with all cells left out, the best exchange each; whether any was made."""
    series = table.groups.shape[1]
    better = False
    for first, second in rounds_of(series):
        better |= table.meet(first, second)
    if table.out.shape[1]:
        for k in range(series):
            better |= table.renew(np.array([k]), 0, table.out.shape[1])
    return better


def rounds_of(series: int) -> list[tuple[Index, Index]]:
    """Rounds in which each group meets each other once, as in a tournament.

    Examples
    --------
    >>> [(list(map(int, a)), list(map(int, b))) for a, b in rounds_of(3)]
    [([1], [2]), ([0], [1]), ([0], [2])]
    """
    teams = series + series % 2
    ring = list(range(1, teams))
    found = []
    for _ in range(teams - 1 if series > 1 else 0):
        line = [0, *ring]
        pairs = [(line[k], line[-1 - k]) for k in range(teams // 2)]
        pairs = [pair for pair in pairs if max(pair) < series]
        found.append((np.array([p[0] for p in pairs]), np.array([p[1] for p in pairs])))
        ring = ring[1:] + ring[:1]
    return found
