"""How a cell warms: its heat capacity and its thermal resistance to the air, from logged temperatures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from scipy.optimize import least_squares

from tideover.cells.log import Array
from tideover.cells.run import CellCases, Rows, simulate
from tideover.cells.unknowns import WIDTHS

NAMES = ("thermal_resistance", "heat_capacity")
LEAST = 1.5
"""Rise of temperature below which a log tells nothing of either. [K]"""
NOISE = 0.5
"""Of a case temperature against that of a body of one temperature: standard deviation [K], and every log counts as
`WORTH` rows of it. Engineering judgement."""
WORTH = 8.0
AIR = 1.0
"""How well the temperature of the air is known from the first row. [K]"""


def fit(
    cells: CellCases, logs: Sequence[Rows], starts: Sequence[float]
) -> tuple[dict[str, float], dict[str, float], dict[str, float]]:
    """Fit the heat path.

    Parameters
    ----------
    cells : CellCases
        The fitted cell, one case; its thermal values are the shelf's. [-]
    logs : sequence of Rows
        With temperatures, or without, which are passed over. [-]
    starts : sequence of float
        State of charge at the first row of each. [-]

    Returns
    -------
    values, widths, gain : dict by name
        In SI; standard uncertainty of the logarithm; share left of that beforehand. [-]
    """
    first = {name: float(getattr(cells, name)[0]) for name in NAMES}
    widths = np.array([WIDTHS[name] for name in NAMES])
    seen = []
    for rows, start in zip(logs, starts):
        if rows.temp is not None and np.ptp(rows.temp) > LEAST:
            seen.append((rows, simulate(cells, rows, start).heat[0]))
    if not seen:
        return first, dict(zip(NAMES, widths.tolist())), dict.fromkeys(NAMES, 1.0)

    def left(x: Array) -> Array:
        values: dict[str, Any] = {n: np.array([first[n] * np.exp(x[k])]) for k, n in enumerate(NAMES)}
        own = replace(cells, **values)
        out = [x[:2] / widths, x[2:] / AIR]
        for k, (rows, heat) in enumerate(seen):
            temp = _temperature(own, rows, heat, x[2 + k])
            assert rows.temp is not None
            out.append((rows.temp - temp) / NOISE * np.sqrt(min(WORTH / len(temp), 1.0)))
        return np.concatenate(out)

    found = least_squares(left, np.zeros(2 + len(seen)))
    cover = np.linalg.inv(found.jac.T @ found.jac)
    spread = np.sqrt(np.diag(cover))[:2]
    values = {n: first[n] * float(np.exp(found.x[k])) for k, n in enumerate(NAMES)}
    return values, dict(zip(NAMES, spread.tolist())), dict(zip(NAMES, (spread / widths).tolist()))


def _temperature(cells: CellCases, rows: Rows, heat: Array, air: float) -> Array:
    """Of a body that starts at the first temperature in air that is warmer by `air`. [K]"""
    assert rows.temp is not None
    ohms = float(cells.thermal_resistance[0])
    cool = np.exp(-np.diff(rows.t) / (ohms * float(cells.heat_capacity[0])))
    around = rows.temp[0] + air
    mean = 0.5 * (heat[1:] + heat[:-1]) * ~rows.rest
    out = np.empty(len(heat))
    out[0] = x = rows.temp[0]
    for k in range(len(cool)):
        settled = around + mean[k] * ohms
        x = settled + (x - settled) * cool[k]
        out[k + 1] = x
    return out
