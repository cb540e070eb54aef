"""The standing states of a build: what a builder can wait for and measure with a meter.

Mains present with the pack charging and with the pack full; on the pack when it is full, half full and nearly empty;
and switched off. A build without a pack, a charger, an adapter or a load has fewer of them.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tideover.answers.packs import full_charge
from tideover.cases import Batch, written
from tideover.network import Network, Placed, open_circuit
from tideover.solve import Condition

CHARGING, MAINS_FULL = "mains, charging", "mains, full"
FULL, HALF, NEAR = "on pack, full", "on pack, half", "on pack, near cut-off"
OFF = "switched off"
NAMES = (CHARGING, MAINS_FULL, FULL, HALF, NEAR, OFF)

NONE, MEAN, PEAK = "none", "mean", "peak"
LEVELS = (NONE, MEAN, PEAK)
LEFT = 0.05
"""Charge left in the weakest group above its cut-off when a pack counts as near it: the last minutes of a run."""


@dataclass(frozen=True)
class Standing:
    """One standing state.

    Attributes
    ----------
    name : str
        One of `NAMES`.
    signals, states, machines : dict
        As `tideover.solve.Condition` takes them; the load's demand is set by `Setting`.
    """

    name: str
    signals: dict[tuple[str, str], float] = field(default_factory=dict)
    states: dict[tuple[str, str], float] = field(default_factory=dict)
    machines: dict[tuple[str, str], str] = field(default_factory=dict)

    @property
    def on_pack(self) -> bool:
        """Whether the pack carries the load."""
        return self.name in (FULL, HALF, NEAR)

    @property
    def on_mains(self) -> bool:
        """Whether mains is present and the build switched on."""
        return self.name in (CHARGING, MAINS_FULL)


@dataclass(frozen=True)
class Setting:
    """A standing state with the load at none, mean or peak of its power."""

    standing: Standing
    level: str = MEAN

    @property
    def label(self) -> str:
        """In words: ``on pack, half, peak load``."""
        words = {NONE: ", no load", MEAN: "", PEAK: ", peak load"}[self.level]
        return self.standing.name + words

    def signals(self, network: Network) -> dict[tuple[str, str], float]:
        """All signals, the demand of every load among them."""
        return self.standing.signals | {
            (part.name, "demand"): demand(network, part, self.level) for part in of_kind(network, "load")
        }

    def condition(self, network: Network, ambient: float) -> Condition:
        """For one call of the solver. [K]"""
        return Condition(self.signals(network), self.standing.states, self.standing.machines, ambient)


def of_kind(network: Network, *kinds: str) -> tuple[Placed, ...]:
    """Parts of some kinds, in the order of the file."""
    return tuple(part for part in network.parts if part.kind.name in kinds)


def demand(network: Network, load: Placed, level: str) -> float:
    """Power over mean power: 0, 1, or peak over mean."""
    mean, peak = written(network, (load.name, "power")), written(network, (load.name, "peak_power"))
    return {NONE: 0.0, MEAN: 1.0, PEAK: max(peak / mean, 1.0) if mean > 0.0 else 1.0}[level]


def usual_level(network: Network, standing: Standing) -> str:
    """Mean, but no load where a build without a switch is off: its load is."""
    return NONE if standing.name == OFF and not of_kind(network, "switch") else MEAN


def levels(network: Network) -> tuple[str, ...]:
    """Mean, and peak where a load has one above its mean."""
    has = any(demand(network, load, PEAK) > 1.0 for load in of_kind(network, "load"))
    return (MEAN, PEAK) if has else (MEAN,)


def worst_level(network: Network) -> str:
    """The level with the largest load."""
    return levels(network)[-1]


def standing_states(network: Network) -> tuple[Standing, ...]:
    """The standing states that this build has.

    Parameters
    ----------
    network : Network
        As loaded. [-]

    Returns
    -------
    states : tuple of Standing
        In the order of `NAMES`. [-]

    Notes
    -----
    A pack at a stated charge is one that was balanced when full and has since given the same charge from every
    group, so the weak group stands lower. *Near cut-off* leaves 5 % in the weak group above the charge at which it
    rests at its board's cut-off voltage, or at its own lowest voltage without a board. *Charging* begins as after an
    outage, with relays released; *full* as it is reached from charging, with chargers ended and relays operated. On
    the pack the adapters have run down long ago; saying so at once spares the search the way there.
    """
    adapters, packs = of_kind(network, "adapter"), of_kind(network, "pack")
    chargers, switches = of_kind(network, "charger"), of_kind(network, "switch")
    on = {(a.name, "mains"): 1.0 for a in adapters} | {(s.name, "closed"): 1.0 for s in switches}
    off = on | {(a.name, "mains"): 0.0 for a in adapters}
    ended = {(c.name, "phase"): "full" for c in chargers}
    ended |= {(r.name, "contact"): "operated" for r in of_kind(network, "relay")}
    drained, spent = run_down(network)

    def charged(share: float | None) -> dict[tuple[str, str], float]:
        return {key: value for pack in packs for key, value in charges(network, pack, share).items()}

    found = []
    if adapters and packs and chargers:
        found.append(Standing(CHARGING, on, charged(0.5)))
    if adapters:
        found.append(Standing(MAINS_FULL, on, charged(1.0), ended))
    if packs:
        found += [
            Standing(FULL, off, charged(1.0) | drained, spent),
            Standing(HALF, off, charged(0.5) | drained, spent),
            Standing(NEAR, off, charged(None) | drained, spent),
        ]
    if adapters or packs:
        still = {(s.name, "closed"): 0.0 for s in switches}
        if packs:
            found.append(Standing(OFF, off | still, charged(0.5) | drained, spent))
        else:
            found.append(Standing(OFF, on | still))
    return tuple(found)


def run_down(network: Network) -> tuple[dict[tuple[str, str], float], dict[tuple[str, str], str]]:
    """States and discrete states of adapters and chargers long after mains was lost."""
    adapters = of_kind(network, "adapter")
    spent = {(a.name, "output"): "dead" for a in adapters}
    spent |= {(c.name, "phase"): "off" for c in of_kind(network, "charger")}
    return {(a.name, state): 0.0 for a in adapters for state in ("output", "store", "reference")}, spent


def charges(network: Network, pack: Placed, share: float | None) -> dict[tuple[str, str], float]:
    """States of charge of a pack and of its weak group; None means near its cut-off. [-]

    A pack is never fuller than its charger makes it: 1 means as full as that.
    """
    spread = written(network, (pack.name, "capacity_spread"))
    full = float(full_charge(network, pack, Batch(("nominal",), {}, 1))[0])
    if share is None:
        weak = min(empty_at(network, pack) + LEFT, full)
    elif share >= 1.0:
        weak = full
    else:
        weak = max(full - (full - min(share, full)) / (1.0 - spread), 0.0)
    return {
        (pack.name, "charge"): full - (full - weak) * (1.0 - spread),
        (pack.name, "weak_charge"): weak,
    }


def empty_at(network: Network, pack: Placed) -> float:
    """State of charge at which a group at rest stands at the voltage that ends a discharge. [-]"""
    tap = pack.nodes[pack.kind.terminals.index("tap")]
    volts = written(network, (pack.name, "lowest_voltage"))
    for board in of_kind(network, "protection board"):
        if board.nodes[board.kind.terminals.index("sense tap")] == tap:
            volts = max(volts, written(network, (board.name, "cut_off")))
    soc = np.linspace(0.0, 1.0, 1001)
    rested = np.asarray(open_circuit(pack).value(soc[:, None]))[:, 0]
    cells = written(network, (pack.name, "cells_per_unit"))
    return float(np.interp(volts, cells * rested, soc))
