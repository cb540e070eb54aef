"""How warm each kind of part, the cells and a surface that is touched may be: each limit once, with its source.

A part fails above what it bears. It is tight above the same less a margin, the usual derating, because the temperature
computed is the mean of one body with one path to the air.
"""

from __future__ import annotations

from dataclasses import dataclass

from tideover.answers import states
from tideover.answers.limits import JUDGEMENT, TYPICAL, Rule
from tideover.answers.packs import charger_of
from tideover.cases import written
from tideover.laws.constants import ICE
from tideover.network import Network, Placed

CLAUSE = "IEC 62368-1 clause 9, TS1, measured in a room at 25 °C and not rescaled"
JUNCTION_RATED = "the part's own largest junction temperature"


def _rule(degrees: float, reason: str, source: str = TYPICAL) -> Rule:
    return Rule(degrees + ICE, "K", reason, source)


WIRE_WARM = _rule(70.0, "ordinary PVC insulation")
STRIP_WARM = _rule(70.0, "the wrap and the paper rings that a strip lies on")
TRACK_WARM = _rule(105.0, "an ordinary circuit board")
CONTACT_WARM = _rule(85.0, "the plastic of ordinary connectors, switches and fuse holders")
RELAY_WARM = _rule(105.0, "enamel of a coil, insulation class A")
RESISTOR_WARM = _rule(155.0, "a film resistor, where its rating has fallen to nothing")
CAPACITOR_WARM = _rule(105.0, "an aluminium electrolytic of the better class; many are made for 85 °C")
BOARD_WARM = _rule(85.0, "a protection board")
PLASTIC_WARM = _rule(70.0, "the air inside a box of ordinary plastic: where it begins to soften")
METAL_WARM = _rule(85.0, "the air inside a metal box: what most ready-made boards are made for")
BY_KIND: dict[str, tuple[Rule, float]] = {
    "cable": (WIRE_WARM, 10.0),
    "wire": (WIRE_WARM, 10.0),
    "strip": (STRIP_WARM, 10.0),
    "track": (TRACK_WARM, 20.0),
    "connector": (CONTACT_WARM, 20.0),
    "switch": (CONTACT_WARM, 20.0),
    "fuse": (CONTACT_WARM, 20.0),
    "relay": (RELAY_WARM, 20.0),
    "resistor": (RESISTOR_WARM, 30.0),
    "shunt": (RESISTOR_WARM, 30.0),
    "capacitor": (CAPACITOR_WARM, 15.0),
    "protection board": (BOARD_WARM, 15.0),
}
"""What a kind bears where the build file states nothing, and by how many kelvin less is asked."""
JUNCTION_MARGIN = Rule(25.0, "K", "below the largest junction temperature of diodes and transistors", TYPICAL)
CIRCUIT_MARGIN = Rule(20.0, "K", "below the largest junction temperature of regulators and chargers", TYPICAL)
CELL_MARGIN = Rule(5.0, "K", "below the warmest temperature of the cells: one cell is warmer than their mean")
CELL_KEPT = _rule(45.0, "full cells that stand for months: they age twice as fast for each 10 K", TYPICAL)
AIR_MARGIN = Rule(10.0, "K", "the air under the lid is warmer than the mean")
FOLDED = Rule(0.95, "", "share of its cold current below which heat counts as holding a charger back")
VENTED = Rule(0.01, "", "share of the surface of a box from which on openings begin to do something", TYPICAL)
METAL_FROM = Rule(5.0, "W/(m K)", "conductivity from which on a wall counts as metal to the touch")
TOUCH_MARGIN = Rule(5.0, "K", "below the limit of touch: walls are hotter near a hot part")
TOUCH_ROOM = Rule(25.0 + ICE, "K", "the room in which surfaces are judged", CLAUSE)

