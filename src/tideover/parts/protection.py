"""Protection board: two switches in the pack's negative leg, opened by what each group's voltage and current say.

The body diode of an opened switch still conducts the other way: a pack cut off for being empty can be charged, a
pack cut off for being full can be discharged, and the first load closes the switch again. Some thresholds only reset
when a charger pushes current in.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from tideover.laws.smooth import larger, positive, smaller
from tideover.parts.base import Arc, Flow, Kind, Machine, Parameter, warmth, word

REFERENCE = 298.15
OPEN = ("empty", "tripped", "releasing")
BODY = 0.65
"""Drop of an opened switch's body diode. [V]"""
LOADED = 0.4
"""Across the board from which a load is seen while charging is stopped: some ten milliamperes through that diode. [V]
Typical, unverified."""
RELEASES = ("charger", "voltage")


def _across(q: Any) -> Any:
    """Positive while the pack discharges through the board."""
    return q.v.out - q.v.cells


def _groups(q: Any) -> tuple[Any, Any]:
    """Lowest and highest group voltage: the weak group at its tap, the rest sharing what is left."""
    alone = np.equal(q.p.series, 1.0) * 1.0
    weak = q.v["sense tap"] - q.v.cells
    rest = (q.v["sense plus"] - q.v.cells - weak + alone * weak) / (q.p.series - 1.0 + alone)
    rest = rest + alone * (weak - rest)
    return smaller(weak, rest, 1e-3), larger(weak, rest, 1e-3)


def equations(q: Any) -> Flow:
    p = q.p
    u = _across(q)
    ohms = p.on_resistance * (1.0 + p.tempco * (q.temp - REFERENCE))
    no_out = q.among("discharge", *OPEN)
    no_in = q.among("charge", "full")
    both = (1.0 - no_out) * (1.0 - no_in)
    i = (
        both * u / ohms
        - no_out * (1.0 - no_in) * positive(-u - BODY, 0.05) / ohms
        + no_in * (1.0 - no_out) * positive(u - BODY, 0.05) / ohms
        + 1e-9 * u
    )
    whole = q.v["sense plus"] - q.v.cells
    quiescent = p.quiescent * np.minimum(np.maximum(whole, 0.0), 1.0)
    return Flow(
        {"out": i, "cells": -i - quiescent, "sense plus": quiescent, "sense tap": 0.0 * u},
        heat=u * i + whole * quiescent,
        shown={
            "discharge current [A]": i,
            "lowest group [V]": _groups(q)[0],
            "highest group [V]": _groups(q)[1],
        },
    )


def _low(q: Any) -> Any:
    return q.p.cut_off - _groups(q)[0]


def _high(q: Any) -> Any:
    return _groups(q)[1] - q.p.over_charge


def _recovers(q: Any) -> Any:
    """Group back above its release voltage and, on most boards, a charger pushing current in."""
    back = _groups(q)[0] - q.p.cut_off_release
    pushed = -0.05 - _across(q)
    needs = q.chosen("release", "charger")
    return needs * smaller(back, pushed, 1e-3) + (1.0 - needs) * back


def _over(q: Any) -> Any:
    """More across the switches than an ordinary current makes; while charging is stopped, the drop of the charge
    switch's own body diode is none of that."""
    return _across(q) - q.p.sense_voltage - 100.0 * q.among("charge", "full")


def _loaded(q: Any) -> Any:
    """A load draws through the body diode of the charge switch, and no group stands above the threshold any more."""
    return smaller(_across(q) - LOADED, -_high(q), 1e-3)


DISCHARGE = Machine(
    "discharge",
    ("on", "sagging", "empty", "overloaded", "shorted", "tripped", "releasing"),
    (
        Arc("on", "sagging", when=_low),
        Arc("sagging", "on", when=lambda q: -0.005 - _low(q)),
        Arc("sagging", "empty", after=lambda q: q.p.cut_off_delay),
        Arc("empty", "on", when=_recovers),
        Arc("on", "overloaded", when=_over),
        Arc("overloaded", "on", when=lambda q: 0.95 * q.p.sense_voltage - _across(q)),
        Arc("overloaded", "shorted", when=lambda q: _across(q) - q.p.short_voltage),
        Arc("overloaded", "tripped", after=lambda q: q.p.overload_delay),
        Arc("shorted", "overloaded", when=lambda q: 0.95 * q.p.short_voltage - _across(q), about="a rush that decays"),
        Arc("shorted", "tripped", after=lambda q: q.p.short_delay),
        Arc("tripped", "releasing", when=lambda q: 0.2 - _across(q), about="the load is gone"),
        Arc("releasing", "tripped", when=lambda q: _across(q) - 0.25),
        Arc("releasing", "on", after=lambda q: q.p.release_delay),
    ),
)
CHARGE = Machine(
    "charge",
    ("on", "high", "full"),
    (
        Arc("on", "high", when=_high),
        Arc("high", "on", when=lambda q: -0.005 - _high(q)),
        Arc("high", "full", after=lambda q: q.p.over_charge_delay),
        Arc("full", "on", when=lambda q: q.p.over_charge_release - _groups(q)[1]),
        Arc("full", "on", when=_loaded, about="a load draws"),
    ),
)

PROTECTION = Kind(
    "protection board",
    "cuts the pack off in its negative leg",
    ("cells", "out", "sense plus", "sense tap"),
    ("cells", "out"),
    (
        Parameter("series", "", 1, 20, None, "groups it watches"),
        Parameter("on resistance", "ohm", 1e-5, 1.0, None, "of both switches together, at 25 °C"),
        Parameter("tempco", "1/K", 0.0, 0.02, 0.004, "of that resistance"),
        Parameter("cut-off", "V", 0.5, 5.0, None, "group voltage at which discharge stops"),
        Parameter("cut-off delay", "s", 1e-4, 60.0, 0.1, "below it before it acts"),
        Parameter("cut-off release", "V", 0.5, 5.0, None, "group voltage at which discharge may start again"),
        word("release", RELEASES, "charger", "what else that needs", "typical, unverified"),
        Parameter("over-charge", "V", 1.0, 5.0, None, "group voltage at which charging stops"),
        Parameter("over-charge delay", "s", 1e-3, 60.0, 1.0, "above it before it acts"),
        Parameter(
            "over-charge release", "V", 1.0, 5.0, None, "group voltage at which charging may start again"
        ),
        Parameter("sense voltage", "V", 0.01, 1.0, 0.15, "across its switches: overload"),
        Parameter("overload delay", "s", 1e-5, 10.0, 0.01, "above it before it trips"),
        Parameter("short voltage", "V", 0.1, 5.0, 0.6, "across its switches: short circuit"),
        Parameter("short delay", "s", 1e-6, 1.0, 3e-4, "above it before it trips"),
        Parameter("release delay", "s", 1e-5, 10.0, 5e-3, "with the load gone before it closes again"),
        Parameter("quiescent", "A", 0.0, 0.1, 7e-6, "from the pack"),
        Parameter("continuous rating", "A", 0.01, 1000.0, 1000.0, "1000 A means not stated"),
        *warmth(30.0, 5.0),
    ),
    equations,
    machines=(DISCHARGE, CHARGE),
    symbol="board",
    senses="pack",
)
