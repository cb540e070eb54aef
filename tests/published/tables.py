"""The published tables, where they are at hand: they are not part of the project."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tideover.cells.log import Log
from tideover.cells.log_read import read_log

FOLDER = Path(os.environ.get("TIDEOVER_CELLS") or Path(__file__).parents[2].parent / "shared" / "data" / "cells")
"""``TIDEOVER_CELLS`` names it; else it is sought beside the project."""
Reader = Callable[[str], Log]
"""Reads a table by its name."""


def reader(folder: Path) -> Reader:
    """Reads as `tideover cells read` does; FileNotFoundError for a table that is not there."""

    def read(name: str) -> Log:
        if not (folder / name).is_file():
            raise FileNotFoundError(f"published table {name} is not in {folder}: this is judged by nothing")
        return read_log(folder / name)

    return read


def log(name: str) -> Log:
    """The same for a test, which is skipped without the table and says so."""
    try:
        return reader(FOLDER)(name)
    except FileNotFoundError as error:
        pytest.skip(str(error))


def under_load(record: Log) -> tuple[slice, float, float]:
    """Rows of a discharge at constant current, that current, and how long it lasted."""
    rows = np.flatnonzero(record.i > 0.5 * np.median(record.i[record.i > 0.0]))
    current = float(np.median(record.i[rows]))
    return slice(rows[0] + 1, rows[-1]), current, float(record.t[rows[-1]] - record.t[rows[0]])
