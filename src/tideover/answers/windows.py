"""The limits of a pack's cells: what build file or shelf states prevails, the chemistry stands in for the rest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers.packs import chemistry
from tideover.cases import written
from tideover.design import welded
from tideover.design.built import growths
from tideover.design.cell_model import BuiltPack
from tideover.laws.chemistry import CHEMISTRY
from tideover.laws.sharing import parallel_currents
from tideover.network import Network, Placed
from tideover.parts import KINDS
from tideover.quantity import Quantity

Array = NDArray[np.float64]
UNRATED = 1000.0
"""A current rating that means that none is stated. [A]"""


@dataclass(frozen=True)
class Window:
    """Limits of one unit (one cell; a block of lead-acid) and of its temperature.

    Attributes
    ----------
    highest, absolute : float
        Charging: never to be planned above; never to be passed. [V]
    standby : float
        To be held at for years. [V]
    in_use, lowest, borne : float
        Discharging, under load: planned for; never to be passed; borne once, by the chemistry. [V]
    coldest_charge, warmest_charge, coldest_discharge, warmest_discharge : float
        Of the cells. [K]
    charge_rating, discharge_rating : float
        Of one cell, infinite where none is stated. [A]
    capacity : float
        Of one cell. [C]
    units : float
        In series.
    cells : float
        In one unit.
    stated : frozenset of str
        Which figures are the build's own or the shelf's.
    source : str
        Of the others.
    """

    highest: float
    absolute: float
    standby: float
    in_use: float
    lowest: float
    borne: float
    coldest_charge: float
    warmest_charge: float
    coldest_discharge: float
    warmest_discharge: float
    charge_rating: float
    discharge_rating: float
    capacity: float
    units: float
    cells: float
    stated: frozenset[str]
    source: str

    def origin(self, *names: str) -> str:
        """Where a limit comes from, in words."""
        return "limit stated with the cells" if self.stated.issuperset(names) else self.source


def window(network: Network, pack: Placed) -> Window:
    """Limits of a pack's cells."""
    own = CHEMISTRY[chemistry(network, pack)]
    origins = network.design.parts[pack.name].origins

    def value(name: str) -> float:
        return written(network, (pack.name, name))

    names = (
        "highest_voltage",
        "lowest_voltage",
        "coldest_charge",
        "warmest_charge",
        "coldest_discharge",
        "warmest_discharge",
        "charge_rating",
        "discharge_rating",
    )
    stated = frozenset(n for n in names if not origins.get(n, "default").startswith("default"))
    cells = value("cells_per_unit")
    highest = value("highest_voltage") if "highest_voltage" in stated else cells * own.charge_max
    lowest = value("lowest_voltage") if "lowest_voltage" in stated else cells * own.discharge_abs
    beyond = max(highest - cells * own.charge_max, 0.0)

    def kelvin(name: str, usual: float) -> float:
        return value(name) if name in stated else usual

    def rating(name: str) -> float:
        return value(name) if value(name) < UNRATED else float("inf")

    return Window(
        highest=highest,
        absolute=cells * own.charge_abs + beyond,
        standby=min(cells * own.standby_max + beyond, highest),
        in_use=max(cells * own.discharge_min, lowest),
        lowest=lowest,
        borne=min(lowest, cells * own.discharge_abs),
        coldest_charge=kelvin("coldest_charge", own.charge_coldest),
        warmest_charge=kelvin("warmest_charge", own.charge_warmest),
        coldest_discharge=kelvin("coldest_discharge", own.discharge_coldest),
        warmest_discharge=kelvin("warmest_discharge", own.discharge_warmest),
        charge_rating=rating("charge_rating"),
        discharge_rating=rating("discharge_rating"),
        capacity=value("capacity"),
        units=value("series"),
        cells=cells,
        stated=stated,
        source=own.source,
    )


def shares(beside: int, ratio: float) -> tuple[float, float]:
    """Currents of cells side by side, one of them with another resistance, over the mean.

    Parameters
    ----------
    beside : int
        Cells in the group. [-]
    ratio : float
        Resistance of that one over that of the others. [-]

    Returns
    -------
    odd, others : float
        Of that one and of each of the others. [-]

    Examples
    --------
    >>> odd, others = shares(4, 1.2)
    >>> print(f"{odd:.2f} {others:.2f}")
    0.87 1.04
    """
    currents = parallel_currents(np.zeros(beside), np.array([ratio] + [1.0] * (beside - 1)), float(beside))
    return float(currents[0]), float(currents[-1])


def hardest(pack: BuiltPack) -> tuple[float, str] | None:
    """Of a pack of known cells, the one that carries most, over the mean of its group; None where no resistance is
    known. Where the strips are described they have their part in it."""
    own = growths(pack)
    if own is None:
        return None
    if pack.strip is not None:
        cells = welded.cell_resistances(pack, KINDS["pack"]) + welded.weld_resistance(pack)
        _, currents, *_ = welded.network(pack).line(np.zeros(cells.size), cells)
        shares = pack.parallel * np.asarray(currents).reshape(pack.series, pack.parallel)
        why = "by its resistance and its place on the strips"
    else:
        shares = np.array([parallel_currents(np.zeros(len(g)), np.array(g), float(len(g))) for g in own])
        why = "having the least resistance"
    g, k = np.unravel_index(int(np.argmax(shares)), shares.shape)
    share, cell = float(shares[g, k]), pack.groups[g][k]
    return share, f"{cell.id} of group {g + 1} carries {share:.2f} times the mean, {why}"


def worst_share(network: Network, pack: Placed) -> tuple[float, str]:
    """The hardest worked of the cells side by side: its current over the mean, and which cell is odd.

    One cell has the lowest or the highest resistance of the spread stated, or of the pack's resistance spread where
    none is. Where the cells are known one by one, it is the one that carries most.
    """
    beside = int(written(network, (pack.name, "parallel")))
    if beside == 1:
        return 1.0, "one cell in each group"
    if pack.built is not None and (known := hardest(pack.built)) is not None:
        return known
    r = pack.values["resistance"]
    spread = written(network, (pack.name, "resistance_spread"))
    down, up = spread, spread
    if isinstance(r, Quantity) and r.high > r.low:
        down, up = max(1.0 - r.low / r.nominal, 0.0), max(r.high / r.nominal - 1.0, 0.0)
    low, high = shares(beside, max(1.0 - down, 0.05))[0], shares(beside, 1.0 + up)[1]
    if low >= high:
        return low, f"one of {beside} cells with {100 * down:.0f} % less resistance carries {low:.2f} times the mean"
    return (
        high,
        f"one of {beside} cells has {100 * up:.0f} % more resistance, the others carry {high:.2f} times the mean",
    )
