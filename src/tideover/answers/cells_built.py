"""What the cells' answer says of a pack whose cells are known one by one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tideover.answers import limits as rule
from tideover.answers.base import HOLDS, OPEN, TIGHT, Finding, Table
from tideover.answers.context import Context
from tideover.design.built import growths
from tideover.design.cell_model import BuiltPack
from tideover.network import Placed
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.answers.cells import Seen


def findings(context: Context, seen: Seen) -> list[Finding]:
    """A poor fit; of cells that are known one by one, groups of unequal capacity, groups of unequal resistance and
    unequal cells side by side."""
    doubts, pack = poorly_fitted(context, seen.pack), seen.pack.built
    if pack is None:
        return doubts
    return [*doubts, *_capacities(context, seen, pack), *_resistances(context, seen, pack)]


def poorly_fitted(context: Context, pack: Placed) -> list[Finding]:
    """What the file of a pack's cell says against itself: its logs are not followed."""
    return [
        Finding(
            "the cell does not follow the logs that it was fitted on",
            OPEN,
            pack.name,
            "every run",
            why=f"{doubt.split('. ')[0].rstrip('.')}. Every voltage and runtime of this pack hangs on that cell",
            mend="Log such a cell again, from full and at rest, at two currents, by four wires and with its "
            "temperature; then: tideover cells fit FILE... --out the same file --replace",
            source="what is left between log and fitted cell, above what two pairs and a curve leave of a sound log "
            "(engineering judgement)",
            place=context.place(pack.name),
        )
        for doubt in pack.doubts
    ]


def table(seen: Seen) -> tuple[Table, ...]:
    """Groups of a pack of known cells, from its plus end."""
    pack = seen.pack.built
    if pack is None:
        return ()
    own = growths(pack)
    rows = []
    for k, group in enumerate(pack.groups):
        ohms = None
        if own is not None and all(c.resistance for c in group):
            ohms = 1.0 / sum(1.0 / c.resistance.nominal for c in group if c.resistance)
        rows.append((str(k + 1), sum(c.capacity.nominal for c in group), ohms, ", ".join(c.id for c in group)))
    columns = (("group", ""), ("capacity", "C"), ("resistance", "ohm"), ("cells", ""))
    method = pack.groups[0][0].method
    title = "Groups of known cells, from the plus end" + (f"; resistance by {method}" if method else "")
    return (Table(title, columns, tuple(rows)),)


def _named(pack: BuiltPack, group: int) -> str:
    """A group by its place and its cells."""
    return f"group {group + 1} ({', '.join(c.id for c in pack.groups[group])})"


def _capacities(context: Context, seen: Seen, pack: BuiltPack) -> list[Finding]:
    """What the weakest group costs: the string is empty when it is."""
    if pack.series < 2:
        return []
    sums = np.array([sum(c.capacity.nominal for c in group) for group in pack.groups])
    weakest = int(np.argmin(sums))
    lost = 1.0 - float(sums[weakest] / sums.mean())
    limit = rule.GROUPS_UNEVEN.value
    return [
        Finding(
            "groups have unequal capacity",
            TIGHT if lost > limit else HOLDS,
            seen.pack.name,
            "every run",
            "capacity of the weakest group below the mean",
            lost,
            "%",
            limit,
            limit - lost,
            why=f"{_named(pack, weakest)} has {show(sums[weakest], 'C')}, the mean is {show(float(sums.mean()), 'C')}; "
            "the string is empty when its weakest group is",
            mend="Group the cells anew, with others from the box: tideover cells group.",
            source=f"{rule.GROUPS_UNEVEN.reason} ({rule.GROUPS_UNEVEN.source})",
            place=context.place(seen.pack.name),
        )
    ]


def _resistances(context: Context, seen: Seen, pack: BuiltPack) -> list[Finding]:
    """Cells that work harder than their neighbours, and groups that sag before the others."""
    own = growths(pack)
    place = context.place(seen.pack.name)
    if own is None:
        return [
            Finding(
                "resistance of the cells is not known",
                OPEN,
                seen.pack.name,
                "every run",
                why=f"{pack.file} gives no resistance for some of them: nobody can say how they share a current",
                mend="Measure all of them by one method, and write it beside their capacity.",
                place=place,
            )
        ]
    out = []
    if pack.parallel > 1:
        spreads = [max(max(g) / np.mean(g) - 1.0, 1.0 - min(g) / np.mean(g)) for g in own]
        k = int(np.argmax(spreads))
        odd = max(range(pack.parallel), key=lambda j: abs(own[k][j] - float(np.mean(own[k]))))
        limit = rule.BESIDE_UNEVEN.value
        out.append(
            Finding(
                "cells side by side have unequal resistance",
                TIGHT if spreads[k] > limit else HOLDS,
                seen.pack.name,
                "every run",
                "resistance of one cell from the mean of its group",
                float(spreads[k]),
                "%",
                limit,
                limit - float(spreads[k]),
                why=f"{pack.groups[k][odd].id} in group {k + 1} has {100 * own[k][odd] / np.mean(own[k]):.0f} % of the "
                "mean there: unequal cells share a current unequally, and the hardest worked one ages first",
                mend="Exchange it for one from the box that is nearer to its neighbours.",
                source=f"{rule.BESIDE_UNEVEN.reason} ({rule.BESIDE_UNEVEN.source})",
                place=place,
            )
        )
    if pack.series > 1:
        ohms = np.array([1.0 / np.sum(1.0 / np.array(g)) for g in own])
        k = int(np.argmax(ohms))
        more = float(ohms[k] / ohms.mean() - 1.0)
        limit = rule.GROUPS_RESIST.value
        out.append(
            Finding(
                "groups have unequal resistance",
                TIGHT if more > limit else HOLDS,
                seen.pack.name,
                "every run",
                "resistance of one group above the mean",
                more,
                "%",
                limit,
                limit - more,
                why=f"{_named(pack, k)} sags {100 * more:.0f} % more under load than the mean, so that the board sees "
                "it empty first",
                mend="Group the cells anew, with conductances in balance: tideover cells group.",
                source=f"{rule.GROUPS_RESIST.reason} ({rule.GROUPS_RESIST.source})",
                place=place,
            )
        )
    return out
