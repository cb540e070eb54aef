"""Readings typed at the bench: on disk before they are acknowledged, struck out but never deleted.

They lie in one file, ``bench/readings.db`` beside the build, that any number of phones may add to through one server
or several. A reading carries an id that the device gave it: sent twice, for want of an answer, it stands there once.
"""

from __future__ import annotations

import contextlib
import csv
import io
import os
import re
import sqlite3
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from tideover.quantity import Quantity, QuantityError, expectation, parse

NAME = "readings.db"
UNITS = ("V", "A", "ohm", "K", "s", "W", "J", "C", "F", "Hz", "")
"""SI units of what meters show, in the order in which a text is tried: ``25 C`` is a temperature."""
EXPECTED = "A reading is expected with its unit: a voltage, current, resistance, temperature or time."
EXAMPLE = "12.31 V"
LONGEST = 2000
"""Characters of a text beside a reading."""
WAIT = 10.0
"""How long one device waits for another. [s]"""
COLUMNS = ("node", "state", "value", "unit", "meter", "taken", "device", "note")
"""Of the exported table; `value` is in SI."""
_STORED = ("id", "taken", "node", "state", "value", "unit", "written", "meter", "note", "device")
_FORM = 1
_TABLES = """
CREATE TABLE readings (
    id TEXT PRIMARY KEY, taken TEXT NOT NULL, node TEXT NOT NULL, state TEXT NOT NULL, value REAL NOT NULL,
    unit TEXT NOT NULL, written TEXT NOT NULL, meter TEXT NOT NULL, note TEXT NOT NULL, device TEXT NOT NULL);
CREATE TABLE strikes (id TEXT PRIMARY KEY REFERENCES readings (id), struck TEXT NOT NULL, why TEXT NOT NULL);
CREATE TRIGGER kept BEFORE DELETE ON readings BEGIN SELECT RAISE(ABORT, 'readings are struck out, not deleted'); END;
CREATE TRIGGER same BEFORE UPDATE ON readings BEGIN SELECT RAISE(ABORT, 'readings are struck out, not changed'); END;
"""


class ReadingError(ValueError):
    """A reading that is refused.

    Attributes
    ----------
    problem, expected, mend : str
        What is wrong, continuing "The reading ..."; what would be right; what to do.
    """

    def __init__(self, problem: str, expected: str = "", mend: str = "") -> None:
        super().__init__("\n   ".join(filter(None, (f"The reading {problem}.", expected, mend))))
        self.problem, self.expected, self.mend = problem, expected, mend


@dataclass(frozen=True)
class Reading:
    """One reading.

    Attributes
    ----------
    id : str
        Given by the device that it was typed on.
    taken : datetime
        When, with its zone.
    node, state : str
        Where the probe was, and in which state of the build.
    value : float
        In SI.
    unit : str
        Coherent SI unit of `value`, one of `UNITS`.
    written : str
        As typed.
    meter, note, device : str
        What it was read from, what else was said, and who typed it.
    struck : str
        Why it was struck out; empty while it counts.
    """

    id: str
    taken: datetime
    node: str
    state: str
    value: float
    unit: str
    written: str
    meter: str = ""
    note: str = ""
    device: str = ""
    struck: str = ""


def measured(written: str) -> Quantity:
    """Read what a meter showed.

    Parameters
    ----------
    written : str
        With its unit: ``12.31 V``, ``31 mV``, ``-0.4 A``, ``41 °C``. A ``±`` may say how sure it is. [-]

    Returns
    -------
    quantity : Quantity
        In SI. [-]

    Raises
    ------
    ReadingError
        What is no quantity, or has no unit, or gives two limits instead of one value.

    Examples
    --------
    >>> measured("31 mV").nominal, measured("25 °C").unit
    (0.031, 'K')
    """
    first: QuantityError | None = None
    for unit in UNITS:
        if unit == "" and "%" not in written:
            continue  # a bare number is a reading without its unit
        try:
            found = parse(written, unit)
        except QuantityError as error:
            first = first or error
            continue
        if found.low != found.high and re.search(r"\bto\b|\.\.|[–—]|[0-9]-[0-9]", written):
            raise ReadingError(f"is {_quoted(written)}, two limits", "One value is expected.", f"Write: {EXAMPLE}")
        return found
    assert first is not None
    usual = first.expected.startswith(expectation("V"))
    kind = first.problem.startswith(("a ", "an ")) and "number" not in first.problem
    problem = "of a kind that no reading has" if kind else first.problem
    said = f"is {_quoted(written)}, {problem}" if written.strip() else "is empty"
    mend = EXAMPLE if first.mend == "12 V" else first.mend
    raise ReadingError(said, EXPECTED if usual else first.expected, f"Write: {mend}")


