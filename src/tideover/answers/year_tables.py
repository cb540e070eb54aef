"""Tables and series of the answer on a year of outages."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tideover.answers.base import Series, Table
from tideover.answers.context import Context
from tideover.answers.year_course import Course
from tideover.answers.year_events import YEAR, Events
from tideover.answers.year_figures import Figures, lost, until_first
from tideover.answers.year_pack import month_temps
from tideover.answers.year_said import interval, up, when, year_begin
from tideover.laws.outages import SHORTEST, SUSTAINED, availability
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.answers.year import Year

MONTHS = 12
MOST_ROWS = 40
"""Outages of a log that are listed; of a longer log those that were lost, and then those met with least charge."""
MOST_DAYS = 60
"""Outages of a usual year, or of a log, that are listed with their place in time."""
BETWEEN = 6
"""Points of a recharge that are drawn."""
RARE = 1e-4
"""A chance below this is called none."""
FAR = 100.0
"""Years beyond which a first loss is not dated."""


def tables(context: Context, year: Year) -> tuple[Table, ...]:
    """All of them."""
    every = (
        _indices(year),
        _ages(year),
        _changes(year),
        _months(context, year),
        _log(year),
        _calendar(year),
        _pattern(year),
        _reckoned(context, year),
    )
    return tuple(t for t in every if t.rows)


def _indices(year: Year) -> Table:
    """Interruptions and time a year, as the indices for mains are published."""
    columns = (
        ("supply", ""),
        ("times a year", ""),
        ("95 % interval", ""),
        ("over 5 min", ""),
        ("up to 5 min", ""),
        ("time lost a year", "s"),
        ("95 % interval of it", ""),
        ("outages bridged", "%"),
        ("load is up", ""),
    )

    def row(name: str, f: Figures, bridged: bool = True) -> tuple[object, ...]:
        return (
            name,
            f.losses.mean,
            interval(f.losses),
            f.sustained,
            f.losses.mean - f.sustained,
            f.time.mean,
            f"{show(f.time.low, 's', 2)} to {show(f.time.high, 's', 2)}" if f.time.mean else "none seen",
            f.bridged.mean if bridged else None,
            up(float(availability(f.time.mean / 60.0))),
        )

    rows = [row("adapter alone", year.mains, False)]
    rows += [row(f"this one, {when(year, age)}", year.by_age[age]) for age in (0, -1)]
    return Table("Losses of the load in a year", columns, tuple(rows))


def _ages(year: Year) -> Table:
    columns = (
        ("age", ""),
        ("capacity", "%"),
        ("resistance", "%"),
        ("carries the load", "s"),
        ("full again after", "s"),
        ("losses a year", ""),
        ("years with one", "%"),
        ("worst year of twenty", ""),
        ("spared by a full pack", ""),
        ("time lost a year", "s"),
    )
    first = next(iter(year.wear.values()))
    rows = []
    for a, f in enumerate(year.by_age):
        own = slice(MONTHS * a, MONTHS * (a + 1))
        filled = float(year.curves.fill[own].max())
        rows.append(
            (
                "new" if a == 0 else f"{show(float(year.ages[a]) / YEAR, '', 3)} years",
                float(first.health[a]),
                float(first.growth[a]),
                float(year.curves.left[own].min()),
                filled or None,
                f.losses.mean,
                f.years,
                f.bad,
                f.spared,
                f.time.mean,
            )
        )
    return Table("As it ages, each in the month that is worst for it", columns, tuple(rows))


def _changes(year: Year) -> Table:
    columns = (
        (f"change, {when(year, -1)}", ""),
        ("losses a year", ""),
        ("95 % interval", ""),
        ("time lost a year", "s"),
        ("outages bridged", "%"),
        ("carries the load", "s"),
        ("full again after", "s"),
    )
    rows = []
    last = len(year.by_age) - 1
    for c, (name, f) in enumerate([("as drawn", year.by_age[-1]), *year.changes.items()]):
        own = slice(MONTHS * (last + c), MONTHS * (last + c + 1))
        filled = float(year.curves.fill[own].max())
        left = float(year.curves.left[own].min())
        rows.append((name, f.losses.mean, interval(f.losses), f.time.mean, f.bridged.mean, left, filled or None))
    return Table("What a change would do", columns, tuple(rows))


def _months(context: Context, year: Year) -> Table:
    """Month by month; the months of a log are those of the calendar."""
    columns = (("month", ""), ("room", "K"), ("losses now", ""), (f"losses {when(year, -1)}", ""), ("outages", ""))
    temps = month_temps(context.network)
    events = year.events
    scale = YEAR / events.lasts / len(events.start)
    outages = np.bincount(events.month[events.real], minlength=MONTHS) * scale
    rows = [
        (
            str(m + 1),
            float(temps[m]),
            float(year.by_age[0].monthly[m]),
            float(year.by_age[-1].monthly[m]),
            float(outages[m]),
        )
        for m in range(MONTHS)
    ]
    return Table("Month by month, the first and the last the coldest", columns, tuple(rows))


def _log(year: Year) -> Table:
    columns = (
        ("outage begins", ""),
        ("lasts", "s"),
        ("charge now", "%"),
        ("now", ""),
        (f"charge {when(year, -1)}", "%"),
        (when(year, -1), ""),
    )
    if year.log is None:
        return Table("", columns, ())
    events, course = year.log
    flags, _ = lost(course, events, year.switch)
    order = np.lexsort((course.begin[1, 0], ~flags[1, 0], ~flags[0, 0]))[:MOST_ROWS]
    rows = []
    for e in np.sort(order).tolist():
        cells: list[object] = [year_begin(year, e), float(events.length[0, e])]
        for case in (0, 1):
            cells += [float(course.begin[case, 0, e]), "lost" if flags[case, 0, e] else "bridged"]
        rows.append(tuple(cells))
    number = int(events.real.sum())
    more = f", {len(rows)} of {number}: those lost, and those met with least charge" if number > len(rows) else ""
    return Table(f"The log played again{more}", columns, tuple(rows))


def _calendar(year: Year) -> Table:
    """The outages of a usual year one by one; those of a log stand in its own table."""
    columns = (("begins after", "s"), ("month", ""), ("lasts", "s"), ("charge then", "%"), ("load", ""))
    row, age = _usual(year), len(year.by_age) - 1
    events, course = year.events, year.course
    if year.log is not None:
        (events, course), row, age = year.log, 0, 1
    flags, _ = lost(course, events, year.switch)
    every = range(int(events.real[row].sum()))
    order = sorted(every, key=lambda e: (not flags[age, row, e], -float(events.length[row, e])))[:MOST_DAYS]
    rows = [
        (
            float(events.start[row, e]),
            str(int(events.month[row, e]) + 1),
            float(events.length[row, e]),
            float(course.begin[age, row, e]),
            "lost" if flags[age, row, e] else "bridged",
        )
        for e in sorted(order)
    ]
    more = f"; {len(rows)} of {len(every)}, those lost and the longest" if len(every) > len(rows) else ""
    what = "The log" if year.log is not None else "A usual year"
    return Table(f"{what}, outage by outage, {when(year, -1)}{more}", columns, tuple(rows))


def _pattern(year: Year) -> Table:
    """What the outages were taken to be, and who says so."""
    p = year.pattern
    if p.log:
        rows: list[tuple[str, str, str]] = [
            ("log", p.log.file, f"{len(p.log.spans)} outages in {show(p.log.lasts, 's')} from {p.log.begins}"),
            *(("remark", note, "") for note in p.log.notes),
        ]
        return Table("The outages", (("figure", ""), ("value", ""), ("where from", "")), tuple(rows))

    def origin(*keys: str) -> str:
        if any(k in p.assumed for k in keys):
            return "typical, unverified" if keys[0] not in ("rate", "mean") else "typical, public statistics"
        return "need.outages"

    rows = [("rate, those that follow included", f"{show(p.rate * YEAR, '', 3)} a year", origin("rate"))]
    if p.rate > 0.0:
        lasting = f"{show(p.mean, 's')} each" if p.law == "each" else f"{p.law}, mean {show(p.mean, 's')}"
        rows.append(("duration", lasting, origin("mean")))
        if p.law == "lognormal":
            rows.append(("spread of its logarithm", show(p.spread, "", 3), origin("spread")))
        follows = f"{show(p.follow_on, '%')} within {show(p.within, 's')}"
        rows.append(("another follows", follows, origin("follow-on")))
    span = f"{show(SHORTEST, 's')} to {show(SUSTAINED / 60.0, '')} min"
    rows.append(("short ones", f"{show(p.short_ones * YEAR, '', 3)} a year of {span}", origin("short ones")))
    if p.slots:
        for begin, end in p.slots.spans:
            said = f"{_clock(begin)} to {_clock(end)} on {len(p.slots.days)} days a week, {show(p.slots.chance, '%')}"
            rows.append(("planned", said, "need.outages"))
    return Table("The outages", (("figure", ""), ("value", ""), ("where from", "")), tuple(rows))


def _clock(t: float) -> str:
    minutes = round(t / 60.0) % (24 * 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _reckoned(context: Context, year: Year) -> Table:
    """How sure it is: years, marches, and when half of all such supplies have dropped their load once."""
    half, spared = until_first(year.by_age, year.ages)
    worst, steps = 0.0, 0
    span = show(float(year.ages[-1]) / YEAR, "", 3)
    for m in (year.fresh, year.worn):
        for w in (m.runs.waves, m.refills.waves):
            if w is not None:
                worst = max(worst, float(np.max(np.abs(w.imbalance) / w.throughput)))
                steps += int(w.steps.sum())
    rows = (
        (
            "half of such supplies have dropped the load once",
            show(half, "s") if half < FAR * YEAR else "not in a century",
        ),
        (f"chance of no loss in {span} years", show(spared, "%") if spared > RARE else "none"),
        ("years drawn for every age and change", str(len(year.events.start))),
        ("outages in them", str(int(year.events.real.sum()))),
        ("seed", str(context.seed)),
        ("steps of the marches from full to empty and back", str(steps)),
        ("energy they do not account for, over throughput", f"{worst:.1e}"),
    )
    return Table("How it was reckoned", (("", ""), ("", "")), rows)


# --- series --------------------------------------------------------------------------------------------


def series(year: Year) -> tuple[Series, ...]:
    """Charge over the log or a usual year, and how many losses a year has."""
    out = []
    age = len(year.by_age) - 1
    if year.log is not None:
        events, course = year.log
        out.append(_charge(year, course, 1, events, 0, age, f"pack, log played again, {when(year, -1)}"))
    else:
        row = _usual(year)
        out.append(_charge(year, year.course, age, year.events, row, age, f"pack, a usual year, {when(year, -1)}"))
    for a in (0, age):
        counts = year.by_age[a].counts
        n = np.arange(int(counts.max(initial=0.0)) + 2)
        share = np.array([float((counts >= k).mean()) for k in n])
        name = f"years with at least so many losses, {when(year, a if a == 0 else -1)}"
        out.append(Series(name, "losses", "", "%", tuple(map(float, n)), tuple(share.tolist())))
    return tuple(out)


def _usual(year: Year) -> int:
    """A year that has about the usual number of outages and of losses."""
    outages = year.events.real.sum(axis=1)
    counts = year.by_age[-1].counts
    off = np.abs(outages - outages.mean()) + 3.0 * np.abs(counts - np.median(counts))
    return int(np.argmin(off))


def _charge(year: Year, course: Course, case: int, events: Events, row: int, age: int, name: str) -> Series:
    """Charge over time: straight while the load is carried, along the curve while it is filled."""
    t: list[float] = [0.0]
    y: list[float] = [float(year.curves.at_fall[MONTHS * age, -1])]
    for e in range(int(events.real[row].sum())):
        start, end = float(events.start[row, e]), float(events.end[row, e])
        t += [start, end]
        y += [float(course.begin[case, row, e]), float(course.end[case, row, e])]
        k = np.array([MONTHS * age + int(events.month[row, e])])
        following = float(events.start[row, e + 1]) if e + 1 < events.start.shape[1] else events.lasts
        until = min(following, events.lasts) - end
        filling = min(float(year.curves.fill[k[0]]), until)
        if filling > 0.0:
            steps: NDArray[np.float64] = np.linspace(0.0, filling, BETWEEN + 1)[1:]
            t += (end + steps).tolist()
            y += [float(year.curves.filled(k, np.array([y[-1]]), np.array([s]))[0]) for s in steps]
    if t[-1] < events.lasts:
        t.append(events.lasts)
        y.append(y[-1])
    return Series(name, "time", "s", "%", tuple(t), tuple(y))
