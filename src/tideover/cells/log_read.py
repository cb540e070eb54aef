"""A logger's file becomes a `Log`: what is certain is recognised, what is not is refused with the option that states it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tideover.cells import (
    log_columns,
    log_loads,
    log_numbers,
    log_order,
    log_sidecar,
    log_signs,
    log_text,
    log_times,
    log_units,
)
from tideover.cells import log_faults as say
from tideover.cells.log import Array, Log
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
from tideover.cells.log_counter import counted
from tideover.cells.log_direction import directed
from tideover.cells.log_sidecar import ReadAs
from tideover.design.messages import BuildError, Fault, quoted

FEW = 0.01
"""Share of rows that may be unreadable and are left out; more of them point to a wrong reading."""
TOLD = 5
"""Unreadable rows told one by one."""
HIGHEST, LARGEST = 100.0, 2000.0
"""Voltage and current beyond which a reading is wrong rather than large. [V], [A]"""
NEEDED = (TIME, VOLTAGE, CURRENT, OUT, IN)


@dataclass(frozen=True)
class Reading:
    """A log with how it was read.

    Attributes
    ----------
    log : Log
        The record.
    stated : ReadAs
        What counts as stated: options over sidecar.
    decided : tuple of str
        What was decided, for the sidecar: `Log.assumed` without warnings.
    """

    log: Log
    stated: ReadAs
    decided: tuple[str, ...]


@dataclass
class _Work:
    """What is passed along while a file is read."""

    name: str
    stated: ReadAs
    notes: list[str] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)

    def check(self) -> None:
        if self.faults:
            raise BuildError(self.faults)


def read_log(path: str | Path, stated: ReadAs | None = None) -> Log:
    """Read a log; what its sidecar states counts, and `stated` counts over it.

    Parameters
    ----------
    path : str or Path
        Of the file. It is never written to. [-]
    stated : ReadAs, optional
        What is known and does not stand in the file. [-]

    Returns
    -------
    log : Log
        In SI, discharge positive.

    Raises
    ------
    BuildError
        The file cannot be read, or could be read in two ways; every fault names the option that settles it.
    """
    return read(path, stated).log


def read(path: str | Path, stated: ReadAs | None = None) -> Reading:
    """As `read_log`, with what the sidecar is to keep."""
    path = Path(path)
    raw = _bytes(path)
    digest = hashlib.sha256(raw).hexdigest()
    kept, warnings = log_sidecar.load(path, digest)
    said = (stated or ReadAs()).over(kept)
    work = _Work(path.name, said)
    text, note = log_text.decoded(raw, path.name)
    work.notes += [note] if note else []
    log = _record(text, work, digest)
    return Reading(
        Log(log.name, log.t, log.v, log.i, log.temp, log.discharged, log.breaks, (*warnings, *log.assumed), digest),
        said,
        log.assumed,
    )


def _bytes(path: Path) -> bytes:
    name = path.name or str(path)
    try:
        if path.is_dir():
            raise BuildError([say.a_folder(name)])
        if not path.is_file():
            raise BuildError([say.no_file(str(path))])
        size = path.stat().st_size
        if size > log_text.LARGEST:
            raise BuildError([say.too_big(name, size, log_text.LARGEST)])
        return path.read_bytes()
    except (OSError, ValueError) as error:
        raise BuildError([say.unreadable(name, str(getattr(error, "strerror", None) or error))]) from None


def _record(text: str, work: _Work, digest: str) -> Log:
    """The whole way from text to record."""
    in_order = [e for e in work.stated.columns.replace(";", ",").split(",") if e.strip()]
    in_order = [] if "=" in work.stated.columns else in_order
    layout = log_text.laid_out(text, work.name, len(in_order))
    work.notes += log_text.told(layout)
    columns = _columns(layout, work)
    work.check()
    table = _table(layout, columns, work)
    work.check()
    stamps, kind = table.stamps, table.kind
    good = np.isfinite(stamps) & np.isfinite(table.values[VOLTAGE])
    for role in (CURRENT,):
        if role in table.values:
            good &= np.isfinite(table.values[role])
    if not good.all():
        work.notes.append(f"{int((~good).sum())} rows lack a reading; they were left out.")
    if good.sum() < 3:
        raise BuildError([say.too_few(work.name, int(good.sum()))])
    values = {role: x[good] for role, x in table.values.items()}
    words = table.words[good] if table.words is not None else None
    lines = table.lines[good]
    told = [values[role] for role in (VOLTAGE, CURRENT, OUT, IN) if role in values]
    order = log_order.ordered(stamps[good], kind, lambda a, b: all(x[a] == x[b] for x in told), lines)
    if order.falls:
        raise BuildError([say.zigzag(work.name, order.falls)])
    work.notes += order.notes
    values = {role: x[order.rows] for role, x in values.items()}
    words = words[order.rows] if words is not None else None
    if len(order.t) < 3:
        raise BuildError([say.too_few(work.name, len(order.t))])
    return _log(work, order.t, values, words, tuple(order.breaks), digest)


def _log(
    work: _Work,
    t: Array,
    values: dict[str, Array],
    words: NDArray[np.int_] | None,
    breaks: tuple[int, ...],
    digest: str,
) -> Log:
    v = values[VOLTAGE]
    _reach(work, v, values)
    work.check()
    i = _current(work, t, v, values, words, breaks)
    work.check()
    discharged = None
    for role, other in ((COUNTED_OUT, COUNTED_IN), (COUNTER, ""), (COUNTED_IN, "")):
        if role in values and discharged is None:
            into = values.get(other)
            said = {COUNTED_OUT: "The count of discharge", COUNTED_IN: "The count of charge"}.get(
                role, "The count of charge"
            )
            count = counted(said, t, i, values[role], breaks, into)
            discharged = count.discharged
            work.notes += count.notes
            new = [k for k in count.holes if k not in breaks]
            if new:
                work.notes.append(f"{len(new)} steps count more charge than the current gives: rows are missing there.")
                breaks = tuple(sorted({*breaks, *new}))
    return Log(work.name, t, v, i, values.get(TEMPERATURE), discharged, breaks, tuple(work.notes), digest)


def _reach(work: _Work, v: Array, values: dict[str, Array]) -> None:
    top = float(np.abs(v).max())
    if top > HIGHEST:
        expected = "A cell or a block of cells stays below 100 V."
        work.faults.append(
            say.out_of_reach(work.name, "the voltage", f"{top:.6g} V", expected, 'State its unit: --units "voltage=mV"')
        )
    for role in (CURRENT, OUT, IN):
        if role in values and len(values[role]):
            top = float(np.nanmax(np.abs(values[role]), initial=0.0))
            if top > LARGEST:
                expected = "A cell's current stays below 2000 A."
                mend = f'State its unit: --units "{role}=mA"'
                work.faults.append(say.out_of_reach(work.name, f"the {role}", f"{top:.6g} A", expected, mend))


def _current(
    work: _Work, t: Array, v: Array, values: dict[str, Array], words: NDArray[np.int_] | None, breaks: tuple[int, ...]
) -> Array:
    """Current, positive on discharge."""
    said = work.stated
    if said.current is not None or said.resistor is not None or said.power is not None:
        load = log_loads.stated(work.name, t, v, said, breaks)
        work.notes += load.notes
        work.faults += [load.fault] if load.fault else []
        return load.i
    if CURRENT not in values and POWER in values and OUT not in values and IN not in values:
        values[CURRENT] = values[POWER] / np.where(np.abs(v) > 0.05, v, np.inf)
        work.notes.append("No column has the current; it was taken from power and voltage.")
    out, into = values.get(OUT), values.get(IN)
    if CURRENT not in values and (out is not None or into is not None):
        found = log_loads.one_way(work.name, t, v, out, into, breaks)
    else:
        found = directed(work.name, t, v, values[CURRENT], breaks, said.discharge, words, values.get(COUNTED_OUT))
    work.notes += found.notes
    work.faults += [found.fault] if found.fault else []
    return found.i


# --- columns ---------------------------------------------------------------------------------------


def _columns(layout: log_text.Layout, work: _Work) -> dict[str, Column]:
    """Which column is what; faults for those that must be there and are not."""
    said = work.stated
    line = (layout.header_line if layout.header else layout.first) + 1
    loads = said.current is not None or said.resistor is not None or said.power is not None
    named = {e.partition("=")[0].strip() for e in said.columns.split(",") if "=" in e}
    found: list[Column] = []
    if layout.header:
        in_order = bool(said.columns) and "=" not in said.columns
        needed = [role for role in NEEDED if role not in named and not (loads and role != VOLTAGE and role != TIME)]
        needed = [role for role in needed if role != TIME or said.every is None]
        found, faults = log_columns.recognised(work.name, line, layout.header, layout.units, needed)
        work.faults += [] if in_order else faults
    if said.columns:
        found, faults = log_columns.stated(work.name, said.columns, layout.header, layout.units, layout.width, found)
        work.faults += faults
    elif not layout.header:
        work.faults.append(say.no_header(work.name, line, log_text.split(layout.lines[layout.first], layout.delimiter)))
        return {}
    columns = {c.role: c for c in found}
    units, faults = log_sidecar.units(work.name, said.units)
    for role, unit in units.items():
        if role in columns:
            columns[role] = Column(role, columns[role].at, columns[role].header, unit)
    if said.every is not None:
        columns.pop(TIME, None)
        columns.pop(DATE, None)
    elif TIME not in columns and DATE in columns:
        columns[TIME] = Column(TIME, columns[DATE].at, columns[DATE].header)
        del columns[DATE]
    if loads:
        for role in (CURRENT, OUT, IN, POWER):
            columns.pop(role, None)
    elif CURRENT in columns and (OUT in columns or IN in columns):
        columns.pop(OUT, None)
        columns.pop(IN, None)
    if not work.faults:
        work.faults += _missing(columns, layout, line, work)
    return columns


def _missing(columns: dict[str, Column], layout: log_text.Layout, line: int, work: _Work) -> list[Fault]:
    faults = []
    wanted = [(VOLTAGE, 'State it: --columns "voltage=..." with its name or number')]
    if work.stated.every is None:
        mend = 'State it: --columns "time=..." with its name or number, or the time between two rows: --every "1 s"'
        wanted.append((TIME, mend))
    loads = (work.stated.current, work.stated.resistor, work.stated.power)
    if loads == (None, None, None) and not {CURRENT, OUT, IN, POWER} & set(columns):
        mend = (
            'State it: --columns "current=...", or the load: --current "500 mA", --resistor "3.3 ohm" or --power "5 W"'
        )
        wanted.append((CURRENT, mend))
    for role, mend in wanted:
        if role not in columns:
            faults.append(say.missing_column(work.name, line, role, layout.header, mend))
    return faults


# --- fields ----------------------------------------------------------------------------------------


@dataclass
class _Table:
    """Columns as numbers in SI."""

    stamps: Array
    kind: str
    values: dict[str, Array]
    words: NDArray[np.int_] | None
    lines: NDArray[np.int_]


def _table(layout: log_text.Layout, columns: dict[str, Column], work: _Work) -> _Table:
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
        t = np.arange(len(where)) * work.stated.every
    elif kind == "number":
        t = values.pop(TIME)
    return _Table(t, kind, values, log_signs.words_of(states) if states else None, where)


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


def _decimal(layout: log_text.Layout, sample: list[list[str]], columns: list[Column], work: _Work) -> str:
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
    work: _Work,
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


def _leave_out(layout: log_text.Layout, odd: dict[int, Fault], total: int, headers: int, work: _Work) -> None:
    """A few unreadable rows are left out and told; many are a fault."""
    if headers:
        work.notes.append(f"The header stands again {headers} time{'s' if headers > 1 else ''} between the rows.")
    if not odd:
        return
    last = max(k for k, line in enumerate(layout.lines, 1) if line.strip())
    tail = []
    while last in odd and len(tail) < 20:
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


def _si(
    raw: dict[str, Array], t: Array, columns: dict[str, Column], layout: log_text.Layout, work: _Work
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
    raw: dict[str, Array], t: Array, units: dict[str, str], columns: dict[str, Column], line: int, work: _Work
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
            else np.arange(len(raw[flows[0]])) * work.stated.every
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
