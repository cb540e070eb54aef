"""Diodes: junction, Schottky and indicator; and the ideal diode, a transistor that a controller lets conduct."""

from __future__ import annotations

from typing import Any

import numpy as np

from tideover.laws.diodes import forward_current, saturation_current
from tideover.laws.smooth import positive
from tideover.parts.base import ALWAYS, Arc, Flow, Kind, Machine, Parameter, held_temp, warmth, word

REFERENCE = 298.15
"""Temperature of data-sheet curves: 25 °C. [K]"""



def equations(q: Any) -> Flow:
    """Shockley law behind a series resistance, solved by the Wright omega function; leakage of its own."""
    p = q.p
    u = q.v.anode - q.v.cathode
    temp = held_temp(q.temp)
    saturation = saturation_current(
        p.saturation_current, p.ideality, temp, p.band_gap, p.temperature_exponent, REFERENCE
    )
    i_forward = forward_current(u, saturation, p.ideality, p.series_resistance, temp)
    warm = np.exp(np.log(2.0) / p.leakage_doubling * (temp - REFERENCE))
    i = i_forward - positive(-u, 0.1) * p.leakage * warm / p.reverse_voltage
    return Flow({"anode": i, "cathode": -i}, heat=u * i, shown={"current [A]": i})


DIODE = Kind(
    "diode",
    "junction, Schottky or indicator diode",
    ("anode", "cathode"),
    ("anode", "cathode"),
    (
        Parameter("saturation current", "A", 1e-30, 1.0, None, "of the fitted curve at 25 °C"),
        Parameter("ideality", "", 0.8, 8.0, None, "of the fitted curve"),
        Parameter("series resistance", "ohm", 1e-4, 1000.0, None, "of the fitted curve"),
        Parameter("band gap", "V", 0.2, 4.0, 0.69, "0.69 V Schottky, 1.11 V silicon"),
        Parameter("temperature exponent", "", 0.0, 5.0, 2.0, "2 Schottky, 3 silicon"),
        Parameter("leakage", "A", 0.0, 1.0, 1e-4, "at 25 °C and the rated reverse voltage"),
        Parameter("leakage doubling", "K", 2.0, 50.0, 11.0, "rise that doubles the leakage"),
        Parameter("reverse voltage", "V", 1.0, 2000.0, 40.0, "rating"),
        Parameter("forward current", "A", 1e-3, 200.0, 3.0, "rating"),
        Parameter("largest junction temperature", "K", 300.0, 500.0, 398.15, "rating"),
        *warmth(40.0, 1.0),
    ),
    equations,
    symbol="diode",
    heat_steers=ALWAYS,
)


def _channel(q: Any) -> Any:
    """Current through the switched-on channel at forward voltage u.

    A comparator type is a plain resistance both ways until it notices the reversal. A servo type lets go as the
    voltage approaches zero and never conducts backwards: ``i = u (u² + 0.001 V_reg²) / (R (u² + V_reg²))`` for u > 0,
    which keeps about the regulation voltage across it up to V_reg / R and tends to ``u / R`` beyond.
    """
    p = q.p
    u = q.v.anode - q.v.cathode
    ohms = p.on_resistance * (1.0 + p.tempco * (q.temp - REFERENCE))
    ahead = np.maximum(u, 0.0)
    square = ahead * ahead
    held = p.regulation_voltage * p.regulation_voltage
    servo = ahead * (square + 1e-3 * held) / (square + held)
    kind = q.chosen("control", "servo")
    return (kind * servo + (1.0 - kind) * u) / ohms


def ideal_equations(q: Any) -> Flow:
    p = q.p
    u = q.v.anode - q.v.cathode
    fed = q.v.cathode - q.v.minus
    body = positive(u - p.body_drop, 0.05) / 0.03 + 1e-9 * u
    i = body + q.among("channel", "on", "turning off") * _channel(q)
    quiescent = p.quiescent * np.minimum(np.maximum(fed, 0.0), 1.0)
    return Flow(
        {"anode": i, "cathode": quiescent - i, "minus": -quiescent},
        heat=u * i + fed * quiescent,
        shown={"current [A]": i},
    )


CHANNEL = Machine(
    "channel",
    ("off", "turning on", "on", "turning off"),
    (
        Arc("off", "turning on", when=lambda q: q.v.anode - q.v.cathode - q.p.regulation_voltage),
        Arc("turning on", "off", when=lambda q: q.v.cathode - q.v.anode),
        Arc("turning on", "on", after=lambda q: q.p.turn_on_time),
        Arc("on", "turning off", when=lambda q: -q.p.reverse_threshold - (q.v.anode - q.v.cathode)),
        Arc("turning off", "off", after=lambda q: q.p.turn_off_time),
    ),
)

IDEAL_DIODE = Kind(
    "ideal diode",
    "transistor with a controller that lets it conduct one way",
    ("anode", "cathode", "minus"),
    ("anode", "cathode"),
    (
        Parameter("on resistance", "ohm", 1e-4, 1.0, None, "of the channel at 25 °C"),
        Parameter("regulation voltage", "V", 1e-3, 0.2, 0.02, "held across it at small current"),
        Parameter("reverse threshold", "V", 1e-4, 0.2, 0.011, "reverse voltage at which it turns off"),
        Parameter("turn-off time", "s", 1e-8, 1e-2, 0.75e-6, "from that reversal"),
        Parameter("turn-on time", "s", 1e-8, 1e-1, 1e-4, "while the body diode carries the current"),
        Parameter("body drop", "V", 0.1, 1.5, 0.75, "of the body diode"),
        Parameter("tempco", "1/K", 0.0, 0.02, 0.005, "of the on resistance"),
        Parameter("quiescent", "A", 0.0, 0.1, 8e-5, "of the controller, from the cathode side"),
        word(
            "control",
            ("servo", "comparator"),
            "servo",
            "how it treats small and reverse current",
            "typical, unverified",
        ),
        Parameter("forward current", "A", 1e-3, 200.0, 10.0, "rating"),
        Parameter("voltage rating", "V", 1.0, 200.0, 60.0, "rating"),
        Parameter("largest junction temperature", "K", 300.0, 500.0, 423.15, "rating"),
        *warmth(40.0, 1.0),
    ),
    ideal_equations,
    machines=(CHANNEL,),
    symbol="ideal diode",
)
