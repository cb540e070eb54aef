"""What is computed for every sampled build: the key quantity of each answer, with the limit that it must keep.

A trial is a function of a batch, ``f(context, batch, ...) -> y``, shape (quantities, cases), that another process can
do as well; NaN where a quantity has no value, which is worst of all.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tideover.answers import states
from tideover.answers.context import AMBIENT, REACHED, Context, Setting
from tideover.answers.mask import Mask, worst
from tideover.answers.outage import GIVE_UP, hold, pick
from tideover.answers.packs import figure
from tideover.answers.refills import ROUGH, ended, refill
from tideover.answers.rides import Outage, every_outage, ride
from tideover.answers.runs import run
from tideover.answers.soaks import soak
from tideover.cases import Batch, Extreme, extremes, nominal, override, repeat
from tideover.cases.batch import Array, Key

WATCHED = 4.0
"""A recharge is watched for this many times what is asked, or for so many days where nothing is."""
DAY = 86400.0
JUNCTION = "largest_junction_temperature"


@dataclass(frozen=True)
class Judged:
    """A quantity and the limit that it must keep.

    Attributes
    ----------
    short, name, bad : str
        What it is, in a word or two and in full; and the bad thing that a finding says.
    unit : str
        SI.
    worse : str
        ``low`` or ``high``.
    limit : float or None
        None where the build asks for nothing.
    subject : str
        Part or node.
    none : str
        What it means that it has no value: ``there is no standing point``.
    place : str
        File, line and column of the limit.
    given_up : float
        Value at which the measurement stops, so that it may be worse. [unit]
    """

    short: str
    name: str
    bad: str
    unit: str
    worse: str
    limit: float | None
    subject: str
    none: str
    place: str = ""
    given_up: float = -np.inf


@dataclass(frozen=True)
class Trial:
    """A measurement of whole batches, and the quantities it gives."""

    judged: tuple[Judged, ...]
    measure: Callable[..., Array]
    given: tuple[object, ...] = ()

    def of(self, context: Context, batch: Batch) -> Array:
        """Shape (quantities, cases)."""
        return self.measure(context, batch, *self.given)


@dataclass(frozen=True)
class Work:
    """A piece of work that can travel: a trial over a batch, or its worst corners where there is no batch."""

    context: Context
    trial: Trial
    batch: Batch | None = None


def do(work: Work) -> Array | tuple[Extreme, ...]:
    """Do it, in whichever process this is."""
    context, trial = work.context, work.trial
    if work.batch is not None:
        return trial.of(context, work.batch)
    worse = [j.worse for j in trial.judged]
    return extremes(context.network, context.spreads, lambda b: trial.of(context, b), worse, context.rng)


def trials(context: Context) -> tuple[Trial, ...]:
    """The trials that this build can be put to, the one that takes longest first."""
    found = (_outage(context), _recharge(context), _runtime(context), _standing(context), _heat(context))
    return tuple(trial for trial in found if trial is not None)


# --- the trials ------------------------------------------------------------------------------------


def _standing(context: Context) -> Trial | None:
    network = context.network
    settings = tuple(
        Setting(s, level) for s in context.states if s.name != states.OFF for level in states.levels(network)
    )
    if not settings:
        return None
    low, high = network.need.window
    at, place, none = network.need.at, context.need_place, "there is no standing point"
    name, bad = "lowest standing voltage at the load", "load falls below its window"
    judged = [Judged("load, low", name, bad, "V", "low", low, at, none, place)]
    name, bad = "highest standing voltage at the load", "load is above its window"
    judged.append(Judged("load, high", name, bad, "V", "high", high, at, none, place))
    if context.adapters:
        brick = context.adapters[0].name
        name, bad = "adapter's current over the one at which it gives up", "adapter is overloaded"
        judged.append(Judged("adapter", name, bad, "%", "high", REACHED, brick, none, context.place(brick)))
    return Trial(tuple(judged), standing, (settings,))


def standing(context: Context, batch: Batch, settings: tuple[Setting, ...]) -> Array:
    """Lowest and highest voltage over all standing states and loads; and the adapter's burden, if there is one."""
    points = context.points(batch, settings)
    v = points.v(context.network.at)
    rows = [v.min(axis=0), np.fmax.reduce(v, axis=0)]
    if context.adapters:
        rows.append(points.burden[[k for k, s in enumerate(settings) if s.standing.on_mains]].max(axis=0))
    return np.array(rows)


def _outage(context: Context) -> Trial | None:
    if not context.adapters:
        return None
    judged = Judged(
        "outage",
        "margin to the window and dips in an outage",
        "load drops out in an outage",
        "V",
        "low",
        0.0,
        context.network.need.at,
        "the supply has no lasting state before mains is lost",
        context.need_place,
        _floor(Mask.of(context.network.need)) - context.network.need.window[0],
    )
    return Trial((judged,), rides, (worst_outages(context),))


