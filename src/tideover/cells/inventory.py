"""The inventory: a table of cells in a text file that people edit by hand, and the history of what commands changed.

The file is kept as it was written: remarks (lines that begin with #), columns of the builder's own, the separator, the
decimal mark and every row that nobody changed stay to the letter. Each change by a command is entered in a second
file beside it, to which rows are only ever added.
"""

from __future__ import annotations

import contextlib
import csv
import hashlib
import io
import math
import os
import re
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, fields, replace
from datetime import datetime
from pathlib import Path
from typing import IO, Any

from tideover.cells import columns as col
from tideover.cells.columns import COLUMNS, Column, WrongValueError
from tideover.cells.stock import StockCell
from tideover.design.messages import BuildError, Fault, folded, meant, quoted
from tideover.design.model import Place
from tideover.files import write_text

NAME = "inventory.csv"
LARGEST = 5_000_000
"""Bytes of the largest inventory; four hundred cells with ten rest voltages each have a twentieth of it."""
MOST_TOLD = 40
"""Faults told one by one."""
HISTORY = ("when", "id", "column", "old", "new", "command")
_DEFAULTS = {field.name: field.default for field in fields(StockCell)}


@dataclass(frozen=True)
class Row:
    """One record of the file; `fields` is None for a remark or an empty line."""

    raw: str
    line: int
    fields: tuple[str, ...] | None = None
    id: str = ""


@dataclass(frozen=True)
class Inventory:
    """The table as it was read.

    Attributes
    ----------
    path : Path
        Its file, which need not be there yet.
    cells : tuple of StockCell
        In the order of the file.
    notes : tuple of str
        What was taken for granted, each a sentence.
    rows : tuple of Row
        Every line of it, the heading among them.
    header : tuple of str
        As written.
    delimiter, decimal, newline, mark : str
        How it is written; `mark` is the byte order mark, if it has one.
    digest : str
        SHA-256 of the file.
    """

    path: Path
    cells: tuple[StockCell, ...] = ()
    notes: tuple[str, ...] = ()
    rows: tuple[Row, ...] = ()
    header: tuple[str, ...] = ()
    delimiter: str = ","
    decimal: str = "."
    newline: str = "\n"
    mark: str = ""
    digest: str = ""


@dataclass(frozen=True)
class Change:
    """One value that a command changed; `old` is empty for what is new. Both are written as in the file."""

    id: str
    column: Column
    old: str
    new: str


def inventory_file(folder: Path) -> Path:
    """The table of a build folder, ``cells/inventory.csv``; or the one that the folder itself holds."""
    return folder / NAME if (folder / NAME).is_file() else folder / "cells" / NAME


def history_file(path: Path) -> Path:
    """Where the changes to an inventory are entered."""
    return path.with_name(f"{path.stem}.log.csv")


def read_inventory(path: Path) -> tuple[StockCell, ...]:
    """Cells of an inventory.

    Parameters
    ----------
    path : Path
        Of the table; it must be there. [-]

    Returns
    -------
    cells : tuple of StockCell
        In the order of the file. [-]

    Raises
    ------
    BuildError
        With every fault of the file.
    """
    return load(path).cells


# --- reading -------------------------------------------------------------------------------------


