"""Cells compared with their like: medians that a few bad cells do not move, and who stands apart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from tideover.cells import rules
from tideover.cells.stock import StockCell

BINS = 8
"""Rows of a histogram."""


@dataclass(frozen=True)
class Cohort:
    """One quantity of cells that may be compared.

    Attributes
    ----------
    of : str
        ``capacity`` or ``resistance``.
    like : str
        What they share, in words: model, chemistry, age class, method.
    unit : str
        SI unit of the values.
    ids : tuple of str
        Who they are.
    values : tuple of float
        In the order of `ids`.
    median, mad : float
        And the median of the distances from it.
    outliers : tuple of str
        Ids of those that stand apart.
    """

    of: str
    like: str
    unit: str
    ids: tuple[str, ...]
    values: tuple[float, ...]
    median: float
    mad: float
    outliers: tuple[str, ...]


def median_mad(values: Iterable[float]) -> tuple[float, float]:
    """Median, and the median of the distances from it.

    Parameters
    ----------
    values : iterable of float
        At least one. [-]

    Returns
    -------
    median, mad : float
        In the unit of the values.

    Examples
    --------
    >>> median_mad([1.0, 2.0, 3.0, 4.0, 90.0])
    (3.0, 1.0)
    """
    array = np.asarray(list(values), dtype=float)
    median = float(np.median(array))
    return median, float(np.median(np.abs(array - median)))


def cohorts(cells: Sequence[StockCell]) -> tuple[Cohort, ...]:
    """Capacities and resistances by model, chemistry and age class; resistances also by method.

    Parameters
    ----------
    cells : sequence of StockCell
        All of them. [-]

    Returns
    -------
    cohorts : tuple of Cohort
        Of those quantities that any cell has. [-]
    """
    groups: dict[tuple[str, ...], list[tuple[str, float]]] = {}
    for cell in cells:
        who: tuple[str, ...] = (cell.model, cell.chemistry, cell.age)
        if cell.capacity is not None:
            groups.setdefault(("capacity", *who), []).append((cell.id, cell.capacity))
        if cell.resistance is not None:
            groups.setdefault(("resistance", *who, cell.method or "method not stated"), []).append(
                (cell.id, cell.resistance)
            )
    out = []
    for key, members in groups.items():
        of, like = key[0], key[1:]
        values = [value for _, value in members]
        median, mad = median_mad(values)
        low, high = resistance_limits(values) if of == "resistance" else capacity_limits(values)
        many = len(values) >= rules.COHORT_LEAST.value
        out.append(
            Cohort(
                of,
                ", ".join(filter(None, like)) or "no model stated",
                "ohm" if of == "resistance" else "C",
                tuple(name for name, _ in members),
                tuple(values),
                median,
                mad,
                tuple(name for name, value in members if many and not low <= value <= high),
            )
        )
    return tuple(out)


def resistance_limits(values: Sequence[float]) -> tuple[float, float]:
    """Lowest and highest resistance of a cohort's members. Salvaged cells spread by factors, so logarithms count.

    Parameters
    ----------
    values : sequence of float
        Above zero. [ohm]

    Returns
    -------
    low, high : float
        Beyond five median deviations, but never within a factor of 1.5. [ohm]
    """
    median, mad = median_mad(np.log(values))
    reach = max(rules.OUTLIER_MADS.value * mad, float(np.log(rules.RESISTANCE_FACTOR.value)))
    return float(np.exp(median - reach)), float(np.exp(median + reach))


def capacity_limits(values: Sequence[float]) -> tuple[float, float]:
    """Lowest and highest capacity of a cohort's members.

    Parameters
    ----------
    values : sequence of float
        Charge. [C]

    Returns
    -------
    low, high : float
        Beyond five median deviations, but never within 15 % of the median. [C]
    """
    median, mad = median_mad(values)
    reach = max(rules.OUTLIER_MADS.value * mad, rules.CAPACITY_FACTOR.value * median)
    return median - reach, median + reach


def histogram(values: Sequence[float], bins: int = BINS) -> tuple[tuple[float, float, int], ...]:
    """How many values lie where.

    Parameters
    ----------
    values : sequence of float
        At least one. [-]
    bins : int
        At most so many rows. [-]

    Returns
    -------
    rows : tuple of (low, high, count)
        Of equal width, from the lowest value to the highest; one row where all are equal.
    """
    counts, edges = np.histogram(values, bins=min(bins, max(len(values), 1)))
    if edges[0] == edges[-1] or max(values) == min(values):
        return ((float(min(values)), float(max(values)), len(values)),)
    return tuple((float(a), float(b), int(n)) for a, b, n in zip(edges[:-1], edges[1:], counts))
