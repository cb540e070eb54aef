"""What every answer is made of: a status, a headline with numbers, findings that carry their reason, tables, series.

Command line, screen and published pages all render these; none of them computes anything.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

HOLDS, TIGHT, FAILS, OPEN = "holds", "tight", "fails", "open"
STATUSES = (HOLDS, TIGHT, FAILS, OPEN)

QUESTIONS: dict[str, str] = {
    "standing": "What does each point read in every standing state?",
    "drops": "Where does each millivolt and each watt go on the way to the load?",
    "budget": "Can the adapter feed the load and charge at once?",
    "sources": "Which source feeds the load, and does anything drain or feed back where it should not?",
    "outage": "Does the load ride through loss and return of mains?",
    "endurance": "How long does it carry the load, and what stops it?",
    "recharge": "How long until full again with the load attached, does the charger ever end, and is it full in time?",
    "start": "Can it start from every dead state when mains comes back?",
    "standby": "How long does it last switched off or idle?",
    "heat": "What gets hot?",
    "ratings": "Is anything past its rating, and do fuse, board, wire and converter trip in the right order?",
    "cells": "Are the cells kept inside their limits, and what does it cost in years to hold them full?",
    "tolerance": "What if parts are at their tolerance limits?",
    "faults": "What does each single fault do?",
    "year": "Over a year of outages, how often does the load drop?",
}
"""Keys and questions, in the order of the sheet."""


@dataclass(frozen=True)
class Finding:
    """One statement, with its reason.

    Attributes
    ----------
    name : str
        In plain words that say the bad thing and survive rewording: ``load drops out``.
    status : str
        One of `STATUSES`.
    subject : str
        Part or node it is about.
    state : str
        Standing state or instant: ``on pack, half``, ``4.8 ms after mains is lost``.
    quantity : str
        What was judged: ``voltage at the load``.
    value, limit, margin : float or None
        In SI; the margin is positive while it holds. None where there is no number.
    unit : str
        SI unit of the three.
    case : str
        Which corner or sample is worst: ``nominal``, ``hold-up at -20 %, brick at -5 %``.
    why, mend, source : str
        One sentence each: the cause; what would make it hold; where the rule comes from.
    place : str
        File, line and column, such as ``build.yaml:41:12``; empty if it belongs to no line.
    """

    name: str
    status: str
    subject: str
    state: str = ""
    quantity: str = ""
    value: float | None = None
    unit: str = ""
    limit: float | None = None
    margin: float | None = None
    case: str = "nominal"
    why: str = ""
    mend: str = ""
    source: str = ""
    place: str = ""


@dataclass(frozen=True)
class Table:
    """A small table: column headings with their SI unit ("" for text), and rows of text or SI numbers."""

    title: str
    columns: tuple[tuple[str, str], ...]
    rows: tuple[tuple[Any, ...], ...]


@dataclass(frozen=True)
class Series:
    """A curve for a chart: x and y in SI with their units; `log` asks for axes in decades."""

    name: str
    x_name: str
    x_unit: str
    y_unit: str
    x: tuple[float, ...]
    y: tuple[float, ...]
    log: bool = False


@dataclass(frozen=True)
class Spread:
    """How builds drawn at random lie, in classes of equal width.

    Attributes
    ----------
    name, quantity : str
        In a word or two, and in full.
    unit : str
        SI unit of the edges and of the limit.
    edges : tuple of float
        Of the classes, one more than there are classes; rising.
    shares : tuple of float
        Of all builds, in each class.
    limit : float or None
        What each build must keep.
    worse : str
        ``low`` or ``high``: the side on which it is missed.
    held, held_low, held_high : float
        Share of builds that keep the limit, with its 95 % interval.
    count : int
        Builds drawn.
    """

    name: str
    quantity: str
    unit: str
    edges: tuple[float, ...]
    shares: tuple[float, ...]
    limit: float | None
    worse: str
    held: float
    held_low: float
    held_high: float
    count: int


@dataclass(frozen=True)
class Answer:
    """The answer to one question of the sheet; `broken` when an error of ours kept it from being answered."""

    key: str
    status: str
    headline: str
    findings: tuple[Finding, ...] = ()
    tables: tuple[Table, ...] = ()
    series: tuple[Series, ...] = ()
    cautions: tuple[str, ...] = ()
    broken: bool = False
    spreads: tuple[Spread, ...] = ()

    @property
    def question(self) -> str:
        """The question as a builder asks it."""
        return QUESTIONS[self.key]


def worst(statuses: Iterable[str]) -> str:
    """The status of several taken together: fails before tight before open before holds.

    Examples
    --------
    >>> worst(["holds", "tight", "open"])
    'tight'
    """
    order = (FAILS, TIGHT, OPEN, HOLDS)
    found = set(statuses)
    return next((s for s in order if s in found), HOLDS)


def judged(margin: float, tight_below: float) -> str:
    """Status from a margin: negative fails, small is tight.

    Parameters
    ----------
    margin : float
        Distance to the limit, positive while it holds. [-]
    tight_below : float
        Margin under which a pass counts as tight, in the same unit. [-]

    Examples
    --------
    >>> judged(-0.1, 0.2), judged(0.1, 0.2), judged(0.3, 0.2)
    ('fails', 'tight', 'holds')
    """
    return FAILS if margin < 0.0 else TIGHT if margin < tight_below else HOLDS