def load(path: Path) -> Inventory:
    """Read an inventory with all that is needed to write it again; faults as in `read_inventory`."""
    data = _bytes(path)
    text = _text(path, data)
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    text = text.removeprefix("\ufeff")
    newline = "\r\n" if "\r\n" in text else "\n"
    raws = list(records(text))
    head = next((k for k, (raw, _) in enumerate(raws) if is_row(raw)), None)
    if head is None:
        mend = "Add a cell with: tideover cells add, or begin the table with a row of headers."
        raise BuildError([Fault(Place(str(path)), "", "the inventory is empty", "A row of headers is expected.", mend)])
    delimiter = max(",;\t", key=raws[head][0].count)
    header = split(raws[head][0], delimiter)
    faults: list[Fault] = []
    places, notes = _columns(path, raws[head][1], header, delimiter, raws[head][0], faults)
    rows: list[Row] = []
    cells: list[StockCell] = []
    lines: dict[str, int] = {}
    for k, (raw, line) in enumerate(raws):
        if not is_row(raw) or k == head:
            rows.append(Row(raw, line))
            continue
        parts = split(raw, delimiter)
        cell = _cell(path, line, raw, parts, header, places, delimiter, faults)
        rows.append(Row(raw, line, tuple(parts), cell.id if cell else ""))
        name = next((parts[k] for k, (c, _) in places.items() if c.field == "id" and k < len(parts)), "")
        _check_unique(path, line, name, lines, faults)
        if cell:
            cells.append(cell)
    if faults:
        raise BuildError(first_of(faults))
    numbers = [
        row.fields[k]
        for row in rows
        if row.fields
        for k, (c, _) in places.items()
        if k < len(row.fields) and c.kind in ("number", "rests")
    ]
    comma = delimiter != "," and any(re.search(r"\d,\d", n) for n in numbers)
    digest = hashlib.sha256(data).hexdigest()
    return Inventory(
        path,
        tuple(cells),
        tuple(notes),
        tuple(rows),
        tuple(header),
        delimiter,
        "," if comma else ".",
        newline,
        mark,
        digest,
    )


def _bytes(path: Path) -> bytes:
    place = Place(str(path))
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise BuildError([Fault(place, "", "this is a folder, not a table", "", f"Name the file in it: {NAME}")])
        if size > LARGEST:
            problem = f"the file has {size / 1e6:.1f} MB; an inventory may have {LARGEST / 1e6:.0f} MB"
            raise BuildError([Fault(place, "", problem, "", "Keep logs and pictures in files of their own.")])
        return path.read_bytes()
    except FileNotFoundError:
        mend = "Begin one with: tideover cells add A1 --capacity 2.1Ah"
        raise BuildError([Fault(place, "", "there is no inventory", "", mend)]) from None


def _text(path: Path, data: bytes) -> str:
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        problem = "there is a byte that is not UTF-8"
        mend = "Save the table again as CSV in UTF-8."
        raise BuildError([Fault(Place(str(path), line, 1), "", problem, "", mend)]) from None
    if "\0" in text:
        mend = "Save the table again as CSV in UTF-8."
        raise BuildError([Fault(Place(str(path)), "", "this is no text file: it holds zero bytes", "", mend)])
    return text


def records(text: str) -> Iterator[tuple[str, int]]:
    """Records as written, with the number of their first line; one may run over lines inside quotes."""
    pending: list[str] = []
    first = 1
    for number, line in enumerate(re.split(r"\r\n|\n|\r", text), 1):
        if not pending:
            first = number
            if line.lstrip().startswith("#"):
                yield line, number
                continue
        pending.append(line)
        whole = "\n".join(pending)
        if whole.count('"') % 2 == 0:
            yield whole, first
            pending = []
    if pending:  # a quote that nobody closed: each line for itself
        for k, line in enumerate(pending):
            yield line, first + k


def is_row(raw: str) -> bool:
    return bool(raw.strip(" \t,;")) and not raw.lstrip().startswith("#")


def split(raw: str, delimiter: str) -> list[str]:
    try:
        return [field.strip() for record in csv.reader([raw], delimiter=delimiter) for field in record] or [""]
    except csv.Error:  # a field longer than any value
        return [raw[:1000]]


def offset(raw: str, k: int, delimiter: str) -> int:
    """Column, from 1, at which the field `k` of a record begins."""
    inside, seen = False, 0
    for position, sign in enumerate(raw):
        if seen == k:
            return position + 1
        if sign == '"':
            inside = not inside
        elif sign == delimiter and not inside:
            seen += 1
    return len(raw) + 1


