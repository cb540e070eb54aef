"""What the answers share: the network, its spreads, and standing points that are computed once.

An adapter that stops and retries in overload has no standing point there. To say by how much it is overloaded, its
limit is lifted while the point is sought, and a point at which the true limit is reached counts as none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.base import HOLDS, Finding
from tideover.answers.points import REACHED, Found, Points
from tideover.answers.rides import Rides, every_outage, ride
from tideover.answers.states import Setting, Standing
from tideover.cases import Batch, Extreme, Spread, cross, extremes, nominal, override, repeat, spreads, written
from tideover.cases.batch import Array, Key
from tideover.cases.share import Told
from tideover.design import place_of
from tideover.network import Network, Placed
from tideover.quantity import Quantity
from tideover.solve import Condition, System, build, rest

LIFT = 4.0
"""By how much the limit of a retrying adapter is lifted: far enough to stand clear of it, near enough not to blur
the adapter's smoothed corner."""
AMBIENT: Key = ("box", "ambient")
SAMPLES = 2000
"""Builds drawn at random unless told: a yield near 95 % is then known within 1 %."""


Held = tuple[Mapping[Key, Array], Mapping[Key, Array]]
"""Signals and states with a value for each case, NaN where the condition's own stands."""
Measure = tuple[str, Setting, Callable[["Points"], NDArray[Any]]]


@dataclass(frozen=True)
class Context:
    """What an answer is given.

    Attributes
    ----------
    network : Network
        As loaded.
    spreads : tuple of Spread
        What varies.
    seed : int
        Of the random corners and samples; shown with the sheet.
    samples : int
        Builds drawn at random where an answer samples.
    executor : Executor or None
        Who does long work, piece by piece; see `tideover.cases.share`.
    told : callable or None
        ``told(done, total)`` as pieces are finished.
    """

    network: Network
    spreads: tuple[Spread, ...]
    seed: int = 1
    samples: int = SAMPLES
    executor: Executor | None = None
    told: Told | None = None

    @classmethod
    def of(
        cls,
        network: Network,
        seed: int = 1,
        samples: int = SAMPLES,
        executor: Executor | None = None,
        told: Told | None = None,
    ) -> Context:
        """With every spread of the network."""
        return cls(network, spreads(network), seed, samples, executor, told)

    def __reduce__(self) -> tuple[type[Context], tuple[Any, ...]]:
        """It travels to another process as what it was made of; what it found since, and who works for it, stay."""
        return type(self), (self.network, self.spreads, self.seed, self.samples)

    @property
    def rng(self) -> np.random.Generator:
        """A fresh generator: every answer draws the same corners."""
        return np.random.default_rng(self.seed)

    @cached_property
    def adapters(self) -> tuple[Any, ...]:
        """Parts that mains feeds."""
        return states.of_kind(self.network, "adapter")

    @cached_property
    def states(self) -> tuple[Standing, ...]:
        """The standing states of this build."""
        return states.standing_states(self.network)

    def place(self, part: str, name: str = "") -> str:
        """File, line and column of a part or of one of its figures: ``build.yaml:41:12``."""
        try:
            where = place_of(self.network.design, part, name)
        except KeyError:
            return ""
        return f"{where.path}:{where.line}:{where.column}" if where.line else where.path

    @property
    def need_place(self) -> str:
        """Where the file says what the load needs."""
        where = self.network.need.place
        return f"{where.path}:{where.line}:{where.column}"

    @cached_property
    def loads(self) -> tuple[Any, ...]:
        """Loads at the node that is judged, or else all loads."""
        every = states.of_kind(self.network, "load")
        return tuple(p for p in every if self.network.at in p.nodes) or every

    # --- standing points ---------------------------------------------------------------------------

    @cached_property
    def nominal(self) -> Points:
        """Every state with no, mean and peak load, the build as written."""
        wanted = tuple(Setting(s, level) for s in self.states for level in states.LEVELS)
        return self.points(nominal(self.network), wanted, fresh=True)

    @cached_property
    def rides(self) -> Rides:
        """Every outage ridden by the build as written, everything kept."""
        outages = every_outage(self.network)
        return ride(self.network, repeat(nominal(self.network), len(outages)), outages)

    def has(self, setting: Setting) -> bool:
        """Whether a state has a nominal standing point."""
        return bool(self.nominal.found[self.row(setting), 0])

    def row(self, setting: Setting) -> int:
        """Row of `nominal` for a state and load level."""
        wanted = (setting.standing.name, setting.level)
        return next(k for k, s in enumerate(self.nominal.settings) if (s.standing.name, s.level) == wanted)

    def points(
        self,
        batch: Batch,
        settings: Sequence[Setting],
        fresh: bool = False,
        scale: Array | None = None,
        held: Held = ({}, {}),
    ) -> Points:
        """Standing points of all cases in all settings.

        Parameters
        ----------
        batch : Batch
            B cases. [-]
        settings : sequence of Setting
            K of them. [-]
        fresh : bool
            Search every point from the start. Otherwise points on the pack, which lie close to their nominal
            ones, are sought from there; with mains present the two roots of a constant-power load lie too close
            to the adapter's corner for that. [-]
        scale : array, shape (K, B), optional
            Multiplies the power of every load. [-]
        held : (dict, dict), optional
            Signals and states that a fault holds in some of the cases, shape (B,), NaN in the others. [-]
        """
        system, wide = self._system(batch, settings)
        groups: dict[tuple[Any, ...], list[int]] = {}
        for k, s in enumerate(settings):
            groups.setdefault(tuple(s.standing.machines.items()), []).append(k)
        parts = []
        for rows in groups.values():
            some = [settings[k] for k in rows]
            cases = (np.array(rows)[:, None] * batch.count + np.arange(batch.count)).reshape(-1)
            near = None
            if not fresh and not any(s.standing.on_mains for s in some):
                known = [self.row(s) for s in some]
                if self.nominal.found[known, 0].all():
                    near = self.nominal.rest.state.take(np.repeat(known, batch.count))
            condition = self._condition(wide.take(cases), some, batch.count)
            if scale is not None:
                condition = scaled(condition, scale[rows].reshape(-1))
            if held[0] or held[1]:
                condition = _holding(condition, held, len(rows))
            parts.append((cases, rest(system.take(cases), condition, near)))
        order = np.argsort(np.concatenate([cases for cases, _ in parts]), kind="stable")
        return Points(self, tuple(settings), batch, system, Found.of([r for _, r in parts]).take(order))

    @cached_property
    def settings(self) -> tuple[Setting, ...]:
        """States and loads that have a nominal standing point: what corners are computed for."""
        every = (
            Setting(s, level) for s in self.states if s.name != states.OFF for level in states.levels(self.network)
        )
        return tuple(s for s in every if self.has(s))

    def corners(self, batch: Batch, settings: Sequence[Setting]) -> dict[str, Points]:
        """Standing points of a batch in each setting, by label; nothing is computed twice."""
        key = b"".join(v.tobytes() for v in batch.values.values())
        missing = [s for s in dict.fromkeys(s.label for s in settings) if (key, s) not in self._known]
        wanted = [next(s for s in settings if s.label == label) for label in missing]
        if not batch.values and batch.count == 1:  # as written: these points are known
            return {s.label: self.nominal.only(self.row(s)) for s in settings}
        if wanted:
            points = self.points(batch, wanted)
            for k, setting in enumerate(wanted):
                self._known[key, setting.label] = points.only(k)
        return {s.label: self._known[key, s.label] for s in settings}

    @cached_property
    def _known(self) -> dict[tuple[bytes, str], Points]:
        return {}

    def worst(self, quantities: Sequence[Measure], check: bool = True) -> tuple[Extreme, ...]:
        """Extreme values over all corners, of any number of quantities in a handful of solver calls.

        Parameters
        ----------
        quantities : sequence of (str, Setting, callable)
            Which way is worse, ``low`` or ``high``; where; and ``f(points) -> y``, shape (1, B), of the points of that
            one setting. [-]
        check : bool
            Try random corners too; not needed for what moves one way with every figure, such as a drop. [-]
        """
        if not quantities:
            return ()

        def evaluate(batch: Batch) -> Array:
            points = self.corners(batch, [s for _, s, _ in quantities])
            return np.array([f(points[s.label])[0] for _, s, f in quantities], dtype=float)

        rng = self.rng if check else None
        return extremes(self.network, self.spreads, evaluate, [w for w, _, _ in quantities], rng)

    def _system(self, batch: Batch, settings: Sequence[Setting]) -> tuple[System, Batch]:
        """Every case in every setting, retrying adapters with their limit lifted."""
        lifted: dict[Key, Any] = {}
        for adapter in self.adapters:
            key = (adapter.name, "current_limit")
            if choice(adapter, "overload") == "hiccup":
                lifted[key] = LIFT * batch.values.get(key, np.full(batch.count, written(self.network, key)))
        wide, _ = cross(override(batch, lifted), [s.label for s in settings], {})
        return build(self.network, wide.values, wide.count), wide

    def _condition(self, wide: Batch, settings: Sequence[Setting], count: int) -> Condition:
        """What is given in settings that begin from the same discrete states."""

        def column(rows: Sequence[Mapping[tuple[str, str], float]]) -> dict[tuple[str, str], Array]:
            return {key: np.repeat([row[key] for row in rows], count) for key in rows[0]}

        return Condition(
            column([s.signals(self.network) for s in settings]),
            _guesses(self.network, wide) | column([s.standing.states for s in settings]),
            settings[0].standing.machines,
            wide.values.get(AMBIENT, written(self.network, AMBIENT)),
        )


