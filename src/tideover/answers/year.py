"""Over a year of outages, how often does the load drop?

Asks what
    How often a year the load is lost, and for how long, with the outages that the build file states or logs: now, after
    the years asked for, and in the cold months of that last year; how likely the next outage is bridged, when the
    first one is not, and what more cells or a quicker charger would change.

Why it matters
    A pack that lasts for most outages is not full again when the next one comes the same evening. Winter and age take
    from it as well, and a load that reboots at every changeover loses a minute each time.

How computed
    The whole network is marched from full to empty and back until its charger ends, in the coldest, the middle and the
    warmest room, new and aged, and with each change. From these curves of charge over time the pack is carried through
    every outage of hundreds to thousands of years drawn from the pattern, or through those of the log; its charge goes
    on from one outage to the next. The room follows a sine over the year between its limits, coldest where the year
    turns. Cells age by standing and by the cycles that the outages make. One full march shows whether the changeover
    itself drops the load; then every outage is a loss. Time lost counts until the load has booted again. All cases meet
    the same outages, so that their differences are not chance.

Blind spots
    A log says little about other years, and a pattern less: the interval is that of the draw alone. Outages come evenly
    over the year. A year begins with a full pack. Not counted are a pack that has sunk below full between the end of
    its charge and the restart, faults that nobody has noticed, and a supply that does not start from empty: see
    recharge, faults and start. Parts are nominal and the load is at its mean. Cycles wear the pack as those of its
    first year do.

An example that trips it
    Five hours of pack, ten hours to fill it, and planned cuts of four hours at noon and at six in the evening: the
    second finds the pack at two fifths.

Cure
    A changeover without a gap, more cells, a quicker charger with an adapter to match, a smaller load.

Source
    Interruptions and minutes a year as the indices of IEEE 1366, which calls more than five minutes sustained; typical
    outages from public statistics, their clustering and the momentary ones unverified; laws of ageing as stated with
    them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states, year_said, year_tables
from tideover.answers.base import HOLDS, OPEN, Answer, worst
from tideover.answers.context import Context
from tideover.answers.mask import Mask
from tideover.answers.outage import hold
from tideover.answers.packs import charger_of
from tideover.answers.rides import LOSS, Outage, gaps, ride
from tideover.answers.year_course import Course, Curves, course
from tideover.answers.year_events import YEAR, Events, draw, how_many_years, replayed
from tideover.answers.year_figures import Figures, Switch, figures, lost, without_backup
from tideover.answers.year_pack import MONTHS, Measured, measure, month_temps, season_weights
from tideover.answers.year_wear import Use, Wear, wear
from tideover.cases import nominal, written
from tideover.design import outages
from tideover.design.model import Outages

Array = NDArray[np.float64]
Key = tuple[str, str]
AGES = 5
"""Ages reckoned with, evenly from new to the years asked for."""
CHANGES = ("half as many cells again", "twice the cells", "half as much charge current again")


@dataclass(frozen=True)
class Year:
    """All that is told.

    Attributes
    ----------
    stated : bool
        Whether the build file says anything about outages.
    ages : array
        From new to the years asked for. [s]
    wear : dict
        Of each pack at those ages.
    curves : Curves
        Age a in month m at ``12 a + m``; then those of the changes, at the last age.
    by_age, changes, mains
        Figures at each age; of each change, by name, at the last age; and with nothing but the adapter.
    course : Course
        Of all ages, then of all changes.
    log : tuple or None
        The log's own outages, and what became of them at the first and the last age.
    """

    pattern: Outages
    stated: bool
    events: Events
    switch: Switch
    ages: Array
    wear: dict[str, Wear]
    fresh: Measured
    worn: Measured
    curves: Curves
    course: Course
    by_age: list[Figures]
    changes: dict[str, Figures]
    mains: Figures
    log: tuple[Events, Course] | None


def answer(context: Context) -> Answer:
    """How often the load drops over a year of outages; see the top of this file."""
    network = context.network
    if not context.adapters:
        return Answer("year", OPEN, "There is no adapter in the drawing, so no mains that could fail.")
    if not states.of_kind(network, "pack"):
        return Answer("year", OPEN, year_said.NO_PACK)
    year = reckon(context)
    return told(context, year) if year else Answer("year", HOLDS, year_said.NEVER)


def told(context: Context, year: Year) -> Answer:
    """What was reckoned, in findings and tables."""
    found = year_said.findings(context, year)
    return Answer(
        "year",
        worst(f.status for f in found),
        year_said.headline(context, year),
        tuple(found),
        year_tables.tables(context, year),
        year_tables.series(year),
    )


def reckon(context: Context) -> Year | None:
    """Draw the outages, march for the curves, carry the pack through; None where mains never fails."""
    network = context.network
    stated = network.need.outages
    pattern = stated or outages.typical(network.need.place)
    events = draw(pattern, how_many_years(pattern), context.rng)
    if not events.real.any():
        return None
    fresh = measure(network, [{}])
    seasons = season_weights(network)
    new = fresh.curves.blend(seasons)
    ages = np.linspace(0.0, network.need.years * YEAR, AGES)
    first = course(new, np.arange(MONTHS)[None], events)
    temps, use = month_temps(network), _use(first, new, events)
    worn = {p.name: wear(network, p, ages, temps, use) for p in states.of_kind(network, "pack")}
    old: dict[Key, float] = {}
    for name, w in worn.items():
        old[name, "health"], old[name, "growth"] = float(w.health[-1]), float(w.growth[-1])
    changes = _changes(context)
    aged = measure(network, [old, *({**old, **change} for change in changes.values())])
    curves = _all_curves(fresh, aged, seasons, worn)
    cases = AGES + len(changes)
    table = np.arange(cases * MONTHS).reshape(cases, MONTHS)
    followed = course(curves, table, events)
    switch = _switch(context)
    flags, time = lost(followed, events, switch)
    spared = flags & (followed.short > 0.0) & (followed.short_if_full <= 0.0) & (not (switch.lost or switch.back))
    logged = pattern.log.lasts if pattern.log else None
    every = figures(flags, time, events, spared, logged)
    log = None
    if pattern.log:
        own = replayed(pattern.log)
        log = own, course(curves, table[[0, AGES - 1]], own)
    return Year(
        pattern,
        stated is not None,
        events,
        switch,
        ages,
        worn,
        fresh,
        aged,
        curves,
        followed,
        every[:AGES],
        dict(zip(changes, every[AGES:])),
        figures(*without_backup(events, switch), events, logged=logged)[0],
        log,
    )


def _use(new: Course, curves: Curves, events: Events) -> Use:
    """What a year asks of the pack, over its full charge."""
    full = float(curves.at_fall[:, -1].mean())
    given = np.where(events.real, new.begin - new.end, 0.0)[0]
    number = max(int(events.real.sum()), 1)
    depth = min(float(given.sum()) / number / max(full, 1e-3), 1.0)
    return Use(float(given.sum()) / len(given) * YEAR / events.lasts, max(depth, 1e-3), float(curves.left.mean()))


def _changes(context: Context) -> dict[str, Mapping[Key, float]]:
    """Changes whose effect is told: more cells side by side, a larger charge current."""
    network = context.network
    packs = states.of_kind(network, "pack")
    out: dict[str, Mapping[Key, float]] = {}
    for name, factor in zip(CHANGES, (1.5, 2.0)):
        out[name] = {(p.name, "parallel"): factor * written(network, (p.name, "parallel")) for p in packs}
    chargers = [c for p in packs if (c := charger_of(network, p)) is not None]
    if chargers:
        out[CHANGES[2]] = {
            (c.name, "charge_current"): 1.5 * written(network, (c.name, "charge_current")) for c in chargers
        }
    return out


def _all_curves(fresh: Measured, aged: Measured, seasons: Array, worn: Mapping[str, Wear]) -> Curves:
    """Every age and every change in every month, from the marches in three rooms, new and aged."""
    health = next(iter(worn.values())).health
    span = health[0] - health[-1]
    share: Array = (health[0] - health) / span if span > 1e-9 else np.linspace(0.0, 1.0, len(health))
    measured = Curves(*(np.concatenate([getattr(m.curves, f.name) for m in (fresh, aged)]) for f in fields(Curves)))
    variants = len(measured.left) // 3
    rows = np.zeros((len(share) + variants - 2, variants))
    rows[: len(share), 0], rows[: len(share), 1] = 1.0 - share, share
    rows[len(share) :, 2:] = np.eye(variants - 2)
    weights: Array = np.asarray(np.kron(rows, seasons), dtype=float)
    return measured.blend(weights)


def _switch(context: Context) -> Switch:
    """One full march of an outage with the pack full: whether the changeover drops the load."""
    network = context.network
    gap = gaps(network)[-1]
    rides = ride(network, nominal(network), (Outage("full", states.MEAN, gap),))
    reboot = max((written(network, (p.name, "reboots_in")) for p in context.loads), default=0.0)
    delay = max(
        written(network, (a.name, "start_delay")) + written(network, (a.name, "rise_time")) for a in context.adapters
    )
    if not rides.stands[0]:
        return Switch(True, True, reboot, delay, stands=False)
    judged = hold(rides, 0, Mask.of(network.need))
    resets = [e.t for e in rides.events(0) if e.machine == "work" and e.after == "reset"]
    at_loss = judged.loss.worst < 0.0 or any(t <= LOSS + gap for t in resets)
    at_return = judged.back.worst < 0.0 or any(t > LOSS + gap for t in resets) or not judged.ended
    return Switch(at_loss, at_return, reboot, delay)
