"""Single faults: what can go wrong with each kind of part, as figures of that part, so that the drawing stays as it is.

An open or a drift is a figure of the part itself. A short is a *bridge*: a resistor laid between two terminals of every
part that can short there, so large that it does nothing, and a milliohm in the case of the fault. All faults then stand
beside the faultless build in one batch. A part that already couples the two nodes costs nothing more to eliminate.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from tideover.cases.batch import Array, Batch, Key, written
from tideover.design import built, welded
from tideover.design.cell_model import BuiltPack
from tideover.design.model import Value
from tideover.network import Network, Placed, open_circuit
from tideover.parts import KINDS
from tideover.parts.base import TYPICAL

NEVER, ALWAYS = 1e3, -1e3
"""A threshold that no voltage reaches; one that every voltage has passed. [V]"""
OPEN = 1e12
"""Resistance of a break: far above the leak of every node to the return, so that what it feeds is dead. [ohm]"""
IDLE, SHORTED = 1e12, 1e-3
"""Resistance of a bridge that does nothing, and of one that shorts. [ohm]"""
STRAY = {"capacitance": 1e-6, "ESR": 1.0, "leakage": 0.0}
"""From every node to the return: what wiring and the inputs of modules have, and the ordinary drawing leaves out. It
carries nothing at rest, and gives a node that a fault sets adrift a voltage to fall from."""
SENSING = ("tap", "sense tap", "sense plus")
HOURS = 8766.0
"""In a year."""
PUBLIC = "failure-mode ratios of the kind of public reliability tables, recalled: " + TYPICAL
GUESS = "engineering judgement, " + TYPICAL


@dataclass(frozen=True)
class Fault:
    """One way in which a kind of part fails.

    Attributes
    ----------
    words : str
        What the part then does, after its name: ``shorts``, ``gives no output``.
    share : float
        Share of this kind's failures that are of this mode. [%]
    becomes, times : dict
        Parameter name to its value in the fault, or to what its own value is multiplied by.
    signals : dict
        Signals of the part, held for good.
    bridge : (str, str), optional
        Two terminals that are shorted; the second may be ``return``.
    means : str
        ``open`` where the part might as well be taken out of the drawing, ``short`` where its bridge joins two nodes
        to one, else empty.
    rate : float, optional
        Failures in 1e9 hours of this mode alone, where the kind's rate does not apply. [1/(1e9 h)]
    each : tuple of str
        Figures whose product is the number of things that can fail in this way: cells.
    cell : bool
        A cell of the weakest group shorts inside: that group loses one cell's voltage for good.
    weld : bool
        One cell of the weakest group drops out.
    burns : bool
        The fault itself sets lithium cells alight, whatever the network does.
    inherent : bool
        No part of any drawing could stop it.
    guards : bool
        The part only acts when something else is wrong, so its loss shows in nothing.
    source : str
        Of the share.
    """

    words: str
    share: float
    becomes: Mapping[str, float] = field(default_factory=dict)
    times: Mapping[str, float] = field(default_factory=dict)
    signals: Mapping[str, float] = field(default_factory=dict)
    bridge: tuple[str, str] | None = None
    means: str = ""
    rate: float | None = None
    each: tuple[str, ...] = ()
    cell: bool = False
    weld: bool = False
    burns: bool = False
    inherent: bool = False
    guards: bool = False
    source: str = PUBLIC


def _line(opens: str, wears: str, touches: str, by: str, shares: tuple[float, float, float]) -> tuple[Fault, ...]:
    """A conductor's: it breaks, it wears, it touches the return."""
    a, b, c = shares
    return (
        Fault(opens, a, times={by: 1e14}, means="open"),
        Fault(wears, b, times={by: 5.0}),
        Fault(touches, c, bridge=("b", "return"), means="short"),
    )


