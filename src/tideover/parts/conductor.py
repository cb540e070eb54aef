"""Conductors: whatever carries current and costs a little voltage.

Wire, two-core cable, strip, board track, connector, switch contact, shunt and resistor share one law,
``v = i R(T)``; they differ in how a builder states the resistance. A cable in a chain of joins stands for
both of its cores, and a connector for all of its contacts in the loop: a "1 m cable" is 2 m of copper.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tideover.laws.conductors import resistance_at
from tideover.laws.constants import COPPER
from tideover.parts.base import Flow, Kind, Parameter, warmth

SOLDER = 1e-6
"""In series with every conductor, so that none has no resistance at all. [ohm]"""

ALPHA = Parameter(
    "tempco", "1/K", -0.01, 0.02, COPPER.alpha, "relative rise of resistance", "copper, IEC 60028"
)
CONTACTS = Parameter("contact resistance", "ohm", 0.0, 10.0, 0.0, "of one contact, on top of the copper")
FIRST_METRE = "; if left out, that of a metre, shared out over a longer one"
COUNT = Parameter("contacts", "", 0, 100, 2, "number of contacts the current passes, both poles counted")


def _ohmic(resistance: Callable[[Any], Any]) -> Callable[[Any], Flow]:
    """Equations of a two-terminal resistance whose value `resistance(p)` is stated at 20 °C."""

    def equations(q: Any) -> Flow:
        u = q.v.a - q.v.b
        ohms = resistance_at(resistance(q.p), q.temp, q.p.tempco)
        i = u / ohms
        return Flow({"a": i, "b": -i}, heat=u * i, shown={"drop [V]": u})

    return equations


def _as_ohmic(resistance: Callable[[Any], Any]) -> Callable[[Any], dict[str, Any]]:
    """Parameters of the plain conductor that behaves the same."""

    def parameters(p: Any) -> dict[str, Any]:
        same = ("tempco", "thermal_resistance", "heat_capacity")
        return {"resistance": resistance(p) - SOLDER, **{name: p[name] for name in same}}

    return parameters


def _copper(p: Any) -> Any:
    """Length times cores over section, plus contacts."""
    return p.length * p.cores * p.resistivity / p.section + p.contact_resistance * p.contacts + SOLDER


def _sheet(p: Any) -> Any:
    return p.length * p.resistivity / (p.width * p.thickness) + SOLDER


def _contact(p: Any) -> Any:
    return p.contact_resistance * p.contacts + SOLDER


def _stated(p: Any) -> Any:
    return p.resistance + SOLDER


OHMIC = Kind(
    "conductor",
    "a plain resistance: what every conductor behaves as",
    ("a", "b"),
    ("a", "b"),
    (
        Parameter("resistance", "ohm", 0.0, 1e9, None, "at 20 °C"),
        Parameter("tempco", "1/K", -0.01, 0.02, 0.0, "relative rise of resistance"),
        *warmth(40.0, 3.0),
    ),
    _ohmic(_stated),
)


def _conductor(
    name: str,
    about: str,
    parameters: tuple[Parameter, ...],
    resistance: Callable[[Any], Any],
    symbol: str,
    along: str = "",
) -> Kind:
    return Kind(
        name,
        about,
        ("a", "b"),
        ("a", "b"),
        parameters,
        _ohmic(resistance),
        symbol=symbol,
        like=(OHMIC, _as_ohmic(resistance)),
        along=along,
    )


def _run(section: float | None, cores: int, resistivity: float, contacts: int) -> tuple[Parameter, ...]:
    return (
        Parameter(
            "section", "m^2", 1e-9, 1e-3, section, "of one core; a wire gauge such as 18 AWG is a section"
        ),
        Parameter("length", "m", 1e-4, 1000.0, None, "one way"),
        Parameter("cores", "", 1, 4, cores, "how many cores the current passes one after the other"),
        Parameter("resistivity", "ohm m", 1e-8, 1e-6, resistivity, "at 20 °C, of the stranded section"),
        ALPHA,
        CONTACTS,
        Parameter("contacts", "", 0, 100, contacts, "number of such contacts"),
        Parameter(
            "ampacity", "A", 1e-3, 1000.0, 1000.0, "largest continuous current; 1000 A means not stated"
        ),
    )


STRANDED = 1.95e-8
"""Resistivity by which class 5 copper meets the largest resistance of IEC 60228: 19.5 mohm/m at 1 mm². [ohm m]"""

CABLE = _conductor(
    "cable",
    "two cores side by side, out and back: both are counted",
    (*_run(None, 2, STRANDED, 2), *warmth(20.0, 20.0, FIRST_METRE)),
    _copper,
    "line",
    along="length",
)
WIRE = _conductor(
    "wire",
    "a single insulated wire; say `cores: 2` where out and back are alike",
    (*_run(None, 1, STRANDED, 2), *warmth(40.0, 5.0, FIRST_METRE)),
    _copper,
    "line",
    along="length",
)
STRIP = _conductor(
    "strip",
    "welded strip",
    (
        Parameter("width", "m", 5e-4, 0.1, None, "of the strip"),
        Parameter("thickness", "m", 2e-5, 5e-3, None, "of the strip"),
        Parameter("length", "m", 1e-4, 10.0, None, "that the current runs"),
        Parameter("resistivity", "ohm m", 1e-8, 1e-6, 6.99e-8, "at 20 °C: nickel; plated steel about 12e-8"),
        Parameter("tempco", "1/K", -0.01, 0.02, 0.006, "of nickel"),
        Parameter(
            "ampacity", "A", 1e-3, 1000.0, 1000.0, "largest continuous current; 1000 A means not stated"
        ),
        *warmth(60.0, 2.0),
    ),
    _sheet,
    "line",
)
TRACK = _conductor(
    "track",
    "copper track on a board",
    (
        Parameter("width", "m", 5e-5, 0.1, None, "of the track"),
        Parameter("thickness", "m", 5e-6, 5e-4, 35e-6, "of the copper: 35 µm is one ounce"),
        Parameter("length", "m", 1e-4, 10.0, None, "that the current runs"),
        Parameter("resistivity", "ohm m", 1e-8, 1e-6, COPPER.rho, "at 20 °C", "annealed copper, IEC 60028"),
        ALPHA,
        Parameter(
            "ampacity", "A", 1e-3, 1000.0, 1000.0, "largest continuous current; 1000 A means not stated"
        ),
        *warmth(50.0, 1.0),
    ),
    _sheet,
    "line",
)
CONNECTOR = _conductor(
    "connector",
    "plug and jack, terminal, holder clip, weld or solder joint",
    (
        Parameter("contact resistance", "ohm", 1e-6, 10.0, None, "of one contact"),
        COUNT,
        Parameter("aged resistance", "ohm", 1e-6, 10.0, 0.1, "of one contact at the end of its life"),
        Parameter("tempco", "1/K", -0.01, 0.02, 0.0, "small against the scatter"),
        Parameter(
            "ampacity", "A", 1e-3, 1000.0, 1000.0, "largest continuous current; 1000 A means not stated"
        ),
        *warmth(40.0, 3.0),
    ),
    _contact,
    "connector",
)


def _switch(q: Any) -> Flow:
    """An open switch keeps 100 Mohm across it, so that what hangs behind it still has a defined voltage."""
    u = q.v.a - q.v.b
    i = u * (q.s.closed / (q.p.contact_resistance + 1e-6) + 1e-8)
    return Flow({"a": i, "b": -i}, heat=u * i, shown={"drop [V]": u})


SWITCH = Kind(
    "switch",
    "hand-operated switch; the signal `closed` is 1 or 0",
    ("a", "b"),
    ("a", "b"),
    (
        Parameter("contact resistance", "ohm", 1e-6, 10.0, None, "closed"),
        Parameter("aged resistance", "ohm", 1e-6, 10.0, 0.05, "at the end of its life"),
        Parameter(
            "ampacity", "A", 1e-3, 1000.0, 1000.0, "largest continuous current; 1000 A means not stated"
        ),
        *warmth(40.0, 3.0),
    ),
    _switch,
    signals={"closed": 1.0},
    symbol="switch",
)
_STATED = (
    Parameter("resistance", "ohm", 1e-6, 1e9, None, "at 20 °C"),
    Parameter("tempco", "1/K", -0.01, 0.02, 1e-4, "relative rise of resistance"),
    Parameter("power rating", "W", 1e-3, 1000.0, 1000.0, "largest continuous loss; 1000 W means not stated"),
)
RESISTOR = _conductor(
    "resistor",
    "a stated resistance",
    (*_STATED, *warmth(150.0, 0.5)),
    _stated,
    "resistor",
)
SHUNT = _conductor(
    "shunt",
    "a small resistance to measure a current by",
    (*_STATED, *warmth(40.0, 3.0)),
    _stated,
    "resistor",
)
