"""Cells as they are described in files of their own, beside the build file."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from tideover.design.model import Value
from tideover.design.strip_layout import StripLayout
from tideover.laws.cell_curve import CellCurve
from tideover.quantity import Quantity

POOR = "Poor fit"
"""How a note of a cell's file begins that warns of logs which the fit does not follow."""


@dataclass(frozen=True, eq=False)
class CellModel:
    """One kind of cell: from a fit of its logs, or from the shelf.

    Attributes
    ----------
    title, file : str
        What it is called; the file it was read from, empty for the shelf's.
    values : dict of str to Quantity or float
        By Python name of the pack's parameter, as in `PartSpec`; what is not there keeps the pack's default.
    origins : dict of str to str
        Where each value comes from.
    curve : CellCurve or None
        None where the chemistry's typical curve counts.
    fit : dict
        What the fit wrote for itself, as plain text; see `tideover.cells`.
    notes : tuple of str
        What a reader of the file should know.
    """

    title: str
    file: str
    values: dict[str, Value]
    origins: dict[str, str]
    curve: CellCurve | None = None
    fit: dict[str, Any] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    @property
    def doubts(self) -> tuple[str, ...]:
        """Notes that warn of logs which the fit does not follow."""
        return tuple(note for note in self.notes if note.startswith(POOR))


@dataclass(frozen=True)
class BuiltCell:
    """One cell in its place in a pack.

    Attributes
    ----------
    id : str
        As on its label.
    capacity : Quantity
        With its tolerance. [C]
    resistance : Quantity or None
        None where it was not measured. [ohm]
    method : str
        How the resistance was taken: ``DC 1 s``, ``DC 10 s``, ``AC 1 kHz``.
    model, age : str
        The builder's words.
    """

    id: str
    capacity: Quantity
    resistance: Quantity | None = None
    method: str = ""
    model: str = ""
    age: str = ""


@dataclass(frozen=True, eq=False)
class BuiltPack:
    """A pack of cells that are known one by one.

    Attributes
    ----------
    title, file : str
        What it is called, and the file it was read from.
    cell : CellModel
        What the cells have in common.
    groups : tuple of tuple of BuiltCell
        From the pack's plus end; all groups have as many cells.
    strip : StripLayout or None
        How the cells are joined; None where nobody said.
    """

    title: str
    file: str
    cell: CellModel
    groups: tuple[tuple[BuiltCell, ...], ...]
    strip: StripLayout | None = None

    @property
    def series(self) -> int:
        """Groups in series. [-]"""
        return len(self.groups)

    @property
    def parallel(self) -> int:
        """Cells side by side in a group. [-]"""
        return len(self.groups[0])
