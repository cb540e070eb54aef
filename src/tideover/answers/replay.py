"""One outage, played with settings of the reader's own: how volts and currents run, and whether the load bears it.

The same march as the outage answer's, for one case of the build as written: from the standing point with mains present,
through one or several losses of mains. It is made for turning a knob and looking, so a step may err by 1e-3, which
moves the extremes by less than a millivolt; what it shows is no judgement over tolerances.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tideover.answers import holding, states
from tideover.answers.base import FAILS, OPEN, Series, judged
from tideover.answers.mask import Mask, Verdict, judge, stretches_below
from tideover.answers.outage_said import tidy, tight
from tideover.answers.rides import LOSS, SETTLE, TRIES, Event, delay, events
from tideover.cases import Batch, written
from tideover.network import Network
from tideover.quantity import show
from tideover.solve import Change, Condition, along, build, march, readings, rest

Array = NDArray[np.float64]
Key = tuple[str, str]
ACCURACY = 1e-3
"""Relative error of a step: on the examples the extremes then agree within 0.1 mV with steps thirty times finer."""
MAINS = "mains"
"""Stands for a part's name in the knobs of the outage itself."""
GAP, TIMES, BETWEEN = (MAINS, "outage"), (MAINS, "outages"), (MAINS, "between")
LONGEST_GAP, MOST_TIMES, LONGEST_BETWEEN = 600.0, 5.0, 60.0
"""Outages are followed as far as this: longer ones are the endurance answer's. [s] [-] [s]"""
STORAGE_RANGE = (1 / 8, 8.0)
CHANGEOVER_RANGE = (1 / 32, 8.0)
"""How far these knobs turn, times what is drawn: wider than what modules and relays of a kind differ by."""
LOAD_RANGE = (0.1, 1.5)
"""Of the larger of mean and peak."""
EMPTIEST = 0.02


@dataclass(frozen=True)
class Knob:
    """What can be turned.

    Attributes
    ----------
    name : str
        In words: ``hold-up capacitance``.
    part, parameter : str
        Key of the setting; part is ``mains`` for the outage itself.
    low, high, value : float
        Range, and where it stands as drawn, in `unit`.
    unit : str
        SI; "" for a share or a count.
    """

    name: str
    part: str
    parameter: str
    low: float
    high: float
    value: float
    unit: str

    @property
    def key(self) -> Key:
        """Of the settings."""
        return self.part, self.parameter


@dataclass(frozen=True)
class Replay:
    """What an outage does.

    Attributes
    ----------
    status, said : str
        As an answer's: whether the load bears it, and a sentence with numbers.
    series : tuple of Series
        Volts and currents over time; none where nothing could be followed.
    verdict : Verdict or None
        The load's voltage held against the mask.
    outside : float
        Time out of the window, all together. [s]
    losses, returns : tuple of float
        When mains goes and comes. [s]
    events : tuple of Event
        Contacts, trips, lockouts, in order of time.
    """

    status: str
    said: str
    series: tuple[Series, ...] = ()
    verdict: Verdict | None = None
    outside: float = 0.0
    losses: tuple[float, ...] = ()
    returns: tuple[float, ...] = ()
    events: tuple[Event, ...] = field(default=())


def knobs(network: Network) -> tuple[Knob, ...]:
    """What of a build can be turned; none where there is no mains to be lost."""
    if not states.of_kind(network, "adapter"):
        return ()
    found = [
        Knob("outage", *GAP, 1e-3, LONGEST_GAP, 2.0, "s"),
        Knob("outages", *TIMES, 1.0, MOST_TIMES, 1.0, ""),
        Knob("mains between them", *BETWEEN, 1e-3, LONGEST_BETWEEN, _recovery(network), "s"),
    ]
    for load in states.of_kind(network, "load"):
        mean, peak = written(network, (load.name, "power")), written(network, (load.name, "peak_power"))
        if mean > 0.0:
            low, high = LOAD_RANGE
            found.append(Knob(f"{load.name} power", load.name, "power", low * mean, high * max(mean, peak), mean, "W"))
    for pack in states.of_kind(network, "pack"):
        found.append(Knob(f"{pack.name} charge", pack.name, "charge", EMPTIEST, 1.0, 1.0, ""))
    for turned, parameter, (low, high) in _turned(network):
        shown = turned.shown
        name = f"{turned.name} {turned.quantity}" if parameter == "changeover" else turned.name
        found.append(Knob(name, turned.part, parameter, low * shown, high * shown, shown, turned.unit))
    return tuple(found)


def replay(network: Network, settings: Mapping[Key, float] | None = None) -> Replay:
    """Play one outage.

    Parameters
    ----------
    network : Network
        As loaded. [-]
    settings : mapping, optional
        Key of a knob to its value; what is not set stands as drawn. [unit of the knob]

    Returns
    -------
    replay : Replay
        Of the build as written but for the settings. [-]

    Raises
    ------
    KeyError
        For a knob that this build has not.
    ValueError
        For a value beyond its range; the text says which and what is allowed.
    """
    there = {knob.key: knob for knob in knobs(network)}
    if not there:
        return Replay(OPEN, "There is no adapter in the drawing, so no mains that could be lost.")
    at = {key: knob.value for key, knob in there.items()} | _checked(there, settings or {})
    batch = _batch(network, at)
    system = build(network, batch.values, 1)
    point = rest(system, _condition(network, at))
    if point.outcome[0] != 0:
        said = "With these settings the supply does not stand still with mains present, so no outage can begin."
        return Replay(FAILS, said)
    losses, returns, end = _instants(network, batch, at)
    changes = [
        Change(np.array([when]), adapter.name, "mains", value)
        for adapter in states.of_kind(network, "adapter")
        for lost, back in zip(losses, returns)
        for when, value in ((lost, 0.0), (back, 1.0))
    ]
    waves = march(system, point.state, changes, until=end, accuracy=ACCURACY, most_steps=TRIES * len(losses))
    t, alone, inside = along(waves, 0)
    v = waves.case(0).v
    mask = Mask.of(network.need)
    verdict = judge(t, v[:, network.at], mask)
    outside = _outside(t, v[:, network.at], mask)
    followed = waves.outcome[0] == 0
    status = judged(verdict.worst, tight(mask)) if followed or verdict.worst < 0.0 else OPEN
    series = _series(network, t, v, readings(alone, inside).quantity)
    said = _said(mask, verdict, outside, None if followed else float(t[-1]))
    return Replay(status, said, series, verdict, outside, losses, returns, events(waves, 0))


