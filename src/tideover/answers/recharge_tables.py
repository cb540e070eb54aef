"""Tables of the recharge answer."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from tideover.answers.base import Table
from tideover.answers.recharge_read import Recharge
from tideover.answers.refills import Refills
from tideover.answers.restraint import Stretch

if TYPE_CHECKING:
    from tideover.answers.recharge import Told


def tables(told: Told, first: Refills, second: Refills, named: Sequence[str]) -> tuple[Table, ...]:
    """Times, how each ends, what limits the current, runtime regained, what moves it, the ledgers."""
    shown = [*told.cases, told.unloaded, *told.others, *([told.median] if told.median else []), *told.corners]
    return (
        _times(shown),
        _endings(shown),
        _limits("What limits the charge current, load attached", told.held),
        _limits("What limits the charge current, load off", told.held_unloaded),
        _regained(told),
        Table("What moves the recharge most", (("figure, alone at its limit", ""), ("change", "s")), told.effects),
        _ledger(first, named, second, [c.label for c in told.corners]),
    )


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _times(shown: Sequence[Recharge]) -> Table:
    columns = (("case", ""), ("from", "%"), ("80 % of full", "s"), ("90 % of full", "s"), ("full", "s"))
    rows = tuple((c.label, c.start, *(_finite(t) for t in c.shares), _finite(c.full_at)) for c in shown)
    return Table("How long until full again", columns, rows)


def _endings(shown: Sequence[Recharge]) -> Table:
    columns = (("case", ""), ("charge", "%"), ("a cell at", "V"), ("charge current", "A"), ("charger", ""))
    rows = tuple((c.label, c.end, _finite(c.volts), _finite(c.current), c.how) for c in shown)
    return Table("How the charge ends", columns, rows)


def _limits(title: str, held: Sequence[Stretch]) -> Table:
    columns = (("limit", ""), ("for", "s"), ("mean current", "A"), ("charge from", "%"), ("to", "%"))
    return Table(title, columns, tuple((s.limit, s.t, s.current, s.low, s.high) for s in held))


def _regained(told: Told) -> Table:
    columns = (("recharged for", "s"), ("load", ""), ("charge reached", "%"), ("runtime", "s"))
    rows = tuple((p.t, "attached" if p.load else "off", p.charge, p.runtime) for p in told.partial)
    return Table("Runtime regained", columns, rows)


def _ledger(first: Refills, named: Sequence[str], second: Refills, corners: Sequence[str]) -> Table:
    columns = (
        ("case", ""), ("steps", ""), ("from mains", "J"), ("delivered", "J"), ("heat", "J"), ("into store", "J"),
        ("unaccounted over throughput", ""),
    )  # fmt: skip
    rows = []
    for source, labels in ((first, named), (second, corners)):
        for k, label in enumerate(labels):
            p = int(source.positions[k])
            if p < 0 or source.waves is None:
                continue
            w = source.waves
            energies = (w.supplied[p], w.delivered[p], w.heat[p], w.stored[p] - w.switching[p])
            share = float(abs(w.imbalance[p]) / w.throughput[p])
            rows.append((label, int(w.steps[p]), *(float(e) for e in energies), share))
    return Table("Energy ledger", columns, tuple(rows))