def _guesses(network: Network, wide: Batch) -> dict[Key, Array]:
    """Where each case's search begins, for states that begin at a figure that varies: its own value of it."""
    return {
        (part.name, state.name): wide.values[part.name, state.guess.replace(" ", "_")]
        for part in network.parts
        for state in part.kind.states
        if (part.name, state.guess.replace(" ", "_")) in wide.values
    }


def _holding(condition: Condition, held: Held, rounds: int) -> Condition:
    """The same with some signals and states held in some cases, in each of the settings."""
    given = []
    for known, imposed in zip((condition.signals, condition.states), held):
        wide = {key: np.tile(value, rounds) for key, value in imposed.items()}
        given.append({**known, **{k: np.where(np.isnan(v), known[k], v) for k, v in wide.items()}})
    return replace(condition, signals=given[0], states=given[1])


def settled(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings as they are shown: what holds needs no mending."""
    return tuple(replace(f, mend="") if f.status == HOLDS else f for f in findings)


def known(value: float) -> float | None:
    """A number for a table or a finding; None where there is none."""
    return None if np.isnan(value) else float(value)


def scaled(condition: Condition, scale: Array) -> Condition:
    """The same with the power of every load multiplied, case by case."""
    signals = {k: v * scale if k[1] == "demand" else v for k, v in condition.signals.items()}
    return replace(condition, signals=signals)


def choice(part: Placed, name: str) -> str:
    """The word a part has for a parameter that is one out of a few."""
    value = part.values[name]
    position = value.nominal if isinstance(value, Quantity) else value
    return part.kind.parameter(name).choices[int(position)]


__all__ = ["REACHED", "Context", "Found", "Points", "Setting", "Standing", "choice", "known", "scaled", "settled"]
