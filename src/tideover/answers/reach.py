"""How large a load can grow before it is no longer fed: a search over batches of loads."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.answers.context import REACHED, Context, Points, Setting
from tideover.answers.states import NONE
from tideover.cases import Batch
from tideover.cases.batch import Array

STEPS = 12
"""Loads tried side by side in each of two rounds; the result is good to 1/144 of the range."""

Fed = Callable[[Points], NDArray[np.bool_]]


def served(points: Points) -> NDArray[np.bool_]:
    """Whether there is a standing point with the load inside its window, shape (K, B)."""
    low, high = points.context.network.need.window
    v = points.v(points.context.network.at)
    with np.errstate(invalid="ignore"):
        return (v >= low) & (v <= high)


def largest_scale(
    context: Context, batch: Batch, settings: Sequence[Setting], fed: Fed = served, top: Any = 2.0
) -> Array:
    """Largest multiple of the load's power that is fed.

    Parameters
    ----------
    context : Context
        Of the build. [-]
    batch : Batch
        B cases. [-]
    settings : sequence of Setting
        K of them; the multiple is of their own load. [-]
    fed : callable
        ``fed(points)`` to a truth value for each setting and case. [-]
    top : float or array, shape (K, B)
        Not searched beyond; see `overload_scale` for a good one with mains present. [-]

    Returns
    -------
    scale : array, shape (K, B)
        From 0, not even the smallest, to `top`, that or more; a lower bound good to ``top / 144``. [-]

    Notes
    -----
    The first load that is not fed ends the range, even if a larger one were fed again.
    """
    k, b = len(settings), batch.count

    def ask(tried: Array) -> NDArray[np.bool_]:
        many = list(settings) * len(tried)
        return fed(context.points(batch, many, True, tried.reshape(-1, b))).reshape(tried.shape)

    return search(ask, np.broadcast_to(np.asarray(top, dtype=float), (k, b)))


def search(ask: Callable[[Array], NDArray[np.bool_]], top: Array) -> Array:
    """Largest value, from 0 to `top`, up to which the answer stays yes.

    Parameters
    ----------
    ask : callable
        ``ask(tried)`` to truth values of the same shape, (tries, ...). [-]
    top : array, shape (...)
        Where to stop. [-]

    Returns
    -------
    value : array, shape (...)
        Good to ``top / 144`` from below; 0 when even the first try is a no. [-]
    """
    low, high = np.zeros(top.shape), np.array(top, dtype=float)
    for share in (np.arange(1, STEPS + 1) / STEPS, np.arange(1, STEPS) / STEPS):
        tried = low + share.reshape(-1, *[1] * top.ndim) * (high - low)
        good = np.cumprod(ask(tried), axis=0).sum(axis=0)
        step = (high - low) / STEPS
        low, high = low + good * step, np.minimum(low + (good + 1) * step, high)
        if (low >= top * (1.0 - 1e-9)).all():
            break
    return np.minimum(low, top)


def overload_scale(context: Context, setting: Setting, most: float = 3.0) -> float:
    """Where the search for a largest load may end with mains present: well past the adapter's limit.

    Parameters
    ----------
    setting : Setting
        Whose load is multiplied. [-]
    most : float
        Never beyond this. [-]

    Returns
    -------
    scale : float
        From the adapter's burden without load and with this one, as if it were a straight line, and 30 % more.
        Far past its limit the adapter pulls everything down, which takes long to follow and tells nothing. [-]
    """
    burden = context.nominal.burden[:, 0]
    start, here = burden[context.row(Setting(setting.standing, NONE))], burden[context.row(setting)]
    if not np.isfinite(start + here) or here <= start:
        return most
    return float(np.clip(1.3 * (REACHED - start) / (here - start), 0.05, most))
