"""A pack with its strips and welds as numbers: its network, what the joints add, and what a lost weld costs.

A pack whose strips nobody described is computed with strips and welds that have no resistance.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tideover.design.built import growths
from tideover.design.cell_model import BuiltPack
from tideover.design.strip_layout import ALONG, Geometry, StripLayout, geometry
from tideover.laws.conductors import bar_resistance, resistance_at
from tideover.laws.constants import TEMP_25
from tideover.laws.strips import StripNetwork, joint_resistance
from tideover.parts.base import Kind
from tideover.quantity import Quantity, exact, show

LOW, NOMINAL, HIGH = "low", "nominal", "high"
"""Every strip and weld at its least, as stated, or at its most resistance."""


@dataclass(frozen=True)
class LostWeld:
    """A cell that no longer takes part because a weld of it is open.

    Attributes
    ----------
    id : str
        Of the cell.
    group : int
        From 1.
    capacity : float
        What its group has left, of all its cells together. [C]
    lost : float
        What its group lost, as a share. [-]
    growth : float
        Resistance of its group, with joints, over that before; infinite when the group is open. [-]
    largest : float
        Share of the most loaded cell that is left in the group, over the mean of the intact group. [-]
    joint : float
        What strips and welds then add for each group in series. [ohm]
    """

    id: str
    group: int
    capacity: float
    lost: float
    growth: float
    largest: float
    joint: float = 0.0


def place(pack: BuiltPack) -> Geometry:
    """Everything of a pack in its place, strips included.

    Parameters
    ----------
    pack : BuiltPack
        As read; with no strips described, its cells stand as is usual.

    Returns
    -------
    geometry : Geometry
        In metres.
    """
    return geometry(layout(pack), [[c.id for c in group] for group in pack.groups])


def layout(pack: BuiltPack) -> StripLayout:
    """The strips described, or in their place ones that have next to no resistance."""
    if pack.strip is not None:
        return pack.strip
    from tideover.design.model import Place
    from tideover.design.source import Scalar
    from tideover.design.strips import read
    from tideover.shelf import find

    usual = read(Scalar("nickel strip 8 × 0.15 mm", Place(""), 0, 0), pack.parallel, find, lambda fault: None)
    assert usual is not None
    none = replace(usual.along, name="no strips described", resistivity=exact(0.0, "ohm m"), source="")
    return replace(usual, along=none, across=none, weld=exact(0.0, "ohm"))


def segment_resistance(layout: StripLayout, where: Geometry, corner: str = NOMINAL, temp: float = TEMP_25) -> Any:
    """Resistance of every segment, shape (n_segments,). [ohm]"""
    least, most = (LOW, HIGH) if corner == LOW else (HIGH, LOW) if corner == HIGH else (NOMINAL, NOMINAL)
    out = []
    for s in where.segments:
        strip = layout.along if s.kind == ALONG else layout.across
        rho, width, thick = (
            getattr(strip.resistivity, least),
            getattr(strip.width, most),
            getattr(strip.thickness, most),
        )
        r_20 = bar_resistance(s.length, width, thick * s.layers, rho)
        out.append(resistance_at(r_20, temp, strip.tempco.nominal))
    return np.array(out)


def network(pack: BuiltPack, corner: str = NOMINAL, temp: float = TEMP_25) -> StripNetwork:
    """The strips of a pack as a network.

    Parameters
    ----------
    pack : BuiltPack
        As read.
    corner : str
        ``low``, ``nominal`` or ``high`` resistance of everything.
    temp : float
        Of the strips. [K]

    Returns
    -------
    network : StripNetwork
        Cells in the order of `place`, which is that of the groups.
    """
    plan, where = layout(pack), place(pack)
    ohms = segment_resistance(plan, where, corner, temp)
    ends = [(s.a, s.b) for s in where.segments]
    return StripNetwork.of(len(where.cells), ends, ohms, where.plus.nodes, where.minus.nodes)


def weld_resistance(pack: BuiltPack, corner: str = NOMINAL) -> float:
    """Of both ends of one cell together. [ohm]"""
    return 2.0 * float(getattr(layout(pack).weld, corner))


def cell_resistances(pack: BuiltPack, kind: Kind) -> Any:
    """Resistance of each cell under a load of an hour, at half charge and 25 °C, shape (n,). [ohm]"""
    total = sum(number(pack, kind, name) for name in ("resistance", "fast_resistance", "slow_resistance"))
    return total * cell_growths(pack, kind)


def cell_growths(pack: BuiltPack, kind: Kind) -> Any:
    """Resistance of each cell over that of the common one, shape (n,). [-]"""
    own = growths(pack)
    if own is None:
        return np.full(pack.series * pack.parallel, number(pack, kind, "growth"))
    return np.array(own, dtype=float).ravel()


def number(pack: BuiltPack, kind: Kind, name: str) -> float:
    """A value of the common cell, or the pack's default."""
    value = pack.cell.values.get(name)
    if value is None:
        p = kind.parameter(name)
        return float(p.choices.index(str(p.default)) if p.unit == "word" else p.default or 0.0)
    return value.nominal if isinstance(value, Quantity) else float(value)


