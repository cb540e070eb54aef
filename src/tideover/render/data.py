"""Answers as plain data, for ``--json``; the shape is described in ``docs/command-line.md`` and stays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from tideover.answers.base import Answer, worst

FORM = 1
"""Version of the shape; it changes when a reader of the old one would be misled."""


def sheet(title: str, path: str, seed: int, answers: Sequence[Answer], cautions: Sequence[str] = ()) -> dict[str, Any]:
    """The sheet as data: numbers in SI, null where there is none.

    Parameters
    ----------
    title, path : str
        Of the build. [-]
    seed : int
        Of the random draws. [-]
    answers : sequence of Answer
        In the order of the sheet. [-]
    cautions : sequence of str
        Of the build as a whole. [-]

    Returns
    -------
    data : dict
        Of str, int, float, bool, None, list and dict.
    """
    return {
        "form": FORM,
        "title": title,
        "build": path,
        "seed": seed,
        "status": worst(a.status for a in answers),
        "answers": {a.key: answer(a) for a in answers},
        "cautions": list(cautions),
    }


def answer(a: Answer) -> dict[str, Any]:
    """One answer as data."""
    return {
        "question": a.question,
        "status": a.status,
        "headline": a.headline,
        "findings": [plain(asdict(f)) for f in a.findings],
        "tables": [
            {
                "title": t.title,
                "columns": [{"name": name, "unit": unit} for name, unit in t.columns],
                "rows": plain(t.rows),
            }
            for t in a.tables
        ],
        "series": [plain(asdict(s)) for s in a.series],
        "spreads": [plain(asdict(s)) for s in a.spreads],
        "cautions": list(a.cautions),
    }


def plain(value: Any) -> Any:
    """Without tuples, arrays, and numbers that JSON lacks: those become null."""
    if isinstance(value, dict):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, str) or value is None or isinstance(value, bool):
        return value
    if hasattr(value, "tolist"):  # an array, or a number of an array
        return plain(value.tolist())
    if isinstance(value, list | tuple):
        return [plain(v) for v in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, int):
        return value
    return str(value)
