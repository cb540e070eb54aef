"""What every kind of part declares, and the words in which it declares it.

A kind is a frozen record: parameters (each with unit, range, default and source, stated once), terminals,
states, machines (discrete states and the arcs between them) and one function, ``equations``, that says what
current flows into each terminal and how fast each state changes. Nothing here solves or reads anything.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pickle import PicklingError
from typing import Any

import numpy as np

TYPICAL = "typical, unverified"
"""The words shown wherever a figure comes from practice rather than from a checked source."""


@dataclass(frozen=True)
class Parameter:
    """One figure of a part, as a builder writes it in the build file.

    Attributes
    ----------
    key : str
        The words used in the build file and on the shelf, such as ``charge current``.
    unit : str
        Coherent SI unit of the value in memory; ``""`` for a plain number or fraction; ``"word"`` for a
        choice out of `choices`, which is kept in memory as its position in that tuple.
    low, high : float
        What lies outside is refused as absurd.
    default : float, str or None
        Used when neither the file nor the shelf gives a value; None means that it must be given.
    about : str
        One line for the manual.
    source : str
        Where the default and the range come from.
    choices : tuple of str
        The words allowed when `unit` is ``"word"``.
    """

    key: str
    unit: str
    low: float
    high: float
    default: float | str | None
    about: str
    source: str = TYPICAL
    choices: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The key as a Python name: ``charge_current``."""
        return self.key.replace(" ", "_").replace("-", "_")


def word(key: str, choices: tuple[str, ...], default: str | None, about: str, source: str = "") -> Parameter:
    """Declare a parameter that is one word out of a few."""
    return Parameter(
        key, "word", 0, len(choices) - 1, default, about, source or "the builder's choice", choices
    )


@dataclass(frozen=True)
class State:
    """A quantity that a part remembers.

    Attributes
    ----------
    name : str
        Python name; unit in `unit`.
    scale : float
        The size at which an error starts to matter; the absolute tolerance of the march is a fixed fraction.
    slow : bool
        Charge and temperature: held while a standing point is sought.
    loose : bool
        So weakly tied to the voltages that Newton's matrix may leave the tie out (temperature always is).
    start : float
        Value in a part that nobody has touched yet; a condition (see `tideover.cases`) may set another.
    guess : str
        Where the search for a standing point begins: the key of a parameter, or ``supply`` for the highest
        voltage of any source. Beginning high finds the upper, stable root of constant-power loads.
    """

    name: str
    unit: str
    scale: float
    about: str
    slow: bool = False
    loose: bool = False
    start: float = 0.0
    guess: str = ""


@dataclass(frozen=True)
class Arc:
    """A way from one discrete state to another.

    Exactly one of `when` and `after` is given. `when(q)` is a quantity that turns positive at the instant of
    change, located in time by the march; `after(q)` is how long the part stays in the state before it moves
    on by itself, a known instant that the march steps to exactly. A guard of a known signal (mains lost) is
    a `when` too: signals only change at break points. A standing point is what is left when time no longer
    matters, so it follows every `after` arc at once; `settles` marks a `when` arc it follows at once too,
    because given time its guard turns positive (a hold-up store that runs empty).
    """

    source: str
    target: str
    when: Callable[[Any], Any] | None = None
    after: Callable[[Any], Any] | None = None
    about: str = ""
    settles: bool = False


@dataclass(frozen=True)
class Machine:
    """Discrete states of a part and the arcs between them; the first state is where it starts.

    `entry` lists what entering a state does at once: (discrete state, continuous state, value it takes).
    """

    name: str
    states: tuple[str, ...]
    arcs: tuple[Arc, ...]
    about: str = ""
    entry: tuple[tuple[str, str, float], ...] = ()


@dataclass(frozen=True)
class Flow:
    """What a part answers, from its terminal voltages, states, parameters and discrete states.

    Attributes
    ----------
    currents : dict
        Into each terminal. [A] They sum to zero.
    rates : dict
        Of each state but the temperature, which follows from `heat`. [state unit/s]
    heat : value
        Dissipation in the part. [W]
    supplied : value
        Power that enters from outside the drawing: mains into an adapter. [W]
    delivered : value
        Power that leaves it usefully: into a load. [W]
    store : value
        Energy held in the part, a function of its states alone. [J]
    shown : dict
        Named quantities worth showing, such as the coil current; with unit in the key: ``"coil current [A]"``.
    bodies : value
        Number of like bodies side by side (the cells of a pack): they share the heat, each with the declared
        thermal resistance and heat capacity.
    collapsed : value
        Positive where the part only has a made-up point to rest at: a constant-power load below its knee.

    Notes
    -----
    Every kind keeps the balance ``sum(v i) + supplied = heat + delivered + d(store)/dt`` exactly.
    """

    currents: dict[str, Any]
    rates: dict[str, Any] = field(default_factory=dict)
    heat: Any = 0.0
    supplied: Any = 0.0
    delivered: Any = 0.0
    store: Any = 0.0
    shown: dict[str, Any] = field(default_factory=dict)
    bodies: Any = 1.0
    collapsed: Any = -1.0


