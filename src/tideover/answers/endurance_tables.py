"""Tables of the endurance answer."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from tideover.answers.base import Table
from tideover.answers.endurance_said import ends
from tideover.answers.runs import Runs
from tideover.answers.waterfall import Waterfall
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.answers.endurance import Case


FAR = 10.0
"""A limit that would act after so many runs is not near enough to be told."""


def runtimes(cases: Sequence[Case]) -> Table:
    """Every case in a row."""
    columns = (("case", ""), ("runtime", "s"), ("peaks hold until", "s"), ("delivered", "J"), ("how it ends", ""))
    rows = tuple((c.label, c.runtime, c.peak_until, c.delivered, ends(c)) for c in cases)
    return Table("How long it carries the load", columns, rows)


def stopper_table(one: Case) -> Table:
    """Every limit at the end of the run."""
    columns = (("limit", ""), ("quantity", ""), ("stands at", ""), ("limit at", ""), ("acts after", "s"))
    rows = tuple(
        (
            s.name,
            s.quantity,
            show(s.value, s.unit) if s.unit else "",
            show(s.limit, s.unit) if s.unit else "",
            s.left if np.isfinite(s.left) and 0.0 <= s.left <= FAR * one.runtime else None,
        )
        for s in one.stops
    )
    return Table(f"Limits at the end of the run, {one.label}", columns, rows)


def waterfall_table(falls: Waterfall, cases: Sequence[Case]) -> Table:
    """From the label to the load new at 25 °C by the ledger; then cold, aged and worst corner by further runs."""
    rows: list[tuple[str, float | None, float | None, str]] = [("on the label", None, falls.label, "")]
    left = falls.label
    for s in falls.steps:
        left -= s.energy
        rows.append((s.name, -s.energy, left, s.about))
    rows.append(("delivered, new at 25 °C", None, falls.delivered, ""))
    before = falls.delivered
    for name, k in (("coldest room", 1), ("aged as well", 4), ("worst corner as well", 6)):
        rows.append((name, cases[k].delivered - before, cases[k].delivered, "difference of two runs"))
        before = cases[k].delivered
    columns = (("step", ""), ("change", "J"), ("left", "J"), ("remark", ""))
    return Table("From the label to the load", columns, tuple(rows))


def contributors(effects: Sequence[tuple[str, float]]) -> Table:
    """Which figures move the runtime most."""
    return Table("What moves the runtime most", (("figure, alone at its limit", ""), ("change", "s")), tuple(effects))


def ledger(runs: Sequence[tuple[Runs, int, str]], title: str = "Energy ledger") -> Table:
    """Energy and work of the runs."""
    columns = (
        ("case", ""),
        ("steps", ""),
        ("delivered", "J"),
        ("heat", "J"),
        ("from store", "J"),
        ("unaccounted over throughput", ""),
    )
    rows = []
    for source, k, label in runs:
        p = int(source.positions[k])
        if p < 0 or source.waves is None:
            continue
        w = source.waves
        rows.append(
            (
                label,
                int(w.steps[p]),
                float(w.delivered[p]),
                float(w.heat[p]),
                float(-(w.stored[p] - w.switching[p])),
                float(abs(w.imbalance[p]) / w.throughput[p]),
            )
        )
    return Table(title, columns, tuple(rows))
