"""Capacitor: hold-up, input or output; a capacitance behind its series resistance, with leakage."""

from __future__ import annotations

from typing import Any

from tideover.parts.base import Flow, Kind, Parameter, State, warmth


def equations(q: Any) -> Flow:
    p, x = q.p, q.x
    u = q.v.plus - q.v.minus
    i = (u - x.charge_voltage) / (p.ESR + 1e-6)
    leak = x.charge_voltage * p.leakage / p.voltage_rating
    return Flow(
        {"plus": i, "minus": -i},
        {"charge_voltage": (i - leak) / p.capacitance},
        heat=i * i * (p.ESR + 1e-6) + leak * x.charge_voltage,
        store=0.5 * p.capacitance * x.charge_voltage * x.charge_voltage,
        shown={"current [A]": i},
    )


CAPACITOR = Kind(
    "capacitor",
    "storage between plus and minus",
    ("plus", "minus"),
    ("plus", "minus"),
    (
        Parameter(
            "capacitance", "F", 1e-12, 1000.0, None, "effective, at its working voltage and temperature"
        ),
        Parameter("ESR", "ohm", 0.0, 100.0, 0.05, "equivalent series resistance"),
        Parameter("leakage", "A", 0.0, 1.0, 0.0, "at the rated voltage"),
        Parameter("voltage rating", "V", 0.5, 1000.0, 25.0, "largest working voltage"),
        Parameter("ripple rating", "A", 1e-3, 100.0, 100.0, "largest ripple current; 100 A means not stated"),
        *warmth(30.0, 3.0),
    ),
    equations,
    states=(State("charge_voltage", "V", 1.0, "behind the series resistance", guess="supply"),),
    symbol="capacitor",
)
