"""Units that nobody told: inferred where only one can be meant, else asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tideover.cells.log import Array
from tideover.cells.log_columns import CURRENT, TEMPERATURE, TIME, UNITS, VOLTAGE

VOLTS = (0.3, 100.0)
"""A cell, or a block of them, in volts."""
MILLIVOLTS = (1000.0, 100_000.0)
"""The same in millivolts: nothing here has more than a hundred volts."""
HOLDS = (0.02 * 3600.0, 200.0 * 3600.0)
"""Charge that one record of a cell moves. [C] A current of which only one unit gives such a charge has that unit."""
EPOCH_S, EPOCH_MS = (1e9, 2.5e9), (1e12, 2.5e12)
"""Seconds and milliseconds since 1970, from 2001 to 2049."""
SAME = 0.10


@dataclass(frozen=True)
class Guess:
    """The unit that was found, and why; or none, and what is seen that does not settle it."""

    unit: str
    why: str


def voltage(v: Array) -> Guess:
    """Volts or millivolts, by their size."""
    low, high = (float(x) for x in np.nanpercentile(v, (5, 95))) if np.isfinite(v).any() else (0.0, 0.0)
    seen = f"its values are {low:.4g} to {high:.4g}"
    if VOLTS[0] <= high <= VOLTS[1] and low >= -1.0:
        return Guess("v", f"The voltage has no unit; {seen}, so it is in volts.")
    if MILLIVOLTS[0] <= high <= MILLIVOLTS[1] and low >= 0.0:
        return Guess("mv", f"The voltage has no unit; {seen}, so it is in millivolts.")
    return Guess("", seen)


def temperature(x: Array) -> Guess:
    """Degrees Celsius or kelvin, by their size; Fahrenheit is never guessed."""
    known = x[np.isfinite(x)]
    middle = float(np.median(known)) if len(known) else 0.0
    if 230.0 <= middle <= 360.0:
        return Guess("k", f"The temperature has no unit; it is about {middle:.3g}, so it is in kelvin.")
    if -40.0 <= middle <= 60.0:
        return Guess("c", f"The temperature has no unit; it is about {middle:.3g}, so it is in degrees Celsius.")
    return Guess("", f"it is about {middle:.3g}")


def epoch(t: Array) -> Guess:
    """Seconds or milliseconds since 1970."""
    first = float(t[np.isfinite(t)][0]) if np.isfinite(t).any() else 0.0
    if EPOCH_S[0] <= first <= EPOCH_S[1]:
        return Guess("s", "The time has no unit; by its size it is in seconds since 1970.")
    if EPOCH_MS[0] <= first <= EPOCH_MS[1]:
        return Guess("ms", "The time has no unit; by its size it is in milliseconds since 1970.")
    return Guess("", "")


def by_charge(
    t: Array, i: Array, times: Sequence[str], currents: Sequence[str], count: Array | None
) -> tuple[str, str, str]:
    """Units of time and current that make the charge come out right.

    Parameters
    ----------
    t, i : array, shape (n,)
        As written. [-]
    times, currents : sequence of str
        Units that come into question; one if it is known.
    count : array or None
        The logger's own count, if its unit is known. [C]

    Returns
    -------
    time, current, why : str
        Empty when more than one fits, or none.
    """
    good = np.isfinite(t) & np.isfinite(i)
    if good.sum() < 3:
        return "", "", ""
    t, i = t[good], i[good]
    steps = np.diff(t)
    steps = np.where(steps > 0, steps, 0.0)
    moved = float((steps * 0.5 * np.abs(i[1:] + i[:-1])).sum())
    pairs = [(a, b, moved * UNITS[a][1] * UNITS[b][1]) for a in times for b in currents]
    if count is not None and np.isfinite(count).sum() > 2:
        goal = float(np.abs(np.diff(count[np.isfinite(count)])).sum())
        fit = [(a, b) for a, b, q in pairs if goal > 0.0 and abs(q / goal - 1.0) <= SAME]
        if len(fit) == 1:
            return *fit[
                0
            ], f"with {fit[0][0]} and {_spoken(fit[0][1])} the current agrees with the logger's count of charge"
    if len(times) == 1:
        fit = [(a, b) for a, b, q in pairs if HOLDS[0] <= q <= HOLDS[1]]
        if len(fit) == 1:
            q = next(q for a, b, q in pairs if (a, b) == fit[0])
            return *fit[
                0
            ], f"in {_spoken(fit[0][1])} the record moves {q / 3600:.3g} Ah, else a thousand times more or less"
    return "", "", ""


def _spoken(unit: str) -> str:
    return {"a": "A", "ma": "mA"}.get(unit, unit)


CHOICES = {
    TIME: ("s", "min", "h", "ms"),
    CURRENT: ("A", "mA"),
    VOLTAGE: ("V", "mV"),
    TEMPERATURE: ("degC", "degF", "K"),
}
"""What is offered when a unit is asked for."""
