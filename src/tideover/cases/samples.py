"""Samples: builds drawn at random within the spreads, as a shelf of parts would make them.

Every figure has its own column of a Latin hypercube: of n samples, one lies in each n-th of its range. A Sobol sequence
would fill the box still more evenly, but wants a power of two of samples, all of them, and gives each figure a place in
its order; here any number is as good, an interrupted run is still a fair sample, and a column is made from the seed and
the figure's own name alone. So two variants of a build are compared on the same draws, and a part more in the drawing
changes no column of the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import blake2b

import numpy as np

from tideover.cases.batch import Array, Batch, placed
from tideover.cases.spreads import Spread
from tideover.network import Network

UNIFORM, LOG = "uniform", "log-uniform"
WIDE = 3.0
"""High over low limit from which a figure is drawn evenly in its logarithm: such limits (of a leakage, a contact, a
relay's time) are factors, and most of an even draw would lie far above what is usual."""
LOT_SHARE = 0.5
"""Share of the variance that like parts have in common, being of one lot: typical, unverified. The cells of a pack are
one figure and so share all of it."""


@dataclass(frozen=True)
class Samples:
    """Builds drawn at random.

    Attributes
    ----------
    u : array, shape (count, spreads)
        Where each figure sits in its own distribution: the share of builds that lie below.
    batch : Batch
        Its values.
    """

    u: Array
    batch: Batch


def samples(network: Network, spreads: Sequence[Spread], count: int, rng: np.random.Generator) -> Samples:
    """Draw builds.

    Parameters
    ----------
    network : Network
        As loaded. [-]
    spreads : sequence of Spread
        What varies; S of them. Partners of a spread move with it. [-]
    count : int
        How many. [-]
    rng : Generator
        Where the draws come from; one number is taken from it, of which all columns are made. [-]

    Returns
    -------
    samples : Samples
        With the positions of all figures. [-]

    Notes
    -----
    Parts taken from the same shelf item share a lot. Their positions are joined by a normal copula, and then ranked
    again, so that each column keeps its one sample in each n-th of the range. All parts share one room.
    """
    key = int(rng.integers(2**63))
    u = np.empty((count, len(spreads)))
    for k, s in enumerate(spreads):
        u[:, k] = _column(network, s, count, key)
    signs = np.column_stack([sign(s, u[:, k]) for k, s in enumerate(spreads)]) if spreads else u
    labels = tuple(f"sample {k + 1}" for k in range(count))
    return Samples(u, Batch(labels, placed(spreads, signs), count))


def lot(network: Network, spread: Spread) -> tuple[str, str] | None:
    """Shelf item and figure that like parts share; None for a part that is its own kind."""
    spec = network.design.parts.get(spread.part)
    return (spec.shelf, spread.name) if spec is not None and spec.shelf else None


def law(spread: Spread) -> str:
    """How a figure is distributed between its limits: `UNIFORM` or `LOG`.

    A build file and the shelf state limits and no distribution. Between limits nothing favours the middle: makers sort,
    and what lies near the middle is sold as the better grade; so every value is as likely, which is also the wider of
    the usual choices. Where the limits are far apart, every factor is.
    """
    return LOG if spread.low > 0.0 and spread.high >= WIDE * spread.low else UNIFORM


def at(spread: Spread, u: Array) -> Array:
    """Value below which a share `u` of all builds lies. [SI]

    Examples
    --------
    >>> at(Spread("brick", "voltage", 12.0, 11.4, 12.6, "V"), np.array([0.0, 0.5, 1.0])).tolist()
    [11.4, 12.0, 12.6]
    >>> at(Spread("jack", "resistance", 8.0, 4.0, 16.0, "ohm"), np.array([0.0, 0.5, 1.0])).round(9).tolist()
    [4.0, 8.0, 16.0]
    """
    if law(spread) == LOG:
        return spread.low * (spread.high / spread.low) ** np.asarray(u)
    return spread.low + (spread.high - spread.low) * np.asarray(u)


def sign(spread: Spread, u: Array) -> Array:
    """The same value as a sign: -1 at the low limit, 0 nominal, 1 at the high one. [-]"""
    off = at(spread, u) - spread.nominal
    side = np.where(off > 0.0, spread.high - spread.nominal, spread.nominal - spread.low)
    return off / np.where(side > 0.0, side, 1.0)


def _column(network: Network, spread: Spread, count: int, key: int) -> Array:
    own = _stratified(count, _generator(key, spread.part, spread.name))
    shared = lot(network, spread)
    if shared is None:
        return own
    from scipy.special import ndtri

    common = _stratified(count, _generator(key, "lot", *shared))
    joined = np.sqrt(LOT_SHARE) * ndtri(common) + np.sqrt(1.0 - LOT_SHARE) * ndtri(own)
    rank = np.argsort(np.argsort(joined, kind="stable"), kind="stable")
    return (rank + _generator(key, "within", spread.part, spread.name).random(count)) / count


def _stratified(count: int, rng: np.random.Generator) -> Array:
    """One draw in each n-th of 0 to 1, in random order."""
    drawn: Array = (rng.permutation(count) + rng.random(count)) / count
    return np.clip(drawn, 1e-12, 1.0 - 1e-12)


def _generator(key: int, *words: str) -> np.random.Generator:
    """A generator that belongs to these words alone."""
    digest = blake2b("\0".join(words).encode(), digest_size=8).digest()
    return np.random.default_rng([key, int.from_bytes(digest)])


__all__ = ["LOG", "LOT_SHARE", "UNIFORM", "Samples", "at", "law", "lot", "samples", "sign"]
