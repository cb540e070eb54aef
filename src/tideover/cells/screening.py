"""Which cells of a box may be built in: each judged by what was measured of it and by the others of its kind.

A cell is rejected for one reason, put in quarantine for one doubt, and good only when capacity, resistance and
self-discharge were all judged. What could not be judged is said, with what is missing.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from tideover.cells import cohorts, resting, rules
from tideover.cells.stock import METHODS, StockCell
from tideover.laws.chemistry import CHEMISTRY
from tideover.laws.constants import MONTH
from tideover.quantity import parse, show
from tideover.shelf import find

GOOD, QUARANTINE, REJECTED, OPEN = "good", "quarantine", "rejected", "open"
WORSE = (GOOD, OPEN, QUARANTINE, REJECTED)
"""Ascending; the worst judgement is the cell's verdict."""
MARK = "screened: "
"""Begins a reason written by screening. Another one was written by a person, and screening does not lift it."""
NEEDED = ("capacity", "resistance", "self-discharge")
"""Without one of these no cell is good."""


@dataclass(frozen=True)
class Judgement:
    """One quantity of one cell against its rule.

    Attributes
    ----------
    of : str
        ``arrival``, ``heating``, ``capacity``, ``resistance``, ``self-discharge`` or ``overcharge``.
    status : str
        ``good``, ``open``, ``quarantine`` or ``rejected``.
    said : str
        In words, with the numbers.
    value, limit : float or None
        In SI. For self-discharge, the fall of the voltage in the time watched.
    unit : str
        Of both.
    rule : str
        Why the limit is that, and where it comes from.
    """

    of: str
    status: str
    said: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    rule: str = ""


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
class Verdict:
    """What becomes of a cell.

    Attributes
    ----------
    cell : StockCell
        As it stands in the inventory.
    status : str
        ``good``, ``open``, ``quarantine`` or ``rejected``.
    judgements : tuple of Judgement
        One for each quantity.
    leak : Leak or None
        None where there are too few rest voltages.
    becomes : StockCell
        With the status and reason that applying writes; the same cell where nothing is to be written.
    kept : str
        Why its status is left although the verdict is another; empty otherwise.
    """

    cell: StockCell
    status: str
    judgements: tuple[Judgement, ...]
    leak: Leak | None
    becomes: StockCell
    kept: str = ""

    @property
    def decisive(self) -> tuple[Judgement, ...]:
        """Those judgements that made the verdict."""
        return tuple(j for j in self.judgements if j.status == self.status and (j.status != OPEN or j.of in NEEDED))

    @property
    def why(self) -> str:
        """Them in words."""
        return "; ".join(j.said for j in self.decisive) if self.status != GOOD else ""


def screen(cells: Sequence[StockCell], rested: float = 0.0) -> tuple[Verdict, ...]:
    """Judge every cell.

    Parameters
    ----------
    cells : sequence of StockCell
        The whole inventory: its cells are compared with each other. [-]
    rested : float
        From the end of charge to a cell's first rest voltage, where that is known. [s]

    Returns
    -------
    verdicts : tuple of Verdict
        In the order of the cells. [-]
    """
    leaks = [_leak(cell, rested) for cell in cells]
    typical = _typical_falls(cells, leaks)
    members = {(cell_id, cohort.of): cohort for cohort in cohorts.cohorts(cells) for cell_id in cohort.ids}
    out = []
    for cell, leak, usual in zip(cells, leaks, typical):
        judgements = (
            _arrival(cell),
            _heating(cell),
            _capacity(cell, members.get((cell.id, "capacity"))),
            _resistance(cell, members.get((cell.id, "resistance"))),
            _self_discharge(cell, leak, usual, rested),
        )
        status = max(
            (j.status for j in judgements if j.status != OPEN or j.of in NEEDED), key=WORSE.index, default=OPEN
        )
        verdict = Verdict(cell, status, judgements, leak, cell)
        becomes, kept = _becomes(verdict)
        out.append(replace(verdict, becomes=becomes, kept=kept))
    return tuple(out)