def worst_outages(context: Context) -> tuple[Outage, ...]:
    """The worst outage of the build as written, and the worst of those with another gap."""
    network, outages = context.network, every_outage(context.network)
    mask = Mask.of(network.need)
    ridden = ride(network, repeat(nominal(network), len(outages)), outages, keep=False, stop_below=_floor(mask))
    held = {k: hold(ridden, k, mask) for k in np.flatnonzero(ridden.stands).tolist()}
    first = next((k for k in range(len(outages)) if k not in held), None)
    first = pick(held) if first is None else first
    others = {k: one for k, one in held.items() if one.outage.gap != outages[first].gap}
    return (outages[first], *((outages[pick(others)],) if others else ()))


def rides(context: Context, batch: Batch, outages: tuple[Outage, ...]) -> Array:
    """Smaller margin of some outages. A ride is ended where nothing can save it any more."""
    mask = Mask.of(context.network.need)
    wide, each = repeat(batch, len(outages)), tuple(o for o in outages for _ in range(batch.count))
    ridden = ride(context.network, wide, each, keep=False, stop_below=_floor(mask))
    margin = np.full(wide.count, np.nan)
    for k in np.flatnonzero(ridden.stands).tolist():
        margin[k] = worst(*ridden.wave(k), mask)
    return margin.reshape(len(outages), batch.count).min(axis=0, keepdims=True)


def _floor(mask: Mask) -> float:
    return GIVE_UP * mask.deepest


def _runtime(context: Context) -> Trial | None:
    packs = states.of_kind(context.network, "pack")
    if not packs:
        return None
    asked, name = context.network.need.runtime, packs[0].name
    bad, none = "load is carried too short", "it does not even start"
    judged = Judged("runtime", "runtime at mean load, pack new", bad, "s", "low", asked, name, none, context.need_place)
    return Trial((judged,), runtimes)


def runtimes(context: Context, batch: Batch) -> Array:
    """Until the mean load stops, from full. [s]"""
    return run(context.network, batch, keep=False).runtime[None]


def _recharge(context: Context) -> Trial | None:
    network = context.network
    packs = states.of_kind(network, "pack")
    if not (packs and context.adapters and ended(network)):
        return None
    asked, name = network.need.recharge, packs[0].name
    until = WATCHED * (asked or DAY)
    charges = {key: v for pack in packs for key, v in states.charges(network, pack, None).items()}
    bad, none = "pack is full too late", f"the charge has not ended within {until / 3600.0:.0f} h"
    what = "time to full from near cut-off, load on"
    judged = Judged("recharge", what, bad, "s", "high", asked, name, none, context.need_place)
    return Trial((judged,), refills, (tuple(charges.items()), until))


def refills(context: Context, batch: Batch, charges: tuple[tuple[Key, float], ...], until: float) -> Array:
    """Until a charger ends its charge, the mean load on; NaN where none does. [s]"""
    begin = {key: np.full(batch.count, value) for key, value in charges}
    found = refill(context.network, batch, begin, until, accuracy=ROUGH)
    return np.where(np.isfinite(found.ended_at), found.ended_at, np.nan)[None]


def _heat(context: Context) -> Trial | None:
    known = {s.name: s for s in context.states}
    state = next((known[n] for n in (states.CHARGING, states.MAINS_FULL, states.HALF) if n in known), None)
    if state is None or not _limits(context, state.on_mains):
        return None
    judged = Judged(
        "heat",
        f"distance of the hottest part to its limit ({state.name}, warmest room)",
        "part gets too hot",
        "ΔK",
        "low",
        0.0,
        "hottest part",
        "there is no warm standing point",
    )
    return Trial((judged,), warmth, (Setting(state),))


def _limits(context: Context, mains: bool) -> tuple[Key, ...]:
    """Figures that limit a part's temperature."""
    cells = "warmest_charge" if mains else "warmest_discharge"
    return tuple(
        (part.name, name)
        for part in context.network.parts
        for name in (cells, JUNCTION)
        if name in part.values and part.kind.warm
    )


def warmth(context: Context, batch: Batch, setting: Setting) -> Array:
    """Smallest distance of a part's temperature to its limit, the state kept up until all is warm. [K]

    In the warmest room, which is no property of a build: every one of them meets it some day.
    """
    batch = override(batch, {AMBIENT: context.network.need.ambient[1]})
    soaked = soak(context.network, batch, [setting])
    left = [
        figure(context.network, batch, key) - soaked.q(key[0], "temperature [K]")[0]
        for key in _limits(context, setting.standing.on_mains)
    ]
    return np.min(left, axis=0, keepdims=True)