def split_header(text: str) -> tuple[str, str]:
    """Name and unit of a header: ``capacity [Ah]``, ``capacity (Ah)``."""
    found = re.fullmatch(r"\s*(.*?)\s*[\[(]\s*(.*?)\s*[\])]\s*", text)
    return (found[1], found[2]) if found else (text.strip(), "")


def _columns(
    path: Path, line: int, header: list[str], delimiter: str, raw: str, faults: list[Fault]
) -> tuple[dict[int, tuple[Column, str]], list[str]]:
    """By position: which column it is, and the unit of its bare numbers."""
    names = {folded(column.name): column for column in COLUMNS}
    places: dict[int, tuple[Column, str]] = {}
    notes = []
    for k, text in enumerate(header):
        name, unit = split_header(text)
        column = names.get(folded(name))
        place = Place(str(path), line, offset(raw, k, delimiter))
        if column is None:
            near = meant(name, (c.name for c in COLUMNS)) if name else ""
            if near and near not in (split_header(h)[0] for h in header):
                notes.append(f"The column {quoted(text)} is not read; if it is meant for {near}, call it so.")
            continue
        if any(column is other for other, _ in places.values()):
            faults.append(Fault(place, quoted(text), "heads two columns", "", "Give one of them another name."))
            continue
        if unit and column.kind in ("number", "rests"):
            try:
                col.read(replace(column, kind="number", low=-math.inf, high=math.inf), "1", unit)
            except WrongValueError:
                expected = f"The unit of {column.name} is expected, such as {column.unit}."
                mend = f"Write: {column.header}"
                faults.append(Fault(place, quoted(text), "has a unit that cannot be read", expected, mend))
                continue
        places[k] = (column, unit)
    if not faults and not any(column.field == "id" for column, _ in places.values()):
        known = ", ".join(quoted(h) for h in header[:8])
        expected = 'One column is expected to be called "id".'
        problem = f"the columns are called {known}"
        faults.append(Fault(Place(str(path), line, 1), "", problem, expected, "Mend the row of headers."))
    return places, notes


def _cell(
    path: Path,
    line: int,
    raw: str,
    parts: list[str],
    header: list[str],
    places: dict[int, tuple[Column, str]],
    delimiter: str,
    faults: list[Fault],
) -> StockCell | None:
    """One row; None after a fault."""
    surplus = [p for p in parts[len(header) :] if p]
    if surplus:
        problem = f"the row has {len(parts)} values, but there are {len(header)} columns"
        mend = f'Put a value that holds a "{delimiter}" in quotes.'
        faults.append(Fault(Place(str(path), line, offset(raw, len(header), delimiter)), "", problem, "", mend))
        return None
    values: dict[str, Any] = {}
    good = True
    name = next((parts[k] for k, (c, _) in places.items() if c.field == "id" and k < len(parts)), "")
    for k, (column, unit) in places.items():
        text = parts[k] if k < len(parts) else ""
        if not text:
            continue
        try:
            values[column.field] = col.read(column, text, unit)
        except WrongValueError as error:
            place = Place(str(path), line, offset(raw, k, delimiter))
            where = f"cell {name}, {column.name}:" if name else f"{column.name}:"
            faults.append(Fault(place, where, error.problem, error.expected, error.mend))
            good = False
    if not name and places:
        mend = "Give it one that no other cell has, or make the line a remark with #."
        faults.append(Fault(Place(str(path), line, 1), "", "the row has no id", "", mend))
        good = False
    return StockCell(**values) if good and name else None


def _check_unique(path: Path, line: int, name: str, lines: dict[str, int], faults: list[Fault]) -> None:
    key = name.casefold()
    if name and key in lines:
        problem = f"stands here again; the first is in line {lines[key]}"
        expected = "Labels that differ only in large and small letters are mistaken for each other."
        faults.append(
            Fault(Place(str(path), line, 1), f"cell {name}", problem, expected, "Give one of them another id.")
        )
    lines.setdefault(key, line)


