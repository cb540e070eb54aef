"""What a fit may change in a kind of cell, and how far each is likely to be from a typical one.

Every unknown is a deviation from a base cell: a factor's logarithm where a quantity is positive, volts where it is a
voltage. At the start the base is a cell of the shelf, and what is likely beforehand is a normal distribution around
no deviation at all; after the fit the base is the fitted cell, and its uncertainty has the same form.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tideover.cells.log import Array
from tideover.cells.model import PER_CASE, chemistry, numbers
from tideover.cells.run import CellCases
from tideover.design.cell_model import CellModel
from tideover.laws.cells import KNOTS as TABLE
from tideover.laws.cells import OCV, STEEP, Curve
from tideover.laws.smooth import positive

KNOTS = np.concatenate(
    [[0.0, 0.005, 0.01, 0.02, 0.03, 0.05, 0.075], 0.01 * np.arange(10.0, 96.0, 5.0), [0.98, 1.0]]
)
"""States of charge of a fitted curve: close together where it is steep. [-]"""
SHAPE_KNOTS = np.array([0.0, 0.01, 0.02, 0.05, 0.10, 0.15, 0.20, 0.30, 0.40, 0.50, 0.60, 0.70, 0.80, 0.90, 1.0])
"""States of charge at which the shapes of the resistances are free, but for `MIDDLE`, where they are 1. [-]"""
MIDDLE = 0.50
SCALARS = ("capacity", "resistance", "fast_resistance", "fast_time", "slow_resistance", "slow_time")
"""Unknowns that are factors' logarithms."""
FACTORS = (*SCALARS, "hysteresis", "thermal_resistance", "heat_capacity")

WIDTHS = {
    "capacity": 0.5,
    "resistance": 0.5,
    "fast_resistance": 0.5,
    "fast_time": 0.5,
    "slow_resistance": 0.5,
    "slow_time": 0.5,
    "hysteresis": 0.4,
    "activation_energy": 5e3,
    "thermal_resistance": 0.5,
    "heat_capacity": 0.15,
}
"""Standard deviations beforehand: of factors' logarithms, and of the activation energy [J/mol]. Cells of one shelf item
differ by 0.6 to 1.8 times once they are salvaged, and the activation energy of whole cells lies between 15 and 30
kJ/mol; the rest is engineering judgement. All typical, unverified."""
FARTHEST = 5.0
"""A factor's logarithm is never taken farther than this from a typical cell's, whatever a trial step asks for. [-]"""
ALIKE = 0.5
"""Share of the variance that the three resistances have in common: a worn cell has more of each. Judgement."""
DEPARTURE = {"LFP": 0.015, "LTO": 0.03, "PbA": 0.04}
USUAL_DEPARTURE = 0.04
"""How far a rested cell may be from its chemistry's table, standard deviation. [V] The tables are typical, unverified
to 20 mV (LFP 10 mV); the state to which a cell was charged shifts its upper end."""
FULL_WIDTH = 0.004
"""How well a full charge repeats, standard deviation: published pairs of runs of a cell differ by 0.4 to 1.6 %. [-]"""


def usual_shape(s: Array) -> Array:
    """How the ohmic resistance of a pack follows charge where nobody measured it, over that at half charge."""
    return np.asarray(1.0 + 25.0 * positive(0.2 - s, 0.01) ** 2)


def typical_cell(model: CellModel, capacity: float, cutoff: float) -> CellCases:
    """A cell of the shelf, scaled to the size measured, empty at a stated voltage.

    Parameters
    ----------
    model : CellModel
        Of the shelf. [-]
    capacity : float
        Measured; resistances scale against it. [C]
    cutoff : float
        Of the unit. [V]

    Returns
    -------
    base : CellCases
        One case, on `KNOTS`.
    """
    own, word = numbers(model), chemistry(model)
    size = capacity / own["capacity"]
    per = {name: own[name] for name in PER_CASE}
    for name in ("resistance", "fast_resistance", "slow_resistance"):
        per[name] /= size
    for name in ("fast_capacitance", "slow_capacitance"):
        per[name] *= size
    per["capacity"] = capacity
    cells = round(own["cells_per_unit"])
    volts = np.asarray(Curve.through(TABLE, OCV[word]).value(KNOTS[:, None]))[:, 0]
    volts = volts + (cutoff / cells - volts[0]) * np.exp(-KNOTS / 0.015)
    shape = usual_shape(KNOTS)
    per_case: dict[str, Any] = {name: np.array([per[name]]) for name in PER_CASE}
    return CellCases(
        KNOTS,
        np.maximum.accumulate(volts)[None],
        shape[None],
        shape[None].copy(),
        **per_case,
        leads=np.zeros(1),
        cells_per_unit=cells,
        steep=STEEP.get(word, 0.0),
    )


def between(knots: Array, at: Array) -> Array:
    """Matrix that draws straight lines between values at `knots`, shape (len(at), len(knots))."""
    return np.stack([np.interp(at, knots, row) for row in np.eye(len(knots))], axis=1)