def joint(pack: BuiltPack, kind: Kind) -> Quantity:
    """What strips and welds add for each group in series, with the spread of strips and welds.

    Parameters
    ----------
    pack : BuiltPack
        With its strips described.
    kind : Kind
        The pack, for what the cell's file leaves out.

    Returns
    -------
    r : Quantity
        At 25 °C; what unequal sharing costs is part of it. [ohm]
    """
    cells = cell_resistances(pack, kind)
    low, nominal, high = (
        max(float(joint_resistance(network(pack, corner), cells, weld_resistance(pack, corner), pack.series)), 0.0)
        for corner in (LOW, NOMINAL, HIGH)
    )
    return Quantity(nominal, low, high, "ohm", f"{show(nominal, 'ohm')} ({show(low, 'ohm')} to {show(high, 'ohm')})")


def losses_of_a_weld(pack: BuiltPack, kind: Kind) -> tuple[LostWeld, ...]:
    """What is left of the pack when one cell is lost, for every cell.

    Parameters
    ----------
    pack : BuiltPack
        As read.
    kind : Kind
        The pack, for what the cell's file leaves out.

    Returns
    -------
    losses : tuple of LostWeld
        In the order of the groups.
    """
    own = np.array([[c.capacity.nominal for c in group] for group in pack.groups])
    ids = [c.id for group in pack.groups for c in group]
    s, p = own.shape
    if p == 1:
        return tuple(LostWeld(id, k + 1, 0.0, 1.0, float("inf"), 0.0) for k, id in enumerate(ids))
    strips, cells = network(pack), cell_resistances(pack, kind)
    lost = np.tile(cells, (s * p, 1))
    lost[np.arange(s * p), np.arange(s * p)] = np.inf
    weld = weld_resistance(pack)
    ocv = np.zeros(s * p)
    *_, whole = strips.line(ocv, cells + weld)
    _, shares, _, r = strips.line(ocv, lost + weld)
    joints = float(joint_resistance(strips, cells, weld, s))
    alone = 1.0 / np.sum(1.0 / cells.reshape(s, p), axis=1)
    group = alone + joints
    out = []
    for k, id in enumerate(ids):
        g = k // p
        left = float(own[g].sum() - own.ravel()[k])
        largest = p * float(np.max(shares[k].reshape(s, p)[g]))
        growth = float((group[g] + r[k] - whole) / group[g])
        rest = alone.sum() - alone[g] + 1.0 / (1.0 / alone[g] - 1.0 / cells[k])
        joint = max(float(r[k] - rest) / s, 0.0)
        out.append(LostWeld(id, g + 1, left, float(own.ravel()[k] / own[g].sum()), growth, largest, joint))
    return tuple(out)


def worst_losses(pack: BuiltPack, kind: Kind) -> dict[str, tuple[LostWeld, tuple[str, ...]]]:
    """Cells whose loss costs most in one way or another, by id, each with the ways.

    Parameters
    ----------
    pack : BuiltPack
        As read, with two cells or more side by side.
    kind : Kind
        The pack, for what the cell's file leaves out.

    Returns
    -------
    worst : dict of str to (LostWeld, tuple of str)
        The one that leaves its group least charge; most resistance, strips and welds counted; and a neighbour with the
        largest share. From one cell, if it is all of these, to three.
    """
    losses = losses_of_a_weld(pack, kind)
    ways = {
        "charge": min(losses, key=lambda w: w.capacity),
        "resistance": max(losses, key=lambda w: round(w.growth, 9)),
        "sharing": max(losses, key=lambda w: (round(w.largest, 9), w.growth)),  # two cells side by side: always 2
    }
    out: dict[str, tuple[LostWeld, tuple[str, ...]]] = {}
    for way, lost in ways.items():
        out[lost.id] = (lost, (*out.get(lost.id, (lost, ()))[1], way))
    return out
