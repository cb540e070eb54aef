"""The cells of a build as the screen shows them: the inventory, kinds of cell that were fitted, packs to be welded."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from tideover.answers.base import Series
from tideover.cells import columns as col
from tideover.cells.columns import COLUMNS, WrongValueError
from tideover.cells.importing import Told, merge, pairs, read_table
from tideover.cells.inventory import Change, Inventory, inventory_file, load, store
from tideover.cells.screening import Verdict, screen
from tideover.cells.stock import StockCell
from tideover.design import BuildError, Fault, cell_files
from tideover.design.cell_model import BuiltPack, CellModel
from tideover.design.model import Place
from tideover.design.source import Scalar
from tideover.draw.chart import chart
from tideover.draw.pack import sheets
from tideover.draw.pack_plan import plan_of
from tideover.parts.pack import PACK
from tideover.shelf import find

SHOWN = (
    "id",
    "model",
    "capacity",
    "resistance",
    "method",
    "arrival",
    "heating",
    "status",
    "reason",
    "notes",
)
"""Columns on the screen; the others stand in the file."""
FIXED = ("id",)
"""What a cell is called stands on its label."""
COMMAND = "the screen"
"""Who changed it, in the history."""


class RefusedError(Exception):
    """A value or a table that was not taken; the text says why and how to mend it."""


@dataclass(frozen=True)
class Described:
    """One file of `cells/` that describes a kind of cell or a pack.

    Attributes
    ----------
    file, title : str
        Its name, and what it calls itself.
    figures : tuple of str
        Charts of a kind of cell, or drawings of a pack.
    notes : tuple of str
        What a reader should know.
    """

    file: str
    title: str
    figures: tuple[str, ...]
    notes: tuple[str, ...] = ()


def stock(folder: Path) -> tuple[Inventory | None, tuple[Verdict, ...], tuple[Fault, ...]]:
    """The inventory of a build with what screening says of each cell, or what is wrong with its file."""
    path = inventory_file(folder)
    if not path.is_file():
        return None, (), ()
    try:
        table = load(path)
    except BuildError as error:
        return None, (), error.faults
    return table, screen(table.cells), ()


def shown(cell: StockCell, field: str) -> str:
    """A value of a cell as it is typed into its field."""
    value = getattr(cell, field)
    return "" if value is None or value == "" else col.spoken(col.BY_FIELD[field], value)


def change(folder: Path, name: str, field: str, typed: str, seen: str) -> tuple[Change, ...]:
    """Put a value into the inventory.

    Parameters
    ----------
    folder : Path
        Of the build. [-]
    name, field : str
        Which cell, and which of `SHOWN`. [-]
    typed, seen : str
        The new value, and what stood there when typing began. [-]

    Raises
    ------
    RefusedError
        The value is none of its kind, another one stands there by now, or there is no such cell.
    """
    column = col.BY_FIELD.get(field)
    if column is None or field not in SHOWN or field in FIXED:
        raise RefusedError(f"{field} cannot be changed here.")
    default = {c.field: getattr(StockCell("x"), c.field) for c in COLUMNS}[field]
    try:
        value = col.read(column, typed) if typed else default
    except WrongValueError as error:
        raise RefusedError(f"{error.problem}. {error.expected} {error.mend}") from None

    def edit(cells: tuple[StockCell, ...]) -> list[StockCell]:
        found = next((c for c in cells if c.id == name), None)
        if found is None:
            raise RefusedError(f"There is no cell {name} any more.")
        if shown(found, field) != seen:
            now = shown(found, field) or "nothing"
            raise RefusedError(f"{now} was put there meanwhile; yours was not taken. Look at it and type it again.")
        return [replace(found, **{field: value})]  # type: ignore[arg-type]

    try:
        return store(inventory_file(folder), edit, COMMAND)
    except BuildError as error:
        raise RefusedError(str(error)) from None


def take_in(folder: Path, table: Path, method: str, each: str, replacing: bool) -> tuple[int, tuple[str, ...]]:
    """Take the cells of another table into the inventory; how many values changed, and what was taken for granted.

    Raises
    ------
    RefusedError
        What is not certain must be said first; nothing was taken.
    """
    try:
        said = str(col.read(col.BY_FIELD["method"], method)) if method else ""
        told = Told({}, pairs(each), said)
        rows, notes = read_table(table, told)
        changes = store(
            inventory_file(folder), lambda cells: merge(cells, rows, table, replacing), f"{COMMAND}: {table.name}"
        )
    except WrongValueError as error:
        raise RefusedError(f"{error.problem}. {error.expected} {error.mend}") from None
    except (BuildError, ValueError) as error:
        raise RefusedError(str(error)) from None
    return len(changes), notes


def described(folder: Path) -> tuple[tuple[Described, ...], tuple[Described, ...], tuple[Fault, ...]]:
    """Kinds of cell and packs described below `cells/`, and what is wrong with such files."""
    kinds: list[Described] = []
    packs: list[Described] = []
    faults: list[Fault] = []
    for file in sorted((folder / "cells").glob("*.y*ml")):
        if file.is_symlink() or file.name.endswith(".read.yaml"):
            continue
        found = cell_files.read(Scalar(str(file), Place("", 1, 1), 0, 0), PACK, find, faults.append)  # type: ignore[arg-type]
        if isinstance(found, BuiltPack):
            drawn = tuple(sheet.markup(alone=False) for sheet in sheets(plan_of(found)))
            packs.append(Described(file.name, found.title, drawn, plan_of(found).notes))
        elif isinstance(found, CellModel):
            kinds.append(Described(file.name, found.title, _curves(found)))
    return tuple(kinds), tuple(packs), tuple(faults)


def _curves(model: CellModel) -> tuple[str, ...]:
    """Open-circuit voltage and resistances of a fitted cell against its charge."""
    curve = model.curve
    if curve is None:
        return ()
    x = tuple(float(k) for k in curve.knots)
    volts = Series("at rest", "state of charge", "", "V", x, tuple(float(v) for v in curve.volts))
    shapes = [
        Series(name, "state of charge", "", "", x, tuple(float(v) for v in shape))
        for name, shape in (("series resistance", curve.ohmic_shape), ("of its pairs", curve.lag_shape))
    ]
    return (
        chart([volts], title="Voltage at rest"),
        chart(shapes, title="Resistances, over those at half charge"),
    )
