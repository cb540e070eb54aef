"""What the strips of a pack of known cells do over a run: their heat, and what the hardest worked cell gives.

The same figures as `tideover cells pack` gives for that load (`tideover.cells.as_built`): every cell is followed by
itself to the cut-off of the weakest group, as described, with poor welds, cold and warm.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tideover.answers import states
from tideover.answers.base import FAILS, HOLDS, TIGHT, Finding, Table, judged
from tideover.answers.context import Context
from tideover.answers.flows import flows
from tideover.cells.as_built import REFUSED, WATCHED, AsBuilt, assess, stronger
from tideover.design.welded import layout
from tideover.laws.constants import TEMP_25
from tideover.parts.base import TYPICAL
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.answers.cells import Seen

ON_PACK = (states.FULL, states.HALF, states.NEAR)
NEAR_RATING = 0.1
"""Share of a cell's rating under which it counts as tight: its resistance may grow by more in service. Judgement."""


def assessed(context: Context, seen: Seen) -> AsBuilt | None:
    """The pack as built under the largest mean power of any standing state on it; None where its strips, or that
    power, are not known."""
    pack = seen.pack.built
    power = _power(context, seen.pack.name)
    if pack is None or pack.strip is None or power <= 0.0:
        return None
    cold, warm = context.network.need.ambient
    return assess(pack, seen.pack.kind, power=power, air=(cold, min(max(TEMP_25, cold), warm), warm))


def _power(context: Context, pack: str) -> float:
    """Largest that the pack gives at mean load. [W]"""
    part = context.network.part(pack)
    plus, minus = (context.network.nodes[part.nodes[part.kind.terminals.index(t)]] for t in ("plus", "minus"))
    found = [0.0]
    for flow in flows(context):
        volts, low, current = flow.volts.get(plus), flow.volts.get(minus), flow.currents.get(pack)
        if flow.state in ON_PACK and volts is not None and low is not None and current is not None:
            found.append((volts - low) * abs(current))
    return max(found)


def findings(context: Context, seen: Seen, found: AsBuilt) -> list[Finding]:
    """The hottest piece of strip, and the cell that gives most, over the whole run."""
    name, place = seen.pack.name, context.place(seen.pack.name)
    out = []
    if found.strips:
        h = found.strips[0]
        limit = REFUSED if h.rise > REFUSED else WATCHED
        out.append(
            Finding(
                "strip runs hot",
                FAILS if h.rise > REFUSED else TIGHT if h.rise > WATCHED else HOLDS,
                name,
                f"a whole run, {h.case}",
                "rise of the hottest piece of strip over the air",
                float(h.rise) if np.isfinite(h.rise) else None,
                "ΔK",
                limit,
                limit - float(h.rise) if np.isfinite(h.rise) else None,
                why=f"the strip {h.segment.name} carries {show(h.current, 'A')} and turns {show(h.heat, 'W')} into "
                "heat; it lies on the cells' insulating rings",
                mend=stronger(layout(seen.pack.built), h) if seen.pack.built and h.rise > WATCHED else "",
                source=f"a rise of {WATCHED:g} K to watch and {REFUSED:g} K to change ({TYPICAL})",
                place=place,
            )
        )
    if found.rating is not None:
        peak, cell, group, case = max((c.peak, c.id, c.group, r.name) for r in found.cases for c in r.cells)
        out.append(
            Finding(
                "one cell gives more than its rating over a run",
                judged(found.rating - peak, NEAR_RATING * found.rating),
                name,
                f"a whole run, {case}",
                "largest current of a single cell",
                float(peak),
                "A",
                found.rating,
                float(found.rating - peak),
                why=f"{cell} in group {group} gives most: shares change as the groups empty",
                mend="Put more cells side by side, move the leads (tideover cells pack), or cut off earlier.",
                source="the cell's discharge rating",
                place=place,
            )
        )
    return out


def table(found: AsBuilt) -> Table:
    """How the current was shared over the run, case by case."""
    rows = tuple((r.name, r.temp, r.lasted, r.largest, r.at, r.spread, r.trading) for r in found.cases)
    columns = (
        ("case", ""),
        ("air", "K"),
        ("lasted", "s"),
        ("largest share", "%"),
        ("when", "%"),
        ("charge left apart by", "%"),
        ("cells trade after it", "A"),
    )
    return Table("Sharing over a whole run at the mean load, from the first instant to the cut-off", columns, rows)
