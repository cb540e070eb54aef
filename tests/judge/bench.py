"""What the judge's parts share: limits with a rounded corner, open-circuit curves, the shape of a part.

Nothing of the part models or of the laws is used here, only constants of nature and the published table of
open-circuit voltages. A part is ``make(kind, parameters)``: an object with named states, with discrete states and the
ways out of each, and with ``flows(v, x, m, s, temp, air)``, which gives the current into every terminal, the rate of
every state and the heat.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from typing import Any

from scipy.interpolate import PchipInterpolator

from tideover.laws.cells import KNOTS, OCV, STEEP

ALPHA_COPPER = 0.00393
AT_20, AT_25 = 293.15, 298.15
Way = tuple[str, str, Callable[..., float]]
"""Target, ``when`` or ``after``, and the guard or the delay."""

# --- limits with a rounded corner: sharp beyond `w`, a parabola within it -------------------------


def lift(u: float, w: float) -> float:
    if u >= w:
        return u
    return (u + w) ** 2 / (4.0 * w) if u > -w else 0.0


def lesser(a: float, b: float, w: float) -> float:
    gap = abs(a - b)
    return min(a, b) - ((w - gap) ** 2 / (4.0 * w) if gap < w else 0.0)


def greater(a: float, b: float, w: float) -> float:
    return -lesser(-a, -b, w)


def held(u: float, low: float, high: float, w: float) -> float:
    return low + lift(u - low, w) - lift(u - high, w)


# --- curves over charge ---------------------------------------------------------------------------


class Through:
    """Shape-preserving cubics through the table, straight on beyond its ends, no flatter than stated."""

    def __init__(self, knots: Any, values: Any, least: float = 0.0) -> None:
        self.knots = [float(s) for s in knots]
        found = PchipInterpolator(self.knots, values)
        slope = found.derivative()
        self.pieces = [tuple(float(c) for c in found.c[:, k]) for k in range(len(self.knots) - 1)]
        self.ends = float(found(0.0)), max(float(slope(0.0)), least), float(found(1.0)), max(float(slope(1.0)), least)

    @classmethod
    def typical(cls, chemistry: str) -> Through:
        return cls(KNOTS, OCV[chemistry], STEEP.get(chemistry, 0.0))

    def __call__(self, soc: float) -> float:
        if soc <= 0.0:
            return self.ends[0] + self.ends[1] * soc
        if soc >= 1.0:
            return self.ends[2] + self.ends[3] * (soc - 1.0)
        k = bisect_right(self.knots, soc) - 1
        a, b, c, d = self.pieces[k]
        t = soc - self.knots[k]
        return ((a * t + b) * t + c) * t + d


# --- parts --------------------------------------------------------------------------------------


class Part:
    """A part as the judge sees it.

    `slow` names the states that are held while a standing point is sought (its temperature always is); `start` their
    values in a part that nobody has touched; `tables` the machines, first state first; `entering` what an entered
    state sets.
    """

    states: tuple[str, ...] = ()
    slow: tuple[str, ...] = ()
    tables: dict[str, dict[str, list[Way]]] = {}  # noqa: RUF012
    entering: dict[tuple[str, str], dict[str, float]] = {}  # noqa: RUF012
    warm = True
    bodies = 1.0

    def __init__(self, p: Any) -> None:
        self.p = p

    def start(self) -> tuple[float, ...]:
        return tuple(0.0 for _ in self.states)

    def flows(self, v: Any, x: Any, m: Any, s: Any, temp: float, air: float) -> tuple[Any, Any, float]:
        raise NotImplementedError
