"""Numbers as loggers write them: decimal comma or point, thousands, units in the field, words for nothing."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from tideover.cells.log import Array

MISSING = frozenset(
    (
        "",
        "-",
        "--",
        "---",
        "----",
        "nan",
        "na",
        "n/a",
        "#n/a",
        "null",
        "none",
        "nil",
        "ol",
        "o.l",
        "o.l.",
        "0l",
        "ovl",
        "ovr",
        "over",
        "overload",
        "inf",
        "+inf",
        "-inf",
        "#value!",
        "#div/0!",
        "err",
        "error",
        "?",
        "*",
        "invalid",
    )
)
"""Words that stand where nothing was measured, in small letters."""

_CELL = re.compile(r"([+-]?)\s*((?:[0-9][0-9.,' ]*)|(?:[.,][0-9]+))((?:[eE][+-]?[0-9]+)?)\s*([^\d\s.,'+\-][^\d]*)?")
_DATE = re.compile(r"[0-9]{1,4}([./-])[0-9]{1,2}\1[0-9]{1,4}.*|.*:.*", re.DOTALL)
_BLANKS = str.maketrans({"\u00a0": " ", "\u202f": " ", "\u2009": " ", "’": "'", "−": "-", "–": "-", "‑": "-"})

LARGEST = 1e13
"""What no logger means: a time in milliseconds since 1970 is 2e12, and beyond this a double tells no second from the
next. Such a number counts as not measured."""


def decimal_evidence(cells: Sequence[str]) -> tuple[list[str], list[str], list[str]]:
    """Which fields prove a decimal point, which a decimal comma, and which have a comma that proves nothing."""
    point: list[str] = []
    comma: list[str] = []
    either: list[str] = []
    for cell in cells:
        if ("," not in cell and "." not in cell) or _DATE.fullmatch(cell):
            continue
        found = _CELL.fullmatch(cell.translate(_BLANKS).strip())
        if not found:
            continue
        number = found[2].replace("'", "").replace(" ", "")
        if "," in number and "." in number:
            (comma if number.rfind(",") > number.rfind(".") else point).append(cell)
            continue
        mark = "," if "," in number else "."
        before, *after = number.split(mark)
        if not after:  # the mark stood in the exponent or the unit
            continue
        if len(after) > 1:
            (point if mark == "," else comma).append(cell)  # it parts thousands, so the other one marks decimals
        elif len(after[0]) != 3 or len(before) > 3 or before in ("", "0", "00") or found[3]:
            (comma if mark == "," else point).append(cell)
        elif mark == ",":
            either.append(cell)
    return point, comma, either


def numbers(cells: list[str], decimal: str) -> tuple[Array, list[str] | None, list[int]]:
    """Values of fields, NaN where nothing was measured.

    Parameters
    ----------
    cells : list of str
        Fields without the blanks around them. [-]
    decimal : str
        ``.`` or ``,``. [-]

    Returns
    -------
    values : array
        In the unit that stands in the field or the header. [-]
    units : list of str, or None
        Unit in each field; None when none has one.
    odd : list of int
        Fields that are no number; their value is NaN.
    """
    try:
        values = np.array(_points(cells, decimal), dtype=float)
        with np.errstate(invalid="ignore"):
            return np.where(np.abs(values) < LARGEST, values, np.nan), None, []
    except ValueError:
        pass
    values = np.full(len(cells), np.nan)
    units = [""] * len(cells)
    odd = []
    for k, cell in enumerate(cells):
        try:
            value, units[k] = number(cell, decimal)
        except ValueError:
            odd.append(k)
            continue
        values[k] = value if abs(value) < LARGEST else np.nan
    return values, (units if any(units) else None), odd


def _points(cells: list[str], decimal: str) -> list[str]:
    """With decimal points; ValueError when thousands may be marked."""
    joined = "\x1f".join(cells)
    if "_" in joined:
        raise ValueError
    if decimal == ",":
        if "." in joined:
            raise ValueError
        return joined.replace(",", ".").split("\x1f")
    return cells


def number(cell: str, decimal: str) -> tuple[float, str]:
    """Value and unit of one field.

    Raises
    ------
    ValueError
        It is no number.

    Examples
    --------
    >>> number("1.234,5 mA", ",")
    (1234.5, 'mA')
    """
    text = cell.translate(_BLANKS).strip()
    if text.casefold() in MISSING:
        return float("nan"), ""
    found = _CELL.fullmatch(text)
    if not found:
        raise ValueError(cell)
    other = "." if decimal == "," else ","
    digits = found[2].strip()
    whole, _, part = digits.partition(decimal)
    if decimal in part or other in part or "'" in part or " " in part:
        raise ValueError(cell)
    for mark in (other, "'", " "):
        groups = whole.split(mark)
        if len(groups) > 1:
            if not 1 <= len(groups[0]) <= 3 or any(len(group) != 3 for group in groups[1:]):
                raise ValueError(cell)
            whole = "".join(groups)
    if not re.fullmatch("[0-9]*", whole) or not re.fullmatch("[0-9]*", part):
        raise ValueError(cell)
    return float(f"{found[1]}{whole or '0'}.{part or '0'}{found[3]}"), (found[4] or "").strip()
