"""Whether the pack is full again before mains fails again: the time to full against the gaps of the stated outages."""

from __future__ import annotations

import numpy as np

from tideover.answers import limits as rule
from tideover.answers.base import HOLDS, TIGHT, Finding
from tideover.answers.context import Context
from tideover.answers.recharge_read import Recharge
from tideover.answers.year_events import Events, draw, how_many_years
from tideover.quantity import show


def gaps(events: Events) -> np.ndarray:
    """Times from the end of an outage to the begin of the next in the same year. [s]"""
    there = events.real[:, 1:]
    return events.start[:, 1:][there] - events.end[:, :-1][there]


def before_the_next(context: Context, one: Recharge) -> tuple[Finding, ...]:
    """How often the next outage comes before a pack that was run empty is full again; nothing where the build states no
    outages."""
    pattern = context.network.need.outages
    if pattern is None or not one.ever_full:
        return ()
    apart = gaps(draw(pattern, how_many_years(pattern), context.rng))
    if not len(apart):
        return ()
    sooner = float((apart < one.full_at).mean())
    limit = rule.NEXT_TOO_SOON.value
    tight = sooner > limit
    why = f"full again {show(one.full_at, 's')} after an empty pack; of the outages stated, one in twenty comes within "
    why += f"{show(float(np.quantile(apart, 0.05)), 's')} of the one before, half of them within "
    why += show(float(np.median(apart)), "s")
    where = pattern.place
    return (
        Finding(
            name="next outage comes before the pack is full",
            status=TIGHT if tight else HOLDS,
            subject=one.label,
            state="mains, charging with the load attached, after a run to the end",
            quantity="share of the stated outages that do",
            value=sooner,
            limit=limit,
            margin=limit - sooner,
            why=why,
            mend="A higher charge current, as far as adapter and cells bear it, or cells for two outages in a row; "
            "`year` says what it costs in losses of the load."
            if tight
            else "",
            source=f"gaps of the outages stated, drawn with seed {context.seed}; {rule.NEXT_TOO_SOON.source}",
            place=f"{where.path}:{where.line}:{where.column}",
        ),
    )
