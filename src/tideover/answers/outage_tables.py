"""Tables of the outage answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from tideover.answers import blame
from tideover.answers.base import OPEN, Table, judged
from tideover.answers.mask import Mask
from tideover.answers.outage_said import tidy
from tideover.answers.rides import LOSS, Event, Rides
from tideover.network import Network
from tideover.quantity import show
from tideover.solve import OUTCOMES

if TYPE_CHECKING:
    from tideover.answers.outage import Judged


def verdicts(mask: Mask, tight: float, rides: Rides, every: Mapping[int, Judged]) -> Table:
    """Every outage in a row."""
    columns = (
        ("pack, load", ""),
        ("back after", "s"),
        ("lowest", "V"),
        ("highest", "V"),
        *((f"below {show(level, 'V')}, at most {show(allowed, 's')}", "s") for level, allowed in mask.steps),
        ("margin", "V"),
        ("verdict", ""),
    )
    rows: list[tuple[Any, ...]] = []
    for k, outage in enumerate(rides.outages):
        one = every.get(k)
        if one is None:
            rows.append((outage.begins, outage.gap, *[None] * (len(columns) - 3), OUTCOMES[int(rides.standing[k])]))
            continue
        v = one.verdict
        status = judged(v.worst, tight) if one.ended or v.worst < 0.0 else OPEN
        rows.append((outage.begins, outage.gap, tidy(v.lowest), v.highest, *v.below, v.worst, status))
    return Table("Outages tried", columns, tuple(rows))


def bears(mask: Mask) -> Table:
    """What the load bears: its window, and how long it may stay below each limit of its dips."""
    rows: list[tuple[Any, ...]] = [("above its window", mask.high, 0.0)]
    for k, (level, allowed) in enumerate(mask.steps):
        rows.append(("below its window" if k == 0 else "in a dip, below", level, allowed))
    return Table("What the load bears", (("the load is", ""), ("limit", "V"), ("for at most", "s")), tuple(rows))


def sequence(network: Network, rides: Rides, k: int, most: int = 40) -> Table:
    """Who switched when, in the worst outage."""
    t, v = rides.wave(k)
    gap = rides.outages[k].gap
    marks = [(LOSS, "mains", "is lost"), (LOSS + gap, "mains", "is back")]
    events: list[Event] = list(rides.events(k))
    rows = [(at, part, what) for at, part, what in marks if at <= t[-1]]
    rows += [(e.t, e.part, f"{e.before} → {e.after}") for e in events[:most]]
    rows.sort(key=lambda r: r[0])
    level = np.interp([r[0] for r in rows], t, v)
    title = f"Events: {rides.outages[k].label}"
    if len(events) > most:
        title += f" (the first {most} of {len(events)})"
    body = tuple((at - LOSS, part, what, tidy(float(u))) for (at, part, what), u in zip(rows, level))
    return Table(title, (("after the loss", "s"), ("part", ""), ("what", ""), ("load", "V")), body)


def phase_table(network: Network, rides: Rides, k: int, most: int = 25) -> Table:
    """Where the time goes in the worst outage."""
    t, _ = rides.wave(k)
    found = blame.phases(network, rides.events(k), float(t[-1]))[:most]
    rows = tuple((p.start - LOSS, p.words, p.length) for p in found)
    return Table("Where the time goes", (("after the loss", "s"), ("phase", ""), ("lasts", "s")), rows)


def contributors(effects: Sequence[tuple[str, float]]) -> Table:
    """Which figures move the margin of the worst outage most; nothing stands where the change is without limit."""
    columns = (("figure, alone at its limit", ""), ("change", "V"))
    rows = tuple((what, change if np.isfinite(change) else None) for what, change in effects)
    return Table("What moves the margin most", columns, rows)


def ledger(rides: Rides) -> Table:
    """Energy and work of every march."""
    columns = (
        ("outage", ""),
        ("steps", ""),
        ("supplied", "J"),
        ("delivered", "J"),
        ("heat", "J"),
        ("from store", "J"),
        ("unaccounted over throughput", ""),
    )
    waves = rides.waves
    if waves is None:
        return Table("Energy ledger", columns, ())
    rows = []
    for k in np.flatnonzero(rides.stands).tolist():
        p = rides.position(k)
        rows.append(
            (
                rides.outages[k].label,
                int(waves.steps[p]),
                float(waves.supplied[p]),
                float(waves.delivered[p]),
                float(waves.heat[p]),
                float(-(waves.stored[p] - waves.switching[p])),
                float(abs(waves.imbalance[p]) / waves.throughput[p]),
            )
        )
    return Table("Energy ledger", columns, tuple(rows))
