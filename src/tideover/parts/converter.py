"""Converters: boost, buck, buck-boost and linear, averaged over the switching cycle.

All share one control loop and differ in how far they can go (`reach`), what they lose (`loss`) and what they pass
when they do not switch (`bypass`). The loop is a proportional and integral regulator of the stated bandwidth on
the output capacitor; what it asks for is held between zero and the reach. Input power is output power plus
loss, so on its source the converter is a constant-power load: the lower the input, the more it draws, until its
current limit lets the output fall or the lockout ends it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from tideover.laws.smooth import between, larger, positive, smaller
from tideover.parts.base import Arc, Flow, Kind, Machine, Parameter, State, warmth

LIVE = ("starting", "running", "idling")
AWAKE = 1.2
"""Below this input nothing switches, whatever the lockout. [V]"""
FLOOR = 0.5
"""An output below this counts as this where a ratio needs it. [V]"""


@dataclass(frozen=True)
class Topology:
    """How one topology behaves, as functions of (p, v_in, v_out[, i_out]).

    `reach` is the largest output current [A]; `loss` what is lost beyond the quiescent input [W]; `bypass(p, v_in,
    v_out, off)` the current that flows from input to output without switching [A]; `ratio` the input power per output
    power before losses, 1 for a switching converter (the linear one passes its current instead).
    """

    reach: Callable[[Any, Any, Any], Any]
    loss: Callable[[Any, Any, Any, Any], Any]
    bypass: Callable[[Any, Any, Any, Any], Any]


def _boost_share(p: Any, v_in: Any, v_out: Any, i_out: Any) -> Any:
    """Share of the cycle in which the inductor feeds the output, 1 - D, with the drops counted.

    From ``(1-D)(v_out + V_d) = v_in - I_L R_L`` and ``I_L = i_out / (1-D)``, the larger root; where there is none (the
    coil's resistance allows no such output) the root is taken as zero and the current limit decides.
    """
    top = np.maximum(v_out, FLOOR) + p.diode_drop
    v_in = np.maximum(v_in, 0.0)  # an input pulled below the return feeds nothing, but the share must stay above zero
    root = np.sqrt(np.maximum(v_in * v_in - 4.0 * top * i_out * p.coil_resistance, 1e-3))
    return smaller((v_in + root) / (2.0 * top), 1.0, 0.01)


def _boost_reach(p: Any, v_in: Any, v_out: Any) -> Any:
    """The switch's peak current less half the ripple, for the share of the cycle it reaches the output.

    The share is that at the limit, ``(v_in - I R_L) / (v_out + V_d)``; within 0.02 of what the largest duty leaves,
    the reach falls to nothing.
    """
    top = np.maximum(v_out, FLOOR) + p.diode_drop
    share = smaller((v_in - p.current_limit * p.coil_resistance) / top, 1.0, 0.01)
    ripple = v_in * (1.0 - share) / (p.inductance * p.switching_frequency)
    enough = between((share - (1.0 - p.largest_duty)) / 0.02, 0.0, 1.0, 0.1)
    return np.maximum(p.current_limit - 0.5 * ripple, 0.0) * share * enough


def _boost_loss(p: Any, v_in: Any, v_out: Any, i_out: Any) -> Any:
    share = _boost_share(p, v_in, v_out, i_out)
    i_coil = i_out / share
    ohms = p.coil_resistance + (1.0 - share) * p.switch_resistance + share * p.rectifier_resistance
    swing = v_out + p.diode_drop
    return i_coil * (i_coil * ohms + share * p.diode_drop + p.switching_time * p.switching_frequency * swing)


def _boost_bypass(p: Any, v_in: Any, v_out: Any, off: Any) -> Any:
    """Input minus a diode reaches the output whenever it is higher, unless the module truly disconnects."""
    passes = 1.0 - off * p.disconnects
    return (
        passes
        * positive(v_in - v_out - p.pass_drop, 0.02)
        / (p.coil_resistance + p.rectifier_resistance + 0.02)
    )


def _buck_reach(p: Any, v_in: Any, v_out: Any) -> Any:
    headroom = (v_in * p.largest_duty - v_out) / (p.coil_resistance + p.switch_resistance)
    return positive(smaller(p.current_limit, headroom, 0.05), 0.01)


def _buck_loss(p: Any, v_in: Any, v_out: Any, i_out: Any) -> Any:
    duty = np.minimum(np.maximum(v_out, 0.0) / np.maximum(v_in, AWAKE), 1.0)
    ohms = p.coil_resistance + duty * p.switch_resistance + (1.0 - duty) * p.rectifier_resistance
    switching = p.switching_time * p.switching_frequency * v_in
    return i_out * (i_out * ohms + (1.0 - duty) * p.diode_drop + switching)


def _buck_bypass(p: Any, v_in: Any, v_out: Any, off: Any) -> Any:
    """A live output pushes back into a dead input through the upper switch's body diode."""
    return -positive(v_out - v_in - p.pass_drop, 0.02) / (p.coil_resistance + 0.03)


def _both_reach(p: Any, v_in: Any, v_out: Any) -> Any:
    """The coil current is limited; above the input it feeds the output only v_in / v_out of the time."""
    return 0.95 * p.current_limit * smaller(v_in / np.maximum(v_out, FLOOR), 1.0, 0.02)


def _both_loss(p: Any, v_in: Any, v_out: Any, i_out: Any) -> Any:
    i_coil = i_out * larger(v_out / np.maximum(v_in, AWAKE), 1.0, 0.02)
    ohms = p.coil_resistance + 2.0 * p.switch_resistance
    swing = np.maximum(v_in, v_out)
    return i_coil * (i_coil * ohms + p.switching_time * p.switching_frequency * swing)


def _nothing(p: Any, v_in: Any, v_out: Any, off: Any) -> Any:
    return 0.0 * v_in


def _linear_reach(p: Any, v_in: Any, v_out: Any) -> Any:
    headroom = (v_in - v_out - p.dropout) / p.dropout_resistance
    return positive(smaller(p.current_limit, headroom, 0.05), 0.01)


def _linear_loss(p: Any, v_in: Any, v_out: Any, i_out: Any) -> Any:
    return (v_in - v_out) * i_out


BOOST_WAY = Topology(_boost_reach, _boost_loss, _boost_bypass)
BUCK_WAY = Topology(_buck_reach, _buck_loss, _buck_bypass)
BOTH_WAY = Topology(_both_reach, _both_loss, _nothing)
LINEAR_WAY = Topology(_linear_reach, _linear_loss, _nothing)


def _command(q: Any, way: Topology) -> tuple[Any, Any]:
    """What the regulator asks for, and the part of it that it gets. [A]"""
    p, x = q.p, q.x
    gain = 2.0 * np.pi * p.bandwidth * p.output_capacitance
    asked = x.integral + gain * (p.set_voltage * x.ramp - x.output)
    awake = q.among("supply", *LIVE) * np.minimum(np.maximum(2.0 * (x.input - AWAKE), 0.0), 1.0)
    given = awake * between(asked, 0.0, way.reach(p, x.input, x.output), 0.003 * p.current_limit)
    return asked, given


def _equations(way: Topology) -> Callable[[Any], Flow]:
    def equations(q: Any) -> Flow:
        p, x = q.p, q.x
        live = q.among("supply", *LIVE)
        i_in = (q.v.input - q.v.minus - x.input) / p.input_resistance
        i_out = (q.v.output - q.v.minus - x.output) / p.output_resistance
        asked, given = _command(q, way)
        passed = way.bypass(p, x.input, x.output, 1.0 - live)
        idle = (p.off_current + live * (p.quiescent - p.off_current)) * np.minimum(np.maximum(x.input, 0.0), 1.0)
        loss = p.loss_factor * way.loss(p, x.input, x.output, given)
        drawn = idle + (x.output * given + loss) / np.maximum(x.input, AWAKE) + passed
        back = x.output * p.reverse_drain / p.set_voltage
        fast = 2.0 * np.pi * p.bandwidth
        gain = fast * p.output_capacitance
        error = p.set_voltage * x.ramp - x.output
        return Flow(
            {"input": i_in, "output": i_out, "minus": -i_in - i_out},
            {
                "input": (i_in - drawn) / p.input_capacitance,
                "output": (given + passed + i_out - back) / p.output_capacitance,
                "integral": live * fast * (0.25 * gain * error + given - asked),
                "ramp": q.among("supply", "starting") / p.soft_start,
            },
            heat=i_in * i_in * p.input_resistance
            + i_out * i_out * p.output_resistance
            + x.input * idle
            + loss
            + passed * (x.input - x.output)
            + back * x.output,
            store=0.5 * p.input_capacitance * x.input * x.input
            + 0.5 * p.output_capacitance * x.output * x.output,
            shown={
                "output current [A]": -i_out,
                "input current [A]": i_in,
                "loss [W]": loss + x.input * idle,
                "reach [A]": way.reach(p, x.input, x.output),
                "passed [A]": passed,
            },
        )

    return equations


def _machine(way: Topology) -> Machine:
    def starved(q: Any) -> Any:
        return q.p.lockout_off - q.x.input

    def light(q: Any) -> Any:
        return q.p.light_load_cutoff - _command(q, way)[1]

    return Machine(
        "supply",
        ("running", "locked out", "starting", "idling", "cut off"),
        (
            Arc("running", "locked out", when=starved),
            Arc("starting", "locked out", when=starved),
            Arc("idling", "locked out", when=starved),
            Arc("cut off", "locked out", when=starved),
            Arc("locked out", "starting", when=lambda q: q.x.input - q.p.lockout_on),
            Arc("starting", "running", when=lambda q: q.x.ramp - 1.0, settles=True),
            Arc("running", "idling", when=light),
            Arc("idling", "running", when=lambda q: 1e-6 - light(q)),
            Arc("idling", "cut off", after=lambda q: q.p.cutoff_delay, about="takes the load for gone"),
        ),
        "undervoltage lockout with hysteresis, soft start, light-load cut-off",
        entry=(
            ("running", "ramp", 1.0),
            *((s, x, 0.0) for s in ("locked out", "cut off") for x in ("ramp", "integral")),
        ),
    )


_COMMON = (
    Parameter("set voltage", "V", 0.5, 60.0, None, "regulated output"),
    Parameter(
        "current limit", "A", 0.01, 100.0, None, "of the coil (boost: the switch's peak; linear: the output)"
    ),
    Parameter("quiescent", "A", 0.0, 1.0, 1e-3, "input current at no load"),
    Parameter("off current", "A", 0.0, 1.0, 1e-5, "input current while locked out"),
    Parameter("lockout off", "V", 0.0, 60.0, 0.0, "input below which it stops"),
    Parameter("lockout on", "V", 0.0, 60.0, 0.0, "input above which it starts again"),
    Parameter("soft start", "s", 1e-5, 5.0, 0.003, "rise of its reference"),
    Parameter("bandwidth", "Hz", 10.0, 1e6, 5e3, "of the output regulation"),
    Parameter("output capacitance", "F", 1e-7, 0.1, 44e-6, "inside, at the output"),
    Parameter("output resistance", "ohm", 1e-4, 1.0, 0.005, "between that capacitance and the terminal"),
    Parameter("input capacitance", "F", 1e-7, 0.1, 47e-6, "inside, at the input"),
    Parameter("input resistance", "ohm", 1e-4, 1.0, 0.01, "between the terminal and that capacitance"),
    Parameter("reverse drain", "A", 0.0, 1.0, 1e-4, "into a dead module's output, at its set voltage"),
    Parameter("loss factor", "", 0.1, 10.0, 1.0, "measured loss over modelled loss"),
    Parameter(
        "light-load cutoff", "A", 0.0, 1.0, 0.0, "output current below which it switches itself off; 0 never"
    ),
    Parameter("cutoff delay", "s", 0.01, 3600.0, 30.0, "before it does"),
    Parameter("output rating", "A", 0.01, 100.0, 100.0, "continuous output; 100 A means not stated"),
    Parameter("lowest input", "V", 0.0, 100.0, 0.0, "stated by its maker"),
    Parameter("highest input", "V", 0.5, 100.0, 60.0, "stated by its maker"),
    Parameter("largest junction temperature", "K", 300.0, 500.0, 398.15, "rating"),
)
_SWITCHING = (
    Parameter("coil resistance", "ohm", 1e-4, 10.0, 0.03, "of the inductor"),
    Parameter("switch resistance", "ohm", 0.0, 10.0, 0.05, "of one switch, on"),
    Parameter("switching frequency", "Hz", 1e3, 1e7, 4e5, "of the switches"),
    Parameter(
        "switching time", "s", 0.0, 1e-5, 3e-8, "effective crossover time that gives the switching loss"
    ),
)
_RECTIFIED = (
    Parameter("rectifier resistance", "ohm", 0.0, 10.0, 0.0, "of a synchronous rectifier"),
    Parameter("diode drop", "V", 0.0, 1.5, 0.45, "of the rectifier diode; 0 with a synchronous one"),
    Parameter("largest duty", "", 0.3, 1.0, 0.9, "largest share of the cycle the switch is on"),
    Parameter("pass drop", "V", 0.0, 1.5, 0.45, "of the diode that conducts when it does not switch"),
)
_STATES = (
    State("input", "V", 1.0, "on the input capacitor", guess="supply"),
    State("output", "V", 1.0, "on the output capacitor", guess="set voltage"),
    State("integral", "A", 10.0, "integral part of the regulator"),
    State("ramp", "", 0.1, "soft start: share of the set voltage", loose=True, start=1.0),
)


def _kind(name: str, about: str, way: Topology, extra: tuple[Parameter, ...]) -> Kind:
    return Kind(
        name,
        about,
        ("input", "output", "minus"),
        ("input", "output"),
        (*_COMMON, *extra, *warmth(50.0, 10.0)),
        _equations(way),
        states=_STATES,
        machines=(_machine(way),),
        symbol="converter",
    )


BOOST = _kind(
    "boost",
    "raises the voltage; off, or fed above its set voltage, it passes the input less a diode",
    BOOST_WAY,
    (
        *_SWITCHING,
        *_RECTIFIED,
        Parameter("inductance", "H", 1e-8, 1.0, 1e-5, "of the coil"),
        Parameter("disconnects", "", 0, 1, 0, "1 when it truly disconnects its load while off"),
    ),
)
BUCK = _kind("buck", "lowers the voltage", BUCK_WAY, (*_SWITCHING, *_RECTIFIED))
BUCK_BOOST = _kind(
    "buck-boost", "four switches: raises or lowers, disconnects when off", BOTH_WAY, _SWITCHING
)
LINEAR = _kind(
    "linear regulator",
    "lowers the voltage by burning the difference",
    LINEAR_WAY,
    (
        Parameter("dropout", "V", 0.0, 5.0, 0.3, "least voltage across it at no current"),
        Parameter("dropout resistance", "ohm", 1e-3, 10.0, 0.3, "rise of the dropout with current"),
    ),
)
