"""What a part's equations are shown: the contract at which `solve` and `parts` meet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from tideover.parts.base import STANDS, Flow, Kind, absent
from tideover.solve.trace import FIXED, STEADY, Graph, Symbol, among

ROOM = "room"
"""Among the parameters of a kind that may stand outside the box: the ambient of that box. [K]"""


class Names:
    """Values by name, as attribute or item; spaces and hyphens in a name read as underscores."""

    def __init__(self, values: Mapping[str, Any]) -> None:
        self._values = {k.replace(" ", "_").replace("-", "_"): v for k, v in values.items()}

    def __getattr__(self, name: str) -> Any:
        try:
            return self.__dict__["_values"][name]
        except KeyError:
            raise AttributeError(f"no {name!r} here, only {', '.join(self._values)}") from None

    def __getitem__(self, name: str) -> Any:
        return self._values[name.replace(" ", "_").replace("-", "_")]


class Look:
    """One part (or all parts of a kind at once) at one instant.

    Parameters
    ----------
    kind : Kind
        Whose equations will look.
    v, x, p, s, m : mapping
        Terminal voltages [V], states, parameters, signals, and discrete states as positions in their tables. [-]
    temp, air : value
        Temperature of the part and of the air around it. [K]
    curve : object
        Open-circuit curve with ``value``, ``slope`` and ``integral``, and of the same form its ``ohmic`` and ``lag``:
        how the resistances of a cell with curves of its own follow its charge; only a pack needs one.
    """

    def __init__(
        self,
        kind: Kind,
        v: Mapping[str, Any],
        x: Mapping[str, Any],
        p: Mapping[str, Any],
        s: Mapping[str, Any],
        m: Mapping[str, Any],
        temp: Any,
        air: Any,
        curve: Any = None,
    ) -> None:
        self.kind, self.temp, self.air = kind, temp, air
        self.v, self.x, self.p, self.s, self.m = Names(v), Names(x), Names(p), Names(s), dict(m)
        self._curve = curve

    def among(self, machine: str, *states: str) -> Any:
        """1.0 while the machine is in one of the states named."""
        table = next(mm for mm in self.kind.machines if mm.name == machine).states
        members = tuple(table.index(s) for s in states)
        code = self.m[machine]
        if isinstance(code, Symbol):
            return code.graph.node("among", code, members)
        return among(np.asarray(code), members)

    def chosen(self, parameter: str, choice: str) -> Any:
        """1.0 where a word parameter has the value named."""
        position = self.kind.parameter(parameter).choices.index(choice)
        return np.equal(self.p[parameter], float(position)) * 1.0

    def link(self, value: Any) -> Any:
        """Mark a quantity on which much else depends, such as the one current that flows through a part.

        It changes no value. The solver then carries its change as one unknown instead of tracing each derivative
        through it again.
        """
        return value.graph.node("link", value) if isinstance(value, Symbol) else value

    def curve(self, charge: Any) -> Any:
        """Open-circuit voltage of one cell. [V]"""
        if isinstance(charge, Symbol):
            return charge.graph.node("curve", charge)
        return self._curve.value(charge)

    def curve_energy(self, charge: Any) -> Any:
        """Its integral over state of charge from empty. [V]"""
        if isinstance(charge, Symbol):
            return charge.graph.node("curve_energy", charge)
        return self._curve.integral(charge)

    def ohmic(self, charge: Any) -> Any:
        """Ohmic resistance of one cell over its stated one, where it was measured. [-]"""
        return charge.graph.node("ohmic", charge) if isinstance(charge, Symbol) else self._curve.ohmic.value(charge)

    def lag(self, charge: Any) -> Any:
        """Resistances of its two pairs over their stated ones, where they were measured. [-]"""
        return charge.graph.node("lag", charge) if isinstance(charge, Symbol) else self._curve.lag.value(charge)


def symbolic(kind: Kind, grounded: frozenset[str], folded: dict[str, float]) -> tuple[Graph, Look]:
    """A look made of symbols; terminals in `grounded` are at 0 V for good, parameters in `folded` are numbers."""
    g = Graph()
    v = {t: 0.0 if t in grounded else g.symbol(f"v_{k}") for k, t in enumerate(kind.terminals) if t != "air"}
    x = {s.name: g.symbol(f"x_{s.name}") for s in kind.states}
    p = {q.name: folded.get(q.name, g.symbol(q.name, level=FIXED)) for q in kind.parameters}
    s = {name: g.symbol(f"s_{name}", level=STEADY) for name in kind.signals}
    m = {mm.name: g.symbol(f"m_{mm.name}", level=STEADY) for mm in kind.machines}
    if kind.apart:
        p[ROOM] = g.symbol(ROOM, level=FIXED)
    temp = g.symbol("x_temp") if kind.warm else 298.15
    return g, Look(kind, v, x, p, s, m, temp, g.symbol("v_air"))


def complete(flow: Flow, q: Look) -> Flow:
    """Add what every warm part has: a temperature, and a way for its heat into the air of the box or the room."""
    if not q.kind.warm:
        return flow
    inside = q.chosen(STANDS, "inside") if q.kind.apart else 1.0
    around = inside * q.air + (1.0 - inside) * q.p[ROOM] if q.kind.apart else q.air
    out = (q.temp - around) / q.p.thermal_resistance * flow.bodies
    rate = (flow.heat - out) / (q.p.heat_capacity * flow.bodies)
    return Flow(
        flow.currents if absent(inside) else {**flow.currents, "air": -inside * out},
        {**flow.rates, "temp": rate},
        flow.heat,
        flow.supplied,
        flow.delivered,
        flow.store,
        {**flow.shown, "temperature [K]": q.temp},
        flow.bodies,
        flow.collapsed,
    )
