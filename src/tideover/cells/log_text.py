"""A logger's file as text: its encoding, what parts its columns, where its header stands and its rows begin."""

from __future__ import annotations

import codecs
import csv
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from tideover.cells import log_faults as say
from tideover.cells.log_numbers import MISSING
from tideover.design.messages import BuildError, quoted

LARGEST = 200_000_000
"""Bytes of the largest file."""
SAMPLE = 2000
"""Lines looked at to find out how the file is laid out."""
LONGEST = 20_000
"""Characters of the longest line."""
CHUNK = 100_000
"""Lines split at once, so that a long file does not fill the memory with words."""
BLANKS = " "
"""Stands for runs of blanks as the delimiter."""
DELIMITERS = ("\t", ";", "|", ",", BLANKS)
"""In the order in which they are believed when they fit equally well."""
SPOKEN = {"\t": "tabs", ";": "semicolons", "|": "bars", ",": "commas", BLANKS: "blanks", "": "nothing"}

_NUMBER = re.compile(
    r"[+\-−]?\s?(?:[0-9][0-9.,'’\u00a0\u202f]*|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?(?:\s?[^\W\d_%°]{1,4}|\s?[%°]C?)?"
)
_TIME = re.compile(
    r"(?:[0-9]+\s?d(?:ays?)?,?\s?|[0-9]+[.\-])?[0-9]{1,4}:[0-9]{2}(?::[0-9]{2}(?:[.,:][0-9]+)?)?(?:\s?[AaPp][Mm])?"
    r"|[0-9]{1,4}[-/.][0-9]{1,2}[-/.][0-9]{1,4}(?:[T ,]\s?[0-9]{1,2}:[0-9]{2}(?::[0-9]{2}(?:[.,][0-9]+)?)?)?"
    r"(?:\s?(?:Z|UTC|[+-][0-9]{2}:?[0-9]{2}|[AaPp][Mm]))?"
)
_WORD = re.compile(r"[^0-9,;|\t]*")
_REMARKS = ("#", "//", "%", "!")
_BRACKETED = re.compile(r"[^\s\[(]+(?:\s*[\[(][^\])]*[\])])?")


@dataclass(frozen=True)
class Layout:
    """How a file is laid out.

    Attributes
    ----------
    lines : list of str
        All of them, without their ends.
    delimiter : str
        One of `DELIMITERS`; empty for a file of one column.
    width : int
        Fields of a row. [-]
    header, units : tuple of str
        Names of the columns, empty without a header; the row of units beneath, if there is one.
    header_line, first : int
        Index of the header (-1 without) and of the first row. [-]
    remarks : tuple of str
        Lines above the table.
    whole : bool
        Whether the last line ends with a line end; else a killed logger may have cut it.
    """

    lines: list[str]
    delimiter: str
    width: int
    header: tuple[str, ...]
    units: tuple[str, ...]
    header_line: int
    first: int
    remarks: tuple[str, ...]
    whole: bool


@dataclass
class Rows:
    """A piece of the table: fields of each row, the line where it stands (counted from 1), rows that are none."""

    fields: list[list[str]] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    odd: list[tuple[int, str]] = field(default_factory=list)
    headers: int = 0
    remarks: list[str] = field(default_factory=list)


def decoded(raw: bytes, name: str) -> tuple[str, str]:
    """Text of a file and a note on its encoding, empty when nothing had to be guessed.

    Raises
    ------
    BuildError
        It is no text.
    """
    for mark, encoding in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if raw.startswith(mark):
            try:
                text = raw.decode(encoding)
            except UnicodeDecodeError:
                raise BuildError([say.not_text(name)]) from None
            return text.replace("\0", ""), ""
    if b"\0" in raw[:4096]:
        raise BuildError([say.not_text(name)])
    raw = raw.replace(b"\0", b"")  # a logger that lost power leaves them in the middle
    try:
        return raw.decode("utf-8"), ""
    except UnicodeDecodeError:
        text = raw.decode("latin-1")
    odd = sum(ch < " " and ch not in "\t\n\r\f\v" for ch in text[:LONGEST])
    if odd > 0.01 * len(text[:LONGEST]):
        raise BuildError([say.not_text(name)])
    return text, "The file is not UTF-8; it was read as Latin-1."


def laid_out(text: str, name: str, columns: int = 0) -> Layout:
    """Find delimiter, header and first row.

    Parameters
    ----------
    text : str
        Of the file. [-]
    name : str
        Of the file, for messages. [-]
    columns : int
        How many were stated in order; 0 if none were. [-]

    Raises
    ------
    BuildError
        There is no table, or it cannot be told what parts its columns.
    """
    whole = text.endswith(("\n", "\r"))
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    sample = [(k, line) for k, line in enumerate(lines[: 2 * SAMPLE]) if line.strip()][:SAMPLE]
    if any(len(line) > LONGEST for line in lines):
        raise BuildError([say.not_text(name)])
    delimiter, width = _delimiter([line for _, line in sample if not _remark(line)], columns)
    rows = [(k, split(line, delimiter)) for k, line in sample]
    start = _first(rows, width)
    if not width or start is None:
        raise BuildError([say.no_rows(name)])
    header, units, header_line = _header(rows, start, delimiter, width)
    first = rows[start][0]
    if header and len(header) != width and not columns:
        if delimiter == "," and len(header) == 1 and width == 2:
            delimiter, width = "", 1  # one column with decimal commas
        elif delimiter == "," and width > len(header):
            raise BuildError([say.comma_twice(name, first + 1, lines[first], len(header), width)])
        elif abs(len(header) - width) == 1 and not (header[-1] if len(header) > width else "").strip():
            header = header[:width] + ("",) * (width - len(header))
        else:
            raise BuildError([say.header_unlike(name, header_line + 1, len(header), width)])
    above = [line.strip() for k, line in sample if k < first and k != header_line and not (units and k > header_line)]
    return Layout(lines, delimiter, width, header, units, header_line, first, tuple(above[:20]), whole)