def _turned(network: Network) -> list[tuple[holding.Knob, str, tuple[float, float]]]:
    """Storage and changeover, as the outage answer's searches turn them."""
    both = (
        (holding.storage(network), "storage", STORAGE_RANGE),
        (holding.changeover(network), "changeover", CHANGEOVER_RANGE),
    )
    return [(knob, parameter, reach) for knob, parameter, reach in both if knob is not None and knob.shown > 0.0]


def _checked(there: Mapping[Key, Knob], settings: Mapping[Key, float]) -> dict[Key, float]:
    for key, value in settings.items():
        knob = there[key]
        if not knob.low <= value <= knob.high:  # NaN, too
            low, high = (show(x, knob.unit) if knob.unit else f"{x:g}" for x in (knob.low, knob.high))
            raise ValueError(f"{knob.name}: {value:g} is beyond what can be played, {low} to {high}.")
    return dict(settings)


def _batch(network: Network, at: Mapping[Key, float]) -> Batch:
    """The build with its storage and changeover turned."""
    values: dict[Key, Array] = {}
    for turned, parameter, _ in _turned(network):
        factor = at[turned.part, parameter] / turned.shown
        if factor != 1.0:
            values |= turned.batch(np.array([factor])).values
    return Batch(("as set",), values, 1)


def _condition(network: Network, at: Mapping[Key, float]) -> Condition:
    """Mains present, the packs and loads as set; full packs have their chargers ended."""
    demand: dict[Key, float] = {}
    inside: dict[Key, float] = {}
    full = True
    for load in states.of_kind(network, "load"):
        mean = written(network, (load.name, "power"))
        demand[load.name, "demand"] = at[load.name, "power"] / mean if mean > 0.0 else 1.0
    for pack in states.of_kind(network, "pack"):
        share = at[pack.name, "charge"]
        inside |= states.charges(network, pack, share)
        full = full and share >= 1.0
    ended = {(c.name, "phase"): "full" for c in states.of_kind(network, "charger")} if full else {}
    return Condition(demand, inside, ended, written(network, ("box", "ambient")))


def _recovery(network: Network) -> float:
    """From the return of mains until everything has settled. [s]"""
    return SETTLE + float(delay(network, Batch(("nominal",), {}, 1))[0])


def _instants(
    network: Network, batch: Batch, at: Mapping[Key, float]
) -> tuple[tuple[float, ...], tuple[float, ...], float]:
    """When mains goes, when it comes, and when the march ends. [s]"""
    gap, between = at[GAP], at[BETWEEN]
    losses = tuple(LOSS + k * (gap + between) for k in range(round(at[TIMES])))
    returns = tuple(lost + gap for lost in losses)
    return losses, returns, returns[-1] + SETTLE + float(delay(network, batch)[0])


def _outside(t: Array, v: Array, mask: Mask) -> float:
    """Time below and above the window. [s]"""
    total = 0.0
    for wave, level in ((v, mask.low), (-v, -mask.high)):
        starts, ends = stretches_below(t, wave, level)
        total += float((ends - starts).sum())
    return total


def _series(network: Network, t: Array, v: Array, quantity: Mapping[Key, Array]) -> tuple[Series, ...]:
    """Volts at the load, at the storage, of adapters and packs; currents out of adapters and packs."""
    time = tuple(t.tolist())
    volts = {f"({network.nodes[network.at]})": network.at}
    store = holding.storage(network)
    named = [(store.part, 0)] if store is not None else []
    named += [(p.name, 0) for p in states.of_kind(network, "adapter", "pack")]
    for name, terminal in named:
        node = network.part(name).nodes[terminal]
        if node and node not in volts.values():
            volts[f"({network.nodes[node]})"] = node
    out = [Series(name, "time", "s", "V", time, tuple(v[:, node].tolist())) for name, node in volts.items()]
    for part in states.of_kind(network, "adapter", "pack"):
        into = quantity[part.name, f"{part.kind.terminals[0]} [A]"]
        out.append(Series(f"out of {part.name}", "time", "s", "A", time, tuple((-into).tolist())))
    return tuple(out)


def _said(mask: Mask, verdict: Verdict, outside: float, stopped: float | None) -> str:
    if stopped is not None:
        cut = f" Followed for {show(stopped, 's')} only: something switches again and again from then on."
        return ((_said(mask, verdict, outside, None) if verdict.worst < 0.0 else "") + cut).strip()
    lowest, highest = show(tidy(verdict.lowest), "V", 4), show(verdict.highest, "V", 4)
    if verdict.over < 0.0:
        return f"The load sees up to {highest}; {show(mask.high, 'V')} is allowed."
    if outside <= 0.0:
        return f"The load stays in its window, {lowest} at least."
    held = "which its mask allows" if verdict.worst >= 0.0 else "which its mask does not allow"
    return f"The load falls to {lowest} and is out of its window for {show(outside, 's')}, {held}."


__all__ = ["BETWEEN", "GAP", "TIMES", "Knob", "Replay", "knobs", "replay"]
