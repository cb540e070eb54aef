"""What would hold: searches over storage, changeover and other figures, as cases of one outage.

All are cases side by side in the worst outage, so a whole search is one march.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from tideover.answers.blame import CONVERTERS
from tideover.answers.states import of_kind
from tideover.cases import Batch, written
from tideover.network import Network
from tideover.quantity import show

Array = NDArray[np.float64]
Key = tuple[str, str]
THROUGH = ("cable", "wire", "strip", "track", "connector", "shunt", "resistor", "switch", "fuse")
"""Kinds through which a capacitor still counts as standing beside the load's converter."""
COARSE = 12
FINE = 8
"""Values of a search, and of its refinement between the last value that fails and the first that holds."""
MOST_TOGETHER = 3
"""Changes tried together: more is another design."""


@dataclass(frozen=True)
class Knob:
    """Figures that a search turns together: each times a power of the factor.

    Attributes
    ----------
    name : str
        In words: ``hold-up capacitor``.
    part : str
        Part to be changed.
    figures : dict
        Key to (value at factor 1, exponent).
    shown : float
        What is quoted, at factor 1, in `unit`.
    quantity : str
        What that is, in words.
    factors : array
        To be tried, ascending.
    """

    name: str
    part: str
    figures: Mapping[Key, tuple[float, float]]
    shown: float
    unit: str
    factors: Array
    quantity: str

    def batch(self, factors: Array) -> Batch:
        """One case for each factor."""
        labels = tuple(f"{self.name} {show(self.shown * f, self.unit)}" for f in factors)
        values = {key: value * factors**power for key, (value, power) in self.figures.items()}
        return Batch(labels, values, len(factors))

    def at(self, factors: Array) -> Knob:
        """The same with other factors."""
        return replace(self, factors=factors)


def storage(network: Network) -> Knob | None:
    """The largest capacitor beside the converter that feeds the load, or one that could stand there."""
    near = _beside(network)
    candidates = [c for c in of_kind(network, "capacitor") if near & (set(c.nodes) - {0})]
    if candidates:
        part = max(candidates, key=lambda c: written(network, (c.name, "capacitance")))
        farad, ohm = (part.name, "capacitance"), (part.name, "ESR")
        figures = {farad: (written(network, farad), 1.0), ohm: (written(network, ohm), -1.0)}
        factors = np.geomspace(1 / 8, 32, COARSE)
        return Knob(part.name, part.name, figures, written(network, farad), "F", factors, "capacitance")
    for part in (*of_kind(network, *CONVERTERS), *of_kind(network, "load")):
        name = "capacitance" if part.kind.name == "load" else "input_capacitance"
        farad = (part.name, name)
        figures = {farad: (written(network, farad), 1.0)}
        said, factors = f"capacitor at the input of {part.name}", np.geomspace(1.0, 1000.0, COARSE)
        what = f"capacitance at the input of {part.name}, there being no capacitor"
        return Knob(said, part.name, figures, written(network, farad), "F", factors, what)
    return None


def changeover(network: Network) -> Knob | None:
    """The contact or ideal diode that moves the load from one source to the other; None when nothing has to move."""
    for part in of_kind(network, "relay"):
        names = ("operate_time", "release_time", "open_time", "front_bounce", "back_bounce")
        figures = {(part.name, n): (written(network, (part.name, n)), 1.0) for n in names}
        shown = sum(written(network, (part.name, n)) for n in ("release_time", "open_time", "back_bounce"))
        factors = np.geomspace(1 / 32, 8, COARSE)
        return Knob(part.name, part.name, figures, shown, "s", factors, "release, travel and bounce together")
    slow = [(written(network, (p.name, "turn_on_time")), p.name) for p in of_kind(network, "ideal diode")]
    if slow:
        figures = {(name, "turn_on_time"): (seconds, 1.0) for seconds, name in slow}
        seconds, name = max(slow)
        return Knob(name, name, figures, seconds, "s", np.geomspace(1 / 32, 1000, COARSE), "turn-on time")
    return None


