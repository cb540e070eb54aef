"""Cells from another table: which column is what, recognised where certain, and nothing overwritten unasked."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from tideover.cells import columns as col
from tideover.cells.columns import BY_FIELD, WrongValueError, read_time
from tideover.cells.inventory import LARGEST, first_of, is_row, offset, records, same, split, split_header
from tideover.cells.stock import CONDITIONS, METHODS, StockCell
from tideover.design.messages import BuildError, Fault, listed, meant, quoted
from tideover.design.model import Place

VOLTS, DATE, CLOCK = "rest voltage", "date", "clock"
"""What a table may hold besides the columns of the inventory: one rest voltage a row, with its day and hour."""
KNOWN: dict[str, tuple[str, ...]] = {
    "id": ("id", "cell", "cellid", "cellno", "cellnr", "cellnumber", "cellname", "no", "nr", "number", "label", "name"),
    "model": ("model", "type", "celltype", "cellmodel", "sleeve"),
    "chemistry": ("chemistry", "chem"),
    "source": ("source", "origin"),
    "acquired": ("acquired", "dateacquired"),
    "age": ("age", "ageclass"),
    "nameplate": ("nameplate", "nominal", "nominalcapacity", "ratedcapacity", "rated", "nameplatecapacity"),
    "capacity": ("capacity", "cap", "measuredcapacity", "dischargecapacity", "capacitymeasured", "dischargedcapacity"),
    "capacity_spread": ("capacityspread",),
    "discharge_current": ("dischargecurrent", "dischargingcurrent", "currentofdischarge", "idischarge", "idis"),
    "cutoff": ("cutoff", "cutoffvoltage", "dischargecutoff", "dischargecutoffvoltage", "endvoltage", "vcutoff"),
    "ambient": ("ambient", "ambienttemperature", "ambienttemp", "roomtemperature", "roomtemp"),
    "resistance": ("resistance", "ir", "ri", "rint", "internalresistance", "dcir", "acir", "innerresistance"),
    "method": ("method",),
    "resistance_spread": ("resistancespread",),
    "arrival": ("arrival", "arrivalvoltage", "voltageonarrival", "voltagearrival"),
    "rests": ("restvoltages",),
    "heating": ("heating", "temperaturerise"),
    "status": ("status",),
    "reason": ("reason",),
    "notes": ("notes", "note", "remark", "remarks", "comment", "comments"),
    VOLTS: ("restvoltage", "voltage", "volts", "volt", "v", "ocv", "vrest", "restingvoltage"),
    DATE: ("date", "datetime", "timestamp", "measured", "measuredat", "tested", "when", "day"),
    CLOCK: ("time", "clock", "hour"),
}
"""By field, headers that mean it, without spaces and case."""
UNITS = {
    **dict.fromkeys(("mah",), "mAh"),
    **dict.fromkeys(("ah",), "Ah"),
    **dict.fromkeys(("mohm", "mohms", "milliohm", "milliohms", "mω", "mΩ"), "mohm"),
    **dict.fromkeys(("ohm", "ohms", "ω", "Ω"), "ohm"),
    **dict.fromkeys(("v", "volt", "volts"), "V"),
    **dict.fromkeys(("mv",), "mV"),
    **dict.fromkeys(("a", "amp", "amps", "ampere", "amperes"), "A"),
    **dict.fromkeys(("ma",), "mA"),
    "k": "K",
    **dict.fromkeys(("°c", "degc"), "°C"),
    "%": "%",
}
ALONE = {"mAh": "capacity", "Ah": "capacity", "mohm": "resistance", "V": VOLTS, "mV": VOLTS}
"""What a header means that is nothing but a unit."""


@dataclass(frozen=True)
class Found:
    """One row of another table.

    Attributes
    ----------
    id : str
        Of its cell.
    values : dict
        By field of `StockCell`, in SI; only what the row says.
    line : int
        Of the file.
    """

    id: str
    values: dict[str, Any]
    line: int


@dataclass(frozen=True)
class Told:
    """What the person says of the whole table.

    Attributes
    ----------
    columns : dict of str to str
        By field, the header that means it, perhaps with a unit in brackets; an empty one leaves the field out.
    each : dict of str to str
        By field, what holds for every row that says nothing else.
    method : str
        One of `METHODS`, or empty.
    at : datetime or None
        When voltages without a date were read.
    dates : str
        One of `columns.DATES`, or empty.
    """

    columns: dict[str, str]
    each: dict[str, str]
    method: str = ""
    at: datetime | None = None
    dates: str = ""


@dataclass(frozen=True)
class Meaning:
    """What a column holds: the field, the unit of its bare numbers, the method of its resistances."""

    field: str
    unit: str = ""
    method: str = ""


def pairs(text: str) -> dict[str, str]:
    """What is said as ``capacity = Cap [mAh]; id = Cell``, by field.

    Raises
    ------
    ValueError
        A piece without an equals sign, or with a name that is none; the text says which there are.
    """
    names = {_word(field): field for field in KNOWN if field != CLOCK}
    out = {}
    for piece in filter(None, (p.strip() for p in text.split(";"))):
        name, sign, said = (part.strip() for part in piece.partition("="))
        key = " ".join(name.casefold().replace("_", " ").split())
        if not sign or key not in names:
            near = meant(key, names)
            hint = f" Write: {near} = {said or '...'}" if near else ""
            raise ValueError(f'"{piece[:60]}" does not begin with a name and "=". Names are: {", ".join(names)}.{hint}')
        out[names[key]] = said
    return out


def read_table(path: Path, told: Told) -> tuple[tuple[Found, ...], tuple[str, ...]]:
    """Rows of another table.

    Parameters
    ----------
    path : Path
        A text file with a row of headers; commas, semicolons or tabs part its columns. [-]
    told : Told
        What cannot be seen in it. [-]

    Returns
    -------
    rows : tuple of Found
        In the order of the file. [-]
    notes : tuple of str
        Which column was taken for what, and what was assumed.

    Raises
    ------
    BuildError
        With every fault.
    """
    text, notes = _text(path)
    raws = [(raw, line) for raw, line in records(text) if is_row(raw)]
    place = Place(str(path))
    if len(raws) < 2:
        raise BuildError([Fault(place, "", "holds no row of headers with cells below it", "", "Look at the file.")])
    delimiter = max(",;\t", key=raws[0][0].count)
    header = split(raws[0][0], delimiter)
    faults: list[Fault] = []
    meaning = _meanings(path, raws[0][1], header, told, faults)
    if faults:
        raise BuildError(faults)
    for k, head in enumerate(header):
        if k in meaning:
            m = meaning[k]
            notes.append(f"{quoted(head)} is the {_word(m.field)}" + (f" in {m.unit}" if m.unit else ""))
        elif head:
            notes.append(f"{quoted(head)} is not read")
    rows: list[Found] = []
    for raw, line in raws[1:]:
        row = _row(path, line, raw, split(raw, delimiter), meaning, told, delimiter, faults, notes, header)
        if row:
            rows.append(row)
    if faults:
        raise BuildError(first_of(faults))
    return tuple(rows), tuple(dict.fromkeys(notes))


def _text(path: Path) -> tuple[str, list[str]]:
    place = Place(str(path))
    try:
        if path.is_dir() or path.stat().st_size > LARGEST:
            what = "is a folder" if path.is_dir() else f"has more than {LARGEST / 1e6:.0f} MB"
            raise BuildError([Fault(place, "", f"the file {what}", "A table of cells is expected.", "Name another.")])
        data = path.read_bytes()
    except FileNotFoundError:
        raise BuildError([Fault(place, "", "there is no such file", "", "Check the spelling.")]) from None
    if b"\0" in data[:4000]:
        mend = "Save it as CSV in UTF-8."
        raise BuildError([Fault(place, "", "this is no text file: it holds zero bytes", "", mend)])
    try:
        return data.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace"), ["The file is not UTF-8 and was read as Western European (cp1252)"]


def _compact(text: str) -> str:
    return re.sub(r"[\s\-_./:#]", "", text.casefold())


def recognised(header: str) -> Meaning:
    """What a header certainly means; an empty field where it is not certain.

    Examples
    --------
    >>> recognised("Cap (mAh)")
    Meaning(field='capacity', unit='mAh', method='')
    >>> recognised("IR 1 kHz [mOhm]")
    Meaning(field='resistance', unit='mohm', method='AC 1 kHz')
    """
    name, unit = split_header(header)
    unit = UNITS.get(unit.casefold(), unit)
    if not unit:
        tail = re.fullmatch(r"(.*?)[\s_]*(\S+)", name.replace("_", " "))
        if tail and tail[2].casefold() in UNITS and not any(_compact(name) in names for names in KNOWN.values()):
            alike = _compact(tail[1]) in KNOWN["discharge_current"]
            if alike or UNITS[tail[2].casefold()] not in ("A", "mA"):  # "Cell A" has no unit
                name, unit = tail[1], UNITS[tail[2].casefold()]
    if not name.strip() and unit in ALONE:
        return Meaning(ALONE[unit], unit)
    whole = _compact(name)
    method = next((m for m in METHODS if _compact(m) in whole), "AC 1 kHz" if "1khz" in whole else "")
    for said in (_compact(method), "1khz"):
        whole = whole.replace(said, "") if said else whole
    field = next((field for field, names in KNOWN.items() if whole in names), "")
    return Meaning(field, unit, method if field == "resistance" else "") if field else Meaning("")


def _meanings(path: Path, line: int, header: Sequence[str], told: Told, faults: list[Fault]) -> dict[int, Meaning]:
    """By position, what each column holds; what the person says goes before what is recognised."""
    out: dict[int, Meaning] = {}
    place = Place(str(path), line, 1)
    for field, said in told.columns.items():
        if not said:
            continue
        name, unit = split_header(said)
        where = [k for k, text in enumerate(header) if text in (said, name)] or [
            k for k, text in enumerate(header) if _compact(text) in (_compact(said), _compact(name))
        ]
        if not where:
            problem = f"there is no column {quoted(name)} for the {_word(field)}"
            faults.append(Fault(place, "", problem, f"There are: {listed(list(header), 12)}.", "Look at --columns."))
            continue
        seen = recognised(header[where[0]])
        out[where[0]] = Meaning(field, UNITS.get(unit.casefold(), unit) or seen.unit, seen.method)
    for k, text in enumerate(header):
        seen = recognised(text)
        if k in out or not seen.field or seen.field in told.columns:
            continue
        twice = next((other for other, meaning in out.items() if meaning.field == seen.field), None)
        if twice is not None:
            problem = f"{quoted(header[twice])} and {quoted(text)} can both be the {_word(seen.field)}"
            mend = f'Say which: --columns "{_word(seen.field)} = {header[twice]}"'
            faults.append(Fault(place, "", problem, "", mend))
            continue
        out[k] = seen
    if CLOCK in _fields(out) and DATE not in _fields(out):  # alone it may hold the day as well; each row tells
        out = {k: replace(m, field=DATE) if m.field == CLOCK else m for k, m in out.items()}
    _complete(place, header, out, told, faults)
    return out


def _fields(meanings: dict[int, Meaning]) -> set[str]:
    return {meaning.field for meaning in meanings.values()}


def _word(field: str) -> str:
    """A field as people say it."""
    return {"rests": "rest voltages", "cutoff": "cut-off"}.get(field, field.replace("_", " "))


def _complete(
    place: Place, header: Sequence[str], meanings: dict[int, Meaning], told: Told, faults: list[Fault]
) -> None:
    """Whether the columns hold all that is needed to understand them."""
    fields = _fields(meanings)
    there = f"There are: {listed(list(header), 12)}."
    if "id" not in fields:
        mend = f'Say which: --columns "id = {header[0] or "..."}"'
        faults.append(Fault(place, "", "no column holds the cells' ids", there, mend))
    if fields <= {"id", DATE}:
        mend = 'Say which, such as: --columns "capacity = Cap [mAh]"'
        faults.append(Fault(place, "", "no column besides the id is recognised", there, mend))
    stated = told.method or "method" in fields | set(told.each)
    if any(m.field == "resistance" and not (m.method or stated) for m in meanings.values()):
        problem = "there are resistances, but nothing says by which method they were taken"
        expected = f"Methods are {listed(METHODS)}; they differ by up to a factor of two and are never mixed."
        mend = 'State it: --method "DC 1 s"; or leave them out: --columns "resistance ="'
        faults.append(Fault(place, "", problem, expected, mend))
    if VOLTS in fields and DATE not in fields and told.at is None:
        problem = "there are voltages, but nothing says when they were read"
        mend = 'State it: --at "2026-10-01 18:00"; or leave them out: --columns "rest voltage ="'
        faults.append(Fault(place, "", problem, "A rest voltage has a day and an hour.", mend))


def _row(
    path: Path,
    line: int,
    raw: str,
    parts: list[str],
    meanings: dict[int, Meaning],
    told: Told,
    delimiter: str,
    faults: list[Fault],
    notes: list[str],
    header: Sequence[str],
) -> Found | None:
    """One row; None after a fault. A column without a unit is one fault, at its first value."""
    texts = {m.field: (parts[k], m, k) for k, m in meanings.items() if k < len(parts) and parts[k]}
    for field, said in told.each.items():
        texts.setdefault(field, (said, Meaning(field), 0))
    if "id" not in texts:
        mend = "Give it one, or make the line a remark with #."
        faults.append(Fault(Place(str(path), line, 1), "", "the row has no id", "", mend))
        return None
    name, before, bare = texts["id"][0], len(faults), False
    values: dict[str, Any] = {}
    for field, (text, meaning, k) in texts.items():
        place = Place(str(path), line, offset(raw, k, delimiter))
        try:
            values |= _value(field, text, meaning, texts, told, notes)
        except WrongValueError as error:
            mend = _mend(error, field, header[k])
            if UNITLESS in error.problem and any(fault.mend == mend for fault in faults):
                bare = True
                continue
            faults.append(Fault(place, f"cell {name}, {_word(field)}:", error.problem, error.expected, mend))
    if bare or len(faults) > before:
        return None
    if "resistance" in values and "method" not in values:
        values["method"] = texts["resistance"][1].method or told.method
    if "resistance" not in values:
        values.pop("method", None)
    return Found(str(values.pop("id")), values, line)


def _value(
    field: str, text: str, meaning: Meaning, texts: dict[str, tuple[str, Meaning, int]], told: Told, notes: list[str]
) -> dict[str, Any]:
    """What one text adds to the row's values."""
    if field in (DATE, CLOCK):
        return {}
    if field == "acquired":
        return {field: read_time(text, told.dates)[0].date()}
    if field != VOLTS:
        return {field: col.read(BY_FIELD[field], text, meaning.unit)}
    volts = col.read(replace(BY_FIELD["rests"], kind="number", example="4.182 V"), text, meaning.unit)
    if DATE not in texts:
        if told.at is None:
            raise WrongValueError("has no date", "", 'State it: --at "2026-10-01 18:00"')
        return {"rests": ((told.at, volts),)}
    said = " ".join(texts[field][0] for field in (DATE, CLOCK) if field in texts)
    moment, hour = read_time(said, told.dates)
    if not hour:
        notes.append("Dates have no hour; noon was assumed")
    return {"rests": ((moment, volts),)}


