"""How warm every part becomes against what it bears. In px; values in SI."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tideover.answers.base import FAILS, HOLDS, OPEN, Table
from tideover.draw.ranges import Range, ranges
from tideover.draw.svg import Ink

UNLIMITED = 1e9
"""Parts without a limit come last. [K]"""


def parts(table: Table, statuses: Mapping[str, str], *, title: str, width: float) -> Ink:
    """Each part from the coolest standing state to the worst corner, with its limit; the nearest to it first.

    Parameters
    ----------
    table : Table
        Rows of part, limit, a temperature for each state, the worst corner; None where not known. [K]
    statuses : mapping of str to str
        By part, as judged; those not named hold below their limit and are open without one. [-]
    title : str
        Of the figure. [-]
    width : float
        Of the figure. [px]
    """
    rows = [row for made in table.rows if (row := _row(made, statuses)) is not None]
    rows.sort(key=lambda r: r.limit - r.high if r.limit is not None else UNLIMITED - r.high)
    about = "From the coolest state to the worst corner; the mark is the warmest state as drawn."
    return ranges(rows, "K", title=title, width=width, about=about)


def _row(made: Sequence[object], statuses: Mapping[str, str]) -> Range | None:
    name, limit, *temps = made
    known = [float(t) for t in temps if isinstance(t, int | float)]
    if not known:
        return None
    states = [float(t) for t in temps[:-1] if isinstance(t, int | float)] or known
    bound = float(limit) if isinstance(limit, int | float) else None
    high = max(known)
    judged = OPEN if bound is None else FAILS if high > bound else HOLDS
    return Range(str(name), max(states), min(known), high, bound, statuses.get(str(name), judged))
