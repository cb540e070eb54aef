"""A box of salvaged cells with known truth, as a builder would have measured it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from tideover.cells.stock import StockCell
from tideover.laws.cells import Curve
from tideover.laws.constants import MONTH

BEGIN = datetime(2026, 10, 1, 18, 0)
HOURS = (0.0, 3.0, 26.0, 7 * 24.0, 21 * 24.0)
"""Of the readings, from the end of charge on."""
NEW_RESISTANCE = 0.0456
"""After one second, of the model on the shelf. [ohm]"""


@dataclass(frozen=True)
class Truth:
    """What was planted, and what every cell is like."""

    leaking: frozenset[str]
    worn: frozenset[str]
    monthly: dict[str, float]


def make_stock(
    generator,
    n=400,
    *,
    leaking=0.04,
    leak=(0.10, 0.25),
    worn=0.04,
    times=(2.15, 3.5),
    spread=0.15,
    most=1.9,
    hours=HOURS,
    model="NMC 18650 2.6 Ah",
    method="DC 1 s",
    noise=(0.0005, 0.001),
    chemistry="NMC",
):
    """Cells and their truth.

    Sound cells lose 1 to 3 % a month and have 1.25 times the resistance of new ones, log-normal with a standard
    deviation of `spread` but never more than `most` times that of a new one. All of them relax by 5 to 25 mV within
    hours, differ in charge, and are read in a room whose temperature wanders by 1 K. Leakers lose `leak` a month, worn
    cells have `times` the resistance of a new one.
    """
    curve = Curve.of([chemistry])
    names = [f"S{k:03d}" for k in range(n)]
    order = generator.permutation(n)
    bad = [round(n * share) for share in (leaking, worn)]
    leakers, tired = order[: bad[0]], order[bad[0] : bad[0] + bad[1]]
    monthly = generator.uniform(0.01, 0.03, n)
    monthly[leakers] = generator.uniform(*leak, bad[0])
    resistance = np.minimum(1.25 * np.exp(spread * generator.standard_normal(n)), most) * NEW_RESISTANCE
    resistance[tired] = generator.uniform(*times, bad[1]) * NEW_RESISTANCE
    capacity = np.clip(generator.normal(0.85, 0.06, n), 0.63, 1.0) * 2.6 * 3600
    state = generator.uniform(0.95, 0.995, n)
    height, tau = generator.uniform(0.005, 0.025, n), generator.uniform(1.0, 6.0, n)
    meter = generator.uniform(*noise, n)
    t = np.asarray(hours)
    warm = generator.uniform(-1.0, 1.0, len(t))
    tempco = generator.uniform(-0.4e-3, 0.1e-3)
    left = state[:, None] - monthly[:, None] * (t * 3600.0 / MONTH)
    volts = curve.value(left[..., None])[..., 0] + height[:, None] * np.exp(-t / tau[:, None]) + tempco * warm
    volts = np.round(volts + meter[:, None] * generator.standard_normal(volts.shape), 3)
    cells = tuple(
        StockCell(
            id=names[k],
            model=model,
            chemistry=chemistry,
            source="planted",
            age="2019 scrap",
            nameplate=2.6 * 3600,
            capacity=float(capacity[k] * (1 + 0.01 * generator.standard_normal())),
            resistance=float(resistance[k] * (1 + 0.02 * generator.standard_normal())),
            method=method,
            arrival=float(generator.uniform(2.9, 3.8)),
            rests=tuple((BEGIN + timedelta(hours=h), float(v)) for h, v in zip(hours, volts[k])),
            heating=float(abs(generator.normal(0.0, 2.0))),
        )
        for k in range(n)
    )
    return cells, Truth(
        frozenset(names[k] for k in leakers),
        frozenset(names[k] for k in tired),
        {name: float(m) for name, m in zip(names, monthly)},
    )
