"""The values of a part, and of what is needed, as fields that can be typed into."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from hashlib import blake2s

from tideover.design import examine_text
from tideover.design.edit import value_at
from tideover.design.model import PartSpec
from tideover.design.parts import TAKES
from tideover.design.values import example, limits
from tideover.parts import KINDS
from tideover.parts.base import Parameter
from tideover.quantity import Quantity, show

SEPARATOR = "\x1f"
"""Between the keys of a place in an address: no key of a build file can hold it."""
NEED = (
    ("at", "judged at", "The node where the load is judged."),
    ("window", "window", "Steady limits of the voltage there: 11.4 V to 12.6 V."),
    ("dips", "dips", "What the load forgives, in brackets: [10.5 V for 5 ms, 9 V for 500 us]."),
    ("runtime", "runtime", "How long the pack must carry the load."),
    ("recharge", "recharge", "By when it must be full again, with the load attached."),
    ("ambient", "ambient", "The room: 10 °C to 35 °C."),
    ("years", "years", "How long it is to serve."),
)
"""Keys of the need that are single values, with what is said about them."""


@dataclass(frozen=True)
class Field:
    """One value.

    Attributes
    ----------
    id, where : str
        Of the form on the page; its place in the file.
    label, about : str
        What it is.
    value, written : str
        What stands in the field, and what stands in the file (empty where nothing does).
    otherwise, origin : str
        What counts while the field is empty, and where that comes from.
    choices : tuple of str
        Where it is one word out of a few.
    wrong, said, clash : str
        What is wrong with what was typed; what was done; what another device put there meanwhile.
    list : str
        Id of the list of suggestions, if there is one.
    """

    id: str
    where: str
    label: str
    about: str
    value: str
    written: str
    otherwise: str = ""
    origin: str = ""
    choices: tuple[str, ...] = ()
    wrong: str = ""
    said: str = ""
    clash: str = ""
    list: str = ""

    def refused(self, value: str, wrong: str, clash: str = "") -> Field:
        """With what was typed, and why it was not taken."""
        return replace(self, value=value, wrong=wrong, clash=clash)


def place(where: str) -> tuple[str, ...]:
    """Keys of a place as the form sends it."""
    return tuple(where.split(SEPARATOR))


def _field(text: str, where: tuple[str, ...], label: str, about: str, **others: object) -> Field:
    joined = SEPARATOR.join(where)
    written = value_at(text, where) or ""
    name = "f" + blake2s(joined.encode(), digest_size=6).hexdigest()
    return Field(name, joined, label, about, written, written, **others)  # type: ignore[arg-type]


def need_fields(text: str) -> tuple[Field, ...]:
    """What is needed, and the title."""
    title = _field(text, ("title",), "title", "Of the build.")
    return (title, *(_field(text, ("need", key), label, about) for key, label, about in NEED))


def part_fields(text: str, name: str) -> tuple[Field | None, tuple[Field, ...], tuple[Field, ...]]:
    """Fields of a part: what it is taken from, the values that stand in the file, the others.

    Raises
    ------
    KeyError
        There is no part of that name.
    """
    draft = examine_text(text)
    spec = draft.box if name == "box" else draft.parts[name]
    if spec is None:
        raise KeyError(name)
    root: tuple[str, ...] = ("box",) if name == "box" else ("parts", name)
    taken = TAKES.get(spec.kind, ("from", ""))[0]
    shelf = _field(text, (*root, taken), "taken from", "A name of the shelf, or a file of cells.", list="shelf")
    if not shelf.written and spec.shelf is not None:
        shelf = replace(shelf, value=spec.shelf, written=spec.shelf)
    kind = KINDS.get(spec.kind)
    fields = [_of(text, root, spec, p) for p in kind.parameters] if kind else []
    stated = tuple(f for f in fields if f.written)
    return shelf, stated, tuple(f for f in fields if not f.written)


def _of(text: str, root: tuple[str, ...], spec: PartSpec, p: Parameter) -> Field:
    where = _where(text, root, p.key)
    counted, origin = spec.values.get(p.name), spec.origins.get(p.name, "")
    if p.unit == "word":
        index = int(counted.nominal if isinstance(counted, Quantity) else counted) if counted is not None else None
        about = p.about
        otherwise = p.choices[index] if index is not None else ""
        return _field(text, where, p.key, about, otherwise=otherwise, origin=origin, choices=p.choices)
    otherwise = _shown(counted, p)
    about = f"{p.about[:1].upper()}{p.about[1:]}; {limits(p)}, such as {example(p)}."
    return _field(text, where, p.key, about, otherwise=otherwise, origin=origin)


def _where(text: str, root: tuple[str, ...], key: str) -> tuple[str, ...]:
    """Place of a value: some stand together under one key, such as ``lockout: {off: …, on: …}``."""
    first, _, last = key.rpartition(" ")
    if first and value_at(text, (*root, key)) is None and value_at(text, (*root, first, last)) is not None:
        return (*root, first, last)
    return (*root, key)


def _shown(value: Quantity | float | None, p: Parameter) -> str:
    if value is None:
        return ""
    if isinstance(value, Quantity):
        return str(value) if value.low != value.high else show(value.nominal, p.unit)
    return show(float(value), p.unit) if p.unit else f"{float(value):g}"


def suggestions(kind: str, names: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """Names of the shelf that a part of a kind can be taken from."""
    wanted = TAKES.get(kind, ("from", kind))[1] or kind
    return tuple(name for name, of in names if of == wanted)
