"""A kind of cell as numbers: from its file or from the shelf, one case or many."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from tideover.cells.run import CellCases
from tideover.design.cell_model import CellModel
from tideover.laws.cell_curve import CellCurve
from tideover.laws.cells import KNOTS, OCV, STEEP, resistance_soc_factor
from tideover.parts.pack import CHEMISTRIES, PACK
from tideover.quantity import Quantity, parse
from tideover.shelf import find, items
from tideover.shelf.reading import Item

PER_CASE = (
    "capacity",
    "resistance",
    "fast_resistance",
    "fast_capacitance",
    "slow_resistance",
    "slow_capacitance",
    "activation_energy",
    "hysteresis",
    "hysteresis_rate",
    "thermal_resistance",
    "heat_capacity",
    "self_discharge",
)
"""Parameters of a pack of which a single cell makes use."""


def numbers(model: CellModel) -> dict[str, float]:
    """Every parameter of a cell by its Python name: the model's own values, else the pack's defaults; in SI."""
    out: dict[str, float] = {}
    for p in PACK.parameters:
        value = model.values.get(p.name, p.default)
        if value is None or isinstance(value, str):
            continue
        out[p.name] = float(value.nominal if isinstance(value, Quantity) else value)
    return out


def chemistry(model: CellModel) -> str:
    """Its chemistry, a word of `tideover.parts.pack.CHEMISTRIES`."""
    value = model.values["chemistry"]
    return CHEMISTRIES[int(value.nominal if isinstance(value, Quantity) else value)]


def curve_of(model: CellModel) -> CellCurve:
    """Its own curve, or the typical one of its chemistry with resistances as usual."""
    if model.curve is not None:
        return model.curve
    word = chemistry(model)
    usual = resistance_soc_factor(np.array(KNOTS))
    return CellCurve(np.array(KNOTS), np.array(OCV[word]), usual, np.ones(len(KNOTS)), None, STEEP.get(word, 0.0))


def cell_cases(model: CellModel) -> CellCases:
    """The model as one case."""
    own, curve = numbers(model), curve_of(model)
    per_case: dict[str, Any] = {name: np.array([own[name]]) for name in PER_CASE}
    return CellCases(
        np.asarray(curve.knots, float),
        np.atleast_2d(np.asarray(curve.volts, float)),
        np.atleast_2d(np.asarray(curve.ohmic_shape, float)),
        np.atleast_2d(np.asarray(curve.lag_shape, float)),
        **per_case,
        leads=np.zeros(1),
        cells_per_unit=round(own["cells_per_unit"]),
        steep=float(curve.steep),
    )


def of_item(item: Item) -> CellModel:
    """A cell of the shelf."""
    values: dict[str, Quantity | float] = {}
    for p in PACK.parameters:
        text = item.values.get(p.name)
        if text is not None:
            values[p.name] = float(p.choices.index(text)) if p.unit == "word" else parse(text, p.unit)
    return CellModel(item.name, "", values, dict.fromkeys(values, f"shelf: {item.source}"))


def of_chemistry(word: str) -> list[CellModel]:
    """Every cell of the shelf of a chemistry, worn ones too."""
    return [of_item(item) for item in items() if item.kind == "cell" and item.values.get("chemistry") == word]


def nearest_item(word: str, capacity: float, like: str | None = None) -> Item:
    """The cell of the shelf to compare with: that named, or the nearest in size of its chemistry.

    Parameters
    ----------
    word : str
        Chemistry. [-]
    capacity : float
        Measured. [C]
    like : str, optional
        Name of the item. [-]

    Raises
    ------
    LookupError
        Nothing of that name or chemistry is on the shelf; the message names what is.
    """
    cells = [item for item in items() if item.kind == "cell"]
    if like:
        item = find(like)
        if item is None or item.kind != "cell":
            raise LookupError(f'"{like}" is no cell on the shelf; see: tideover parts cell')
        return item
    own = [item for item in cells if item.values.get("chemistry") == word]
    if not own:
        known = ", ".join(sorted({item.values["chemistry"] for item in cells}))
        raise LookupError(f"No cell of chemistry {word} is on the shelf; it has {known}.")
    fresh = [item for item in own if not item.name.startswith("salvaged")] or own
    return min(fresh, key=lambda item: abs(math.log(parse(item.values["capacity"], "C").nominal / capacity)))
