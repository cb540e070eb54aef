"""What stands on the power path in one standing state: volts of every node, amperes of every terminal, watts of every
part.

Read from the standing points that the answers share, at the load's usual level, so that the drawing and the tables
never differ.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from tideover.answers import states
from tideover.answers.context import Context, Setting, known
from tideover.network import Network, Placed

GIVERS = ("adapter", "pack", "capacitor")
"""Kinds whose watts are what they give at their terminals, negative while they take."""


@dataclass(frozen=True)
class Flow:
    """One standing state, as drawn.

    Attributes
    ----------
    state : str
        One of `tideover.answers.states.NAMES`.
    volts : dict of str to float or None
        Of every node to the return; None where nothing stands. [V]
    terminals : dict of (str, str) to float or None
        Current into each terminal of each part. [A]
    watts : dict of str to float or None
        Given by a source, taken by a load, turned into heat by any other part. [W]
    charges : dict of str to float or None
        State of charge of every pack. [-]
    note : str
        Why there are no numbers; empty where there are.
    """

    state: str
    volts: dict[str, float | None]
    terminals: dict[tuple[str, str], float | None]
    watts: dict[str, float | None]
    charges: dict[str, float | None]
    note: str = ""

    @property
    def currents(self) -> dict[str, float | None]:
        """Current into the first terminal of each part. [A]"""
        first: dict[str, float | None] = {}
        for (part, _), amperes in self.terminals.items():
            first.setdefault(part, amperes)
        return first

    @property
    def charge(self) -> float | None:
        """State of charge of the first pack; None without one. [-]"""
        return next(iter(self.charges.values()), None)


def flows(context: Context) -> tuple[Flow, ...]:
    """Every standing state of a build at its mean load, as written.

    Parameters
    ----------
    context : Context
        Of the build; its spreads are not looked at. [-]

    Returns
    -------
    flows : tuple of Flow
        In the order of `context.states`. [-]
    """
    return tuple(_flow(context, standing) for standing in context.states)


def _flow(context: Context, standing: states.Standing) -> Flow:
    points, network = context.nominal, context.network
    k = context.row(Setting(standing, states.usual_level(network, standing)))
    volts = {name: known(float(points.v(n)[k, 0])) for n, name in enumerate(network.nodes)}
    terminals = {
        (part.name, terminal): known(float(points.q(part.name, f"{terminal} [A]")[k, 0]))
        for part in drawn(network)
        for terminal in part.kind.terminals
    }
    watts = {part.name: _watts(points, part, k, volts, terminals, network) for part in drawn(network)}
    at = points.flat(k, 0)
    packs = states.of_kind(network, "pack")
    charges = {pack.name: known(float(points.readings.state[pack.name, "charge"][at])) for pack in packs}
    stands = bool(points.found[k, 0])
    if not stands:
        volts = dict.fromkeys(volts)
    note = "" if stands else "No standing point in this state: the numbers would mean nothing. See the first answer."
    return Flow(standing.name, volts, terminals, watts, charges, note)


def drawn(network: Network) -> tuple[Placed, ...]:
    """Parts that carry current: all but the box."""
    return tuple(part for part in network.parts if part.nodes)


def _watts(
    points: Any, part: Placed, k: int, volts: dict[str, Any], terminals: dict[tuple[str, str], Any], network: Network
) -> float | None:
    ends = [(volts[network.nodes[n]], terminals[part.name, t]) for t, n in zip(part.kind.terminals, part.nodes)]
    if any(v is None or i is None for v, i in ends):
        return None
    if part.kind.name in GIVERS:
        return -sum(v * i for v, i in ends)
    return sum(v * i for v, i in ends) if part.kind.name == "load" else known(float(points.heat(part.name)[k, 0]))