def split(line: str, delimiter: str) -> list[str]:
    """Fields of a line, without the blanks and quotes around them."""
    if delimiter == BLANKS:
        return line.split()
    if not delimiter:
        return [line.strip().strip('"')]
    if '"' in line:
        return [cell.strip() for cell in next(csv.reader([line.strip()], delimiter=delimiter, skipinitialspace=True))]
    return [cell.strip() for cell in line.split(delimiter)]


def pieces(layout: Layout, needed: int) -> Iterator[Rows]:
    """The rows of the table, a piece at a time.

    Parameters
    ----------
    layout : Layout
        Of the file. [-]
    needed : int
        Fields that a row must have to be of use. [-]
    """
    header = list(layout.header)
    count = len(layout.lines)
    for begin in range(layout.first, count, CHUNK):
        out = Rows()
        for k in range(begin, min(begin + CHUNK, count)):
            line = layout.lines[k]
            if not line.strip():
                continue
            if _remark(line):
                out.remarks.append(line.strip())
                continue
            row = split(line, layout.delimiter)
            if header and row == header:
                out.headers += 1
                continue
            if len(row) > layout.width and not any(row[layout.width :]):
                row = row[: layout.width]
            last = not layout.whole and k == count - 1
            if needed <= len(row) <= layout.width and not (last and len(row) < layout.width):
                out.fields.append(row)
                out.lines.append(k + 1)
            else:
                out.odd.append((k + 1, line))
        yield out


def _remark(line: str) -> bool:
    return line.lstrip().startswith(_REMARKS)


def _delimiter(lines: list[str], columns: int) -> tuple[str, int]:
    """What parts the columns, and how many there are: what makes values of the most lines."""
    best, most, wide = "", 0, 0
    for delimiter in DELIMITERS:
        counts: Counter[int] = Counter()
        for line in lines:
            cells = split(line, delimiter)
            if len(cells) > 1 and sum(_data(cell) for cell in cells) and all(_like_value(cell) for cell in cells):
                counts[len(cells) - (not cells[-1] and len(cells) > 2)] += 1
        if columns == 1 and delimiter in (",", BLANKS):
            continue
        width, n = max(counts.items(), key=lambda item: (item[1], item[0]), default=(0, 0))
        if n > most:
            best, most, wide = delimiter, n, width
    single = sum(_one_number(line.strip().strip('"')) for line in lines)
    if single > most:
        return "", 1
    return best, wide


def _data(cell: str) -> bool:
    return bool(_NUMBER.fullmatch(cell) or _TIME.fullmatch(cell))


def _one_number(line: str) -> bool:
    return _data(line) and line.count(",") + line.count(";") <= 1


def _like_value(cell: str) -> bool:
    return (
        not cell
        or _data(cell)
        or cell.casefold() in MISSING
        or (len(cell) < 40 and bool(_WORD.fullmatch(cell) or re.search("[A-Za-z]", cell[:3])))
    )


def _first(rows: list[tuple[int, list[str]]], width: int) -> int | None:
    """Index of the first row of numbers: the lines after it are rows as well."""
    enough = min(2, width)

    def good(cells: list[str]) -> bool:
        return len(cells) in (width, width + 1) and sum(_data(cell) for cell in cells) >= enough

    are = [good(cells) and not _remark(cells[0]) for _, cells in rows]
    for k, one in enumerate(are):
        if one and sum(are[k : k + 4]) >= min(3, len(are) - k):
            return k
    return None


def _header(
    rows: list[tuple[int, list[str]]], start: int, delimiter: str, width: int
) -> tuple[tuple[str, ...], tuple[str, ...], int]:
    """Names, units beneath and the index of the header; nothing when the line above is none."""
    from tideover.cells.log_columns import is_name, is_unit

    above = []
    for k, cells in rows[max(start - 2, 0) : start]:
        if cells and _remark(cells[0]):
            cells = [cells[0].lstrip("#/%! "), *cells[1:]]
            cells = cells[1:] if not cells[0] else cells
        if delimiter == BLANKS and len(cells) != width:
            cells = _BRACKETED.findall(" ".join(cells))
        above.append((k, cells))
    if not above:
        return (), (), -1
    k, cells = above[-1]
    if any(_data(cell) and cell for cell in cells if not is_name(cell)) or not any(map(is_name, cells)):
        units_only = cells and all(not c or is_unit(c) for c in cells)
        if not (units_only and len(above) > 1 and len(cells) <= width + 1):
            return (), (), -1
    if len(above) > 1 and any(cells) and all(not c or is_unit(c) for c in cells):
        before, names = above[-2]
        if abs(len(names) - width) <= 1 and sum(map(is_name, names)) >= 1:
            return tuple(names), tuple(cells), before
    return tuple(cells), (), k


def told(layout: Layout) -> list[str]:
    """What was found above the table, for the list of what was assumed."""
    if not layout.remarks:
        return []
    some = ", ".join(quoted(line) for line in layout.remarks[:3])
    more = f" and {len(layout.remarks) - 3} more" if len(layout.remarks) > 3 else ""
    return [f"Lines above the table are remarks: {some}{more}."]
