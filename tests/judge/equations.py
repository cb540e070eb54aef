"""The parts once more, written apart: scalar arithmetic from what each model states, for an independent solver.

Nothing of the part models or of the laws is used here, only constants of nature and the published table of
open-circuit voltages. A part is ``make(kind, parameters)``: an object with named states, with discrete states and the
ways out of each, and with ``flows(v, x, m, s, temp, air)``, which gives the current into every terminal, the rate of
every state and the heat.
"""


from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from .bench import Part
from .passives import Box, Capacitor, Conductor, Diode, Fuse, IdealDiode, Load, Relay, Switch
from .sources import Adapter, Charger, Converter, Pack, Protection

OHMIC = ("cable", "wire", "strip", "track", "connector", "resistor", "shunt")
CONVERTERS = ("boost", "buck", "buck-boost", "linear regulator")
OTHERS: dict[str, type[Part]] = {
    "switch": Switch,
    "diode": Diode,
    "ideal diode": IdealDiode,
    "relay": Relay,
    "capacitor": Capacitor,
    "adapter": Adapter,
    "charger": Charger,
    "protection board": Protection,
    "fuse": Fuse,
    "load": Load,
    "box": Box,
}


def make(kind: str, parameters: dict[str, float], own: Any = None) -> Part:
    """The judge's own model of a part; `own` are a pack's own cells, as a table over charge."""
    p = SimpleNamespace(**parameters)
    if kind in OHMIC:
        return Conductor(kind, p)
    if kind in CONVERTERS:
        return Converter(kind, p)
    if kind == "pack":
        return Pack(p, own)
    return OTHERS[kind](p)
