"""What the cells' answer says of years: capacity and hours left, and whether a lower hold voltage serves better."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tideover.answers import limits as rule
from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Finding
from tideover.answers.context import Context
from tideover.answers.keeping import Keeping, knee_year, met_until, overtakes, said, scattered
from tideover.answers.packs import chemistry
from tideover.laws.constants import TEMP_25
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.answers.cells import Seen

BETTER = 0.01
"""Share by which another hold voltage must carry the load longer before it is worth a word: what runs differ by where
the cells' data are uncertain (engineering judgement)."""


def years(context: Context, seen: Seen) -> list[Finding]:
    """Capacity after years, hours after years, and the best hold voltage."""
    kept = seen.kept
    place = context.place(seen.charger.name, "hold_voltage") if seen.charger else context.place(seen.pack.name)
    place = place or (context.place(seen.charger.name) if seen.charger else "")
    subject = seen.charger.name if seen.charger else seen.pack.name
    if kept.law is None:
        return [
            Finding(
                "years could not be judged",
                OPEN,
                seen.pack.name,
                f"held full for {kept.asked:g} years",
                why=f"no published ageing law for {chemistry(context.network, seen.pack)} cells is at hand: the "
                "maker's figures for capacity over years on float are missing",
                mend="Ask the maker for capacity over years at the hold voltage.",
                source="ageing laws known here: NMC (also for NCA and LCO), LFP, lead-acid on float",
                place=context.place(seen.pack.name),
            )
        ]
    if not kept.now[kept.own] > 0.0:
        return [_worn(context, seen, subject, place)]
    return [
        _worn(context, seen, subject, place),
        _carries(context, seen, subject, place),
        _best(context, seen, subject, place),
    ]


def held(seen: Seen) -> str:
    """``held at 4.00 V a cell and 33 °C``."""
    kept = seen.kept
    return f"held at {show(float(kept.volts[kept.own]), 'V')} a cell and {show(float(kept.temps[kept.usual]), 'K', 2)}"


def _law(seen: Seen) -> str:
    law = seen.kept.law
    assert law is not None
    temp = float(seen.kept.temps[seen.kept.usual])
    beyond = "" if law.coldest <= temp <= law.warmest else "; outside the temperatures it was fitted to"
    return f"{law.name} ({law.source}), right within a factor of {rule.SCATTER.value:g} for other cells{beyond}"


def _worn(context: Context, seen: Seen, subject: str, place: str) -> Finding:
    kept = seen.kept
    left = float(kept.left[kept.own, kept.usual])
    loss = 1.0 - left
    worse, better = max(1.0 - rule.SCATTER.value * loss, 0.0), 1.0 - loss / rule.SCATTER.value
    knee = knee_year(kept, kept.own)
    why = f"{held(seen)}, in a room of 25 °C; other cells keep from {100 * worse:.0f} to {100 * better:.0f} %"
    if knee is not None and knee <= kept.asked:
        why += f"; past {knee:.1f} years they may fail fast, and no law holds"
    cool, low = float(kept.left[kept.own, -1]), float(kept.left[-1, kept.usual])
    warm = kept.temps[kept.usual] > TEMP_25 + 1.0
    mends = [f"keep the cells cooler (at 25 °C they would keep {100 * cool:.0f} %)"] if warm else []
    if kept.own != len(kept.volts) - 1:
        mends.append(f"hold them lower (at {show(float(kept.volts[-1]), 'V')} a cell {100 * low:.0f} %)")
    mend = ", then ".join(mends) or "plan for new cells in time"
    return Finding(
        "cells wear out before their time",
        TIGHT if left < rule.END_OF_LIFE.value else HOLDS,
        subject,
        f"mains, full, for {kept.asked:g} years",
        "capacity left",
        left,
        "%",
        rule.END_OF_LIFE.value,
        left - rule.END_OF_LIFE.value,
        why=why + "; cycling is left out",
        mend=f"{mend[0].upper()}{mend[1:]}.",
        source=f"{_law(seen)}; {rule.END_OF_LIFE.reason}: {rule.END_OF_LIFE.source}",
        place=place,
    )


