"""Missions of constant power in a published record: its rows, and the load that drew them.

The record was made by drawing straight lines to every 30 s, so a row beside an edge is neither level, and integrating
its rows counts 0.1 to 0.2 Ah too much a mission. The load itself is published: its levels and how long each lasts. Only
when it began is not known, to within the rows on either side of its edges.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from tideover.cells.log import Log
from tideover.cells.run import CellCases, Load, discharge

LEVELS = (54.0, 16.0, 54.0)
"""[W]"""
LASTS = (75.0, 800.0, 105.0)
"""[s]"""


@dataclass(frozen=True)
class Mission:
    """One mission with the rests around it.

    Attributes
    ----------
    log : Log
        Rows that lie at rest or on a level; the charge is counted from the load, not from the rows.
    begins, doubt : float
        When the load began, and how far that may be off. [s]
    levels : tuple of arrays
        Rows of `log` on each level.
    """

    log: Log
    begins: float
    doubt: float
    levels: tuple[Any, ...]


def missions(record: Log) -> list[Mission]:
    """Cut a record into its missions."""
    power = record.i * record.v
    on = np.flatnonzero(power > 8.0)
    firsts = [int(on[0])] + [int(b) for b in on[1:][np.diff(on) > 5]]
    return [_mission(record, power, k, n) for n, k in enumerate(firsts, 1)]


def _mission(record: Log, power: Any, first: int, number: int) -> Mission:
    span = np.arange(first - 11, first + 55)
    t, p = record.t[span], power[span]
    high, low = np.flatnonzero(np.abs(p - LEVELS[0]) < 0.5), np.flatnonzero(np.abs(p - LEVELS[1]) < 0.5)
    low = low[(low > high[0]) & (low < high[-1])]
    levels = (high[high < low[0]], low, high[high > low[-1]])
    edges = np.concatenate([[0.0], np.cumsum(LASTS)])
    latest = min(t[rows[0]] - edge for rows, edge in zip(levels, edges))
    earliest = max(t[rows[-1]] - edge for rows, edge in zip(levels, edges[1:]))
    begins = 0.5 * (earliest + latest)
    fine = np.arange(t[0], t[-1], 1.0)
    piece = np.searchsorted(begins + edges, fine, side="right")
    drawn = np.array([0.0, *LEVELS, 0.0])[piece] / np.interp(fine, t, record.v[span])
    keep = np.sort(np.concatenate([*levels, np.flatnonzero(np.abs(p) < 0.01)]))
    count = np.interp(t[keep], fine, np.cumsum(drawn) - drawn[0])
    assert record.temp is not None
    log = Log(
        f"mission {number}", t[keep] - t[0], record.v[span][keep], record.i[span][keep], record.temp[span][keep], count
    )
    return Mission(
        log, begins - t[0], 0.5 * (latest - earliest), tuple(np.searchsorted(keep, rows) for rows in levels)
    )


@dataclass(frozen=True)
class Judged:
    """A prediction against a mission.

    Attributes
    ----------
    rms : float
        Of the voltage on all levels. [V]
    ends : tuple of float
        Voltage at the end of each level, predicted less measured. [V]
    time : float
        Until the voltage at which the mission ended, predicted over measured, less 1. [-]
    """

    rms: float
    ends: tuple[float, ...]
    time: float


def judged(cells: CellCases, mission: Mission) -> Judged:
    """Predict a mission from nothing but its rested voltage and the temperature of its air."""
    log = mission.log
    rested = int(np.flatnonzero(log.t < mission.begins)[-1])
    grid = np.linspace(-0.05, 1.05, 4401)
    start = float(np.interp(log.v[rested], cells.at(grid[:, None])[0][:, 0], grid))
    assert log.temp is not None
    air = float(log.temp[rested])
    last = LASTS[-1] + 600.0
    pieces = np.array([5.0] * 15 + [10.0] * 80 + [3.0] * round(last / 3.0))
    load = Load("power", np.repeat(LEVELS, (15, 80, round(last / 3.0))), pieces)
    rows = np.concatenate(mission.levels)
    run = discharge(cells, load, 0.5, start, air, until=1200.0)
    left = np.interp(log.t[rows] - mission.begins, run.t, run.v[0]) - log.v[rows]
    ends = tuple(float(left[rows == level[-1]][0]) for level in mission.levels)
    end = mission.levels[-1][-1]
    lasted = float(log.t[end] - mission.begins)
    until = float(discharge(cells, load, float(log.v[end]), start, air).runtime[0])
    return Judged(float(np.sqrt(np.mean(left**2))), ends, until / lasted - 1.0)
