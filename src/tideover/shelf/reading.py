"""Reads the shelf's data files: plain text that is also valid YAML, read line by line here for speed."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

FAMILIES: dict[str, str] = {
    "adapters": "adapters",
    "conductors": "cables, wires, strips and tracks",
    "connectors": "connectors and joints",
    "diodes": "diodes",
    "relays": "relays",
    "capacitors": "capacitors",
    "converters": "converters",
    "chargers": "chargers",
    "cells": "cells",
    "protection": "protection boards",
    "fuses": "fuses",
    "switches_resistors": "switches and resistors",
    "loads": "loads",
    "boxes": "boxes",
    "reference": "reference",
}
"""Data file of each family, and what the family is called."""

_ABOUT = ("kind", "about", "aliases", "source", "verified")


@dataclass(frozen=True)
class Item:
    """A part on the shelf.

    Attributes
    ----------
    name : str
        What a builder calls it; no other item has it.
    kind : str
        A kind of `tideover.parts.KINDS`; or ``cell``, whose values fill a ``pack``; or, in the family
        ``reference``, a word for a part that has no electrical model yet.
    values : dict of str to str
        By Python name of the kind's parameter: text with unit and tolerance, for `tideover.quantity.parse`.
    also : dict of str to str
        What is known of it beyond the kind's parameters: words, and text with unit.
    about : str
        One line for lists.
    source : str
        Where the figures come from; says "typical, unverified" of whatever was not checked.
    verified : bool
        Whether every value was checked against a public source or computed. If not, say so where it is shown.
    aliases : tuple of str
        Other names that find it.
    family : str
        Key of `FAMILIES`.
    """

    name: str
    kind: str
    values: dict[str, str] = field(hash=False)
    also: dict[str, str] = field(hash=False)
    about: str
    source: str
    verified: bool
    aliases: tuple[str, ...] = ()
    family: str = ""


def parameter_name(key: str) -> str:
    """Python name of a parameter's key, as `tideover.parts.Parameter.name` forms it: ``hold_up``."""
    return key.replace(" ", "_").replace("-", "_")


def read(text: str, family: str) -> tuple[Item, ...]:
    """Read one data file.

    A name stands at the margin, its values are set in by two spaces, what else is known by four.

    Parameters
    ----------
    text : str
        Content of the file.
    family : str
        Key of `FAMILIES`, for the items and for complaints.

    Returns
    -------
    tuple of Item

    Raises
    ------
    ValueError
        A line of another form, a name or key written twice, a part without kind or source; names the line.
    """
    blocks: dict[str, dict[str, dict[str, str]]] = {}
    block: dict[str, dict[str, str]] = {}
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        depth = len(line) - len(line.lstrip())
        key, colon, value = (part.strip() for part in line.partition(":"))
        place = f"{family}.yaml, line {number}"
        if not colon or depth not in (0, 2, 4) or (depth > 0 and not block):
            raise ValueError(f'{place}: "{line.strip()}" is neither a name nor a key with its value')
        if depth == 0:
            if key in blocks or value:
                raise ValueError(
                    f'{place}: "{key}" is {"followed by a value" if value else "on the shelf already"}'
                )
            block = blocks[key] = {"about": {}, "values": {}, "also": {}}
        elif depth == 2 and key == "also":
            continue
        else:
            part = "also" if depth == 4 else "about" if key in _ABOUT else "values"
            if key in block[part] or not value:
                raise ValueError(f'{place}: "{key}" is {"written twice" if value else "without a value"}')
            block[part][key] = value
    return tuple(_item(name, block, family) for name, block in blocks.items())


def _item(name: str, block: dict[str, dict[str, str]], family: str) -> Item:
    said = block["about"]
    missing = [key for key in ("kind", "about", "source", "verified") if key not in said]
    if missing:
        raise ValueError(f'{family}.yaml: "{name}" lacks {" and ".join(missing)}')
    return Item(
        name=name,
        kind=said["kind"],
        values={parameter_name(key): value for key, value in block["values"].items()},
        also=block["also"],
        about=said["about"],
        source=said["source"],
        verified=said["verified"] == "yes",
        aliases=tuple(alias.strip() for alias in said.get("aliases", "").split(";") if alias.strip()),
        family=family,
    )


@cache
def items() -> tuple[Item, ...]:
    """Everything on the shelf, in the order of its files; read at the first call and kept."""
    from importlib.resources import files  # takes 10 ms, so only where it is needed

    folder = files("tideover.shelf")
    return tuple(
        item
        for family in FAMILIES
        for item in read(folder.joinpath(f"{family}.yaml").read_text(encoding="utf-8"), family)
    )
