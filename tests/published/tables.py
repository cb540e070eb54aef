"""The published tables, where they are at hand: they are not part of the project."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from tideover.cells.log import Log
from tideover.cells.log_read import read_log

FOLDER = Path(os.environ.get("TIDEOVER_CELLS") or Path(__file__).parents[2].parent / "shared" / "data" / "cells")
"""``TIDEOVER_CELLS`` names it; else it is sought beside the project."""


def log(name: str, folder: Path | None = None) -> Log:
    """A table as `tideover cells read` reads it; a test without it is skipped and says so."""
    path = (folder or FOLDER) / name
    if not path.is_file():
        pytest.skip(f"published table {name} is not in {path.parent}: this is judged by nothing")
    return read_log(path)


def under_load(record: Log) -> tuple[slice, float, float]:
    """Rows of a discharge at constant current, that current, and how long it lasted."""
    rows = np.flatnonzero(record.i > 0.5 * np.median(record.i[record.i > 0.0]))
    current = float(np.median(record.i[rows]))
    return slice(rows[0] + 1, rows[-1]), current, float(record.t[rows[-1]] - record.t[rows[0]])
