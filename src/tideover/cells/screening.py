"""Which cells of a box may be built in: each judged by what was measured of it and by the others of its kind.

A cell is rejected for one reason, put in quarantine for one doubt, and good only when capacity, resistance and
self-discharge were all judged. What could not be judged is said, with what is missing.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from tideover.cells import cohorts, resting, rules
from tideover.cells.comparing import Compared
from tideover.cells.leaking import Leak, leak_of, self_discharge, typical_falls
from tideover.cells.rules import GOOD, OPEN, QUARANTINE, REJECTED, WORSE, Judgement, why
from tideover.cells.stock import METHODS, StockCell
from tideover.laws.chemistry import CHEMISTRY
from tideover.laws.methods import SECONDS
from tideover.quantity import parse, show
from tideover.shelf import find

MARK = "screened: "
"""Begins a reason written by screening. Another one was written by a person, and screening does not lift it."""
NEEDED = ("capacity", "resistance", "self-discharge")
"""Without one of these no cell is good."""


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


def screen(cells: Sequence[StockCell], rested: float = 0.0, compared: Compared | None = None) -> tuple[Verdict, ...]:
    """Judge every cell.

    Parameters
    ----------
    cells : sequence of StockCell
        The whole inventory: its cells are compared with each other. [-]
    rested : float
        From the end of charge to a cell's first rest voltage, where that is known. [s]
    compared : Compared, optional
        The same cells with their capacities at one condition; otherwise they are judged as measured. [-]

    Returns
    -------
    verdicts : tuple of Verdict
        In the order of the cells. [-]
    """
    known = [_with_chemistry(cell) for cell in (compared.cells if compared else cells)]
    converted = compared.converted if compared else {}
    leaks = [leak_of(cell, rested) for cell in known]
    typical = typical_falls(known, leaks)
    members = {(cell_id, cohort.of): cohort for cohort in cohorts.cohorts(known) for cell_id in cohort.ids}
    out = []
    for recorded, cell, leak, usual in zip(cells, known, leaks, typical):
        judgements = (
            *_by_hand(cell),
            _arrival(cell),
            _heating(cell),
            _capacity(cell, members.get((cell.id, "capacity")), recorded.capacity if cell.id in converted else None),
            _resistance(cell, members.get((cell.id, "resistance"))),
            self_discharge(cell, leak, usual, rested),
        )
        status = max(
            (j.status for j in judgements if j.status != OPEN or j.of in NEEDED), key=WORSE.index, default=OPEN
        )
        verdict = Verdict(recorded, status, judgements, leak, recorded)
        becomes, kept = _becomes(verdict)
        out.append(replace(verdict, becomes=becomes, kept=kept))
    return tuple(out)


def _with_chemistry(cell: StockCell) -> StockCell:
    """The cell with the chemistry of its model, where only that is stated and stands on the shelf."""
    item = find(cell.model) if cell.model and not cell.chemistry else None
    return replace(cell, chemistry=item.values["chemistry"]) if item and item.kind == "cell" else cell


def _becomes(verdict: Verdict) -> tuple[StockCell, str]:
    """The cell after applying, and why its status is left where it is."""
    cell, status = verdict.cell, verdict.status
    if cell.status == "used":
        told = f"it is built in; the verdict would be: {status}" if status in (QUARANTINE, REJECTED) else ""
        return cell, told
    if status == OPEN:
        return cell, ""
    if status == cell.status and _by_hand(cell):
        return cell, ""
    reason = "" if status == GOOD else f"{MARK}{verdict.why}"
    if cell.reason and not cell.reason.startswith(MARK):
        reason = f"{reason}; by hand: {cell.reason}" if reason else cell.reason
    return replace(cell, status=status, reason=reason), ""


# --- one quantity each ---------------------------------------------------------------------------


def _by_hand(cell: StockCell) -> tuple[Judgement, ...]:
    """What a person decided: it has seen the cell, and stands until that person lifts it."""
    if cell.status not in (QUARANTINE, REJECTED) or cell.reason.startswith(MARK):
        return ()
    said = f"{cell.status} by hand: {cell.reason or 'no reason noted'}"
    return (Judgement("by hand", cell.status, said),)


def _arrival(cell: StockCell) -> Judgement:
    rule = rules.ARRIVAL_LEAST[cell.chemistry]
    if cell.arrival is None:
        return Judgement("arrival", OPEN, "voltage on arrival not noted", unit="V", rule=why(rule))
    count = resting.count(cell.chemistry, cell.arrival)
    least, most = rule.value * count, math.inf
    if cell.chemistry:
        most = CHEMISTRY[cell.chemistry].charge_abs * count
    said = f"{show(cell.arrival, 'V', 4)} on arrival"
    if cell.arrival > most:
        reason = f"above it the cell is harmed ({CHEMISTRY[cell.chemistry].source})"
        return Judgement("arrival", REJECTED, f"{said}, above {show(most, 'V')}", cell.arrival, most, "V", reason)
    low = cell.arrival < least
    return Judgement(
        "arrival",
        REJECTED if low else GOOD,
        f"{said}, below {show(least, 'V')}" if low else said,
        cell.arrival,
        least,
        "V",
        why(rule),
    )


def _heating(cell: StockCell) -> Judgement:
    rule = rules.HEATING_MOST
    if cell.heating is None:
        return Judgement("heating", OPEN, "heating during charge not noted", unit="ΔK", rule=why(rule))
    said = f"{show(cell.heating, 'ΔK')} warmer than its neighbours while charged"
    hot = cell.heating > rule.value
    said += f", more than {show(rule.value, 'ΔK')}" if hot else ""
    return Judgement("heating", REJECTED if hot else GOOD, said, cell.heating, rule.value, "ΔK", why(rule))


def _capacity(cell: StockCell, cohort: cohorts.Cohort | None, measured: float | None = None) -> Judgement:
    rule = rules.CAPACITY_LEAST
    if cell.capacity is None:
        return Judgement(
            "capacity", OPEN, "capacity not measured", unit="C", rule=why(rule), missing="capacity not measured"
        )
    full, source = new_capacity(cell)
    said = f"capacity {show(cell.capacity, 'C')}"
    said += f" (converted; {show(measured, 'C')} as measured)" if measured is not None else ""
    if full is None:
        missing = "neither a nameplate nor a model on the shelf to compare the capacity with"
        return Judgement("capacity", OPEN, f"{said}, but {missing}", cell.capacity, None, "C", why(rule), missing)
    share = cell.capacity / full
    said += f", {show(share, '%')} of {source} {show(full, 'C')}"
    least, stated = rule.value * full, why(rule)
    if cell.nameplate is None:
        stated = stated.replace("the nameplate", "the shelf's typical capacity")
    if share < rule.value:
        said += f", below {show(rule.value, '%')}"
        return Judgement("capacity", REJECTED, said, cell.capacity, least, "C", stated)
    if share > rules.CAPACITY_MOST.value:
        said += f", above {show(rules.CAPACITY_MOST.value, '%')}: measure it again, or look at the nameplate"
        most = rules.CAPACITY_MOST.value * full
        return Judgement("capacity", OPEN, said, cell.capacity, most, "C", why(rules.CAPACITY_MOST))
    if share < rules.CAPACITY_PREFERRED.value:
        said += f", usable but below the {show(rules.CAPACITY_PREFERRED.value, '%')} that is sought"
    if cohort and cell.id in cohort.outliers:
        said += f"; stands apart from the others, whose median is {show(cohort.median, 'C')}"
    return Judgement("capacity", GOOD, said, cell.capacity, least, "C", stated)


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
    t = SECONDS.get(method)
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
        return Judgement(
            "resistance", OPEN, "resistance not measured", unit="ohm", rule=why(rule), missing="resistance not measured"
        )
    said = f"resistance {show(cell.resistance, 'ohm')}"
    if not cell.method:
        missing = f"resistance without its method: {', '.join(METHODS)}"
        said += ", but nobody said by which method"
        return Judgement("resistance", OPEN, said, cell.resistance, None, "ohm", why(rule), missing)
    said += f" ({cell.method})"
    new = new_resistance(cell.model, cell.method)
    enough = cohort is not None and len(cohort.ids) >= rules.COHORT_LEAST.value
    if new is not None and cell.resistance > rule.value * new:
        said += f", more than twice the {show(new, 'ohm')} of a new one (typical)"
        return Judgement("resistance", REJECTED, said, cell.resistance, rule.value * new, "ohm", why(rule))
    if cohort is None or not enough:
        if new is not None:
            return Judgement("resistance", GOOD, said, cell.resistance, rule.value * new, "ohm", why(rule))
        least = f"{rules.COHORT_LEAST.value:.0f}"
        missing = f"fewer than {least} of its model have a resistance by this method, and none new is on the shelf"
        rule = rules.COHORT_LEAST
        return Judgement("resistance", OPEN, f"{said}, but {missing}", cell.resistance, None, "ohm", why(rule), missing)
    low, high = cohorts.resistance_limits(cohort.values)
    median = f"the median of {len(cohort.ids)} of its model, {show(cohort.median, 'ohm')}"
    twice = rule.value * cohort.median
    if cell.resistance > min(high, twice):
        said += f", far above {median}"
        status = REJECTED if cell.resistance > max(high, twice) else QUARANTINE
        limit = max(high, twice) if status == REJECTED else min(high, twice)
        return Judgement("resistance", status, said, cell.resistance, limit, "ohm", why(rules.RESISTANCE_COHORT))
    if cell.resistance < low:
        said += f", far below {median}: measure it again, or look at the method"
        return Judgement("resistance", OPEN, said, cell.resistance, low, "ohm", why(rules.OUTLIER_MADS))
    if new is not None and rule.value * new < min(high, twice):
        return Judgement("resistance", GOOD, said, cell.resistance, rule.value * new, "ohm", why(rule))
    return Judgement("resistance", GOOD, said, cell.resistance, min(high, twice), "ohm", why(rules.RESISTANCE_COHORT))


def counted(verdicts: Sequence[Verdict]) -> dict[str, int]:
    """How many cells have each verdict, the best first."""
    found = Counter(v.status for v in verdicts)
    return {status: found[status] for status in (GOOD, OPEN, QUARANTINE, REJECTED)}
