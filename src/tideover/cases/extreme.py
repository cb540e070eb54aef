"""Extreme values: the worst that the spreads of a build can do to a quantity.

Each figure alone shows which way it pushes; all of them pushed the bad way at once is the worst corner, if the
quantity is monotone. That is checked by random corners; one that is worse becomes the start of a climb that flips one
figure at a time. Everything is asked in few large batches, and every case counts for every quantity.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.cases.batch import Array, Batch, corner, described, random_signs
from tideover.cases.spreads import Spread
from tideover.network import Network

NAMED = 5
"""At most so many figures are named in a label: more is not read."""
WORTH_NAMING = 0.02
"""Share of the total effect below which a figure is not named: under it the printed digits do not change."""
CHECKS = 64
"""Random corners tried as a check. With 64, a corner region that holds a share of 5 % of all corners is met with
a probability of 96 %."""
NOTEWORTHY = 0.01
"""Share of the swing from nominal to the guided corner by which a random corner must be worse to start a climb."""
ROUNDS = 2
"""Rounds of the climb."""

Evaluate = Callable[[Batch], NDArray[np.float64]]


@dataclass(frozen=True)
class Extreme:
    """The worst value found.

    Attributes
    ----------
    value : float
        At the worst corner; NaN where that has no value at all. [unit of the quantity]
    nominal : float
        As written.
    signs : tuple of float
        Where each spread sits: -1, 0 or 1.
    label : str
        The figures that matter, in words, the strongest first.
    checked : int
        Random corners tried.
    surprised : bool
        Whether one of them was worse than the corner that the single figures point to: the quantity is not
        monotone, and the true worst case may be worse still.
    effects : tuple of (str, float)
        Change by each figure named, alone.
    alone : tuple of (float, float)
        Value with each figure alone at its low and at its high limit; NaN where there is none.
    """

    value: float
    nominal: float
    signs: tuple[float, ...]
    label: str
    checked: int
    surprised: bool = False
    effects: tuple[tuple[str, float], ...] = ()
    alone: tuple[tuple[float, float], ...] = ()

    @property
    def failed(self) -> bool:
        """The quantity has no value there: no standing point, say."""
        return bool(np.isnan(self.value))


def extreme(
    network: Network,
    spreads: Sequence[Spread],
    evaluate: Evaluate,
    worse: str = "low",
    rng: np.random.Generator | None = None,
    checks: int = CHECKS,
) -> Extreme:
    """Worst value of one quantity over all corners of the spreads.

    Parameters
    ----------
    network : Network
        As loaded. [-]
    spreads : sequence of Spread
        What varies. [-]
    evaluate : callable
        ``evaluate(batch) -> y``, shape (batch.count,); NaN where it has no value, which is worst of all. [-]
    worse : str
        ``low`` or ``high``. [-]
    rng : Generator, optional
        For the random corners; without one there is no check. [-]
    checks : int
        How many. [-]

    Returns
    -------
    extreme : Extreme
        With its corner in words. [-]
    """
    return extremes(network, spreads, lambda b: np.asarray(evaluate(b)).reshape(1, -1), (worse,), rng, checks)[0]


def extremes(
    network: Network,
    spreads: Sequence[Spread],
    evaluate: Evaluate,
    worse: Sequence[str],
    rng: np.random.Generator | None = None,
    checks: int = CHECKS,
) -> tuple[Extreme, ...]:
    """Worst values of several quantities at once, in three to six calls of `evaluate` in all.

    Parameters
    ----------
    evaluate : callable
        ``evaluate(batch) -> y``, shape (quantities, batch.count): any mixture of quantities and standing
        states, which the caller crosses with the batch. [-]
    worse : sequence of str
        ``low`` or ``high`` for each quantity. [-]

    See Also
    --------
    extreme : one quantity; the other parameters are described there.
    """
    toward = np.array([{"low": -1.0, "high": 1.0}[w] for w in worse])[:, None]
    pool = _Pool(network, spreads, evaluate, toward)
    n = len(spreads)
    zero = np.zeros((1, n))
    single = pool.ask(np.concatenate([zero, np.eye(n), -np.eye(n)]))
    start, up, down = single[:, :1], single[:, 1 : n + 1], single[:, n + 1 :]
    push = np.where(up > down, 1.0, -1.0) * (np.maximum(up, down) > start)
    guided = np.where(np.isfinite(start), push, 0.0)
    draws = 0 if rng is None or n == 0 else checks
    random = random_signs(draws, spreads, rng) if rng is not None and draws else np.zeros((0, n))
    bad = pool.ask(np.concatenate([guided, random]))
    reached = np.diagonal(bad[:, : len(guided)]).copy()
    with np.errstate(invalid="ignore"):
        swing = np.nan_to_num(np.abs(reached - start[:, 0]), posinf=0.0)
        beaten = (pool.best > reached + NOTEWORTHY * swing + 1e-9) & np.isfinite(start[:, 0])
    if draws and beaten.any():
        _climb(pool, beaten)
    with np.errstate(invalid="ignore"):  # where there is no value to begin with
        effects = np.where(pool.signs > 0.0, up, np.where(pool.signs < 0.0, down, start)) - start
    return tuple(
        Extreme(
            value=_value(pool.best[q], toward[q, 0]),
            nominal=_value(start[q, 0], toward[q, 0]),
            signs=tuple(float(s) for s in pool.signs[q]),
            checked=draws,
            surprised=bool(beaten[q]),
            alone=tuple((_value(a, toward[q, 0]), _value(b, toward[q, 0])) for a, b in zip(down[q], up[q])),
            **_said(spreads, pool.signs[q], toward[q, 0] * effects[q]),
        )
        for q in range(len(toward))
    )


def _value(bad: float, toward: float) -> float:
    return float(toward * bad) if np.isfinite(bad) else float("nan")


class _Pool:
    """Asks for batches and remembers the worst case of each quantity. Badness: large is bad, infinite is failed."""

    def __init__(self, network: Network, spreads: Sequence[Spread], evaluate: Evaluate, toward: Array) -> None:
        self.network, self.spreads, self.evaluate, self.toward = network, spreads, evaluate, toward
        self.best = np.full(len(toward), -np.inf)
        self.signs = np.zeros((len(toward), len(spreads)))

    def ask(self, signs: Array) -> Array:
        """Badness of every quantity in every case, shape (quantities, cases)."""
        if not len(signs):
            return np.empty((len(self.toward), 0))
        if not signs.shape[1]:
            signs = signs[:1]
        distinct, back = np.unique(signs, axis=0, return_inverse=True)
        y = np.asarray(self.evaluate(corner(self.network, self.spreads, distinct)), dtype=float)
        y = y.reshape(len(self.toward), len(distinct))[:, np.asarray(back).reshape(-1)]
        bad = np.where(np.isnan(y), np.inf, self.toward * y)
        first = bad.argmax(axis=1)
        top = bad[np.arange(len(bad)), first]
        better = top > self.best
        self.best = np.where(better, top, self.best)
        self.signs[better] = signs[first[better]]
        return bad


def _climb(pool: _Pool, beaten: NDArray[np.bool_]) -> None:
    """Flip single figures of the worst corners as long as that makes them worse."""
    n = pool.signs.shape[1]
    for _ in range(ROUNDS):
        before = pool.best.copy()
        todo = np.flatnonzero(beaten & np.isfinite(pool.best))
        if not len(todo):
            return
        signs = pool.signs[todo].copy()
        bad = pool.ask(np.concatenate([row * (1.0 - 2.0 * np.eye(n)) for row in signs]))
        helps = [bad[q, k * n : (k + 1) * n] > before[q] for k, q in enumerate(todo)]
        pool.ask(np.array([np.where(h, -1.0, 1.0) * row for h, row in zip(helps, signs)]))
        if not (pool.best > before).any():
            return


def _said(spreads: Sequence[Spread], signs: Array, effects: Array) -> dict[str, Any]:
    """A worst corner in words: what matters of it, the strongest first."""
    size = np.where(np.isnan(effects), 0.0, np.abs(effects))
    whole = float(size[np.isfinite(size)].sum())
    matters = (signs != 0.0) & (size > 0.0) & (size >= WORTH_NAMING * whole)
    order = [int(k) for k in np.argsort(-size, kind="stable") if matters[k]][:NAMED]
    words = [spreads[k].said(float(signs[k])) for k in order]
    label = ", ".join(words) or described(spreads, signs, NAMED)
    return {"label": label, "effects": tuple((w, float(effects[k])) for w, k in zip(words, order))}
