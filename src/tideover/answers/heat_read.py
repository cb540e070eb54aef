"""Temperatures held against what parts bear, one by one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from tideover.answers import states
from tideover.answers.base import FAILS, HOLDS, TIGHT
from tideover.answers.context import Context
from tideover.answers.warm_day import Day
from tideover.answers.warmest import Limit, of_air, of_part, outside
from tideover.answers.warmth import CORNERS, DRAWN, LABELS, Warmth, warm_parts
from tideover.network import Placed

DAYTIME = "a day with a run and a recharge"


@dataclass(frozen=True)
class Reading:
    """The highest temperature of one part in one state or day.

    Attributes
    ----------
    part : str
        Or ``box`` for the air inside.
    state, case : str
        Where; ``nominal`` or the figures of the corner.
    value, air : float
        Of the part and of the air in the box. [K]
    limit : Limit
        What it bears.
    opens : bool
        Whether it stands in the box, so that an opening would help it.
    """

    part: str
    state: str
    case: str
    value: float
    air: float
    limit: Limit
    opens: bool

    @property
    def day(self) -> bool:
        """Whether it was met in a day, and not in a standing state."""
        return self.state.startswith(DAYTIME)

    @property
    def left(self) -> float:
        """Up to where it becomes tight. [K]"""
        return self.limit.screen - self.value

    @property
    def status(self) -> str:
        """All that is bad at once is unlikely: a corner makes tight, never fails."""
        if self.value > self.limit.hard:
            return FAILS if self.case == "nominal" else TIGHT
        return TIGHT if self.value > self.limit.screen and self.case == "nominal" else HOLDS


def standing_readings(warm: Warmth) -> Iterator[Reading]:
    """Every part and the air in every state, as drawn and in the worst corner."""
    context, labels = warm.context, warm.soaked.batch.labels
    network = context.network
    for part in (*warm_parts(network), network.part("box")):
        temps = warm.air if part.kind.name == "box" else warm.part(part)
        for k, setting in enumerate(warm.settings):
            limit = limit_of(context, part, setting.standing.name)
            if limit is None:
                continue
            corner = temps[k, CORNERS:]
            columns = [DRAWN] if np.isnan(corner).all() else [DRAWN, CORNERS + int(np.nanargmax(corner))]
            for b in columns:
                if np.isnan(temps[k, b]):
                    continue
                yield Reading(
                    part.name,
                    setting.label,
                    "nominal" if b == DRAWN else labels[b],
                    float(temps[k, b]),
                    float(warm.air[k, b]),
                    limit,
                    not outside(network, part),
                )


def limit_of(context: Context, part: Placed, state: str) -> Limit | None:
    """What a part bears in a state; for the box, what its air may be."""
    return of_air(context.network) if part.kind.name == "box" else of_part(context.network, part, state)


def day_readings(context: Context, past: Sequence[Day]) -> Iterator[Reading]:
    """Every part and the air through days; cells apart while they are charged and while not."""
    network = context.network
    for day in past:
        for part in (*warm_parts(network), network.part("box")):
            for state, charging, words in _phases(part):
                limit = limit_of(context, part, state)
                value = day.hottest(part.name, charging)
                if limit is None or np.isnan(value):
                    continue
                yield Reading(
                    part.name,
                    DAYTIME + words,
                    "nominal" if day.label == LABELS[DRAWN] else day.label,
                    value,
                    day.hottest("box"),
                    limit,
                    not outside(network, part),
                )


def _phases(part: Placed) -> tuple[tuple[str, bool | None, str], ...]:
    if part.kind.name != "pack":
        return ((states.HALF, None, ""),)
    return (
        (states.CHARGING, True, ", cells being charged"),
        (states.HALF, False, ", cells not being charged"),
    )
