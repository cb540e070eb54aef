"""Self-discharge of resting cells: each one's fall against that of its like."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from tideover.cells import cohorts, resting, rules
from tideover.cells.rules import GOOD, OPEN, QUARANTINE, REJECTED, Judgement, Rule, why
from tideover.cells.stock import StockCell
from tideover.laws.constants import MONTH
from tideover.quantity import show

OF = "self-discharge"


@dataclass(frozen=True)
class Leak:
    """Self-discharge of one cell.

    Attributes
    ----------
    fall : Fall
        Of the voltage.
    monthly, current : float or None
        Share of the charge lost in a month, and as a current; None where the chemistry or the capacity is unknown, or
        its curve too flat to tell. [-], [A]
    """

    fall: resting.Fall
    monthly: float | None
    current: float | None


@dataclass(frozen=True)
class Usual:
    """Fall of a cell's like: median and median deviation [V/s], and in words whose."""

    median: float
    mad: float
    said: str


def leak_of(cell: StockCell, rested: float) -> Leak | None:
    """Self-discharge of a cell; None with fewer than two rest voltages since its last charge.

    Parameters
    ----------
    cell : StockCell
        With its rest voltages. [-]
    rested : float
        From the end of charge to the first of them, if it is known. [s]

    Returns
    -------
    leak : Leak or None
    """
    if not cell.rests:
        return None
    state = resting.charge_state(cell.chemistry, cell.rests[-1][1])
    fall = resting.fall(cell.rests, rested, charged=state is None or state > 0.5)
    if fall is None:
        return None
    slope = resting.curve_slope(cell.chemistry, fall.volts)
    if slope is None or _flat(cell, fall.volts):
        return Leak(fall, None, None)
    monthly = fall.rate / slope * MONTH
    return Leak(fall, monthly, None if cell.capacity is None else cell.capacity * monthly / MONTH)


def typical_falls(cells: Sequence[StockCell], leaks: Sequence[Leak | None]) -> list[Usual | None]:
    """For each cell the usual fall: of its model, or of its chemistry, or from the usual loss of a sound cell."""
    keys: list[tuple[tuple[str, ...], tuple[str, ...]]] = [((c.chemistry, c.model), (c.chemistry,)) for c in cells]
    rates: dict[tuple[str, ...], list[float]] = {}
    for both, leak in zip(keys, leaks):
        if leak and leak.fall.span >= rules.WATCHED.value - rules.EARLY.value:
            for key in both:
                rates.setdefault(key, []).append(leak.fall.rate)
    usual: dict[tuple[str, ...], Usual] = {}
    for key, values in rates.items():
        if len(values) >= rules.COHORT_LEAST.value:
            median, mad = cohorts.median_mad(values)
            kind = key[-1] or key[0] or "cells of no stated chemistry"
            usual[key] = Usual(median, mad, f"the median of {len(values)} {kind}")
    out: list[Usual | None] = []
    for cell, leak, (narrow, wide) in zip(cells, leaks, keys):
        found = usual.get(narrow) or usual.get(wide)
        slope = resting.curve_slope(cell.chemistry, leak.fall.volts) if leak else None
        if found is None and slope is not None:
            said = f"the usual loss of {show(rules.HEALTHY.value, '%')} a month (typical, unverified)"
            found = Usual(rules.HEALTHY.value / MONTH * slope, 0.0, said)
        out.append(found)
    return out


def _day(moment: datetime) -> str:
    """The next day that begins after a moment."""
    return (
        (moment + timedelta(days=1)).date().isoformat() if moment.time() != datetime.min.time() else str(moment.date())
    )