UNITLESS = "without a unit"


def _mend(error: WrongValueError, field: str, head: str) -> str:
    """The cure in this command's own words."""
    if UNITLESS in error.problem:
        unit = {"rests": "V", VOLTS: "V"}.get(field) or BY_FIELD[field].unit
        return f'State it: --columns "{_word(field)} = {head} [{unit}]"'
    if "the day or the month first" in error.problem:
        return f'Say how it is meant: --dates "{col.DATES[0]}", or --dates "{col.DATES[1]}"'
    return error.mend


# --- into the inventory --------------------------------------------------------------------------


def merge(
    cells: Iterable[StockCell], rows: Iterable[Found], path: Path, replacing: bool = False
) -> tuple[StockCell, ...]:
    """Cells with what the rows say of them.

    Parameters
    ----------
    cells : iterable of StockCell
        Those of the inventory. [-]
    rows : iterable of Found
        Several of one cell add up. [-]
    path : Path
        Where the rows come from, for complaints. [-]
    replacing : bool
        Whether a value that is there already may give way to another one. [-]

    Returns
    -------
    altered : tuple of StockCell
        New ones, and those of which the rows say anything.

    Raises
    ------
    BuildError
        With every conflict: a cell has another value already, or two rows contradict each other.
    """
    there = {cell.id: cell for cell in cells}
    by_case = {name.casefold(): name for name in there}
    out: dict[str, StockCell] = {}
    said: dict[tuple[str, str], int] = {}
    faults: list[Fault] = []
    for row in rows:
        name = by_case.setdefault(row.id.casefold(), row.id)
        place = Place(str(path), row.line, 1)
        if name != row.id:
            mend = f"Write {name} if it is that cell, or give it another id."
            faults.append(Fault(place, f"cell {row.id}", f"is too much like {name}", "", mend))
            continue
        cell = out.get(name) or there.get(name) or StockCell(name)
        for field, value in row.values.items():
            column, had = BY_FIELD[field], getattr(cell, field)
            first = said.setdefault((name, field), row.line)
            again = first != row.line
            if field == "rests":
                value, odd = united(had, value, replacing)
                clash, had = bool(odd), odd or had
                recorded = there[name].rests if name in there else ()
                again = again and any(pair not in recorded for pair in odd)
            else:
                clash = had not in (None, "") and not same(had, value) and not same(had, _default(field))
            if clash and again:
                problem = f"is {col.spoken(column, value)} here and {col.spoken(column, had)} in line {first}"
                faults.append(Fault(place, f"cell {name}, {column.name},", problem, "", "Keep one of them."))
            elif clash and not replacing:
                problem = f"is {col.spoken(column, value)} here and {col.spoken(column, had)} in the inventory"
                mend = "Add --replace to take the new values; the old ones stay in the history."
                faults.append(Fault(place, f"cell {name}, {column.name},", problem, "", mend))
            else:
                if field == "capacity" and had is not None and not same(had, value):
                    # How the one before was measured says nothing of this one.
                    unsaid: dict[str, Any] = {f: None for f in CONDITIONS if (name, f) not in said}
                    cell = replace(cell, **unsaid)
                cell = replace(cell, **{field: value})
        out[name] = cell
    if faults:
        raise BuildError(faults)
    return tuple(out.values())


def united(
    old: Sequence[tuple[datetime, float]], new: Sequence[tuple[datetime, float]], replacing: bool = False
) -> tuple[tuple[tuple[datetime, float], ...], tuple[tuple[datetime, float], ...]]:
    """Rest voltages of both in order of time, and those old ones that the new contradict. [V]"""
    found = dict(old)
    clash = tuple((when, found[when]) for when, volts in new if when in found and not same(found[when], volts))
    for when, volts in new:
        if replacing or when not in found:
            found[when] = volts
    return tuple(sorted(found.items())), clash


def _default(field: str) -> object:
    return getattr(StockCell(""), field)
