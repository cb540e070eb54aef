"""Tables of the cells' answer."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from tideover.answers.base import Finding, Table
from tideover.answers.context import Context, known
from tideover.answers.exposure import REFILLS, RUNS
from tideover.answers.fading import Law
from tideover.answers.keeping import crossings, knee_year, met_until
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.answers.cells import Seen

SAME_TEMP = 0.5
"""Temperatures nearer to each other than this are told once. [K]"""


def limits(found: Sequence[Finding]) -> Table:
    """Every limit in a row: what was met, where, and the limit."""
    rows = tuple(
        (f.quantity, f.state, show(f.value, f.unit, 4), show(f.limit, f.unit, 4), f.status)
        for f in found
        if f.value is not None and f.limit is not None
    )
    columns = (("quantity", ""), ("where", ""), ("worst", ""), ("limit", ""), ("status", ""))
    return Table("Cells against their limits", columns, rows)


def groups(seen: Seen) -> Table:
    """Voltages of the groups and temperatures of the cells in every recharge and run."""
    rows = []
    if seen.charged is not None:
        c = seen.charged
        for k, name in enumerate(REFILLS):
            if c.begun[k]:
                numbers = (c.weak[k], c.mean[k], c.current[k], c.coldest[k], c.warmest[k])
                rows.append((f"recharge, {name}", *(known(float(x)) for x in numbers), f"from {c.begun[k]}"))
    e = seen.emptied
    for k, name in enumerate(RUNS):
        if np.isfinite(e.weak[k]):
            numbers = (e.weak[k], e.mean[k], np.nan, e.coldest[k], e.warmest[k])
            said = f"ended by the {e.ended_by[k]}" if e.ended_by[k] else ""
            rows.append((f"run, {name}", *(known(float(x)) for x in numbers), said))
    columns = (
        ("course", ""),
        ("weak group", "V"),
        ("mean group", "V"),
        ("charge current a cell", "A"),
        ("coldest", "K"),
        ("warmest", "K"),
        ("remark", ""),
    )
    return Table("Groups: the highest of a recharge, the lowest of a run", columns, tuple(rows))


def years(seen: Seen) -> tuple[Table, ...]:
    """Hold voltage by temperature: capacity left, and hours, after the years asked for; a column for every
    temperature."""
    kept = seen.kept
    law = kept.law
    if law is None:
        return ()
    last = len(kept.temps) - 1
    told = [t for t in range(last) if abs(kept.temps[t] - kept.temps[last]) > SAME_TEMP or t == kept.usual]
    told += [last] if all(abs(kept.temps[t] - kept.temps[last]) > SAME_TEMP for t in told) else []
    heads = tuple(_head(seen, law, t) for t in told)
    after = f"after {kept.asked:g} years"
    volts = [float(v) for v in kept.volts]
    built = [("as built" if v == kept.own else "") for v in range(len(volts))]
    capacity = tuple((volts[v], built[v], *(float(kept.left[v, t]) for t in told)) for v in range(len(volts)))
    hours = tuple(
        (volts[v], built[v], float(kept.now[v]), *(float(kept.then[v, t]) for t in told)) for v in range(len(volts))
    )
    first = (("held at, a cell", "V"), ("", ""))
    return (
        Table(f"Capacity left {after}; below 70 % no law holds", (*first, *((h, "%") for h in heads)), capacity),
        Table(f"Runtime {after}", (*first, ("new", "s"), *((h, "s") for h in heads)), hours),
    )


def _head(seen: Seen, law: Law, t: int) -> str:
    kept = seen.kept
    temp = float(kept.temps[t])
    beyond = "" if law.coldest <= temp <= law.warmest else ", outside the law"
    at = show(temp, "K", 2)
    return kept.temp_names[t] + ("" if t == len(kept.temps) - 1 else f": {at}") + beyond


def holds(context: Context, seen: Seen) -> Table:
    """For each hold voltage: until when the runtime asked for is reached, and when it overtakes the highest."""
    kept = seen.kept
    asked = context.network.need.runtime
    columns = (
        ("held at, a cell", "V"),
        ("runtime now", "s"),
        (f"after {kept.asked:g} years", "s"),
        ("runtime asked for is reached", ""),
        ("ahead of the highest", ""),
        ("knee", ""),
    )
    if kept.law is None:
        return Table("What each hold voltage buys", columns, ())
    crossed = crossings(kept)
    last = f"year {kept.years[-1]:g}"
    rows = []
    for v, volts in enumerate(kept.volts):
        until = met_until(kept, v, asked) if asked is not None else None
        met = "not asked" if asked is None else f"beyond {last}" if until is None else f"until year {until:.1f}"
        if until == 0.0:
            met = "never"
        year, knee = crossed[v], knee_year(kept, v)
        ahead = "" if v == 0 else "not before the knee" if year is None else f"from year {year:.1f}"
        row = (float(volts), float(kept.now[v]), float(kept.then[v, kept.usual]), met, ahead)
        rows.append((*row, f"year {knee:.1f}" if knee is not None else f"beyond {last}"))
    temp = show(float(kept.temps[kept.usual]), "K", 2)
    return Table(f"What each hold voltage buys, cells at {temp} on mains", columns, tuple(rows))
