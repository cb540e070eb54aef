"""What was stated about a log, kept beside it, so that it is asked once."""

from __future__ import annotations

import contextlib
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any

from tideover.cells.log_columns import ROLES, fits, tidy, unit_of
from tideover.cells.log_times import DAY_FIRST, MONTH_FIRST
from tideover.design.messages import BuildError, Fault, quoted
from tideover.design.model import Place
from tideover.files import write_text
from tideover.quantity import QuantityError, parse, show

FORM = 1
ENDING = ".read.yaml"
LARGEST = 100_000
KEYS = ("form", "digest", "stated", "decided")
QUANTITIES = {"current": "A", "resistor": "ohm", "power": "W", "every": "s"}
CHOICES = {
    "discharge": ("positive", "negative"),
    "dates": (DAY_FIRST, MONTH_FIRST),
    "decimal": ("point", "comma"),
}
SHAPES = "columns", "units"


@dataclass(frozen=True)
class ReadAs:
    """What somebody stated about a log; an empty text or None where nothing was.

    Attributes
    ----------
    columns : str
        In order, ``time [s], voltage, -``, or by name, ``voltage=U1``.
    discharge : str
        Sign of the current on discharge: ``positive`` or ``negative``.
    current : float or None
        Constant current of the load, where no column has it; negative for a charger. [A]
    resistor : float or None
        Load resistor. [ohm]
    power : float or None
        Constant power of the load. [W]
    every : float or None
        Time between two rows, where no column has it. [s]
    dates : str
        ``day-first`` or ``month-first``.
    decimal : str
        ``point`` or ``comma``.
    units : str
        ``time=min, current=mA``.
    """

    columns: str = ""
    discharge: str = ""
    current: float | None = None
    resistor: float | None = None
    power: float | None = None
    every: float | None = None
    dates: str = ""
    decimal: str = ""
    units: str = ""

    def over(self, other: ReadAs) -> ReadAs:
        """These statements, and those of `other` where nothing was stated here. The stated loads belong together."""
        mine: dict[str, Any] = {
            f.name: getattr(self, f.name) for f in fields(self) if getattr(self, f.name) not in ("", None)
        }
        loads = ("current", "resistor", "power")
        if any(key in mine for key in loads):
            other = replace(other, current=None, resistor=None, power=None)
        return replace(other, **mine)


def statement(path: str, **said: str) -> ReadAs:
    """Statements from words, as options and sidecars have them.

    Raises
    ------
    BuildError
        One fault for each that cannot be understood.
    """
    faults: list[Fault] = []
    values: dict[str, Any] = {}
    for key, text in said.items():
        text = text.strip()
        if not text:
            continue
        if key in QUANTITIES:
            try:
                values[key] = parse(text, QUANTITIES[key]).nominal
            except QuantityError as error:
                faults.append(
                    Fault(
                        Place(path), key, f"is {quoted(text)}, {error.problem}", error.expected, f"Write: {error.mend}"
                    )
                )
                continue
            if values[key] == 0.0 or (key != "current" and values[key] < 0.0):
                faults.append(Fault(Place(path), key, f"is {quoted(text)}", "It is above zero.", ""))
        elif key in CHOICES:
            if tidy(text) not in CHOICES[key]:
                expected = f"One of these is expected: {' or '.join(CHOICES[key])}."
                faults.append(Fault(Place(path), key, f"is {quoted(text)}", expected, f"Write: {CHOICES[key][0]}"))
            values[key] = tidy(text)
        else:
            values[key] = text
    if "units" in values:
        faults += units(path, values["units"])[1]
    if sum(key in values for key in ("current", "resistor", "power")) > 1:
        problem = "two loads are stated"
        faults.append(Fault(Place(path), "", problem, "", "State one of current, resistor and power."))
    if faults:
        raise BuildError(faults)
    return ReadAs(**values)


