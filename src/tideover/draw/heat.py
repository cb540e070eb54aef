"""How warm every part becomes against what it bears. In px; values in SI."""

from __future__ import annotations

from collections.abc import Sequence

from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Table
from tideover.draw.ranges import Range, ranges
from tideover.draw.svg import Ink

NEAR = 10.0
"""A part nearer to its limit than this is marked as one to watch; the findings judge each kind by its own rule. [K]"""


def parts(table: Table, *, title: str, width: float) -> Ink:
    """Each part from the coolest standing state to the worst corner, with its limit; the nearest to it first.

    Parameters
    ----------
    table : Table
        Rows of part, limit, a temperature for each state, the worst corner, all in kelvin; None where not known. [K]
    title : str
        Of the figure. [-]
    width : float
        Of the figure. [px]
    """
    rows = [row for made in table.rows if (row := _row(made)) is not None]
    rows.sort(key=lambda r: r.limit - r.high if r.limit is not None else 1e9 - r.high)
    return ranges(rows, "K", title=title, width=width, about="From the coolest state to the worst corner.")


def _row(made: Sequence[object]) -> Range | None:
    name, limit, *temps = made
    known = [float(t) for t in temps if isinstance(t, int | float)]
    if not known:
        return None
    states = [float(t) for t in temps[:-1] if isinstance(t, int | float)] or known
    bound = float(limit) if isinstance(limit, int | float) else None
    high = max(known)
    status = OPEN if bound is None else FAILS if high > bound else TIGHT if high > bound - NEAR else HOLDS
    return Range(str(name), max(states), min(known), high, bound, status)