def _stated(shares: tuple[float, float, float]) -> tuple[Fault, ...]:
    opens, drifts, shorts = shares
    return (
        Fault("opens", opens, becomes={"resistance": OPEN}, means="open"),
        Fault("drifts to twice its resistance", 0.5 * drifts, times={"resistance": 2.0}),
        Fault("drifts to half its resistance", 0.5 * drifts, times={"resistance": 0.5}),
        Fault("shorts", shorts, bridge=("a", "b"), means="short"),
    )


_STOPPED = {"lockout_off": NEVER, "lockout_on": NEVER}
_PASSES = Fault(
    "passes its input straight to its output",
    20,
    becomes=_STOPPED,
    bridge=("input", "output"),
    means="short",
    source=GUESS,
)
_MODULE = (
    _PASSES,
    Fault("regulates 30 % too high", 10, times={"set_voltage": 1.3}, source=GUESS),
    Fault("regulates 20 % too low", 15, times={"set_voltage": 0.8}, source=GUESS),
    Fault("limits at half its current", 5, times={"current_limit": 0.5}, source=GUESS),
    Fault("shorts at its input", 20, bridge=("input", "minus"), means="short", source=GUESS),
    Fault("opens at its output", 10, becomes={"output_resistance": OPEN}, source=GUESS),
    Fault("stops switching", 20, becomes=_STOPPED, source=GUESS),
)
_NO_LIMITS = {"cut_off": ALWAYS, "over_charge": NEVER, "sense_voltage": NEVER, "short_voltage": NEVER}
_DISCHARGE_OFF = {"cut_off": NEVER, "cut_off_release": NEVER}
_CHARGE_OFF = {"over_charge": ALWAYS, "over_charge_release": ALWAYS}
_DRIFTED = {"cut_off": 0.8, "over_charge": 1.05}
_NO_DIODE = {"saturation_current": 1e-30, "series_resistance": OPEN, "leakage": 0.0}
_OPEN_CHANNEL = {"on_resistance": OPEN}

LEAD = "lead-acid pack"
"""Lead-acid packs have ratios of their own."""
_SHORTED_OUTSIDE = Fault(
    "is shorted right at its terminals",
    0,
    bridge=("plus", "minus"),
    means="short",
    rate=1.0,
    inherent=True,
    source=GUESS,
)
_WORN = {"health": 0.6, "growth": 2.0}
_UNEVEN = {"capacity_spread": 0.4, "resistance_spread": 0.5}

