"""How far every part is loaded: the worst reading of each rating over states, corners, warmth and outages."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.context import Context, Points, Setting
from tideover.answers.limits import Rule
from tideover.answers.rated import TABLE, Rating, number
from tideover.answers.rides import LOSS
from tideover.answers.runs import AMBIENT
from tideover.answers.soaks import Soaked, soak
from tideover.cases import nominal, override
from tideover.laws.constants import TEMP_25
from tideover.network import Placed
from tideover.quantity import show
from tideover.solve import Readings, along, readings

Array = NDArray[np.float64]
LASTING = Rule(1.0, "s", "peak of the load that counts as lasting: contacts and junctions follow it")
FUSE = Rating("fuse", "rating", "current", "A", lambda look, part: np.abs(look.q(part.name, "a [A]")), "")
"""A fuse's current is read like a rating and judged by a rule of its own."""


@dataclass(frozen=True)
class Worst:
    """The worst reading of one rating of one part.

    Attributes
    ----------
    value, nominal : float
        At the worst corner, and as drawn in the same state. [SI]
    state, case : str
        Where and when.
    """

    value: float
    nominal: float
    state: str
    case: str = "nominal"


@dataclass(frozen=True)
class Standing:
    """Standing points as they are looked at: an overloaded adapter gives what it is asked for until it stops."""

    points: Points

    def q(self, part: str, quantity: str) -> Array:
        """A reading, shape (K, B)."""
        return self.points.raw(part, quantity)

    def v(self, node: int) -> Array:
        """Voltage of a node, shape (K, B). [V]"""
        return self.points.raw_v(node)

    def heat(self, part: str) -> Array:
        """Shape (K, B). [W]"""
        raw = self.points.readings.heat[part].reshape(self.points.shape)
        return np.where(self.points.solved, raw, np.nan)


@dataclass(frozen=True)
class Along:
    """One march as it is looked at, all its points in order of time."""

    volts: Array
    known: Readings

    def q(self, part: str, quantity: str) -> Array:
        """A reading, shape (points,)."""
        return self.known.quantity[part, quantity]

    def v(self, node: int) -> Array:
        """Voltage of a node, shape (points,). [V]"""
        return self.volts[:, node]

    def heat(self, part: str) -> Array:
        """Shape (points,). [W]"""
        return self.known.heat[part]


