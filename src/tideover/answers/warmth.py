"""Warm standing points in the warmest room, with the peaks of the load counted, and the corners that heat."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.context import AMBIENT, Context
from tideover.answers.soaks import Soaked, soak
from tideover.answers.states import MEAN, PEAK, Setting
from tideover.answers.warmest import TOUCH_ROOM, VENTED, outside
from tideover.cases import Batch, Spread, corner, join, one_at_a_time, override, written
from tideover.network import Network, Placed

Array = NDArray[np.float64]
Key = tuple[str, str]
VENT: Key = ("box", "vent_area")
DRAWN, SEALED, OPENED, TEMPERATE = range(4)
LABELS = ("as drawn", "sealed", "vented", "as drawn, room at 25 °C")
CORNERS = len(LABELS)
"""First corner in a batch."""
NAMED = 4
"""Figures named in a corner's label, the strongest first."""
HEATS: dict[str, float] = {"thermal_resistance": 1.0, "wall": 1.0}
COOLS = dict.fromkeys(("emissivity", "vent_area", "wall_conductivity", "width", "depth", "height"), -1.0)
"""Which way a figure of a heat path warms; it moves no current, so that it does not show at a cold standing point."""


@dataclass(frozen=True)
class Warmth:
    """Temperatures of all parts in K settings and B cases.

    Attributes
    ----------
    soaked : Soaked
        Warm standing points at mean load.
    spikes : dict
        What peaks of the load add to a part, shape (K, 1). [K]
    swell : array, shape (K, 1)
        By which share peaks raise the mean heat in the box. [-]
    """

    context: Context
    soaked: Soaked
    spikes: dict[str, Array]
    swell: Array

    @property
    def settings(self) -> tuple[Setting, ...]:
        return self.soaked.settings

    def _shaped(self, flat: Array) -> Array:
        return np.asarray(np.where(self.soaked.found, flat.reshape(self.soaked.outcome.shape), np.nan))

    @cached_property
    def room(self) -> Array:
        """Shape (1, B). [K]"""
        given = self.soaked.batch.values.get(AMBIENT)
        return np.asarray(given if given is not None else [written(self.context.network, AMBIENT)])[None, :]

    @cached_property
    def air(self) -> Array:
        """In the box, peaks counted, shape (K, B). [K]"""
        plain = self._shaped(self.soaked.inside.V[-1])
        return plain + self.swell * (plain - self.room)

    @cached_property
    def wall(self) -> Array:
        """Outer face of the box, peaks counted, shape (K, B). [K]"""
        plain = self._shaped(self.soaked.readings.state["box", "wall_temp"])
        return plain + self.swell * (plain - self.room)

    def part(self, part: Placed) -> Array:
        """Of a part at the end of a peak, shape (K, B). [K]"""
        plain = self.soaked.q(part.name, "temperature [K]")
        around = 0.0 if outside(self.context.network, part) else self.air - self._shaped(self.soaked.inside.V[-1])
        return plain + around + self.spikes[part.name]


def warm_parts(network: Network) -> tuple[Placed, ...]:
    """Parts with a temperature of their own."""
    return tuple(p for p in network.parts if p.kind.warm)


def settings_of(context: Context) -> tuple[Setting, ...]:
    """Standing states that last, at mean load."""
    return tuple(Setting(s) for s in context.states if s.name != states.OFF)


def warmth(context: Context, batch: Batch, settings: tuple[Setting, ...]) -> Warmth:
    """Keep every case up in every setting until it is warm, and add what peaks do."""
    spikes, swell = _peaks(context, settings)
    return Warmth(context, soak(context.network, batch, settings), spikes, swell)


def peak_share(duration: float, interval: float, tau: Array | float) -> Array:
    """Share of the rise at a lasting peak that a part reaches at the end of one of many peaks.

    A part of the time constant `tau` warmed by a square wave swings between two temperatures; the upper one is
    ``(1 - exp(-duration / tau)) / (1 - exp(-interval / tau))`` of the way to the rise of a lasting peak.
    """
    a, b = -np.expm1(-duration / np.asarray(tau)), -np.expm1(-max(interval, duration) / np.asarray(tau))
    return np.asarray(a / b)


