"""Fuses, boards and the loops they stand in: the numbers of a build that the rules of coordination ask for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from tideover.answers import coordination as rule
from tideover.answers import states
from tideover.answers.allowed import Allowance, allowance
from tideover.answers.base import Finding
from tideover.answers.coordination import Verdict
from tideover.answers.loaded import Loaded
from tideover.answers.loops import (
    HIGH,
    Loop,
    ends,
    figure,
    least,
    loops,
    most,
    trip_current,
)
from tideover.answers.policies import FUSE_PER_KELVIN
from tideover.answers.rated import CONVERTERS, number
from tideover.laws.fuses import rerated_current
from tideover.network import Network, Placed

CARRIES = ("cable", "wire", "strip", "track", "connector", "switch", "relay")
"""Kinds that a fuse protects."""
SHORT = "short circuit"


@dataclass(frozen=True)
class Fused:
    """One fuse and what it stands in.

    Attributes
    ----------
    part : Placed
        The fuse.
    warm : float
        Rated current in the warmest air of the box. [A]
    through : tuple of Loop
        Loops of short-circuit current from packs that pass it, the nearest short first.
    """

    part: Placed
    warm: float
    through: tuple[Loop, ...]

    @property
    def rating(self) -> float:
        """At 25 °C. [A]"""
        return number(self.part, "rating")

    @property
    def family(self) -> str:
        """As in a build file."""
        return self.part.kind.parameter("family").choices[int(number(self.part, "family"))]

    def melting(self, side: str) -> float:
        """Melting integral at a limit of its tolerance. [A^2 s]"""
        return figure(self.part, "melting_integral", side)


@dataclass(frozen=True)
class Coordination:
    """Rules with the numbers of one build."""

    loaded: Loaded

    @property
    def network(self) -> Network:
        """The build."""
        return self.loaded.context.network

    @cached_property
    def pack_loops(self) -> tuple[Loop, ...]:
        """Shorts that the packs feed."""
        return tuple(loop for pack in states.of_kind(self.network, "pack") for loop in loops(self.network, pack))

    @cached_property
    def adapter_loops(self) -> tuple[Loop, ...]:
        """Shorts that the adapters feed."""
        every = states.of_kind(self.network, "adapter")
        return tuple(loop for adapter in every for loop in loops(self.network, adapter))

    @cached_property
    def fuses(self) -> tuple[Fused, ...]:
        """Every fuse."""
        per_kelvin = FUSE_PER_KELVIN[self.network.need.policy].figure
        return tuple(
            Fused(
                part,
                float(rerated_current(number(part, "rating"), self.loaded.air, per_kelvin)),
                tuple(loop for loop in self.pack_loops if part in loop.parts),
            )
            for part in states.of_kind(self.network, "fuse")
        )

    def allowed(self, part: Placed) -> Allowance | None:
        """What a conductor may carry; None where nobody stated it and nothing tells."""
        return allowance(part, self.loaded.air, self.network.need.ambient[1])

    def trip(self, board: Placed, side: str = "") -> float:
        """Trip current of a board: hot for the lowest, at 25 °C for the highest. [A]"""
        return trip_current(board, side) if side == HIGH else trip_current(board, side, self.loaded.warmth(board))

    def reach(self, converter: Placed) -> float | None:
        """Most that a converter gives into an overload, its limit at the high end; None where it never stood. [A]"""
        points = self.loaded.context.nominal
        known = points.raw(converter.name, "reach [A]")
        if not np.isfinite(known).any():
            return None
        return float(np.nanmax(known)) * figure(converter, "current_limit", HIGH) / figure(converter, "current_limit")

    def input_limit(self, part: Placed) -> float | None:
        """Input current of a converter at its own limit, at its lowest input; as drawn. [A]"""
        limit = number(part, "current_limit")
        if part.kind.name in ("boost", "linear regulator"):
            return limit
        most_out = self.reach(part)
        lowest = max(number(part, "lockout_off"), number(part, "lowest_input"))
        if most_out is None or lowest <= 0.0:
            return limit
        return min(limit, most_out * number(part, "set_voltage") / lowest) if part.kind.name == "buck" else limit

    def converters_behind(self, fuse: Fused) -> Iterator[tuple[Placed, float]]:
        """Converters that a fuse feeds, each with its input current at its limit."""
        names = {p.name for loop in fuse.through for p in loop.behind(fuse.part)} | {fuse.part.name}
        nodes = {n for p in self.network.parts if p.name in names for n in ends(p)} - {0}
        for part in states.of_kind(self.network, *CONVERTERS):
            limit = self.input_limit(part)
            if part.nodes[part.kind.terminals.index("input")] in nodes and limit is not None:
                yield part, limit

    def let_through(self, fuse: Fused, loop: Loop, part: Placed) -> tuple[float, float] | None:
        """What a fuse lets through a part in the worst short behind it, and its largest current. [A^2 s] [A]

        Only of shorts that it clears within seconds: what lasts longer is the business of rules 2 and 4. None where it
        clears none so fast.
        """
        high, low = most(self.network, loop.short_of(part)), least(self.network, loop)
        family = rule.gates_of(fuse.family)
        lets = [rule.lets_through(i, fuse.rating, fuse.melting(HIGH), family) for i in (high, low) if i > 0.0]
        known = [let for let in lets if np.isfinite(let)]
        return (max(known), high) if known else None

    def board_lets(self, loop: Loop, i: float) -> float:
        """What the quickest board of a loop lets through, infinite without one. [A^2 s]"""
        delays = [figure(b, "short_delay", HIGH) for b in loop.of_kind("protection board")]
        return min((i * i * d for d in delays), default=np.inf)

    def unstated(self) -> list[tuple[str, str]]:
        """What fuses do not state of direct current."""
        names = ("voltage_rating", "breaking_capacity")
        parts = [f.part for f in self.fuses if f.through]
        return [(p.name, p.kind.parameter(n).key) for p in parts for n in names if not number(p, n)]

    def finding(
        self, name: str, verdict: Verdict, part: Placed, state: str, what: str, why: str, mend: str, source: str
    ) -> Finding:
        """A verdict in words. The margin of a least value counts from below."""
        return Finding(
            name=name,
            status=verdict.status,
            subject=part.name,
            state=state,
            quantity=what,
            value=verdict.value,
            unit=verdict.unit,
            limit=verdict.limit,
            margin=verdict.margin,
            why=why,
            mend=mend,
            source=source,
            place=self.loaded.context.place(part.name),
        )
