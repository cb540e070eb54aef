"""Random points at which a kind of part is examined: parameters near those on the shelf, anything else it may meet."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np

from tideover.laws.cells import KNOTS, Curve
from tideover.parts import Kind, Parameter
from tideover.parts.base import PLACES, STANDS
from tideover.quantity import parse
from tideover.shelf import items
from tideover.solve.look import ROOM, Look

WHOLE = {"series": 6, "parallel": 6, "contacts": 5, "cores": 3, "disconnects": 2, "cells per unit": 7}
"""Parameters that are whole numbers, and one above the largest to be drawn."""
OFTEN_ZERO = {
    "float voltage": 13.6,
    "restart voltage": 12.2,
    "precharge below": 9.0,
    "starts above": 5.0,
    "light-load cutoff": 0.05,
    "lockout off": 6.0,
    "lockout on": 7.0,
    "input voltage limit": 4.6,
    "contact resistance": 0.01,
    "peak power": 15.0,
    "resets below": 7.5,
    "restarts above": 8.5,
    "rectifier resistance": 0.02,
    "vent area": 1e-3,
    "hysteresis": 0.02,
    "leakage": 1e-4,
}
"""A usual size of parameters whose default, 0, switches something off; half of the draws switch it on."""


class Rows:
    """An open-circuit curve whose rows are the chemistries; the solver's arrays have the parts first.

    How the resistances of measured cells follow charge is invented here, and alike in all rows.
    """

    def __init__(self, names: tuple[str, ...], curve: Curve | None = None) -> None:
        self.curve = Curve.of(names) if curve is None else curve
        if curve is None:
            shapes = 1.0 + 2.0 * np.exp(-np.array(KNOTS) / 0.1), 1.0 + 4.0 * np.exp(-np.array(KNOTS) / 0.2)
            self.ohmic, self.lag = (Rows(names, Curve.through(KNOTS, np.tile(s, (len(names), 1)))) for s in shapes)

    def value(self, s: Any) -> Any:
        return self.curve.value(s.T).T

    def slope(self, s: Any) -> Any:
        return self.curve.slope(s.T).T

    def integral(self, s: Any) -> Any:
        return self.curve.integral(s.T).T


@dataclass(frozen=True)
class Points:
    """Many points of one kind; every array has the shape (parts, points)."""

    kind: Kind
    v: dict[str, Any]
    x: dict[str, Any]
    p: dict[str, Any]
    s: dict[str, Any]
    m: dict[str, Any]
    temp: Any
    air: Any
    curve: Any

    def look(self, grounded: frozenset[str] = frozenset()) -> Look:
        """What the kind's equations are shown; terminals in `grounded` stand at 0 V."""
        v = {t: 0.0 * u if t in grounded else u for t, u in self.v.items()}
        return Look(self.kind, v, self.x, self.p, self.s, self.m, self.temp, self.air, self.curve)

    def moved(self, name: str, by: Any) -> Points:
        """With one input moved: ``v:plus``, ``x:charge``, ``temp`` or ``air``."""
        if name in ("temp", "air"):
            return replace(self, **{name: getattr(self, name) + by})
        which, key = name.split(":")
        values = getattr(self, which)
        return replace(self, **{which: {**values, key: values[key] + by}})

    def arguments(self, grounded: frozenset[str] = frozenset()) -> list[Any]:
        """For a written function: voltages, air, states, discrete states, signals."""
        volts = [self.v[t] for t in self.kind.terminals if t != "air" and t not in grounded]
        warm = [self.temp] * self.kind.warm
        return [*volts, self.air, *self.x.values(), *warm, *self.m.values(), *self.s.values()]

    def inputs(self, grounded: frozenset[str] = frozenset()) -> list[str]:
        """Names that `moved` knows of what the currents and rates may depend on."""
        volts = [f"v:{t}" for t in self.kind.terminals if t != "air" and t not in grounded]
        return [*volts, "air", *(f"x:{s}" for s in self.x), *["temp"] * self.kind.warm]


@cache
def _shelf(kind: str) -> tuple[dict[str, float], ...]:
    """Values of every shelf item of a kind, in SI."""
    return tuple(item.values for item in items() if item.kind == ("cell" if kind == "pack" else kind))