def _becomes(verdict: Verdict) -> tuple[StockCell, str]:
    """The cell after applying, and why its status is left where it is."""
    cell, status = verdict.cell, verdict.status
    if cell.status == "used":
        told = f"it is built in; the verdict would be: {status}" if status in (QUARANTINE, REJECTED) else ""
        return cell, told
    if status == OPEN:
        return cell, ""
    by_hand = cell.status in (QUARANTINE, REJECTED) and not cell.reason.startswith(MARK)
    if by_hand and WORSE.index(status) <= WORSE.index(cell.status):
        same = status == cell.status
        return cell, "" if same else f"{cell.status} by hand" + (f" ({cell.reason})" if cell.reason else "")
    reason = "" if status == GOOD else f"{MARK}{verdict.why}"
    if cell.reason and not cell.reason.startswith(MARK):
        reason = f"{reason}; before: {cell.reason}" if reason else cell.reason
    return replace(cell, status=status, reason=reason), ""


# --- one quantity each ---------------------------------------------------------------------------


def _why(rule: rules.Rule) -> str:
    return f"{rule.reason} ({rule.source})"


def _count(cell: StockCell, volts: float) -> int:
    """Cells of a lead-acid block."""
    return max(1, round(volts / 2.1)) if cell.chemistry == "PbA" else 1


def _arrival(cell: StockCell) -> Judgement:
    rule = rules.ARRIVAL_LEAST[cell.chemistry]
    if cell.arrival is None:
        return Judgement("arrival", OPEN, "voltage on arrival not noted", unit="V", rule=_why(rule))
    count = _count(cell, cell.arrival)
    least, most = rule.value * count, math.inf
    if cell.chemistry:
        most = CHEMISTRY[cell.chemistry].charge_abs * count
    said = f"{show(cell.arrival, 'V', 4)} on arrival"
    if cell.arrival > most:
        why = f"above it the cell is harmed ({CHEMISTRY[cell.chemistry].source})"
        return Judgement("arrival", REJECTED, f"{said}, above {show(most, 'V')}", cell.arrival, most, "V", why)
    low = cell.arrival < least
    return Judgement(
        "arrival",
        REJECTED if low else GOOD,
        f"{said}, below {show(least, 'V')}" if low else said,
        cell.arrival,
        least,
        "V",
        _why(rule),
    )


def _heating(cell: StockCell) -> Judgement:
    rule = rules.HEATING_MOST
    if cell.heating is None:
        return Judgement("heating", OPEN, "heating during charge not noted", unit="ΔK", rule=_why(rule))
    said = f"{show(cell.heating, 'ΔK')} warmer than its neighbours while charged"
    hot = cell.heating > rule.value
    said += f", more than {show(rule.value, 'ΔK')}" if hot else ""
    return Judgement("heating", REJECTED if hot else GOOD, said, cell.heating, rule.value, "ΔK", _why(rule))


def _capacity(cell: StockCell, cohort: cohorts.Cohort | None) -> Judgement:
    rule = rules.CAPACITY_LEAST
    if cell.capacity is None:
        return Judgement("capacity", OPEN, "capacity not measured", unit="C", rule=_why(rule))
    full, source = new_capacity(cell)
    said = f"capacity {show(cell.capacity, 'C')}"
    if full is None:
        missing = f"{said}, but neither a nameplate nor a model on the shelf to compare it with"
        return Judgement("capacity", OPEN, missing, cell.capacity, None, "C", _why(rule))
    share = cell.capacity / full
    said += f", {show(share, '%')} of {source} {show(full, 'C')}"
    least = rule.value * full
    if share < rule.value:
        said += f", below {show(rule.value, '%')}"
        return Judgement("capacity", REJECTED, said, cell.capacity, least, "C", _why(rule))
    if share > rules.CAPACITY_MOST.value:
        said += f", above {show(rules.CAPACITY_MOST.value, '%')}: measure it again, or look at the nameplate"
        most = rules.CAPACITY_MOST.value * full
        return Judgement("capacity", OPEN, said, cell.capacity, most, "C", _why(rules.CAPACITY_MOST))
    if share < rules.CAPACITY_PREFERRED.value:
        said += f", usable but below the {show(rules.CAPACITY_PREFERRED.value, '%')} that is sought"
    if cohort and cell.id in cohort.outliers:
        said += f"; stands apart from the others, whose median is {show(cohort.median, 'C')}"
    return Judgement("capacity", GOOD, said, cell.capacity, least, "C", _why(rule))


