"""What a build file says, once it is read: frozen records, each with its place in the file."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from tideover.laws.cell_curve import CellCurve
from tideover.quantity import Quantity

if TYPE_CHECKING:
    from tideover.design.cell_model import BuiltPack

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
    curve : CellCurve or None
        Of a pack whose cells have curves of their own.
    built : BuiltPack or None
        Of a pack whose cells are known one by one; see `tideover.design.cell_model`.
    doubts : tuple of str
        Of a pack whose cells were fitted to logs that the fit does not follow: the file, and what it says.
    """

    name: str
    kind: str
    values: dict[str, Value]
    shelf: str | None
    origins: dict[str, str]
    place: Place
    places: dict[str, Place] = field(default_factory=dict)
    watches: str = ""
    curve: CellCurve | None = None
    built: BuiltPack | None = None
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True)
class Slots:
    """Hours in which mains is switched off by plan.

    Attributes
    ----------
    spans : tuple of (float, float)
        Begin and end after midnight, the end above the begin, beyond 86400 s where it is on the next day. [s]
    days : tuple of int
        Weekdays, 0 for Monday.
    chance : float
        That a planned slot is used. [-]
    """

    spans: tuple[tuple[float, float], ...]
    days: tuple[int, ...]
    chance: float


@dataclass(frozen=True)
class OutageLog:
    """Outages as they were written down, in order of time, none touching the next.

    Attributes
    ----------
    file : str
        As the build file names it.
    begins : datetime
        When the log begins; the times below count from there. In UTC if the log says so, else as the clock there.
    spans : tuple of (float, float)
        Begin and end of each outage. [s]
    lasts : float
        How long was written down. [s]
    notes : tuple of str
        What was taken for granted while reading.
    """

    file: str
    begins: datetime
    spans: tuple[tuple[float, float], ...]
    lasts: float
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Outages:
    """How often and how long mains fails.

    Attributes
    ----------
    text : str
        As written, in one line.
    rate : float
        Of outages that are not short ones, those that follow another included. [1/s]
    law : str
        Of their duration: ``lognormal``, ``exponential`` or ``each``, which is always the same.
    mean : float
        Of their duration. [s]
    spread : float
        Standard deviation of the logarithm of the duration, log-normal alone. [-]
    follow_on : float
        Share of them after which another follows. [-]
    within : float
        Longest time from the end of one to the begin of that other. [s]
    short_ones : float
        Rate of interruptions up to five minutes, those among the outages above aside. [1/s]
    slots : Slots or None
        Beside them, what is switched off by plan.
    log : OutageLog or None
        Instead of all this.
    assumed : tuple of str
        Keys that nobody wrote and that were taken as is typical.
    """

    text: str
    rate: float
    law: str
    mean: float
    spread: float
    follow_on: float
    within: float
    short_ones: float
    slots: Slots | None
    log: OutageLog | None
    assumed: tuple[str, ...]
    place: Place


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
    outages : Outages or None
        How often and how long mains fails.
    losses : float or None
        How often the load may drop. [1/s]
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
    outages: Outages | None
    losses: float | None
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
