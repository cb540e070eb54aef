"""What a board sees at its worst: the peak of the load at the converter's lockout, and the converter starting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tideover.answers import states
from tideover.answers.context import Points, Setting
from tideover.answers.loaded import Loaded
from tideover.answers.loops import HIGH, LOW, ends, fed_by, figure
from tideover.answers.rated import CONVERTERS, number
from tideover.cases import nominal, override
from tideover.network import Network, Placed
from tideover.quantity import show

NEVER = 1e3
"""Voltage across a board's switches at which it trips while what it is asked for is looked for. [V]"""
CARRIES = 1e-2
"""Current through a board above which the pack carries a load. [A]"""


@dataclass(frozen=True)
class Draw:
    """Peak current out of a pack: as drawn, and with load and losses at their high limits. [A]"""

    nominal: float
    high: float
    state: str
    said: str


def peak_draw(loaded: Loaded, board: Placed) -> Draw | None:
    """Largest current through a board; None where the pack carries nothing.

    A converter draws its power over its input, most at its lockout; while it starts it also fills its output, within
    the limit of its coil. A start that is over before the board's overload delay does not count.
    """
    context = loaded.context
    found = _emptiest(loaded, board)
    if found is None:
        return None
    points, k = found
    at, amps = points.settings[k], float(points.raw(board.name, "discharge current [A]")[k, 0])
    more = _power_high(context.network)
    rest, usual, worst, said = amps, 0.0, 0.0, []
    for part in _first(context.network):
        drawn = float(points.raw(part.name, "input current [A]")[k, 0])
        pins = dict(zip(part.kind.terminals, part.nodes))
        volts = float(points.raw_v(pins["input"])[k, 0] - points.raw_v(pins["minus"])[k, 0])
        if not np.isfinite(drawn) or drawn <= 1e-3 or drawn > 1.05 * amps:
            continue
        rest -= drawn
        drawn_most, high = _peak(context.network, board, part, drawn * volts, volts, more)
        usual, worst = usual + drawn_most, worst + high
        where = "at its lockout or start" if number(part, "lockout_off") else "nearly empty or starting"
        said.append(f"{part.name} draws {show(drawn_most, 'A')} {where}")
    rest = max(rest, 0.0)
    state = f"{at.label}, down to the lockout" if said else at.label
    words = ", ".join(said) or f"the load draws {show(amps, 'A')}"
    return Draw(usual + rest, worst + more * rest, state, f"{words}, at worst {show(worst + more * rest, 'A')}")


def _peak(
    network: Network, board: Placed, part: Placed, power: float, volts: float, more: float
) -> tuple[float, float]:
    """Input current of a converter at its worst, as drawn and at the high limit of its load. [A]"""
    found = []
    for side, grown in (("", power), (HIGH, more * power)):
        low = LOW if side else ""
        running = within_limit(part, grown / min(figure(part, "lockout_off", low) or volts, volts), side)
        current, lasts = starting(part, grown, volts, _behind(network, part, side), side)
        found.append(max(running, current if lasts >= figure(board, "overload_delay", low) else 0.0))
    return found[0], found[1]


def starting(part: Placed, power: float, volts: float, farads: float, side: str = "") -> tuple[float, float]:
    """Input current of a converter while it starts under load, and how long. [A] [s]

    It fills `farads` to its set voltage within its soft start, or for as long as the limit of its coil makes it.
    """
    on = max(figure(part, "lockout_on", LOW if side else "") or volts, 0.1)
    energy = 0.5 * farads * number(part, "set_voltage") ** 2
    ramp = number(part, "soft_start")
    wanted = (power + 2.0 * energy / ramp) / on
    current = within_limit(part, wanted, side)
    spare = current * on - power
    return current, max(ramp, energy / spare) if spare > 0.0 else np.inf


def within_limit(part: Placed, current: float, side: str) -> float:
    """An input current, held by the coil's limit where the coil lies at the input. [A]"""
    if part.kind.name in ("boost", "buck-boost"):
        return min(current, figure(part, "current_limit", side))
    return current


def _emptiest(loaded: Loaded, board: Placed) -> tuple[Points, int] | None:
    """The emptiest state on the pack in which it carries the heaviest load, the board kept from tripping."""
    context = loaded.context
    never = {(board.name, name): NEVER for name in ("sense_voltage", "short_voltage")}
    level = states.worst_level(context.network)
    settings = [Setting(s, level) for s in reversed(context.states) if s.on_pack]
    if not settings:
        return None
    points = context.points(override(nominal(context.network), never), settings, fresh=True)
    amps = points.raw(board.name, "discharge current [A]")[:, 0]
    carried = np.flatnonzero(np.isfinite(amps) & (amps > CARRIES))
    return (points, int(carried[0])) if len(carried) else None


def _power_high(network: Network) -> float:
    """Largest over written power of the loads. [-]"""
    loads = [p for p in states.of_kind(network, "load") if number(p, "power") > 0.0]
    return max((figure(p, "power", HIGH) / number(p, "power") for p in loads), default=1.0)


def _first(network: Network) -> list[Placed]:
    """Converters that no other converter feeds."""
    every = states.of_kind(network, *CONVERTERS)
    fed: set[int] = set()
    for part in every:
        pins = dict(zip(part.kind.terminals, part.nodes))
        fed.add(pins["output"])
        fed |= {n for p in fed_by(network, part, "output") for n in ends(p)}
    return [p for p in every if p.nodes[p.kind.terminals.index("input")] not in fed - {0}]


def _behind(network: Network, part: Placed, side: str) -> float:
    """Capacitance that a converter fills when it starts. [F]"""
    pins = dict(zip(part.kind.terminals, part.nodes))
    nodes = {pins["output"]} | {n for p in fed_by(network, part, "output") for n in ends(p)}
    total = figure(part, "output_capacitance", side)
    for other in states.of_kind(network, "capacitor", "load"):
        if other.nodes[0] in nodes - {0}:
            total += figure(other, "capacitance", side)
    return total
