"""Worked values for the pages of parts: what each kind answers at three stated points, to six digits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from tideover.laws.cells import KNOTS, Curve
from tideover.parts import Kind
from tideover.quantity import parse
from tideover.solve.look import Look

ROOM = 298.15


@dataclass(frozen=True)
class Point:
    """Where a kind is looked at: voltages in the order of its terminals; whatever is left out is as it starts."""

    v: tuple[float, ...]
    x: dict[str, float] = field(default_factory=dict)
    m: dict[str, str] = field(default_factory=dict)
    s: dict[str, float] = field(default_factory=dict)
    temp: float = ROOM
    air: float = ROOM


@dataclass(frozen=True)
class Example:
    """Parameters as a builder writes them, and three points."""

    given: dict[str, str]
    points: tuple[Point, Point, Point]


def _ohmic(**given: str) -> Example:
    points = Point((12.0, 11.9)), Point((0.0, 0.3), temp=333.15), Point((5.0, 5.0), temp=263.15)
    return Example({k.replace("_", " "): v for k, v in given.items()}, points)


def _converter(given: dict[str, str], v_in: float, v_out: float) -> Example:
    mid = {"input": v_in, "output": 0.995 * v_out, "integral": 0.4, "ramp": 1.0}
    low = {"input": 0.75 * v_in, "output": 0.9 * v_out, "integral": 2.0, "ramp": 1.0}
    off = {"input": 0.4 * v_in, "output": 0.3 * v_out, "integral": 0.0, "ramp": 0.0}
    return Example(
        given,
        (
            Point((v_in + 0.005, 0.993 * v_out, 0.0), mid),
            Point((0.76 * v_in, 0.89 * v_out, 0.0), low),
            Point((0.4 * v_in, 0.31 * v_out, 0.0), off, {"supply": "locked out"}),
        ),
    )


EXAMPLES: dict[str, Example] = {
    "adapter": Example(
        {"voltage": "12 V", "rated current": "2 A", "current limit": "2.6 A", "overload": "foldback"},
        (
            Point((11.9, 0.0), {"output": 11.98, "store": 0.24, "reference": 1.0}),
            Point((7.0, 0.0), {"output": 7.2, "store": 0.24, "reference": 1.0}, {"output": "overloaded"}),
            Point((11.0, 0.0), {"output": 11.2, "store": 0.1, "reference": 1.0}, {"output": "holding"}, {"mains": 0.0}),
        ),
    ),
    "cable": _ohmic(section="0.75 mm²", length="2 m", contact_resistance="5 mΩ"),
    "wire": _ohmic(section="18 AWG", length="0.4 m"),
    "strip": _ohmic(width="8 mm", thickness="0.15 mm", length="60 mm"),
    "track": _ohmic(width="3 mm", length="50 mm"),
    "connector": _ohmic(contact_resistance="12 mΩ"),
    "switch": Example(
        {"contact resistance": "10 mΩ"},
        (Point((12.0, 11.98)), Point((12.0, 0.0), s={"closed": 0.0}), Point((0.0, 0.05))),
    ),
    "shunt": _ohmic(resistance="10 mΩ"),
    "resistor": _ohmic(resistance="4.7 kΩ"),
    "diode": Example(
        {"saturation current": "2 uA", "ideality": "1.05", "series resistance": "25 mΩ"},
        (Point((0.40, 0.0)), Point((0.35, 0.0), temp=348.15), Point((0.0, 20.0), temp=333.15)),
    ),
    "ideal diode": Example(
        {"on resistance": "10 mΩ"},
        (
            Point((12.03, 12.0, 0.0), m={"channel": "on"}),
            Point((12.8, 12.0, 0.0)),
            Point((11.0, 12.0, 0.0), m={"channel": "turning off"}, temp=348.15),
        ),
    ),
    "relay": Example(
        {
            "coil voltage": "12 V",
            "coil resistance": "160 Ω",
            "inductance seated": "0.6 H",
            "inductance open": "0.4 H",
        },
        (
            Point((12.0, 0.0, 11.98, 12.0, 8.0), {"flux": 0.045}, {"contact": "operated"}),
            Point((5.0, 0.0, 8.0, 12.0, 8.02), {"flux": 0.008}, {"contact": "released"}),
            Point((-1.0, 0.0, 8.0, 12.0, 7.0), {"flux": 0.02}, {"contact": "crossing to back"}),
        ),
    ),
    "capacitor": Example(
        {"capacitance": "2.2 mF", "ESR": "35 mΩ", "leakage": "100 uA"},
        (
            Point((12.0, 0.0), {"charge_voltage": 11.9}),
            Point((9.0, 0.0), {"charge_voltage": 9.5}),
            Point((0.0, 0.0), {"charge_voltage": 12.0}),
        ),
    ),
    "boost": _converter({"set voltage": "12 V", "current limit": "5 A"}, 7.4, 12.0),
    "buck": _converter({"set voltage": "5 V", "current limit": "4 A"}, 12.0, 5.0),
    "buck-boost": _converter({"set voltage": "12 V", "current limit": "6 A"}, 10.8, 12.0),
    "linear regulator": _converter({"set voltage": "5 V", "current limit": "1 A"}, 9.0, 5.0),
    "charger": Example(
        {"type": "linear", "hold voltage": "4.2 V", "charge current": "1 A"},
        (
            Point((5.0, 3.9, 0.0), {"current": 0.98}),
            Point((5.0, 4.197, 0.0), {"current": 0.3}, {"phase": "tapering"}, temp=391.15),
            Point((3.2, 3.7, 0.0), {"current": 0.0}, {"phase": "off"}),
        ),
    ),
    "pack": Example(
        {
            "chemistry": "NMC",
            "series": "3",
            "parallel": "4",
            "capacity": "2.5 Ah",
            "resistance": "20 mΩ",
            "charge efficiency": "0.995",
        },
        (
            Point((11.0, 0.0, 3.66), {"charge": 0.5, "weak_charge": 0.49, "fast": 0.005, "slow": 0.008}),
            Point((12.3, 0.0, 4.1), {"charge": 0.9, "weak_charge": 0.91, "fast": -0.002, "slow": -0.003}),
            Point((9.6, 0.0, 3.0), {"charge": 0.05, "weak_charge": 0.03, "fast": 0.01, "slow": 0.01}, temp=273.15),
        ),
    ),
    "protection board": Example(
        {
            "series": "3",
            "on resistance": "20 mΩ",
            "cut-off": "2.8 V",
            "cut-off release": "3 V",
            "over-charge": "4.25 V",
            "over-charge release": "4.1 V",
        },
        (
            Point((0.0, 0.04, 11.1, 3.65)),
            Point((0.0, -0.9, 8.5, 2.7), m={"discharge": "empty"}),
            Point((0.0, 0.8, 12.8, 4.28), m={"charge": "full"}, temp=318.15),
        ),
    ),
    "fuse": Example(
        {"rating": "5 A", "resistance": "15 mΩ", "melting integral": "50 A² s"},
        (
            Point((12.0, 11.95), {"melting": 0.1}),
            Point((12.0, 11.7), {"melting": 0.7}),
            Point((12.0, 0.0), {"melting": 1.0}, {"element": "blown"}),
        ),
    ),
    "load": Example(
        {"power": "12 W", "nominal voltage": "12 V", "resets below": "9 V", "restarts above": "9.5 V"},
        (
            Point((11.95, 0.0), {"input": 11.9}),
            Point((4.0, 0.0), {"input": 3.65}, s={"demand": 1.5}),
            Point((9.2, 0.0), {"input": 9.1}, {"work": "reset"}),
        ),
    ),
    "box": Example(
        {"vent area": "6 cm²"},
        (
            Point((), {"wall_temp": 303.15}, air=308.15),
            Point((), {"wall_temp": 298.15}, air=298.15),
            Point((), {"wall_temp": 318.15}, air=333.15),
        ),
    ),
}


class OneCell:
    """The open-circuit curve of one chemistry, for plain numbers; measured shapes of resistance are invented."""

    def __init__(self, chemistry: str, table: Sequence[float] | None = None) -> None:
        self._curve = Curve.of([chemistry]) if table is None else Curve.through(KNOTS, table)
        if table is None:
            self.ohmic, self.lag = (
                OneCell(chemistry, [1.0 + rise * math.exp(-s / span) for s in KNOTS])
                for rise, span in ((2.0, 0.1), (4.0, 0.2))
            )

    def value(self, charge: Any) -> float:
        return float(self._curve.value([charge])[0])

    def integral(self, charge: Any) -> float:
        return float(self._curve.integral([charge])[0])


def parameters(kind: Kind, given: dict[str, str]) -> dict[str, float]:
    """Every parameter of a kind in SI; a word as its position among its choices."""
    unknown = set(given) - {p.key for p in kind.parameters}
    if unknown:
        raise KeyError(f"{kind.name} has no {', '.join(sorted(unknown))}")
    out = {}
    for p in kind.parameters:
        if p.unit == "word":
            out[p.name] = float(p.choices.index(given.get(p.key, str(p.default))))
        elif p.key in given:
            out[p.name] = parse(given[p.key], p.unit).nominal
        else:
            out[p.name] = float(p.default)  # type: ignore[arg-type]
    return out


def look(kind: Kind, example: Example, at: Point) -> Look:
    """What the kind's equations are shown at a point."""
    terminals = [t for t in kind.terminals if t != "air"]
    curve = OneCell(example.given["chemistry"]) if "chemistry" in example.given else None
    return Look(
        kind,
        dict(zip(terminals, at.v, strict=True)),
        {s.name: at.x.get(s.name, s.start) for s in kind.states},
        parameters(kind, example.given),
        {s: at.s.get(s, value) for s, value in kind.signals.items()},
        {m.name: m.states.index(at.m.get(m.name, m.states[0])) for m in kind.machines},
        at.temp,
        at.air,
        curve,
    )


