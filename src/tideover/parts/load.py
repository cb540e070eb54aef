"""Load: constant power, current or resistance behind an input capacitor; it resets, restarts and reboots.

The signal `demand` multiplies the stated power: 1 is the mean, peak over mean the peak. Below a knee of 30 %
of its nominal voltage a constant-power load is taken as a resistance, so that a collapsed supply has a point
to rest at; such a point is reported as a collapse, never as an operating point.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from tideover.laws.smooth import between, larger, smaller
from tideover.parts.base import Arc, Flow, Kind, Machine, Parameter, State, stands, warmth, word

LAWS = ("power", "current", "resistance")
KNEE = 0.3


def _drawn(q: Any) -> Any:
    p, v = q.p, q.x.input
    nominal = p.nominal_voltage
    knee = KNEE * nominal
    floor = larger(v, knee, 0.05 * knee)
    power = p.power * v / (floor * floor)
    current = p.power / nominal * between(v / (0.1 * nominal), 0.0, 1.0, 0.1)
    ohmic = v * p.power / (nominal * nominal)
    return (
        q.s.demand
        * q.among("work", "working", "booting")
        * (
            q.chosen("law", "power") * power
            + q.chosen("law", "current") * current
            + q.chosen("law", "resistance") * ohmic
        )
    )


def equations(q: Any) -> Flow:
    p, x = q.p, q.x
    u = q.v.plus - q.v.minus
    i = (u - x.input) / p.input_resistance
    drawn = _drawn(q)
    return Flow(
        {"plus": i, "minus": -i},
        {"input": (i - drawn) / p.capacitance},
        heat=i * i * p.input_resistance,
        delivered=x.input * drawn,
        store=0.5 * p.capacitance * x.input * x.input,
        shown={"drawn [A]": drawn},
        collapsed=q.chosen("law", "power")
        * q.among("work", "working", "booting")
        * smaller(KNEE * p.nominal_voltage - x.input, x.input - 0.01 * p.nominal_voltage, 1e-6),
    )


def _resets(q: Any) -> Any:
    """A load without a stated reset voltage never resets, not even where rounding takes its input below 0 V."""
    return q.p.resets_below - q.x.input - np.equal(q.p.resets_below, 0.0) * 1.0


WORK = Machine(
    "work",
    ("working", "reset", "booting"),
    (
        Arc("working", "reset", when=_resets),
        Arc("booting", "reset", when=_resets),
        Arc("reset", "booting", when=lambda q: q.x.input - q.p.restarts_above),
        Arc("booting", "working", after=lambda q: q.p.reboots_in),
    ),
)

LOAD = Kind(
    "load",
    "what is to be kept alive",
    ("plus", "minus"),
    ("plus", "minus"),
    (
        Parameter("power", "W", 0.0, 2000.0, None, "mean, at the nominal voltage"),
        Parameter("nominal voltage", "V", 1.0, 60.0, None, "at which the power is stated"),
        word("law", LAWS, "power", "how the current follows the voltage"),
        Parameter("peak power", "W", 0.0, 5000.0, 0.0, "largest; 0 means the mean"),
        Parameter("peak duration", "s", 0.0, 86400.0, 0.1, "of one peak"),
        Parameter("peak interval", "s", 0.0, 1e6, 10.0, "from peak to peak"),
        Parameter("capacitance", "F", 1e-6, 1.0, 100e-6, "at its input"),
        Parameter("input resistance", "ohm", 1e-3, 10.0, 0.05, "before that capacitance"),
        Parameter("resets below", "V", 0.0, 60.0, 0.0, "its own input; 0 means that it never resets"),
        Parameter("restarts above", "V", 0.0, 60.0, 0.0, "its own input"),
        Parameter("reboots in", "s", 0.0, 3600.0, 30.0, "until it serves again"),
        Parameter("lowest voltage", "V", 0.0, 60.0, 0.0, "it is specified for; 0 means not stated"),
        Parameter("highest voltage", "V", 0.0, 100.0, 0.0, "it is specified for; 0 means not stated"),
        Parameter("forgives", "s", 0.0, 10.0, 0.0, "an interruption of this length"),
        stands(),
        *warmth(10.0, 100.0),
    ),
    equations,
    states=(State("input", "V", 1.0, "on its input capacitor", guess="nominal voltage"),),
    machines=(WORK,),
    signals={"demand": 1.0},
    symbol="load",
)
