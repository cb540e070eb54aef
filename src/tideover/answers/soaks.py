"""Warm standing points: a standing state kept up until every temperature has settled.

A standing point holds temperatures at the room's. Here it is marched on for days with the pack's charge held, so that
parts, air and walls heat up and what follows from their heat (resistance, foldback, leakage) follows with them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.packs import figure
from tideover.answers.runs import ACCURACY, AMBIENT, TRIES
from tideover.answers.states import Setting
from tideover.cases import Batch, cross, override
from tideover.network import Network
from tideover.solve import OUTCOMES, Condition, Inside, Readings, System, build, march, readings, rest

Array = NDArray[np.float64]
Key = tuple[str, str]
SETTLED = 3.0 * 86400.0
"""How long a state is kept up: tens of times the slowest time constant of a box and its cells. [s]"""
HELD = 1e6
"""A pack's charge is held by taking its capacity this many times larger, and its self-discharge smaller."""
PATIENCE = 20
"""Newton iterations allowed where everything creeps."""


@dataclass(frozen=True)
class Soaked:
    """Warm standing points of K settings for B cases each; case b of setting k stands at ``k * B + b``.

    Attributes
    ----------
    settings : tuple of Setting
        K of them.
    batch : Batch
        B cases.
    outcome : int array, shape (K, B)
        As in `tideover.solve.OUTCOMES`: whether there was a standing point to begin from. A march that could not go on
        (thermal runaway, a supply that stops and retries) counts as no standing point.
    """

    network: Network
    settings: tuple[Setting, ...]
    batch: Batch
    outcome: NDArray[np.int64]
    system: System
    inside: Inside

    @cached_property
    def readings(self) -> Readings:
        """Of every part, flat; meaningless where there is no point."""
        return readings(self.system, self.inside)

    @property
    def found(self) -> NDArray[np.bool_]:
        """Where there is a warm standing point, shape (K, B)."""
        return self.outcome == 0

    def _shaped(self, flat: Array) -> Array:
        out: Array = np.where(self.found, np.asarray(flat, dtype=float).reshape(self.outcome.shape), np.nan)
        return out

    def q(self, part: str, quantity: str) -> Array:
        """A reading such as ``temperature [K]``, shape (K, B); NaN where there is no point."""
        return self._shaped(self.readings.quantity[part, quantity])

    def heat(self, part: str) -> Array:
        """Shape (K, B). [W]"""
        return self._shaped(self.readings.heat[part])

    def v(self, node: int) -> Array:
        """Voltage of a node, shape (K, B). [V]"""
        return self._shaped(self.inside.V[node - 1] if node else np.zeros(self.outcome.size))

    def machine(self, part: str, machine: str, k: int, b: int = 0) -> str:
        """Discrete state of a part in one case."""
        return self.readings.machine[part, machine][k * self.batch.count + b]


def soak(network: Network, batch: Batch, settings: Sequence[Setting]) -> Soaked:
    """Keep every case up in every setting until its temperatures have settled.

    Parameters
    ----------
    network : Network
        As loaded. [-]
    batch : Batch
        B cases; the ambient among them, if it differs. [-]
    settings : sequence of Setting
        K of them. [-]
    """
    settings = tuple(settings)
    wide, _ = cross(batch, [s.label for s in settings], {})
    held: dict[Key, Array] = {}
    for pack in states.of_kind(network, "pack"):
        held[pack.name, "capacity"] = HELD * figure(network, wide, (pack.name, "capacity"))
        held[pack.name, "self_discharge"] = figure(network, wide, (pack.name, "self_discharge")) / HELD
    wide = override(wide, held)
    system = build(network, wide.values, wide.count)
    outcome = np.zeros(wide.count, dtype=np.int64)
    pieces, order = [], []
    for machines in {tuple(s.standing.machines.items()): None for s in settings}:
        rows = [k for k, s in enumerate(settings) if tuple(s.standing.machines.items()) == machines]
        cases = (np.array(rows)[:, None] * batch.count + np.arange(batch.count)).reshape(-1)
        condition = _condition(network, wide.take(cases), [settings[k] for k in rows], batch.count)
        point = rest(system.take(cases), condition)
        outcome[cases] = point.outcome
        pieces.append(point.state)
        order.append(cases)
    back = np.argsort(np.concatenate(order))
    inside = Inside(*(np.concatenate([getattr(p, n) for p in pieces], axis=1)[:, back] for n in "VXMS"))
    go = np.flatnonzero(outcome == 0)
    if len(go):
        waves = march(
            system.take(go), inside.take(go), until=SETTLED, accuracy=ACCURACY, most_steps=TRIES, patience=PATIENCE
        )
        last = [waves.case(k).inside for k in range(len(go))]
        for target, ends in zip((inside.V, inside.X, inside.M, inside.S), zip(*last)):
            target[:, go] = np.stack([e[:, -1] for e in ends], axis=1)
        outcome[go[waves.outcome != 0]] = OUTCOMES.index("no standing point")
    return Soaked(network, settings, batch, outcome.reshape(len(settings), batch.count), system, inside)


def _condition(network: Network, wide: Batch, settings: Sequence[Setting], count: int) -> Condition:
    def column(rows: Sequence[dict[Key, float]]) -> dict[Key, Array]:
        return {key: np.repeat([row[key] for row in rows], count) for key in rows[0]}

    return Condition(
        column([s.signals(network) for s in settings]),
        column([s.standing.states for s in settings]),
        settings[0].standing.machines,
        figure(network, wide, AMBIENT),
    )
