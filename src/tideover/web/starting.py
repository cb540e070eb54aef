"""A new build: a path that computes as it stands, with the need that the builder filled in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from tideover.design import examine_text
from tideover.design.edit import replaced
from tideover.files import write_text

BUILD = "build.yaml"
NAME = re.compile(r"[^\W_][\w .-]{0,59}")
"""A folder's name that no system stumbles over."""


@dataclass(frozen=True)
class Starter:
    """A path to start from.

    Attributes
    ----------
    key, said : str
        What stands for it in the form, and what it is.
    text : str
        Of its build file.
    """

    key: str
    said: str
    text: str


@dataclass(frozen=True)
class Asked:
    """One thing a builder fills in: the place in the file that it goes to, and what is said about it."""

    key: str
    label: str
    example: str
    about: str
    where: tuple[str, ...]


NEEDS = (
    Asked("title", "Title", "Lighthouse logger supply", "What it is called on its sheet.", ("title",)),
    Asked("window", "Steady voltage", "11.4 V to 12.6 V", "What the load is specified for.", ("need", "window")),
    Asked("runtime", "Without mains for", "4 h", "How long the pack must carry it.", ("need", "runtime")),
    Asked("recharge", "Full again within", "12 h", "With the load attached.", ("need", "recharge")),
    Asked("ambient", "The room", "10 °C to 35 °C", "From its coldest to its warmest.", ("need", "ambient")),
)
"""Left empty, what the starter has stays."""


def starters(examples: Mapping[str, Path]) -> tuple[Starter, ...]:
    """Paths to start from: the usual one, and those of the examples."""
    own = files("tideover.cli").joinpath("starter.yaml").read_text(encoding="utf-8")
    found = [Starter("usual", "19 V adapter, three cells in series, two diodes, 12 V from a buck-boost", own)]
    for name, folder in examples.items():
        text = (folder / BUILD).read_text(encoding="utf-8")
        found.append(Starter(name, f"the path of the example {name}: {title_of(text)}", text))
    return tuple(found)


def title_of(text: str) -> str:
    """Title of a build file."""
    return examine_text(text).title


def begin(root: Path, name: str, text: str, given: Mapping[str, str]) -> tuple[Path | None, dict[str, str]]:
    """Write a new build, unless something stands in its way.

    Parameters
    ----------
    root : Path
        Folder in which its own folder is made. [-]
    name : str
        Of its folder. [-]
    text : str
        Of the starter. [-]
    given : mapping of str to str
        By key of `NEEDS`; what is empty stays as the starter has it. [-]

    Returns
    -------
    file : Path or None
        The build file; None where it was not written. [-]
    faults : dict of str to str
        What stands in the way, by key; ``name`` for the folder. [-]
    """
    faults: dict[str, str] = {}
    name = " ".join(name.split())
    if not NAME.fullmatch(name) or name.endswith("."):
        faults["name"] = "Letters, digits, spaces and hyphens, beginning with a letter or digit: lighthouse-logger."
    elif (root / name).exists():
        faults["name"] = f"There is a {name} in this folder already; it was left as it is. Take another name."
    for asked in NEEDS:
        value = given.get(asked.key, "").strip()
        if not value:
            continue
        tried = replaced(text, asked.where, value)
        wrong = [f for f in examine_text(tried).faults if f.where.startswith(".".join(asked.where))]
        if wrong:
            faults[asked.key] = " ".join(filter(None, (f"{wrong[0].problem}.", wrong[0].expected, wrong[0].mend)))
        else:
            text = tried
    if faults:
        return None, faults
    (root / name).mkdir()
    file = root / name / BUILD
    write_text(file, text)
    return file, {}
