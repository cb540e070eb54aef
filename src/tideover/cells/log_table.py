"""Fields of a log as numbers in SI: decimal mark, stamps, units, rows that cannot be read."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tideover.cells import log_columns, log_numbers, log_signs, log_text, log_times, log_units
from tideover.cells import log_faults as say
from tideover.cells.log import Array
from tideover.cells.log_columns import (
    COUNTED_IN,
    COUNTED_OUT,
    COUNTER,
    CURRENT,
    DATE,
    IN,
    OUT,
    POWER,
    STATE,
    TEMPERATURE,
    TIME,
    UNITS,
    VOLTAGE,
    Column,
)
from tideover.cells.log_sidecar import ReadAs
from tideover.design.messages import BuildError, Fault, quoted

FEW = 0.01
"""Share of rows that may be unreadable and are left out; more of them point to a wrong reading."""
TOLD = 5
"""Unreadable rows told one by one."""
NEEDED = (TIME, VOLTAGE, CURRENT, OUT, IN)


@dataclass
class Work:
    """What is passed along while a file is read."""

    name: str
    stated: ReadAs
    notes: list[str] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)

    def check(self) -> None:
        if self.faults:
            raise BuildError(self.faults)


@dataclass
class Table:
    """Columns as numbers in SI."""

    stamps: Array
    kind: str
    values: dict[str, Array]
    words: NDArray[np.int_] | None
    lines: NDArray[np.int_]


def table_of(layout: log_text.Layout, columns: dict[str, Column], work: Work) -> Table:
    """Every used field of every row as a number."""
    used = [c for c in columns.values()]
    needed = max((c.at for c in used if c.role in (TIME, DATE, VOLTAGE, CURRENT, OUT, IN)), default=0) + 1
    sample = _sample(layout, needed)
    time_kind = log_times.kind_of([_stamp(row, columns) for row in sample]) if TIME in columns else "number"
    numeric = [c for c in used if c.role not in (STATE, DATE) and not (c.role == TIME and time_kind != "number")]
    decimal = _decimal(layout, sample, numeric, work)
    work.check()
    parts: dict[str, list[Array]] = {c.role: [] for c in numeric}
    stamps: list[str] = []
    states: list[str] = []
    lines: list[int] = []
    odd: dict[int, Fault] = {}
    headers, total = 0, 0
    sizes: dict[str, list[str]] = {}
    for piece in log_text.pieces(layout, needed):
        headers += piece.headers
        total += len(piece.fields) + len(piece.odd)
        for line, text in piece.odd:
            odd[line] = say.odd_row(work.name, line, 1, text, f"has not the {layout.width} fields of the others")
        if not piece.fields:
            continue
        lines += piece.lines
        for c in numeric:
            cells = [row[c.at] if c.at < len(row) else "" for row in piece.fields]
            x: Array
            x, units, wrong = log_numbers.numbers(cells, decimal)
            if c.role in NEEDED:
                for k in wrong:
                    odd.setdefault(
                        piece.lines[k],
                        say.odd_row(work.name, piece.lines[k], 1, cells[k], f"is no number for the {c.role}"),
                    )
            if units is not None:
                x, unit = _own_units(x, units, c)
                sizes.setdefault(c.role, []).append(unit)
            parts[c.role].append(x)
        if time_kind != "number":
            stamps += [_stamp(row, columns) for row in piece.fields]
        if STATE in columns:
            at = columns[STATE].at
            states += [row[at] if at < len(row) else "" for row in piece.fields]
    raw = {role: np.concatenate(p) if p else np.zeros(0) for role, p in parts.items()}
    for role, found in sizes.items():
        if any(found):
            columns[role] = Column(role, columns[role].at, columns[role].header, found[0] or columns[role].unit)
    where = np.array(lines, dtype=int)
    t, kind = _stamps(raw, stamps, time_kind, columns, where, odd, work)
    _leave_out(layout, odd, total, headers, work)
    if len(where) < 3:
        work.faults.append(say.too_few(work.name, len(where)))
    work.check()
    values = _si(raw, t, columns, layout, work)
    if work.stated.every is not None:
        t = np.asarray(np.arange(len(where)) * work.stated.every, dtype=np.float64)
    elif kind == "number":
        t = values.pop(TIME)
    return Table(t, kind, values, log_signs.words_of(states) if states else None, where)


def _sample(layout: log_text.Layout, needed: int) -> list[list[str]]:
    rows = []
    for line in layout.lines[layout.first : layout.first + log_text.SAMPLE]:
        row = log_text.split(line, layout.delimiter) if line.strip() else []
        if needed <= len(row) <= layout.width + 1:
            rows.append(row)
    return rows


def _stamp(row: list[str], columns: dict[str, Column]) -> str:
    """The time as written, with its date where that has a column of its own."""
    cell = row[columns[TIME].at] if columns[TIME].at < len(row) else ""
    if DATE in columns and columns[DATE].at < len(row) and cell:
        return f"{row[columns[DATE].at]} {cell}"
    return cell


def _decimal(layout: log_text.Layout, sample: list[list[str]], columns: list[Column], work: Work) -> str:
    if work.stated.decimal:
        return "," if work.stated.decimal == "comma" else "."
    cells = [row[c.at] for row in sample for c in columns if c.at < len(row)]
    point, comma, either = log_numbers.decimal_evidence(cells)
    if point and comma and min(len(point), len(comma)) > FEW * len(cells):
        work.faults.append(say.decimal_both(work.name, point[0], comma[0]))
    if len(comma) > len(point):
        work.notes.append(f"The decimal mark is a comma, as in {quoted(comma[0])}.")
        return ","
    if either and not point:
        line = next((k for k in range(layout.first, len(layout.lines)) if either[0] in layout.lines[k]), layout.first)
        work.faults.append(say.decimal_open(work.name, line + 1, either[0]))
    return "."


def _own_units(x: Array, units: list[str], column: Column) -> tuple[Array, str]:
    """Values whose fields carry units: all in the first of them."""
    keys = [log_columns.unit_of(u) if u else "" for u in units]
    fitting = {k for k in keys if k and log_columns.fits(column.role, k)}
    if not fitting:
        return x, ""
    first = next(k for k in keys if k in fitting)
    scale, offset = UNITS[first][1:]
    for key in fitting - {first}:
        rows = np.array([k == key for k in keys])
        x = np.where(rows, (x * UNITS[key][1] + UNITS[key][2] - offset) / (scale or 1.0), x)
    return x, first


def _stamps(
    raw: dict[str, Array],
    cells: list[str],
    kind: str,
    columns: dict[str, Column],
    lines: NDArray[np.int_],
    odd: dict[int, Fault],
    work: Work,
) -> tuple[Array, str]:
    """Clock times and dates as seconds."""
    if work.stated.every is not None or kind == "number" or TIME not in columns:
        if kind == "" or (TIME in columns and kind == "number" and TIME not in raw):
            work.faults.append(
                say.unit_open(work.name, 0, TIME, columns[TIME].header, ("s",), "no time can be read there")
            )
        return np.zeros(len(lines)), "number"
    if not kind:
        work.faults.append(
            say.odd_row(work.name, int(lines[0]) if len(lines) else 0, 1, cells[0] if cells else "", "is no time")
        )
        return np.zeros(len(lines)), "number"
    if kind == "clock":
        two = -UNITS[columns[TIME].unit][1] if columns[TIME].unit and UNITS[columns[TIME].unit][1] < 0 else 0.0
        if not two and log_times.two_part(cells):
            known = next((c for c in cells if c), "")
            work.faults.append(say.clock_open(work.name, int(lines[0]) if len(lines) else 0, known))
        t, wrong = log_times.clocks(cells, two or 3600.0)
        kind = "count" if log_times.has_days(cells) else "clock"
    else:
        order = work.stated.dates
        if not order and log_times.year_last(cells):
            order, why = log_times.order_of(cells)
            work.notes += [why] if why else []
            if not order:
                work.faults.append(say.dates_open(work.name, int(lines[0]), cells[0]))
        t, wrong, zoned, plain = log_times.dates(cells, order or log_times.DAY_FIRST)
        if zoned and plain:
            work.faults.append(say.zones_mixed(work.name))
        kind = "count" if zoned else "date"
    for k in wrong:
        odd.setdefault(int(lines[k]), say.odd_row(work.name, int(lines[k]), 1, cells[k], "is no time"))
    return t, kind


def _leave_out(layout: log_text.Layout, odd: dict[int, Fault], total: int, headers: int, work: Work) -> None:
    """A few unreadable rows are left out and told; many are a fault."""
    if headers:
        work.notes.append(f"The header stands again {headers} time{'s' if headers > 1 else ''} between the rows.")
    if not odd:
        return
    last = max(k for k, line in enumerate(layout.lines, 1) if line.strip())
    tail: list[Fault] = []
    while last in odd and len(tail) < 20 and _closing(layout, last):
        tail.append(odd.pop(last))
        last = max((k for k in range(last - 1, 0, -1) if layout.lines[k - 1].strip()), default=0)
    if tail:
        cut = len(tail) == 1 and not layout.whole
        work.notes.append(
            "The last line was cut off and left out."
            if cut
            else f"{len(tail)} closing lines are no rows; they were left out."
        )
    if len(odd) > max(3, FEW * total):
        first = sorted(odd.items())[:TOLD]
        work.faults += [fault for _, fault in first]
        work.faults.append(say.more_odd_rows(work.name, len(odd), total))
    else:
        for line, fault in sorted(odd.items())[:TOLD]:
            work.notes.append(f"Line {line} was left out: {fault.problem}.")
        if len(odd) > TOLD:
            work.notes.append(f"{len(odd) - TOLD} more lines were left out for the like.")


def _closing(layout: log_text.Layout, line: int) -> bool:
    """Whether an unreadable line is a summary below the table, or the last one, cut off; a row has two numbers."""
    if line == len(layout.lines) and not layout.whole:
        return True
    count = 0
    for cell in log_text.split(layout.lines[line - 1], layout.delimiter):
        try:
            value, _ = log_numbers.number(cell, ".")
            count += bool(np.isfinite(value))
        except ValueError:
            continue
    return count < min(2, layout.width)


def _si(
    raw: dict[str, Array], t: Array, columns: dict[str, Column], layout: log_text.Layout, work: Work
) -> dict[str, Array]:
    """Numbers in SI; units that nobody told are inferred where only one can be meant."""
    line = (layout.header_line if layout.header else layout.first) + 1
    units = {role: columns[role].unit for role in raw}
    _infer(raw, t, units, columns, line, work)
    work.check()
    out = {}
    for role, x in raw.items():
        if not units[role] or units[role] not in UNITS:
            continue
        _, scale, offset = UNITS[units[role]]
        out[role] = x * (scale or 1.0) + offset
    return out


def _infer(
    raw: dict[str, Array], t: Array, units: dict[str, str], columns: dict[str, Column], line: int, work: Work
) -> None:
    """Fill in units that are missing, or ask for them."""

    def ask(role: str, seen: str) -> None:
        choices = log_units.CHOICES.get(CURRENT if role in (OUT, IN) else role, ("V",))
        work.faults.append(say.unit_open(work.name, line, role, columns[role].header, choices, seen))

    for role, infer in ((VOLTAGE, log_units.voltage), (TEMPERATURE, log_units.temperature)):
        if role in raw and not units[role]:
            guess = infer(raw[role])
            units[role] = guess.unit
            if guess.unit:
                work.notes.append(guess.why)
            elif role == VOLTAGE:
                ask(role, guess.why)
            else:
                work.notes.append(
                    f"The temperature was left aside: it has no unit and {guess.why}; state it by --units."
                )
    if TIME in raw and not units[TIME]:
        guess = log_units.epoch(raw[TIME])
        units[TIME] = guess.unit
        work.notes += [guess.why] if guess.unit else []
    if POWER in raw and not units[POWER] and CURRENT not in raw and OUT not in raw and IN not in raw:
        work.faults.append(
            say.unit_open(work.name, line, POWER, columns[POWER].header, ("W", "mW"), "it is needed for the current")
        )
    flows = [role for role in (CURRENT, OUT, IN) if role in raw]
    for role in flows[1:]:
        units[role] = units[role] or units[flows[0]]
    open_time = TIME in raw and not units[TIME]
    if flows and (open_time or not units[flows[0]]):
        count = next((r for r in (COUNTED_OUT, COUNTER, COUNTED_IN) if r in raw and units[r]), None)
        stamps = (
            raw[TIME]
            if TIME in raw
            else t
            if work.stated.every is None
            else np.asarray(np.arange(len(raw[flows[0]])) * work.stated.every, dtype=np.float64)
        )
        times = [units[TIME]] if TIME in raw and units[TIME] else ["s", "min", "h", "ms"] if open_time else ["s"]
        currents = [units[flows[0]]] if units[flows[0]] else ["a", "ma"]
        counts = raw[count] * UNITS[units[count]][1] if count else None
        time, current, why = log_units.by_charge(stamps, raw[flows[0]], times, currents, counts)
        if why:
            said = " and ".join(w for w, yes in (("time", open_time), ("current", not units[flows[0]])) if yes)
            work.notes.append(f"The {said} has no unit; {why}.")
            units.update({TIME: time} if TIME in raw else {})
            for role in flows:
                units[role] = units[role] or current
    if TIME in raw and not units[TIME]:
        ask(TIME, "nothing in the file proves it")
    for role in flows:
        if not units[role]:
            top = float(np.nanmax(np.abs(raw[role]), initial=0.0))
            ask(role, f"its values reach {top:.4g}")
    for role in (COUNTER, COUNTED_OUT, COUNTED_IN):
        if role in raw and not units[role]:
            work.notes.append(f"{quoted(columns[role].header)} has no unit and was left aside; state it by --units.")
