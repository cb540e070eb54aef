"""Openings that would do: a batch of vent areas, each kept up in every state until it is warm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers.heat_read import Reading, limit_of
from tideover.answers.warmest import outside
from tideover.answers.warmth import CORNERS, VENT, Warmth, inner_surface, warm_parts, warmth
from tideover.cases import join, override, repeat, written

Array = NDArray[np.float64]
MOST = 0.2
"""Largest share of the surface of the box that is tried, for the openings low or high: beyond, it is no box."""
STEPS = 16
DRAWN_CASE = 0


@dataclass(frozen=True)
class Vents:
    """Openings tried.

    Attributes
    ----------
    areas : array, shape (A,)
        Low, and as much high. [m^2]
    air : array, shape (2, A)
        Warmest air over all states, as drawn and in the worst corner. [K]
    over : dict
        Part to how far it is above where it becomes tight (as drawn) or fails (in the corner), shape (2, A); with
        what a day with a run and a recharge adds to its worst standing state. [K]
    """

    areas: Array
    air: Array
    over: dict[str, Array]

    def smallest(self, part: str, case: int) -> float | None:
        """Smallest opening that keeps a part where it belongs. [m^2]"""
        good = np.flatnonzero(self.over[part][case] <= 0.0)
        return float(self.areas[good[0]]) if len(good) else None

    @property
    def enough(self) -> float | None:
        """Smallest opening that keeps everything where it belongs, as drawn. [m^2]"""
        worst = np.max([o[DRAWN_CASE] for o in self.over.values()], axis=0)
        good = np.flatnonzero(worst <= 0.0)
        return float(self.areas[good[0]]) if len(good) else None


def vents(warm: Warmth, readings: Sequence[Reading]) -> Vents:
    """Try openings from a hundredth of a percent of the box's surface upwards, as drawn and in the worst corner."""
    context, network = warm.context, warm.context.network
    surface = inner_surface(network)
    least = max(written(network, VENT), 1e-4 * surface)
    areas = np.geomspace(least, max(MOST * surface, 2.0 * least), STEPS)
    corner = _corner(warm, readings)
    some = warm.soaked.batch.take(np.array([DRAWN_CASE, corner]))
    tried = override(repeat(some, STEPS), {VENT: np.repeat(areas, 2)})
    found = warmth(context, join(network, [tried]), warm.settings)

    def worst(values: Array) -> Array:
        """Shape (2, A), over all settings; where a state has no warm point it counts as far too hot."""
        flat = np.nanmax(np.where(np.isnan(values), -np.inf, values), axis=0)
        return np.asarray(flat.reshape(STEPS, 2).T)

    over = {}
    for part in (*warm_parts(network), network.part("box")):
        if outside(network, part):
            continue
        temps = found.air if part.kind.name == "box" else found.part(part)
        limits = [limit_of(context, part, s.standing.name) for s in warm.settings]
        if any(limit is None for limit in limits):
            continue
        screen = np.array([limit.screen for limit in limits if limit])[:, None]
        hard = np.array([limit.hard for limit in limits if limit])[:, None]
        steady = np.stack([worst(temps - screen)[0], worst(temps - hard)[1]])
        over[part.name] = steady + np.array(_added(readings, part.name))[:, None]
    return Vents(areas, worst(found.air), over)


def _added(readings: Sequence[Reading], part: str) -> tuple[float, float]:
    """By how much a day takes a part nearer to its limits than any standing state, as drawn and in corners. [K]"""

    def nearest(day: bool, drawn: bool) -> float:
        some = (r.left for r in readings if r.part == part and r.day is day and (r.case == "nominal") is drawn)
        return min(some, default=np.inf)

    def more(drawn: bool) -> float:
        day, still = nearest(True, drawn), nearest(False, drawn)
        return max(still - day, 0.0) if np.isfinite(day + still) else 0.0

    return more(True), more(False)


def _corner(warm: Warmth, readings: Sequence[Reading]) -> int:
    """The corner in which something in the box is nearest to failing, or furthest past it."""
    labels = warm.soaked.batch.labels
    bad = [r for r in readings if r.opens and r.case != "nominal" and r.case in labels[CORNERS:]]
    if not bad:
        return CORNERS
    return CORNERS + labels[CORNERS:].index(min(bad, key=lambda r: r.limit.hard - r.value).case)