def new_capacity(cell: StockCell) -> tuple[float | None, str]:
    """Capacity when new, and whose word that is; of a model on the shelf where the cell has no nameplate. [C]"""
    if cell.nameplate is not None:
        return cell.nameplate, "its nameplate's"
    item = _as_new(cell.model)
    return (parse(item["capacity"], "C").nominal, "the shelf's typical") if item else (None, "")


def new_resistance(model: str, method: str) -> float | None:
    """Resistance of a model when new, by a method.

    Parameters
    ----------
    model : str
        A name on the shelf. [-]
    method : str
        One of `METHODS`. [-]

    Returns
    -------
    resistance : float or None
        After one or ten seconds of a step, from the shelf's equivalent circuit; None for a model that is not on the
        shelf or stands there as salvaged, and for alternating current, of which the shelf knows nothing. [ohm]

    Examples
    --------
    >>> print(f"{new_resistance('NMC 18650 2.6 Ah', 'DC 1 s') * 1e3:.1f} mOhm", new_resistance("blue", "DC 1 s"))
    45.6 mOhm None
    """
    item = _as_new(model)
    t = {"DC 1 s": 1.0, "DC 10 s": 10.0}.get(method)
    if not item or t is None:
        return None
    total = parse(item["resistance"], "ohm").nominal
    for pace in ("fast", "slow"):
        r = parse(item[f"{pace}_resistance"], "ohm").nominal
        total += r * (1.0 - math.exp(-t / (r * parse(item[f"{pace}_capacitance"], "F").nominal)))
    return total


def _as_new(model: str) -> dict[str, str] | None:
    """Values of a cell on the shelf, unless it stands there as salvaged."""
    item = find(model) if model else None
    if item is None or item.kind != "cell" or "left of its first capacity" in item.also:
        return None
    return item.values


def _resistance(cell: StockCell, cohort: cohorts.Cohort | None) -> Judgement:
    rule = rules.RESISTANCE_TIMES
    if cell.resistance is None:
        return Judgement("resistance", OPEN, "resistance not measured", unit="ohm", rule=_why(rule))
    said = f"resistance {show(cell.resistance, 'ohm')}"
    if not cell.method:
        missing = f"{said}, but nobody said by which method: {', '.join(METHODS)}"
        return Judgement("resistance", OPEN, missing, cell.resistance, None, "ohm", _why(rule))
    said += f" ({cell.method})"
    new = new_resistance(cell.model, cell.method)
    enough = cohort is not None and len(cohort.ids) >= rules.COHORT_LEAST.value
    if new is not None and cell.resistance > rule.value * new:
        said += f", more than twice the {show(new, 'ohm')} of a new one (typical)"
        return Judgement("resistance", REJECTED, said, cell.resistance, rule.value * new, "ohm", _why(rule))
    if cohort is None or not enough:
        if new is not None:
            return Judgement("resistance", GOOD, said, cell.resistance, rule.value * new, "ohm", _why(rule))
        least = f"{rules.COHORT_LEAST.value:.0f}"
        missing = f"{said}, but fewer than {least} of its model were measured so, and none new is on the shelf"
        return Judgement("resistance", OPEN, missing, cell.resistance, None, "ohm", _why(rules.COHORT_LEAST))
    low, high = cohorts.resistance_limits(cohort.values)
    median = f"the median of {len(cohort.ids)} of its model, {show(cohort.median, 'ohm')}"
    if cell.resistance > high:
        worn = cell.resistance > rule.value * cohort.median
        said += f", far above {median}"
        status, limit = (REJECTED, max(high, rule.value * cohort.median)) if worn else (QUARANTINE, high)
        return Judgement("resistance", status, said, cell.resistance, limit, "ohm", _why(rules.OUTLIER_MADS))
    if cell.resistance < low:
        said += f", far below {median}: measure it again, or look at the method"
        return Judgement("resistance", OPEN, said, cell.resistance, low, "ohm", _why(rules.OUTLIER_MADS))
    limit = high if new is None else min(high, rule.value * new)
    return Judgement("resistance", GOOD, said, cell.resistance, limit, "ohm", _why(rules.OUTLIER_MADS))


