"""What the cells' answer says of one pack: its findings, and one line with numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tideover.answers import cells_built as built
from tideover.answers.base import Finding
from tideover.answers.cells_charging import charging, floating
from tideover.answers.cells_emptying import NEAR_EMPTY, emptying
from tideover.answers.cells_shared import unit_of
from tideover.answers.cells_years import headline_of, years
from tideover.answers.context import Context
from tideover.answers.exposure import ROOMS
from tideover.cases import written
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.answers.cells import Seen


def findings(context: Context, seen: Seen) -> list[Finding]:
    """Charging, float, discharging, then years."""
    kept = [*charging(context, seen), *floating(context, seen), *emptying(context, seen)]
    return [*kept, *built.findings(context, seen), *years(context, seen)]


def headline(context: Context, seen: Seen) -> str:
    """One line with numbers."""
    w, e = seen.window, seen.emptied
    said = []
    if seen.charger is not None:
        hold = written(context.network, (seen.charger.name, "hold_voltage")) / w.units
        said.append(f"charged to {show(hold, 'V')} a {unit_of(seen)} ({show(w.highest, 'V')} is the limit)")
    lows = np.fmin(e.weak, e.mean)[: len(ROOMS)]
    if np.isfinite(lows).any():
        k = int(np.nanargmin(lows))
        so_far = "" if e.ended_by[k] else f" within {show(float(e.runtime[k]), 's')}"
        said.append(f"emptied to {show(float(lows[k]), 'V')}{so_far} ({show(w.lowest, 'V')})")
    if np.isfinite(seen.left_on) and seen.left_on < w.lowest - NEAR_EMPTY:
        said.append(f"to {show(max(seen.left_on, 0.0), 'V')} by a load left on")
    if seen.charged and np.isfinite(seen.charged.warmest[: len(ROOMS)]).any():
        cold = float(np.nanmin(seen.charged.coldest[: len(ROOMS)]))
        warm = float(np.nanmax(seen.charged.warmest[: len(ROOMS)]))
        said.append(
            f"charged at {show(cold, 'K')} to {show(warm, 'K')} ({show(w.coldest_charge, 'K')} to "
            f"{show(w.warmest_charge, 'K')})"
        )
    text = ", ".join(said)
    return f"{text[:1].upper()}{text[1:]}. {headline_of(context, seen)}" if text else headline_of(context, seen)
