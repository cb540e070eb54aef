"""The ten rules of coordination, asked of every fuse, board, adapter and converter of a build."""

from __future__ import annotations

from dataclasses import dataclass

from tideover.answers import limiting, protecting
from tideover.answers import ratings_tables as tables_of
from tideover.answers.base import Finding, Series, Table
from tideover.answers.fused import Coordination
from tideover.answers.loaded import Loaded

RULES = (
    protecting.bare,
    protecting.loads,
    protecting.conductors,
    protecting.shorts,
    limiting.series_fuses,
    limiting.limits,
    limiting.inrushes,
    limiting.trips,
)


@dataclass(frozen=True)
class Order:
    """What the rules found.

    Attributes
    ----------
    findings : list of Finding
        Of all rules.
    unstated : list of (str, str)
        Part and key of what should be stated to be judged.
    """

    findings: list[Finding]
    unstated: list[tuple[str, str]]
    tables: tuple[Table, ...]
    series: tuple[Series, ...]


def judged(loaded: Loaded) -> Order:
    """Ask every rule.

    Parameters
    ----------
    loaded : Loaded
        Readings of the build. [-]
    """
    c = Coordination(loaded)
    found = [finding for rule in RULES for finding in rule(c)]
    return Order(found, c.unstated(), (tables_of.shorts(c),), tables_of.curves(c))
