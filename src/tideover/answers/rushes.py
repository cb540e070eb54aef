"""The rush into empty capacitors at a start: its peak, its integral and its energy in every part it passes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.starts import Starts
from tideover.cases import written

Array = NDArray[np.float64]
TAIL = 0.1
"""Share of its peak below which a rush is over: of an exponential, a hundredth of the integral is left."""
BRIEF = 20e-6
"""What is shorter than this the inductance of a lead (about 1 µH a metre, against tens of milliohms) rounds off before
it reaches a contact: engineering judgement. [s]"""
STEADY = 1.5
"""Times the current that flows in the end: what stays below that is load, not rush."""
FELT = {
    "fuse": (("a [A]", ""),),
    "protection board": (("discharge current [A]", ""),),
    "switch": (("a [A]", ""),),
    "relay": (("front [A]", "front contact"), ("back [A]", "back contact")),
    "capacitor": (("current [A]", ""),),
}
"""Currents looked at, by kind: quantity, and which contact it is."""


@dataclass(frozen=True)
class Rush:
    """Current through one part in one start.

    Attributes
    ----------
    case : int
        Which start.
    part, kind, where : str
        Where; `where` names a contact.
    peak, at : float
        Largest current after the trigger [A] and when. [s]
    held : float
        Largest mean over `BRIEF`. [A]
    integral : float
        Of the squared current over the rush. [A^2 s]
    lasts : float
        How long the rush lasts. [s]
    melted : float
        Fuse: the furthest its element got towards melting; 1 is blown. [-]
    energy : float
        Capacitor: energy taken up until its voltage is highest. [J]
    rise : float
        Capacitor: how far it rises. [V]
    """

    case: int
    part: str
    kind: str
    where: str
    peak: float
    at: float
    held: float
    integral: float
    lasts: float
    melted: float = 0.0
    energy: float = 0.0
    rise: float = 0.0


def rushes(starts: Starts) -> tuple[Rush, ...]:
    """The rush through every fuse, board, contact and capacitor in every start."""
    return tuple(r for case in range(len(starts.deads)) for r in _of_case(starts, case))


def _of_case(starts: Starts, case: int) -> Iterator[Rush]:
    t, known = starts.read(case)
    after = t >= 0.0 if t[-1] >= 0.0 else np.ones(len(t), dtype=bool)
    for kind, quantities in FELT.items():
        for part in states.of_kind(starts.network, kind):
            for quantity, where in quantities:
                i = np.abs(known.quantity[part.name, quantity][after])
                peak, at, integral, lasts = measured(t[after], i)
                melted = energy = rise = 0.0
                if kind == "fuse":
                    melted = float(known.state[part.name, "melting"].max())
                if kind == "capacitor":
                    v = known.state[part.name, "charge_voltage"]
                    farad = written(starts.network, (part.name, "capacitance"))
                    top = float(v.max())
                    rise, energy = top - float(v[0]), float(0.5 * farad * (top**2 - v[0] ** 2))
                held = held_for(t[after], i, BRIEF)
                yield Rush(case, part.name, kind, where, peak, at, held, integral, lasts, melted, energy, rise)


def measured(t: Array, i: Array) -> tuple[float, float, float, float]:
    """Peak of a current, when, its squared integral around that peak, and how long that is.

    Parameters
    ----------
    t, i : array, shape (points,)
        Times [s] and sizes of the current. [A]

    Examples
    --------
    >>> t = np.linspace(0.0, 1.0, 100001)
    >>> peak, _, integral, _ = measured(t, 10.0 * np.exp(-t / 0.01))
    >>> print(f"{peak:.1f} A, {integral:.3f} A^2 s of {100.0 * 0.01 / 2:.3f}")
    10.0 A, 0.495 A^2 s of 0.500
    """
    k = int(i.argmax())
    peak = float(i[k])
    over = i > max(TAIL * peak, min(STEADY * float(i[-1]), 0.5 * peak))
    if not over[k]:
        return peak, float(t[k]), 0.0, 0.0
    low = k - int(np.argmin(over[: k + 1][::-1])) if not over[: k + 1].all() else -1
    high = k + int(np.argmin(over[k:])) if not over[k:].all() else len(i)
    cut = slice(max(low, 0), min(high + 1, len(i)))
    return peak, float(t[k]), float(np.trapezoid(i[cut] ** 2, t[cut])), float(t[cut][-1] - t[cut][0])


def held_for(t: Array, i: Array, seconds: float) -> float:
    """Largest mean of a current over a stretch of some length. [A]

    Examples
    --------
    >>> t = np.array([0.0, 1.0, 1.0, 2.0, 2.0, 9.0])
    >>> print(held_for(t, np.array([0.0, 0.0, 6.0, 6.0, 0.0, 0.0]), 2.0))
    3.0
    """
    gone = np.concatenate([[0.0], np.cumsum(0.5 * (i[1:] + i[:-1]) * np.diff(t))])
    return float(((np.interp(t + seconds, t, gone) - gone) / seconds).max())