def _carries(context: Context, seen: Seen, subject: str, place: str) -> Finding:
    kept = seen.kept
    asked = context.network.need.runtime
    then, now = float(kept.then[kept.own, kept.usual]), float(kept.now[kept.own])
    name, state = "aged pack no longer carries the load", f"on pack, after {kept.asked:g} years, room at 25 °C"
    why = (
        f"{held(seen)}; new it is {said(kept, now)}, and with cells that fade twice as fast {said(kept, kept.doubled)}"
    )
    if asked is None:
        return Finding(
            name,
            OPEN,
            subject,
            state,
            "runtime at mean load",
            then,
            "s",
            why=f"{why}; the need asks for no runtime, so there is nothing to judge it by",
            mend="Say in the need how long the load must be carried.",
            source=_law(seen),
            place=context.need_place,
        )
    status = FAILS if then < asked else TIGHT if kept.doubled < asked else HOLDS
    year = met_until(kept, kept.own, asked)
    if year is not None and year > 0.0:
        early, late = scattered(kept, year)
        why += f"; {show(asked, 's')} are reached until year {year:.1f} ({early:.1f} to {late:.1f} with other cells)"
    return Finding(
        name,
        status,
        subject,
        state,
        "runtime at mean load",
        then,
        "s",
        asked,
        then - asked,
        why=why + "; cycling is left out",
        mend=_longer(kept, asked, seen.window.standby / seen.window.cells),
        source=f"runs with the capacity and resistance left; {_law(seen)}",
        place=context.need_place,
    )


def _longer(kept: Keeping, asked: float, highest: float) -> str:
    """What would reach the runtime after the years: another hold voltage (one that is good for years,
    if there is one), cooler cells, more of them."""
    then = kept.then[:, kept.usual]
    others = [v for v in range(len(then)) if then[v] >= asked and then[v] > then[kept.own] * (1.0 + BETTER)]
    others = [v for v in others if kept.volts[v] <= highest] or others
    words = []
    if others:
        v = max(others, key=lambda j: float(then[j]))
        longer = said(kept, float(kept.then[v, kept.usual]))
        words.append(f"Held at {show(float(kept.volts[v]), 'V')} a cell it is {longer} then")
    if kept.then[kept.own, -1] >= max(asked, (1.0 + BETTER) * then[kept.own]):
        words.append(f"with cells at 25 °C it is {said(kept, float(kept.then[kept.own, -1]))}")
    text = "; ".join(words) or "more cells side by side, cooler cells, or new ones in time"
    return f"{text[0].upper()}{text[1:]}."


def _best(context: Context, seen: Seen, subject: str, place: str) -> Finding:
    """Whether a lower hold voltage carries the load longer in the end."""
    kept = seen.kept
    own = kept.own
    then = kept.then[:, kept.usual]
    lower = np.arange(own + 1, len(kept.volts))
    better = lower[then[lower] > (1.0 + BETTER) * then[own]] if len(lower) else lower
    status = TIGHT if len(better) else HOLDS
    v = int(better[np.argmax(then[better])]) if len(better) else int(lower[0]) if len(lower) else own
    text = f"{show(float(kept.volts[v]), 'V')} a cell gives {said(kept, float(kept.now[v]))} now and "
    text += f"{said(kept, float(then[v]))} in year {kept.asked:g}, {show(float(kept.volts[own]), 'V')} as built "
    text += f"{said(kept, float(kept.now[own]))} and {said(kept, float(then[own]))}"
    if v == own:
        text = "it is the lowest of those tried"
    year, worn = overtakes(kept.years, kept.hours[own], kept.hours[v]), knee_year(kept, own)
    if len(better) and year is not None:
        text += f"; it is ahead from year {year:.1f} on"
        if worn is not None and year > worn:
            text += f", but the cells are past the knee from year {worn:.1f} on, where no law holds"
            status = HOLDS
    elif v != own and not len(better):
        knee = knee_year(kept, own)
        until = f"before the knee in year {knee:.1f}" if knee is not None else f"within {kept.years[-1]:g} years"
        text += f"; it does not catch up {until}: what it saves in years it gives away in hours"
    return Finding(
        "a lower hold voltage would carry the load longer",
        status,
        subject,
        f"on pack, after {kept.asked:g} years",
        "runtime at mean load",
        float(then[v]) if len(better) else float(then[own]),
        "s",
        why=text,
        mend=f"Hold {show(float(kept.volts[v]), 'V')} a cell.",
        source=f"runs with the capacity and resistance left; {_law(seen)}",
        place=place,
    )


def headline_of(context: Context, seen: Seen) -> str:
    """What the years cost, in one sentence."""
    kept = seen.kept
    if kept.law is None:
        return f"No ageing law is known for {chemistry(context.network, seen.pack)}."
    left, then = float(kept.left[kept.own, kept.usual]), float(kept.then[kept.own, kept.usual])
    text = f"H{held(seen)[1:]}, {100 * left:.0f} % is left after {kept.asked:g} years"
    if kept.now[kept.own] > 0.0:
        text += f": {said(kept, then)} instead of {said(kept, float(kept.now[kept.own]))}"
    return text + "."
