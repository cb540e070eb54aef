"""Which column of a log is what, by its name and unit."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from tideover.cells import log_faults as say
from tideover.design.messages import Fault
from tideover.quantity import ZERO_CELSIUS

TIME, DATE, VOLTAGE, CURRENT, OUT, IN = "time", "date", "voltage", "current", "discharge current", "charge current"
TEMPERATURE, POWER, COUNTER, STATE = "temperature", "power", "counter", "state"
COUNTED_OUT, COUNTED_IN = "discharged", "charged"
ROLES = (TIME, DATE, VOLTAGE, CURRENT, OUT, IN, TEMPERATURE, POWER, COUNTER, COUNTED_OUT, COUNTED_IN, STATE)

UNITS: dict[str, tuple[str, float, float]] = {
    **dict.fromkeys(("v", "volt", "volts"), (VOLTAGE, 1.0, 0.0)),
    **dict.fromkeys(("mv", "millivolt", "millivolts"), (VOLTAGE, 1e-3, 0.0)),
    **dict.fromkeys(("uv", "μv"), (VOLTAGE, 1e-6, 0.0)),
    **dict.fromkeys(("a", "amp", "amps", "ampere", "amperes"), (CURRENT, 1.0, 0.0)),
    **dict.fromkeys(("ma", "milliamp", "milliamps"), (CURRENT, 1e-3, 0.0)),
    **dict.fromkeys(("ua", "μa"), (CURRENT, 1e-6, 0.0)),
    **dict.fromkeys(("ah", "a.h", "a·h", "a*h"), (COUNTER, 3600.0, 0.0)),
    **dict.fromkeys(("mah", "ma.h", "ma·h", "ma*h"), (COUNTER, 3.6, 0.0)),
    **dict.fromkeys(("as", "coulomb", "coulombs"), (COUNTER, 1.0, 0.0)),
    **dict.fromkeys(("w", "watt", "watts"), (POWER, 1.0, 0.0)),
    "mw": (POWER, 1e-3, 0.0),
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds", "sek", "sekunden", "secondes"), (TIME, 1.0, 0.0)),
    **dict.fromkeys(("ms", "msec", "millis", "milliseconds"), (TIME, 1e-3, 0.0)),
    **dict.fromkeys(("us", "μs", "usec", "microseconds"), (TIME, 1e-6, 0.0)),
    **dict.fromkeys(("min", "mins", "minute", "minutes", "minuten"), (TIME, 60.0, 0.0)),
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours", "std", "stunden", "heures"), (TIME, 3600.0, 0.0)),
    **dict.fromkeys(("d", "days", "tage", "jours"), (TIME, 86400.0, 0.0)),
    **dict.fromkeys(("hh:mm:ss", "h:m:s", "h:mm:ss", "hms", "hh:mm:ss.sss"), (TIME, 0.0, 0.0)),
    **dict.fromkeys(("hh:mm", "h:mm"), (TIME, -3600.0, 0.0)),
    **dict.fromkeys(("mm:ss", "m:ss", "min:s", "min:sec"), (TIME, -60.0, 0.0)),
    **dict.fromkeys(("c", "°c", "degc", "deg c", "celsius", "oc"), (TEMPERATURE, 1.0, ZERO_CELSIUS)),
    **dict.fromkeys(("f", "°f", "degf", "deg f", "fahrenheit"), (TEMPERATURE, 5.0 / 9.0, ZERO_CELSIUS - 160.0 / 9.0)),
    **dict.fromkeys(("k", "kelvin"), (TEMPERATURE, 1.0, 0.0)),
    **dict.fromkeys(("wh", "mwh", "kwh", "j", "kj"), ("energy", 1.0, 0.0)),
    **dict.fromkeys(("ohm", "ohms", "ω", "mohm", "mω", "mohms"), ("resistance", 1.0, 0.0)),
    **dict.fromkeys(("%", "percent"), ("share", 1.0, 0.0)),
}
"""Unit in small letters: what it measures, its size in SI, what is added. A clock has no size: 0 is hours, minutes and
seconds, -3600 hours and minutes, -60 minutes and seconds. Nothing is logged in megavolts, so ``MV`` is a millivolt."""

WORDS: dict[str, tuple[str, ...]] = {
    DATE: ("date", "datum", "fecha", "jour", "dato"),
    TIME: ("time", "t", "elapsed", "zeit", "temps", "tiempo", "tempo", "tijd", "tid", "timestamp", "datetime", "stamp",
           "clock", "uhrzeit", "heure", "hora", "laufzeit", "zeitstempel", "seconds", "sec", "secs", "minutes", "hours",
           "duration", "runtime", "epoch", "unix", "millis", "horodatage"),
    VOLTAGE: ("voltage", "volt", "volts", "v", "u", "spannung", "tension", "tensione", "vbat", "vbatt", "vcell",
              "ucell",
              "ubat", "spanning", "potential", "batteriespannung", "zellspannung",
              "klemmenspannung", "voltaje", "voltagem"),
    CURRENT: ("current", "amps", "amp", "amperes", "i", "strom", "courant", "corriente", "corrente", "stroom", "ibat",
              "ibatt", "icell", "intensity", "intensite", "amperage", "batteriestrom", "entladestrom", "ladestrom"),
    COUNTER: ("capacity", "kapazitat", "capacite", "capacidad", "charge", "ladung", "ladungsmenge", "q", "coulombs",
              "counter",
              "counted", "discharged", "charged", "mah", "ah", "entladene"),
    TEMPERATURE: ("temperature", "temp", "temperatur", "temperatura", "tcell", "tcase", "tbat", "celsius",
                  "thermistor"),
    POWER: ("power", "p", "watt", "watts", "leistung", "puissance", "potencia", "potenza"),
    STATE: ("state", "status", "mode", "phase", "modus", "action", "zustand", "etat", "step", "schritt", "etape",
            "operation",
            "activity", "estado", "type"),
    "energy": ("energy", "energie", "energia", "wh", "mwh"),
    "resistance": ("resistance", "widerstand", "impedance", "ir", "dcir", "esr", "ri"),
    "share": ("soc", "percent", "dod", "soh"),
    "index": ("index", "no", "nr", "row", "record", "sample", "point", "id", "cycle", "zyklus", "channel", "n", "count",
              "line",
              "remark", "remarks", "note", "notes", "comment", "bemerkung"),
}  # fmt: skip
"""Words of the trade in a few languages, without accents and in small letters."""

NEVER = ("set", "setpoint", "target", "limit", "max", "min", "maximum", "minimum", "cutoff", "nominal", "rated",
         "input",
         "supply", "soll", "ref", "reference", "error", "raw", "ocv", "std", "delta", "start", "stop")  # fmt: skip
"""Beside a quantity: it is not what was measured at the cell."""
RATHER = ("cell", "battery", "batt", "bat", "terminal", "sense", "case", "measured", "actual", "ist", "zelle", "akku",
          "elapsed",
          "total", "test", "batterie", "pack")  # fmt: skip
LESS = (
    "avg",
    "mean",
    "average",
    "ambient",
    "room",
    "chamber",
    "board",
    "heatsink",
    "internal",
    "umgebung",
    "step",
    "air",
    "date",
)
_OUT = ("disch", "dchg", "dch", "dis", "entlad", "decharg", "descarg", "scaric")
_IN = ("charg", "chg", "lade", "ladung", "laden", "carga", "carica", "aufgelad", "geladen")


@dataclass(frozen=True)
class Column:
    """A column that is used.

    Attributes
    ----------
    role : str
        One of `ROLES`.
    at : int
        Its place in the row, from 0. [-]
    header, unit : str
        As written; empty where nothing is. `unit` is a key of `UNITS`.
    """

    role: str
    at: int
    header: str = ""
    unit: str = ""


def tidy(text: str) -> str:
    """In small letters, without accents, one kind of micro and degree."""
    text = unicodedata.normalize("NFKC", text.replace("º", "°").replace("Ω", "Ω")).casefold()
    return "".join(c for c in unicodedata.normalize("NFD", text) if not unicodedata.combining(c)).strip()


def unit_of(text: str) -> str:
    """The key of `UNITS` that a text means; empty when it means none."""
    bare = tidy(text).strip("[](){}<>'\" ").removeprefix("in ").strip()
    return bare if bare in UNITS else ""


def is_unit(text: str) -> bool:
    """Whether a field is a unit and nothing else, or says that there is none."""
    return bool(unit_of(text)) or text.strip() in ("-", "[-]", "1", "[]", "()", "[1]", "(-)")


def is_name(text: str) -> bool:
    """Whether a field may be the name of a column."""
    return bool(re.search(r"[^\W\d_]", text)) and len(text) < 80 and not re.match(r"\s*[+-]?[0-9.,]+(\s|$)", text)


def parsed(header: str, beneath: str = "") -> tuple[list[str], str]:
    """Words of a column's name, tidied, and its unit."""
    unit = unit_of(beneath)
    text = header.strip().strip('"')
    for form in (
        r"(.*?)\s*[\[({<]\s*([^\])}>]*)\s*[\])}>]\s*(.*)",
        r"(.*?)\s*/\s*([^/\s]+)()",
        r"(.+?)(?:\s+in\s+|[_,\s:]+)([^\s_,]+)()",
        r"(.*[a-z])(mAh|Ah|mV|mA|degC|C|V|A|W)()",
        r"()(\S+)()",
    ):
        found = re.fullmatch(form, text)
        if found and unit_of(found[2]):
            if form.startswith("()") and tidy(found[2]) in ("t", "c", "f", "k", "d"):
                break  # a letter that may be a name
            unit = unit or unit_of(found[2])
            text = f"{found[1]} {found[3]}"
            break
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    words = [w.rstrip("0123456789") or w for w in re.split(r"[^\w%#]+|_+", tidy(text)) if w]
    return words, unit