def _given(p: Parameter, values: dict[str, Any], rng: np.random.Generator) -> float:
    """One value of one parameter, before it is perturbed."""
    text = values.get(p.name)
    if text is not None:
        return float(p.choices.index(text)) if p.unit == "word" else parse(text, p.unit).nominal
    if p.unit == "word":
        return float(rng.integers(len(p.choices)))
    if p.key in WHOLE:
        return float(rng.integers(max(p.low, 1 if p.low else 0), WHOLE[p.key]))
    if p.key in OFTEN_ZERO and not p.default:
        return OFTEN_ZERO[p.key] if rng.random() < 0.5 else 0.0
    if p.default is not None:
        return float(p.default)
    low = max(p.low, 1e-3 * p.high)
    return float(np.exp(rng.uniform(np.log(low), np.log(p.high))))


def _parameters(kind: Kind, rows: int, count: int, rng: np.random.Generator) -> dict[str, Any]:
    shelf = _shelf(kind.name)
    out = {p.name: np.empty((rows, count)) for p in kind.parameters}
    for r in range(rows):
        for k in range(count):
            values = shelf[rng.integers(len(shelf))] if shelf else {}
            for p in (p for p in kind.parameters if p.key != STANDS):
                value = _given(p, values, rng)
                if p.unit != "word" and p.key not in WHOLE:
                    value = float(np.clip(value * np.exp(0.2 * rng.standard_normal()), p.low, p.high))
                out[p.name][r, k] = value
    if kind.name == "pack":
        out["chemistry"] = np.broadcast_to(np.arange(float(rows))[:, None], (rows, count)).copy()
    return out


def draw(kind: Kind, count: int, seed: int) -> Points:
    """Points of a kind; a pack has one row for each chemistry, any other kind one row."""
    rng = np.random.default_rng(seed)
    names = next((p.choices for p in kind.parameters if p.key == "chemistry"), ())
    rows = max(len(names), 1)
    shape = (rows, count)
    p = _parameters(kind, rows, count, rng)
    size = _voltage(kind, p) * np.ones(shape)
    common = rng.uniform(-0.5, 0.5, shape) * size
    spread = size * np.exp(rng.uniform(np.log(1e-4), np.log(1.5), shape))
    v = {t: common + spread * rng.standard_normal(shape) for t in kind.terminals if t != "air"}
    far = rng.random(shape) < 0.4
    for t in v:
        v[t] = np.where(far, rng.uniform(-0.3, 1.5, shape) * size, v[t])
    x = {s.name: _state(s, size, shape, rng) for s in kind.states}
    m = {mm.name: rng.integers(len(mm.states), size=shape) for mm in kind.machines}
    s = {name: rng.integers(2, size=shape) * rng.uniform(0.5, 2.0, shape) for name in kind.signals}
    if "mains" in s or "closed" in s:
        s = {name: 1.0 * (value > 0.0) for name, value in s.items()}
    air = rng.uniform(253.15, 333.15, shape)
    if kind.apart:
        p[STANDS] = 1.0 * rng.integers(len(PLACES), size=shape)
        p[ROOM] = rng.uniform(253.15, 333.15, shape)
    temp = air + rng.exponential(15.0, shape)
    return Points(kind, v, x, p, s, m, temp, air, Rows(names) if names else None)


def _voltage(kind: Kind, p: dict[str, Any]) -> Any:
    """The voltage at which a part of these parameters works. [V]"""
    if kind.name == "pack":
        return p["series"] * p["nominal_voltage"]
    for name in ("voltage", "hold_voltage", "set_voltage", "nominal_voltage", "coil_voltage", "cut_off"):
        if name in p:
            return p[name]
    return 12.0


def _state(state: Any, size: Any, shape: tuple[int, int], rng: np.random.Generator) -> Any:
    if state.unit == "K":
        return rng.uniform(263.15, 333.15, shape)
    if state.unit == "V" and state.scale >= 1.0:
        return rng.uniform(0.0, 1.3, shape) * size
    if state.name in ("charge", "weak_charge"):
        return rng.uniform(-0.02, 1.02, shape)
    if state.name in ("melting", "reference", "ramp"):
        return rng.uniform(0.0, 1.1, shape)
    return 3.0 * state.scale * rng.standard_normal(shape)
