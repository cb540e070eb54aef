"""What a pack is as built: its curve, the charger that feeds it, and the charge at which that charger leaves it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tideover.cases import Batch, written
from tideover.laws.cells import Curve
from tideover.network import Network, Placed, open_circuit

Array = NDArray[np.float64]
Key = tuple[str, str]
FLOATED = 1.1
"""Charge, over what the table calls full, to which a pack on float is followed: lead-acid floats above its rest. [-]"""


def chemistry(network: Network, pack: Placed) -> str:
    """Word of a pack's chemistry."""
    return pack.kind.parameter("chemistry").choices[int(written(network, (pack.name, "chemistry")))]


def curve(network: Network, pack: Placed) -> Curve:
    """Open-circuit curve of one cell of a pack."""
    return open_circuit(pack)


def figure(network: Network, batch: Batch, key: Key) -> Array:
    """One figure in every case of a batch."""
    return batch.values.get(key, np.full(batch.count, written(network, key)))


def board_of(network: Network, pack: Placed) -> Placed | None:
    """The protection board that senses a pack, if one does."""
    tap = pack.nodes[pack.kind.terminals.index("tap")]
    boards = [p for p in network.parts if p.kind.name == "protection board"]
    return next((b for b in boards if b.nodes[b.kind.terminals.index("sense tap")] == tap), None)


def charger_of(network: Network, pack: Placed) -> Placed | None:
    """The charger that feeds a pack: the one joined to its plus, or else any."""
    chargers = [p for p in network.parts if p.kind.name == "charger"]
    plus = pack.nodes[pack.kind.terminals.index("plus")]
    return next((c for c in chargers if plus in c.nodes), chargers[0] if chargers else None)


def full_charge(network: Network, pack: Placed, batch: Batch) -> Array:
    """State of charge at which the charger leaves the pack: at rest it stands at the hold (or float) voltage, less
    what the last current of the charge drops; shape (cases,). 1 without a charger."""
    charger = charger_of(network, pack)
    if charger is None:
        return np.ones(batch.count)

    def own(name: str) -> Array:
        return figure(network, batch, (pack.name, name))

    def its(name: str) -> Array:
        return figure(network, batch, (charger.name, name))

    ohms = own("series") * (
        (own("resistance") + own("fast_resistance") + own("slow_resistance")) * own("growth") / own("parallel")
        + own("joint_resistance")
    )
    last = its("termination_fraction") * its("charge_current")
    rested = np.where(its("float_voltage") > 0.0, its("float_voltage"), its("hold_voltage") - last * ohms)
    cell = rested / (own("series") * own("cells_per_unit"))
    soc = np.linspace(0.0, FLOATED, 2201)
    volts = np.asarray(curve(network, pack).value(soc[:, None]))[:, 0]
    return np.clip(np.interp(cell, volts, soc), 0.0, np.where(its("float_voltage") > 0.0, FLOATED, 1.0))
