"""Capacities of the inventory brought to one condition, so that they may be compared.

For each cell its charge from full to empty at rest is sought with which it gives, at the condition of its measurement,
what was measured; then it is discharged at the condition that is asked for. A resistance that was measured of the cell
by direct current counts, through the time of its method and as if at half charge and 25 degrees Celsius; one by
alternating current does not, as no model here tells what it means.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np

from tideover.cells.capacity import LEAST, after, given, sought, with_resistance
from tideover.cells.condition import Condition, commonest, condition_of
from tideover.cells.log import Array
from tideover.cells.model import cell_cases, chemistry, nearest_item, numbers, of_item
from tideover.cells.model_file import factor, read_factor
from tideover.cells.predict import departure
from tideover.cells.run import SHARED, CellCases
from tideover.cells.stock import StockCell
from tideover.cells.unknowns import moved, prior_of, typical_cell
from tideover.design.cell_model import CellModel
from tideover.laws.methods import SECONDS
from tideover.quantity import show
from tideover.shelf import find

CELL_TO_CELL = 0.2
"""How much the resistances of cells of one kind differ where a cell's own was not measured, standard deviation of the
logarithm: typical, unverified."""
PACE = {"PbA": 0.05}
USUAL_PACE = 0.015
"""How much capacity against current may depart from the shelf's model, for each e-fold of current, standard deviation:
diffusion that two pairs do not follow, as Peukert's exponents of 1.00 to 1.05 (lead-acid 1.1 to 1.3) from cell to cell
say. Typical, unverified; a fitted cell has what its own logs show instead. [-]"""
FARTHEST = 0.05
"""Most that the model's own error in voltage may count at the end of a discharge, of the charge. [-]"""


@dataclass(frozen=True)
class Converted:
    """A capacity at another condition than it was measured at.

    Attributes
    ----------
    measured, given : Condition
        From, and to.
    capacity : float
        At the latter. [C]
    spread : float
        Standard uncertainty of the conversion alone, as a share of it. [-]
    through : str
        Which cell's model told it.
    typical : bool
        Whether that model is the shelf's: typical, unverified.
    by_resistance : bool
        Whether the cell's own resistance counted.
    """

    measured: Condition
    given: Condition
    capacity: float
    spread: float
    through: str
    typical: bool
    by_resistance: bool


@dataclass(frozen=True)
class Compared:
    """Cells whose capacities may be compared, as far as is known.

    Attributes
    ----------
    at : Condition or None
        At which; None where no cell's is known.
    cells : tuple of StockCell
        In the order given; with the capacity at that condition and its uncertainty, or as measured.
    converted : dict of str to Converted
        By id, those that were measured at another.
    not_said : tuple of str
        Ids of the capacities whose condition nobody said in full; they are as measured.
    failed : dict of str to str
        By id, why a capacity could not be brought there; it is as measured.
    """

    at: Condition | None
    cells: tuple[StockCell, ...]
    converted: dict[str, Converted]
    not_said: tuple[str, ...] = ()
    failed: dict[str, str] = field(default_factory=dict)


class NoConversion(ValueError):
    """Why a capacity cannot be brought to a condition."""


def comparable(cells: Sequence[StockCell], at: Condition | None = None, through: CellModel | None = None) -> Compared:
    """Bring the capacities of cells to one condition.

    Parameters
    ----------
    cells : sequence of StockCell
        What was measured of them. [-]
    at : Condition, optional
        The one asked for; otherwise that of most of the cells. [-]
    through : CellModel, optional
        Model of the cells of its chemistry, such as a fitted one; for others, and without it, the shelf's. [-]

    Returns
    -------
    compared : Compared
        A capacity whose condition is that asked for is as it was measured.
    """
    at = at or commonest(cells)
    with_capacity = [cell for cell in cells if cell.capacity]
    not_said = tuple(cell.id for cell in with_capacity if condition_of(cell) is None)
    if at is None:
        return Compared(None, tuple(cells), {}, not_said, {})
    failed: dict[str, str] = {}
    by_kind: dict[str, tuple[_Kind, list[StockCell]]] = {}
    for cell in with_capacity:
        own = condition_of(cell)
        if own is None or own.like(at):
            continue
        try:
            kind = _kind_of(cell, through)
            for which in (own, at):
                _check(which, kind)
        except NoConversion as error:
            failed[cell.id] = str(error)
            continue
        by_kind.setdefault(kind.key, (kind, []))[1].append(cell)
    converted: dict[str, Converted] = {}
    for kind, members in by_kind.values():
        _convert(kind, members, at, converted, failed)
    out = []
    for cell in cells:
        done = converted.get(cell.id)
        if done is not None:
            cell = replace(cell, capacity=done.capacity, capacity_spread=math.hypot(cell.capacity_spread, done.spread))
        out.append(cell)
    return Compared(at, tuple(out), converted, not_said, failed)


@dataclass(frozen=True, eq=False)
class _Kind:
    """A kind of cell that capacities are converted through: its model, and how far it may be from a real one."""

    key: str
    title: str
    cells: CellCases
    names: tuple[str, ...]
    factor: Array
    noise: float
    pace: float
    typical: bool
    full: float


def _kind_of(cell: StockCell, through: CellModel | None) -> _Kind:
    item = find(cell.model) if cell.model else None
    item = item if item is not None and item.kind == "cell" else None
    word = cell.chemistry or (item.values["chemistry"] if item else "")
    if not word:
        raise NoConversion("its chemistry is not said")
    if through is not None and chemistry(through) == word:
        names, root = read_factor(through)
        if names:
            full = numbers(through)["highest_voltage"]
            noise, share = departure(through)
            return _Kind(
                through.file or through.title,
                through.title,
                cell_cases(through),
                names,
                root,
                noise,
                share,
                False,
                full,
            )
        return _typical(through)
    if item is None or item.values["chemistry"] != word:
        try:
            item = nearest_item(word, cell.nameplate or cell.capacity or 1.0)
        except LookupError:
            raise NoConversion(f"no cell of chemistry {word} is on the shelf to tell it") from None
    return _typical(of_item(item))


