"""A logger's file becomes a `Log`: what is certain is recognised, the rest is asked by the option that states it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tideover.cells import log_columns, log_loads, log_order, log_sidecar, log_text
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
    TEMPERATURE,
    TIME,
    VOLTAGE,
    Column,
)
from tideover.cells.log_counter import counted
from tideover.cells.log_direction import directed
from tideover.cells.log_sidecar import ReadAs
from tideover.cells.log_table import NEEDED, Work, table_of
from tideover.design.messages import BuildError, Fault

HIGHEST, LARGEST = 100.0, 2000.0
"""Voltage and current beyond which a reading is wrong rather than large. [V], [A]"""


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
    work = Work(path.name, said)
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


def _record(text: str, work: Work, digest: str) -> Log:
    """The whole way from text to record."""
    in_order = [e for e in work.stated.columns.replace(";", ",").split(",") if e.strip()]
    in_order = [] if "=" in work.stated.columns else in_order
    layout = log_text.laid_out(text, work.name, len(in_order))
    work.notes += log_text.told(layout)
    columns = _columns(layout, work)
    work.check()
    table = table_of(layout, columns, work)
    work.check()
    stamps, kind = table.stamps, table.kind
    good = np.isfinite(stamps) & np.isfinite(table.values[VOLTAGE])
    if CURRENT in table.values:
        good &= np.isfinite(table.values[CURRENT])
    elif POWER in table.values and not {OUT, IN} & set(table.values):  # then the current is taken from it
        good &= np.isfinite(table.values[POWER])
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
    work: Work,
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


def _reach(work: Work, v: Array, values: dict[str, Array]) -> None:
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
    work: Work, t: Array, v: Array, values: dict[str, Array], words: NDArray[np.int_] | None, breaks: tuple[int, ...]
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


def _columns(layout: log_text.Layout, work: Work) -> dict[str, Column]:
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


def _missing(columns: dict[str, Column], layout: log_text.Layout, line: int, work: Work) -> list[Fault]:
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
