"""Resistance from steps of current: what a cell drops for each ampere one second and ten seconds after a step.

The two are different figures, and neither is the impedance at one kilohertz: none stands for another. Where the rows
are too far apart for a second, no figure is given for it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tideover.cells.log import Array, Log

TIMES = (1.0, 10.0)
"""After the step. [s]"""
STEP = 0.15
"""Least step, of the largest current of the log, that is read. [-]"""
STEADY = 0.05
"""How far a current may wander, of the same, and still be called steady. [-]"""
BEFORE = 5.0
"""How long it must have been steady before. [s]"""
DRIFT = 60.0
"""Length before the step over which the drift of the voltage is found. [s]"""
FINEST = 0.5e-3
"""Voltages are never taken to be known better than this. [V]"""


@dataclass(frozen=True)
class PulseReading:
    """One step of current.

    Attributes
    ----------
    t, discharged : float
        When, and the charge taken out by then. [s], [C]
    step : float
        Of the current, positive towards discharge. [A]
    temp : float
        Of the cell; NaN where it was not logged. [K]
    resistance, spread : tuple of float
        After each of `TIMES`, with its standard uncertainty; NaN where the rows do not allow it. [ohm]
    """

    t: float
    discharged: float
    step: float
    temp: float
    resistance: tuple[float, ...]
    spread: tuple[float, ...]


def readings(log: Log) -> tuple[PulseReading, ...]:
    """Every step of a log that can be read.

    Parameters
    ----------
    log : Log
        As read. [-]

    Returns
    -------
    found : tuple of PulseReading
        In order of time; steps of both directions, from rest or from another current.

    Notes
    -----
    The voltage before the step is drawn on along its own drift. The step lies somewhere between two rows, half way on
    average; what that leaves open is in the uncertainty.
    """
    most = float(np.abs(log.i).max()) if len(log.i) else 0.0
    if most <= 0.0:
        return ()
    jumps = np.flatnonzero(np.abs(np.diff(log.i)) > STEP * most) + 1
    charge, found = log.charge, []
    for k in jumps:
        read = _reading(log, charge, int(k), STEADY * most)
        if read is not None:
            found.append(read)
    return tuple(found)


def _reading(log: Log, charge: Array, k: int, wander: float) -> PulseReading | None:
    if k in log.breaks or k < 2:
        return None
    last = k - 1
    first = last
    while first > 0 and first not in log.breaks and abs(log.i[first - 1] - log.i[last]) < wander:
        first -= 1
    if log.t[last] - log.t[first] < BEFORE:
        return None
    end = k
    while end + 1 < len(log.t) and end + 1 not in log.breaks and abs(log.i[end + 1] - log.i[k]) < wander:
        end += 1
    step = float(log.i[k] - log.i[last])
    rows = np.arange(first, k)
    rows = rows[log.t[rows] >= log.t[last] - DRIFT]
    slope, noise, level = 0.0, FINEST, float(log.v[last])
    x = log.t[rows] - log.t[last]
    if len(rows) >= 4:
        slope, level = np.polyfit(x, log.v[rows], 1)
        left = log.v[rows] - level - slope * x
        noise = max(float(np.sqrt(np.sum(left**2) / (len(rows) - 2))), FINEST)
    gap = float(log.t[k] - log.t[last])
    began = float(log.t[k]) - 0.5 * gap
    ohms, spreads = [], []
    for after in TIMES:
        at = began + after
        if 0.0 < at - float(log.t[end]) <= gap:  # a pulse of just that length: its last row is the reading
            at = float(log.t[end])
        inside = log.t[k] <= at <= log.t[end] and gap <= after
        near = int(np.searchsorted(log.t, at)) if inside else 0
        spacing = float(log.t[near] - log.t[near - 1]) if inside and near > k else 0.0
        if not inside or spacing > max(after, 1.0):
            ohms.append(float("nan"))
            spreads.append(float("nan"))
            continue
        volts = float(np.interp(at, log.t[k : end + 1], log.v[k : end + 1]))
        # What the voltage moves within the rows' spacing there is how well its instant is known.
        low, high = max(near - 1, k), min(max(near, k + 1), end)
        moves = abs(float(log.v[high] - log.v[low])) / max(float(log.t[high] - log.t[low]), 1e-9)
        ohms.append((level + slope * (at - log.t[last]) - volts) / step)
        share = (at - float(log.t[low])) / max(float(log.t[high] - log.t[low]), 1e-9)
        own = noise**2 * (share**2 + (1.0 - share) ** 2)
        drawn = noise**2 * _leverage(x, at - float(log.t[last])) if len(rows) >= 4 else noise**2
        moved = max(moves * gap, 0.0) ** 2 / 12.0 if moves * gap > 2.0 * noise else 0.0
        spreads.append(float(np.sqrt(own + drawn + moved)) / abs(step))
    if np.isnan(ohms).all() or not np.nanmin(ohms) > 0.0:
        return None
    temp = float(log.temp[last]) if log.temp is not None else float("nan")
    return PulseReading(float(log.t[k]), float(charge[last]), step, temp, tuple(ohms), tuple(spreads))


def _leverage(x: Array, at: float) -> float:
    """Variance of a straight line through noisy points, drawn on to `at`, over that of one point."""
    middle = float(x.mean())
    return 1.0 / len(x) + (at - middle) ** 2 / max(float(np.sum((x - middle) ** 2)), 1e-12)
