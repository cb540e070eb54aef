"""A log of outages: a text file with one outage a row, its begin and its end.

Commas, semicolons or tabs part the columns; a first row may name them; lines that begin with # are remarks. Times are
ISO 8601, ``2025-03-01 18:05``. An outage still open in the last row is left out, because nobody knows its end.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

from tideover.design import messages as say
from tideover.design.model import OutageLog, Place
from tideover.design.source import Scalar
from tideover.design.values import Report

WHERE = "need.outages.log"
LARGEST = 5_000_000
"""Bytes of the largest log; ten years of four outages a day have a tenth of it."""
MOST_TOLD = 5
"""Faulty rows told one by one."""
YEAR = 365.25 * 86400.0
BEGINS = ("start", "begin", "off", "lost", "from", "down")
ENDS = ("end", "stop", "on", "back", "to", "until", "up")
TIME = 'A time is expected as year-month-day hour:minute, such as "2025-03-01 18:05".'


@dataclass(frozen=True)
class _Row:
    begin: datetime
    end: datetime
    line: int


def read(file: Scalar, since: Scalar | None, until: Scalar | None, report: Report) -> OutageLog | None:
    """Read a log named in a build file, which lies in the same folder unless its path says otherwise.

    Parameters
    ----------
    file : Scalar
        Its name, with the place where the build file names it.
    since, until : Scalar or None
        First and last day written down, if the build file says so.
    report : callable
        Takes each fault.

    Returns
    -------
    log : OutageLog or None
        None after a fault.
    """
    name = file.text.strip()
    path = Path(file.place.path).parent / name
    text = _text(path, file, report)
    if text is None:
        return None
    faults: list[say.Fault] = []
    rows, notes = _rows(text, name, faults)
    first, last = (_time(node.text) if node else None for node in (since, until))
    for node, key, value in ((since, "from", first), (until, "to", last)):
        if node is not None and value is None:
            where = f"need.outages.{key}"
            report(say.bad_value(node.place, where, node.text, "no time that can be read", TIME, f"{key}: 2025-01-01"))
    if until and last and len(until.text.strip()) == len("2025-01-31"):
        last += timedelta(days=1)  # that day is meant whole
    for fault in faults[:MOST_TOLD]:
        report(fault)
    if len(faults) > MOST_TOLD:
        problem = f"{len(faults) - MOST_TOLD} more rows cannot be used"
        report(say.Fault(Place(name), "", problem, "", "Mend those above first; the rest may be alike."))
    if faults or (since and first is None) or (until and last is None):
        return None
    if not rows:
        what, expected = f"{say.quoted(name)}, a log without an outage", "At least one row with its times is expected."
        report(say.wrong_shape(file.place, WHERE, what, expected, "If there were none, write: outages: none"))
        return None
    aware = {moment.tzinfo is not None for row in rows for moment in (row.begin, row.end)}
    if len(aware) > 1:
        mend = "Write all of them with it, or all without."
        report(say.Fault(Place(name), "", "some times have a zone and some have none", "", mend))
        return None
    rows, more = _in_order([_Row(_plain(r.begin), _plain(r.end), r.line) for r in rows], name, report)
    first, last = (_plain(t) if t else None for t in (first, last))
    return _log(name, rows, first, last, (*notes, *more), file, report) if rows else None


def _text(path: Path, file: Scalar, report: Report) -> str | None:
    said = say.quoted(file.text.strip())
    try:
        size = path.stat().st_size
        if path.is_dir() or size > LARGEST:
            what = f"{said}, which is a folder" if path.is_dir() else f"{said}, a file of {size / 1e6:.0f} MB"
            expected = "A text file with one outage a row is expected."
            report(say.wrong_shape(file.place, WHERE, what, expected, "Write: log: outages.csv"))
            return None
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        place = Place(file.text.strip(), line, 1)
        report(say.Fault(place, "", "there is a byte that is not UTF-8", "", "Save the log as UTF-8."))
    except (OSError, ValueError):
        expected = "A log lies in the folder of the build file."
        report(say.wrong_shape(file.place, WHERE, f"{said}, which cannot be read", expected, "Check the spelling."))
    return None


def _rows(text: str, name: str, faults: list[say.Fault]) -> tuple[list[_Row], tuple[str, ...]]:
    """Every row that can be read."""
    numbered = enumerate(text.splitlines(), 1)
    lines = [(k, line) for k, line in numbered if line.strip() and not line.lstrip().startswith("#")]
    if not lines:
        return [], ()
    sample = lines[0][1]
    delimiter = max(";\t,", key=sample.count)
    cells = [(k, [c.strip() for c in next(csv.reader([line], delimiter=delimiter))]) for k, line in lines]
    columns = (0, 1)
    header = cells[0][1]
    if _time(header[0]) is None and not any(ch.isdigit() for ch in header[0]):
        found = [_column(header, words) for words in (BEGINS, ENDS)]
        if None in found:
            known = ", ".join(say.quoted(h) for h in header)
            problem = f"the columns are called {known}"
            expected = "Two of them are expected to say start and end."
            faults.append(say.Fault(Place(name, cells[0][0], 1), "", problem, expected, "Write: start,end"))
            return [], ()
        columns = (found[0] or 0, found[1] or 0)
        cells = cells[1:]
    rows: list[_Row] = []
    notes: tuple[str, ...] = ()
    for j, (line, row) in enumerate(cells):
        begin, end = (row[c] if c < len(row) else "" for c in columns)
        place = Place(name, line, 1)
        if begin and not end and j == len(cells) - 1:
            notes = (f"{name}, line {line}: the last outage has no end and is left out",)
            continue
        times = []
        for word, value in (("start", begin), ("end", end)):
            moment = _time(value)
            if moment is None:
                problem = f"the {word} is {say.quoted(value)}" if value else f"the {word} is missing"
                faults.append(say.Fault(place, "", problem, TIME, f"Write: {_guess(value)}"))
                break
            times.append(moment)
        if len(times) == 2:
            same = (times[0].tzinfo is None) == (times[1].tzinfo is None)
            if same and times[1] <= times[0]:
                problem = f"the outage ends at {say.quoted(end)}, not after its start at {say.quoted(begin)}"
                faults.append(say.Fault(place, "", problem, "", "Exchange the two, or correct one of them."))
            else:
                rows.append(_Row(times[0], times[1], line))
    return rows, notes


def _column(header: list[str], words: tuple[str, ...]) -> int | None:
    folded = [say.folded(h) for h in header]
    for word in words:
        for k, name in enumerate(folded):
            if word in name.split():
                return k
    return next((k for k, name in enumerate(folded) if name.startswith(words)), None)


def _time(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text.strip())
    except ValueError:
        return None


def _guess(text: str) -> str:
    """What a day-first or slashed date most likely means; a pattern where nobody can tell."""
    for form in ("%d.%m.%Y %H:%M", "%d.%m.%Y %H:%M:%S", "%Y/%m/%d %H:%M", "%Y/%m/%d %H:%M:%S", "%Y.%m.%d %H:%M"):
        try:
            return datetime.strptime(text.strip(), form).isoformat(" ", "minutes")
        except ValueError:
            continue
    return "2025-03-01 18:05"


def _plain(moment: datetime) -> datetime:
    return moment if moment.tzinfo is None else moment.astimezone(UTC).replace(tzinfo=None)


def _in_order(rows: list[_Row], name: str, report: Report) -> tuple[list[_Row], tuple[str, ...]]:
    """Rows in order of time; two that overlap are a fault, and two that touch are one outage."""
    notes: list[str] = []
    late = next((b.line for a, b in pairwise(rows) if b.begin < a.begin), None)
    if late is not None:
        notes.append(f"{name}, line {late}: begins before the row above; the rows were put in order of time")
    out: list[_Row] = []
    good = True
    for row in sorted(rows, key=lambda r: r.begin):
        if out and row.begin < out[-1].end:
            before = f"before the one of line {out[-1].line} has ended at {out[-1].end}"
            problem = f"the outage begins at {row.begin}, {before}"
            mend = "Make one row of the two, or correct a time."
            report(say.Fault(Place(name, row.line, 1), "", problem, "Outages do not overlap.", mend))
            good = False
        if out and row.begin <= out[-1].end:
            out[-1] = _Row(out[-1].begin, max(row.end, out[-1].end), out[-1].line)
        else:
            out.append(row)
    return (out if good else []), tuple(notes)


def _log(
    name: str,
    rows: list[_Row],
    first: datetime | None,
    last: datetime | None,
    notes: tuple[str, ...],
    file: Scalar,
    report: Report,
) -> OutageLog | None:
    """Times counted from the begin of the log. How long it lasts is told, or else guessed from its outages."""
    begins = first or rows[0].begin
    ends = last or rows[-1].end
    if begins > rows[0].begin or ends < rows[-1].end:
        problem = f"{say.quoted(name)}, which has outages outside the days given by from and to"
        mend = f"Write: from: {rows[0].begin.date()}, to: {rows[-1].end.date()} or wider."
        report(say.wrong_shape(file.place, WHERE, problem, "", mend))
        return None
    spans = tuple(((r.begin - begins).total_seconds(), (r.end - begins).total_seconds()) for r in rows)
    lasts = (ends - begins).total_seconds()
    if last is None:
        usual = (rows[-1].begin - rows[0].begin).total_seconds() / (len(rows) - 1) if len(rows) > 1 else YEAR
        lasts = max(lasts, spans[-1][0] + usual)
        notes += (f"{name}: the day on which it ends is not told; one usual gap after its last outage is assumed",)
    return OutageLog(name, begins, spans, math.ceil(lasts), notes)
