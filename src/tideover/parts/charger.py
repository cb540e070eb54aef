"""Charger: constant current, then constant voltage, with precharge, termination and restart.

What it gives is the smallest of what its phase allows, what its output regulation asks for and what its input, its
dropout and its temperature leave. It stands on a small output capacitor of its own, which keeps its output defined
when a protection board takes the pack away. A load on its output is seen by its termination logic, as in life: if the
load draws more than the termination current, charging never ends.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from tideover.laws.smooth import between, larger, positive, smaller
from tideover.parts.base import Arc, Flow, Kind, Machine, Parameter, State, absent, warmth, word

TYPES = ("linear", "buck", "boost")
LAG = 5e-4
"""Time constant with which the output current follows its command. [s]"""
OUTPUT_RESISTANCE = 0.01
"""Between the output capacitor and the terminal. [ohm]"""
AWAKE = 1.2
"""Below this input no current flows. [V]"""


def _headroom(q: Any) -> Any:
    """What dropout leaves, negative where it leaves nothing; a boost charger needs none. [A]"""
    p = q.p
    v_in, v_out = q.v.input - q.v.minus, q.x.output
    free = q.chosen("type", "boost")
    return free * 100.0 + (1.0 - free) * (v_in - v_out - p.dropout) / p.pass_resistance


def _applied(q: Any) -> Any:
    """The current that flows. The spare 0.01 A keeps no current at exactly nothing where there is no headroom."""
    v_in = q.v.input - q.v.minus
    most = positive(_headroom(q), 0.02) + 0.01
    return smaller(q.x.current, most, 0.01) * between((v_in - AWAKE) / 0.5, 0.0, 1.0, 0.1)


def _command(q: Any) -> Any:
    """The current asked of the output: the smallest of all limits, none below zero. [A]"""
    p = q.p
    v_in, v_out = q.v.input - q.v.minus, q.x.output
    full = q.among("phase", "full")
    phase = (
        q.among("phase", "precharge") * p.precharge_fraction * p.charge_current
        + q.among("phase", "charging", "tapering") * p.charge_current
        + full * between(p.float_voltage, 0.0, 1.0, 0.1) * p.charge_current
    )
    target = p.hold_voltage + full * (p.float_voltage - p.hold_voltage)
    w = 0.03 * p.charge_current
    stiff = 300.0 * p.charge_current / p.hold_voltage
    cap = smaller(phase, stiff * (target - v_out), w)
    linear = q.chosen("type", "linear")
    if not absent(p.input_current_limit):
        switched = p.efficiency * v_in / larger(v_out, 1.0, 0.1)
        unlimited = np.equal(p.input_current_limit, 0.0) * 1000.0
        cap = smaller(cap, unlimited + p.input_current_limit * (linear + (1.0 - linear) * switched), w)
    if not absent(p.input_voltage_limit):
        unlimited = np.equal(p.input_voltage_limit, 0.0) * 1000.0
        cap = smaller(cap, (unlimited + v_in - p.input_voltage_limit) / 0.2 * p.charge_current, w)
    if not absent(linear):
        cool = (p.foldback_temperature - q.temp) / 5.0 * p.charge_current
        cap = smaller(cap, linear * cool + (1.0 - linear) * 2.0 * p.charge_current, w)
    on = q.among("phase", "precharge", "charging", "tapering", "full")
    return on * positive(smaller(cap, _headroom(q), w), w)


def equations(q: Any) -> Flow:
    p = q.p
    v_in, v_out = q.v.input - q.v.minus, q.x.output
    linear = q.chosen("type", "linear")
    given = q.link(_applied(q))
    quiescent = p.quiescent * np.minimum(np.maximum(v_in, 0.0), 1.0)
    drain = v_out * p.reverse_drain / p.hold_voltage
    loss = (1.0 - linear) * v_out * given * (1.0 / p.efficiency - 1.0) + linear * (v_in - v_out) * given
    drawn = (
        quiescent + linear * given + (1.0 - linear) * v_out * given / p.efficiency / larger(v_in, 1.0, 0.05)
    )
    i_out = (q.v.output - q.v.minus - v_out) / OUTPUT_RESISTANCE
    return Flow(
        {"input": drawn, "output": i_out, "minus": -drawn - i_out},
        {
            "output": (given - drain + i_out) / p.output_capacitance,
            "current": (_command(q) - q.x.current) / LAG,
        },
        heat=loss + v_in * quiescent + v_out * drain + i_out * i_out * OUTPUT_RESISTANCE,
        store=0.5 * p.output_capacitance * v_out * v_out,
        shown={"charge current [A]": given, "input current [A]": drawn},
    )


def _good(q: Any) -> Any:
    """Input above its lockout and, but for a boost charger, above the pack; and a pack seen, where it needs one."""
    p = q.p
    v_in, v_out = q.v.input - q.v.minus, q.x.output
    present = smaller(v_in - p.lockout_on, v_in - v_out - 0.1 + 100.0 * q.chosen("type", "boost"), 1e-3)
    if absent(p.starts_above):
        return present
    return smaller(present, v_out - p.starts_above + 100.0 * np.equal(p.starts_above, 0.0), 1e-3)


def _bad(q: Any) -> Any:
    p = q.p
    v_in, v_out = q.v.input - q.v.minus, q.x.output
    return larger(p.lockout_off - v_in, v_out + 0.02 - v_in - 100.0 * q.chosen("type", "boost"), 1e-3)


def _tapers(q: Any) -> Any:
    """Current below the termination threshold while the output stands at its hold voltage.

    A threshold of 0 is never reached, not even where rounding takes a current of nothing below it.
    """
    p = q.p
    low = p.termination_fraction - q.x.current / p.charge_current - np.equal(p.termination_fraction, 0.0) * 1.0
    return smaller(low, q.x.output / p.hold_voltage - 0.985, 1e-3)


PHASE = Machine(
    "phase",
    ("charging", "off", "precharge", "tapering", "full"),
    (
        *(Arc(s, "off", when=_bad) for s in ("charging", "precharge", "tapering", "full")),
        Arc("off", "precharge", when=_good),
        Arc("precharge", "charging", when=lambda q: q.x.output - q.p.precharge_below),
        Arc("charging", "tapering", when=_tapers),
        Arc("tapering", "charging", when=lambda q: -0.02 - _tapers(q)),
        Arc("tapering", "full", after=lambda q: q.p.termination_delay),
        Arc("full", "charging", when=lambda q: q.p.restart_voltage - q.x.output),
    ),
)

CHARGER = Kind(
    "charger",
    "constant current, constant voltage charger",
    ("input", "output", "minus"),
    ("input", "output"),
    (
        word(
            "type",
            TYPES,
            "buck",
            "linear burns the difference; buck lowers; boost raises",
            "typical, unverified",
        ),
        Parameter("series", "", 0, 16, 0, "cells in series it is made for; 0 means adjustable"),
        Parameter("hold voltage", "V", 1.0, 60.0, None, "constant-voltage setting"),
        Parameter("charge current", "A", 1e-3, 50.0, None, "constant-current setting"),
        Parameter("float voltage", "V", 0.0, 60.0, 0.0, "held after termination; 0 means that it stops"),
        Parameter("precharge below", "V", 0.0, 60.0, 0.0, "pack voltage under which it only trickles"),
        Parameter("starts above", "V", 0.0, 60.0, 0.0, "at its output; 0 means that it wakes a pack at 0 V"),
        Parameter("precharge fraction", "", 0.0, 1.0, 0.1, "trickle over charge current"),
        Parameter(
            "termination fraction", "", 0.0, 0.9, 0.1, "of the charge current; 0 means that it never ends"
        ),
        Parameter("termination delay", "s", 1e-3, 3600.0, 1.0, "below that current before it ends"),
        Parameter("restart voltage", "V", 0.0, 60.0, 0.0, "pack voltage at which it charges again; 0 never"),
        Parameter("dropout", "V", 0.0, 5.0, 0.1, "least input over output at no current"),
        Parameter("pass resistance", "ohm", 1e-3, 10.0, 0.4, "of its pass path"),
        Parameter("efficiency", "", 0.3, 1.0, 0.9, "of a switching charger"),
        Parameter("input current limit", "A", 0.0, 100.0, 0.0, "of a switching charger; 0 means none"),
        Parameter(
            "input voltage limit", "V", 0.0, 60.0, 0.0, "it draws less rather than pull its input below this"
        ),
        Parameter("foldback temperature", "K", 300.0, 500.0, 393.15, "it gives less rather than get hotter"),
        Parameter("quiescent", "A", 0.0, 1.0, 1e-3, "input current at no output"),
        Parameter("reverse drain", "A", 0.0, 1.0, 1e-5, "from the pack, at the hold voltage"),
        Parameter("output capacitance", "F", 1e-7, 0.1, 22e-6, "inside, at the output"),
        Parameter("lockout off", "V", 0.0, 60.0, 3.0, "input below which it stops"),
        Parameter("lockout on", "V", 0.0, 60.0, 3.3, "input above which it starts"),
        Parameter("highest input", "V", 1.0, 100.0, 60.0, "rating"),
        Parameter("largest junction temperature", "K", 300.0, 500.0, 398.15, "rating"),
        *warmth(50.0, 5.0),
    ),
    equations,
    states=(
        State("output", "V", 1.0, "on the output capacitor", guess="hold voltage"),
        State("current", "A", 5.0, "given to the output capacitor"),
    ),
    machines=(PHASE,),
    symbol="charger",
    heat_steers=("type", "linear"),
)