ALWAYS = ("", "")
"""For `Kind.heat_steers`."""


@dataclass(frozen=True, eq=False)
class Kind:
    """A kind of part.

    Attributes
    ----------
    name : str
        As written after ``kind:`` in the build file.
    terminals : tuple of str
        In order. A terminal named ``return`` is joined to the common return unless the file says otherwise.
    through : tuple of two str, or None
        The terminals met from left to right when the part stands inside a chain of joins.
    parameters, states, machines : tuple
        See `Parameter`, `State`, `Machine`.
    signals : dict
        Inputs that only change at known instants, with the value they have at rest: ``{"mains": 1.0}``.
    equations : callable
        ``equations(q) -> Flow`` in plain numpy-like arithmetic; ``q.v``, ``q.x``, ``q.p``, ``q.s`` hold voltages,
        states, parameters and signals by name, ``q.temp`` the part's temperature [K], and
        ``q.among("contact", "front", ...)`` is 1.0 while that machine is in one of the states named, else 0.0.
    symbol : str
        Name of its drawing.
    senses : str
        For a part that must watch another one's terminals (a protection board watches a pack): that kind.
    heat_steers : (str, str), optional
        The word parameter and its value with which temperature sets the current (thermal foldback), too strongly to
        be left out of Newton's matrix; `ALWAYS` where it always does: a diode at a fixed voltage takes some 3 % more
        for each kelvin, which warms it by about one more.
    source : tuple of (str, str)
        For a source: parameters whose product (the second may be empty) is the voltage it can give.
    like : (Kind, callable), optional
        A simpler kind that this one behaves as, and that one's parameters from this one's: a cable is a resistance.
        Parts of different kinds that are like one are evaluated together.
    optional : frozenset of str
        Terminals that may be left unjoined, such as an unused throw of a relay.
    along : str
        The length along which a part gives off its heat: the default thermal resistance and heat capacity are those of
        its first metre, and a longer part has so much less of the one and more of the other. Empty for other parts.
    """

    name: str
    about: str
    terminals: tuple[str, ...]
    through: tuple[str, str] | None
    parameters: tuple[Parameter, ...]
    equations: Callable[[Any], Flow]
    states: tuple[State, ...] = ()
    machines: tuple[Machine, ...] = ()
    signals: dict[str, float] = field(default_factory=dict)
    symbol: str = "box"
    senses: str = ""
    optional: frozenset[str] = frozenset()
    heat_steers: tuple[str, str] | None = None
    source: tuple[tuple[str, str], ...] = ()
    like: tuple[Kind, Callable[[Any], dict[str, Any]]] | None = None
    along: str = ""

    def parameter(self, key: str) -> Parameter:
        """Find a parameter by key or Python name; KeyError when there is none."""
        for p in self.parameters:
            if key in (p.key, p.name):
                return p
        raise KeyError(key)

    def __reduce__(self) -> tuple[Callable[[str], Kind], tuple[str]]:
        """A kind holds functions that cannot be written down, so it travels to another process by its name."""
        from tideover.parts import KINDS

        if KINDS.get(self.name) is not self:
            raise PicklingError(
                f"The kind {self.name!r} is not the one in tideover.parts.KINDS. Another process finds a kind there by "
                "its name, so a kind of your own can only be computed in this process: give no executor."
            )
        return _named, (self.name,)

    @property
    def warm(self) -> bool:
        """Whether the part heats up: it declares a thermal resistance to the air around it."""
        return any(p.key == "thermal resistance" for p in self.parameters)

    @property
    def apart(self) -> bool:
        """Whether the part may stand outside the box, as its parameter `stands` says."""
        return any(p.key == STANDS for p in self.parameters)


def _named(name: str) -> Kind:
    """The kind of that name, in whichever process asks."""
    from tideover.parts import KINDS

    return KINDS[name]


def absent(value: Any) -> bool:
    """Whether a parameter is zero for good, so that what it multiplies may be left out of the equations.

    A number is looked at; an array or a symbol of the tracer may differ from case to case and counts as present.
    """
    return isinstance(value, float) and value == 0.0


STANDS = "stands"
PLACES = ("outside", "inside")


def stands() -> Parameter:
    """Declare that a part usually stands in the room and not in the box: an adapter in its socket, the load."""
    return word(STANDS, PLACES, "outside", "outside it warms the room, inside the air in the box")


COLDEST, HOTTEST = 100.0, 1000.0
"""Temperatures at which a law that bends with temperature is held: far past what any part survives, but a search for a
solution may look there. [K]"""


def held_temp(temp: Any) -> Any:
    """A temperature as a law may meet it. [K]"""
    return np.minimum(np.maximum(temp, COLDEST), HOTTEST)


def warmth(resistance: float, capacity: float, note: str = "") -> tuple[Parameter, Parameter]:
    """Heat path of a part: to the air around it, and its own heat capacity."""
    return (
        Parameter("thermal resistance", "K/W", 1e-3, 1e4, resistance, f"from the part to the air around it{note}"),
        Parameter("heat capacity", "J/K", 1e-3, 1e6, capacity, f"of the part{note}"),
    )
