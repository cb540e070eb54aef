r"""What a cell loses while it rests, from a few dated voltages.

For hours after charge the voltage of every cell falls although no charge is lost: ions spread evenly through the
electrodes. A leak goes on falling. So the readings are taken as

.. math:: v(t) = v_\infty + A\,g(t) - s\,t

with a relaxation `g` that dies out within a day, of unknown height `A` and unknown shape, and a steady fall `s`. All
shapes and heights on a grid are weighed by how well they fit the readings and by what is usual; what follows for
`s` is averaged over them. With many readings the readings decide. With few, the interval is as wide as what is not
known: of two readings, the first of which may have been taken straight after charge, the fall may be all relaxation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from tideover.cells import rules
from tideover.laws.cells import OCV, Curve

HOUR = 3600.0
SHAPES: tuple[tuple[float, float], ...] = (
    *((tau * HOUR, 1.0) for tau in (0.5, 1.0, 2.0, 4.0, 8.0)),
    *((tau * HOUR, 0.5) for tau in (0.5, 2.0)),
)
"""Relaxations: time constant and exponent of exp(-(t/tau)^p). Those with a half fall as a logarithm does for a day."""
HEIGHT, HEIGHT_SPREAD = 0.012, 0.010
"""Usual height of the relaxation straight after charge and its standard deviation: typical, unverified. [V]"""
HIGHEST = 0.045
"""Heights are tried up to this, or to the whole fall where that is more: an iron-phosphate cell, read while it comes
off the charger, relaxes by a quarter of a volt. [V]"""
UNUSUAL = 1e-4
"""How little an unusual height is believed beside a usual one, until the readings speak for it: judgement. [-]"""
INTERVAL = (0.05, 0.95)
"""Between these shares of what is believed lies the steady fall that is stated."""
STEPS = 400
BLOCKS = (1, 2, 3, 6, 12)
"""Cells of a lead-acid block."""
FULL_BLOCK = 2.45
"""More than a lead-acid cell rests at. [V]"""


@dataclass(frozen=True)
class Fall:
    """The steady fall of a resting cell.

    Attributes
    ----------
    rate, low, high : float
        Mean and 90 % interval, falling positive. [V/s]
    relaxation : float
        Height of what is taken for relaxation from the first reading on. [V]
    volts, rose : float
        At the last reading, and how far it is above the first one, or zero. [V]
    first, last : datetime
        Of the readings used.
    used, left : int
        How many; and how many before a later charge were left out.
    """

    rate: float
    low: float
    high: float
    relaxation: float
    volts: float
    rose: float
    first: datetime
    last: datetime
    used: int
    left: int = 0

    @property
    def span(self) -> float:
        """From the first to the last reading. [s]"""
        return (self.last - self.first).total_seconds()


def since_charge(rests: Sequence[tuple[datetime, float]]) -> int:
    """Position of the first reading after the last charge: the voltage rose before it by more than it does by itself.

    Parameters
    ----------
    rests : sequence of (datetime, float)
        Ascending in time. [V]

    Returns
    -------
    first : int
        0 where it never rose. [-]
    """
    return max((k for k in range(1, len(rests)) if rests[k][1] - rests[k - 1][1] > rules.RECHARGED.value), default=0)


def fall(rests: Sequence[tuple[datetime, float]], rested: float = 0.0, charged: bool = True) -> Fall | None:
    """Steady fall of a resting cell, apart from its relaxation.

    Parameters
    ----------
    rests : sequence of (datetime, float)
        Ascending in time. [V]
    rested : float
        From the end of charge to the first reading, if it is known. [s]
    charged : bool
        Whether it rests after a charge; after a discharge the relaxation goes upwards. [-]

    Returns
    -------
    fall : Fall or None
        None with fewer than two readings since the last charge.
    """
    left = since_charge(rests)
    rests = rests[left:]
    if len(rests) < 2:
        return None
    t = np.array([(when - rests[0][0]).total_seconds() for when, _ in rests])
    v = np.array([volts for _, volts in rests])
    shapes = np.array([np.exp(-(((t + rested) / tau) ** power)) for tau, power in SHAPES])
    highest = max(HIGHEST, float(np.ptp(v)))
    heights = np.linspace(0.0, highest, max(46, 1 + round(highest / 1e-3))) * (1.0 if charged else -1.0)
    believed = np.exp(-0.5 * ((np.abs(heights) - HEIGHT) / HEIGHT_SPREAD) ** 2) + UNUSUAL
    sigma = rules.READING.value
    level = v - heights[:, None, None] * shapes  # heights, shapes, readings
    slope, spread, misfit = _line(t, level, sigma)
    free = len(v) - 4
    worse = max(1.0, float(np.sqrt(misfit.min() / free))) if free > 0 else 1.0
    weight = believed[:, None] * np.exp(-0.5 * (misfit - misfit.min()) / worse**2)
    weight /= weight.sum()
    rate, low, high = _believed(-slope, weight, spread * worse)
    weight = weight * ndtr(-slope / (spread * worse))
    seen = np.abs(heights)[:, None] * shapes[:, 0]
    return Fall(
        rate,
        low,
        high,
        float((weight * seen).sum() / weight.sum()),
        float(v[-1]),
        max(0.0, float(v[-1] - v[0])),
        rests[0][0],
        rests[-1][0],
        len(v),
        left,
    )


def _line(
    t: NDArray[np.float64], level: NDArray[np.float64], sigma: float
) -> tuple[NDArray[np.float64], float, NDArray[np.float64]]:
    """Slope of the straight line through readings, its standard uncertainty, and the misfit in squares of sigma."""
    middle = t - t.mean()
    square = float(middle @ middle)
    slope = (level @ middle) / square
    rest = level - level.mean(axis=-1, keepdims=True) - slope[..., None] * middle
    return slope, sigma / square**0.5, (rest**2).sum(axis=-1) / sigma**2


def _believed(centres: NDArray[np.float64], weight: NDArray[np.float64], spread: float) -> tuple[float, float, float]:
    """Mean and interval of a mixture of normal distributions of equal width, above zero: no cell charges itself."""
    keep = weight.ravel() > 1e-9 * weight.max()
    c, w = centres.ravel()[keep], weight.ravel()[keep]
    x = np.linspace(0.0, max(c.max(), 0.0) + 4 * spread, STEPS)
    below = (ndtr((x[:, None] - c) / spread) - ndtr(-c / spread)) @ w
    if not below[-1] > 1e-200:  # it rose, far beyond what reading can err: see `Fall.rose`
        return 0.0, 0.0, 2 * spread
    below /= below[-1]
    low, high = np.interp(INTERVAL, below, x)
    return float(np.trapezoid(1.0 - below, x)), float(low), float(high)


def count(chemistry: str, volts: float) -> int:
    """Cells in a lead-acid block that rests at `volts`; 1 of everything else. [-]"""
    if chemistry != "PbA":
        return 1
    return next((n for n in BLOCKS if volts / n <= FULL_BLOCK), BLOCKS[-1])


@cache
def _curve(chemistry: str) -> tuple[Curve, NDArray[np.float64], NDArray[np.float64]]:
    """The typical curve, and states of charge with their voltages to look up."""
    curve, soc = Curve.of([chemistry]), np.linspace(0.0, 1.0, 1001)
    return curve, soc, np.asarray(curve.value(soc[:, None])[:, 0])


def charge_state(chemistry: str, volts: float) -> float | None:
    """State of charge at which a cell rests at `volts`, from 0 to 1.

    Parameters
    ----------
    chemistry : str
        A key of `tideover.laws.cells.OCV`; of lead-acid the number of cells is told by the voltage. [-]
    volts : float
        At rest. [V]

    Returns
    -------
    state : float or None
        None for an unknown chemistry. [-]
    """
    if chemistry not in OCV:
        return None
    _, soc, at = _curve(chemistry)
    return float(np.interp(volts / count(chemistry, volts), at, soc))


def curve_slope(chemistry: str, volts: float, reach: float = 0.0) -> float | None:
    """Slope of the open-circuit voltage over the state of charge at which a cell rests at `volts`.

    Parameters
    ----------
    chemistry, volts
        As for `charge_state`. [V]
    reach : float
        Mean over so much of the charge to either side, since typical curves are not right in every bend. [-]

    Returns
    -------
    slope : float or None
        Per unit state of charge, of the whole block; None for an unknown chemistry. [V]

    Examples
    --------
    >>> print(f"{curve_slope('NMC', 4.15):.2f} V", f"{curve_slope('LFP', 3.33):.2f} V")
    1.07 V 0.07 V
    """
    state = charge_state(chemistry, volts)
    if state is None:
        return None
    curve, units = _curve(chemistry)[0], count(chemistry, volts)
    low, high = max(state - reach, 0.0), min(state + reach, 1.0)
    if high - low < 1e-6:
        return units * float(np.asarray(curve.slope(state)).item())
    return units * float((curve.value(high) - curve.value(low)).item()) / (high - low)
