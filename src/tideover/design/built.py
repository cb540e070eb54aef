"""A pack of known cells as the values of the pack that is computed: common groups, and one that is the weakest.

The weakest group is given the least capacity and the most resistance found in any group, even where these are not of
the same one: what the protection board sees is then never better than in the pack as built.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tideover.design.cell_model import BuiltPack
from tideover.design.model import Value
from tideover.laws.cells import rc_step
from tideover.parts.base import Kind
from tideover.quantity import Quantity, show

SECONDS = {"DC 1 s": 1.0, "DC 10 s": 10.0}
"""When the resistance of a method is read after a step of current. [s]"""


def figures(pack: BuiltPack, kind: Kind) -> tuple[dict[str, Value], dict[str, str]]:
    """Values of a pack, and where they come from.

    Parameters
    ----------
    pack : BuiltPack
        As read.
    kind : Kind
        The pack.

    Returns
    -------
    values, origins : dict
        By Python name of the parameter: those of the cells it has in common, and what follows from each cell's own.
    """
    out, said = dict(pack.cell.values), dict(pack.cell.origins)
    sums = np.array([[c.capacity.nominal for c in group] for group in pack.groups]).sum(axis=1)
    weakest = int(np.argmin(sums))
    others = np.delete(sums, weakest) if len(sums) > 1 else sums
    mean = float(others.mean())
    errors = [(c.capacity.high - c.capacity.low) / 2.0 for group in pack.groups for c in group]
    share = float(np.sqrt(np.sum(np.square(errors))) / sums.sum())
    out["series"], out["parallel"] = _count(pack.series), _count(pack.parallel)
    out["capacity"] = _within(mean / pack.parallel, share, "C")
    out["capacity_spread"] = _within(float(1.0 - sums[weakest] / mean), 0.0, "")
    own = growths(pack)
    if own is not None:
        conductance = np.array([np.sum(1.0 / np.array(group)) for group in own])
        group = pack.parallel / conductance  # growth of a cell of the same resistance as the group's
        worst = int(np.argmax(group))
        rest = np.delete(group, worst) if len(group) > 1 else group
        out["growth"] = _within(float(rest.mean()), _resistance_share(pack), "")
        out["resistance_spread"] = _within(max(float(group[worst] / rest.mean() - 1.0), 0.0), 0.0, "")
    else:
        out["resistance_spread"] = _within(0.0, 0.0, "")
    if pack.strip is not None:
        from tideover.design import welded  # which asks here for the growth of each cell

        out["joint_resistance"] = welded.joint(pack, kind)
        said["joint_resistance"] = f"{pack.file}: strips of {pack.strip.along.name} and welds of {pack.strip.weld}"
    for name in ("series", "parallel", "capacity", "capacity_spread", "growth", "resistance_spread"):
        if name in out:
            said[name] = pack.file
    out["health"] = _within(1.0, 0.0, "")
    said["health"] = f"{pack.file}: capacities are measured"
    return out, said


@dataclass(frozen=True)
class Missing:
    """A pack as it is when one of its cells has dropped out.

    Attributes
    ----------
    id, group : str, int
        Of the cell, and which group it stood in, from 1.
    left : float
        Capacity of its group then. [C]
    values : dict of str to float
        Of the pack, by Python name: the other groups are the common ones, and this one the weakest.
    """

    id: str
    group: int
    left: float
    values: dict[str, float]


def without(pack: BuiltPack) -> tuple[Missing, ...]:
    """What is left when each cell in turn drops out, those that cost most first.

    Parameters
    ----------
    pack : BuiltPack
        With two cells or more side by side; of one alone nothing would be left.
    """
    if pack.parallel < 2:
        return ()
    sums = np.array([sum(c.capacity.nominal for c in group) for group in pack.groups])
    own = growths(pack) or [[1.0] * pack.parallel for _ in pack.groups]
    conductance = np.array([np.sum(1.0 / np.array(group)) for group in own])
    found = []
    for g, group in enumerate(pack.groups):
        others = [k for k in range(pack.series) if k != g] or [g]
        for k, cell in enumerate(group):
            left = float(sums[g] - cell.capacity.nominal)
            usual = float((pack.parallel / conductance[others]).mean())
            more = pack.parallel / (conductance[g] - 1.0 / own[g][k]) / usual - 1.0
            values = {
                "capacity": float(sums[others].mean()) / pack.parallel,
                "growth": usual,
                "capacity_spread": 1.0 - left / float(sums[others].mean()),
                "resistance_spread": max(float(more), 0.0),
            }
            found.append(Missing(cell.id, g + 1, left, values))
    return tuple(sorted(found, key=lambda m: m.left))


def growths(pack: BuiltPack) -> list[list[float]] | None:
    """Resistance of each cell over that of the cell they have in common; None where nothing was measured.

    A step's drop after one or ten seconds is compared with what the common cell drops by then. An impedance at one
    kilohertz is compared with the others' alone: it says which cell has more, not how much there is.
    """
    cells = [c for group in pack.groups for c in group]
    if any(c.resistance is None for c in cells):
        return None
    method = cells[0].method
    measured = [[c.resistance.nominal for c in group if c.resistance] for group in pack.groups]
    if method in SECONDS:
        level = step_resistance(pack, SECONDS[method])
    else:
        level = float(np.mean([r for group in measured for r in group]))
    return [[r / level for r in group] for group in measured]


def step_resistance(pack: BuiltPack, t: float) -> float:
    """Drop per ampere of the common cell at half charge and 25 °C, some time after a step. [ohm]"""
    own = {name: value.nominal for name, value in pack.cell.values.items() if isinstance(value, Quantity)}
    ohms = own["resistance"]
    for pair in ("fast", "slow"):
        if f"{pair}_resistance" in own and f"{pair}_capacitance" in own:
            r = own[f"{pair}_resistance"]
            ohms += float(rc_step(0.0, 1.0, r, r * own[f"{pair}_capacitance"], t))
    return ohms


def _resistance_share(pack: BuiltPack) -> float:
    """Uncertainty of the mean resistance, as a share."""
    cells = [c.resistance for group in pack.groups for c in group if c.resistance]
    errors = [(r.high - r.low) / 2.0 / r.nominal for r in cells]
    return float(np.sqrt(np.sum(np.square(errors))) / len(cells))


def _count(n: int) -> Quantity:
    return Quantity(float(n), float(n), float(n), "", str(n))


def _within(value: float, share: float, unit: str) -> Quantity:
    low, high = value * (1.0 - share), value * (1.0 + share)
    text = show(value, unit) + (f" ±{100 * share:.2g} %" if share else "")
    return Quantity(value, low, high, unit, text)
