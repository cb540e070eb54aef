"""A few kinds and a small shelf, enough to read a build file against; and a good build file."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import Any

from tideover.parts.base import Flow, Kind, Parameter, word
from tideover.quantity import parse

GOOD = """\
tideover: 1
title: Choir loft lamp
need:
  at: load
  window: 11.4 V to 12.6 V
  dips: [10.5 V for 5 ms, 9 V for 500 us]
  runtime: 8 h
  recharge: 14 h
  ambient: 0 °C to 40 °C
  outages: 6 per year, lognormal median 52 min spread 1.3
  policy: usual
parts:
  brick: 19 V 3.4 A adapter     # from the shelf
  lead: {kind: cable, section: 0.75 mm², length: 2 m}
  mains diode: {kind: diode}
  charger: {from: buck charger 12.6 V 2 A, charge current: 1.2 A ±5 %}
  pack: {cells: high drain cell 2.5 Ah, series: 3, parallel: 4}
  board: {kind: protection board, cut-off: 2.7 V}
  pack fuse: {kind: fuse, rating: 7.5 A}
  relay: {kind: relay, coil voltage: 12 V}
  hold-up: {kind: capacitor, capacitance: 2.2 mF ±20 %, ESR: 35 mΩ -50/+0 %}
  converter: {kind: converter, set voltage: 12.05 V ±1 %, lockout: {off: 9.0 V, on: 9.6 V}}
  lamp: {kind: load, power: 13.2 W, peak: 21.6 W for 40 ms every 10 s, law: current}
joins:
  - brick > lead > (inlet)
  - (inlet) > mains diode > (bus)
  - (inlet) > charger > (pack plus)
  - (pack plus) > pack > (pack minus) > board > (return)
  - (pack plus) > pack fuse > relay.back
  - relay.common > (bus)
  - (inlet) > relay.coil plus
  - (bus) > hold-up
  - (bus) > converter > (load) > lamp
