"""Batches of cases: each case is one value for every figure that varies, side by side for one call of the solver."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tideover.cases.spreads import Spread
from tideover.network import Network
from tideover.quantity import Quantity

Array = NDArray[np.float64]
Key = tuple[str, str]
K = TypeVar("K", bound=Hashable)


@dataclass(frozen=True)
class Batch:
    """Cases side by side.

    Attributes
    ----------
    labels : tuple of str
        One for each case, in words.
    values : dict
        ``(part, parameter name)`` to an array, shape (count,), in SI; what is not listed is nominal.
    count : int
        Number of cases.
    """

    labels: tuple[str, ...]
    values: dict[Key, Array]
    count: int

    def take(self, cases: Any) -> Batch:
        """Some of the cases, by index or mask."""
        index = np.arange(self.count)[cases]
        return Batch(tuple(self.labels[k] for k in index), {k: v[index] for k, v in self.values.items()}, len(index))


def nominal(network: Network) -> Batch:
    """The build as written, one case."""
    return Batch(("nominal",), {}, 1)


def one_at_a_time(network: Network, spreads: Sequence[Spread], both: bool = False) -> Batch:
    """Each figure alone at a limit, the rest nominal.

    Parameters
    ----------
    network : Network
        As loaded. [-]
    spreads : sequence of Spread
        What varies; S of them. [-]
    both : bool
        Both limits of each instead of one. [-]

    Returns
    -------
    batch : Batch
        Case 0 nominal, then each at its high limit, or at its low one where only that differs from nominal;
        with `both`, S at high and then S at low. [-]
    """
    n = len(spreads)
    upper = np.eye(n)
    if not both:
        upper *= np.array([1.0 if s.high > s.nominal else -1.0 for s in spreads]).reshape(n, 1)
    rows = [np.zeros((1, n)), upper] + ([-np.eye(n)] if both else [])
    return corner(network, spreads, np.concatenate(rows))


def corner(network: Network, spreads: Sequence[Spread], signs: ArrayLike) -> Batch:
    """Cases at given signs.

    Parameters
    ----------
    network : Network
        As loaded. [-]
    spreads : sequence of Spread
        What varies; S of them. [-]
    signs : array, shape (cases, S)
        -1 for low, 0 nominal, 1 high; values between are allowed. [-]

    Returns
    -------
    batch : Batch
        Labelled by what is off nominal, at most five of them. [-]
    """
    f = np.atleast_2d(np.asarray(signs, dtype=float))
    return Batch(tuple(described(spreads, row) for row in f), placed(spreads, f), len(f))


def placed(spreads: Sequence[Spread], signs: Array) -> dict[Key, Array]:
    """Values at given signs, shape (cases, S), of all figures and of those that move with them."""
    values: dict[Key, Array] = {}
    for k, leader in enumerate(spreads):
        for s in leader.all:
            up, down = s.high - s.nominal, s.nominal - s.low
            values[s.part, s.name] = s.nominal + np.where(signs[:, k] > 0.0, up, down) * signs[:, k]
    return values


def described(spreads: Sequence[Spread], signs: ArrayLike, most: int = 5) -> str:
    """Signs in words: ``brick voltage -5 %, hold-up capacitance -20 %``; ``nominal`` when all are 0."""
    row = np.asarray(signs, dtype=float)
    off = [k for k in range(len(row)) if row[k] and spreads[k].at(row[k]) != spreads[k].nominal]
    said = [spreads[k].said(float(row[k])) for k in off[:most]]
    if len(off) > most:
        said.append(f"and {len(off) - most} more")
    return ", ".join(said) or "nominal"


def random_signs(n: int, spreads: Sequence[Spread], rng: np.random.Generator) -> Array:
    """Signs of random corners, shape (n, S), each -1 or 1."""
    return rng.choice([-1.0, 1.0], size=(n, len(spreads)))


def random_corners(network: Network, spreads: Sequence[Spread], n: int, rng: np.random.Generator) -> Batch:
    """Random corners of the box of spreads.

    Parameters
    ----------
    n : int
        How many. [-]
    rng : Generator
        Where the draws come from; show its seed. [-]
    """
    return corner(network, spreads, random_signs(n, spreads, rng))


def join(network: Network, batches: Sequence[Batch]) -> Batch:
    """Several batches one after the other; a figure that one of them does not list is nominal there."""
    labels = tuple(label for b in batches for label in b.labels)
    keys = dict.fromkeys(key for b in batches for key in b.values)
    values = {
        key: np.concatenate(
            [b.values[key] if key in b.values else np.full(b.count, written(network, key)) for b in batches]
        )
        for key in keys
    }
    return Batch(labels, values, len(labels))


def written(network: Network, key: Key) -> float:
    """Nominal value of a figure in SI."""
    value = network.part(key[0]).values[key[1]]
    return value.nominal if isinstance(value, Quantity) else float(value)


def override(batch: Batch, values: Mapping[Key, ArrayLike], label: str = "") -> Batch:
    """The same cases with some figures set to given values, one number or one for each case."""
    given = {k: np.broadcast_to(np.asarray(v, dtype=float), (batch.count,)).copy() for k, v in values.items()}
    labels = tuple(f"{old}; {label}" if label else old for old in batch.labels)
    return Batch(labels, {**batch.values, **given}, batch.count)


def repeat(batch: Batch, times: int) -> Batch:
    """The whole batch `times` times over: case b of round k stands at ``k * count + b``."""
    values = {k: np.tile(v, times) for k, v in batch.values.items()}
    return Batch(batch.labels * times, values, batch.count * times)


def cross(batch: Batch, labels: Sequence[str], given: Mapping[K, ArrayLike]) -> tuple[Batch, dict[K, Array]]:
    """Every case under every condition.

    Parameters
    ----------
    batch : Batch
        B cases. [-]
    labels : sequence of str
        Names of the C conditions. [-]
    given : mapping
        Anything to one value for each condition, shape (C,): signals, states of charge. [-]

    Returns
    -------
    crossed : Batch
        C * B cases; case b under condition c stands at ``c * B + b``. Results reshape to (C, B). [-]
    given : dict
        The same keys to arrays, shape (C * B,). [-]
    """
    wide = repeat(batch, len(labels))
    said = tuple(f"{condition}; {case}" for condition in labels for case in batch.labels)
    spread = {k: np.repeat(np.asarray(v, dtype=float), batch.count) for k, v in given.items()}
    return Batch(said, wide.values, wide.count), spread
