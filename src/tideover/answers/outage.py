"""Does the load ride through loss and return of mains?

Asks what
    Whether the voltage at the load stays inside its window and its dip mask while mains is lost and when it returns,
    with the pack full, half full and nearly empty, at mean and at peak load, for a short interruption and a long one.

Why it matters
    A load reboots within milliseconds. A coil that is fed by the adapter it watches lets go only when the adapter has
    decayed, a protection board takes a capacitor's inrush for a short circuit, an adapter that returns meets load,
    charger and empty capacitors at once: none of it shows on a multimeter.

How computed
    The whole network is marched from its standing point through mains off at 20 ms and mains on 10 ms, 30 ms and 2 s
    later, with every switching instant located. Below each limit the longest stretch is found by interpolation; the
    margin is how far the whole wave could be lowered and still hold. In the worst outage every declared tolerance is
    moved alone, then all the bad way at once, and eight random corners check that nothing is worse. The phase that
    lasts longest before the voltage recovers is named as the cause. Searches vary the storage capacitor and the
    changeover.

Blind spots
    A peak is taken as lasting through the whole event. Contacts bounce once. Mains dips that do not reach zero, and
    flicker on return, are not tried. A bigger capacitor is taken with its series resistance falling in proportion.
    Wiring inductance is left out.

An example that trips it
    A 9 V adapter feeding the 12 V coil of its own changeover relay: the coil holds on down to 3.6 V, long after the
    converter has locked out.

Cure
    Let the pack conduct before the adapter is gone (both joined through diodes), make the coil let go early, or store
    more where the load is fed.

Source
    Terms by IEC 62040-5-3; relay timing and inrush, typical and unverified; the window and dips are the builder's own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers import holding, outage_mends, outage_said, outage_tables
from tideover.answers.base import OPEN, Answer, Series, worst
from tideover.answers.context import Context
from tideover.answers.holding import Reach
from tideover.answers.mask import Mask, Verdict, judge
from tideover.answers.rides import LOSS, Outage, Rides, ride
from tideover.cases import Batch, corner, join, one_at_a_time, random_signs

Array = NDArray[np.float64]
WORTH_TELLING = 1e-4
"""Change of the margin below which a figure is not named. [V]"""
CHECKS = 8
"""Random corners tried beside the one that the single figures point to."""
MENDS = 6
"""Changes that mend the worst outage, the simplest first, which are tried in all others."""
GIVE_UP = 0.5
"""Share of the deepest dip allowed at which a case of a search is ended: it has failed."""


@dataclass(frozen=True)
class Judged:
    """One outage, ridden and held against the mask."""

    outage: Outage
    case: str
    verdict: Verdict
    loss: Verdict
    back: Verdict
    ended: bool
    stopped: float
    due: float

    @property
    def score(self) -> float:
        """Margin, and where two are alike the longer life: one number that falls as things get worse. [V]"""
        left = max(self.due - self.stopped, 0.0) / self.due
        return self.verdict.worst - 0.1 * self.verdict.level * (left + min(self.verdict.stayed / self.due, 1.0))


@dataclass(frozen=True)
class Corner:
    """The worst corner of the worst outage; `judged` is None where the supply has no lasting state to begin with."""

    judged: Judged | None
    outage: Outage
    label: str
    surprised: bool
    rides: Rides
    at: int


@dataclass(frozen=True)
class Found:
    """What holds in the worst outage, and for each the first other outage in which it does not, if there is one."""

    reach: list[tuple[str, Reach]]
    reach_fails: list[Outage | None]
    mends: tuple[str, ...]
    mends_fail: tuple[Outage | None, ...]


def answer(context: Context) -> Answer:
    """Ride through loss and return of mains."""
    network = context.network
    if not context.adapters:
        return Answer("outage", OPEN, "There is no adapter in the drawing, so no mains that could be lost.")
    mask = Mask.of(network.need)
    rides = context.rides
    outages = rides.outages
    judged = {k: hold(rides, k, mask) for k in np.flatnonzero(rides.stands).tolist()}
    found = list(outage_said.not_standing(context, rides))
    if not judged:
        status = worst(f.status for f in found)
        return Answer("outage", status, outage_said.nothing_stands(rides), tuple(found))
    k = pick(judged)
    found += outage_said.events_judged(context, mask, judged, rides, k)
    effects, edge, reach, others = _what_holds(context, mask, judged[k])
    if edge is not None:
        found.append(outage_mends.corner_judged(context, mask, edge, effects))
    tried = [outages[j] for j in judged]
    found += outage_mends.would_hold(context, _everywhere(context, mask, reach, others, tried), judged[k])
    tables = [
        outage_tables.verdicts(mask, outage_said.tight(mask), rides, judged),
        outage_tables.sequence(network, rides, k),
        outage_tables.bears(mask),
        outage_tables.phase_table(network, rides, k),
        outage_tables.contributors(effects),
        outage_tables.ledger(rides),
    ]
    return Answer(
        "outage",
        worst(f.status for f in found),
        outage_said.headline(context, mask, judged, rides, k, found),
        tuple(found),
        tuple(t for t in tables if t.rows),
        _series(rides, k, edge),
    )


def hold(rides: Rides, case: int, mask: Mask) -> Judged:
    """Hold one wave against the mask: all of it, the part before mains returns, and the part after."""
    t, v = rides.wave(case)
    outage = rides.outages[case]
    returns = LOSS + outage.gap
    before, after = t <= returns, t >= returns
    whole = judge(t, v, mask)
    return Judged(
        outage,
        rides.batch.labels[case],
        whole,
        judge(t[before], v[before], mask),
        judge(t[after], v[after], mask) if after.any() else whole,
        rides.outcome(case) == 0,
        float(t[-1]),
        float(rides.ends[case]),
    )


def pick(judged: dict[int, Judged]) -> int:
    """The worst outage; of those that are about as bad the longest, which shows loss and return."""
    bad = min(j.score for j in judged.values())
    near = [k for k, j in judged.items() if j.score <= bad + 1e-3 + 0.05 * abs(bad)]
    return max(near, key=lambda k: (judged[k].outage.gap, -judged[k].score))


def _what_holds(
    context: Context, mask: Mask, bad: Judged
) -> tuple[tuple[tuple[str, float], ...], Corner | None, list[tuple[str, Reach]], Batch]:
    """Single figures and coarse searches in one batch; then refined searches, and the worst corner of what holds.

    Returns
    -------
    effects : tuple of (str, float)
        What moves the margin most, minus infinity where nothing stands any more. [V]
    edge, reach, mends
        Worst corner, if the build as written holds; the searches; other changes that hold, the fewest at once first.
    """
    network = context.network
    fails = bad.verdict.worst < 0.0
    single = one_at_a_time(network, context.spreads)
    knobs = [(n, k) for n, k in (("store", holding.storage(network)), ("move", holding.changeover(network))) if k]
    others = holding.measures(network) if fails else Batch((), {}, 0)
    tried = [single, *(k.batch(k.factors) for _, k in knobs), others]
    scores, holds = _scores(context, mask, bad.outage, tried)
    reach = [(name, Reach(knob, holds[1 + j])) for j, (name, knob) in enumerate(knobs)]
    mends = others.take(np.flatnonzero(holds[-1])[:MENDS])
    finer = [r.between(upper=name == "move") for name, r in reach]
    if any(len(f) for f in finer):
        _, fine = _scores(context, mask, bad.outage, [r.knob.batch(f) for (_, r), f in zip(reach, finer)])
        reach = [(name, r.joined(f, h)) for (name, r), f, h in zip(reach, finer, fine)]
    effects = scores[0][1:] - scores[0][0]
    order = [int(j) for j in np.argsort(-np.abs(effects), kind="stable") if abs(effects[j]) > WORTH_TELLING][:8]
    told = tuple((single.labels[1 + j], float(effects[j])) for j in order)
    return told, None if fails else _corner(context, mask, bad.outage, effects, order), reach, mends


def _everywhere(
    context: Context, mask: Mask, reach: list[tuple[str, Reach]], others: Batch, outages: list[Outage]
) -> Found:
    """Whether what holds in the worst outage holds in every other too: the new worst would else go unseen."""
    edges = [(r, r.largest() if name == "move" else r.smallest()) for name, r in reach]
    values = [r.knob.batch(np.array([at])) if at is not None else None for r, at in edges]
    tried = [b for b in values if b is not None] + ([others] if others.count else [])
    if not tried:
        return Found(reach, [None] * len(reach), (), ())
    batch, n = join(context.network, tried), len(outages)
    wide = batch.take(np.repeat(np.arange(batch.count), n))
    rides = ride(context.network, wide, tuple(outages) * batch.count, keep=False, stop_below=GIVE_UP * mask.deepest)
    fails: list[Outage | None] = []
    for c in range(batch.count):
        cases = range(c * n, (c + 1) * n)
        bad = (k for k in cases if not (rides.stands[k] and hold(rides, k, mask).verdict.worst >= 0.0))
        first = next(bad, None)
        fails.append(None if first is None else rides.outages[first])
    ahead = iter(fails)
    of_reach = [next(ahead) if b is not None else None for b in values]
    return Found(reach, of_reach, others.labels, tuple(ahead))


def _corner(context: Context, mask: Mask, outage: Outage, effects: Array, order: list[int]) -> Corner:
    """Ride the corner that single figures point to, and random ones."""
    network, spreads = context.network, context.spreads
    moved = np.array([1.0 if s.high > s.nominal else -1.0 for s in spreads])
    guided = np.where(effects < 0.0, moved, np.where(effects > 0.0, -moved, 0.0))
    signs = np.vstack([guided[None], random_signs(CHECKS, spreads, context.rng)])
    rides = ride(network, corner(network, spreads, signs), (outage,) * len(signs), keep=False)
    judged = [hold(rides, k, mask) if stands else None for k, stands in enumerate(rides.stands)]
    k = min(range(len(signs)), key=lambda j: -np.inf if (one := judged[j]) is None else one.score)
    label = ", ".join(spreads[j].said(float(signs[k, j])) for j in order[:5] if signs[k, j] != 0.0)
    return Corner(judged[k], outage, label or "nominal", k != 0, rides, k)


def _scores(
    context: Context, mask: Mask, outage: Outage, batches: list[Batch]
) -> tuple[list[Array], list[NDArray[np.bool_]]]:
    """Score of every case of some batches in one outage, minus infinity without a start, and whether it holds."""
    batch = join(context.network, batches)
    rides = ride(context.network, batch, (outage,) * batch.count, keep=False, stop_below=GIVE_UP * mask.deepest)
    scores, holds = np.full(batch.count, -np.inf), np.zeros(batch.count, dtype=bool)
    for k in np.flatnonzero(rides.stands).tolist():
        one = hold(rides, k, mask)
        scores[k] = one.score
        holds[k] = one.ended and one.verdict.worst >= 0.0
    cuts = np.cumsum([b.count for b in batches])[:-1]
    return np.split(scores, cuts), np.split(holds, cuts)


def _series(rides: Rides, k: int, edge: Corner | None) -> tuple[Series, ...]:
    out = []
    for name, source, case in (
        ("load, nominal", rides, k),
        *((("load, worst corner", edge.rides, edge.at),) if edge and edge.judged else ()),
    ):
        t, v = source.wave(case)
        out.append(Series(name, "time", "s", "V", tuple(t.tolist()), tuple(v.tolist())))
    return tuple(out)
