"""What every kind of part is rated for, where that is read, and what keeps it in reserve: one row for each rating."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from tideover.cases import written
from tideover.network import Network, Placed

Array = NDArray[np.float64]
ELECTROLYTIC, SUPER = 100e-6, 0.1
"""Capacitances from which a capacitor is taken for an electrolytic, and for a supercapacitor: the build file does not
say. [F]"""
ASLEEP = 1e-3
"""Output current under which a converter need not be fed as its maker asks. [A]"""


class Look(Protocol):
    """Whatever readings are taken from: standing points, warm points or a march."""

    def q(self, part: str, quantity: str) -> Array:
        """A reading of a part."""

    def v(self, node: int) -> Array:
        """Voltage of a node. [V]"""

    def heat(self, part: str) -> Array:
        """Loss in a part. [W]"""


Read = Callable[[Look, Placed], Array]


@dataclass(frozen=True)
class Rating:
    """One rating of one kind.

    Attributes
    ----------
    kind, name : str
        Kind of part and Python name of the parameter that states the rating.
    what : str
        What is read and held against it.
    unit : str
        SI unit of both.
    read : callable
        ``read(look, part)``.
    reserve : str
        Row of `policies.SHARES` or `policies.UNDER`.
    unstated : float or None
        Default by which the parameter says that nobody stated it; None where its default is a rating too.
    nature : str
        ``breaks`` (a voltage: too much breaks it at once), ``heats`` (a current or power: what lasts counts),
        ``junction`` (a temperature) or ``feeds`` (a lowest voltage).
    derived : str
        For a rating that follows from a parameter by a factor: where the factor comes from.
    factor : float
        That factor.
    """

    kind: str
    name: str
    what: str
    unit: str
    read: Read
    reserve: str
    unstated: float | None = None
    nature: str = "heats"
    factor: float = 1.0
    derived: str = ""

    @property
    def low(self) -> bool:
        """Whether the rating is a lowest value."""
        return self.nature == "feeds"

    def stated(self, network: Network, part: Placed) -> float | None:
        """The rating as written; None where nobody stated it. [SI]"""
        value = written(network, (part.name, self.name))
        silent = value == self.unstated and not told(network, part, self.name)
        return None if silent else self.factor * value

    def row(self, network: Network, part: Placed) -> str:
        """Row of the policy for one part."""
        if part.kind.name != "capacitor" or self.nature != "breaks":
            return self.reserve
        size = written(network, (part.name, "capacitance"))
        names = ("small capacitor voltage", "electrolytic capacitor voltage", "supercapacitor voltage")
        return names[int(size >= ELECTROLYTIC) + int(size >= SUPER)]


# --- readings ------------------------------------------------------------------------------------------------


def _across(plus: str, minus: str) -> Read:
    """Voltage between two terminals, counted from the second."""

    def read(look: Look, part: Placed) -> Array:
        at = dict(zip(part.kind.terminals, part.nodes))
        return np.asarray(look.v(at[plus]) - look.v(at[minus]))

    return read


def _size(quantity: str) -> Read:
    return lambda look, part: np.abs(look.q(part.name, quantity))


def _value(quantity: str) -> Read:
    return lambda look, part: look.q(part.name, quantity)


def _per_cell(sign: float) -> Read:
    """Current of one cell of a pack, discharging counted as given by the sign. [A]"""

    def read(look: Look, part: Placed) -> Array:
        amps = look.q(part.name, "discharge current [A]")
        return np.maximum(sign * amps / number(part, "parallel"), 0.0)

    return read


def _heat(look: Look, part: Placed) -> Array:
    return look.heat(part.name)


def _fed(look: Look, part: Placed) -> Array:
    """Input of a converter that gives something, and no number that matters where it gives nothing. [V]"""
    volts = _across("input", "minus")(look, part)
    return np.where(look.q(part.name, "output current [A]") > ASLEEP, volts, 1e3)


def _supplied(look: Look, part: Placed) -> Array:
    """Voltage at a load that draws. [V]"""
    return np.where(look.q(part.name, "drawn [A]") > ASLEEP, _across("plus", "minus")(look, part), 1e3)


AMPACITY = ("cable", "wire", "strip", "track")
CONTACTS = ("connector", "switch")
CONVERTERS = ("boost", "buck", "buck-boost", "linear regulator")
JUNCTION = "temperature of the junction"
HOT = "temperature [K]"
TABLE: tuple[Rating, ...] = (
    Rating("adapter", "rated_current", "current out", "A", _size("plus [A]"), "adapter current"),
    *(Rating(k, "ampacity", "current", "A", _size("a [A]"), "conductor current", 1000.0) for k in AMPACITY),
    *(Rating(k, "ampacity", "current", "A", _size("a [A]"), "contact current", 1000.0) for k in CONTACTS),
    *(Rating(k, "power_rating", "loss", "W", _heat, "resistor power", 1000.0) for k in ("resistor", "shunt")),
    Rating(
        "diode",
        "reverse_voltage",
        "reverse voltage",
        "V",
        _across("cathode", "anode"),
        "diode reverse voltage",
        nature="breaks",
    ),
    Rating("diode", "forward_current", "forward current", "A", _value("current [A]"), "diode current"),
    Rating("diode", "largest_junction_temperature", JUNCTION, "K", _value(HOT), "diode junction", nature="junction"),
    Rating(
        "ideal diode",
        "voltage_rating",
        "reverse voltage",
        "V",
        _across("cathode", "anode"),
        "transistor voltage",
        nature="breaks",
    ),
    Rating("ideal diode", "forward_current", "forward current", "A", _value("current [A]"), "transistor current"),
    Rating(
        "ideal diode",
        "largest_junction_temperature",
        JUNCTION,
        "K",
        _value(HOT),
        "transistor junction",
        nature="junction",
    ),
    Rating("relay", "contact_rating", "current of the contact", "A", _size("common [A]"), "contact current"),
    Rating(
        "relay",
        "coil_voltage",
        "voltage of the coil",
        "V",
        _across("coil plus", "coil minus"),
        "relay coil voltage",
        factor=1.3,
        derived="1.3 times the nominal coil voltage: typical, unverified",
    ),
    Rating(
        "capacitor",
        "voltage_rating",
        "voltage",
        "V",
        _across("plus", "minus"),
        "electrolytic capacitor voltage",
        nature="breaks",
    ),
    *(
        Rating(
            k,
            "output_rating",
            "output current",
            "A",
            _value("output current [A]"),
            "regulator output current",
            100.0,
        )
        for k in CONVERTERS
    ),
    *(
        Rating(
            k,
            "highest_input",
            "input voltage",
            "V",
            _across("input", "minus"),
            "regulator input voltage",
            60.0,
            nature="breaks",
        )
        for k in (*CONVERTERS, "charger")
    ),
    *(
        Rating(k, "lowest_input", "lowest input voltage", "V", _fed, "regulator lowest input", 0.0, nature="feeds")
        for k in CONVERTERS
    ),
    *(
        Rating(
            k,
            "largest_junction_temperature",
            JUNCTION,
            "K",
            _value(HOT),
            "regulator junction",
            nature="junction",
        )
        for k in (*CONVERTERS, "charger")
    ),
    Rating("pack", "charge_rating", "charge current of one cell", "A", _per_cell(-1.0), "cell current", 1000.0),
    Rating("pack", "discharge_rating", "discharge current of one cell", "A", _per_cell(1.0), "cell current", 1000.0),
    Rating("protection board", "continuous_rating", "current", "A", _size("out [A]"), "board current", 1000.0),
    Rating(
        "load",
        "highest_voltage",
        "voltage at its plug",
        "V",
        _across("plus", "minus"),
        "load voltage",
        0.0,
        nature="breaks",
    ),
    Rating(
        "load",
        "lowest_voltage",
        "lowest voltage at its plug",
        "V",
        _supplied,
        "load lowest voltage",
        0.0,
        nature="feeds",
    ),
)
"""Every rating that is read from points and marches."""

BY_RULE: dict[tuple[str, str], str] = {
    ("fuse", "rating"): "coordination: the load's current, and the conductors behind it",
    ("fuse", "voltage_rating"): "coordination: breaking",
    ("fuse", "breaking_capacity"): "coordination: breaking",
    ("fuse", "melting_integral"): "coordination: short circuits and inrush",
    ("capacitor", "ripple_rating"): "ripple of the converters beside it, in closed form",
}
"""Ratings that are judged by a rule of their own."""
ELSEWHERE: dict[tuple[str, str], str] = {
    ("pack", "highest_voltage"): "the answer on the cells",
    ("pack", "lowest_voltage"): "the answer on the cells",
    ("pack", "coldest_charge"): "the answer on the cells",
    ("pack", "warmest_charge"): "the answer on the cells",
    ("pack", "coldest_discharge"): "the answer on the cells",
    ("pack", "warmest_discharge"): "the answer on the cells",
}
"""Limits that another answer of the sheet judges."""


def told(network: Network, part: Placed, name: str) -> bool:
    """Whether the build file or the shelf gives a figure, rather than the default of its kind."""
    return not network.design.parts[part.name].origins.get(name, "").startswith("default")


def number(part: Placed, name: str) -> float:
    """Nominal value of a figure. [SI]"""
    value: Any = part.values[name]
    return float(getattr(value, "nominal", value))
