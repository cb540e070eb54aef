"""Which adapter on the shelf fits: each of the same voltage, tried in the real network."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tideover.answers import states
from tideover.answers.base import Table
from tideover.answers.context import REACHED, Context, Setting, known
from tideover.answers.limits import RATED_TIGHT
from tideover.cases import Batch
from tideover.cases.batch import Array, Key
from tideover.quantity import parse, show
from tideover.shelf import items

OUT = "current out [A]"
SAME_VOLTAGE = 0.03
"""Adapters whose voltages differ by less are offered for one another."""


def mains_settings(context: Context) -> list[Setting]:
    """Mains states at mean and peak load, charging first."""
    return [Setting(s, level) for s in context.states if s.on_mains for level in states.levels(context.network)]


def fitting(context: Context) -> tuple[Table | None, Callable[[float], str]]:
    """Adapters of the same voltage, each in the real network; and what to take, in words.

    The words are a function of the largest current that the finding they mend has seen [A], 0 for none.
    """
    adapter = context.adapters[0]
    volts = float(context.nominal.value((adapter.name, "voltage"))[0, 0])
    alike = []
    for item in items():
        if item.kind == "adapter" and {"voltage", "rated_current", "current_limit"} <= set(item.values):
            own = parse(item.values["voltage"], "V")
            if abs(own.nominal / volts - 1.0) <= SAME_VOLTAGE:
                alike.append((parse(item.values["rated_current"], "A").nominal, item))
    alike.sort(key=lambda pair: pair[0])
    mains = mains_settings(context)
    if not alike or not mains:
        return None, lambda seen: _needed(context, volts, seen)
    keys = {"voltage": "V", "rated_current": "A", "output_resistance": "ohm", "current_limit": "A"}
    values: dict[Key, Array] = {}
    for key, unit in keys.items():
        here = float(context.nominal.value((adapter.name, key))[0, 0])
        values[adapter.name, key] = np.array(
            [parse(i.values[key], unit).nominal if key in i.values else here for _, i in alike]
        )
    settings = [s for s in mains if s.standing.name == mains[0].standing.name]
    points = context.points(Batch(tuple(i.name for _, i in alike), values, len(alike)), settings, True)
    with np.errstate(invalid="ignore"):
        amps = points.raw(adapter.name, OUT)
        lowest = np.array([parse(i.values["current_limit"], "A").low for _, i in alike])
        fits = (amps[0] <= RATED_TIGHT.value * values[adapter.name, "rated_current"]) & (
            points.raw(adapter.name, "regulator current [A]")[-1] <= REACHED * lowest
        )
        fits &= points.found.all(axis=0)
    rows = tuple(
        (item.name, rated, float(lowest[n]), known(amps[0, n]), known(amps[-1, n]), "yes" if fits[n] else "no")
        for n, (rated, item) in enumerate(alike)
    )
    heads = (
        ("adapter", ""), ("rated", "A"), ("gives up from", "A"), ("asked at mean", "A"), ("asked at peak", "A"),
        ("fits", ""),
    )  # fmt: skip
    table = Table(f"Adapters of this voltage on the shelf: {settings[0].standing.name}", heads, rows)
    fit = [(item.name, rated) for n, (rated, item) in enumerate(alike) if fits[n]]

    def told(seen: float) -> str:
        first = next((name for name, rated in fit if rated >= seen), "")
        return f"The smallest on the shelf that fits is: {first}." if first else _needed(context, volts, seen)

    return table, told


def _needed(context: Context, volts: float, seen: float) -> str:
    """The label it takes: nine tenths of it at the mean as drawn, and all of it at the most that was seen."""
    mains = mains_settings(context)
    asked = [context.nominal.raw(context.adapters[0].name, OUT)[context.row(s), 0] for s in mains[:1]]
    if not asked or np.isnan(asked[0]):
        return ""
    least = max(asked[0] / RATED_TIGHT.value, seen)
    return f"It takes {show(volts, 'V')} and at least {show(least, 'A', 2)} on the label."