def moved(base: CellCases, names: Sequence[str], by: Array) -> CellCases:
    """Cells that deviate from a base.

    Parameters
    ----------
    base : CellCases
        One case. [-]
    names : sequence of m str
        Of the unknowns: those of `FACTORS`, ``activation_energy``, ``volts 0.05``, ``ohmic 0.1``, ``lag 0.1``. What
        belongs to a log (``start ...``, ``leads ...``) is passed over. [-]
    by : array, shape (cases, m)
        Deviations. [-]

    Returns
    -------
    cells : CellCases
        One for each row.
    """
    count = len(by)
    column = {name: k for k, name in enumerate(names)}

    def factor(name: str) -> Any:
        return np.exp(np.clip(by[:, column[name]], -FARTHEST, FARTHEST)) if name in column else np.ones(count)

    def wide(name: str) -> Array:
        return np.asarray(np.repeat(getattr(base, name), count, axis=0))

    def table(kind: str) -> Array:
        own = sorted((float(n.split()[1]), k) for n, k in column.items() if n.startswith(f"{kind} "))
        if not own:
            return np.zeros((count, len(base.knots)))
        at, values = np.array([s for s, _ in own]), by[:, [k for _, k in own]]
        if kind in ("ohmic", "lag"):
            place = int(np.searchsorted(at, MIDDLE))
            at, values = np.insert(at, place, MIDDLE), np.insert(values, place, 0.0, axis=1)
        return np.asarray(values @ between(at, base.knots).T)

    volts = np.maximum.accumulate(wide("volts") + table("volts"), axis=1)
    fast, slow = factor("fast_resistance"), factor("slow_resistance")
    energy = wide("activation_energy") + (by[:, column["activation_energy"]] if "activation_energy" in column else 0.0)
    own: dict[str, Any] = {name: wide(name) * factor(name) for name in PER_CASE}
    own["activation_energy"] = np.clip(energy, 0.0, 8e4)
    own["fast_capacitance"] = wide("fast_capacitance") * factor("fast_time") / fast
    own["slow_capacitance"] = wide("slow_capacitance") * factor("slow_time") / slow
    return replace(
        base,
        volts=volts,
        ohmic=wide("ohmic") * np.exp(table("ohmic")),
        lag=wide("lag") * np.exp(table("lag")),
        leads=wide("leads"),
        **own,
    )


@dataclass(frozen=True, eq=False)
class Prior:
    """What is likely before any log is looked at.

    Attributes
    ----------
    names : tuple of m str
        Of the unknowns.
    covariance : array, shape (m, m)
        Of the deviations from the base, whose mean is nought.
    """

    names: tuple[str, ...]
    covariance: Array

    @property
    def widths(self) -> Array:
        """Standard deviations, shape (m,)."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))


def prior_of(word: str, hysteresis: bool, logs: Sequence[str], starts: Array, leads: Array | None) -> Prior:
    """The unknowns of a fit and their widths.

    Parameters
    ----------
    word : str
        Chemistry. [-]
    hysteresis : bool
        Whether the cell has any. [-]
    logs : sequence of str
        Names of the logs. [-]
    starts : array, shape (logs,)
        Standard deviation of the charge at the start of each. [-]
    leads : array, shape (logs,), or None
        Of the resistance of the leads, the same. [ohm]

    Returns
    -------
    prior : Prior
    """
    scalars = [*SCALARS, "activation_energy", *(["hysteresis"] if hysteresis else [])]
    own = np.diag([WIDTHS[name] ** 2 for name in scalars])
    resistances = [k for k, name in enumerate(scalars) if name.endswith("resistance")]
    for a in resistances:
        for b in resistances:
            if a != b:
                own[a, b] = ALIKE * WIDTHS[scalars[a]] * WIDTHS[scalars[b]]
    names = [*scalars, *(f"volts {s:g}" for s in KNOTS[1:])]
    blocks = [own, _voltage_cover(KNOTS[1:], DEPARTURE.get(word, USUAL_DEPARTURE))]
    free = SHAPE_KNOTS[SHAPE_KNOTS != MIDDLE]
    for kind, middle, low in (("ohmic", 0.15, 0.5), ("lag", 0.35, 1.0)):
        names += [f"{kind} {s:g}" for s in free]
        blocks.append(_shape_cover(free, middle, low))
    names += [f"start {name}" for name in logs]
    blocks.append(np.diag(starts**2))
    if leads is not None:
        names += [f"leads {name}" for name in logs]
        blocks.append(np.diag(np.maximum(leads, 1e-6) ** 2))
    whole = np.zeros((len(names), len(names)))
    at = 0
    for block in blocks:
        whole[at : at + len(block), at : at + len(block)] = block
        at += len(block)
    return Prior(tuple(names), whole)


def _bell(s: Array, length: float) -> Array:
    """Correlation of what varies smoothly over a length of charge."""
    return np.asarray(np.exp(-0.5 * ((s[:, None] - s[None, :]) / length) ** 2))


def _voltage_cover(s: Array, departure: float) -> Array:
    """Departure from the table: smooth, with a finer part, and much towards empty, where the curve is steep."""
    steep = 0.4 * np.exp(-s / 0.03)
    near = np.exp(-np.abs(np.log(s[:, None] / s[None, :])))
    cover = departure**2 * (_bell(s, 0.3) + 0.25 * _bell(s, 0.05)) + np.outer(steep, steep) * near
    return np.asarray(cover + 1e-6 * np.eye(len(s)))


def _shape_cover(s: Array, middle: float, low: float) -> Array:
    """Departure of a shape's logarithm: smooth, more towards empty, none at `MIDDLE`."""

    def cover(a: Array, b: Array) -> Array:
        smooth = np.exp(-0.5 * ((a[:, None] - b[None, :]) / 0.2) ** 2)
        fine = np.exp(-0.5 * ((a[:, None] - b[None, :]) / 0.06) ** 2)
        steep = np.outer(low * np.exp(-a / 0.1), low * np.exp(-b / 0.1))
        return np.asarray(middle**2 * (0.8 * smooth + 0.2 * fine) + steep * (0.7 * smooth + 0.3 * fine))

    fixed = np.array([MIDDLE])
    half = cover(s, fixed)
    return cover(s, s) - half @ half.T / cover(fixed, fixed) + 1e-5 * np.eye(len(s))
