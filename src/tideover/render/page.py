"""A page of text: so many columns wide, in an encoding that may lack characters, with or without colour."""

from __future__ import annotations

import math
import re
import textwrap
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT
from tideover.quantity import show

WIDTH = 80
MARKS = {FAILS: "▼", TIGHT: "◆", HOLDS: "●", OPEN: "○"}
COLOURS = {FAILS: "31", TIGHT: "33", HOLDS: "32", OPEN: "36"}
"""Of the terminal: red, yellow, green, cyan. Word and mark say the same, so nothing hangs on them."""
# What stands for a character that the encoding lacks. The units are those that `tideover.quantity` reads.
INSTEAD = {
    "▼": "X",
    "◆": "!",
    "●": "=",
    "○": "?",
    "µ": "u",
    "μ": "u",
    "Ω": "ohm",
    "°": "deg",
    "±": "+-",
    "×": "x",
    "²": "2",
    "³": "3",
    "·": ".",
    "–": "-",
    "—": "-",
    "−": "-",
    "→": ">",
    "≤": "<=",
    "≥": ">=",
    "≈": "~",
    "η": "eta",
    "Δ": "d",
    "…": "...",
    "’": "'",
    "‘": "'",
    "“": '"',
    "”": '"',
    "•": "*",
    "│": "|",
    "─": "-",
    "┼": "+",
    "└": "+",
    "┤": "+",
}
NOTHING = "–"
"""Stands in a table where there is no value."""
LONG = 14
"""Text of a table may be broken into pieces as narrow as this."""
DIGITS = {"V": 4, "s": 4}
"""Significant digits in tables where three are too few: a window is a few per cent wide, events stand close."""
SMALLEST = {"V": 5e-5, "A": 1e-9, "W": 1e-9}
"""Smaller than this is shown as nothing: no meter on a bench of this kind sees it."""
NOISE = 1e-12
"""The same in other units: the computation's own noise."""


def number(value: float | None, unit: str, digits: int = 3) -> str:
    """A value as a person writes it; a dash where there is none.

    Examples
    --------
    >>> number(0.0048, "s"), number(5e-323, "V"), number(float("nan"), "V")
    ('4.8 ms', '0 V', '–')
    """
    if value is None or math.isnan(value):
        return NOTHING
    if not unit and 0.0 < abs(value) < 1e-3:
        return f"{value:.2g}"
    return show(0.0 if abs(value) < SMALLEST.get(unit, NOISE) else value, unit, digits)


@lru_cache(maxsize=1024)
def _written(character: str, encoding: str) -> str:
    """A character as it is, or what stands for it."""
    try:
        character.encode(encoding)
        return character
    except UnicodeEncodeError:
        pass
    if character in INSTEAD:
        return INSTEAD[character]
    bare = "".join(c for c in unicodedata.normalize("NFKD", character) if not unicodedata.combining(c))
    return bare if bare.isascii() and bare else "?"


@dataclass(frozen=True)
class Page:
    """How text is laid out.

    Attributes
    ----------
    width : int
        Columns.
    encoding : str
        What the reader's terminal or pipe can take.
    colour : bool
        Whether escape sequences may be used.
    """

    width: int = WIDTH
    encoding: str = "utf-8"
    colour: bool = False

    def plain(self, text: str) -> str:
        """The text in characters that the encoding has, without any that upset a terminal."""
        text = "".join(c if c.isprintable() or c == "\n" else " " for c in text)
        if text.isascii():
            return text
        text = text.replace("°C", "degC") if _written("°", self.encoding) != "°" else text
        return "".join(c if c.isascii() else _written(c, self.encoding) for c in text)

    def wrap(self, text: str, indent: str = "", hanging: str | None = None) -> list[str]:
        """Break into lines; `indent` begins the first and `hanging` the others. A number keeps its unit."""
        return _break(
            self.plain(text),
            self.width,
            self.plain(indent),
            self.plain(indent if hanging is None else hanging),
        )

    def mark(self, status: str) -> str:
        """Sign of a status."""
        return self.tint(self.plain(MARKS[status]), status)

    def tint(self, text: str, status: str) -> str:
        """In the colour of a status, where colours are."""
        return f"\x1b[{COLOURS[status]}m{text}\x1b[0m" if self.colour else text

    def strong(self, text: str) -> str:
        """Bold, where that is."""
        return f"\x1b[1m{text}\x1b[0m" if self.colour else text


_UNIT = re.compile(r"(?<=[0-9]) (?=[^\W\d_]{1,3}\b|[µΩ%°])")
_SINGLE = "\u00a0"