def units(path: str, text: str) -> tuple[dict[str, str], list[Fault]]:
    """Unit of each column that was stated: ``time=min, current=mA``."""
    found: dict[str, str] = {}
    faults = []
    for entry in filter(None, (e.strip() for e in text.replace(";", ",").split(","))):
        left, _, right = entry.partition("=")
        role, unit = tidy(left), unit_of(right)
        if role not in ROLES or not unit or not fits(role, unit):
            expected = 'A column and its unit are expected, such as "time=min" or "current=mA".'
            faults.append(Fault(Place(path), "units", f"has {quoted(entry)}", expected, "Write: time=s"))
        else:
            found[role] = unit
    return found, faults


def place_of(log: Path) -> Path:
    """Where the sidecar of a log lies."""
    return log.with_name(log.name + ENDING)


def load(log: Path, digest: str) -> tuple[ReadAs, list[str]]:
    """Statements kept beside a log, and a warning when the log is another one now.

    Raises
    ------
    BuildError
        The sidecar cannot be read.
    """
    path = place_of(log)
    if not path.is_file():
        return ReadAs(), []
    data = _yaml(path)
    said = data.get("stated") or {}
    known = {f.name for f in fields(ReadAs)}
    odd = [str(k) for k in said if k not in known] if isinstance(said, dict) else ["stated"]
    if data.get("form") != FORM or odd or any(isinstance(v, dict | list) for v in said.values()):
        problem = (
            f"holds {quoted(odd[0])}, which is not known" if odd else f"is of form {quoted(str(data.get('form')))}"
        )
        raise BuildError([_bad(path, problem)])
    words = {str(k): "" if v is None else str(v) for k, v in said.items()}
    stated = statement(path.name, **words)
    if stated != ReadAs() and data.get("digest") != digest:
        return stated, [
            f"{path.name} was written for another content of this file; its statements are kept, look them over."
        ]
    return stated, []


def save(log: Path, digest: str, stated: ReadAs, decided: tuple[str, ...]) -> Path | None:
    """Keep statements beside a log; None when the file says the same already.

    Raises
    ------
    OSError
        It cannot be written.
    """
    path = place_of(log)
    text = written(digest, stated, decided, log.name)
    with contextlib.suppress(OSError, UnicodeDecodeError):
        if path.read_text(encoding="utf-8") == text:
            return None
    write_text(path, text)
    return path


def written(digest: str, stated: ReadAs, decided: tuple[str, ...], name: str) -> str:
    """The sidecar's text."""
    lines = [
        "# How this log is read. What is stated here counts as if it were given by option; options override it.",
        "# What was decided is only told; delete the file to have it all decided anew.",
        f"form: {FORM}",
        f"log: {_text(name)}",
        f"digest: {digest}",
    ]
    said = {key: value for key, value in asdict(stated).items() if value not in ("", None)}
    lines.append("stated:" if said else "stated: {}")
    for key, value in said.items():
        lines.append(f"  {key}: {_text(show(value, QUANTITIES[key], 9) if key in QUANTITIES else value)}")
    lines.append("decided:" if decided else "decided: []")
    lines += [f"  - {_text(sentence)}" for sentence in decided]
    return "\n".join(lines) + "\n"


def _text(value: str) -> str:
    """A text in double quotes, as YAML has them."""
    safe = "".join(c if c.isprintable() else " " for c in str(value))
    return '"' + safe.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _yaml(path: Path) -> dict[str, Any]:
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    try:
        if path.stat().st_size > LARGEST:
            raise BuildError([_bad(path, "is far too long")])
        data = YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))
    except (YAMLError, UnicodeDecodeError, OSError, ValueError):
        raise BuildError([_bad(path, "cannot be read")]) from None
    if not isinstance(data, dict):
        raise BuildError([_bad(path, "holds no keys")])
    return data


def _bad(path: Path, problem: str) -> Fault:
    expected = "It says how the log of that name is read."
    return Fault(Place(path.name), "the sidecar", problem, expected, "Mend it, or delete it and state again.")
