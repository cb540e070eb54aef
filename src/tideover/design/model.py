"""What a build file says, once it is read: frozen records, each with its place in the file."""

from __future__ import annotations

from dataclasses import dataclass, field

from tideover.quantity import Quantity

Value = Quantity | float
"""A parameter in memory: a quantity in SI, or the position of a word among its choices."""

RETURN = "return"
"""The node that every voltage is measured from."""


@dataclass(frozen=True, order=True)
class Place:
    """Where in a file; line and column count from 1, and 0 stands for the file as a whole."""

    path: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        path = "".join(c if c.isprintable() else "?" for c in self.path)
        return f"{path}, line {self.line}, column {self.column}" if self.line else path


@dataclass(frozen=True)
class Link:
    """One word of a chain: a node ``(bus)``, a part ``lead`` or a terminal ``relay.back``.

    Attributes
    ----------
    node, part, terminal : str
        Either `node`, or `part` and perhaps `terminal`; empty where it does not apply.
    """

    place: Place
    node: str = ""
    part: str = ""
    terminal: str = ""

    def __str__(self) -> str:
        return f"({self.node})" if self.node else ".".join(filter(None, (self.part, self.terminal)))


@dataclass(frozen=True)
class Chain:
    """One line of the joins, from left to right."""

    links: tuple[Link, ...]
    place: Place


@dataclass(frozen=True)
class PartSpec:
    """One part as described.

    Attributes
    ----------
    name, kind : str
        The builder's name for it; the name of its kind.
    values : dict of str to Quantity or float
        Every parameter of the kind by its Python name. A word is kept as its position among the choices.
    shelf : str or None
        Name of the shelf item it was taken from.
    origins : dict of str to str
        Where each value comes from: ``build.yaml``, ``shelf: ...`` or ``default: ...``.
    place : Place
        Of its name in the file.
    places : dict of str to Place
        Of the values that stand in the file.
    watches : str
        For a part that senses another: the name it gives, if it gives one.
    """

    name: str
    kind: str
    values: dict[str, Value]
    shelf: str | None
    origins: dict[str, str]
    place: Place
    places: dict[str, Place] = field(default_factory=dict)
    watches: str = ""


@dataclass(frozen=True)
class Need:
    """What the load needs.

    Attributes
    ----------
    at : str
        Node where the load is judged, or the name of a part whose first terminal is meant.
    window : tuple of two float
        Steady limits. [V]
    dips : tuple of (float, float)
        Down to that voltage [V] for that long [s], shallow ones first.
    runtime, recharge : float or None
        Asked for. [s]
    ambient : tuple of two float
        Room temperature. [K]
    outages : str or None
        How often and how long mains fails, as written.
    policy : str
        How much reserve the ratings must keep.
    years : float
        For how long it must do so.
    place : Place
        Of ``at``.
    """

    at: str
    window: tuple[float, float]
    dips: tuple[tuple[float, float], ...]
    runtime: float | None
    recharge: float | None
    ambient: tuple[float, float]
    outages: str | None
    policy: str
    years: float
    place: Place


@dataclass(frozen=True)
class Design:
    """A build file, read: the parts in the order of the file, the joins as written, the box as a part."""

    title: str
    need: Need
    parts: dict[str, PartSpec]
    chains: tuple[Chain, ...]
    box: PartSpec
    path: str
    text: str