def role_of(words: Sequence[str], unit: str) -> tuple[str, int, str]:
    """What a column is, how much it is so (0 best, 9 not to be used), and what its name says when that differs."""
    family = UNITS[unit][0] if unit else ""
    out = any(w.startswith(_OUT) for w in words)
    into = not out and any(w.startswith(_IN) for w in words)
    named = _named(words, unit)
    if unit == "c" and named in (COUNTER, "") and (out or into or named):
        family = COUNTER
    kind = family or named
    if family == TEMPERATURE and unit in ("c", "f", "k") and named and named not in (TIME, TEMPERATURE):
        kind = named if not (out or into) else COUNTER  # such as cell C, phase F: a letter, no unit
    differs = named if named and family and named != family and named not in ("index", STATE, DATE) else ""
    if {named, family} <= {TIME, TEMPERATURE, DATE} or (family == COUNTER and named) or (named == TIME and not family):
        differs = ""  # French "temps" is a time and English "temps" are temperatures: the unit tells
    if family and words and {"t"} == set(words):
        differs = ""
    rank = 1
    if any(w in NEVER for w in words) and kind != TIME:
        rank = 9
    elif any(w in LESS for w in words) and kind != STATE:
        rank = 2
    elif any(w in RATHER for w in words):
        rank = 0
    if kind == CURRENT and (out or into):
        return (OUT if out else IN), rank, differs
    if kind == COUNTER and (out or into) and words != ["charge"] and words != ["ladung"]:
        return (COUNTED_OUT if out else COUNTED_IN), rank, differs
    return kind, rank, differs


