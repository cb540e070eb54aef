"""Tables of the cells' answer."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from tideover.answers import limits as rule
from tideover.answers.base import Finding, Table
from tideover.answers.context import Context, known
from tideover.answers.exposure import REFILLS, RUNS
from tideover.answers.keeping import crossings, knee_year, met_until
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.answers.cells import Seen


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


def years(seen: Seen) -> Table:
    """Hold voltage by temperature: capacity, resistance and hours after the years asked for."""
    kept = seen.kept
    law = kept.law
    columns = (
        ("held at, a cell", "V"),
        ("where", ""),
        ("cells at", "K"),
        ("capacity left", "%"),
        ("resistance", "%"),
        ("runtime now", "s"),
        (f"after {kept.asked:g} years", "s"),
        ("remark", ""),
    )
    if law is None:
        return Table("Hold voltage and temperature against years", columns, ())
    rows = []
    for v, volts in enumerate(kept.volts):
        for t, temp in enumerate(kept.temps):
            left = float(kept.left[v, t])
            said = ["as built"] if v == kept.own and t == kept.usual else []
            said += ["past the knee"] if left < rule.KNEE.value else []
            said += [] if law.coldest <= temp <= law.warmest else ["outside the law's temperatures"]
            numbers = (left, float(kept.grown[v, t]), float(kept.now[v]), float(kept.then[v, t]))
            rows.append((float(volts), kept.temp_names[t], float(temp), *numbers, ", ".join(said)))
    return Table("Hold voltage and temperature against years", columns, tuple(rows))


def holds(context: Context, seen: Seen) -> Table:
    """For each hold voltage: until when the runtime asked for is reached, and when it overtakes the highest."""
    kept = seen.kept
    asked = context.network.need.runtime
    columns = (
        ("held at, a cell", "V"),
        ("runtime now", "s"),
        (f"after {kept.asked:g} years", "s"),
        ("runtime asked for is reached", ""),
        ("longer than the highest", ""),
        ("knee", ""),
    )
    if kept.law is None:
        return Table("What each hold voltage buys", columns, ())
    crossed = crossings(kept)
    last = f"{kept.years[-1]:g} years"
    rows = []
    for v, volts in enumerate(kept.volts):
        until = met_until(kept, v, asked) if asked is not None else None
        met = "not asked" if asked is None else f"beyond {last}" if until is None else f"until year {until:.1f}"
        if until == 0.0:
            met = "never"
        year, knee = crossed[v], knee_year(kept, v)
        ahead = "" if v == 0 else f"not before its knee, or {last}" if year is None else f"from year {year:.1f}"
        row = (float(volts), float(kept.now[v]), float(kept.then[v, kept.usual]), met, ahead)
        rows.append((*row, f"year {knee:.1f}" if knee is not None else f"beyond {last}"))
    temp = show(float(kept.temps[kept.usual]), "K", 2)
    return Table(f"What each hold voltage buys, cells at {temp} on mains", columns, tuple(rows))