FAULTS: dict[str, tuple[Fault, ...]] = {
    "adapter": (
        Fault("gives no output", 40, signals={"mains": 0.0}),
        Fault("dies with its output shorted", 12, signals={"mains": 0.0}, bridge=("plus", "minus"), means="short"),
        Fault("gives 30 % too much voltage", 10, times={"voltage": 1.3}, source=GUESS),
        Fault("gives 20 % too little voltage", 28, times={"voltage": 0.8}, source=GUESS),
        Fault("limits at half its current", 10, times={"current_limit": 0.5}, source=GUESS),
    ),
    "cable": _line("breaks", "wears to a fifth of its copper", "shorts core to core", "resistivity", (19, 36, 45)),
    "wire": _line("breaks", "wears to a fifth of its copper", "rubs through to return", "resistivity", (19, 36, 45)),
    "strip": _line("tears off", "hangs by a fifth of its width", "touches the return", "resistivity", (61, 23, 16)),
    "track": _line("cracks", "lifts to a fifth of its copper", "bridges to the return", "resistivity", (61, 23, 16)),
    "connector": _line("comes loose", "makes poor contact", "shorts pin to pin", "contact_resistance", (61, 23, 16)),
    "switch": (
        Fault("does not close", 65, becomes={"contact_resistance": OPEN}, means="open"),
        Fault("makes poor contact", 19, times={"contact_resistance": 20.0}),
        Fault("cannot be switched off", 16, bridge=("a", "b"), means="short"),
    ),
    "shunt": _stated((59, 36, 5)),
    "resistor": _stated((59, 36, 5)),
    "diode": (
        Fault("shorts", 51, bridge=("anode", "cathode"), means="short"),
        Fault("opens", 29, becomes=_NO_DIODE, means="open"),
        Fault("leaks a hundred times as much", 20, times={"leakage": 100.0}),
    ),
    "ideal diode": (
        Fault("shorts", 56, bridge=("anode", "cathode"), means="short"),
        Fault("never turns on: only its body diode conducts", 22, becomes=_OPEN_CHANNEL),
        Fault("has three times its on resistance", 17, times={"on_resistance": 3.0}),
        Fault("opens", 5, becomes=_OPEN_CHANNEL | {"body_drop": NEVER, "quiescent": 0.0}, means="open"),
    ),
    "relay": (
        Fault("never operates: its coil is open", 55, times={"coil_resistance": 1e6, "coil_voltage": 1e9}),
        Fault("makes poor contact", 26, times={"contact_resistance": 50.0}),
        Fault("welds its front contact", 10, bridge=("common", "front"), means="short"),
        Fault("welds its back contact", 9, bridge=("common", "back"), means="short"),
    ),
    "capacitor": (
        Fault("shorts", 53, bridge=("plus", "minus"), means="short"),
        Fault("opens", 35, becomes={"ESR": OPEN, "leakage": 0.0}, means="open"),
        Fault("leaks 50 mA", 10, becomes={"leakage": 0.05}),
        Fault("has a third of its capacitance left", 2, times={"capacitance": 1.0 / 3.0}),
    ),
    "boost": _MODULE,
    "buck": _MODULE,
    "buck-boost": _MODULE,
    "linear regulator": _MODULE,
    "charger": (
        Fault("stops charging", 25, becomes=_STOPPED, source=GUESS),
        Fault("shorts at its input", 15, bridge=("input", "minus"), means="short", source=GUESS),
        Fault("shorts at its output", 10, bridge=("output", "minus"), means="short", source=GUESS),
        _PASSES,
        Fault(
            "holds 15 % too high a voltage",
            10,
            times={"hold_voltage": 1.15, "float_voltage": 1.15, "restart_voltage": 1.15},
            source=GUESS,
        ),
        Fault(
            "holds 10 % too low a voltage",
            15,
            times={"hold_voltage": 0.9, "float_voltage": 0.9, "restart_voltage": 0.9},
            source=GUESS,
        ),
        Fault("charges with twice its current", 3, times={"charge_current": 2.0}, source=GUESS),
        Fault("never ends its charge", 2, becomes={"termination_fraction": 0.0}, source=GUESS),
    ),
    "pack": (
        Fault("wears to 60 % of its capacity and twice its resistance", 39, times=_WORN),
        Fault("has one group 40 % weaker than the rest", 39, becomes=_UNEVEN),
        Fault("loses a weld: one cell of a group drops out", 14, weld=True),
        Fault("opens", 2, becomes={"joint_resistance": OPEN}, means="open"),
        Fault(
            "has a cell that shorts inside",
            6,
            cell=True,
            burns=True,
            inherent=True,
            rate=0.02,
            each=("series", "parallel", "cells_per_unit"),
        ),
        _SHORTED_OUTSIDE,
    ),
    LEAD: (
        Fault("wears to 60 % of its capacity and twice its resistance", 50, times=_WORN),
        Fault("has one block 40 % weaker than the rest", 20, becomes=_UNEVEN),
        Fault("opens", 10, becomes={"joint_resistance": OPEN}, means="open"),
        Fault("has a cell that shorts inside", 20, cell=True),
        _SHORTED_OUTSIDE,
    ),
    "protection board": (
        Fault("stays on whatever the cells say", 25, becomes=_NO_LIMITS, guards=True, source=GUESS),
        Fault("opens both ways", 20, becomes=_DISCHARGE_OFF | _CHARGE_OFF, means="open", source=GUESS),
        Fault("stays off for discharge", 15, becomes=_DISCHARGE_OFF, source=GUESS),
        Fault("acts 5 % too high and 20 % too low", 15, times=_DRIFTED, guards=True, source=GUESS),
        Fault("has five times its on resistance", 15, times={"on_resistance": 5.0}, source=GUESS),
        Fault("drains 10 mA", 10, becomes={"quiescent": 0.01}, source=GUESS),
    ),
    "fuse": (
        Fault("does not open", 49, becomes={"rating": 1e6, "melting_integral": 1e12}, guards=True),
        Fault("opens ten times too late", 43, times={"melting_integral": 10.0}, guards=True),
        Fault("opens for no reason", 8, becomes={"resistance": OPEN}, means="open"),
    ),
    "load": (
        Fault("shorts", 20, bridge=("plus", "minus"), means="short", source=GUESS),
        Fault("draws half as much again", 40, times={"power": 1.5}, source=GUESS),
        Fault("draws nothing", 40, signals={"demand": 0.0}, source=GUESS),
    ),
    "box": (
        Fault("has its vents blocked", 50, becomes={"vent_area": 0.0}, source=GUESS),
        Fault("is covered over", 50, becomes={"wall_conductivity": 0.02}, source=GUESS),
    ),
}  # fmt: skip
"""Single faults of every kind."""