def _typical(model: CellModel) -> _Kind:
    """A cell of the shelf with all that is likely beforehand of a cell like it."""
    own = numbers(model)
    base = typical_cell(model, own["capacity"], own["lowest_voltage"])
    prior = prior_of(chemistry(model), bool(base.hysteresis[0]), [], np.zeros(0), None)
    root = factor(prior.covariance)
    noise, _ = departure(model)
    pace = PACE.get(chemistry(model), USUAL_PACE)
    return _Kind(model.title, model.title, base, prior.names, root, noise, pace, True, own["highest_voltage"])


def _check(which: Condition, kind: _Kind) -> None:
    if which.cutoff >= kind.full:
        raise NoConversion(f"{show(which.cutoff, 'V')} is not below the {show(kind.full, 'V')} of a full cell")


def _convert(
    kind: _Kind,
    members: Sequence[StockCell],
    at: Condition,
    converted: dict[str, Converted],
    failed: dict[str, str],
) -> None:
    """Every cell of a kind; and of each condition, for one cell in the middle, what each uncertain thing does to it."""
    groups: dict[tuple[Condition, bool], list[StockCell]] = {}
    for cell in members:
        own = condition_of(cell)
        assert own is not None
        groups.setdefault((own, _own_resistance(cell) is not None), []).append(cell)
    count = 2 * (kind.factor.shape[1] + 1)
    middles = [sorted(group, key=lambda c: c.capacity or 0.0)[len(group) // 2] for group in groups.values()]
    rows = [*members, *(cell for cell in middles for _ in range(count))]
    base = kind.cells.take(np.zeros(len(members), int))
    drawn = [_varied(kind, cell) for cell in middles]
    model = _stacked([_sized(base, kind, members), *drawn])
    was = [which for cell in rows if (which := condition_of(cell)) is not None]
    before = [np.array([getattr(c, key) for c in was]) for key in ("current", "cutoff", "ambient")]
    measured = np.array([cell.capacity for cell in rows], dtype=float)
    full = sought(model, measured, *before)
    usable = np.isfinite(full.capacity)
    first = usable.copy()
    full = replace(full, capacity=np.where(usable, full.capacity, measured))
    charge, steep = given(full, at.current, at.cutoff, at.ambient)
    usable &= charge > LEAST * full.capacity
    _, steep_before = given(full, *before)
    noise = np.hypot(*(np.minimum(kind.noise / np.maximum(s, 1e-9), FARTHEST) for s in (steep, steep_before)))
    place = len(members)
    widths = {}
    for key, middle in zip(groups, middles):
        k = members.index(middle)
        ratio = np.log(np.maximum(charge[place : place + count], 1e-9) / np.maximum(measured[place], 1e-9))
        if usable[k]:
            half = 0.5 * (ratio[0::2] - ratio[1::2])
            paces = kind.pace * abs(math.log(at.current / key[0].current))
            widths[key] = math.hypot(float(np.sqrt(np.sum(half**2))), float(noise[k]), paces)
        place += count
    for k, cell in enumerate(members):
        known = _own_resistance(cell) is not None
        if not usable[k] or (was[k], known) not in widths:
            failed[cell.id] = f"by {kind.title} a full cell gives next to nothing at {was[k] if not first[k] else at}"
            continue
        spread = widths[was[k], known]
        converted[cell.id] = Converted(was[k], at, float(charge[k]), spread, kind.title, kind.typical, known)


def _own_resistance(cell: StockCell) -> tuple[float, float] | None:
    """Resistance by direct current, and how long after the step. [ohm], [s]"""
    t = SECONDS.get(cell.method)
    return (cell.resistance, t) if t and cell.resistance else None


def _sized(base: CellCases, kind: _Kind, cells: Sequence[StockCell]) -> CellCases:
    """The kind's cell, one case for each: with the resistance measured, or that of its size."""
    times = np.ones(len(cells))
    for k, cell in enumerate(cells):
        own = _own_resistance(cell)
        if own is not None:
            times[k] = own[0] / float(after(base.take([k]), own[1])[0])
        elif kind.typical:
            size = float(kind.cells.capacity[0])
            times[k] = size / (cell.nameplate or cell.capacity or size)
    return with_resistance(base, times)


def _varied(kind: _Kind, cell: StockCell) -> CellCases:
    """A cell with each uncertain thing one standard deviation up and down, in pairs; the last is its resistance."""
    r = kind.factor.shape[1]
    by = np.repeat(kind.factor.T, 2, axis=0) * np.tile([1.0, -1.0], r)[:, None]
    varied = moved(kind.cells, kind.names, np.vstack([by, np.zeros((2, by.shape[1]))]))
    own = _own_resistance(cell)
    # A fit knows the resistance of the cell that was logged, not that of its neighbours in the box.
    width = cell.resistance_spread if own is not None else CELL_TO_CELL
    varied = _sized(varied, kind, [cell] * varied.count) if own is not None or kind.typical else varied
    times = np.ones(varied.count)
    times[-2:] = math.exp(width), math.exp(-width)
    return with_resistance(varied, times)


def _stacked(parts: Sequence[CellCases]) -> CellCases:
    """Cases one after another; all on the same knots."""
    names = [f.name for f in fields(CellCases) if f.name not in SHARED]
    together: dict[str, Any] = {name: np.concatenate([getattr(p, name) for p in parts]) for name in names}
    return replace(parts[0], **together)
