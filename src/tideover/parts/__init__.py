"""Part models: one small file per kind, all of them in one explicit table."""

from tideover.parts.adapter import ADAPTER
from tideover.parts.base import TYPICAL, Arc, Flow, Kind, Machine, Parameter, State
from tideover.parts.box import BOX
from tideover.parts.capacitor import CAPACITOR
from tideover.parts.charger import CHARGER
from tideover.parts.conductor import CABLE, CONNECTOR, RESISTOR, SHUNT, STRIP, SWITCH, TRACK, WIRE
from tideover.parts.converter import BOOST, BUCK, BUCK_BOOST, LINEAR
from tideover.parts.diode import DIODE, IDEAL_DIODE
from tideover.parts.fuse import FUSE
from tideover.parts.load import LOAD
from tideover.parts.pack import PACK
from tideover.parts.protection import PROTECTION
from tideover.parts.relay import RELAY

ALL = (
    ADAPTER,
    CABLE,
    WIRE,
    STRIP,
    TRACK,
    CONNECTOR,
    SWITCH,
    SHUNT,
    RESISTOR,
    DIODE,
    IDEAL_DIODE,
    RELAY,
    CAPACITOR,
    BOOST,
    BUCK,
    BUCK_BOOST,
    LINEAR,
    CHARGER,
    PACK,
    PROTECTION,
    FUSE,
    LOAD,
    BOX,
)
KINDS: dict[str, Kind] = {kind.name: kind for kind in ALL}

__all__ = ["ALL", "KINDS", "TYPICAL", "Arc", "Flow", "Kind", "Machine", "Parameter", "State"]