# --- self-discharge ------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Usual:
    """Fall of a cell's like: median and median deviation [V/s], how many, and in words whose."""

    median: float
    mad: float
    said: str


def _leak(cell: StockCell, rested: float) -> Leak | None:
    if not cell.rests:
        return None
    state = resting.charge_state(cell.chemistry, cell.rests[-1][1])
    fall = resting.fall(cell.rests, rested, charged=state is None or state > 0.5)
    if fall is None:
        return None
    slope = resting.curve_slope(cell.chemistry, fall.volts)
    if slope is None or not _telling(slope, cell, fall.volts):
        return Leak(fall, None, None)
    monthly = fall.rate / slope * MONTH
    return Leak(fall, monthly, None if cell.capacity is None else cell.capacity * monthly / MONTH)


def _telling(slope: float, cell: StockCell, volts: float) -> bool:
    """Whether the curve is steep enough for a voltage to tell a loss of charge."""
    return rules.DROP_MOST.value * _count(cell, volts) / slope <= rules.TELLING.value


def _typical_falls(cells: Sequence[StockCell], leaks: Sequence[Leak | None]) -> list[_Usual | None]:
    """For each cell the usual fall: of its model, or of its chemistry, or from the usual loss of a sound cell."""
    keys: list[tuple[tuple[str, ...], tuple[str, ...]]] = [((c.chemistry, c.model), (c.chemistry,)) for c in cells]
    rates: dict[tuple[str, ...], list[float]] = {}
    for both, leak in zip(keys, leaks):
        if leak and leak.fall.span >= rules.WATCHED.value - rules.EARLY.value:
            for key in both:
                rates.setdefault(key, []).append(leak.fall.rate)
    usual: dict[tuple[str, ...], _Usual] = {}
    for key, values in rates.items():
        if len(values) >= rules.COHORT_LEAST.value:
            median, mad = cohorts.median_mad(values)
            kind = key[-1] or key[0] or "cells of no stated chemistry"
            usual[key] = _Usual(median, mad, f"the median of {len(values)} {kind}")
    out: list[_Usual | None] = []
    for cell, leak, (narrow, wide) in zip(cells, leaks, keys):
        found = usual.get(narrow) or usual.get(wide)
        slope = resting.curve_slope(cell.chemistry, leak.fall.volts) if leak else None
        if found is None and slope is not None:
            said = f"the usual loss of {show(rules.HEALTHY.value, '%')} a month (typical, unverified)"
            found = _Usual(rules.HEALTHY.value / MONTH * slope, 0.0, said)
        out.append(found)
    return out


def _day(moment: datetime) -> str:
    """The next day that begins after a moment."""
    return (
        (moment + timedelta(days=1)).date().isoformat() if moment.time() != datetime.min.time() else str(moment.date())
    )


