"""Pack: S groups in series, each of P cells side by side, one group weaker than the rest.

A cell is an open-circuit curve with hysteresis behind a series resistance and two resistor-capacitor pairs; all
resistances follow temperature by one activation energy. The weak group has less capacity and more resistance; the
protection board acts on whichever group is worst, which it sees at the terminal `tap` (the weak group's own
voltage above minus, behind a sense resistor).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from tideover.laws.cells import resistance_factor
from tideover.laws.smooth import positive
from tideover.parts.base import Flow, Kind, Parameter, State, absent, held_temp, warmth, word

CHEMISTRIES = ("NMC", "NCA", "LFP", "LTO", "LCO", "PbA")
TAP = 1000.0
"""Sense resistor of the tap. [ohm]"""
REFERENCE = 298.15


def equations(q: Any) -> Flow:
    p, x = q.p, q.x
    u = q.v.plus - q.v.minus
    even = p.series - 1.0
    alone = np.equal(p.series, 1.0) * 1.0
    heat_factor = resistance_factor(held_temp(q.temp), p.activation_energy, REFERENCE)
    ohmic, lagging = _shapes(q)
    r0 = p.resistance * p.growth * heat_factor * ohmic
    r1 = p.fast_resistance * p.growth * heat_factor * lagging
    r2 = p.slow_resistance * p.growth * heat_factor * lagging
    weight = even + 1.0 + p.resistance_spread
    ocv = p.cells_per_unit * q.curve(x.charge)
    ocv_weak = p.cells_per_unit * q.curve(x.weak_charge)
    settled = x.fast + x.slow
    lag = 0.0 if absent(p.hysteresis) else x.hysteresis
    emf = even * (ocv + lag) + ocv_weak + lag - weight * settled
    ohms = weight * r0 / p.parallel + p.joint_resistance * p.series
    i = q.link((emf - u) / ohms)
    i_cell = i / p.parallel
    weak = ocv_weak + lag - (1.0 + p.resistance_spread) * (i_cell * r0 + settled)
    tap = (q.v.tap - q.v.minus - weak) / TAP
    coulombs = p.capacity * p.health
    missing = (1.0 - p.charge_efficiency) * positive(-i_cell, 1e-3)
    leak = p.self_discharge * coulombs / 2.63e6
    rate = -(i_cell + missing + leak * x.charge) / coulombs
    weak_rate = -(i_cell + missing + leak * x.weak_charge) / (coulombs * (1.0 - p.capacity_spread))
    size = np.sqrt(i_cell * i_cell + 1e-8)
    drift = 0.0 if absent(p.hysteresis) else -p.hysteresis_rate / coulombs * (size * lag + i_cell * p.hysteresis)
    cells = p.parallel
    joule = i * i * ohms + weight * cells * (x.fast * x.fast / r1 + x.slow * x.slow / r2)
    lost = cells * (even * ocv * (missing + leak * x.charge) + ocv_weak * (missing + leak * x.weak_charge))
    energy = (
        p.cells_per_unit
        * coulombs
        * cells
        * (even * q.curve_energy(x.charge) + (1.0 - p.capacity_spread) * q.curve_energy(x.weak_charge))
    )
    polarised = (
        0.5 * weight * cells * (p.fast_capacitance * x.fast * x.fast + p.slow_capacitance * x.slow * x.slow)
    )
    return Flow(
        {"plus": -i, "minus": i - tap, "tap": tap},
        {
            "charge": rate,
            "weak_charge": weak_rate,
            "fast": (i_cell - x.fast / r1) / p.fast_capacitance,
            "slow": (i_cell - x.slow / r2) / p.slow_capacitance,
            "hysteresis": drift,
        },
        heat=joule + lost - i * p.series * lag + (q.v.tap - q.v.minus) * tap,
        store=energy + polarised,
        shown={
            "discharge current [A]": i,
            "weak group [V]": weak,
            "mean group [V]": (u - weak + alone * weak) / (even + alone),
            "open circuit [V]": even * (ocv + lag) + ocv_weak + lag,
            "joule heat [W]": joule,
        },
        bodies=p.series * p.parallel,
    )


def _shapes(q: Any) -> tuple[Any, Any]:
    """How the ohmic resistance, and those of the two pairs, follow charge: as is usual, or as measured."""
    low = positive(0.2 - q.x.charge, 0.01)
    usual = 1.0 + 25.0 * low * low
    own = q.chosen("resistance_curve", "measured")
    if absent(own):
        return usual, 1.0
    charge = q.x.charge
    return own * q.ohmic(charge) + (1.0 - own) * usual, own * q.lag(charge) + (1.0 - own)


PACK = Kind(
    "pack",
    "cells in series and parallel",
    ("plus", "minus", "tap"),
    ("plus", "minus"),
    (
        word("chemistry", CHEMISTRIES, None, "which open-circuit curve"),
        Parameter("series", "", 1, 20, None, "groups in series (blocks, for lead-acid)"),
        Parameter("parallel", "", 1, 100, 1, "cells side by side in a group"),
        Parameter(
            "capacity", "C", 36.0, 3.6e6, None, "of one cell, from full to its cut-off at a small current"
        ),
        Parameter("health", "", 0.2, 1.2, 1.0, "capacity now over stated capacity"),
        Parameter("resistance", "ohm", 1e-5, 5.0, None, "of one cell within the first second, at 25 °C"),
        word(
            "resistance curve",
            ("usual", "measured"),
            "usual",
            "how its resistances follow charge; measured: as in the file of cells that `from` names",
        ),
        Parameter("growth", "", 0.3, 10.0, 1.0, "resistance now over stated resistance"),
        Parameter("fast resistance", "ohm", 1e-6, 5.0, 0.012, "added within a minute"),
        Parameter("fast capacitance", "F", 1.0, 1e9, 1667.0, "beside it"),
        Parameter("slow resistance", "ohm", 1e-6, 5.0, 0.015, "added within the hour"),
        Parameter("slow capacitance", "F", 1.0, 1e9, 40000.0, "beside it"),
        Parameter(
            "joint resistance", "ohm", 0.0, 1.0, 1e-3, "strip, welds or holder, for each group in series"
        ),
        Parameter("capacity spread", "", 0.0, 0.6, 0.02, "weakest group below the mean"),
        Parameter("resistance spread", "", 0.0, 2.0, 0.05, "weakest group above the mean"),
        Parameter("activation energy", "J/mol", 0.0, 80000.0, 20000.0, "of its resistances"),
        Parameter("hysteresis", "V", 0.0, 0.1, 0.0, "half the gap between the charge and discharge curves"),
        Parameter("hysteresis rate", "", 0.0, 1000.0, 75.0, "how fast it swings, per full charge"),
        Parameter("charge efficiency", "", 0.5, 1.0, 1.0, "charge kept over charge put in"),
        Parameter("self discharge", "", 0.0, 1.0, 0.02, "of its charge, per month at 25 °C"),
        Parameter("cells per unit", "", 1, 24, 1, "cells inside one unit: 6 in a 12 V lead-acid block"),
        Parameter("nominal voltage", "V", 0.5, 60.0, 3.6, "of one unit, as on its label"),
        Parameter("highest voltage", "V", 1.0, 60.0, 4.2, "of one unit, charging"),
        Parameter("lowest voltage", "V", 0.0, 60.0, 2.5, "of one unit, discharging"),
        Parameter("charge rating", "A", 1e-3, 1000.0, 1000.0, "of one cell; 1000 A means not stated"),
        Parameter("discharge rating", "A", 1e-3, 1000.0, 1000.0, "of one cell; 1000 A means not stated"),
        Parameter("coldest charge", "K", 230.0, 330.0, 273.15, "cell temperature"),
        Parameter("warmest charge", "K", 280.0, 360.0, 318.15, "cell temperature"),
        Parameter("coldest discharge", "K", 220.0, 330.0, 253.15, "cell temperature"),
        Parameter("warmest discharge", "K", 280.0, 380.0, 333.15, "cell temperature"),
        *warmth(24.0, 46.0),
    ),
    equations,
    states=(
        State("charge", "", 0.05, "state of charge of the common groups", slow=True, start=1.0),
        State("weak_charge", "", 0.05, "state of charge of the weak group", slow=True, start=1.0),
        State("fast", "V", 0.1, "on the fast pair of one cell"),
        State("slow", "V", 0.1, "on the slow pair of one cell"),
        State("hysteresis", "V", 0.02, "of one cell", slow=True, loose=True),
    ),
    symbol="pack",
    source=(("nominal_voltage", "series"),),
)