def first_of(faults: list[Fault]) -> list[Fault]:
    """The first of many faults, in the order of the file, and how many more there are."""
    faults = sorted(dict.fromkeys(faults), key=lambda fault: fault.place)
    if len(faults) <= MOST_TOLD:
        return faults
    place = faults[MOST_TOLD].place
    last = Fault(place, "", f"here begin {len(faults) - MOST_TOLD} more faults", "", "The rest may be alike.")
    return [*faults[:MOST_TOLD], last]


# --- writing -------------------------------------------------------------------------------------


def store(
    path: Path, edit: Callable[[tuple[StockCell, ...]], Iterable[StockCell]], command: str, now: datetime | None = None
) -> tuple[Change, ...]:
    """Change an inventory: nobody else's rows are lost, and what was there is entered in the history.

    Parameters
    ----------
    path : Path
        Of the table; made, with its folder, where it is not there. [-]
    edit : callable
        Gets the cells as they are in the file now and returns those that are new or altered; it may raise. [-]
    command : str
        Who changes them, for the history. [-]
    now : datetime, optional
        For the history; the clock's otherwise. [-]

    Returns
    -------
    changes : tuple of Change
        Values that are different now; empty where nothing is.

    Raises
    ------
    BuildError
        The file cannot be read, or was changed by another program in the meantime.
    """
    if not path.exists():
        edit(())  # what it refuses is refused before a folder is made
    path.parent.mkdir(exist_ok=True)
    with _history(history_file(path)) as (stream, length):
        table = load(path) if path.exists() else Inventory(path)
        before = {cell.id: cell for cell in table.cells}
        altered = {cell.id: cell for cell in edit(table.cells)}
        _check_new(path, before, altered)
        changes = tuple(c for cell in altered.values() for c in _changes(before.get(cell.id), cell, table.decimal))
        if not changes:
            return ()
        text = _rewritten(table, altered, changes)
        when = (now or datetime.now()).astimezone().isoformat(timespec="seconds")
        csv.writer(stream, lineterminator="\n").writerows(
            (when, c.id, c.column.header, c.old, c.new, command) for c in changes
        )
        stream.flush()
        os.fsync(stream.fileno())
        try:
            if path.exists() and hashlib.sha256(path.read_bytes()).hexdigest() != table.digest:
                problem = "the inventory was changed by another program just now; nothing was written"
                raise BuildError([Fault(Place(str(path)), "", problem, "", "Run the command again.")])
            write_text(path, text)
        except BaseException:
            stream.truncate(length)  # what did not happen is no history
            raise
        return changes


def _check_new(path: Path, before: dict[str, StockCell], altered: dict[str, StockCell]) -> None:
    """Ids that the file could not be read with afterwards are refused."""
    known = {name.casefold(): name for name in before}
    faults = []
    for name in altered:
        if name in before:
            continue
        other = known.setdefault(name.casefold(), name)
        if other != name:
            mend = f"Write {other} if it is that cell, or give it another id."
            faults.append(Fault(Place(str(path)), f"cell {name}", f"is too much like {other}", "", mend))
        try:
            col.read(COLUMNS[0], name)
        except WrongValueError as error:
            faults.append(Fault(Place(str(path)), "", error.problem, error.expected, error.mend))
    if faults:
        raise BuildError(faults)


@contextlib.contextmanager
def _history(path: Path) -> Iterator[tuple[IO[str], int]]:
    """The history, open at its end and locked: whoever else wants to write waits. And how long it was."""
    with path.open("a+", encoding="utf-8", newline="") as stream:
        _lock(stream)
        stream.seek(0, os.SEEK_END)
        if stream.tell() == 0:
            csv.writer(stream, lineterminator="\n").writerow(HISTORY)
        else:
            stream.seek(stream.tell() - 1)
            if stream.read(1) not in "\r\n":
                stream.write("\n")
        stream.flush()
        yield stream, stream.tell()