@dataclass(frozen=True)
class Loaded:
    """All that is read of a build for its ratings."""

    context: Context

    @cached_property
    def pairs(self) -> tuple[tuple[Placed, Rating], ...]:
        """Every part with every rating of its kind, a fuse's current among them."""
        return tuple((p, r) for p in self.context.network.parts for r in (*TABLE, FUSE) if r.kind == p.kind.name)

    @property
    def peak_lasts(self) -> bool:
        """Whether a peak of some load is long enough to warm what carries it."""
        loads = states.of_kind(self.context.network, "load")
        lasting = (p for p in loads if number(p, "peak_power") > number(p, "power"))
        return any(number(p, "peak_duration") >= LASTING.value for p in lasting)

    # --- standing points ---------------------------------------------------------------------------------------

    @cached_property
    def standing(self) -> dict[tuple[str, str, bool], Worst]:
        """By part, rating, and whether at a short peak of the load: the worst state as drawn, at its worst corner."""
        context, points = self.context, self.context.nominal
        look = Standing(points)
        lasting, brief = self._settings()
        wanted: list[tuple[Placed, Rating, bool, Setting]] = []
        for part, rating in self.pairs:
            if rating.nature == "junction":
                continue
            values = np.asarray(rating.read(look, part))[:, 0]
            for some, is_brief in ((lasting, False), (brief, True)):
                setting = self._worst_of(some, values, rating)
                if setting is not None and not (is_brief and rating.nature != "heats"):
                    wanted.append((part, rating, is_brief, setting))
        ends = context.worst(
            [("low" if r.low else "high", s, self._reader(p, r)) for p, r, _, s in wanted], check=False
        )
        return {
            (p.name, r.name, is_brief): Worst(end.value, end.nominal, s.label, end.label)
            for (p, r, is_brief, s), end in zip(wanted, ends)
        }

    def _settings(self) -> tuple[list[Setting], list[Setting]]:
        """Settings whose currents last, and those of short peaks. A voltage is read in all of them."""
        every = list(self.context.settings)
        if self.peak_lasts:
            return every, []
        return [s for s in every if s.level != states.PEAK], [s for s in every if s.level == states.PEAK]

    @cached_property
    def _any(self) -> tuple[Setting, ...]:
        """Every setting that stands, the load off and the build switched off among them: voltages are highest there."""
        idle = (Setting(s, states.NONE) for s in self.context.states)
        return (*self.context.settings, *(s for s in idle if self.context.has(s)))

    def _worst_of(self, some: Sequence[Setting], values: Array, rating: Rating) -> Setting | None:
        tried = {"breaks": self._any, "feeds": self.context.settings}.get(rating.nature, some)
        known = [(values[self.context.row(s)], s) for s in tried]
        finite = [pair for pair in known if np.isfinite(pair[0])]
        if not finite:
            return None
        return (min if rating.low else max)(finite, key=lambda pair: pair[0])[1]

    @staticmethod
    def _reader(part: Placed, rating: Rating) -> Callable[[Points], Array]:
        """A corner without a solution has nothing to read: the answers on standing points and budgets tell of it."""
        fill = np.inf if rating.low else -np.inf

        def read(points: Points) -> Array:
            value = np.asarray(rating.read(Standing(points), part), dtype=float)
            return np.where(np.isfinite(value), value, fill)

        return read

    # --- warm points -------------------------------------------------------------------------------------------

    @cached_property
    def warm(self) -> Soaked | None:
        """Every state kept up in the warmest room, the build as drawn; None where no state stands."""
        network = self.context.network
        settings = self._settings()[0] or self.context.settings
        if not settings:
            return None
        batch = override(nominal(network), {AMBIENT: network.need.ambient[1]})
        return soak(network, batch, settings)

    @cached_property
    def air(self) -> float:
        """Warmest air in the box, or the warmest room where nothing stands long enough. [K]"""
        hot = self.context.network.need.ambient[1]
        if self.warm is None or not self.warm.found.any():
            return hot
        return hot + float(np.nanmax(self.warm.q("box", "air rise [K]")))

    def temperature(self, part: Placed) -> Worst | None:
        """Hottest that a part gets; None where it does not warm or nothing stands."""
        if self.warm is None or (part.name, "temperature [K]") not in self.warm.readings.quantity:
            return None
        values = self.warm.q(part.name, "temperature [K]")[:, 0]
        if not np.isfinite(values).any():
            return None
        k = int(np.nanargmax(values))
        return Worst(float(values[k]), float(values[k]), f"{self.warm.settings[k].label}, warmest room, settled")

    def warmth(self, part: Placed) -> float:
        """The same as a number, 25 °C where it is not known. [K]"""
        found = self.temperature(part)
        return found.value if found else TEMP_25

    # --- outages -----------------------------------------------------------------------------------------------

    @cached_property
    def transient(self) -> dict[tuple[str, str], Worst]:
        """Extreme of every rating's reading in the outages that were ridden; of currents, their peak."""
        best: dict[tuple[str, str], Worst] = {}
        for when, t, look in self._marches():
            for part, rating in self.pairs:
                if rating.nature in ("junction", "feeds"):
                    continue
                values = np.asarray(rating.read(look, part))
                k = int(np.argmax(values))
                old = best.get((part.name, rating.name))
                if old is None or values[k] > old.value:
                    value = float(values[k])
                    best[part.name, rating.name] = Worst(value, value, f"{_instant(t[k])}, {when}")
        return best

    @cached_property
    def pulses(self) -> dict[str, Worst]:
        """Share of the way to melting that the worst pulse of an outage takes each fuse. [-]"""
        best: dict[str, Worst] = {}
        for when, t, look in self._marches():
            for fuse in states.of_kind(self.context.network, "fuse"):
                melting = look.q(fuse.name, "melting [-]")
                rise = melting - np.minimum.accumulate(melting)
                k = int(np.argmax(rise))
                if fuse.name not in best or rise[k] > best[fuse.name].value:
                    best[fuse.name] = Worst(float(rise[k]), float(rise[k]), f"{_instant(t[k])}, {when}")
        return best

    def _marches(self) -> Iterator[tuple[str, Array, Along]]:
        yield from self._looks

    @cached_property
    def _looks(self) -> list[tuple[str, Array, Along]]:
        if not self.context.adapters:
            return []
        rides = self.context.rides
        found = []
        if rides.waves is not None:
            for case in np.flatnonzero(rides.stands).tolist():
                position = rides.position(case)
                t, system, inside = along(rides.waves, position)
                volts = rides.waves.case(position).v
                found.append((rides.outages[case].label, t, Along(volts, readings(system, inside))))
        return found


def _instant(t: float) -> str:

    return "before mains is lost" if t < LOSS else f"{show(t - LOSS, 's')} after mains is lost"
