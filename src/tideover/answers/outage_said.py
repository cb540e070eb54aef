"""What the outage answer says: findings and tables from outages that were ridden and judged."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from tideover.answers import blame
from tideover.answers.base import FAILS, HOLDS, OPEN, Finding, judged
from tideover.answers.context import Context
from tideover.answers.limits import WINDOW_TIGHT
from tideover.answers.mask import Mask, Verdict
from tideover.answers.rides import LOSS, TRIES, Rides
from tideover.cases import written
from tideover.network import Network
from tideover.quantity import show
from tideover.solve import OUTCOMES

if TYPE_CHECKING:
    from tideover.answers.outage import Judged

SOURCE = "window and dips of the build's need"
NO_DIPS = "no dips are stated, so the load counts as out as soon as it leaves its window"


def tight(mask: Mask) -> float:
    """Margin below which a pass is tight. [V]"""
    return WINDOW_TIGHT.value * (mask.high - mask.low)


def tidy(volts: float) -> float:
    """A dead node rests within rounding of 0 V: less than a microvolt is 0."""
    return 0.0 if abs(volts) < 1e-6 else volts


# --- before anything happens -------------------------------------------------------------------------


def not_standing(context: Context, rides: Rides) -> Iterator[Finding]:
    """States in which the supply does not even stand while mains is present, those of a kind in one finding."""
    longest = max(o.gap for o in rides.outages)
    adapter = context.adapters[0]
    unsolved = OUTCOMES.index("not converged")
    for code in (1, unsolved):
        states = [
            f"pack {o.charge}, {o.level} load"
            for k, o in enumerate(rides.outages)
            if o.gap == longest and rides.standing[k] != 0 and (rides.standing[k] == unsolved) == (code == unsolved)
        ]
        if not states:
            continue
        yield Finding(
            name="supply does not stand before mains is lost",
            status=OPEN if code == unsolved else FAILS,
            subject=adapter.name,
            state=f"mains present: {'; '.join(states)}",
            quantity="states without a standing point",
            value=float(len(states)),
            limit=0.0,
            margin=-float(len(states)),
            why="the search for a standing point did not converge, so these outages could not be judged"
            if code == unsolved
            else "with mains present there is no lasting state: the adapter cannot feed the load and the charger at "
            "once, or something hunts; after an outage the pack is in such a state",
            mend="See what the answer on the adapter's budget asks for: less charge current or a larger adapter."
            if code != unsolved
            else "",
            source="standing point of the whole network",
            place=context.place(adapter.name),
        )


def nothing_stands(rides: Rides) -> str:
    """Headline when no outage could be ridden."""
    if (rides.standing == OUTCOMES.index("not converged")).all():
        return "Could not be judged: no standing point with mains present was found to start from."
    return "Before mains is even lost the supply has no lasting state, at any charge of the pack."


# --- the outages themselves --------------------------------------------------------------------------


def events_judged(context: Context, mask: Mask, every: Mapping[int, Judged], rides: Rides, k: int) -> list[Finding]:
    """Loss, return, over-voltage, resets, hiccup and marches that broke off."""
    out = [
        _phase(context, mask, every, rides, "lost"),
        _phase(context, mask, every, rides, "back"),
    ]
    high = min(every, key=lambda j: every[j].verdict.over)
    v = every[high].verdict
    out.append(
        Finding(
            name="load sees too much voltage",
            status=judged(v.over, tight(mask)),
            subject=context.network.need.at,
            state=every[high].outage.label,
            quantity="highest voltage at the load",
            value=v.highest,
            unit="V",
            limit=mask.high,
            margin=v.over,
            why=f"its voltage peaks {_when(v.highest_at, every[high])}",
            mend="" if v.over >= 0.0 else "Lower the set voltage or the adapter's, or clamp the output.",
            source=SOURCE,
            place=context.need_place,
        )
    )
    out += _resets(context, every, rides)
    out += _broken_off(context, every)
    return out


def _phase(context: Context, mask: Mask, every: Mapping[int, Judged], rides: Rides, when: str) -> Finding:
    """The worst excursion while mains is away, or after it is back."""

    def part(j: Judged) -> Verdict:
        return j.loss if when == "lost" else j.back

    alive = {j: one for j, one in every.items() if when == "lost" or one.loss.back}
    if not alive:
        return _stays_down(context, every, rides)
    k = min(alive, key=lambda j: (round(part(every[j]).margin, 3), -every[j].outage.gap))
    one, v = every[k], part(every[k])
    status = judged(v.margin, tight(mask))
    trigger = LOSS if when == "lost" else LOSS + one.outage.gap
    why, subject = _why(context.network, rides, k, v, trigger, status == FAILS)
    return Finding(
        name="load drops out when mains is lost" if when == "lost" else "load drops out when mains returns",
        status=status,
        subject=subject,
        state=f"{one.outage.label}; {_when(v.since if np.isfinite(v.since) else v.lowest_at, one, when == 'lost')}",
        quantity="voltage at the load" + spell(v),
        value=tidy(v.level + v.margin),
        unit="V",
        limit=v.level,
        margin=v.margin,
        why=why + ("" if context.network.need.dips else f"; {NO_DIPS}"),
        mend="" if status != FAILS else "The answer `outage` in depth lists what would hold.",
        source=SOURCE,
        place=context.need_place,
    )


def _stays_down(context: Context, every: Mapping[int, Judged], rides: Rides) -> Finding:
    """Every outage took the load down before mains was back: does it at least return?"""
    down = {j: one for j, one in every.items() if not one.verdict.back} or dict(every)
    k = max(down, key=lambda j: down[j].outage.gap)
    _, v = rides.wave(k)
    events, one = rides.events(k), every[k]
    kept = blame.hiccup(events, LOSS + one.outage.gap) or "; ".join(blame.keeps_down(context.network, events))
    returns = one.verdict.back
    return Finding(
        name="load stays down when mains returns",
        status=HOLDS if returns else FAILS,
        subject=context.network.need.at,
        state=one.outage.label,
        quantity="voltage at the load at the end",
        value=tidy(float(v[-1])),
        unit="V",
        limit=context.network.need.window[0],
        margin=float(v[-1]) - context.network.need.window[0],
        why="it was down before mains came back"
        + ("" if returns else f" and stays down: {kept or 'no part says why'}"),
        source=SOURCE,
        place=context.need_place,
    )


def _why(network: Network, rides: Rides, k: int, v: Verdict, trigger: float, failed: bool) -> tuple[str, str]:
    """One sentence on an excursion, and the part it is about."""
    events = rides.events(k)
    t, _ = rides.wave(k)
    found = blame.phases(network, events, float(t[-1]))
    out = v.since if np.isfinite(v.since) else v.lowest_at
    back = out + v.stayed
    root = blame.cause(found, trigger, out, max(back, v.lowest_at))
    said = blame.told(root) if root else blame.last_to_switch(events, v.lowest_at)
    subject = root.part if root else network.need.at
    if failed and v.since < LOSS:
        return f"it is below {show(v.level, 'V', 4)} while mains is still present", network.need.at
    if not failed:
        return f"at its lowest, {show(v.lowest, 'V', 4)}, {said}", subject
    rush = blame.inrush(network, found, back)
    if rush:
        said += f"; then {rush.part} takes the rush into empty capacitors for a fault and trips after "
        said += show(rush.length, "s")
    if v.back:
        return f"{said}; below {show(v.level, 'V', 4)} for {show(v.stayed, 's')}", subject
    kept = blame.keeps_down(network, events)
    restless = blame.hiccup(events, trigger)
    tail = restless or "; ".join(kept)
    return f"{said}; it does not come back{': ' + tail if tail else ''}", subject


def _when(t: float, one: Judged, lost: bool = False) -> str:
    """An instant counted from the loss or the return of mains."""
    back = LOSS + one.outage.gap
    if t >= back and not lost:
        return f"{show(t - back, 's')} after mains is back"
    return f"{show(t - LOSS, 's')} after mains is lost" if t >= LOSS else "before mains is lost"


def _resets(context: Context, every: Mapping[int, Judged], rides: Rides) -> Iterator[Finding]:
    for load in context.loads:
        limit = written(context.network, (load.name, "resets_below"))
        if limit <= 0.0:
            continue
        hits = {k: [e.t for e in rides.events(k) if e.part == load.name and e.after == "reset"] for k in every}
        k = max(hits, key=lambda j: len(hits[j]))
        times = hits[k]
        yield Finding(
            name="load resets",
            status=FAILS if times else HOLDS,
            subject=load.name,
            state=f"{every[k].outage.label}; {_when(times[0], every[k])}" if times else "every outage tried",
            quantity="resets in one outage",
            value=float(len(times)),
            limit=0.0,
            margin=-float(len(times)),
            why=f"its own input falls below {show(limit, 'V')}, after which it is away for "
            + show(written(context.network, (load.name, "reboots_in")), "s")
            if times
            else f"its own input stays above {show(limit, 'V')}",
            source="reset voltage of the load",
            place=context.place(load.name),
        )


def _broken_off(context: Context, every: Mapping[int, Judged]) -> Iterator[Finding]:
    """Marches that did not reach their end; what they showed until then is judged all the same."""
    cut = [j for j in every.values() if not j.ended and j.verdict.worst >= 0.0]
    for j in cut:
        yield Finding(
            name="outage could not be followed to its end",
            status=OPEN,
            subject=context.network.need.at,
            state=j.outage.label,
            quantity="time reached",
            value=j.stopped,
            unit="s",
            limit=j.due,
            margin=j.stopped - j.due,
            why=f"the march stopped {_when(j.stopped, j)}, after {TRIES} steps at most; the load was in its window",
            mend="Look at the parts that switch to and fro at that instant.",
            source="the solver's limit of steps",
        )


def spell(v: Verdict) -> str:
    return "" if v.allowed == 0.0 else f", spells of up to {show(v.allowed, 's')} aside"


def headline(
    context: Context, mask: Mask, every: Mapping[int, Judged], rides: Rides, k: int, found: Sequence[Finding]
) -> str:
    """One line with numbers."""
    bad = every[k]
    v, case = bad.verdict, bad.outage.label
    if v.worst >= 0.0:
        ridden = [j.verdict for j in every.values()]
        low, high = min(r.lowest for r in ridden), max(r.highest for r in ridden)
        text = (
            f"The load stays between {show(low, 'V', 4)} and {show(high, 'V', 4)} in every outage that could be ridden"
        )
        edge = next((f for f in found if f.name.endswith("corner of the tolerances")), None)
        if edge is not None and edge.margin is not None:
            verb = "still holds by" if edge.margin >= 0.0 else "fails by"
            text += f"; the worst corner {verb} {show(abs(edge.margin), 'V')}"
        blocked = sum(f.value or 0.0 for f in found if f.name.startswith("supply does not stand"))
        return text + (f"; {blocked:.0f} states do not stand at all with mains present." if blocked else ".")
    if v.margin > v.over:
        return f"The load sees {show(v.highest, 'V', 4)}, its limit is {show(mask.high, 'V', 4)} ({case})."
    stay = "and does not come back" if not v.back else f"for {show(v.stayed, 's')}"
    start = _when(v.since, bad) if np.isfinite(v.since) else ""
    cause = _why(context.network, rides, k, v, LOSS, True)[0].split(";")[0]
    return f"The load falls below {show(v.level, 'V', 4)} {start} {stay} ({case})" + (f": {cause}." if cause else ".")