def _lock(stream: IO[str]) -> None:
    """Wait until nobody else holds the file; given back when it is closed."""
    if sys.platform == "win32":
        import msvcrt

        stream.seek(0)
        msvcrt.locking(stream.fileno(), msvcrt.LK_LOCK, 1)
    else:
        import fcntl

        fcntl.flock(stream.fileno(), fcntl.LOCK_EX)


def same(a: object, b: object) -> bool:
    """Whether two values of a field are one; numbers, but for what writing them in ten digits takes away."""
    if isinstance(a, float) and isinstance(b, float):
        return math.isclose(a, b, rel_tol=1e-9)
    if isinstance(a, tuple) and isinstance(b, tuple):
        return len(a) == len(b) and all(same(x, y) for x, y in zip(a, b))
    return a == b


def _changes(old: StockCell | None, new: StockCell, decimal: str) -> Iterator[Change]:
    for column in COLUMNS:
        value = getattr(new, column.field)
        had = getattr(old, column.field) if old else _DEFAULTS.get(column.field)
        if old is None and column.field == "id":
            yield Change(new.id, column, "", new.id)
        elif not same(had, value):
            yield Change(new.id, column, col.write(column, had) if old else "", col.write(column, value))


def _rewritten(table: Inventory, altered: dict[str, StockCell], changes: tuple[Change, ...]) -> str:
    """The file's text with only the changed values changed."""
    header = list(table.header) or [column.header for column in COLUMNS]
    where = {folded(split_header(text)[0]): k for k, text in reversed(list(enumerate(header)))}
    missing = [c.column for c in changes if folded(c.column.name) not in where]
    for column in dict.fromkeys(missing):
        where[folded(column.name)] = len(header)
        header.append(column.header)
    fresh = {c.id for c in changes} - {cell.id for cell in table.cells}
    mine = [c for c in changes if c.id not in fresh]
    out = [] if table.rows else [_joined(header, table.delimiter)]
    headed = False
    for row in table.rows:
        if row.fields is None:
            is_head = not headed and is_row(row.raw)
            headed = headed or is_head
            out.append(_joined(header, table.delimiter) if is_head and missing else row.raw)
            continue
        these = [c for c in mine if c.id == row.id]
        parts = list(row.fields)
        for change in these:
            k = where[folded(change.column.name)]
            parts += [""] * (k + 1 - len(parts))
            parts[k] = _text_for(
                change.column, header[k], getattr(altered[change.id], change.column.field), table.decimal
            )
        out.append(_joined(parts, table.delimiter) if these else row.raw)
    while out and not out[-1].strip():
        out.pop()
    for name in (n for n in altered if n in fresh):
        parts = [""] * len(header)
        for change in (c for c in changes if c.id == name):
            k = where[folded(change.column.name)]
            parts[k] = _text_for(change.column, header[k], getattr(altered[name], change.column.field), table.decimal)
        out.append(_joined(parts, table.delimiter))
    return table.mark + table.newline.join(line.replace("\n", table.newline) for line in out) + table.newline


def _text_for(column: Column, header: str, value: object, decimal: str) -> str:
    """A value as it stands under this very header, which may name another unit than ours, or none."""
    unit = split_header(header)[1]
    said = col.write(column, value, decimal)
    if not said or column.kind not in ("number", "rests") or unit == column.unit:
        return said
    if column.kind == "number":
        return col.write(column, value, ".") + f" {column.unit}"
    return "; ".join(f"{pair} V" for pair in col.write(column, value, ".").split("; "))


def _joined(parts: Iterable[str], delimiter: str) -> str:
    stream = io.StringIO()
    csv.writer(stream, delimiter=delimiter, lineterminator="").writerow(list(parts))
    line = stream.getvalue()
    if not line.startswith("#"):
        return line
    first, sign, rest = line.partition(delimiter)  # or it would be read as a remark
    return f'"{first}"{sign}{rest}'
