"""Findings and headline of the recharge answer."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from tideover.answers import states
from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Finding
from tideover.answers.context import REACHED, Context
from tideover.answers.limits import (
    CHARGE_SHORT,
    CYCLES_TIGHT,
    FULL_AGAIN,
    RECHARGE_TIGHT,
    RECHARGE_USUAL,
    RESTART_SOON,
)
from tideover.answers.recharge_next import before_the_next
from tideover.answers.recharge_read import (
    ENDS,
    FAILED,
    FLOATS,
    GIVES_UP,
    HANGS,
    IDLE,
    NO_POINT,
    SHORT,
    SINKS,
    Recharge,
)
from tideover.answers.restraint import SET, TAPER, held_share
from tideover.answers.runs import LONGEST, YEAR
from tideover.answers.states import Setting
from tideover.cases import written
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.answers.recharge import Told

SOURCE = "recharge with mains present, from the charge at which a run on the pack ends until the charger ends"
GIVES = 0.02
"""Current a pack may give at a peak before it is worth a word. [A]"""
OWN_FULL = 0.95
"""Below this a full charge needs a word of explanation. [-]"""
BAD = (GIVES_UP, NO_POINT, SHORT, SINKS, IDLE)
"""Ends at which the pack is not full."""


def findings(context: Context, told: Told) -> list[Finding]:
    """Time of every case, the end of the charge, what holds it back, what follows, runtime regained, temperature."""
    nothing = [c for c in told.cases if c.how in (GIVES_UP, NO_POINT)]
    found = [_no_recharge(context, told, nothing)] if nothing else []
    found += [_in_time(context, told, c, False) for c in told.cases if c not in nothing]
    latest = max(told.corners, key=lambda c: c.full_at)
    if not (nothing and latest.how == nothing[0].how):
        found.append(_in_time(context, told, latest, True))
    if told.median is not None:
        found.append(_after_median(context, told, told.median))
    found += before_the_next(context, max(told.cases, key=lambda c: c.full_at if c.ever_full else 0.0))
    found.append(_never_ends(context, told))
    found += _held_back(context, told)
    found += _starts_again(context, told)
    found += _regained(context, told)
    return [*found, _temperature(context, told)]


def percent(charge: float) -> str:
    """A charge in words; below the foot of its curve a pack is empty.

    Examples
    --------
    >>> percent(0.796), percent(-0.02)
    ('80 %', '0 %')
    """
    return f"{100.0 * max(charge, 0.0):.0f} %"


def lasting(runtime: float) -> str:
    """How long a run lasts; none is followed further than `LONGEST`.

    Examples
    --------
    >>> lasting(7200.0), lasting(400 * 86400.0)
    ('2 h', 'more than 400 d')
    """
    return f"{'more than ' if runtime >= LONGEST else ''}{show(min(runtime, LONGEST), 's')}"


def ending(told: Told, one: Recharge) -> str:
    """How a recharge ends, in words."""
    name, stands = told.charger.name, f"{told.pack.name} at {percent(one.end)}, {show(one.volts, 'V')} a cell"
    full = f"{100 * FULL_AGAIN.value:.0f} % of a full charge"
    at = f"{full} after {show(one.full_at, 's')}" if one.ever_full else f"never at {full}"
    if one.how == ENDS:
        cut = f", because {one.blocked} has cut the charge off" if one.blocked else ""
        return f"{name} ends its charge after {show(one.full_at, 's')}{cut}, {stands}"
    return {
        FLOATS: f"{name} is made to hold its voltage for ever: {stands}; {at}",
        HANGS: f"{name} holds its voltage for ever, {stands}: it gives {show(one.current, 'A')}, of which "
        f"{show(max(one.into, 0.0), 'A')} reach the cells; {at}",
        SHORT: f"{name} never reaches its hold voltage: in the end {show(one.current, 'A')} flow, of which "
        f"{show(max(one.into, 0.0), 'A')} reach the cells, {stands}",
        SINKS: f"the load takes more than {name} gives: the charge of {told.pack.name} goes "
        f"from {percent(one.start)} to {percent(one.end)} while mains is present",
        IDLE: f"{name} is off, its input being too low; {stands}",
        GIVES_UP: f"{one.loop or 'the adapter'} stops in overload and tries again for ever{_when(one)}, and the load "
        f"lives on {told.pack.name} while mains is present",
        NO_POINT: f"the build comes to no rest{f' ({one.loop})' if one.loop else ''}, so nothing is charged",
        FAILED: "the search failed before the charge ended",
    }[one.how]


def _when(one: Recharge) -> str:
    return f", first after {show(one.until, 's')} at {percent(one.end)}" if one.until else ""


# --- in time? ---------------------------------------------------------------------------------------------


def _no_recharge(context: Context, told: Told, nothing: Sequence[Recharge]) -> Finding:
    """Conditions in which nothing is charged with the load attached, in one."""
    one = nothing[0]
    part = one.loop if one.how == GIVES_UP and one.loop else told.charger.name
    why = [ending(told, one)]
    standing = next((s for s in context.states if s.name == states.CHARGING), None)
    if standing is not None:
        burden = float(context.nominal.burden[context.row(Setting(standing, states.MEAN)), 0])
        if burden >= REACHED:
            why.append(f"half full, it would be asked for {100 * burden:.0f} % of what it gives")
    return Finding(
        name="nothing is charged with the load attached",
        status=FAILS,
        subject=part,
        state=f"mains, charging with the load attached, {'; '.join(c.label for c in nothing)}",
        quantity="time until full",
        unit="s",
        limit=context.network.need.recharge,
        why="; ".join(why),
        mend=_faster(context, told, one, None),
        source=SOURCE,
        place=context.place(part),
    )


def _in_time(context: Context, told: Told, one: Recharge, corner: bool) -> Finding:
    """One case against the time asked for. All that is bad at once is unlikely: it makes tight, never fails."""
    asked = context.network.need.recharge
    margin = asked - one.full_at if asked is not None and one.ever_full else None
    if one.how == FAILED:
        status = OPEN
    elif not one.ever_full or (margin is not None and margin < 0.0):
        status = TIGHT if corner else FAILS
    else:
        status = TIGHT if margin is not None and asked and margin < RECHARGE_TIGHT.value * asked else HOLDS
    why = [ending(told, one)]
    if one is told.cases[0]:
        began = f"where the {told.ended_by} left it" if told.ended_by else "near cut-off, no run having come to its end"
        why += [f"it began {began}", *_peaks(context)]
        if one.end < OWN_FULL:
            why.append("100 % is what the cells hold at their own highest voltage")
    if corner and told.alone:
        why.append(f"already with {told.alone[0]} alone it is never full")
    elif corner and told.effects:
        why.append("; ".join(f"{what} alone {_changes(dt)}" for what, dt in told.effects[:3]))
    return Finding(
        name="pack is not full again in time" if asked is not None else "pack is not full again",
        status=status,
        subject=told.pack.name,
        state=f"mains, charging with the load attached, {one.label}",
        quantity="time until full",
        value=one.full_at if one.ever_full else None,
        unit="s",
        limit=asked,
        margin=margin,
        case=one.figures or "nominal",
        why="; ".join(why),
        mend=_faster(context, told, one, asked),
        source=SOURCE,
        place=context.need_place if asked is not None else context.place(told.pack.name),
    )


def _changes(dt: float) -> str:
    return f"{'adds' if dt > 0 else 'takes'} {show(abs(dt), 's')}"


def _faster(context: Context, told: Told, one: Recharge, asked: float | None) -> str:
    """What would have it full in time."""
    name = told.charger.name
    amps = written(context.network, (name, "charge_current"))
    if one.how == FAILED:
        return "Nothing to be mended is known; what is missing is a result of ours."
    if one.how in (GIVES_UP, NO_POINT):
        return f"Take an adapter with a higher current, or set {name} lower; see what the adapter can feed at once."
    if one.how == SHORT and one.current >= CHARGE_SHORT.value * amps:
        takes = show(max(one.current - one.into, 0.0), "A")
        return (
            f"Feed the load from before {name}, or a larger charge current, if adapter and cells bear it: the load "
            f"takes {takes} of the {show(amps, 'A')} that {name} is set to."
        )
    if one.how in (SHORT, IDLE) and told.charger.kind.parameter("type").choices[_type(context, told)] != "boost":
        figures = ("hold_voltage", "dropout")
        least = sum(written(context.network, (name, n)) for n in figures)
        least += written(context.network, (name, "pass_resistance")) * amps
        return (
            f"{name} needs {show(least, 'V')} at its input to give {show(amps, 'A')} up to its hold voltage: an "
            "adapter of a higher voltage, less drop before it, or a charger that needs less headroom."
        )
    if one.how in (SHORT, IDLE, SINKS):
        return f"Feed the load from before {name}, or take a stronger adapter and charger."
    if asked and one.full_at > asked * (1.0 - RECHARGE_TIGHT.value):
        wanted = 1.05 * amps * one.full_at / (asked * (1.0 - RECHARGE_TIGHT.value))  # the tail does not shrink with it
        bear = "if adapter and cells bear it, or fewer cells side by side"
        return f"About {show(wanted, 'A', 2)} of charge current, {bear}."
    return "A higher charge current, if adapter and cells bear it."


def _type(context: Context, told: Told) -> int:
    return int(written(context.network, (told.charger.name, "type")))


def _peaks(context: Context) -> list[str]:
    """What a peak of the load does meanwhile, in words."""
    standing = next((s for s in context.states if s.name == states.CHARGING), None)
    if standing is None or states.PEAK not in states.levels(context.network):
        return []
    k = context.row(Setting(standing, states.PEAK))
    points = context.nominal
    if not points.found[k, 0]:
        over = float(points.burden[k, 0])
        if over >= REACHED:
            return [f"at a peak of the load the adapter is asked for {100 * over:.0f} % of what it gives"]
        return ["at a peak of the load there is no standing point while charging"]
    gives = sum(float(points.q(p.name, "discharge current [A]")[k, 0]) for p in states.of_kind(context.network, "pack"))
    return [f"at a peak the pack gives {show(gives, 'A')} meanwhile"] if gives > GIVES else []


def _after_median(context: Context, told: Told, one: Recharge) -> Finding:
    """Nothing is asked for: told against the usual half day, as an information."""
    limit = RECHARGE_USUAL.value
    late = not one.ever_full or one.full_at > limit
    return Finding(
        name="pack is slow to be full after an ordinary outage",
        status=OPEN if one.how == FAILED else TIGHT if late else HOLDS,
        subject=told.pack.name,
        state=f"mains, charging with the load attached, {one.label}",
        quantity="time until full",
        value=one.full_at if one.ever_full else None,
        unit="s",
        limit=limit,
        margin=limit - one.full_at if one.ever_full else None,
        why=f"the need asks for no time, so the usual half day is taken; 90 % of a full charge "
        f"{_after(one.shares[1])}; {ending(told, one)}",
        mend=_faster(context, told, one, limit),
        source=f"{RECHARGE_USUAL.reason}: {RECHARGE_USUAL.source}",
        place=context.place(told.charger.name, "charge_current"),
    )


def _after(t: float) -> str:
    if not np.isfinite(t):
        return "never"
    return "from the start" if t == 0.0 else f"after {show(t, 's')}"


# --- how it ends, and what follows -----------------------------------------------------------------------------


def _never_ends(context: Context, told: Told) -> Finding:
    """How the charge ends with the load attached; with it off where nothing is charged otherwise."""
    nothing = told.cases[0].how in (GIVES_UP, NO_POINT)
    one = told.unloaded if nothing else told.cases[0]
    fraction, amps = (
        written(context.network, (told.charger.name, n)) for n in ("termination_fraction", "charge_current")
    )
    why = [ending(told, one)]
    if one.how == HANGS:
        why.append(f"it would end at {show(fraction * amps, 'A')}, which it never falls to")
    if one.how in (SHORT, SINKS, IDLE, HANGS) and np.isfinite(told.left):
        why.append(f"a run from there lasts {lasting(told.left)}")
    if one.how in BAD and not nothing:
        why.append(f"with the load off: {ending(told, told.unloaded)}")
    status = OPEN if one.how == FAILED else FAILS if one.how in BAD else TIGHT if one.how == HANGS else HOLDS
    others = () if nothing else (*told.cases[1:], *told.corners)
    differ = [c for c in others if c.how != one.how]
    why += [f"{c.label}: {ending(told, c)}" for c in differ]
    if status == HOLDS and any(c.how in (*BAD, HANGS) for c in differ):
        status = TIGHT
    judged = fraction > 0.0 and one.how in (HANGS, SHORT)
    return Finding(
        name="charger never ends its charge",
        status=status,
        subject=told.charger.name,
        state=f"mains, charging{'' if nothing else ' with the load attached'}, {one.label}",
        quantity="charge current in the end",
        value=None if np.isnan(one.current) else one.current,
        unit="A",
        limit=fraction * amps if judged else None,
        margin=fraction * amps - one.current if judged else None,
        why="; ".join(why),
        mend=_let_it_end(context, told, one),
        source="the charger's own termination; a load on its output is seen by it",
        place=context.place(told.charger.name),
    )


def _let_it_end(context: Context, told: Told, one: Recharge) -> str:
    hanging = one.how == HANGS or one.how == ENDS
    if hanging:
        return (
            f"Feed the load from before {told.charger.name}, or accept that the cells are held, and set the hold "
            "voltage lower for it."
        )
    return _faster(context, told, one, None)


def _starts_again(context: Context, told: Told) -> list[Finding]:
    """After the end: small cycles, or a pack that sinks and is never topped up."""
    r, one = told.after, told.cases[0]
    if r is None:
        return []
    restart = written(context.network, (told.charger.name, "restart_voltage"))
    floats = written(context.network, (told.charger.name, "float_voltage")) > 0.0
    cycles = r.full_cycles(YEAR)
    soon = np.isfinite(r.period) and r.period < RESTART_SOON.value
    status = TIGHT if soon or cycles > CYCLES_TIGHT.value else HOLDS
    low = show(r.volts, "V")
    if r.period == 0.0:
        why = f"the pack rests below the restart voltage of {told.charger.name}, which starts again at once, for ever"
    elif np.isfinite(r.period):
        why = (
            f"the charge of {told.pack.name} goes from {percent(one.end)} to {percent(one.end - r.depth)} "
            f"({low} a cell) in {show(r.period, 's')}, {show(r.drain, 'A')} being drawn from it, then "
            f"{told.charger.name} starts again: {cycles:.3g} full cycles a year"
        )
    else:
        never = "does not start again within a year" if restart else "never starts again"
        then = "goes on to hold its float voltage" if floats else never
        why = (
            f"{told.charger.name} {then}: after a year {told.pack.name} stands at "
            f"{percent(one.end - r.depth)}, {low} a cell"
        )
        if not floats and r.depth > 0.1:
            status = TIGHT
    return [
        Finding(
            name="pack is cycled while mains is present",
            status=status,
            subject=told.charger.name,
            state="mains, full, load attached",
            quantity="time until the charger starts again",
            value=r.period if np.isfinite(r.period) else None,
            unit="s",
            limit=RESTART_SOON.value,
            margin=r.period - RESTART_SOON.value if np.isfinite(r.period) else None,
            why=why,
            mend=f"Feed the load from before {told.charger.name}, or a restart voltage that suits the hold voltage.",
            source=f"standing points from the end of the charge downwards; {CYCLES_TIGHT.reason}",
            place=context.place(told.charger.name, "restart_voltage"),
        )
    ]


# --- current, runtime, temperature ---------------------------------------------------------------------------


def _held_back(context: Context, told: Told) -> list[Finding]:
    """Charge current given against the one that is set, up to the hold voltage."""
    loaded = bool(told.held)
    before = [s for s in told.held_early if s.limit != TAPER]
    if not before:
        return []
    amps = written(context.network, (told.charger.name, "charge_current"))
    time = sum(s.t for s in before)
    mean = sum(s.current * s.t for s in before) / time
    limits = [s for s in before if s.limit != SET]
    short = mean < CHARGE_SHORT.value * amps
    why = "; ".join(
        f"{show(s.current, 'A')} for {show(s.t, 's')} by {s.limit} ({percent(s.low)} to {percent(s.high)})"
        for s in told.held_early
    )
    share = 100.0 * held_share(told.held_early)
    by = limits and max(limits, key=lambda s: s.t).limit
    return [
        Finding(
            name="charge current is held back",
            status=TIGHT if short else HOLDS,
            subject=told.charger.name,
            state=f"mains, charging{'' if loaded else ', load off'}, {told.cases[0].label}",
            quantity="mean charge current until most of the charge is back",
            value=mean,
            unit="A",
            limit=CHARGE_SHORT.value * amps,
            margin=mean - CHARGE_SHORT.value * amps,
            why=f"{told.charger.name}, set to {show(amps, 'A')}, is held back {share:.0f} % of the time: {why}",
            mend=f"Relieve it of {by or 'what holds it back'}, or set it to what it can reach.",
            source="the smallest of the charger's own limits, along the recharge",
            place=context.place(told.charger.name, "charge_current"),
        )
    ]


def _regained(context: Context, told: Told) -> list[Finding]:
    """Runtime after a short recharge: told, not judged."""
    for load in (True, False):
        some = [p for p in told.partial if p.load is load]
        if some:
            break
    else:
        return []
    why = "; ".join(
        f"{show(p.t, 's')} brings {told.pack.name} to {percent(p.charge)} and a run of {lasting(p.runtime)}"
        for p in some
    )
    return [
        Finding(
            name="a short recharge gives little back",
            status=HOLDS,
            subject=told.pack.name,
            state=f"mains, charging{'' if load else ', load off'}, {told.cases[0].label}",
            quantity=f"runtime after {show(some[0].t, 's')} of recharge",
            value=some[0].runtime,
            unit="s",
            why=why,
            source="runs at mean load from the charge reached",
        )
    ]


def _temperature(context: Context, told: Told) -> Finding:
    """Cell temperature while current flows in, in every case, against the window for charging.

    A corner of the tolerances makes tight, never fails.
    """
    known = [c for c in (*told.cases, *told.corners, told.unloaded) if np.isfinite(c.cold)]
    drawn = [c for c in known if c not in told.corners and min(c.cold - c.window[0], c.window[1] - c.warm) < 0.0]
    margin, at, value, limit = np.inf, None, None, None
    for c in drawn or known:
        for spare, kelvin, edge in (
            (c.cold - c.window[0], c.cold, c.window[0]),
            (c.window[1] - c.warm, c.warm, c.window[1]),
        ):
            if spare < margin:
                margin, at, value, limit = spare, c, kelvin, edge
    outside = at is not None and margin < 0.0
    return Finding(
        name="cells are charged too cold or too warm",
        status=OPEN if at is None else FAILS if drawn else TIGHT if outside else HOLDS,
        subject=told.pack.name,
        state=f"mains, charging{'' if at is None or at.load else ', load off'}{', ' + at.label if at else ''}",
        quantity="cell temperature while charging",
        value=value,
        unit="K",
        limit=limit,
        margin=float(margin) if at is not None else None,
        case=(at.figures or "nominal") if at else "nominal",
        why="no recharge could be marched, so its temperature is missing"
        if at is None
        else f"from {show(min(c.cold for c in known), 'K')} to {show(max(c.warm for c in known), 'K')} in all rooms; "
        f"{told.charger.name} is not told to wait"
        if outside
        else f"from {show(min(c.cold for c in known), 'K')} to {show(max(c.warm for c in known), 'K')} in all rooms",
        mend="A charger that measures the cells and waits, or another place for the box; see the answer on the cells.",
        source="the cells' own charging window",
        place=context.place(told.pack.name),
    )


# --- headline ------------------------------------------------------------------------------------------------


def headline(context: Context, told: Told, found: Sequence[Finding]) -> str:
    """One line with numbers."""
    new, asked = told.cases[0], context.network.need.recharge
    if new.how == FAILED:
        return "Could not be judged: the search failed before the charge ended."
    wanted = f"; {show(asked, 's')} are asked for" if asked is not None else ""
    if new.how in (GIVES_UP, NO_POINT):
        off = told.unloaded
        text = f"There is no recharge with the load attached: {ending(told, new)}"
        left = f", enough for a run of {lasting(told.left)}" if off.how in BAD and np.isfinite(told.left) else ""
        return f"{text}. With the load off, {ending(told, off)}{left}."
    if not new.ever_full:
        left = f", enough for a run of {lasting(told.left)}" if np.isfinite(told.left) else ""
        return f"It is never full again with the load attached: {ending(told, new)}{left}{wanted}."
    text = f"Full again after {show(new.full_at, 's')} with the load attached"
    if told.unloaded.ever_full:
        text += f", {show(told.unloaded.full_at, 's')} without"
    late = max(told.corners, key=lambda c: c.full_at)
    text += f", {show(late.full_at, 's')} with everything against it" if late.ever_full else ", never with everything "
    text += "" if late.ever_full else "against it"
    text += wanted
    r = told.after
    if new.how == ENDS:
        again = f" and starts again every {show(r.period, 's')}" if r and 0.0 < r.period < np.inf else ""
        return f"{text}. The charge ends by itself{again}."
    return f"{text}. The charge never ends: the cells are held at {show(new.volts, 'V')} for ever."
