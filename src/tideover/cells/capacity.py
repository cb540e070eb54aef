"""What a cell gives at a current, to a cut-off and at a temperature; and the cell that gave what was measured.

A cell gives less at a higher current, to a higher cut-off, or in the cold, because its resistances take their share of
the voltage. All is computed through the equations of the pack (`run`).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from tideover.cells.condition import Condition
from tideover.cells.fit import Fitted
from tideover.cells.log import Array
from tideover.cells.model_file import factor
from tideover.cells.predict import BEYOND, MARGIN, interval
from tideover.cells.run import CURRENT, CellCases, Load, discharge
from tideover.laws.constants import TEMP_25

ROUNDS = 8
"""Passes by which a capacity is sought; each leaves some hundredths of the error."""
CLOSE = 1e-8
"""Share of the charge measured to which it is met."""
LEAST = 0.05
"""Share of its charge that a cell must give at a condition; with less the current is beyond it, and nothing follows."""
USUAL_RATE = 0.2
"""Current of a capacity where nobody says another, over the capacity an hour: that at which cells are rated (IEC
61960-3, 7.3.1)."""
SPAN = 3600.0
"""Time into which every discharge is scaled. [s]"""


def given(cells: CellCases, current: Any, cutoff: Any, ambient: Any) -> tuple[Array, Array]:
    """Charge of full cells, each at a condition of its own.

    Parameters
    ----------
    cells : CellCases
        The cases. [-]
    current, cutoff, ambient : float or array, shape (cases,)
        Of each. [A], [V], [K]

    Returns
    -------
    charge : array, shape (cases,)
        Until the voltage falls to the cut-off; nothing where it is below it at once. [C]
    steepness : array, shape (cases,)
        Volts that the voltage falls at the end for the whole of that charge. [V]

    Notes
    -----
    In units of its own current, above its own cut-off and in a time of its own, each discharge is one at 1 A to 0 V of
    a cell of `SPAN` coulombs; so all of them are one batch with like steps.
    """
    current, cutoff, ambient = (
        np.broadcast_to(np.asarray(x, float), (cells.count,)) for x in (current, cutoff, ambient)
    )
    pace = SPAN * current / cells.capacity
    unit = replace(
        cells,
        volts=cells.volts - cutoff[:, None] / cells.cells_per_unit,
        capacity=np.full(cells.count, SPAN),
        resistance=cells.resistance * current,
        fast_resistance=cells.fast_resistance * current,
        slow_resistance=cells.slow_resistance * current,
        fast_capacitance=cells.fast_capacitance * pace / current,
        slow_capacitance=cells.slow_capacitance * pace / current,
        thermal_resistance=cells.thermal_resistance * current,
        heat_capacity=cells.heat_capacity * pace / current,
        self_discharge=cells.self_discharge / pace,
        leads=cells.leads * current,
    )
    run = discharge(unit, Load.constant(CURRENT, 1.0), 0.0, 1.0, ambient)
    runtime = np.where(np.isfinite(run.runtime), run.runtime, 0.0)
    return runtime / SPAN * cells.capacity, np.abs(run.slope) * runtime


def sought(cells: CellCases, measured: Array, current: Any, cutoff: Any, ambient: Any) -> CellCases:
    """Cells with that charge, from full to empty at rest, with which they give what was measured.

    Parameters
    ----------
    cells : CellCases
        All but their capacity counts. [-]
    measured : array, shape (cases,)
        Charge given at the condition. [C]
    current, cutoff, ambient : float or array, shape (cases,)
        The condition of each. [A], [V], [K]

    Returns
    -------
    cells : CellCases
        NaN is the capacity of those that give next to nothing there, whatever it is.
    """
    capacity = np.asarray(measured, float).copy()
    for _ in range(ROUNDS):
        charge, _ = given(replace(cells, capacity=capacity), current, cutoff, ambient)
        beyond = charge < LEAST * capacity
        factor_ = np.where(beyond, 1.0, measured / np.maximum(charge, 1e-9))
        if np.all(np.abs(factor_ - 1.0) < CLOSE):
            break
        capacity = capacity * factor_
    return replace(cells, capacity=np.where(beyond, np.nan, capacity))


def after(cells: CellCases, t: float) -> Array:
    """What each cell drops for an ampere, so long after a step, at half charge and 25 degrees Celsius. [ohm]"""
    total = np.asarray(cells.resistance, float).copy()
    for r, c in (
        (cells.fast_resistance, cells.fast_capacitance),
        (cells.slow_resistance, cells.slow_capacitance),
    ):
        total = total + r * (1.0 - np.exp(-t / (r * c)))
    return total


def with_resistance(cells: CellCases, times: Any) -> CellCases:
    """Cells with all resistances so many times as large, and the times of their pairs unchanged."""
    return replace(
        cells,
        resistance=cells.resistance * times,
        fast_resistance=cells.fast_resistance * times,
        slow_resistance=cells.slow_resistance * times,
        fast_capacitance=cells.fast_capacitance / times,
        slow_capacitance=cells.slow_capacitance / times,
    )


# --- of a fitted cell -----------------------------------------------------------------------------


def usual_condition(fitted: Fitted) -> Condition:
    """A fifth of the capacity an hour, in two digits, to where the logs call the cell empty, at 25 degrees Celsius."""
    current = USUAL_RATE * float(fitted.cells.capacity[0]) / 3600.0
    return Condition(float(f"{current:.2g}"), fitted.cutoff, TEMP_25)


def of_fit(fitted: Fitted, at: Condition, rng: np.random.Generator) -> tuple[tuple[float, float, float], str]:
    """Capacity of a fitted cell at a condition.

    Parameters
    ----------
    fitted : Fitted
        The cell. [-]
    at : Condition
        From full. [-]
    rng : Generator
        Where draws come from. [-]

    Returns
    -------
    charge : (float, float, float)
        Lower end, middle and upper end of the interval that holds nine of ten. [C]
    beyond : str
        In what the condition leaves what the logs have seen; empty where it does not.
    """
    load = Load.constant(CURRENT, at.current)
    runtime = float(discharge(fitted.cells, load, at.cutoff, 1.0, at.ambient).runtime[0])
    seen, wider, beyond = fitted.cover, 1.0, []
    if at.current > BEYOND * seen.current:
        wider *= at.current / seen.current
        beyond.append("more current than the logs have seen")
    if not seen.coldest - MARGIN <= at.ambient <= seen.warmest + MARGIN:
        wider *= 1.5
        beyond.append("a temperature that they have not")
    noise, share = (wider * max(getattr(m, key) for m in fitted.misfits) for key in ("noise", "share"))
    low, high = interval(
        fitted.cells,
        fitted.names,
        factor(fitted.covariance),
        load,
        at.cutoff,
        1.0,
        at.ambient,
        noise,
        share,
        rng,
    )
    ends = (min(low, runtime), runtime, max(high, runtime))
    return (ends[0] * at.current, ends[1] * at.current, ends[2] * at.current), " and ".join(beyond)