box: {inside: 200 × 150 × 80 mm, wall: ABS 2.5 mm, vents: 6 cm² low and 6 cm² high}
"""


def _nothing(q: Any) -> Flow:
    return Flow({})


def _kind(name: str, terminals: str, through: str, *parameters: Parameter, **more: Any) -> Kind:
    ends = tuple(through.split("|")) if through else None
    return Kind(name, f"a {name}", tuple(terminals.split("|")), ends, parameters, _nothing, **more)  # type: ignore[arg-type]


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        _kind(
            "adapter",
            "plus|minus",
            "minus|plus",
            Parameter("voltage", "V", 1.0, 60.0, None, "no-load output voltage"),
            Parameter("rated current", "A", 0.05, 50.0, None, "on the label"),
        ),
        _kind(
            "cable",
            "a|b",
            "a|b",
            Parameter("section", "m^2", 1e-9, 1e-3, None, "of one core"),
            Parameter("length", "m", 1e-4, 1000.0, None, "one way"),
            Parameter("cores", "", 1, 4, 2, "one after the other"),
        ),
        _kind("wire", "a|b", "a|b", Parameter("length", "m", 1e-4, 1000.0, None, "one way")),
        _kind(
            "diode",
            "anode|cathode",
            "anode|cathode",
            Parameter("drop", "V", 0.0, 2.0, 0.4, "at 1 A", "tables"),
        ),
        _kind(
            "charger",
            "input|output|minus",
            "input|output",
            Parameter("hold voltage", "V", 1.0, 60.0, None, "constant-voltage setting"),
            Parameter("charge current", "A", 1e-3, 50.0, None, "constant-current setting"),
        ),
        _kind(
            "pack",
            "plus|minus|tap",
            "plus|minus",
            Parameter("series", "", 1, 20, None, "groups in series"),
            Parameter("parallel", "", 1, 100, 1, "cells side by side"),
            Parameter("capacity", "C", 180.0, 180000.0, None, "of one cell"),
            Parameter("health", "", 0.2, 1.0, 1.0, "capacity now over stated capacity"),
        ),
        _kind(
            "protection board",
            "cells|out|sense plus|sense tap",
            "cells|out",
            Parameter("cut-off", "V", 0.5, 5.0, None, "group voltage"),
            senses="pack",
        ),
        _kind("fuse", "a|b", "a|b", Parameter("rating", "A", 0.01, 200.0, None, "rated current")),
        _kind(
            "relay",
            "coil plus|coil minus|common|front|back",
            "",
            Parameter("coil voltage", "V", 1.0, 60.0, None, "nominal"),
            optional=frozenset({"front", "back"}),
        ),
        _kind(
            "capacitor",
            "plus|minus",
            "plus|minus",
            Parameter("capacitance", "F", 1e-12, 1000.0, None, "effective"),
            Parameter("ESR", "ohm", 0.0, 100.0, 0.05, "series resistance"),
        ),
        _kind(
            "converter",
            "input|output|minus",
            "input|output",
            Parameter("set voltage", "V", 0.5, 60.0, None, "regulated output"),
            Parameter("lockout off", "V", 0.0, 60.0, 0.0, "input below which it stops"),
            Parameter("lockout on", "V", 0.0, 60.0, 0.0, "input above which it starts again"),
            Parameter("efficiency", "", 0.3, 1.0, 0.9, "at full load"),
        ),
        _kind(
            "load",
            "plus|minus",
            "plus|minus",
            Parameter("power", "W", 0.0, 2000.0, None, "mean"),
            word("law", ("power", "current", "resistance"), "power", "how the current follows the voltage"),
            Parameter("peak power", "W", 0.0, 5000.0, 0.0, "largest"),
            Parameter("peak duration", "s", 0.0, 86400.0, 0.1, "of one peak"),
            Parameter("peak interval", "s", 0.0, 1e6, 10.0, "from peak to peak"),
        ),
        _kind(
            "box",
            "air",
            "",
            Parameter("width", "m", 0.01, 3.0, 0.15, "inside"),
            Parameter("depth", "m", 0.01, 3.0, 0.10, "inside"),
            Parameter("height", "m", 0.01, 3.0, 0.05, "inside"),
            Parameter("wall", "m", 1e-4, 0.05, 0.0025, "thickness"),
            Parameter("wall conductivity", "W/(m K)", 0.02, 500.0, 0.2, "of the wall"),
            Parameter("emissivity", "", 0.02, 1.0, 0.9, "of the wall"),
            Parameter("vent area", "m^2", 0.0, 1.0, 0.0, "open area low, and as much high"),
            Parameter("ambient", "K", 200.0, 360.0, 298.15, "of the room"),
        ),
    )
}


@dataclass(frozen=True)
class Item:
    name: str
    kind: str
    values: dict[str, Any]
    source: str = "typical, unverified"


class Shelf:
    """Finds by exact name, whatever its case."""

    items = (
        Item("19 V 3.4 A adapter", "adapter", {"voltage": parse("19 V ±5 %", "V"), "rated_current": 3.4}),
        Item("buck charger 12.6 V 2 A", "charger", {"hold_voltage": "12.6 V ±1 %", "charge_current": "2 A"}),
        Item(
            "high drain cell 2.5 Ah", "cell", {"capacity": "2.5 Ah -5/+2 %", "parallel": 1}, "published test"
        ),
        Item("plastic box, small", "box", {"width": 0.1, "depth": 0.06, "height": 0.03}),
    )

    def find(self, text: str) -> Item | None:
        return next(
            (item for item in self.items if item.name.lower() == " ".join(text.lower().split())), None
        )

    def nearest(self, text: str, n: int) -> list[str]:
        names = [item.name for item in self.items]
        return sorted(names, key=lambda name: -difflib.SequenceMatcher(None, name, text).ratio())[:n]


SHELF = Shelf()