def typed(
    node: str,
    state: str,
    written: str,
    *,
    meter: str = "",
    note: str = "",
    device: str = "",
    id: str = "",
    taken: datetime | None = None,
) -> Reading:
    """Make a reading of what somebody typed; see `measured`.

    Parameters
    ----------
    node, state, written, meter, note, device : str
        See `Reading`. [-]
    id : str
        Of the device; a new one when empty. [-]
    taken : datetime, optional
        Now when left out. [-]
    """
    found = measured(written)
    taken = taken or datetime.now(UTC)
    taken = taken if taken.tzinfo else taken.astimezone()
    return Reading(
        id or uuid.uuid4().hex, taken, node, state, found.nominal, found.unit, written, meter, note, device
    )


class Readings:
    """The readings of one build.

    Parameters
    ----------
    folder : Path
        The build's folder ``bench``; it is made with the first reading.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = Path(folder)
        self.file = self.folder / NAME

    def add(self, reading: Reading) -> Reading:
        """Keep a reading; when this returns, it is on disk.

        Returns
        -------
        reading : Reading
            The one that stands there: with an id that is known already nothing is added.

        Raises
        ------
        ReadingError
            When it says nothing about where, or another reading has that id, or the disk refuses.
        """
        reading = _checked(reading)
        values = (getattr(reading, name) for name in _STORED)
        row = [value.isoformat() if isinstance(value, datetime) else value for value in values]
        with self._open(make=True) as base, _change(base):
            base.execute(f"INSERT OR IGNORE INTO readings VALUES ({', '.join('?' * len(row))})", row)
            (kept,) = _rows(base, reading.id)
        same = ("node", "state", "written", "meter", "note")
        if any(getattr(kept, name) != getattr(reading, name) for name in same):
            problem = f"has the id {_quoted(reading.id)} of another one"
            raise ReadingError(problem, f"That one is {_quoted(kept.written)} at {kept.node}.", "Give it a new id.")
        return kept

    def strike(self, id: str, why: str) -> Reading:
        """Strike a reading out: it stays, with the reason, and no longer counts. Struck out twice, the first counts.

        Raises
        ------
        KeyError
            When there is no such reading.
        ReadingError
            When no reason is given, or the disk refuses.
        """
        why = " ".join(_text("the reason", why).split())
        if not why:
            raise ReadingError("is not struck out", "A reason is expected.", "Write, for example: probe slipped")
        if not self.file.exists():
            raise KeyError(id)
        with self._open() as base, _change(base):
            if not _rows(base, id):
                raise KeyError(id)
            base.execute("INSERT OR IGNORE INTO strikes VALUES (?, ?, ?)", (id, datetime.now(UTC).isoformat(), why))
            return _rows(base, id)[0]

    def all(self) -> tuple[Reading, ...]:
        """Every reading, those struck out too, in the order in which they were taken."""
        if not self.file.exists():
            return ()
        with self._open() as base:
            return tuple(sorted(_rows(base), key=lambda reading: reading.taken))

    def counting(self) -> tuple[Reading, ...]:
        """Those that are not struck out."""
        return tuple(reading for reading in self.all() if not reading.struck)

    def export(self, struck: bool = False) -> str:
        """A table as text, with commas between the columns.

        Parameters
        ----------
        struck : bool
            Whether those struck out are in it, with the reason in a column more. [-]
        """
        text = io.StringIO()
        table = csv.writer(text, lineterminator="\n")
        table.writerow((*COLUMNS, *(("struck out",) if struck else ())))
        for r in self.all():
            if struck or not r.struck:
                row = (r.node, r.state, repr(r.value), r.unit, r.meter, r.taken.isoformat(), r.device, r.note)
                table.writerow((*row, *((r.struck,) if struck else ())))
        return text.getvalue()

    @contextlib.contextmanager
    def _open(self, make: bool = False) -> Iterator[sqlite3.Connection]:
        try:
            if make:
                self.folder.mkdir(parents=True, exist_ok=True)
            new = not self.file.exists()
            base = sqlite3.connect(self.file, timeout=WAIT, isolation_level=None)
            try:
                base.execute("PRAGMA journal_mode = WAL")
                base.execute("PRAGMA synchronous = FULL")
                self._prepare(base)
                if new:
                    _name_on_disk(self.folder)
                yield base
            finally:
                base.close()
        except (sqlite3.Error, OSError) as error:
            expected = f"{self.file} cannot be used ({error})."
            mend = "Free some space, see who may write there, or put a file aside that is no store of readings."
            raise ReadingError("is not kept", expected, mend) from error

    def _prepare(self, base: sqlite3.Connection) -> None:
        (form,) = base.execute("PRAGMA user_version").fetchone()
        if form > _FORM:
            raise ReadingError("is not kept", f"{self.file} is of a later release.", "Update Tideover.")
        if form < _FORM:
            with _change(base):  # two devices may come first
                if base.execute("PRAGMA user_version").fetchone() == (0,):
                    for statement in re.split(r";\n", _TABLES):
                        base.execute(statement)
                    base.execute(f"PRAGMA user_version = {_FORM}")


@contextlib.contextmanager
def _change(base: sqlite3.Connection) -> Iterator[None]:
    """One change, whole or not at all; the lock is taken before anything is read."""
    base.execute("BEGIN IMMEDIATE")
    try:
        yield
        base.execute("COMMIT")
    except BaseException:
        if base.in_transaction:
            base.execute("ROLLBACK")
        raise


def _rows(base: sqlite3.Connection, id: str = "") -> list[Reading]:
    chosen = "WHERE readings.id = ?" if id else ""
    joined = f"FROM readings LEFT JOIN strikes USING (id) {chosen} ORDER BY readings.rowid"
    return [
        Reading(row[0], datetime.fromisoformat(row[1]), *row[2:])
        for row in base.execute(f"SELECT readings.*, coalesce(why, '') {joined}", (id,) if id else ())
    ]


def _name_on_disk(folder: Path) -> None:
    """A new file is safe only when the folder that names it is."""
    with contextlib.suppress(OSError):  # some systems open no folders
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _checked(reading: Reading) -> Reading:
    for name in ("id", "node", "state", "unit", "written", "meter", "note", "device"):
        _text(f"its {name}", getattr(reading, name))
    if not reading.node.strip():
        raise ReadingError("has no place", "The node where the probe was is expected.", "Write, for example: load")
    if not reading.id.strip():
        raise ReadingError("has no id", "The device gives it one.", "Load the page again.")
    if not reading.taken.tzinfo:
        reading = replace(reading, taken=reading.taken.astimezone())
    return reading


def _text(what: str, text: str) -> str:
    if len(text) > LONGEST:
        raise ReadingError(f"has {len(text)} characters in {what}", f"At most {LONGEST} are kept.", "Shorten it.")
    if any((ord(c) < 32 and c not in "\n\t") or 0xD800 <= ord(c) <= 0xDFFF for c in text):
        raise ReadingError(f"has a character in {what} that nobody sees", "", "Type it anew.")
    return text


def _quoted(text: str) -> str:
    line = " ".join(text.split())
    line = "".join(c if c.isprintable() else "?" for c in line)
    return f'"{line}"' if len(line) <= 60 else f'"{line[:57]}..."'
