"""What gets hot?

Asks what
    How warm every part, the air in the box and its wall become in the warmest room: in every standing state once all is
    warm, and through a day with a run to the end and the recharge after it. The same sealed, vented, and with every
    tolerance the way that heats. Whether a linear charger holds itself back. Whether box and adapter may be touched.

Why it matters
    A linear charger in a closed box folds back and charges for twice as long, an electrolytic loses half its life for
    each 10 K, and cells that are charged or kept full above 45 °C wear out in years instead of decades. A box that is
    cool on the bench is not cool in a cupboard in August.

How computed
    The network is marched at mean load, with the charge of the pack held, until all temperatures stand still. Each part
    gives its heat to the air in the box (an adapter and a load that stand outside to the room), the air to wall and
    vents, the wall to the room by convection and radiation. A peak of the load adds to a part what it adds to its loss,
    times (1 - exp(-duration / tau)) / (1 - exp(-interval / tau)): a part slower than the peaks feels their mean, a
    quicker one the peak. In the corner of a state every figure moves the way that sets more heat free in the box.

Blind spots
    One temperature for each part and for the air: next to a hot part and under the lid it is hotter. A part's thermal
    resistance is that of its data sheet's test board at best. Cells are taken at the mean of the pack. Leads outside
    the box are taken as inside. A load's inside is its maker's matter. No sun, no neighbour that is warm itself. Where
    loss falls again with a figure (a charger that folds back), the corner of the whole box is not the part's own worst.

An example that trips it
    A linear charger that burns 2 W beside the cells in a sealed box of a hand's size, in a room at 35 °C: the air
    stands at 49 °C, above what lithium cells may be charged at.

Cure
    Less loss (a switching charger, an adapter closer to the pack's voltage), less charge current, vents low and high of
    more than 1 % of the box's surface, a larger box or a painted metal one, the hot part on the wall or on a heat sink,
    cells away from it.

Source
    Natural convection and radiation as on the page of the box; touch by IEC 62368-1 clause 9; limits of parts as stated
    with them, usual derating, most of them typical and unverified.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tideover.answers import heat_said as say
from tideover.answers import states
from tideover.answers.base import HOLDS, OPEN, Answer, Series, worst
from tideover.answers.context import Context, settled
from tideover.answers.heat_read import Reading, day_readings, standing_readings
from tideover.answers.vents import Vents, vents
from tideover.answers.warm_day import UNFOLDED, Day, days, linear_chargers
from tideover.answers.warmest import outside
from tideover.answers.warmth import CORNERS, DRAWN, LABELS, Warmth, settings_of, usual_cases, warm_parts, warmth
from tideover.cases import Batch, join, override

KEY = "heat"
COOL_CHARGER = 500.0
"""A foldback temperature that is never reached. [K]"""
SHOWN = 4
"""Parts drawn over the day, the ones nearest to their limits."""


@dataclass(frozen=True)
class Heat:
    """All that the answer says something about.

    Attributes
    ----------
    readings : tuple of Reading
        Every judged temperature, as drawn and in corners.
    days : list of Day
        As drawn, in the worst corner, and with a charger that never folds back where there is a linear one.
    vents : Vents or None
        Openings tried, where something is too hot.
    """

    context: Context
    warm: Warmth
    readings: tuple[Reading, ...]
    days: tuple[Day, ...]
    vents: Vents | None


def answer(context: Context) -> Answer:
    """What gets hot; see the top of this file."""
    settings = settings_of(context)
    if not settings:
        return Answer(KEY, OPEN, "There is neither an adapter nor a pack in the drawing, so nothing warms anything.")
    batch = usual_cases(context, settings)
    warm = warmth(context, batch, settings)
    found = warm.soaked.found
    if not found[:, DRAWN].any():
        return Answer(KEY, OPEN, "No standing state of this build lasts: mend what `standing` says of them first.")
    past = _days(context, warm)
    readings = (*standing_readings(warm), *day_readings(context, [d for d in past if not d.label.endswith(UNFOLDED)]))
    hot = any(r.status != HOLDS for r in readings if r.opens)
    heat = Heat(context, warm, readings, tuple(past), vents(warm, readings) if hot else None)
    said = say.findings(heat)
    return Answer(
        KEY,
        worst(f.status for f in said),
        say.headline(heat, said),
        settled(said),
        say.tables(heat),
        _series(heat),
    )


def _days(context: Context, warm: Warmth) -> list[Day]:
    """As drawn, in the corner that heats the charging box most, and with chargers that never fold back."""
    network, batch = context.network, warm.soaked.batch
    names = [s.standing.name for s in warm.settings]
    if states.MAINS_FULL not in names or not states.of_kind(network, "pack"):
        return []
    full = names.index(states.MAINS_FULL)
    worst_corner = CORNERS + (names.index(states.CHARGING) if states.CHARGING in names else full)
    columns = [DRAWN] if batch.labels[worst_corner] == "nominal" else [DRAWN, worst_corner]
    cases = [batch.take([column]) for column in columns]
    chargers = linear_chargers(network)
    if chargers:
        cool: Batch = override(cases[0], {(c, "foldback_temperature"): COOL_CHARGER for c in chargers}, UNFOLDED)
        cases.append(cool)
        columns.append(DRAWN)
    stand = [k for k, c in enumerate(columns) if warm.soaked.found[full, c]]
    every = join(network, cases).take(np.array(stand, dtype=int))
    return days(network, every, warm.soaked, np.array([full * batch.count + columns[k] for k in stand], dtype=int))


def _series(heat: Heat) -> tuple[Series, ...]:
    """Air, cells and the parts nearest to their limits through the day as drawn."""
    day, network = next((d for d in heat.days if d.label == LABELS[DRAWN]), None), heat.context.network
    if day is None:
        return ()
    near = [r.part for r in sorted(heat.readings, key=lambda r: r.left) if r.part in day.temps]
    packs = [p.name for p in states.of_kind(network, "pack")]
    inside = [p.name for p in warm_parts(network) if not outside(network, p)]
    names = list(dict.fromkeys(["box", *packs, *(n for n in near if n in inside)]))[: SHOWN + len(packs)]
    once = np.append(np.diff(day.t) > 0.0, True)
    t = tuple(day.t[once].tolist())
    said = {"box": "air in the box"}
    return tuple(Series(said.get(n, n), "time", "s", "K", t, tuple(day.temps[n][once].tolist())) for n in names)
