"""How long a cell carries another load than those it was measured with, and how sure that is.

The cell is drawn many times within what its fit leaves uncertain, and all draws are discharged side by side. On top
comes what no draw shows: that a full charge does not repeat exactly, and that the model itself departs from every
cell. The latter is taken as large as it was for the logs, and more where the prediction leaves what they have seen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tideover.cells.log import Array
from tideover.cells.model import cell_cases
from tideover.cells.model_file import read_factor
from tideover.cells.run import CURRENT, CellCases, Load, discharge
from tideover.cells.unknowns import FULL_WIDTH, moved
from tideover.design.cell_model import CellModel
from tideover.laws.constants import TEMP_25
from tideover.quantity import parse, show

DRAWS = 200
"""Cells drawn."""
INTERVAL = (0.05, 0.95)
"""Of the interval told: nine of ten such cells lie within."""
BEYOND = 1.15
"""Current over the largest of the logs from which a prediction counts as going beyond them."""
MARGIN = 3.0
"""Kelvin outside the temperatures of the logs from which it does."""
USUAL_NOISE = 0.010
"""Departure of the model where no fit says how large it is: typical, unverified. [V]"""


@dataclass(frozen=True, eq=False)
class Prediction:
    """Until the voltage falls to the cut-off.

    Attributes
    ----------
    runtime : (float, float, float)
        Lower end, middle and upper end of the interval. [s]
    charge, energy : float
        Delivered. [C], [J]
    end_temp : float
        Of the cell at the end. [K]
    t, v : array, shape (n,)
        Voltage in time, of the fitted cell itself. [s], [V]
    beyond : tuple of str
        In what it leaves what the logs have seen, each a sentence.
    """

    runtime: tuple[float, float, float]
    charge: float
    energy: float
    end_temp: float
    t: Array
    v: Array
    beyond: tuple[str, ...]


def predict(
    model: CellModel,
    load: Load,
    cutoff: float,
    start: float = 1.0,
    ambient: float = TEMP_25,
    rng: np.random.Generator | None = None,
    draws: int = DRAWS,
) -> Prediction:
    """Predict a discharge.

    Parameters
    ----------
    model : CellModel
        Read from a fitted cell's file; or of the shelf, which has no interval. [-]
    load : Load
        What is drawn. [-]
    cutoff : float
        At the terminals. [V]
    start : float
        State of charge. [-]
    ambient : float
        Around the cell. [K]
    rng : Generator
        Where draws come from; with none, seed 1. [-]
    draws : int
        How many. [-]

    Returns
    -------
    found : Prediction
    """
    rng = np.random.default_rng(1) if rng is None else rng
    base = cell_cases(model)
    names, factor = read_factor(model)
    best = discharge(base, load, cutoff, start, ambient)
    middle = float(best.runtime[0])
    current = float(best.charge[0]) / middle if np.isfinite(middle) and middle > 0.0 else float("nan")
    beyond, wider = _beyond(model, load, current, ambient, float(best.hottest[0]))
    runtime = (middle, middle, middle)
    if np.isfinite(middle):
        noise, share = departure(model)
        low, high = interval(
            base, names, factor, load, cutoff, start, ambient, wider * noise, wider * share, rng, draws
        )
        runtime = (min(float(low), middle), middle, max(float(high), middle))
    live = np.isfinite(best.v[0])
    charge, energy, temp = float(best.charge[0]), float(best.energy[0]), float(best.end_temp[0])
    return Prediction(runtime, charge, energy, temp, best.t[live], best.v[0][live], beyond)


def interval(
    base: CellCases,
    names: tuple[str, ...],
    factor: Array,
    load: Load,
    cutoff: float,
    start: float,
    ambient: float,
    noise: float,
    share: float,
    rng: np.random.Generator,
    draws: int = DRAWS,
) -> tuple[float, float]:
    """Ends of the interval of a runtime, from cells drawn within what is uncertain of one.

    Parameters
    ----------
    base : CellCases
        The cell, one case. [-]
    names, factor : tuple of m str, array, shape (m, r)
        What is uncertain, and a factor of its covariance; may be empty. [-]
    load, cutoff, start, ambient
        As of `predict`. [-], [V], [-], [K]
    noise, share : float
        Departure of the model: in voltage [V], and in charge as a share of the capacity. [-]
    rng : Generator
        Where draws come from. [-]
    draws : int
        How many. [-]

    Returns
    -------
    low, high : float
        `INTERVAL` of them. [s]
    """
    by = rng.standard_normal((draws, factor.shape[1])) @ factor.T if len(names) else np.zeros((draws, 0))
    drawn = discharge(moved(base, names, by), load, cutoff, start, ambient)
    # A voltage that is off by its noise ends a run earlier or later by that over the slope at the end.
    falls = np.maximum(np.abs(drawn.slope), 1e-12)
    late = noise * rng.standard_normal(draws) / falls
    middle = float(np.nanmedian(np.where(np.isfinite(drawn.runtime), drawn.runtime, np.nan)))
    cap = 0.05 * middle  # where the curve is flat at the end, a straight line along its slope says nothing
    charged = np.hypot(FULL_WIDTH * max(start, 0.1), share) * rng.standard_normal(draws)
    found = np.where(np.isfinite(drawn.runtime), drawn.runtime, np.nan) + np.clip(late, -cap, cap)
    low, high = np.nanquantile(found * (1.0 + charged), INTERVAL)
    return float(low), float(high)


def departure(model: CellModel) -> tuple[float, float]:
    """What the model departed from the logs by: voltage [V], and charge as a share of the capacity. [-]"""
    logs = model.fit.get("logs")
    if not isinstance(logs, list) or not logs:
        return USUAL_NOISE, 0.0
    noise = max(parse(str(log["noise"]), "V").nominal for log in logs)
    return noise, max(float(log["share"]) for log in logs)


def _beyond(
    model: CellModel, load: Load, current: float, ambient: float, hottest: float
) -> tuple[tuple[str, ...], float]:
    """In what a prediction leaves the logs, and how much wider its departure is for it."""
    seen = model.fit.get("seen")
    if not isinstance(seen, dict):
        return ("This cell was not fitted: its figures are typical, and the result has no interval.",), 1.0
    said: list[str] = []
    wider = 1.0
    most = parse(str(seen["current"]), "A").nominal
    peak = float(np.max(load.level)) if load.law == CURRENT else current
    if np.isfinite(peak) and peak > BEYOND * most:
        said.append(f"The current, {show(peak, 'A')}, is more than the logs have seen, {show(most, 'A')}.")
        wider *= peak / most
    coldest, warmest = (parse(str(seen[key]), "K").nominal for key in ("coldest", "warmest"))
    if ambient < coldest - MARGIN or hottest > warmest + MARGIN:
        said.append(
            f"The cell is outside the temperatures of the logs, {show(coldest, 'K')} to {show(warmest, 'K')}: there "
            "its resistance follows the activation energy alone."
        )
        wider *= 1.5
    if float(seen["lowest charge"]) > 0.05:
        said.append(f"The logs end at {100 * float(seen['lowest charge']):.0f} % of charge.")
        wider *= 1.5
    return tuple(said), wider