def _tied(text: str) -> str:
    """Words with one space between them, which does not break between a number and its unit."""
    return _UNIT.sub(_SINGLE, " ".join(text.split()))


def _break(text: str, width: int, indent: str = "", hanging: str = "", hyphens: bool = False) -> list[str]:
    """Lines of a text."""
    lines = textwrap.wrap(
        _tied(text),
        max(width, len(hanging) + 10) if hanging else width,
        initial_indent=indent,
        subsequent_indent=hanging,
        break_on_hyphens=hyphens,
        expand_tabs=False,
    )
    return [line.replace(_SINGLE, " ") for line in lines] or [indent.rstrip()]


def grid(page: Page, columns: Sequence[tuple[str, str]], rows: Sequence[Sequence[object]]) -> list[str]:
    """A table: headings over columns, numbers with their unit to the right, text to the left.

    Parameters
    ----------
    page : Page
        Where it goes. [-]
    columns : sequence of (heading, unit)
        An empty unit for text and plain numbers. [-]
    rows : sequence of sequence
        Text or SI numbers. [-]

    Returns
    -------
    lines : list of str
        A table too wide even with its text wrapped is cut into several, each with the first column.
    """
    headings = [page.plain(name) for name, _ in columns]
    cells = [[page.plain(cell(value, columns[k][1])) for k, value in enumerate(row)] for row in rows]
    right = [
        bool(rows) and all(isinstance(row[k], int | float) or row[k] is None for row in rows)
        for k in range(len(columns))
    ]
    widths = _widths(headings, cells, right, page.width - 2)
    if sum(widths) + 2 * (len(widths) - 1) <= page.width - 2 or len(columns) <= 2:
        return _set(headings, cells, right, widths)
    return _cut(headings, cells, right, widths, page.width - 2)


def cell(value: object, unit: str) -> str:
    """One value of a table as text."""
    if value is None:
        return NOTHING
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return str(value) if isinstance(value, int) and not unit else number(float(value), unit, DIGITS.get(unit, 3))
    return str(value)


def _widths(headings: list[str], cells: list[list[str]], right: list[bool], room: int) -> list[int]:
    """Widths of columns, the widest text narrowed until all of them fit or none can be narrowed further."""
    widths = [max(map(len, (h, *(row[k] for row in cells)))) for k, h in enumerate(headings)]
    least = [
        max(
            [min(len(w), LONG) for w in _tied(headings[k]).split(" ")]
            + [len(row[k]) if right[k] else min(len(row[k]), LONG) for row in cells]
            + [4]
        )
        for k in range(len(headings))
    ]
    while sum(widths) + 2 * (len(widths) - 1) > room:
        over = [k for k in range(len(widths)) if widths[k] > least[k]]
        if not over:
            break
        widths[max(over, key=lambda k: widths[k] - (1000 if right[k] else 0))] -= 1
    return widths


def _set(headings: list[str], cells: list[list[str]], right: list[bool], widths: list[int]) -> list[str]:
    lines = _row(headings, right, widths)
    lines.append("  " + "  ".join("-" * w for w in widths))
    for row in cells:
        lines += _row(row, right, widths)
    return lines


def _row(row: list[str], right: list[bool], widths: list[int]) -> list[str]:
    """One row, as many lines as its tallest cell."""
    stacks = [_break(text, w, hyphens=True) if len(text) > w else [text] for text, w in zip(row, widths)]
    stacks = [
        [piece for line in stack for piece in ([line[i : i + w] for i in range(0, len(line), w)] or [""])]
        for stack, w in zip(stacks, widths)
    ]
    lines = []
    for k in range(max(map(len, stacks))):
        pieces = [
            (stack[k] if k < len(stack) else "").rjust(w) if r else (stack[k] if k < len(stack) else "").ljust(w)
            for stack, w, r in zip(stacks, widths, right)
        ]
        lines.append(("  " + "  ".join(pieces)).rstrip())
    return lines


def _cut(headings: list[str], cells: list[list[str]], right: list[bool], widths: list[int], room: int) -> list[str]:
    """Several tables, each with the first column and as many others as fit, one below the other."""
    widths = [min(widths[0], room // 2), *widths[1:]]
    lines: list[str] = []
    first = 1
    while first < len(widths):
        last, used = first, widths[0]
        while last < len(widths) and (last == first or used + 2 + widths[last] <= room):
            used += 2 + widths[last]
            last += 1
        these = [0, *range(first, last)]
        names, values = [headings[k] for k in these], [[row[k] for k in these] for row in cells]
        sides = [right[k] for k in these]
        lines += [""] if lines else []
        lines += _set(names, values, sides, _widths(names, values, sides, room))
        first = last
    return lines
