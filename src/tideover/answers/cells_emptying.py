"""What the cells' answer says of runs on the pack."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tideover.answers import limits as rule
from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Finding, judged
from tideover.answers.cells_shared import board_finding, rate_finding
from tideover.answers.context import Context
from tideover.answers.exposure import COLD, LOW, ROOMS, RUNS, USUAL, WARM
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.answers.cells import Seen

NEAR_EMPTY = 0.005
"""Below its limit by less than this a cell counts as being at it: a march stops within that of a threshold. [V]"""


def emptying(context: Context, seen: Seen) -> list[Finding]:
    """How far a run takes the cells, what the board would allow, currents and temperatures."""
    w, e = seen.window, seen.emptied
    share, words = seen.share
    amps, state = seen.peak
    out = [_low(context, seen), *_left_on(context, seen), *board_finding(context, seen, "cut_off")]
    if np.isfinite(amps):
        out.append(
            rate_finding(
                context,
                "cells are discharged too fast",
                amps * share,
                w.discharge_rating,
                rule.UNRATED_DISCHARGE,
                state,
                words,
                "More cells side by side, or cells for higher currents.",
                seen,
                context.place(seen.pack.name),
                "discharge_rating",
            )
        )
    if np.isfinite(e.coldest[COLD]) and np.isfinite(e.warmest[WARM]):
        warm = float(np.fmax(e.warmest[WARM], seen.floated.temp[WARM]))
        cold = float(e.coldest[COLD])
        margin, value, limit, room = min(
            (cold - w.coldest_discharge, cold, w.coldest_discharge, COLD),
            (w.warmest_discharge - warm, warm, w.warmest_discharge, WARM),
        )
        out.append(
            Finding(
                "cells are discharged outside their temperatures",
                judged(margin, rule.CELL_TEMP_TIGHT.value),
                seen.pack.name,
                f"on pack, {ROOMS[room]}",
                "cell temperature",
                value,
                "K",
                limit,
                margin,
                why=f"from {show(cold, 'K')} to {show(warm, 'K')} over all runs; {show(w.coldest_discharge, 'K')} to "
                f"{show(w.warmest_discharge, 'K')} is allowed",
                mend="Insulate or heat the box in the cold; vents and shade against warmth.",
                source=f"runs in the three rooms; {w.origin('coldest_discharge', 'warmest_discharge')}",
                place=context.place(seen.pack.name),
            )
        )
    return out


def _left_on(context: Context, seen: Seen) -> list[Finding]:
    """What becomes of cells that no board watches, where nobody switches the load off."""
    w, low = seen.window, seen.left_on
    if not np.isfinite(low):
        return []
    status = HOLDS if low >= w.lowest - NEAR_EMPTY else TIGHT
    if low < rule.DEEP.value * w.borne:
        status = FAILS
    said = show(max(low, 0.0), "V")
    return [
        Finding(
            "load left on runs the cells flat",
            status,
            seen.pack.name,
            "on pack, load left on after its run, room at 25 °C",
            "lowest group voltage",
            low,
            "V",
            w.lowest,
            low - w.lowest,
            why=f"nothing in the drawing stops the load before a group is at {said}; {show(w.lowest, 'V')} is the "
            f"cells' lowest, {show(w.borne, 'V')} what they bear once"
            if status != HOLDS
            else f"the lowest group comes down to {said}, and no further while it is followed",
            mend=f"Something that stops the load at {show(w.in_use, 'V')} a group: a protection board, a converter "
            "with a lockout, a low-voltage disconnect.",
            source=f"run that is not stopped when the load leaves its window; {w.origin('lowest_voltage')}",
            place=context.place(seen.pack.name),
        )
    ]


def _low(context: Context, seen: Seen) -> Finding:
    """How far a run takes the weakest group, and what ended it."""
    w, e = seen.window, seen.emptied
    name, subject = "cells are emptied too far", seen.pack.name
    lows = np.fmin(e.weak, e.mean)
    if not np.isfinite(lows).any():
        return Finding(
            name,
            OPEN,
            subject,
            "on pack",
            why="the full pack cannot carry the load at all, so no run could be read: see how long it carries the load",
            mend="Mend that first.",
            source="run until the load stops",
            place=context.place(subject),
        )
    usual = lows[: len(ROOMS)]
    k = int(np.nanargmin(usual)) if np.isfinite(usual).any() else LOW
    value = float(lows[k])
    status, limit = HOLDS, w.in_use
    if value < w.lowest - NEAR_EMPTY:
        status, limit = FAILS, w.lowest
    elif lows[LOW] < w.lowest - NEAR_EMPTY:
        status, limit, k, value = TIGHT, w.lowest, LOW, float(lows[LOW])
    elif value < w.in_use - rule.USE_TIGHT.value * w.cells:
        status = TIGHT
    ended = e.ended_by[k]
    why = (
        f"the run is ended by the {ended} with the weak group at {show(float(e.weak[k]), 'V')}"
        if ended
        else f"followed for {show(float(e.runtime[k]), 's')}, the weak group comes down to "
        f"{show(float(e.weak[k]), 'V')}"
    )
    if value < 0.0:
        why += ": it is reversed, which can start a fire at the next charge"
    why += f", the mean one at {show(float(e.mean[k]), 'V')}; {show(w.lowest, 'V')} is the cells' lowest, "
    why += f"{show(w.in_use, 'V')} what is planned for"
    mend = "Let a converter's lockout, or a board with a higher cut-off, end the run sooner."
    if np.isfinite(e.pack_then[USUAL]) and e.spared[USUAL] > 0.0:
        mend = (
            f"A lockout or cut-off that acts with the weak group at {show(w.in_use, 'V')}, the pack then at "
            f"{show(float(e.pack_then[USUAL]), 'V')}: it costs {show(float(e.spared[USUAL]), 's', 2)} of "
            f"{show(float(e.runtime[USUAL]), 's')}."
        )
    return Finding(
        name,
        status,
        subject,
        f"on pack, {'end of the run' if ended else 'as long as it was followed'}, {RUNS[k]}",
        "lowest group voltage",
        value,
        "V",
        limit,
        value - limit,
        "nominal" if k < LOW else RUNS[LOW],
        why=why,
        mend=mend,
        source=f"run until the load stops; {w.origin('lowest_voltage')}",
        place=context.place(subject),
    )