TOUCHED: dict[str, dict[str, Rule]] = {
    "held for more than a minute": {
        "metal": _rule(48.0, "held", f"{CLAUSE}; metal {TYPICAL}"),
        "plastic": _rule(48.0, "held", CLAUSE),
    },
    "held for up to a minute": {
        "metal": _rule(51.0, "held", f"{CLAUSE}; {TYPICAL}"),
        "plastic": _rule(60.0, "held", f"{CLAUSE}; {TYPICAL}"),
    },
    "touched for up to 10 s": {
        "metal": _rule(60.0, "touched", f"{CLAUSE}; metal {TYPICAL}"),
        "plastic": _rule(77.0, "touched", CLAUSE),
    },
    "touched by chance": {
        "metal": _rule(70.0, "brushed against", f"{CLAUSE}; metal {TYPICAL}"),
        "plastic": _rule(94.0, "brushed against", CLAUSE),
    },
}
"""How hot a surface may be by how it is touched and what it is of."""
USUAL_TOUCH = "touched for up to 10 s"
"""A box that stands on a shelf, a plug that is pulled."""


@dataclass(frozen=True)
class Limit:
    """What something bears.

    Attributes
    ----------
    hard : float
        Above it fails. [K]
    screen : float
        Above it is tight. [K]
    words, source : str
        What the limit is; where it comes from.
    """

    hard: float
    screen: float
    words: str
    source: str


def of_part(network: Network, part: Placed, state: str) -> Limit | None:
    """What a part bears in a standing state; None for an adapter and a load, whose makers answer for their inside."""
    kind = part.kind
    if kind.name == "pack":
        return _cells(network, part, state)
    if any(p.key == "largest junction temperature" for p in kind.parameters):
        rule = JUNCTION_MARGIN if kind.name in ("diode", "ideal diode") else CIRCUIT_MARGIN
        hard = written(network, (part.name, "largest_junction_temperature"))
        return Limit(hard, hard - rule.value, JUNCTION_RATED, f"{JUNCTION_RATED}; {rule.value:g} K {rule.reason}")
    if kind.name not in BY_KIND:
        return None
    warm, margin = BY_KIND[kind.name]
    return Limit(warm.value, warm.value - margin, warm.reason, f"{warm.reason}: {warm.source}; {margin:g} K less asked")


def _cells(network: Network, pack: Placed, state: str) -> Limit:
    """Charging, on float, standing full without float, discharging."""
    charge, use = (written(network, (pack.name, n)) for n in ("warmest_charge", "warmest_discharge"))
    charger = charger_of(network, pack)
    floats = charger is not None and written(network, (charger.name, "float_voltage")) > 0.0
    if state == states.CHARGING or (state == states.MAINS_FULL and floats):
        words = "the warmest at which these cells may be charged"
        return Limit(charge, charge - CELL_MARGIN.value, words, f"warmest charge of the pack; {CELL_MARGIN.reason}")
    if state == states.MAINS_FULL:
        words = "the warmest these cells bear; full cells are better kept below " + f"{CELL_KEPT.value - ICE:.0f} °C"
        return Limit(use, min(CELL_KEPT.value, use), words, f"{CELL_KEPT.reason}; {CELL_KEPT.source}")
    words = "the warmest at which these cells may be discharged"
    return Limit(use, use - CELL_MARGIN.value, words, f"warmest discharge of the pack; {CELL_MARGIN.reason}")


def material(network: Network) -> str:
    """``metal`` or ``plastic``, by how well the wall of the box conducts."""
    return "metal" if written(network, ("box", "wall_conductivity")) > METAL_FROM.value else "plastic"


def of_air(network: Network) -> Limit:
    """What the air in the box may be for the box's own sake."""
    rule = METAL_WARM if material(network) == "metal" else PLASTIC_WARM
    return Limit(rule.value, rule.value - AIR_MARGIN.value, rule.reason, f"{rule.source}; {JUDGEMENT}")


def outside(network: Network, part: Placed) -> bool:
    """Whether a part stands outside the box."""
    if not part.kind.apart:
        return False
    return part.kind.parameter("stands").choices[int(written(network, (part.name, "stands")))] == "outside"