RATES: dict[str, float] = {
    "adapter": 10000.0,
    "cable": 10.0,
    "wire": 2.0,
    "strip": 1.0,
    "track": 1.0,
    "connector": 10.0,
    "switch": 20.0,
    "shunt": 1.0,
    "resistor": 1.0,
    "diode": 5.0,
    "ideal diode": 20.0,
    "relay": 200.0,
    "capacitor": 30.0,
    "boost": 1000.0,
    "buck": 1000.0,
    "buck-boost": 1000.0,
    "linear regulator": 100.0,
    "charger": 1000.0,
    "pack": 1000.0,
    LEAD: 2000.0,
    "protection board": 300.0,
    "fuse": 10.0,
    "load": 1000.0,
    "box": 1000.0,
}
"""Failures in 1e9 hours at ordinary temperature, to an order of magnitude: typical, unverified."""


@dataclass(frozen=True)
class Single:
    """A fault of one part of a build.

    Attributes
    ----------
    part : Placed
        Whose it is.
    fault : Fault
        Which.
    bridge : str
        Name of its bridge in the network, or empty.
    rate : float
        How often it happens, to an order of magnitude. [1/year]
    """

    part: Placed
    fault: Fault
    bridge: str = ""
    rate: float = 0.0

    @property
    def label(self) -> str:
        """In words: ``mains diode shorts``."""
        return f"{self.part.name} {self.fault.words}"


@dataclass(frozen=True)
class Struck:
    """A build with its single faults side by side; case 0 has none.

    Attributes
    ----------
    network : Network
        With a bridge wherever something may short.
    singles : tuple of Single
        Fault k is case k + 1.
    batch : Batch
        Figures of each case.
    states, signals : dict
        ``(part, state)`` and ``(part, signal)`` to a value for each case, NaN where the fault says nothing.
    """

    network: Network
    singles: tuple[Single, ...]
    batch: Batch
    states: dict[Key, Array]
    signals: dict[Key, Array]

    def pick(self, cases: list[int]) -> Struck:
        """Some of the faults beside the faultless build, in the same network; `cases` begins with 0."""
        take = np.array(cases)
        return Struck(
            self.network,
            tuple(self.singles[c - 1] for c in cases[1:]),
            self.batch.take(take),
            {k: v[take] for k, v in self.states.items()},
            {k: v[take] for k, v in self.signals.items()},
        )


def faults_of(part: Placed) -> tuple[Fault, ...]:
    """Single faults of one part."""
    return FAULTS[_table(part)]


