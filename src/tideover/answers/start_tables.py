"""Tables of the start answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from tideover.answers.base import Table
from tideover.answers.start_mends import Mend
from tideover.answers.start_read import Outcome
from tideover.answers.starts import MAINS

if TYPE_CHECKING:
    from tideover.answers.start import Tried

NOTABLE = 1.0
"""Rushes below this are left out of the table. [A]"""


def outcomes(tried: Tried) -> Table:
    """Every start in a row."""
    columns = (
        ("dead state, and what happens", ""),
        ("in its window after", "s"),
        ("serves after", "s"),
        ("resets", ""),
        ("highest", "V"),
        ("pack takes", "A"),
        ("outcome", ""),
    )
    rows: list[tuple[Any, ...]] = []
    for k, one in enumerate(tried.outcomes):
        dead = tried.starts.deads[k]
        takes = one.charge if dead.wakes == MAINS and np.isfinite(one.charge) else None
        told = said(one)
        if dead.wakes == MAINS and one.back and tried.locked(k):
            told = "comes back, but the pack stays locked out"
        rows.append(
            (tried.starts.label(k), _known(one.in_window), _known(one.serves), one.resets, one.highest, takes, told)
        )
    return Table("Starts tried", columns, tuple(rows))


def said(one: Outcome) -> str:
    """An outcome in a few words."""
    if one.back:
        return "comes back" if one.ended else "comes back; not followed to its end"
    if one.cycle is not None:
        return "goes round without end"
    return "stays dead" if one.ended else "not followed to its end"


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def sequence(tried: Tried, case: int, most: int = 40) -> Table:
    """What happens when, in one start."""
    starts = tried.starts
    t, v = starts.wave(case)
    dead = starts.deads[case]
    events = [e for e in starts.events(case) if e.t >= 0.0]
    if not dead.signals:
        rows = [(0.0, "pack", "joined")]
    else:
        rows = [(0.0, part, "is closed" if signal == "closed" else "has mains again") for part, signal in dead.signals]
    rows += [(e.t, e.part, f"{e.before} → {e.after}") for e in events[:most]]
    level = np.interp([r[0] for r in rows], t, v)
    title = f"Events: {starts.label(case)}"
    if len(events) > most:
        title += f" (the first {most} of {len(events)})"
    body = tuple(
        (at, part, what, 0.0 if abs(u) < 1e-6 else float(u)) for (at, part, what), u in zip(rows, level)
    )
    return Table(title, (("after", "s"), ("part", ""), ("what", ""), ("load", "V")), body)


def rush_table(tried: Tried) -> Table:
    """The largest rush through every part."""
    columns = (
        ("part", ""),
        ("start", ""),
        ("peak", "A"),
        ("lasts", "s"),
        ("integral", "A^2 s"),
        ("taken up", "J"),
        ("rise", "V"),
    )
    rows: list[tuple[Any, ...]] = []
    for part, where in dict.fromkeys((r.part, r.where) for r in tried.rushes):
        here = [r for r in tried.rushes if (r.part, r.where) == (part, where)]
        top = max(here, key=lambda r: r.peak)
        if top.peak < NOTABLE:
            continue
        name = f"{part}, {where}" if where else part
        stores = top.kind == "capacitor"
        rows.append(
            (
                name,
                tried.starts.label(top.case),
                top.peak,
                top.lasts,
                top.integral,
                top.energy if stores else None,
                top.rise if stores else None,
            )
        )
    return Table("Largest rush through each part", columns, tuple(rows))


def mend_table(mends: tuple[Mend, ...]) -> Table:
    """What was tried where a start fails."""
    columns = (("start that fails", ""), ("change tried", ""), ("outcome", ""))
    rows = tuple(
        (m.dead.words, words, "comes back" if words in m.worked else "no")
        for m in mends
        for words in m.tried
    )
    return Table("Changes tried", columns, rows)


def ledger(tried: Tried) -> Table:
    """Energy of every march."""
    columns = (
        ("start", ""),
        ("steps", ""),
        ("supplied", "J"),
        ("delivered", "J"),
        ("heat", "J"),
        ("unaccounted over throughput", ""),
    )
    waves = tried.starts.waves
    rows = tuple(
        (
            tried.starts.label(k),
            int(waves.steps[k]),
            float(waves.supplied[k]),
            float(waves.delivered[k]),
            float(waves.heat[k]),
            float(abs(waves.imbalance[k]) / waves.throughput[k]),
        )
        for k in range(len(tried.outcomes))
    )
    return Table("Energy ledger", columns, rows)
