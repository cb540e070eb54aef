"""Limits without corners, exact away from the bend.

Newton's method needs slopes that do not jump. Each function here is the sharp one outside a band of
half-width `w` around its bend and a parabola inside, so what is blocked is blocked exactly: no tail of an exponential
leaks a microampere through an open switch. They are plain numpy arithmetic and accept anything that is.
"""

from __future__ import annotations

from typing import Any

import numpy as np


def positive(u: Any, w: Any) -> Any:
    """The positive part of `u`, with its corner rounded.

    Parameters
    ----------
    u : float or array
        Any quantity. [-]
    w : float or array
        Half-width of the rounding, above zero, in the unit of `u`. [-]

    Returns
    -------
    y : float or array
        0 below -w, u above w, (u + w)^2 / 4 w between: largest excess w/4 at u = 0. [-]

    Examples
    --------
    >>> float(positive(2.0, 0.1)), float(positive(-2.0, 0.1)), round(float(positive(0.0, 0.1)), 6)
    (2.0, 0.0, 0.025)
    """
    if hasattr(u, "positive_part"):  # a symbol of the tracer knows the slope in closed form
        return u.positive_part(w)
    above = np.maximum(u, -w)
    bent = np.minimum(above, w)
    t = bent + w
    return t * t / (4.0 * w) + (above - bent)


def smaller(a: Any, b: Any, w: Any) -> Any:
    """The smaller of two quantities, with the corner where they meet rounded by `w`.

    Parameters
    ----------
    a, b : float or array
        Any quantities of one unit. [-]
    w : float or array
        Half-width of the rounding. [-]

    Returns
    -------
    y : float or array
        Exactly the smaller one where they differ by more than `w`; never above it. [-]

    Examples
    --------
    >>> float(smaller(1.0, 3.0, 0.1))
    1.0
    """
    return a - positive(a - b, w)


def larger(a: Any, b: Any, w: Any) -> Any:
    """The larger of two quantities, with the corner where they meet rounded by `w`.

    Parameters
    ----------
    a, b : float or array
        Any quantities of one unit. [-]
    w : float or array
        Half-width of the rounding. [-]

    Returns
    -------
    y : float or array
        Exactly the larger one where they differ by more than `w`; never below it. [-]

    Examples
    --------
    >>> float(larger(1.0, 3.0, 0.1))
    3.0
    """
    return a + positive(b - a, w)


def between(u: Any, low: Any, high: Any, w: Any) -> Any:
    """`u` held between two limits, with both corners rounded by `w`.

    Parameters
    ----------
    u, low, high : float or array
        Quantities of one unit, low below high. [-]
    w : float or array
        Half-width of the rounding. [-]

    Returns
    -------
    y : float or array
        Monotone in `u`; exact outside the two bends. [-]

    Examples
    --------
    >>> float(between(5.0, 0.0, 1.0, 0.01))
    1.0
    """
    return low + positive(u - low, w) - positive(u - high, w)
