"""From the label's watt-hours to those delivered: every step of one run, summing exactly to the difference."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.blame import CONVERTERS
from tideover.answers.packs import curve, figure
from tideover.answers.runs import Runs, label_energy
from tideover.cases import written
from tideover.network import Network, Placed
from tideover.solve import Readings, along, readings

Array = NDArray[np.float64]
PATH = ("cable", "wire", "strip", "track", "connector", "shunt", "switch", "fuse")
GROUPS = (
    "resistance of the cells and their joints",
    "self-discharge of the cells",
    "wires, contacts, fuse and board",
    "diodes",
    "converter",
    "standby of the other parts",
)


@dataclass(frozen=True)
class Step:
    """One step down (or up, where negative) from the label to the load. [J]"""

    name: str
    energy: float
    about: str = ""


@dataclass(frozen=True)
class Waterfall:
    """The whole way.

    Attributes
    ----------
    label, delivered : float
        Capacity times nominal voltage of all cells; what reached the load. [J]
    steps : tuple of Step
        They sum to the difference.
    closed : float
        Losses read along the run over those of the march's own ledger, less 1: how well the two agree.
    """

    label: float
    delivered: float
    steps: tuple[Step, ...]
    closed: float


def waterfall(runs: Runs, case: int) -> Waterfall:
    """Follow the energy of one run that was marched with everything kept.

    Parameters
    ----------
    runs : Runs
        Runs on the pack. [-]
    case : int
        Which. [-]

    Notes
    -----
    The cells' content follows from their states of charge by the exact integral of their curve. Losses are the parts'
    heats integrated over the recorded points, scaled together so that they meet the march's own ledger, which is kept
    to a finer rule than the points allow.
    """
    assert runs.waves is not None
    network, waves, position = runs.network, runs.waves, int(runs.positions[case])
    t, system, inside = along(waves, position)
    read = readings(system, inside)
    volts = waves.case(position).v
    packs = states.of_kind(network, "pack")
    label = sum(label_energy(network, pack) for pack in packs)
    steps: list[Step] = []
    begun = ended = 0.0
    for pack in packs:
        before, first, last = _contents(runs, case, pack, read)
        steps += before
        begun, ended = begun + first, ended + last
    delivered = float(waves.delivered[position])
    heats = losses(network, t, volts, read)
    others = begun - ended + float(waves.stored[position])  # positive: the other parts took energy up
    lost = begun - ended - delivered - others
    raw = sum(heats.values())
    factor = lost / raw if raw > 0.0 else 1.0
    stopped = runs.outcome(case) == 1
    steps.append(
        Step(
            "left in the cells",
            ended,
            "when the load stops" if stopped else "when the count was stopped",
        )
    )
    steps += [Step(name, energy * factor) for name, energy in heats.items() if energy > 0.0]
    steps.append(Step("left in capacitors and slow cell voltages", others))
    return Waterfall(label, delivered, tuple(s for s in steps if abs(s.energy) > 1e-9 * label), factor - 1.0)


def _contents(runs: Runs, case: int, pack: Placed, read: Readings) -> tuple[list[Step], float, float]:
    """Steps from the label to the charge it starts with, and the cells' energy at start and end. [J]"""
    network = runs.network
    f = {
        n: float(figure(network, runs.batch, (pack.name, n))[case])
        for n in ("capacity", "health", "series", "parallel", "cells_per_unit", "capacity_spread")
    }
    law = curve(network, pack)
    unit = f["cells_per_unit"] * f["capacity"] * f["health"] * f["parallel"]

    def area(soc: Any) -> float:
        return float(np.asarray(law.integral(np.array([[float(soc)]])))[0, 0])

    def energy(soc: Any, weak: Any) -> float:
        return unit * ((f["series"] - 1.0) * area(soc) + (1.0 - f["capacity_spread"]) * area(weak))

    label = label_energy(network, pack)
    now = label * float(figure(network, runs.batch, (pack.name, "capacity"))[case]) * f["health"]
    now /= written(network, (pack.name, "capacity"))
    alike = unit * f["series"] * area(1.0)
    charge, weak = read.state[pack.name, "charge"], read.state[pack.name, "weak_charge"]
    begun = energy(charge[0], weak[0])
    steps = [
        Step("capacity below the label", label - now, "health and tolerance of the cells"),
        Step("mean voltage against the label's", now - alike, "negative: the cells give more than nominal volts"),
        Step("weakest group", alike - energy(1.0, 1.0), "spread of capacity between the groups"),
        Step("not charged", energy(1.0, 1.0) - begun, "the charger ends below the cells' own full charge"),
    ]
    return steps, begun, energy(charge[-1], weak[-1])


def losses(network: Network, t: Array, volts: Array, read: Readings) -> dict[str, float]:
    """Heat of all parts by group, integrated over the recorded points. [J]"""
    out = dict.fromkeys(GROUPS, 0.0)
    joule, self_discharge, path, diodes, converter, standby = GROUPS
    for part in network.parts:
        total = _area(t, read.heat[part.name])
        kind = part.kind.name
        if kind == "pack":
            cells = _area(t, read.quantity[part.name, "joule heat [W]"])
            out[joule] += cells
            out[self_discharge] += total - cells
            continue
        idle = _area(t, _idle(part, volts, read))
        out[standby] += idle
        if kind in CONVERTERS:
            out[converter] += total
        elif kind in ("diode", "ideal diode"):
            out[diodes] += total - idle
        elif kind in (*PATH, "relay", "protection board", "load") or (kind == "resistor" and 0 not in part.nodes):
            out[path] += total - idle
        elif kind != "box":
            out[standby] += total
    return out


FEEDS: Mapping[str, tuple[str, str, str]] = {
    "protection board": ("sense plus", "cells", "sense plus"),
    "ideal diode": ("cathode", "minus", "minus"),
    "relay": ("coil plus", "coil minus", "coil plus"),
}
"""What a part takes for itself, by kind: from this terminal to that, and the terminal whose current it is."""


def _idle(part: Placed, volts: Array, read: Readings) -> Array:
    """Power a part takes for itself, beside what its path loses. [W]"""
    if part.kind.name not in FEEDS:
        return np.zeros(len(volts))
    high, low, through = FEEDS[part.kind.name]
    node = dict(zip(part.kind.terminals, part.nodes))
    across = volts[:, node[high]] - volts[:, node[low]]
    return np.abs(across * read.quantity[part.name, f"{through} [A]"])


def _area(t: Array, y: Array) -> float:
    return float(np.sum(0.5 * (y[1:] + y[:-1]) * np.diff(t)))