def _table(part: Placed) -> str:
    """Key of a part in the tables."""
    if part.kind.name != "pack":
        return part.kind.name
    choices = part.kind.parameter("chemistry").choices
    return LEAD if choices[int(_number(part, "chemistry"))] == "PbA" else "pack"


def singles(network: Network) -> tuple[Single, ...]:
    """Every single fault of every part; one that this build cannot have is left out.

    A short between two terminals on one node does nothing, nor do blocked vents where there are none, and a cell alone
    in its group that loses its weld is an open pack.
    """
    return tuple(single for part in network.parts for single in _of(network, part))


def _of(network: Network, part: Placed) -> Iterator[Single]:
    for fault in (known for usual in faults_of(part) for known in _known(part, usual)):
        rate = RATES[_table(part)] * fault.share / 100.0 if fault.rate is None else fault.rate
        rate *= float(np.prod([_number(part, name) for name in fault.each]))
        bridge = ""
        if fault.bridge:
            ends = _ends(part, fault.bridge)
            if ends is None:
                continue
            bridge = f"{part.name}, {' to '.join(fault.bridge)}"
        changed = _changes(network, part, fault)
        if not (bridge or changed or fault.signals or fault.cell):
            continue
        if changed and all(written(network, key) == value for key, value in changed.items()) and not fault.signals:
            continue
        yield Single(part, fault, bridge, rate * 1e-9 * HOURS)


def _known(part: Placed, fault: Fault) -> tuple[Fault, ...]:
    """The fault of a pack whose cells are known: which cell or group it strikes, and what that one has already."""
    if part.built is None:
        return (fault,)
    if fault.weld and part.built.parallel > 1:
        return tuple(_lost_welds(part, part.built, fault))
    if fault.becomes is _UNEVEN:
        groups = [sum(c.capacity.nominal for c in group) for group in part.built.groups]
        weakest = groups.index(min(groups)) + 1
        spreads = {name: _number(part, name) for name in _UNEVEN}
        becomes = {
            "capacity_spread": 1.0 - (1.0 - spreads["capacity_spread"]) * (1.0 - _UNEVEN["capacity_spread"]),
            "resistance_spread": (1.0 + spreads["resistance_spread"]) * (1.0 + _UNEVEN["resistance_spread"]) - 1.0,
        }
        return (replace(fault, words=f"has its weakest group, {weakest}, fall by another 40 %", becomes=becomes),)
    return (fault,)


def _lost_welds(part: Placed, pack: BuiltPack, fault: Fault) -> Iterator[Fault]:
    """The worst cells to lose, each a fault of its own; they share the rate of any weld's loss among them.

    Strips and welds then add what they do round the gap: the difference goes on top of the joint resistance in force,
    which the build may state itself.
    """
    worst = welded.worst_losses(pack, part.kind)
    values = {m.id: m.values for m in built.without(pack)}
    usual = welded.joint(pack, part.kind).nominal if pack.strip is not None else 0.0
    for id, (lost, ways) in worst.items():
        which = "its worst" if len(worst) == 1 else f"its worst by {' and '.join(ways)}"
        words = f"loses a weld: {id} of group {lost.group}, {which}, drops out"
        becomes = dict(values[id])
        if pack.strip is not None:
            becomes["joint_resistance"] = max(_number(part, "joint_resistance") + lost.joint - usual, 0.0)
        yield replace(fault, words=words, becomes=becomes, weld=False, share=fault.share / len(worst))


def _ends(part: Placed, bridge: tuple[str, str]) -> tuple[int, int] | None:
    """Nodes that a bridge joins; None where they are one already. A line that ends on the return touches it before."""
    if bridge[1] == "return":
        nodes = [part.nodes[part.kind.terminals.index(t)] for t in (bridge[0], "a")]
        live = next((n for n in nodes if n != 0), None)
        return None if live is None else (live, 0)
    first, second = (part.nodes[part.kind.terminals.index(t)] for t in bridge)
    return None if first == second else (first, second)