def worked_values(kind: Kind) -> str:
    """Three tables in one: what was stated, and what the kind answers."""
    example = EXAMPLES[kind.name]
    rows: dict[str, list[str]] = {}

    def put(name: str, k: int, value: Any) -> None:
        rows.setdefault(name, ["0", "0", "0"])[k] = value if isinstance(value, str) else f"{float(value) + 0.0:.6g}"

    for k, at in enumerate(example.points):
        q = look(kind, example, at)
        terminals = [t for t in kind.terminals if t != "air"]
        for t, volts in zip(terminals, at.v):
            put(f"`v.{_name(t)}`", k, volts)
        for s in kind.states:
            put(f"`x.{s.name}`", k, at.x.get(s.name, s.start))
        for m in kind.machines:
            put(f"machine `{m.name}`", k, at.m.get(m.name, m.states[0]))
        for s, value in kind.signals.items():
            put(f"`s.{s}`", k, at.s.get(s, value))
        put("`air`" if kind.name == "box" else "`temp`", k, at.air if kind.name == "box" else at.temp)
        flow = kind.equations(q)
        for t in kind.terminals:
            put(f"**`i.{_name(t)}`**", k, flow.currents[t])
        for state, rate in flow.rates.items():
            put(f"**`dx.{state}/dt`**", k, rate)
        for name in ("heat", "supplied", "delivered", "store"):
            value = getattr(flow, name)
            if isinstance(value, float) and value == 0.0 and f"**`{name}`**" not in rows:
                continue
            put(f"**`{name}`**", k, value)
    given = ", ".join(f"`{key}` {text}" for key, text in example.given.items()) or "none"
    head = "| | first | second | third |\n|---|---|---|---|\n"
    body = "\n".join(f"| {name} | {' | '.join(values)} |" for name, values in rows.items())
    return f"Parameters given: {given}.\n\n{head}{body}"


def _name(terminal: str) -> str:
    return terminal.replace(" ", "_")