def _peaks(context: Context, settings: tuple[Setting, ...]) -> tuple[dict[str, Array], Array]:
    """What peaks add to parts [K] and to the heat in the box [-].

    The heat at peak load over that at mean load is taken from cold standing points. Peaks are laid upon the mean, in
    which they are counted already: a little too warm rather than too cold.
    """
    network, points = context.network, context.nominal
    loads = [p for p in states.of_kind(network, "load") if states.demand(network, p, PEAK) > 1.0]
    parts = warm_parts(network)
    if not loads:
        return {p.name: np.zeros((len(settings), 1)) for p in parts}, np.zeros((len(settings), 1))
    load = max(loads, key=lambda p: written(network, (p.name, "peak_power")))
    lasts, every = (written(network, (load.name, n)) for n in ("peak_duration", "peak_interval"))
    mean = [context.row(Setting(s.standing, MEAN)) for s in settings]
    peak = [context.row(Setting(s.standing, PEAK)) for s in settings]

    def more(part: Placed) -> Array:
        heat = points.heat(part.name)[:, 0]
        return np.maximum(np.nan_to_num(heat[peak] - heat[mean]), 0.0)[:, None]

    spikes = {}
    for part in parts:
        theta, capacity = (written(network, (part.name, n)) for n in ("thermal_resistance", "heat_capacity"))
        spikes[part.name] = theta / bodies(network, part) * more(part) * peak_share(lasts, every, theta * capacity)
    inside = [p for p in parts if not outside(network, p)]
    usual = sum((np.nan_to_num(points.heat(p.name)[mean, 0])[:, None] for p in inside), np.zeros((len(settings), 1)))
    extra = sum((more(p) for p in inside), np.zeros((len(settings), 1)))
    duty = min(lasts / max(every, lasts), 1.0)
    return spikes, np.where(usual > 0.0, duty * extra / np.maximum(usual, 1e-9), 0.0)


def bodies(network: Network, part: Placed) -> float:
    """Like bodies side by side that share the heat: the cells of a pack."""
    if part.kind.name != "pack":
        return 1.0
    return float(np.prod([written(network, (part.name, n)) for n in ("series", "parallel")]))


def inner_surface(network: Network) -> float:
    """Of the box, all six faces. [m^2]"""
    w, d, h = (written(network, ("box", n)) for n in ("width", "depth", "height"))
    return 2.0 * (w * d + w * h + d * h)


def opened(network: Network) -> float:
    """Vent area of the vented variant: as drawn, or from where vents begin to do something. [m^2]"""
    return max(written(network, VENT), VENTED.value * inner_surface(network))


def usual_cases(context: Context, settings: tuple[Setting, ...]) -> Batch:
    """As drawn, sealed and vented in the warmest room; as drawn at 25 °C; and a corner for each setting."""
    network = context.network
    drawn = written(network, VENT)
    vents = np.array([drawn, 0.0, opened(network), drawn])
    warmest = network.need.ambient[1]
    rooms = np.array([warmest, warmest, warmest, TOUCH_ROOM.value])
    four = Batch(LABELS, {VENT: vents, AMBIENT: rooms}, CORNERS)
    return join(network, [four, override(corners(context, settings), {AMBIENT: warmest})])


def corners(context: Context, settings: tuple[Setting, ...]) -> Batch:
    """For each setting, every figure the way that sets more heat free in the box, or lets less of it out."""
    network = context.network
    spreads = [s for s in context.spreads if (s.part, s.name) != AMBIENT]
    if not spreads:
        return Batch(("nominal",) * len(settings), {}, len(settings))
    n = len(spreads)
    points = context.points(one_at_a_time(network, spreads, both=True), settings)
    inside = [p for p in warm_parts(network) if not outside(network, p)]
    heat = sum((points.heat(p.name) for p in inside), np.zeros(points.shape))
    start, up, down = heat[:, :1], heat[:, 1 : n + 1], heat[:, n + 1 :]
    up, down = np.nan_to_num(up - start), np.nan_to_num(down - start)
    signs = np.where(np.maximum(up, down) > 1e-9, np.where(up > down, 1.0, -1.0), 0.0)
    for k, spread in enumerate(spreads):
        signs[:, k] = _path(spread) or signs[:, k]
    strength = np.maximum(up, down).max(axis=0)
    order = np.argsort(-strength, kind="stable")
    labels = tuple(_said([spreads[k] for k in order], row[order]) for row in signs)
    return Batch(labels, corner(network, spreads, signs).values, len(settings))


def _path(spread: Spread) -> float:
    """Sign with which a figure of a heat path warms; 0 for any other figure."""
    return HEATS.get(spread.name, COOLS.get(spread.name, 0.0) if spread.part == "box" else 0.0)


def _said(spreads: list[Spread], signs: Array) -> str:
    return ", ".join([s.said(float(f)) for s, f in zip(spreads, signs) if f][:NAMED]) or "nominal"
