"""Ripple current of capacitors beside a converter, which averaged models do not show."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from tideover.answers import states
from tideover.answers.context import choice
from tideover.answers.loaded import Loaded, Worst
from tideover.answers.rated import Rating
from tideover.answers.used import Used, against
from tideover.network import Placed

RIPPLE = Rating(
    "capacitor",
    "ripple_rating",
    "ripple current",
    "A",
    lambda look, part: np.zeros(1),
    "capacitor ripple current",
    100.0,
)
"""Judged like any rating once its reading is computed."""


def boost_ripple(i_out: Any, v_in: Any, v_out: Any) -> Any:
    """Root mean square of what a boost puts into its output capacitor, ``I_out sqrt(D / (1 - D))``. [A]"""
    duty = np.clip(1.0 - v_in / np.maximum(v_out, 1e-9), 0.0, 0.99)
    return i_out * np.sqrt(duty / (1.0 - duty))


def buck_ripple(i_out: Any, v_in: Any, v_out: Any) -> Any:
    """Root mean square of what a buck takes from its input capacitor, ``I_out sqrt(D (1 - D))``. [A]"""
    duty = np.clip(v_out / np.maximum(v_in, 1e-9), 0.0, 1.0)
    return i_out * np.sqrt(duty * (1.0 - duty))


def ripples(loaded: Loaded) -> tuple[list[Used], list[tuple[str, str]]]:
    """Every capacitor beside a converter against its ripple rating, and those that state none.

    The converter's own capacitors take a share that is not known; the one drawn is taken to carry all of it.
    """
    used, unstated = [], []
    for part in states.of_kind(loaded.context.network, "capacitor"):
        worst = _worst(loaded, part)
        if worst is None:
            continue
        rated = RIPPLE.stated(loaded.context.network, part)
        if rated is None:
            unstated.append((part.name, "ripple rating"))
            continue
        used.append(against(part, RIPPLE, RIPPLE.reserve, loaded.context.network.need.policy, rated, worst))
    return used, unstated


def _worst(loaded: Loaded, capacitor: Placed) -> Worst | None:
    points = loaded.context.nominal
    squares = [np.square(r) for r in _beside(loaded, capacitor)]
    if not squares:
        return None
    total = np.sqrt(sum(squares))
    known = np.where(np.isfinite(total), total, -1.0)
    k = int(np.argmax(known))
    amps = float(known[k])
    return Worst(amps, amps, points.settings[k].label) if amps >= 0.0 else None


def _beside(loaded: Loaded, capacitor: Placed) -> Iterator[Any]:
    """Ripple from every converter and charger whose chopped side stands on the capacitor, in every setting. [A]"""
    points, plus = loaded.context.nominal, capacitor.nodes[0]
    for part in states.of_kind(loaded.context.network, "boost", "buck", "charger"):
        at = dict(zip(part.kind.terminals, part.nodes))
        kind = choice(part, "type") if part.kind.name == "charger" else part.kind.name
        if at.get({"boost": "output", "buck": "input"}.get(kind, "")) != plus:
            continue
        v_in, v_out = (points.raw_v(at[t])[:, 0] - points.raw_v(at["minus"])[:, 0] for t in ("input", "output"))
        given = "charge current [A]" if part.kind.name == "charger" else "output current [A]"
        i_out = np.maximum(points.raw(part.name, given)[:, 0], 0.0)
        yield (boost_ripple if kind == "boost" else buck_ripple)(i_out, v_in, v_out)