def _named(words: Sequence[str], unit: str) -> str:
    """What the words say: a quantity before what only qualifies it, as in "step time" or "cell charge current"."""
    said = {kind for kind, known in WORDS.items() if any(w in known for w in words)}
    if any(w.endswith(("strom", "spannung")) for w in words):
        said.add(CURRENT if any(w.endswith("strom") for w in words) else VOLTAGE)
    if any(w.endswith("kapazitat") for w in words):
        said.add(COUNTER)
    for strong in (
        VOLTAGE,
        CURRENT,
        TEMPERATURE,
        POWER,
        "energy",
        "resistance",
        "share",
        TIME,
        COUNTER,
        DATE,
        STATE,
        "index",
    ):
        if strong in said:
            return DATE if strong == TIME and DATE in said and "time" not in words and not unit else strong
    return ""


def recognised(
    name: str, line: int, header: Sequence[str], units: Sequence[str], needed: Sequence[str]
) -> tuple[list[Column], list[Fault]]:
    """Columns by their header.

    Parameters
    ----------
    name, line : str, int
        Of the file and its header, for messages. [-]
    header, units : sequence of str
        Names, and units beneath them; `units` may be empty. [-]
    needed : sequence of str
        Roles of which two candidates are a fault; of the others the first is taken. [-]
    """
    best: dict[str, list[Column]] = {}
    ranks: dict[str, int] = {}
    faults = []
    for at, said in enumerate(header):
        words, unit = parsed(said, units[at] if at < len(units) else "")
        role, rank, differs = role_of(words, unit)
        if role not in ROLES or rank == 9:
            continue
        if differs:
            if role in needed or differs in needed:
                faults.append(say.odd_column(name, line, said, differs, unit))
            continue
        if role == TIME and rank == 2:
            rank = 3  # the time since the step began starts anew with every step
        if rank < ranks.get(role, 9):
            best[role], ranks[role] = [], rank
        if rank == ranks[role]:
            best[role].append(Column(role, at, said, unit))
    for role in needed:
        if len(best.get(role, ())) > 1:
            faults.append(say.two_columns(name, line, role, [c.header for c in best[role]]))
    return [columns[0] for columns in best.values()], faults


