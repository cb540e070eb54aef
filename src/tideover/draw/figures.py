"""Which figures show which answer: one table, `FIGURES`. In px; every number comes from the answer."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise

from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Answer, Finding, Series, Table, judged, worst
from tideover.answers.rides import LOSS
from tideover.draw.calendar import Outage, calendar
from tideover.draw.chart import Band, Mark, chart
from tideover.draw.figure import TOO_LARGE
from tideover.draw.heat import parts
from tideover.draw.look import WIDE
from tideover.draw.margin import drawable, margins
from tideover.draw.ranges import Range, ranges
from tideover.draw.ranked import Bar, ranked
from tideover.draw.severity import severities
from tideover.draw.spread import spreads
from tideover.draw.svg import Ink
from tideover.draw.waterfall import Step, waterfall
from tideover.quantity import QuantityError, parse, show

Maker = Callable[[Answer, Answer | None, float], Iterable[Ink]]
MOST_MARGINS = 6
"""Findings drawn as margin bars."""
MOST_HEATERS = 6
"""Parts whose watts are drawn for one state; its table has them all."""
CHANCES = ("likely", "possible", "rare", "remote")


def figures(answer: Answer, written: Answer | None = None, width: float = WIDE) -> tuple[Ink, ...]:
    """The figures of an answer.

    Parameters
    ----------
    answer : Answer
        With its tolerances. [-]
    written : Answer, optional
        The same as written, without tolerances: margin bars then show what these do. [-]
    width : float
        Of each figure; below 560 they are drawn for a phone. [px]

    Returns
    -------
    figures : tuple of Ink
        The main one first; none where the answer has nothing that could be drawn. [-]

    Raises
    ------
    KeyError
        For an answer to no question of the sheet.
    """
    return tuple(made for maker in FIGURES[answer.key] for made in maker(answer, written, width))


# --- finding data --------------------------------------------------------------------------------------


def _table(answer: Answer, begins: str) -> Table | None:
    """The table whose title begins so."""
    return next((t for t in answer.tables if t.title.startswith(begins) and t.rows), None)


def _column(table: Table, name: str) -> int | None:
    return next((k for k, (head, _) in enumerate(table.columns) if head == name), None)


def _number(value: object) -> float | None:
    """A number that can be drawn, or None."""
    good = isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < TOO_LARGE
    return float(value) if good else None  # type: ignore[arg-type]


def _tightest(found: Sequence[Finding]) -> list[Finding]:
    """Those with numbers, one for each statement about a part, the gravest and nearest to their limits first."""
    grave = {FAILS: 0, TIGHT: 1, OPEN: 2, HOLDS: 3}

    def near(f: Finding) -> tuple[int, float]:
        assert f.value is not None and f.limit is not None
        size = max(abs(f.limit), abs(f.value)) or 1.0
        return grave[f.status], abs(f.limit - f.value) / size

    first: dict[tuple[str, str, str], Finding] = {}
    for f in sorted((f for f in found if drawable(f)), key=near):
        first.setdefault((f.name, f.subject, f.quantity), f)
    return list(first.values())[:MOST_MARGINS]


# --- of any answer -------------------------------------------------------------------------------------


def _margins(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    """What is nearest to its limit, as margin bars."""
    found = _tightest(answer.findings)
    if found:
        others = written.findings if written is not None else ()
        yield margins(found, others, title="What is nearest to its limit", width=width)


def _effects(begins: str, title: str) -> Maker:
    """Which figures move it most, alone at their limits."""

    def made(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
        table = _table(answer, begins)
        if table is not None:
            bars = [
                Bar(str(name), value, look="bar" if value > 0.0 else "loss")
                for name, change in table.rows
                if (value := _number(change)) is not None
            ]
            if bars:
                yield ranked(bars, table.columns[1][1], title=title, width=width, signed=True)

    return made


# --- one by one ----------------------------------------------------------------------------------------


def _standing(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    """Voltage at the load in every state against its window."""
    table, window = _table(answer, "Voltage at ("), _table(answer, "Window of the load")
    if table is None:
        return
    low, high = window.rows[0] if window else (None, None)
    rows = []
    for state, mean, peak, least, most, *_ in table.rows:
        ends = [v for v in map(_number, (mean, peak, least, most)) if v is not None]
        nominal = _number(mean)
        if nominal is None or not ends:
            continue
        spare = min(min(ends) - low, high - max(ends)) if low is not None else 0.0
        status = next((f.status for f in answer.findings if f.state == state and "window" in f.name), None)
        rows.append(Range(str(state), nominal, min(ends), max(ends), status=status or judged(spare, 0.0)))
    title = "Voltage at the load in every standing state, from the lowest to the highest corner"
    yield ranges(rows, "V", title=title, width=width, window=(_number(low), _number(high)))


def _drops(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    """Millivolts along each way to the load, and watts of each part."""
    for table in answer.tables:
        if table.title.startswith("From "):
            at = {name: _column(table, name) for name in ("part", "drop", "heat", "way")}
            bars = []
            for row in table.rows:
                value = _number(row[at["drop"] or 0])
                if value is not None:
                    back = row[at["way"] or 0]
                    bars.append(Bar(f"{row[0]}{'' if back == 'out' else f', {back}'}", value))
            yield ranked(bars, "V", title=f"Voltage lost. {table.title}", width=width, order=False)
        elif table.title.startswith("Watts"):
            heat = [row for row in table.rows if not str(row[0]).startswith("delivered")]
            bars = [Bar(str(row[0]), v, look="loss") for row in heat if (v := _number(row[1])) is not None]
            yield ranked(bars, "W", title=f"Heat of each part. {table.title}", width=width, most=MOST_HEATERS)


def _sources(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    """Current out of each source with mains present."""
    table = _table(answer, "Current out of each source")
    if table is None:
        return
    named = [k for k, (_, unit) in enumerate(table.columns) if unit == "A"]
    bars = [
        Bar(f"{table.columns[k][0]}: {row[0]}", value, look="bar" if value >= 0.0 else "gain")
        for row in table.rows
        for k in named
        if (value := _number(row[k])) is not None
    ]
    yield ranked(bars, "A", title="Current out of each source with mains present", width=width, order=False)


def _outage(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    """The worst outage, with the window and the dip limits of the load."""
    if not answer.series:
        return
    bears, events = _table(answer, "What the load bears"), _table(answer, "Events")
    bands: list[Band] = []
    lines: list[Mark] = []
    levels: list[tuple[str, float, float]] = []
    if bears is not None:
        levels = [
            (str(name), volts, _number(time) or 0.0)
            for name, bound, time in bears.rows
            if (volts := _number(bound)) is not None
        ]
    if len(levels) > 1:
        high = levels[0][1]
        low = levels[1][1]
        bands.append(Band("window", low, high))
        reached = min((y for s in answer.series for y in s.y if math.isfinite(y)), default=math.inf)
        for (_, upper, allowed), (_, lower, _) in pairwise(levels[1:]):
            if reached < upper:
                bands.append(Band(f"for at most {show(allowed, 's')}", lower, upper, look="warn"))
        if reached < levels[-1][1] and len(levels) > 2:
            bands.append(Band("never", None, levels[-1][1], look="harm"))
    if events is not None:
        lines += [
            Mark("mains lost" if what == "is lost" else "mains back", x=after + LOSS)
            for at, part, what, *_ in events.rows
            if part == "mains" and (after := _number(at)) is not None
        ]
    title = "Voltage at the load in the worst outage"
    about = events.title.partition(": ")[2] + "." if events is not None else ""
    yield chart(answer.series, title=title, bands=bands, lines=lines, width=width, height=250.0, about=about)


def _runtimes(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    """How long it carries the load in every case."""
    table = _table(answer, "How long it carries the load")
    if table is None:
        return
    limit = next((f.limit for f in answer.findings if f.quantity == "runtime at mean load" and f.limit), None)
    status = {
        f.state.removeprefix("on pack, "): f.status for f in answer.findings if f.quantity == "runtime at mean load"
    }
    bars = [
        Bar(str(row[0]), value, look=_look(status.get(str(row[0]), HOLDS)))
        for row in table.rows
        if (value := _number(row[1])) is not None
    ]
    title = "How long it carries the load"
    yield ranked(bars, "s", title=title, width=width, limit=limit, limit_label="asked for", order=False)


def _waterfall(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    table = _table(answer, "From the label to the load")
    if table is None:
        return
    steps = [
        Step(str(name), _number(change), left)
        for name, change, rest, *_ in table.rows
        if (left := _number(rest)) is not None
    ]
    yield waterfall(steps, "J", title="From the energy on the label to what reaches the load", width=width)


def _run(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    if answer.series:
        yield chart(answer.series, title="Voltages through a run on the pack", width=width, height=240.0)


def _recharge(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    """Charge over time with the time asked for, and the charge current."""
    limit = next((f.limit for f in answer.findings if f.quantity == "time until full" and f.limit), None)
    charge = [_as_share(s) for s in answer.series if s.y_unit in ("", "%")]
    current = [s for s in answer.series if s.y_unit == "A"]
    lines = [Mark("asked for", x=limit)] if limit is not None else []
    if charge:
        yield chart(charge, title="Charge of the pack while it is recharged", lines=lines, width=width)
    if current:
        yield chart(current, title="Charge current while it is recharged", width=width, height=190.0)


def _as_share(s: Series) -> Series:
    """A plain number between 0 and 1 is read as a percentage."""
    return Series(s.name, s.x_name, s.x_unit, "%", s.x, s.y, s.log)


def _start(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    if answer.series:
        events = _table(answer, "Events")
        about = events.title.partition(": ")[2] + "." if events is not None else ""
        lines = [Mark("begins", x=0.0)]
        yield chart(answer.series, title="Voltages through a start", lines=lines, width=width, about=about)
    table = _table(answer, "Starts tried")
    at = _column(table, "serves after") if table is not None else None
    if table is not None and at is not None:
        bars = [
            Bar(str(row[0]), _number(row[at]) or 0.0, "" if row[-1] == "comes back" else str(row[-1]))
            for row in table.rows
            if _number(row[at]) is not None
        ]
        if bars:
            yield ranked(bars, "s", title="How long until the load serves again", width=width, order=False)


def _drains(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    """What takes current from the cells, for each state that has its own."""
    table = _table(answer, "What drains the pack")
    if table is None:
        return
    seen: list[tuple[object, ...]] = []
    for k, (name, unit) in enumerate(table.columns):
        column = tuple(row[k] for row in table.rows)
        if unit != "A" or not name.startswith("at the cells, ") or column in seen:
            continue
        seen.append(column)
        bars = [
            Bar(str(row[0]), value, look="loss")
            for row in table.rows
            if (value := _number(row[k])) is not None and row[0] != "all together" and value > 0.0
        ]
        state = name.removeprefix("at the cells, ")
        total = next((_number(row[k]) for row in table.rows if row[0] == "all together"), None)
        if bars:
            about = "" if total is None else f"All together {show(total, 'A')}."
            yield ranked(bars, "A", title=f"What drains the cells, {state}", width=width, about=about)


def _heat(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    table = _table(answer, "Temperatures in a room")
    if table is not None:
        status: dict[str, str] = {}
        for f in answer.findings:
            if f.quantity == "temperature":
                status[f.subject] = worst((f.status, status.get(f.subject, HOLDS)))
        yield parts(table, status, title=table.title, width=width)
    if answer.series:
        title = "Temperatures through a day with a run and a recharge"
        yield chart(answer.series, title=title, width=width, height=240.0)


def _ratings(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    table = _table(answer, "How much of each rating is used")
    if table is not None:
        bars = [
            Bar(f"{part}, {reading}", share, f"{seen} of {rating}", _look(str(status)))
            for part, reading, seen, rating, used, status, *_ in table.rows
            if (share := _number(used)) is not None
        ]
        title = "How much of what the derating leaves is used"
        yield ranked(bars, "%", title=title, width=width, limit=1.0, limit_label="all of it")
    if answer.series:
        title = "How long each protection takes at a current"
        yield chart(answer.series, title=title, width=width, height=280.0)


def _look(status: str) -> str:
    return {FAILS: "fails", TIGHT: "tight", OPEN: "open"}.get(status, "bar")


def _cells(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    years = [s for s in answer.series if s.x_name.startswith("years")]
    course = [s for s in answer.series if not s.x_name.startswith("years")]
    if years:
        yield chart(years, title="Runtime over the years, for each hold voltage", width=width)
    if course:
        yield chart(course, title="Voltage of the groups through a recharge", width=width)


def _tolerance(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    if not answer.spreads:
        return
    table = _table(answer, "At the tolerance limits")
    status = {str(row[0]): str(row[-1]) for row in table.rows} if table is not None else {}
    grave = {FAILS: 0, TIGHT: 1, OPEN: 2, HOLDS: 3}
    order = sorted(answer.spreads, key=lambda s: grave.get(status.get(s.name, ""), 4))
    statuses = [found if (found := status.get(s.name, "")) in grave else OPEN for s in order]
    count = max(s.count for s in order)
    title = f"Where {count} builds drawn within their tolerances lie"
    yield spreads(order, title=title, width=width, statuses=statuses)


def _scatter(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    """What makes the scatter of what is not safe, or of the first quantity."""
    table = _table(answer, "What makes the scatter")
    verdicts = _table(answer, "At the tolerance limits")
    if table is None or verdicts is None:
        return
    groups: dict[str, list[Bar]] = {}
    name = ""
    for quantity, figure, share in table.rows:
        name = str(quantity) or name
        value = _number(_percent(str(share)))
        if value is not None and not str(figure).startswith("all figures"):
            groups.setdefault(name, []).append(Bar(str(figure), value))
    bad = [str(row[0]) for row in verdicts.rows if row[-1] in (FAILS, TIGHT)]
    for name in [n for n in bad if n in groups] or list(groups)[:1]:
        yield ranked(groups[name], "%", title=f"What makes the scatter of {name}", width=width)


def _percent(said: str) -> float | None:
    """The share that a table writes in per cent."""
    try:
        return parse(said, "").nominal
    except QuantityError:
        return None


def _faults(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    table = _table(answer, "Single faults")
    if table is None:
        return
    at = {name: _column(table, name) or 0 for name in ("severity", "chance")}
    counts: dict[tuple[str, str], int] = {}
    for row in table.rows:
        field = (str(row[at["severity"]]).removesuffix(", hidden"), str(row[at["chance"]]))
        counts[field] = counts.get(field, 0) + 1
    rows = sorted({r for r, _ in counts}, reverse=True)
    columns = [c for c in CHANCES if any(c == chance for _, chance in counts)]
    title = f"{len(table.rows)} single faults, by severity and chance"
    yield severities(counts, rows, columns, title=title, width=width)


def _losses(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    table = _table(answer, "Losses of the load in a year")
    if table is not None:
        bars = [
            Bar(str(row[0]), value, f"95 % {row[2]}", "plain" if k == 0 else "bar")
            for k, row in enumerate(table.rows)
            if (value := _number(row[1])) is not None
        ]
        limit = next((f.limit for f in answer.findings if f.quantity.startswith("losses of the load a year")), None)
        title = "How often the load drops in a year"
        yield ranked(bars, "", title=title, width=width, limit=limit, limit_label="allowed", order=False)


def _calendar(answer: Answer, written: Answer | None, width: float) -> Iterable[Ink]:
    table = next((t for t in answer.tables if "outage by outage" in t.title), None)
    if table is None:
        return
    outages = [
        Outage(begins, lasting, row[-1] == "lost")
        for row in table.rows
        if (begins := _number(row[0])) is not None and (lasting := _number(row[2])) is not None
    ]
    charge = next((s for s in answer.series if s.x_unit == "s" and s.x), None)
    ages = _table(answer, "As it ages")
    at = _column(ages, "carries the load") if ages is not None else None
    reach = _number(ages.rows[-1][at]) if ages is not None and at is not None else None
    lasts = charge.x[-1] if charge is not None else 365.25 * 86400.0
    yield calendar(outages, lasts, title=table.title, width=width, reach=reach)
    if charge is not None:
        yield chart([charge], title=f"Charge of the {charge.name}", width=width, height=170.0)


FIGURES: dict[str, tuple[Maker, ...]] = {
    "standing": (_standing,),
    "drops": (_drops,),
    "budget": (_margins,),
    "sources": (_sources, _margins),
    "outage": (_outage, _effects("What moves the margin most", "What moves the margin of the worst outage most")),
    "endurance": (
        _runtimes,
        _waterfall,
        _effects("What moves the runtime most", "What moves the runtime most, alone at its limit"),
        _run,
    ),
    "recharge": (_recharge, _effects("What moves the recharge most", "What moves the time until full most")),
    "start": (_start,),
    "standby": (_margins, _drains),
    "heat": (_heat,),
    "ratings": (_ratings,),
    "cells": (_margins, _cells),
    "tolerance": (_tolerance, _scatter),
    "faults": (_faults, _margins),
    "year": (_losses, _calendar),
}
"""Key of each question to what draws it, the main figure first."""