def _beside(network: Network) -> set[int]:
    """Nodes joined to the judged one through conductors and converters alone."""
    reached = {network.at}
    while True:
        more = set(reached)
        for part in network.parts:
            if part.kind.name in (*THROUGH, *CONVERTERS):
                ends = {n for n, t in zip(part.nodes, part.kind.terminals) if n != 0 and t != "minus"}
                if ends & more:
                    more |= ends
        if more == reached:
            return reached
        reached = more


def measures(network: Network) -> Batch:
    """Other changes, alone and up to three together, that might make an outage hold; the fewest first."""
    single: list[tuple[str, dict[Key, float]]] = []
    for relay in of_kind(network, "relay"):
        pull = written(network, (relay.name, "operate_fraction"))
        single.append(
            (
                f"{relay.name} letting go at 90 % of its pull-in voltage (a voltage detector or a Zener diode before "
                "its coil)",
                {(relay.name, "release_fraction"): 0.9 * pull},
            )
        )
    for board in of_kind(network, "protection board"):
        figures = {(board.name, n): 10.0 for n in ("short_delay", "overload_delay")}
        single.append((f"{board.name} with ten times its trip delays", _times(network, figures)))
    for converter in of_kind(network, *CONVERTERS):
        figures = {(converter.name, n): 0.6 for n in ("lockout_off", "lockout_on")}
        if written(network, (converter.name, "lockout_off")) > 0.0:
            single.append((f"{converter.name} with a lockout at 60 % of its present one", _times(network, figures)))
    for adapter in of_kind(network, "adapter"):
        figures = {(adapter.name, n): 2.0 for n in ("rated_current", "current_limit")}
        single.append((f"{adapter.name} of twice the current", _times(network, figures)))
    knob = storage(network)
    if knob is not None:
        batch = knob.batch(np.array([4.0]))
        single.append((batch.labels[0], {key: float(v[0]) for key, v in batch.values.items()}))
    chosen: list[tuple[str, dict[Key, float]]] = []
    for size in range(1, MOST_TOGETHER + 1):
        for some in combinations(single, size):
            together = {key: value for _, values in some for key, value in values.items()}
            chosen.append((", with ".join(label for label, _ in some), together))
    keys = dict.fromkeys(key for _, values in chosen for key in values)
    values = {key: np.array([v.get(key, written(network, key)) for _, v in chosen]) for key in keys}
    return Batch(tuple(label for label, _ in chosen), values, len(chosen))


def _times(network: Network, factors: Mapping[Key, float]) -> dict[Key, float]:
    return {key: factor * written(network, key) for key, factor in factors.items()}


@dataclass(frozen=True)
class Reach:
    """What a search found.

    Attributes
    ----------
    knob : Knob
        What was turned, with the factors tried.
    holds : bool array
        Whether each factor holds.
    """

    knob: Knob
    holds: NDArray[np.bool_]

    def smallest(self) -> float | None:
        """Smallest factor that holds."""
        k = np.flatnonzero(self.holds)
        return float(self.knob.factors[k[0]]) if len(k) else None

    def largest(self) -> float | None:
        """Largest factor of the lowest run that holds."""
        k = np.flatnonzero(self.holds)
        if not len(k):
            return None
        after = np.flatnonzero(~self.holds[k[0] :])
        last = k[0] + (int(after[0]) if len(after) else len(self.holds) - k[0]) - 1
        return float(self.knob.factors[last])

    def between(self, upper: bool) -> Array:
        """Factors between the last that holds and its neighbour that fails; none when all hold or none does."""
        at = self.largest() if upper else self.smallest()
        if at is None:
            return np.empty(0)
        k = int(np.flatnonzero(self.knob.factors == at)[0])
        other = k + 1 if upper else k - 1
        if not 0 <= other < len(self.holds):
            return np.empty(0)
        low, high = sorted((self.knob.factors[k], self.knob.factors[other]))
        return np.geomspace(low, high, FINE + 2)[1:-1]

    def joined(self, factors: Array, holds: NDArray[np.bool_]) -> Reach:
        """With the refinement."""
        every = np.concatenate([self.knob.factors, factors])
        order = np.argsort(every)
        return Reach(self.knob.at(every[order]), np.concatenate([self.holds, holds])[order])