def _changes(network: Network, part: Placed, fault: Fault) -> dict[Key, float]:
    """Figures of the part in the fault."""
    out = {(part.name, name): value for name, value in fault.becomes.items()}
    out |= {(part.name, name): written(network, (part.name, name)) * by for name, by in fault.times.items()}
    if fault.weld:
        beside = _number(part, "parallel")
        if beside > 1.0:
            out[part.name, "capacity_spread"] = 1.0 / beside
            out[part.name, "resistance_spread"] = 1.0 / (beside - 1.0)
    if fault.cell:
        out[part.name, "capacity_spread"] = -1e6
    return out


def strike(network: Network) -> Struck:
    """All single faults of a build beside the faultless build, ready for the solver.

    Parameters
    ----------
    network : Network
        As loaded. [-]

    Returns
    -------
    struck : Struck
        One more case than there are faults. [-]
    """
    found = singles(network)
    count = len(found) + 1
    values: dict[Key, Array] = {}
    states: dict[Key, Array] = {}
    signals: dict[Key, Array] = {}
    bridges: dict[str, Placed] = {}
    for k, single in enumerate(found, start=1):
        part, fault = single.part, single.fault
        if single.bridge and fault.bridge:
            bridges[single.bridge] = _bridge(single.bridge, part, _ends(part, fault.bridge))
            values.setdefault((single.bridge, "resistance"), np.full(count, IDLE))[k] = SHORTED
        for key, value in _changes(network, part, fault).items():
            values.setdefault(key, np.full(count, written(network, key)))[k] = value
        for name, value in fault.signals.items():
            signals.setdefault((part.name, name), np.full(count, np.nan))[k] = value
        if fault.cell:
            states.setdefault((part.name, "weak_charge"), np.full(count, np.nan))[k] = _one_cell_less(part)
    parts = (*network.parts[:-1], *bridges.values(), *_strays(network), network.parts[-1])
    labels = ("no fault", *(s.label for s in found))
    return Struck(replace(network, parts=parts), found, Batch(labels, values, count), states, signals)


def _strays(network: Network) -> Iterator[Placed]:
    carrying = {n for p in network.parts for t, n in zip(p.kind.terminals, p.nodes) if t not in SENSING and n}
    for node in sorted(carrying):
        yield _plain(f"stray at {network.nodes[node]}", "capacitor", (node, 0), STRAY, network.parts[-1])


def _bridge(name: str, part: Placed, ends: tuple[int, int] | None) -> Placed:
    """A resistor that does nothing."""
    assert ends is not None
    given = {"resistance": IDLE, "tempco": 0.0, "thermal_resistance": 1.0, "heat_capacity": 10.0}
    return _plain(name, "resistor", ends, given, part)


def _plain(name: str, kind: str, nodes: tuple[int, int], given: Mapping[str, float], part: Placed) -> Placed:
    """A part of ours, at its defaults but for what is given."""
    values: dict[str, Value] = {}
    for p in KINDS[kind].parameters:
        value = given.get(p.name, p.default)
        assert isinstance(value, float | int)
        values[p.name] = float(value)
    return Placed(name, KINDS[kind], nodes, values, part.place)


def _one_cell_less(part: Placed) -> float:
    """State of charge at which a group's curve, gone on straight, stands one cell lower: nothing, for one cell."""
    curve = open_circuit(part)
    cells = _number(part, "cells_per_unit")
    zero, full = np.zeros((1, 1)), np.ones((1, 1))
    left = float(np.asarray(curve.value(full))[0, 0]) * (cells - 1.0) / cells
    return float((left - np.asarray(curve.value(zero))[0, 0]) / np.asarray(curve.slope(zero))[0, 0])


def _number(part: Placed, name: str) -> float:
    value = part.values[name]
    return float(getattr(value, "nominal", value))  # type: ignore[arg-type]