def stated(
    name: str, text: str, header: Sequence[str], units: Sequence[str], width: int, known: Sequence[Column]
) -> tuple[list[Column], list[Fault]]:
    """Columns by the option --columns: in order, ``time, voltage, -``, or by name, ``voltage=U1``."""
    named: dict[str, Column] = {c.role: c for c in known}
    entries = [e.strip() for e in re.split("[,;]", text)]
    option = "--columns"
    faults: list[Fault] = []
    if entries and not any("=" in e for e in entries):
        if len(entries) > width:
            expected = f"The rows have {width} columns."
            return [], [say.bad_option(name, option, text, expected, '"time, voltage, current"')]
        named = {}
    for k, entry in enumerate(entries):
        left, _, right = entry.partition("=")
        if left in ("-", ""):
            continue
        role, unit = _stated_role(left)
        at = _which(right.strip(), header, width) if right else k
        if not role:
            expected = f"Known are: {', '.join(ROLES)}, and - for what is not needed."
            faults.append(say.bad_option(name, option, left, expected, '"time, voltage, current"'))
        elif at is None:
            expected = f"Columns of this file: {', '.join(header) or f'1 to {width}'}."
            faults.append(say.bad_option(name, option, right.strip(), expected, f'"{role}=2"'))
        else:
            said = header[at] if at < len(header) else ""
            beneath = units[at] if at < len(units) else ""
            found = unit or parsed(said, beneath)[1]
            if found and not fits(role, found):
                found = ""
            named = {r: c for r, c in named.items() if c.at != at}
            named[role] = Column(role, at, said, found)
    return list(named.values()), faults


def fits(role: str, unit: str) -> bool:
    """Whether a unit can measure what a column holds."""
    family = UNITS[unit][0]
    return family == {OUT: CURRENT, IN: CURRENT, COUNTED_OUT: COUNTER, COUNTED_IN: COUNTER}.get(role, role)


def _stated_role(text: str) -> tuple[str, str]:
    plain = tidy(text)
    if plain in ROLES:
        return plain, ""
    words, unit = parsed(text)
    whole = " ".join(words)
    if whole in ROLES:
        return whole, unit
    role, _, _ = role_of(words, unit)
    return (role, unit) if role in ROLES else ("", "")


def _which(text: str, header: Sequence[str], width: int) -> int | None:
    """Index of the column that a name or a number, counted from 1, means."""
    for one in (text, text.casefold()):
        for k, said in enumerate(header):
            if one in (said, said.casefold(), " ".join(parsed(said)[0])):
                return k
    return int(text) - 1 if text.isdecimal() and 1 <= int(text) <= width else None
