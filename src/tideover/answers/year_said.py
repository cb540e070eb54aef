"""What the answer on a year of outages says: findings and headline."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from tideover.answers import states
from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Finding
from tideover.answers.context import Context
from tideover.answers.limits import FILLED_LEAST, LOSSES_FAIL, LOSSES_SHARE, LOSSES_TIGHT, REFILL_SHARE
from tideover.answers.packs import charger_of
from tideover.answers.year_events import YEAR
from tideover.answers.year_figures import Estimate, Figures, counted, lost
from tideover.answers.year_pack import rooms
from tideover.laws.outages import availability
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.answers.year import Year

COLD = (0, 1, 11)
"""The three coldest months, around the turn of the year."""
SOURCE = "years of outages carried through by the charge curves of the whole network"
NEVER = "Mains never fails by what the need says, so the load never drops."
NO_PACK = "There is no pack in the drawing to carry through a year; what capacitors alone bridge is told by `outage`."
ASSUMED = "the outages are as typical of a good public grid, because the need states none"


def findings(context: Context, year: Year) -> list[Finding]:
    """Losses now, aged and in the cold; the changeover; recharging; the log."""
    every = [
        _losses(context, year, 0),
        _losses(context, year, -1),
        _coldest(context, year),
        _changeover(context, year),
        _filling(context, year),
        _spared(context, year),
        *_log(context, year),
    ]
    if year.fresh.broken or year.worn.broken:
        every.append(_broken(context))
    return every


def number(value: float) -> str:
    """How often, as one says it: ``0.13``, ``2.4``, ``52``, ``none``."""
    if value == 0.0:
        return "none"
    return show(value, "", 2 if value < 100 else 3)


def interval(e: Estimate) -> str:
    """``0.12 to 0.14``; with more digits where two would tell them alike."""
    low, high = (show(x, "", 2) for x in (e.low, e.high))
    return f"{low} to {high}" if low != high else f"{show(e.low, '', 3)} to {show(e.high, '', 3)}"


def limit(context: Context) -> float:
    """Losses a year that may be."""
    asked = context.network.need.losses
    return LOSSES_FAIL.value if asked is None else asked * YEAR


def alert(context: Context) -> float:
    """Losses a year from which on it is tight."""
    asked = context.network.need.losses
    if asked is not None:
        return LOSSES_SHARE.value * asked * YEAR
    return LOSSES_TIGHT.value / max(context.network.need.years, LOSSES_TIGHT.value)


def judged(context: Context, losses: float) -> str:
    """Status of a number of losses a year."""
    return FAILS if losses > limit(context) else TIGHT if losses > alert(context) else HOLDS


def when(year: Year, age: int) -> str:
    return "now" if age == 0 else f"after {show(float(year.ages[age]) / YEAR, '', 3)} years"


def _load(context: Context) -> str:
    return context.loads[0].name if context.loads else context.network.nodes[context.network.at]


def _losses(context: Context, year: Year, age: int) -> Finding:
    f = year.by_age[age]
    status = judged(context, f.losses.mean)
    why = [
        f"95 % interval {interval(f.losses)}",
        f"{show(100 * f.bridged.mean, '', 3)} % of outages are bridged",
        f"{show(f.time.mean, 's')} a year without the load; with the adapter alone {show(year.mains.time.mean, 's')}",
    ]
    if age and year.wear:
        why += [f"{name}: {w.words}" for name, w in year.wear.items()]
    if not year.stated:
        why.append(ASSUMED)
    asked = context.network.need.losses
    rule = f"one a year fails, one in the years asked for is tight ({LOSSES_FAIL.source})"
    return Finding(
        name="load drops too often",
        status=status,
        subject=_load(context),
        state=f"over a year of outages, {when(year, age)}",
        quantity="losses of the load a year",
        value=f.losses.mean,
        limit=limit(context),
        margin=limit(context) - f.losses.mean,
        why="; ".join(why),
        mend=_mend(context, year, f) if status != HOLDS else "",
        source=f"{SOURCE}; limit: {rule if asked is None else 'the need'}",
        place=_place(context, year),
    )


def _place(context: Context, year: Year) -> str:
    where = year.pattern.place if year.stated else context.network.need.place
    return f"{where.path}:{where.line}:{where.column}"


def _mend(context: Context, year: Year, now: Figures) -> str:
    """The smallest of the changes tried that brings the losses of the last year down far enough; or what would."""
    if year.switch.lost or year.switch.back:
        return "Mend the changeover first: see the answer on loss and return of mains."
    aim, last = alert(context), year.by_age[-1].losses.mean
    for goal in (aim, limit(context)):
        for name, f in year.changes.items():
            if f.losses.mean <= goal and f.losses.mean < last:
                left = f"{number(f.losses.mean)} a year" if f.losses.mean else "none"
                return f"{name.capitalize()} would leave {left} in the last year."
    events = year.events
    lengths = np.sort(events.length[events.real])
    allowed = max(int(aim * len(events.start)), 0)
    wanted = float(lengths[-1 - min(allowed, len(lengths) - 1)])
    best = min(year.changes, key=lambda name: year.changes[name].losses.mean)
    said = f"A pack that carries the load for {show(wanted, 's')}, full before every outage, would bring it to"
    said += f" {number(aim)} a year"
    helped = year.changes[best].losses.mean
    return f"{said}; {best}, to {number(helped)}." if helped < last else f"{said}."


def _coldest(context: Context, year: Year) -> Finding:
    """The cold months of the last year, as if all the year were so."""
    f = year.by_age[-1]
    rate = float(f.monthly[list(COLD)].sum()) * 4.0
    status = TIGHT if judged(context, rate) != HOLDS else HOLDS
    return Finding(
        name="load drops too often in the cold months",
        status=status,
        subject=_load(context),
        state=f"the three coldest months, {when(year, -1)}",
        quantity="losses of the load a year, if all the year were so",
        value=rate,
        limit=limit(context),
        margin=limit(context) - rate,
        case="aged, coldest season",
        why=f"the room is taken to follow a sine between {show(rooms(context.network)[0], 'K')} and "
        f"{show(rooms(context.network)[2], 'K')}; the whole year has {number(f.losses.mean)}",
        mend=_mend(context, year, f) if status != HOLDS else "",
        source=SOURCE,
        place=context.need_place,
    )


def _changeover(context: Context, year: Year) -> Finding:
    s = year.switch
    words = {(True, True): "at loss and at return of mains", (True, False): "when mains is lost"}
    said = words.get((s.lost, s.back), "when mains returns")
    fails = s.lost or s.back
    rate = year.mains.losses.mean if fails else 0.0
    return Finding(
        name="every outage drops the load",
        status=FAILS if fails and rate > 0.0 else HOLDS,
        subject=_load(context),
        state="mains lost and back, pack full, mean load",
        quantity="losses a year by the changeover alone",
        value=rate,
        limit=0.0,
        margin=-rate,
        why="with mains present and the pack full the supply has no lasting state to begin with"
        if not s.stands
        else f"the load leaves its window or resets {said}, and is gone for {show(s.reboot, 's')} each time"
        if fails
        else "the load stays up while mains is lost and when it returns",
        mend="See the answer on loss and return of mains." if fails else "",
        source="one march of the whole network through loss and return of mains",
        place=context.need_place,
    )


def _filling(context: Context, year: Year) -> Finding:
    """Whether the empty pack is filled at all with the load attached."""
    m = year.fresh
    taken = m.curves.at_fill[:, -1] - m.curves.at_fill[:, 0]
    missing = m.curves.at_fall[:, -1] - m.curves.at_fill[:, 0]
    least = np.minimum(FILLED_LEAST.value, 0.5 * missing)  # a pack that was hardly emptied has little to take up
    bad = bool((taken < least).any())
    unknown = bad and bool((m.refills.standing == 3).any())
    pack = states.of_kind(context.network, "pack")[0]
    charger = charger_of(context.network, pack)
    subject = charger.name if charger else pack.name
    deep = not bad and not m.fills.all()
    slowest = float(m.curves.fill.max())
    if bad and charger is None:
        why = "nothing in the drawing charges it"
    elif bad and not m.fills.all():
        why = "with mains back, the pack empty and the load at work the supply has no lasting state"
    elif bad:
        why = "what the charger gives does not reach the cells while the load is at work"
    elif deep:
        why = "from where the load stops it is filled, but not from where what is still connected has drained it to"
    else:
        why = f"from empty it takes up to {show(slowest, 's')} new, and every part of it is counted"
    return Finding(
        name="pack is not filled again while the load is at work",
        status=OPEN if unknown else FAILS if bad else TIGHT if deep else HOLDS,
        subject=subject,
        state="mains back, pack empty, mean load",
        quantity="charge taken up from empty",
        value=float(taken.min()),
        limit=float(least[taken.argmin()]),
        margin=float((taken - least)[taken.argmin()]),
        why=why if not unknown else "the search for a standing point with mains back did not converge",
        mend="See whether the adapter can feed the load and charge at once."
        if bad
        else "Let a lockout or a board take everything off the empty pack."
        if deep
        else "",
        source="march of the whole network from empty until the charger ends",
        place=context.place(subject),
    )


def _spared(context: Context, year: Year) -> Finding:
    """Losses for want of time to recharge."""
    f = year.by_age[-1]
    share = f.spared / f.losses.mean if f.losses.mean else 0.0
    tight = share > REFILL_SHARE.value and judged(context, f.losses.mean) != HOLDS
    quick = next((g for name, g in year.changes.items() if "current" in name), None)
    helps = f"; half as much charge current again leaves {number(quick.losses.mean)} a year" if quick else ""
    return Finding(
        name="pack is not full again when the next outage comes",
        status=TIGHT if tight else HOLDS,
        subject=states.of_kind(context.network, "pack")[0].name,
        state=f"over a year of outages, {when(year, -1)}",
        quantity="losses a year that a full pack would have carried",
        value=f.spared,
        why=f"{number(f.spared)} of {number(f.losses.mean)} losses a year{helps}",
        mend=_mend(context, year, f) if tight else "",
        source=f"{SOURCE}; limit: {REFILL_SHARE.reason}",
        place=context.place(states.of_kind(context.network, "pack")[0].name),
    )


def _log(context: Context, year: Year) -> Iterator[Finding]:
    if year.log is None or year.pattern.log is None:
        return
    events, course = year.log
    flags, _ = lost(course, events, year.switch)
    for case, age in ((0, 0), (1, -1)):
        gone = int(flags[case].sum())
        rate = counted(gone, events.lasts)
        first = int(np.argmax(flags[case, 0])) if gone else 0
        begun = show(100 * float(course.begin[case, 0, first]), "", 2)
        at = year_begin(year, first)
        full = show(100 * float(course.begin[case].max()), "", 2)
        status = judged(context, rate.mean)
        yield Finding(
            name="outages in the log are not bridged",
            status=TIGHT if gone and status == HOLDS else status,
            subject=_load(context),
            state=f"{year.pattern.log.file} played again, pack as it is {when(year, age)}",
            quantity="losses",
            value=float(gone),
            limit=limit(context) * events.lasts / YEAR,
            margin=limit(context) * events.lasts / YEAR - gone,
            why=f"{gone} of {int(events.real.sum())} outages in {show(events.lasts, 's')}; "
            + (f"the first at {at}, which the pack meets at {begun} % charge, {full} % being full; " if gone else "")
            + f"{number(rate.mean)} a year, 95 % interval of the count {interval(rate)}",
            mend=_mend(context, year, year.by_age[age]) if gone or status != HOLDS else "",
            source=SOURCE,
            place=_place(context, year),
        )


def year_begin(year: Year, at: int) -> str:
    """When an outage of the log begins, as the clock there says."""
    from datetime import timedelta

    assert year.pattern.log is not None
    return f"{year.pattern.log.begins + timedelta(seconds=year.pattern.log.spans[at][0]):%Y-%m-%d %H:%M}"


def _broken(context: Context) -> Finding:
    return Finding(
        name="march of the pack ends before the load does",
        status=OPEN,
        subject=states.of_kind(context.network, "pack")[0].name,
        state="from full to empty and back",
        why="at some charge no voltage satisfies the circuit; what the pack would carry after that is not counted",
        mend="See the answer on how long it carries the load.",
        source="marches of the whole network",
        place=context.need_place,
    )


def headline(context: Context, year: Year) -> str:
    """One line with numbers."""
    new, old = year.by_age[0], year.by_age[-1]
    mains = year.mains
    alone = f"with the adapter alone it drops {_times(mains.losses.mean)}, for {show(mains.time.mean, 's', 2)}"
    if not old.losses.mean and not new.losses.mean:
        text = f"The load never drops, now or {when(year, -1)} (by the 95 % interval at most "
        text += f"{number(old.losses.high)} times a year); {alone}."
    else:
        text = f"The load drops {_times(new.losses.mean)} now" if new.losses.mean else "The load does not drop now"
        text += " and" if new.losses.mean else " but"
        text += f" {_times(old.losses.mean)} {when(year, -1)} (95 % interval {interval(old.losses)})"
        text += f", for {show(new.time.mean, 's', 2)} and {show(old.time.mean, 's', 2)}; {alone}. "
        text += f"{show(100 * old.bridged.mean, '', 3)} % of outages are bridged then, and the load is up "
        text += f"{up(float(availability(old.time.mean / 60.0)))} of the time."
    if year.switch.lost or year.switch.back:
        text += " Every changeover drops it."
    return text if year.stated else f"{text} {ASSUMED[0].upper()}{ASSUMED[1:]}."


def _times(value: float) -> str:
    return f"{number(value)} times a year" if value else "never"


def up(value: float) -> str:
    """A share of the year with as many nines as it has."""
    if value >= 1.0:
        return "100 %"
    gone = max(1.0 - value, 1e-9)
    digits = int(np.clip(np.ceil(-np.log10(gone)) + 1, 3, 8))
    return f"{100 * value:.{max(digits - 2, 1)}f} %"
