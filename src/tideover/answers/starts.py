"""Dead states and starts from them: how a batch of starts is reached, marched and read.

Where a state can be reached by running the pack down and waiting, it is marched into. What needs a hand or an accident
(a pack that is joined to empty capacitors, a board that tripped on a short circuit since cleared) is stated: every
capacitor at 0 V, every converter locked out, every relay released. Then mains comes back, or the pack is switched on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.blame import CONVERTERS
from tideover.answers.context import Context
from tideover.answers.rides import Event, events
from tideover.answers.runs import ACCURACY as COARSE
from tideover.answers.runs import longest_run
from tideover.answers.states import Setting
from tideover.cases import Batch, written
from tideover.network import Network
from tideover.quantity import show
from tideover.solve import (
    Change,
    Condition,
    Inside,
    Readings,
    System,
    Watch,
    Waves,
    along,
    build,
    march,
    readings,
    rest,
)
from tideover.solve.rest import begin
from tideover.solve.script import signal_row

Array = NDArray[np.float64]
Key = tuple[str, str]
TRIGGER = 0.02
"""Mains comes back, or the switch is closed, at this instant of every march. [s]"""
SOON, NIGHT = 10.0, 12 * 3600.0
"""Mains back while capacitors are still charged; mains back when they have emptied. [s]"""
WATCHED = 30.0
"""Watched after the load should serve: a board's release, a charger's first current, a retry of an adapter. [s]"""
ACCURACY = 3e-4
"""Relative error of a step: a rush is resolved by its own time constant, and its peak stands at the closed contact."""
TRIES, TRIES_DOWN = 1400, 1000
"""Steps a start may try, and the hours in which nothing happens. A clean start takes some hundreds; a supply that
hiccups would never end and is known by its events long before."""
MAINS, PACK = "mains comes back", "pack alone is switched on"
EMPTY, TRIPPED, COLD, JOINED, LOW, BOTH, ASLEEP = "empty", "tripped", "cold", "joined", "low", "both", "asleep"


@dataclass(frozen=True, eq=False)
class Dead:
    """A dead state, and what is done to it; each is itself alone.

    Attributes
    ----------
    key : str
        Which state.
    words : str
        In words: ``pack run empty, mains back after 12 h``.
    how : str
        How it was reached.
    wakes : str
        `MAINS` or `PACK`.
    inside : Inside
        Where the march begins, one case.
    signals : dict
        ``(part, signal)`` to the value it takes when the start is triggered.
    trigger : float
        When. [s]
    """

    key: str
    words: str
    how: str
    wakes: str
    inside: Inside
    signals: Mapping[Key, float]
    trigger: float = TRIGGER


@dataclass(frozen=True)
class Starts:
    """Starts of a batch, one for each dead state and load level."""

    network: Network
    deads: tuple[Dead, ...]
    levels: tuple[str, ...]
    ends: Array
    waves: Waves

    def label(self, case: int) -> str:
        """In words: ``pack run empty, mains back after 12 h, peak load``."""
        return self.deads[case].words + (", peak load" if self.levels[case] == states.PEAK else "")

    def only(self, count: int) -> Starts:
        """The first of them."""
        return Starts(self.network, self.deads[:count], self.levels[:count], self.ends[:count], self.waves)

    def ended(self, case: int) -> bool:
        """Whether the march reached its end."""
        return int(self.waves.outcome[case]) == 0

    def wave(self, case: int) -> tuple[Array, Array]:
        """Time from the trigger and voltage at the load. [s] [V]"""
        wave = self.waves.case(case)
        return wave.t - self.deads[case].trigger, wave.v[:, self.network.at]

    def events(self, case: int) -> tuple[Event, ...]:
        """Discrete changes, time from the trigger."""
        if ("events", case) not in self._known:
            trigger = self.deads[case].trigger
            found = tuple(replace(e, t=e.t - trigger) for e in events(self.waves, case))
            self._known["events", case] = found
        out: tuple[Event, ...] = self._known["events", case]
        return out

    def read(self, case: int) -> tuple[Array, Readings]:
        """Time from the trigger, and everything at every point."""
        if ("read", case) not in self._known:
            t, alone, inside = along(self.waves, case)
            self._known["read", case] = (t - self.deads[case].trigger, readings(alone, inside))
        out: tuple[Array, Readings] = self._known["read", case]
        return out

    @cached_property
    def _known(self) -> dict[tuple[str, int], Any]:
        return {}


# --- dead states -------------------------------------------------------------------------------------


def dead_states(context: Context) -> tuple[Dead, ...]:
    """The dead states that this build has."""
    network = context.network
    system = build(network)
    return tuple(_dead_states(context, network, system))


def _dead_states(context: Context, network: Network, system: System) -> Iterator[Dead]:
    packs, boards = states.of_kind(network, "pack"), states.of_kind(network, "protection board")
    switches = [s.name for s in states.of_kind(network, "switch")]
    back = {(a.name, "mains"): 1.0 for a in context.adapters}
    closed = {(s, "closed"): 1.0 for s in switches}
    if context.adapters and packs:
        yield from _run_down(context, system, back)
        if boards:
            how = "a short circuit made the board trip and was cleared; everything else has emptied"
            words = "board tripped, everything else at 0 V, mains back"
            yield Dead(TRIPPED, words, how, MAINS, cold(network, system, 0.5, "tripped"), back)
    elif context.adapters:
        how = "no pack: everything has emptied"
        yield Dead(COLD, "everything at 0 V, mains back", how, MAINS, cold(network, system, 1.0), back)
    switched = bool(switches) and _cut_off(network, system, 1.0)
    if packs:
        verb = "switched on" if switched else "joined"
        for key, share, words in ((JOINED, 1.0, "full pack"), (LOW, None, "pack near its cut-off")):
            named = f"{' and '.join(switches)} open for long" if switched else "every capacitor at 0 V"
            off = _switched_off(network, system, share, mains=False) if switched else None
            inside = cold(network, system, share) if off is None else off
            trigger = TRIGGER if switched else 0.0
            signals = closed if switched else {}
            yield Dead(key, f"{words} {verb}, mains away", f"mains away, {named}", PACK, inside, signals, trigger)
    if switches and context.adapters:
        off = _switched_off(network, system, 1.0, mains=True)
        if off is not None and _dark(network, off):
            words = "switched on with mains present" + (", pack full" if packs else "")
            yield Dead(BOTH, words, f"mains present, {' and '.join(switches)} open for long", MAINS, off, closed)
    yield from _asleep(context, network, system, back)


def _run_down(context: Context, system: System, back: Mapping[Key, float]) -> Iterator[Dead]:
    """Run the pack down until something gives up, then wait."""
    network = context.network
    wanted = [Setting(s) for s in context.states if s.on_pack]
    start = next((s for s in reversed(wanted) if context.has(s)), None)
    if start is None:
        how = "the pack cannot carry the load, so it was not run down: near its cut-off, everything else at 0 V"
        boards = {(b.name, "discharge"): "empty" for b in states.of_kind(network, "protection board")}
        inside = cold(network, system, None, "empty" if boards else "")
        yield Dead(EMPTY, "pack empty, everything else at 0 V, mains back", how, MAINS, inside, back)
        return
    here = context.nominal.rest.state.take(np.array([context.row(start)]))
    gives_up = [(b.name, "discharge", "empty") for b in states.of_kind(network, "protection board")]
    gives_up += [(c.name, "supply", "locked out") for c in states.of_kind(network, *CONVERTERS)]
    gives_up += [(load.name, "work", "reset") for load in states.of_kind(network, "load")]
    watch = Watch(network.at, 0.5 * network.need.window[0], tuple(gives_up))
    run = march(system, here, until=longest_run(network), accuracy=COARSE, watch=watch, most_steps=4000)
    t, _, inside = along(run, 0)
    ran = f"run on the pack at mean load from {start.standing.name.removeprefix('on pack, ')} for {show(t[-1], 's')}"
    last = inside.take(np.array([len(t) - 1, len(t) - 1]))
    two = build(network, {}, 2)
    waits = np.array([SOON, NIGHT])
    waited = march(two, last, until=waits, accuracy=COARSE, most_steps=TRIES_DOWN)
    for k, gap in enumerate(waits):
        after, _, left = along(waited, k)
        restless = "" if waited.outcome[k] == 0 else f"; it still starts and stops after {show(after[-1], 's')}"
        words = f"pack run empty, mains back {show(gap, 's')} later"
        how = f"{ran}, then left for {show(gap, 's')}{restless}"
        yield Dead(EMPTY, words, how, MAINS, left.take(np.array([len(after) - 1])), back)


def _switched_off(network: Network, system: System, share: float | None, mains: bool) -> Inside | None:
    """At rest with every switch open; None where there is no such point."""
    adapters = states.of_kind(network, "adapter")
    signals: dict[Key, float] = {(a.name, "mains"): float(mains) for a in adapters}
    signals |= {(s.name, "closed"): 0.0 for s in states.of_kind(network, "switch")}
    inside: dict[Key, float] = {}
    for pack in states.of_kind(network, "pack"):
        inside |= states.charges(network, pack, share)
    asleep: dict[Key, str] = {}
    if mains:
        asleep |= {(c.name, "phase"): "full" for c in states.of_kind(network, "charger")}
    else:
        asleep |= {(a.name, "output"): "dead" for a in adapters}
        inside |= {(a.name, state): 0.0 for a in adapters for state in ("output", "store", "reference")}
    point = rest(system, Condition(signals, inside, asleep, written(network, ("box", "ambient"))))
    return point.state if point.outcome[0] == 0 else None


def _dark(network: Network, inside: Inside) -> bool:
    """Whether the load is without voltage."""
    return bool(inside.V[network.at - 1, 0] < 0.5 * network.need.window[0])


def _cut_off(network: Network, system: System, share: float) -> bool:
    """Whether the switches part the load from the pack."""
    off = _switched_off(network, system, share, mains=False)
    return off is not None and _dark(network, off)


def _asleep(context: Context, network: Network, system: System, back: Mapping[Key, float]) -> Iterator[Dead]:
    """A module that took its idle load for gone."""
    sleepy = [
        c.name for c in states.of_kind(network, *CONVERTERS) if written(network, (c.name, "light_load_cutoff")) > 0.0
    ]
    if not sleepy or not context.adapters:
        return
    signals: dict[Key, float] = {key: 0.0 for key in back}
    signals |= {(load.name, "demand"): 0.0 for load in states.of_kind(network, "load")}
    charge: dict[Key, float] = {}
    for pack in states.of_kind(network, "pack"):
        charge |= states.charges(network, pack, 0.5)
    point = rest(system, Condition(signals, charge, {}, written(network, ("box", "ambient"))))
    at = point.state
    known = readings(system, at).machine
    if point.outcome[0] == 0 and any(known[name, "supply"][0] == "cut off" for name in sleepy):
        how = "the load asked for nothing and the module switched itself off"
        words = f"{sleepy[0]} switched off by an idle load, mains back"
        yield Dead(ASLEEP, words, how, MAINS, at, back)


def cold(
    network: Network, system: System, share: float | None, board: str = "on"
) -> Inside:
    """Everything but the cells at 0 V, every part as it is without a supply; mains away.

    Parameters
    ----------
    share : float or None
        Charge of the pack, as `states.charges` takes it. [-]
    board : str
        Discharge state of the protection boards.
    """
    inside: dict[Key, float] = {(p.name, s.name): 0.0 for p in network.parts for s in p.kind.states if s.unit != "K"}
    for pack in states.of_kind(network, "pack"):
        inside |= states.charges(network, pack, share)
    signals: dict[Key, float] = {(a.name, "mains"): 0.0 for a in states.of_kind(network, "adapter")}
    signals |= {(s.name, "closed"): 1.0 for s in states.of_kind(network, "switch")}
    asleep: dict[Key, str] = {(a.name, "output"): "dead" for a in states.of_kind(network, "adapter")}
    asleep |= {(c.name, "supply"): "locked out" for c in states.of_kind(network, *CONVERTERS)}
    asleep |= {(c.name, "phase"): "off" for c in states.of_kind(network, "charger")}
    asleep |= {(b.name, "discharge"): board for b in states.of_kind(network, "protection board") if board}
    for load in states.of_kind(network, "load"):
        if written(network, (load.name, "resets_below")) > 0.0:
            asleep[load.name, "work"] = "reset"
    ambient = written(network, ("box", "ambient"))
    return begin(system, Condition(signals, inside, asleep, ambient))


# --- marching ----------------------------------------------------------------------------------------


def start(network: Network, batch: Batch, deads: Sequence[Dead], levels: Sequence[str], tries: int = TRIES) -> Starts:
    """March one start for each case of a batch.

    Parameters
    ----------
    batch : Batch
        Figures of the build in each case. [-]
    deads, levels : sequence
        Dead state and load level of each case. [-]
    tries : int
        Steps a case may try. [-]
    """
    system = build(network, batch.values, batch.count)
    here = Inside(*(np.concatenate([getattr(d.inside, name) for d in deads], axis=1) for name in "VXMS"))
    trigger = np.array([d.trigger for d in deads])
    changes = []
    for key in dict.fromkeys(key for d in deads for key in d.signals):
        row = signal_row(system, *key)
        value = np.array([d.signals.get(key, float(here.S[row, k])) for k, d in enumerate(deads)])
        changes.append(Change(trigger, *key, value))
    for load in states.of_kind(network, "load"):
        asked = np.array([states.demand(network, load, level) for level in levels])
        changes.append(Change(0.0, load.name, "demand", asked))
    ends = trigger + np.array([_due(network, d) for d in deads])
    waves = march(system, here, changes, until=ends, accuracy=ACCURACY, most_steps=tries)
    return Starts(network, tuple(deads), tuple(levels), ends, waves)


def _due(network: Network, dead: Dead) -> float:
    """From the trigger until the load should serve, and some more. [s]"""
    waits = [0.0]
    if dead.wakes == MAINS:
        waits += [
            sum(written(network, (a.name, name)) for name in ("start_delay", "rise_time"))
            for a in states.of_kind(network, "adapter")
        ]
    boots = [written(network, (load.name, "reboots_in")) for load in states.of_kind(network, "load")]
    return max(waits) + max(boots, default=0.0) + WATCHED


def cases(network: Network, deads: Sequence[Dead]) -> tuple[tuple[Dead, ...], tuple[str, ...]]:
    """Every dead state at every load level; a nearly empty pack is asked for the mean alone."""
    pairs = [
        (dead, level)
        for dead in deads
        for level in states.levels(network)
        if level == states.MEAN or dead.key != LOW
    ]
    return tuple(d for d, _ in pairs), tuple(level for _, level in pairs)
