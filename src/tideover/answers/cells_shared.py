"""What several parts of the cells' answer say: a board's thresholds, a current against its rating."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tideover.answers import limits as rule
from tideover.answers.base import HOLDS, TIGHT, Finding, judged
from tideover.answers.context import Context
from tideover.answers.packs import board_of
from tideover.cases import written
from tideover.laws.constants import TEMP_25
from tideover.quantity import Quantity, show

if TYPE_CHECKING:
    from tideover.answers.cells import Seen


def unit_of(seen: Seen) -> str:
    """A cell, or a block of several."""
    return "cell" if seen.window.cells == 1 else "block"


def room_of(context: Context, k: int) -> float:
    """Temperature of one of the three rooms. [K]"""
    low, high = context.network.need.ambient
    return (low, TEMP_25, high)[k]


def board_finding(context: Context, seen: Seen, threshold: str) -> list[Finding]:
    """What a board's threshold, with its spread, would let a group come to."""
    board = board_of(context.network, seen.pack)
    w = seen.window
    if board is None:
        if threshold == "cut_off" or seen.window.cells > 1:
            return []
        return [
            Finding(
                "nothing watches the groups",
                TIGHT,
                seen.pack.name,
                "all the time",
                why="no protection board senses this pack: neither a weak group nor a failed charger is noticed",
                mend="Put a protection board into its negative leg, or draw the one there is.",
                source="usual practice with lithium cells",
                place=context.place(seen.pack.name),
            )
        ]
    value = board.values[threshold]
    nominal = written(context.network, (board.name, threshold))
    spread = isinstance(value, Quantity) and value.high > value.low
    place = context.place(board.name, threshold) or context.place(board.name)
    if threshold == "over_charge":
        high = value.high if isinstance(value, Quantity) else nominal
        limit = w.absolute + rule.BOARD_ABOVE.value * w.cells
        return [
            Finding(
                "protection board lets the cells go too high",
                judged(limit - high, 1e-9),
                board.name,
                "charger failed, or a group far ahead",
                "over-charge threshold",
                high,
                "V",
                limit,
                limit - high,
                f"{board.name} over-charge at its highest" if spread else "nominal",
                why=f"it acts at {show(nominal, 'V', 4)}, with its spread at up to {show(high, 'V', 4)}; cells bear "
                f"{show(w.absolute, 'V', 4)}" + (", so it is a last resort that the charger must never need"
                                                 if high > w.absolute else ""),
                mend=f"A board made for these cells: over-charge at {show(w.absolute, 'V', 4)} or little above.",
                source=f"{rule.BOARD_ABOVE.reason} ({rule.BOARD_ABOVE.source})",
                place=place,
            )
        ]  # fmt: skip
    low = value.low if isinstance(value, Quantity) else nominal
    limit = w.borne - rule.BOARD_BELOW.value * w.cells
    return [
        Finding(
            "protection board lets the cells go too low",
            TIGHT if low < limit else HOLDS,
            board.name,
            "run or shelf that nothing else ends",
            "cut-off threshold",
            low,
            "V",
            limit,
            low - limit,
            f"{board.name} cut-off at its lowest" if spread else "nominal",
            why=f"it acts at {show(nominal, 'V', 4)}, with its spread at down to {show(low, 'V', 4)}; "
            f"{show(w.lowest, 'V', 4)} is the cells' lowest, {show(w.borne, 'V', 4)} what they bear once: it is a last "
            "resort for what no lockout ends",
            mend=f"A board that cuts off at {show(w.in_use, 'V')}; until then let a lockout above it end the run, and "
            "do not leave the pack empty.",
            source=f"{rule.BOARD_BELOW.reason} ({rule.BOARD_BELOW.source})",
            place=place,
        )
    ]


def rate_finding(
    context: Context,
    name: str,
    value: float,
    rating: float,
    unrated: rule.Rule,
    state: str,
    words: str,
    mend: str,
    seen: Seen,
    place: str,
    figure: str,
) -> Finding:
    """A cell's current against its rating, or against what is usual where none is stated."""
    stated = np.isfinite(rating)
    limit = rating if stated else unrated.value * seen.window.capacity
    margin = limit - value
    status = judged(margin, (1.0 - rule.RATED_TIGHT.value) * limit)
    return Finding(
        name,
        status if stated or status == HOLDS else TIGHT,
        seen.pack.name,
        state,
        "current of the hardest worked cell",
        value,
        "A",
        limit,
        margin,
        why=f"{3600 * value / seen.window.capacity:.2f} of its capacity an hour; {words}",
        mend=mend,
        source="limit stated with the cells" if stated else f"{unrated.reason} ({unrated.source})",
        place=place,
    )
