"""What a march leaves behind: recorded points, events, outcomes and the energy ledger."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.solve.system import Array, System


@dataclass(frozen=True)
class Wave:
    """One case: points in order of time. An instant at which something switches stands twice, before and after.

    Attributes
    ----------
    t : array, shape (points,)
        Time. [s]
    v : array, shape (points, nodes kept)
        Voltages. [V]
    inside : tuple or None
        Voltages, states, machines and signals in the solver's layout, if everything was kept.
    """

    t: Array
    v: Array
    inside: tuple[Array, Array, Any, Array] | None


@dataclass(frozen=True)
class Waves:
    """All cases of a march; arrays lead with the case.

    Attributes
    ----------
    system : System
        What was marched.
    nodes : tuple of int
        Nodes whose voltage was kept, in the order of `Wave.v`.
    outcome : int array, shape (cases,)
        0 ended, 1 stopped by the watch, 2 failed.
    supplied, heat, delivered : array, shape (cases,)
        Energies. [J]
    stored : array, shape (cases,)
        Change of the energy held. [J]
    switching : array, shape (cases,)
        Part of `stored` that came and went at switching instants (the armature's work). [J]
    steps, tries, newton : int array, shape (cases,)
        Steps accepted and tried, Newton iterations.
    """

    system: System
    nodes: tuple[int, ...]
    outcome: NDArray[np.int64]
    supplied: Array
    heat: Array
    delivered: Array
    stored: Array
    switching: Array
    steps: NDArray[np.int64]
    tries: NDArray[np.int64]
    newton: NDArray[np.int64]
    _offsets: NDArray[np.int64]
    _t: Array
    _columns: tuple[Array, ...]
    everything: bool

    @property
    def imbalance(self) -> Array:
        """Energy that the ledger cannot account for, shape (cases,). [J]"""
        return self.supplied - self.heat - self.delivered - (self.stored - self.switching)

    @property
    def throughput(self) -> Array:
        """Energy that the imbalance is measured against, shape (cases,). [J]"""
        return np.maximum(self.delivered + self.heat, 1e-9)

    def case(self, k: int) -> Wave:
        """Points of one case."""
        cut = slice(self._offsets[k], self._offsets[k + 1])
        t = self._t[cut]
        if not self.everything:
            return Wave(t, self._columns[0][:, cut].T, None)
        V, X, M, S = (c[:, cut] for c in self._columns)
        volts = np.concatenate([np.zeros((1, len(t))), V[: self.system.electrical]]).T
        return Wave(t, volts[:, list(self.nodes)], (V, X, M, S))

    @cached_property
    def count(self) -> int:
        return len(self.outcome)


class Recorder:
    """Collects accepted points of all cases in the order in which they happen."""

    def __init__(self, system: System, keep: Sequence[int] | None) -> None:
        self.system = system
        self.keep = None if keep is None else tuple(keep)
        self.cases: list[NDArray[Any]] = []
        self.times: list[Array] = []
        self.columns: list[tuple[Array, ...]] = []

    def add(self, now: Any, at: NDArray[np.intp]) -> None:
        """Keep the present point of the cases `at` (positions in `now`)."""
        self.cases.append(now.cases[at])
        self.times.append(now.t[at])
        if self.keep is None:
            self.columns.append((now.V[:, at], now.X[:, at], now.M[:, at], now.S[:, at]))
        else:
            rows = [n - 1 for n in self.keep]
            self.columns.append((now.V[rows][:, at],))

    def finish(self, outcome: NDArray[np.int64], totals: dict[str, Any]) -> Waves:
        """Sort the points by case."""
        cases = np.concatenate(self.cases)
        order = np.argsort(cases, kind="stable")
        offsets = np.searchsorted(cases[order], np.arange(len(outcome) + 1))
        columns = tuple(
            np.concatenate([c[k] for c in self.columns], axis=1)[:, order] for k in range(len(self.columns[0]))
        )
        nodes = self.keep if self.keep is not None else tuple(range(self.system.electrical + 1))
        supplied, heat, delivered = totals["energy"]
        return Waves(
            self.system,
            nodes,
            outcome,
            supplied,
            heat,
            delivered,
            totals["after"] - totals["before"],
            totals["work"],
            totals["steps"],
            totals["tries"],
            totals["newton"],
            offsets,
            np.concatenate(self.times)[order],
            columns,
            self.keep is None,
        )
