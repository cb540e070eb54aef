"""What samples say: the share that holds with its interval, percentiles, who makes the scatter; and the sum of squares.

Everywhere a value that does not exist (no standing point) counts as the worst there is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tideover.cases.batch import Array
from tideover.cases.samples import LOT_SHARE
from tideover.cases.spreads import Spread

Z_95 = 1.959964
"""Two-sided 95 % of a normal distribution."""
CONFIDENCE = 0.95
PERCENTILES = (0.01, 0.5, 0.99)
RESAMPLES = 1000
"""Of the bootstrap: its limits then scatter by a twentieth of the interval."""
RSS_SIGMAS = 3.0
BIASED = ("health", "growth")
"""Figures of a part that only ageing moves."""


@dataclass(frozen=True)
class Share:
    """A share of builds, and the interval in which the true one lies with 95 %."""

    held: int
    count: int
    value: float
    low: float
    high: float


def wilson(held: int, count: int) -> Share:
    """Share of samples that hold, with Wilson's interval.

    Parameters
    ----------
    held, count : int
        Samples that hold, and all. [-]

    Notes
    -----
    Close to its nominal 95 % down to a few failures, and it stays within 0 and 1 [1]_. For stratified samples it is on
    the safe side.

    References
    ----------
    .. [1] E. B. Wilson, Probable inference, the law of succession, and statistical inference, Journal of the American
       Statistical Association 22 (1927) 209.

    Examples
    --------
    >>> s = wilson(1900, 2000)
    >>> round(s.low, 4), round(s.high, 4)
    (0.9396, 0.9587)
    """
    if not count:
        return Share(0, 0, float("nan"), 0.0, 1.0)
    p, z = held / count, Z_95**2 / count
    middle = (p + z / 2.0) / (1.0 + z)
    half = np.sqrt(z * p * (1.0 - p) + z * z / 4.0) / (1.0 + z)
    return Share(held, count, p, float(max(middle - half, 0.0)), float(min(middle + half, 1.0)))


def wilks(count: int) -> float:
    """Share of all builds that the worst of `count` samples bounds on one side, with 95 % confidence.

    Nothing is assumed of the distribution: that all lie within the share p has the probability ``p**count`` [1]_.

    References
    ----------
    .. [1] S. S. Wilks, Determination of sample sizes for setting tolerance limits, Annals of Mathematical Statistics
       12 (1941) 91.

    Examples
    --------
    >>> print(f"{wilks(58):.4f} {wilks(59):.4f}")
    0.9497 0.9505
    """
    return float((1.0 - CONFIDENCE) ** (1.0 / count)) if count else 0.0


def places(count: int, rng: np.random.Generator, shares: Sequence[float] = PERCENTILES) -> NDArray[np.intp]:
    """Which of `count` sorted samples are the percentiles, and the limits of their bootstrap interval.

    Parameters
    ----------
    count : int
        Samples, at least one. [-]
    rng : Generator
        For the bootstrap. [-]
    shares : sequence of float
        Which percentiles. [-]

    Returns
    -------
    places : int array, shape (shares, 3)
        The percentile, low limit and high limit of its 95 % interval, as positions among the sorted samples. [-]

    Notes
    -----
    Resampling keeps the order of values, so it is done once, with positions, for all quantities of the same samples.
    """
    k = np.clip(np.ceil(np.asarray(shares) * count).astype(np.intp) - 1, 0, count - 1)
    found = [np.partition(rng.integers(count, size=count), k)[k] for _ in range(RESAMPLES)]
    tail = (1.0 - CONFIDENCE) / 2.0
    low, high = np.quantile(found, (tail, 1.0 - tail), axis=0, method="nearest")
    return np.column_stack([k, low, high]).astype(np.intp)


def filled(y: ArrayLike, worse: str) -> Array:
    """Values with those that do not exist at the far bad end."""
    value = np.asarray(y, dtype=float)
    return np.where(np.isnan(value), -np.inf if worse == "low" else np.inf, value)


def holds(y: ArrayLike, worse: str, limit: float) -> NDArray[np.bool_]:
    """Which values keep a limit."""
    value = filled(y, worse)
    return value >= limit if worse == "low" else value <= limit


def contributions(u: Array, y: Array) -> tuple[Array, float]:
    """Share of a quantity's variance that each figure makes.

    Parameters
    ----------
    u : array, shape (samples, figures)
        Positions of the figures in their distributions. [-]
    y : array, shape (samples,)
        The quantity; infinite is allowed. [-]

    Returns
    -------
    shares : array, shape (figures,)
        Of each figure; they add up to the next. [-]
    r2 : float
        Share explained by all of them; what is missing is curvature, jumps and figures that act together. [-]

    Notes
    -----
    Standardised regression on positions: of the values, or of their ranks, which a jump or a missing value does not
    upset, whichever explains more. A figure's share is its coefficient times its correlation with the quantity, which
    for independent figures is the coefficient squared, and which still adds up to R² where like parts share a lot [1]_.
    Both are reduced by what the fit gains by chance.

    References
    ----------
    .. [1] J. W. Pratt, Dividing the indivisible: using simple symmetry to partition variance explained, 1987.
    """
    count, figures = u.shape
    if count < 2 * figures + 10 or y.min() == y.max():
        return np.zeros(figures), 0.0
    x = (u - u.mean(axis=0)) / u.std(axis=0)
    told = [_ranks(y), *([y] if np.isfinite(y).all() else [])]
    share = max((_shares(x, z) for z in told), key=lambda one: float(one.sum()))
    r2 = float(share.sum())
    by_chance = (1.0 - r2) / (count - figures - 1)
    return np.maximum(share - by_chance, 0.0), max(r2 - figures * by_chance, 0.0)


def _shares(x: Array, y: Array) -> Array:
    """Coefficient times correlation of each standardised figure; their sum is R²."""
    z = (y - y.mean()) / y.std()
    slope: Array = np.linalg.lstsq(x, z, rcond=None)[0]
    return slope * (x.T @ z) / len(z)


def _ranks(y: Array) -> Array:
    """Ranks from 0, those of equal values their mean."""
    _, back, counts = np.unique(y, return_inverse=True, return_counts=True)
    ends = np.cumsum(counts)
    mean: Array = (ends - 1 - (counts - 1) / 2.0)[back.reshape(-1)]
    return mean


def biased(spread: Spread) -> bool:
    """Whether a figure moves all like parts the same way, so that it adds up instead of averaging out.

    The room's temperature does, and what only ageing moves. What is written beside a part's figure is how one differs
    from the next, and is random.
    """
    return (spread.part, spread.name) == ("box", "ambient") or spread.name in BIASED


def root_sum_square(
    nominal: float,
    alone: Sequence[tuple[float, float]],
    spreads: Sequence[Spread],
    lots: Sequence[object],
    worse: str,
) -> float:
    """Limit by root-sum-square: all biases added, and three standard deviations of what is random.

    Parameters
    ----------
    nominal : float
        The quantity as written; the result is in its unit. [-]
    alone : sequence of (float, float)
        The quantity with each figure alone at its low and at its high limit. [-]
    spreads : sequence of Spread
        The figures. [-]
    lots : sequence
        What like parts share, equal for those of one lot; None for a part of its own. [-]
    worse : str
        ``low`` or ``high``. [-]

    Returns
    -------
    limit : float
        NaN where a single figure already leaves the quantity without a value. [-]

    Notes
    -----
    ``y0 + sum(middle) + sum(bias) -/+ 3 sqrt(sum_ij rho_ij s_i s_j)`` with ``s = (y(high) - y(low)) / sqrt(12)``: the
    quantity is taken as a straight line over each figure's own distribution, which is even between the limits. For a
    pair out of one lot ``rho = (6 / pi) asin(LOT_SHARE / 2)``, the rank correlation of the normal copula they are drawn
    with. Adding squares of biases, which do not average out, would be the classic error.
    """
    low, high = (np.array([a[k] for a in alone], dtype=float) - nominal for k in (0, 1))
    random = np.array([not biased(s) for s in spreads], dtype=bool)
    toward = -1.0 if worse == "low" else 1.0
    bias = toward * np.maximum(np.maximum(toward * low, toward * high), 0.0)[~random].sum()
    s = (high - low)[random] / np.sqrt(12.0)
    kin = [lot for lot, own in zip(lots, random) if own]
    rho = 6.0 / np.pi * np.arcsin(LOT_SHARE / 2.0)
    together = np.eye(len(kin))
    for i, j in combinations(range(len(kin)), 2):
        if kin[i] is not None and kin[i] == kin[j]:
            together[i, j] = together[j, i] = rho
    sigma = np.sqrt(max(float(s @ together @ s), 0.0)) if np.isfinite(s).all() else np.nan
    return float(nominal + (0.5 * (low + high))[random].sum() + bias + toward * RSS_SIGMAS * sigma)


__all__ = [
    "Share", "biased", "contributions", "filled", "holds", "places", "root_sum_square", "wilks", "wilson",
]  # fmt: skip