def self_discharge(cell: StockCell, leak: Leak | None, usual: Usual | None, rested: float) -> Judgement:
    """Whether a cell loses more than its like.

    Parameters
    ----------
    cell : StockCell
        With its rest voltages. [-]
    leak : Leak or None
        As `leak_of` finds it. [-]
    usual : Usual or None
        As `typical_falls` finds it. [-]
    rested : float
        From the end of charge to the first rest voltage, if it is known. [s]

    Returns
    -------
    judgement : Judgement
        Rejected when it surely falls further than its like by the rule, in quarantine when it probably does, open when
        the readings cannot tell; then it says when to read again.
    """
    watched = timedelta(seconds=rules.WATCHED.value)
    if leak is None:
        return _open(
            f"one rest voltage since its last charge: read it again after {_day(cell.rests[-1][0] + watched)}"
            if cell.rests
            else "no rest voltages: charge it, let it rest for a day, read it, and again after 14 days"
        )
    fall = leak.fall
    again = f"read it again after {_day(fall.first + watched)}"
    if fall.rose > rules.ROSE.value:
        missing = "the voltage rose while it rested: charged, or warmer? Begin anew"
        return _open(missing, f"it rose by {show(fall.rose, 'V', 2)}", fall.rose, rules.ROSE.value, rules.ROSE)
    span = min(max(fall.span, rules.WATCHED.value), rules.WATCHED_LONGEST.value)
    drop, least, most = (rate * span for rate in (fall.rate, fall.low, fall.high))
    base, mad = (usual.median * span, usual.mad * span) if usual else (0.0, 0.0)
    units = resting.count(cell.chemistry, fall.volts)
    limit = base + max(rules.DROP_MOST.value * units, rules.OUTLIER_MADS.value * mad)
    weekly = base + rules.WEEKLY_MOST.value * units * span
    between = f"{_milli(least)} to {_milli(most)}"
    said = f"falls by {_milli(drop)} in {span / rules.DAY:.0f} days ({between}) beside its relaxation"
    said += "" if leak.monthly is None else f", {show(leak.monthly, '%', 2)} of its charge a month"
    against = f"; {usual.said}: {_milli(base)}" if usual else ""
    if least > limit:
        text = f"{said}{against}; at most {_milli(limit)}"
        return Judgement(OF, REJECTED, text, drop, limit, "V", why(rules.DROP_MOST))
    if usual is None:
        few = f"{rules.COHORT_LEAST.value:.0f}"
        return _open(
            f"its chemistry is not stated, nor are {few} of its kind read: no measure for its fall", said, drop
        )
    if _flat(cell, fall.volts):
        mend = "let it rest full, straight after the end of charge, or compare its capacity after a month"
        missing = f"its curve is so flat there that the voltage tells nothing of its charge: {mend}"
        return _open(missing, f"{said}, at {show(fall.volts, 'V', 4)}", drop, limit, rules.TELLING)
    early = fall.span < rules.WATCHED.value - rules.EARLY.value
    if drop > min(limit, weekly) and least > base:
        bound, rule = min((limit, rules.DROP_MOST), (weekly, rules.WEEKLY_MOST), key=lambda pair: pair[0])
        text = f"{said}{against}; at most {_milli(bound)}" + (f"; {again}" if early else "")
        return Judgement(OF, QUARANTINE, text, drop, bound, "V", why(rule))
    if early:
        return _open(f"too short between its rest voltages: {again}", f"{show(fall.span, 's', 2)}", drop, limit)
    if most > max(limit, weekly):
        hint = "" if rested or fall.used > 2 else ", or say how long it had rested at the first (--rested)"
        missing = f"what is relaxation cannot be told apart: read it again after {_day(fall.last + watched)}{hint}"
        return _open(missing, said, drop, limit)
    return Judgement(OF, GOOD, said + against, drop, min(limit, weekly), "V", why(rules.DROP_MOST))


def _open(
    missing: str, said: str = "", value: float | None = None, limit: float | None = None, rule: Rule = rules.DROP_MOST
) -> Judgement:
    text = f"{said}; {missing}" if said else missing
    return Judgement(OF, OPEN, text, value, limit, "V", why(rule), missing)


def _flat(cell: StockCell, volts: float) -> bool:
    """Whether a voltage tells nothing of the charge; of a cell of no stated chemistry, whether it may be so."""
    slope = resting.curve_slope(cell.chemistry, volts, reach=0.1)
    if slope is None:
        return volts < 3.45
    return rules.DROP_MOST.value * resting.count(cell.chemistry, volts) / slope > rules.TELLING.value


def _milli(volts: float) -> str:
    return f"{volts * 1e3:.1f} mV" if abs(volts) < 0.0995 else show(volts, "V")