def _self_discharge(cell: StockCell, leak: Leak | None, usual: _Usual | None, rested: float) -> Judgement:
    of, why = "self-discharge", _why(rules.DROP_MOST)
    watched = timedelta(seconds=rules.WATCHED.value)
    if not cell.rests:
        said = "no rest voltages: charge it, let it rest for a day, read it, and again after 14 days"
        return Judgement(of, OPEN, said, unit="V", rule=why)
    if leak is None:
        first = cell.rests[-1][0]
        said = f"one rest voltage since its last charge: read it again after {_day(first + watched)}"
        return Judgement(of, OPEN, said, unit="V", rule=why)
    fall = leak.fall
    again = f"read it again after {_day(fall.first + watched)}"
    slope = resting.curve_slope(cell.chemistry, fall.volts)
    if fall.rose > rules.ROSE.value:
        said = f"the voltage rose by {show(fall.rose, 'V', 2)} while it rested: charged, or warmer? Begin anew"
        return Judgement(of, OPEN, said, fall.rose, rules.ROSE.value, "V", _why(rules.ROSE))
    span = min(max(fall.span, rules.WATCHED.value), rules.WATCHED_LONGEST.value)
    days = f"{span / rules.DAY:.0f} days"
    drop, least, most = (rate * span for rate in (fall.rate, fall.low, fall.high))
    base = usual.median * span if usual else 0.0
    count = _count(cell, fall.volts)
    limit = base + max(rules.DROP_MOST.value * count, rules.OUTLIER_MADS.value * (usual.mad if usual else 0.0) * span)
    month = "" if leak.monthly is None else f", {show(leak.monthly, '%', 2)} of its charge a month"
    said = f"falls by {_milli(drop)} in {days} ({_milli(least)} to {_milli(most)}) beside its relaxation{month}"
    against = f"; {usual.said}: {_milli(base)}" if usual else ""
    if least > limit:
        return Judgement(of, REJECTED, f"{said}{against}; at most {_milli(limit)}", drop, limit, "V", why)
    if usual is None:
        missing = (
            f"{said}; without its chemistry or {rules.COHORT_LEAST.value:.0f} of its kind there is no measure for it"
        )
        return Judgement(of, OPEN, missing, drop, None, "V", why)
    if (slope is not None and not _telling(slope, cell, fall.volts)) or (not cell.chemistry and fall.volts < 3.45):
        flat = f"at {show(fall.volts, 'V', 4)} the curve is so flat that the voltage tells nothing of its charge"
        mend = "let it rest full, straight after the end of charge, or compare its capacity after a month"
        return Judgement(of, OPEN, f"{flat}: {mend}", drop, limit, "V", _why(rules.TELLING))
    weekly = base + rules.WEEKLY_MOST.value * count * span
    early = fall.span < rules.WATCHED.value - rules.EARLY.value
    if (drop > limit or drop > weekly) and least > base:
        bound = min(limit, weekly)
        rule = _why(rules.WEEKLY_MOST if weekly < limit else rules.DROP_MOST)
        later = f"; {again}" if early else ""
        return Judgement(of, QUARANTINE, f"{said}{against}; at most {_milli(bound)}{later}", drop, bound, "V", rule)
    if early:
        return Judgement(
            of, OPEN, f"only {show(fall.span, 's', 2)} between its rest voltages: {again}", drop, limit, "V", why
        )
    if most > max(limit, weekly):
        hint = "" if rested or fall.used > 2 else ", or say how long it had rested at the first (--rested)"
        later = _day(fall.last + watched)
        missing = f"{said}; what is relaxation cannot be told apart: read it again after {later}{hint}"
        return Judgement(of, OPEN, missing, drop, limit, "V", why)
    return Judgement(of, GOOD, said + against, drop, min(limit, weekly), "V", why)


def _milli(volts: float) -> str:
    return f"{volts * 1e3:.1f} mV" if abs(volts) < 0.0995 else show(volts, "V")


def counted(verdicts: Sequence[Verdict]) -> dict[str, int]:
    """How many cells have each verdict, the best first."""
    found = Counter(v.status for v in verdicts)
    return {status: found[status] for status in (GOOD, OPEN, QUARANTINE, REJECTED)}
