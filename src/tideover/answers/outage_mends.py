"""What the outage answer says about tolerances and about what would hold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tideover.answers.base import FAILS, HOLDS, OPEN, Finding, judged
from tideover.answers.context import Context
from tideover.answers.holding import Reach
from tideover.answers.mask import Mask
from tideover.answers.outage_said import spell, tight
from tideover.quantity import show, show_range

if TYPE_CHECKING:
    from tideover.answers.outage import Corner, Found, Judged
    from tideover.answers.rides import Outage

DIODES = "join adapter and pack through diodes, so that the pack conducts before the adapter is gone"


def corner_judged(context: Context, mask: Mask, edge: Corner, effects: Sequence[tuple[str, float]]) -> Finding:
    """The worst outage with every declared tolerance against it."""
    strongest = "; ".join(_effect(*e) for e in effects[:3]) or "no declared tolerance moves it"
    odd = "; a random corner is worse than the one that single figures point to" if edge.surprised else ""
    checks = edge.rides.batch.count - 1
    common = Finding(
        name="load drops out in the worst corner of the tolerances",
        status=FAILS,
        subject=context.network.need.at,
        state=edge.outage.label,
        quantity="voltage at the load",
        unit="V",
        case=edge.label,
        why=f"in this corner the supply has no lasting state even with mains present: {strongest}",
        mend="Tighten the first figure named, or leave more reserve there.",
        source=f"extreme value over the spreads, {checks} random corners as a check",
        place=context.need_place,
    )
    if edge.judged is None:
        return common
    v = edge.judged.verdict
    low = v.margin <= v.over
    status = judged(v.worst, tight(mask))
    if status != FAILS and not edge.judged.ended:
        status = OPEN
    return replace(
        common,
        status=status,
        quantity="voltage at the load" + spell(v) if low else "highest voltage at the load",
        value=v.level + v.margin if low else v.highest,
        limit=v.level if low else mask.high,
        margin=v.worst,
        why=strongest + odd,
        mend=common.mend if status == FAILS else "",
    )


def _effect(what: str, change: float) -> str:
    if not np.isfinite(change):
        return f"{what} leaves no lasting state to begin with"
    return f"{what} moves it by {show(change, 'V')}"


def would_hold(context: Context, found: Found, bad: Judged) -> list[Finding]:
    """Smallest storage, slowest changeover, and other changes that hold in the worst outage, and in all others."""
    out = [
        _storage(context, r, bad, fails) if name == "store" else _changeover(context, r, bad, fails)
        for (name, r), fails in zip(found.reach, found.reach_fails)
    ]
    if bad.verdict.worst >= 0.0:
        return out
    good = [m for m, fails in zip(found.mends, found.mends_fail) if fails is None]
    fewest = [m for m in good if m.count(", with ") == good[0].count(", with ")] if good else []
    if fewest:
        why = "every outage holds with " + "; or with ".join(fewest[:3])
    elif found.mends:
        fails = next(f for f in found.mends_fail if f is not None)
        why = f"the worst outage holds with {found.mends[0]}, but another then fails: {fails.label}"
    else:
        why = "early release, longer trip delays, a lower lockout, a larger adapter and four times the storage were "
        why += "tried as far as the drawing has them, alone and up to three together; none holds"
    out.append(
        Finding(
            name="no small change mends the outages",
            status=HOLDS if fewest else FAILS,
            subject=context.network.need.at,
            state=bad.outage.label,
            quantity="changes tried that hold",
            value=float(len(good)),
            why=why,
            mend="" if fewest else f"Change the way of changing over: {DIODES}.",
            source="marches of every outage with each change made",
        )
    )
    return out


def _elsewhere(fails: Outage | None) -> str:
    return f"; not so with {fails.label}" if fails is not None else "; every other outage holds with it too"


def _storage(context: Context, found: Reach, bad: Judged, fails: Outage | None) -> Finding:
    knob, smallest = found.knob, found.smallest()
    tried = show_range(knob.shown * float(knob.factors[0]), knob.shown * float(knob.factors[-1]), knob.unit)
    limit = None if smallest is None else knob.shown * smallest
    return Finding(
        name="storage before the load is too small",
        status=FAILS if smallest is None or (limit is not None and limit > 1.001 * knob.shown) else HOLDS,
        subject=knob.part,
        state=bad.outage.label,
        quantity=knob.quantity,
        value=knob.shown,
        unit="F",
        limit=limit,
        margin=None if limit is None else knob.shown - limit,
        why=f"no capacitance from {tried} makes this outage hold by itself"
        if limit is None
        else f"the smallest that holds in this outage is {show(limit, 'F')}, nominal"
        + ("" if smallest != knob.factors[0] else ", or less")
        + _elsewhere(fails),
        mend=f"Storage is not the cure here: {DIODES}."
        if limit is None
        else f"Take at least {show(limit, 'F')} and add its tolerance and ageing.",
        source=f"search from {tried}, series resistance falling as the capacitance rises",
        place=context.place(knob.part),
    )


def _changeover(context: Context, found: Reach, bad: Judged, fails: Outage | None) -> Finding:
    knob, largest = found.knob, found.largest()
    limit = None if largest is None else knob.shown * largest
    return Finding(
        name="changeover is too slow",
        status=FAILS if limit is None or limit < 0.999 * knob.shown else HOLDS,
        subject=knob.part,
        state=bad.outage.label,
        quantity=knob.quantity,
        value=knob.shown,
        unit="s",
        limit=limit,
        margin=None if limit is None else limit - knob.shown,
        why=f"not even {show(knob.shown * float(knob.factors[0]), 's')} holds: the time is lost elsewhere"
        if limit is None
        else f"the slowest that holds in this outage is {show(limit, 's')}"
        + ("" if largest != knob.factors[-1] else ", or slower")
        + _elsewhere(fails),
        mend=f"A faster part alone does not help: {DIODES}, or let the coil go early." if limit is None else "",
        source="search over the times of that part, all scaled together",
        place=context.place(knob.part),
    )
