"""Standing points of many settings and cases, as the answers read them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from tideover.answers.states import Setting
from tideover.cases import Batch, written
from tideover.cases.batch import Array, Key
from tideover.solve import Inside, Readings, Rest, System, readings

if TYPE_CHECKING:
    from tideover.answers.context import Context

REACHED = 0.97
"""Share of its limit at which an adapter counts as overloaded; the adapter model counts from the same."""


@dataclass(frozen=True)
class Found:
    """What is kept of one or more searches, the case axis leading; see `tideover.solve.Rest`."""

    v: Array
    outcome: NDArray[np.int64]
    residual: Array
    worst: NDArray[np.int64]
    state: Inside
    loops: dict[int, tuple[float, tuple[str, ...]]]

    @classmethod
    def of(cls, searches: Sequence[Rest]) -> Found:
        """Several searches, one after the other."""
        first = np.cumsum([0, *(len(r.outcome) for r in searches)])
        v, outcome, residual, worst = (
            np.concatenate([getattr(r, name) for r in searches]) for name in ("v", "outcome", "residual", "worst")
        )
        V, X, M, S = (np.concatenate([getattr(r.state, n) for r in searches], axis=1) for n in "VXMS")
        loops = {int(at) + c: (period, names) for at, r in zip(first, searches) for c, period, names in r.chatter}
        return cls(v, outcome, residual, worst, Inside(V, X, M, S), loops)

    def take(self, cases: NDArray[Any]) -> Found:
        """Some cases, in that order."""
        loops = {k: self.loops[int(c)] for k, c in enumerate(cases) if int(c) in self.loops}
        return Found(
            self.v[cases], self.outcome[cases], self.residual[cases], self.worst[cases], self.state.take(cases), loops
        )


@dataclass(frozen=True)
class Points:
    """Standing points of K settings for B cases each.

    Attributes
    ----------
    context : Context
        Whose they are.
    settings : tuple of Setting
        K of them.
    batch : Batch
        The B cases.
    system, rest : System, Found
        Of all K * B, case b of setting k at ``k * B + b``.
    among : (Points, slice), optional
        The points that these were taken from, and which of their cases: what is read of them is read once.
    """

    context: Context
    settings: tuple[Setting, ...]
    batch: Batch
    system: System
    rest: Found
    among: tuple[Points, slice] | None = None

    @property
    def shape(self) -> tuple[int, int]:
        """K and B."""
        return len(self.settings), self.batch.count

    @cached_property
    def readings(self) -> Readings:
        """Of every part; meaningless where there is no point."""
        if self.among is not None:
            whole, cases = self.among
            return whole.readings.take(cases)
        return readings(self.system, self.rest.state)

    def q(self, part: str, quantity: str) -> Array:
        """A reading, shape (K, B); NaN where there is no standing point."""
        raw = self.readings.quantity[part, quantity].reshape(self.shape)
        return np.where(self.found, raw, np.nan)

    def raw(self, part: str, quantity: str) -> Array:
        """A reading whether the adapter is overloaded or not, shape (K, B); NaN where nothing solves."""
        value = self.readings.quantity[part, quantity].reshape(self.shape)
        return np.where(self.solved, value, np.nan)

    def v(self, node: int) -> Array:
        """Voltage of a node, shape (K, B); NaN where there is no standing point. [V]"""
        return np.where(self.found, self.rest.v[:, node].reshape(self.shape), np.nan)

    def raw_v(self, node: int) -> Array:
        """Voltage of a node whether the adapter is overloaded or not, shape (K, B). [V]"""
        return np.where(self.solved, self.rest.v[:, node].reshape(self.shape), np.nan)

    def heat(self, part: str) -> Array:
        """Shape (K, B). [W]"""
        return np.where(self.found, self.readings.heat[part].reshape(self.shape), np.nan)

    def state(self, part: str, machine: str, k: int, b: int = 0) -> str:
        """Discrete state of a part in one case."""
        return self.readings.machine[part, machine][k * self.batch.count + b]

    @cached_property
    def solved(self) -> NDArray[np.bool_]:
        """Where a point was found, an adapter's limit aside; shape (K, B)."""
        return (self.rest.outcome == 0).reshape(self.shape)

    @cached_property
    def burden(self) -> Array:
        """Current of the most loaded adapter over its limit, shape (K, B); NaN where nothing solves. [-]"""
        worst = np.zeros(self.shape)
        for adapter in self.context.adapters:
            limit = self.value((adapter.name, "current_limit"))
            worst = np.fmax(worst, self.raw(adapter.name, "regulator current [A]") / limit)
        return np.where(self.solved, worst, np.nan)

    @cached_property
    def found(self) -> NDArray[np.bool_]:
        """Where there is a true standing point; shape (K, B)."""
        with np.errstate(invalid="ignore"):
            return self.solved & ~(self.burden >= REACHED)

    def value(self, key: Key) -> Array:
        """A figure of the build in each case, shape (K, B)."""
        plain = self.batch.values.get(key, np.full(self.batch.count, written(self.context.network, key)))
        return np.broadcast_to(plain, self.shape)

    def only(self, k: int) -> Points:
        """The points of one setting."""
        if k not in self._alone:
            first, last = k * self.batch.count, (k + 1) * self.batch.count
            cases = np.arange(first, last)
            own, among = (self.system.take(cases), self.rest.take(cases)), (self, slice(first, last))
            self._alone[k] = Points(self.context, self.settings[k : k + 1], self.batch, *own, among)
        return self._alone[k]

    @cached_property
    def _alone(self) -> dict[int, Points]:
        return {}

    def flat(self, k: int, b: int) -> int:
        """Position of one case among all."""
        return k * self.batch.count + b
