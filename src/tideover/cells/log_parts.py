"""The parts of a log: rests, discharges at constant current, power or resistance, pulses, charges.

Tolerant of noise: a part begins where the current steps by more than its own scatter, not where a digit flickers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.cells.log import Array, Log

REST, CURRENT, POWER, RESISTANCE = "rest", "constant current", "constant power", "constant resistance"
PULSE, CHARGE, MIXED = "pulse", "charge", "mixed"
KINDS = (REST, CURRENT, POWER, RESISTANCE, PULSE, CHARGE, MIXED)

QUIET = 0.05
"""Share of the usual current below which a row is at rest; loggers show up to 3 % of it with nothing attached."""
STEP = 0.10
"""Relative change of current from one row to the next that begins a new part; regulation and noise stay below 5 %."""
STEADY = 0.03
"""Relative scatter of current, power or resistance up to which it counts as held constant."""
SHORT = 60.0
"""Longest pulse. [s] Pulse tests use 10 s to 30 s; engineering judgement."""
BUSY = 8
"""Short parts in a row that are no longer told one by one but as one mixed part, such as a drive profile."""

Whole = NDArray[np.int_]


@dataclass(frozen=True)
class Part:
    """A stretch of a log in which one thing happens.

    Attributes
    ----------
    kind : str
        One of `KINDS`. A short charge between rests is a pulse with negative current.
    first, last : int
        Its first and its last row, both included. [-]
    begin, end : float
        Time of these rows. [s]
    current : float
        Mean over time, positive on discharge. [A]
    power : float
        Mean over time, positive on discharge. [W]
    charge : float
        Taken out from the row before its first (unless a break lies between) to its last row, so that the charges of
        all parts add up to that of the log. [C]
    """

    kind: str
    first: int
    last: int
    begin: float
    end: float
    current: float
    power: float
    charge: float

    @property
    def lasts(self) -> float:
        """From its first to its last row. [s]"""
        return self.end - self.begin


def parts_of(log: Log) -> tuple[Part, ...]:
    """Split a log into its parts.

    Parameters
    ----------
    log : Log
        As `log_read.read_log` gives it. [-]

    Returns
    -------
    parts : tuple of Part
        In order; together they hold every row once.
    """
    if not len(log.t):
        return ()
    ends = np.flatnonzero(_new(log)[1:]) + 1
    spans = list(zip([0, *ends.tolist()], [*ends.tolist(), len(log.t)]))
    found = [_part(log, first, last - 1, _kind(log, first, last - 1)) for first, last in spans]
    return tuple(_merged(log, found))


def quiet(i: Array) -> float:
    """Current below which a row is at rest. [A]"""
    size = np.abs(i)
    top = float(size.max(initial=0.0))
    loaded = size[size > QUIET * top]
    return QUIET * float(np.median(loaded)) if len(loaded) else 0.0


def states(i: Array) -> Whole:
    """Of every row: 0 at rest, 1 on discharge, -1 on charge."""
    level = quiet(i)
    return np.where(i > level, 1, np.where(i < -level, -1, 0))


def _new(log: Log) -> NDArray[np.bool_]:
    """Rows with which a part begins."""
    state = states(log.i)
    new = np.zeros(len(log.t), bool)
    new[0] = True
    new[1:] |= state[1:] != state[:-1]
    size = np.abs(log.i)
    jump = np.abs(np.diff(log.i)) > np.maximum(STEP * np.maximum(size[1:], size[:-1]), _flicker(log.i))
    new[1:] |= jump & (state[1:] == 1) & (state[:-1] == 1)
    new[list(log.breaks)] = True
    # A lone row between two levels is an edge caught half way: it belongs to what follows.
    lone = np.flatnonzero(new[:-1] & new[1:])
    held = [k + 1 for k in lone if k and k + 1 not in log.breaks and state[k] == state[k + 1] != 0]
    new[held] = False
    return new


def _flicker(i: Array) -> float:
    """Steps of current that are noise: several times the usual one. [A]"""
    return 8.0 * float(np.median(np.abs(np.diff(i)))) if len(i) > 2 else 0.0


def _kind(log: Log, first: int, last: int) -> str:
    rows = slice(first, last + 1)
    i, v = log.i[rows], log.v[rows]
    level = quiet(log.i)
    mean = float(np.median(i))
    if abs(mean) <= level:
        return REST
    if log.t[last] - log.t[first] <= SHORT and _beside_rest(log, first, last, level):
        return PULSE
    if mean < 0.0:
        return CHARGE
    if len(i) < 3:
        return CURRENT
    inner = slice(1, -1) if len(i) > 6 else slice(None)  # the edges may be caught half way
    i, v = i[inner], v[inner]
    scatter = {CURRENT: _scatter(i), POWER: _scatter(i * v), RESISTANCE: _scatter(v / np.maximum(i, level))}
    best = min(scatter, key=lambda kind: scatter[kind])
    if scatter[CURRENT] <= max(1.2 * scatter[best], 0.005):
        best = CURRENT
    return best if scatter[best] <= STEADY else MIXED


def _beside_rest(log: Log, first: int, last: int, level: float) -> bool:
    """Whether a rest lies before or after, or another level of which this is a short exception."""
    before = first == 0 or abs(log.i[first - 1]) <= level
    after = last == len(log.t) - 1 or abs(log.i[last + 1]) <= level
    return (before or after) and not (first == 0 and last == len(log.t) - 1)


def _scatter(x: Array) -> float:
    """Relative scatter that a few odd rows do not raise: slow drift counts, a spike does not."""
    low, high = np.percentile(x, (5, 95))
    middle = abs(float(np.median(x)))
    return float(high - low) / 2.0 / middle if middle else float("inf")


def _part(log: Log, first: int, last: int, kind: str) -> Part:
    before = first - 1 if first and first not in log.breaks else first
    t, i, v = (a[first : last + 1] for a in (log.t, log.i, log.v))
    lasts = float(t[-1] - t[0])
    mean = [float(np.trapezoid(x, t)) / lasts if lasts else float(np.mean(x)) for x in (i, i * v)]
    charge = log.charge
    return Part(kind, first, last, float(t[0]), float(t[-1]), mean[0], mean[1], float(charge[last] - charge[before]))


def _merged(log: Log, parts: list[Part]) -> list[Part]:
    """Many short parts in a row become one mixed part; what is too short to be seen joins its neighbour's kind."""
    out: list[Part] = []
    run: list[Part] = []
    for part in [*parts, None]:
        if part and part.lasts < SHORT and part.first not in log.breaks:
            run.append(part)
            continue
        out += [_part(log, run[0].first, run[-1].last, MIXED)] if len(run) >= BUSY else run
        run = []
        if part:
            out.append(part)
    joined: list[Part] = []
    for part in out:
        if joined and part.first not in log.breaks and _goes_on(joined[-1], part):
            joined[-1] = _part(log, joined[-1].first, part.last, part.kind)
        else:
            joined.append(part)
    return joined


def _goes_on(one: Part, two: Part) -> bool:
    """Whether the second is the first again, after a row that flickered."""
    if one.kind != two.kind or one.kind in (REST, PULSE):
        return one.kind == two.kind == REST
    held = {CURRENT: (one.current, two.current), POWER: (one.power, two.power)}.get(two.kind, (1.0, 1.0))
    return abs(held[0] - held[1]) <= STEADY * max(map(abs, held))
