"""The columns of the inventory: what each is called, how its text becomes a value in SI, and back."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime

from tideover.cells.stock import METHODS, STATUSES
from tideover.parts.pack import CHEMISTRIES
from tideover.quantity import ZERO_CELSIUS, QuantityError, parse

ID_LONGEST = 32
"""Characters of an id: what a label of 38 mm still shows."""
TIME = 'A time is expected as year-month-day and hour:minute, such as "2026-10-01T18:00".'
DATES = ("day first", "month first")
"""How a date with slashes is meant; nothing in it tells."""

_OTHER_WORDS = {
    "lifepo4": "LFP",
    "leadacid": "PbA",
    "agm": "PbA",
    "licoo2": "LCO",
    "1khz": "AC 1 kHz",
    "1khzac": "AC 1 kHz",
    "1sdc": "DC 1 s",
    "10sdc": "DC 10 s",
}
"""Other spellings that are certain. ``Li-ion`` and ``DC`` alone are not: they leave open which."""


class WrongValueError(ValueError):
    """A text that is not what its column holds; the parts of a complaint."""

    def __init__(self, problem: str, expected: str, mend: str) -> None:
        super().__init__(f"{problem}. {expected} {mend}")
        self.problem, self.expected, self.mend = problem, expected, mend


@dataclass(frozen=True)
class Column:
    """One column of the table.

    Attributes
    ----------
    name : str
        As it heads the table, without its unit.
    field : str
        Attribute of `StockCell`.
    kind : str
        ``text``, ``word``, ``date``, ``rests`` or ``number``.
    unit : str
        Of the numbers in the file, such as ``Ah``.
    si : str
        Of the attribute, as `tideover.quantity.parse` names it.
    low, high : float
        Outside these it is a slip of the pen. In SI.
    words : tuple of str
        The only ones allowed.
    example : str
        What a right value looks like.
    """

    name: str
    field: str
    kind: str = "text"
    unit: str = ""
    si: str = ""
    low: float = 0.0
    high: float = 0.0
    words: tuple[str, ...] = ()
    example: str = ""

    @property
    def header(self) -> str:
        """With its unit, as it stands over the column."""
        return f"{self.name} [{self.unit}]" if self.unit else self.name


COLUMNS: tuple[Column, ...] = (
    Column("id", "id", example="A17"),
    Column("model", "model", example="NMC 18650 2.6 Ah"),
    Column("chemistry", "chemistry", "word", words=CHEMISTRIES, example="NMC"),
    Column("source", "source", example="lamp packs of the boat club"),
    Column("acquired", "acquired", "date", example="2026-09-12"),
    Column("age", "age", example="2019 scrap"),
    Column("nameplate", "nameplate", "number", "Ah", "C", 36.0, 3.6e6, example="2.6 Ah"),
    Column("capacity", "capacity", "number", "Ah", "C", 0.0, 3.6e6, example="2.1 Ah"),
    Column("capacity spread", "capacity_spread", "number", "%", "", 0.0, 0.5, example="1 %"),
    Column("discharge current", "discharge_current", "number", "A", "A", 1e-3, 1e3, example="0.5 A"),
    Column("cut-off", "cutoff", "number", "V", "V", 0.1, 20.0, example="2.8 V"),
    Column("ambient", "ambient", "number", "°C", "K", 233.15, 358.15, example="25 °C"),
    Column("resistance", "resistance", "number", "mΩ", "ohm", 2e-5, 100.0, example="65 mΩ"),
    Column("method", "method", "word", words=METHODS, example="DC 1 s"),
    Column("resistance spread", "resistance_spread", "number", "%", "", 0.0, 0.5, example="3 %"),
    Column("arrival", "arrival", "number", "V", "V", -20.0, 20.0, example="3.61 V"),
    Column("rest voltages", "rests", "rests", "V", "V", -20.0, 20.0, example="2026-10-01T18:00 4.182"),
    Column("heating", "heating", "number", "K", "ΔK", -20.0, 200.0, example="4 K"),
    Column("status", "status", "word", words=STATUSES, example="new"),
    Column("reason", "reason", example="dent beside the ring"),
    Column("notes", "notes", example="from the second box"),
)
BY_FIELD = {column.field: column for column in COLUMNS}


def read(column: Column, text: str, unit: str = "") -> object:
    """Value of a text.

    Parameters
    ----------
    column : Column
        Where it stands. [-]
    text : str
        As written; not empty. [-]
    unit : str
        Of a bare number; without one, a bare number is refused. [-]

    Returns
    -------
    value : object
        What `StockCell` holds in that field, in SI. [-]

    Raises
    ------
    WrongValueError
        With what is wrong, what is expected, how to mend it.
    """
    text = " ".join(text.split())
    if column.kind == "number":
        return _number(column, text, unit)
    if column.kind == "word":
        return _word(column, text)
    if column.kind == "date":
        return read_time(text)[0].date()
    if column.kind == "rests":
        return read_rests(text, unit)
    if column.field == "id":
        _check_id(text)
    return text


def write(column: Column, value: object, decimal: str = ".") -> str:
    """Text of a value, as it stands in the file; nothing for None.

    Parameters
    ----------
    column : Column
        Where it stands. [-]
    value : object
        In SI. [-]
    decimal : str
        Mark of decimals. [-]

    Returns
    -------
    text : str
        `read` with the column's own unit gives the value back.
    """
    if value is None:
        return ""
    if column.kind == "number":
        own = float(value)  # type: ignore[arg-type]
        return _figure(round(own - ZERO_CELSIUS, 9) if column.unit == "°C" else own / _scale(column), decimal)
    if column.kind == "date":
        return value.isoformat()  # type: ignore[attr-defined]
    if column.kind == "rests":
        return "; ".join(f"{_moment(when)} {_figure(volts, decimal)}" for when, volts in value)  # type: ignore[attr-defined]
    return str(value)


def spoken(column: Column, value: object) -> str:
    """Text of a value with its unit, as people read it."""
    if value in (None, "", ()):
        return "nothing"
    said = write(column, value)
    return f"{said} {column.unit}" if column.kind == "number" else said


def read_time(text: str, dates: str = "") -> tuple[datetime, bool]:
    """A local time, and whether its hour was told.

    Parameters
    ----------
    text : str
        ISO 8601, or with dots and the day first, ``1.10.2026 18:00``; with slashes only where the year comes first or
        `dates` says how it is meant. A time with a zone becomes that of this computer. [-]
    dates : str
        One of `DATES`, or empty. [-]

    Returns
    -------
    moment : datetime
        Without zone; noon where no hour was told. [-]
    told : bool
        Whether the hour was. [-]
    """
    text = " ".join(text.strip().split())
    moment = _parsed(text, dates)
    if moment is None:
        slashed = re.match(r"\d{1,2}/\d{1,2}/\d{4}", text)
        why = "can be read with the day or the month first" if slashed else "is no time that can be read"
        raise WrongValueError(f'"{text[:60]}" {why}', TIME, "Write: 2026-10-01T18:00")
    if moment.tzinfo is not None:
        moment = moment.astimezone().replace(tzinfo=None)
    told = ":" in text or re.search(r"T\d", text) is not None
    return (moment if told else moment.replace(hour=12)), told


def read_rests(text: str, unit: str = "V") -> tuple[tuple[datetime, float], ...]:
    """Voltages at rest with their times, in order of time.

    Parameters
    ----------
    text : str
        ``2026-10-01T18:00 4.182; 2026-10-15T18:00 4.176``, or ``4.182 V at 2026-10-01 18:00``. [-]
    unit : str
        Of bare numbers. [-]

    Returns
    -------
    rests : tuple of (datetime, float)
        Time and voltage. [V]
    """
    found: dict[datetime, float] = {}
    for piece in filter(None, (p.strip() for p in re.split("[;|]", text))):
        said = re.fullmatch(r"(?P<v>\S.*?)\s+(?:at|@)\s+(?P<t>\S.*)", piece) or re.fullmatch(
            r"(?P<t>\S+(?:\s+\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?)?)\s+(?P<v>[-+]?[\d.,]+\s*[a-zA-Z]*)", piece
        )
        if not said:
            raise WrongValueError(
                f'"{piece[:60]}" is no voltage with its time',
                'A time and a voltage are expected, such as "2026-10-01T18:00 4.182".',
                "Part several with semicolons.",
            )
        moment, told = read_time(said["t"])
        if not told:
            raise WrongValueError(
                f'"{piece[:60]}" has a day without its hour',
                "A cell's voltage moves for hours after charge, so that the hour counts.",
                f"Write: {_moment(moment)} {said['v']} if it was about noon.",
            )
        volts = _number(BY_FIELD["rests"], said["v"], unit)
        if found.get(moment, volts) != volts:
            raise WrongValueError(
                f"two voltages are given for {_moment(moment)}: {found[moment]:g} V and {volts:g} V",
                "One instant has one voltage.",
                "Delete the wrong one.",
            )
        found[moment] = volts
    return tuple(sorted(found.items()))


def _moment(moment: datetime) -> str:
    return moment.isoformat(timespec="seconds" if moment.second else "minutes")


def _parsed(text: str, dates: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        pass
    day, _, clock = text.partition(" ")
    found = re.fullmatch(r"(\d{4})[./](\d{1,2})[./](\d{1,2})", day)
    order = (1, 2, 3)
    if not found:
        found = re.fullmatch(r"(\d{1,2})\.(\d{1,2})\.(\d{4})", day)
        order = (3, 2, 1)
    if not found and dates in DATES:
        found = re.fullmatch(r"(\d{1,2})/(\d{1,2})/(\d{4})", day)
        order = (3, 2, 1) if dates == DATES[0] else (3, 1, 2)
    if not found:
        return None
    try:
        whole = date(*(int(found[k]) for k in order)).isoformat()
        return datetime.fromisoformat(f"{whole} {clock.rjust(5, '0')}" if clock else whole)
    except ValueError:
        return None


def _scale(column: Column) -> float:
    return 3600.0 if column.unit == "Ah" else parse(f"1 {column.unit}", column.si).nominal


def _figure(value: float, decimal: str) -> str:
    return f"{value:.10g}".replace(".", decimal)


def _number(column: Column, text: str, unit: str) -> float:
    said = text
    if re.fullmatch(r"[^.,]*\d,\d[^.,]*", text):  # one comma and no point: the decimals of a spreadsheet
        said = text.replace(",", ".")
        if re.match(r"-?[1-9]\d{0,2},\d{3}\b", text) and (unit or text.split()[-1].lstrip("-0123456789,"))[:1] == "m":
            expected = "Its comma may stand before decimals or between thousands."
            plain = text.replace(",", "")
            raise WrongValueError(f'"{text[:60]}" can be read in two ways', expected, f"Write: {plain} or {said}")
    bare = re.fullmatch(r"[-+]?[\d.]+(?:[eE][-+]?\d+)?", said)
    if bare and not unit and column.unit == "%":
        unit = "%" if float(said.strip(".") or 0) >= 1 else ""
    try:
        found = parse(f"{said} {unit}" if bare and unit else said, column.si, column.example)
    except QuantityError as error:
        raise WrongValueError(f'"{text[:60]}" is {error.problem}', error.expected, f"Write: {error.mend}") from None
    if found.low != found.high:
        raise WrongValueError(
            f'"{text[:60]}" is a range, or has a tolerance',
            "One measured value is expected.",
            "Its uncertainty has a column of its own: capacity spread, resistance spread.",
        )
    if not column.low <= found.nominal <= column.high:
        low, high = spoken(column, column.low), spoken(column, column.high)
        raise WrongValueError(
            f'"{text[:60]}" is outside of what can be: {low} to {high}', "", "Look at its unit and decimal point."
        )
    return found.nominal


def _compact(text: str) -> str:
    return re.sub(r"[\s\-_/]", "", text.casefold())


def _word(column: Column, text: str) -> str:
    wanted = _compact(text)
    for word in column.words:
        if _compact(word) == wanted or _OTHER_WORDS.get(wanted) == word:
            return word
    raise WrongValueError(
        f'"{text[:60]}" is no {column.name}', f"Known are: {', '.join(column.words)}.", f"Write: {column.example}"
    )


def _check_id(text: str) -> None:
    if len(text) > ID_LONGEST or not text.isprintable() or text.startswith("#"):
        raise WrongValueError(
            f'"{text[:60]}" is no id',
            f"An id has up to {ID_LONGEST} printable characters and does not begin with #.",
            "Write: A17",
        )
