"""What the heat answer says: findings, headline and tables."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from tideover.answers import states
from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Finding, Table, judged
from tideover.answers.context import known
from tideover.answers.heat_read import DAYTIME, Reading
from tideover.answers.vents import DRAWN_CASE
from tideover.answers.warm_day import LOSS, UNFOLDED, linear_chargers
from tideover.answers.warmest import (
    FOLDED,
    TOUCH_MARGIN,
    TOUCH_ROOM,
    TOUCHED,
    USUAL_TOUCH,
    material,
    of_part,
    outside,
)
from tideover.answers.warmth import CORNERS, DRAWN, LABELS, TEMPERATE, opened, warm_parts
from tideover.cases import written
from tideover.network import Placed
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.answers.heat import Heat

CURRENT = "charge current [A]"
WORTH_TELLING = 1.0
"""Above the air around it by more than this is worth a word. [K]"""


def findings(heat: Heat) -> list[Finding]:
    """Parts, cells, air, touch, foldback, and states that could not be judged."""
    return [*_parts(heat), *_folded(heat), *_touched(heat), *_cold_only(heat), *_no_day(heat)]


def headline(heat: Heat, said: list[Finding]) -> str:
    """The worst finding, or how much room is left."""
    room = show(heat.context.network.need.ambient[1], "K")
    bad = sorted((f for f in said if f.status in (FAILS, TIGHT)), key=lambda f: f.status != FAILS)
    if bad:
        f = bad[0]
        return f"In a room at {room}: {f.why}"
    nearest = min((r for r in heat.readings), key=lambda r: r.left, default=None)
    if nearest is None:
        return f"Nothing in this build has a limit that could be judged; the room is taken at {room}."
    cells = [r.value for r in heat.readings if r.part in _packs(heat)]
    also = f"; the cells reach {show(max(cells), 'K')}" if cells else ""
    undone = next((f" Not judged: {f.why}" for f in said if f.status == OPEN), "")
    return (
        f"In a room at {room} nothing gets too hot: nearest to its limit is {_name(nearest)} at "
        f"{show(nearest.value, 'K')}, {_bound(nearest)}{also}.{undone}"
    )


def _packs(heat: Heat) -> list[str]:
    return [p.name for p in states.of_kind(heat.context.network, "pack")]


def _bound(r: Reading) -> str:
    """What is nearest: the margin asked for, or the limit itself."""
    limit = show(r.limit.hard, "K")
    return f"of {limit}" if r.limit.screen >= r.limit.hard else f"tight from {show(r.limit.screen, 'K')}, limit {limit}"


def _name(r: Reading) -> str:
    return "the air in the box" if r.part == "box" else r.part


# --- parts, cells, air -----------------------------------------------------------------------------------


def _parts(heat: Heat) -> Iterator[Finding]:
    """Each part that is too hot, the cells in any case, and the one that is nearest to its limit."""
    by_part: dict[str, list[Reading]] = {}
    for r in heat.readings:
        by_part.setdefault(r.part, []).append(r)
    worst = {part: min(rs, key=_rank) for part, rs in by_part.items()}
    shown = [r for r in worst.values() if r.status != HOLDS or r.part in _packs(heat)]
    rest = [r for r in worst.values() if r not in shown]
    if rest:
        shown.append(min(rest, key=lambda r: r.left))
    for r in sorted(shown, key=_rank):
        yield _too_hot(heat, r)


def _rank(r: Reading) -> tuple[int, float]:
    return (FAILS, TIGHT, HOLDS).index(r.status), r.left


def _too_hot(heat: Heat, r: Reading) -> Finding:
    name = {"box": "air in the box too hot"}.get(r.part, "cells too hot" if r.part in _packs(heat) else "part too hot")
    with_ = "" if r.case == "nominal" else f" with {r.case}"
    above = ""
    if r.part != "box" and r.opens and r.value - r.air > WORTH_TELLING:
        above = f", {show(r.value - r.air, 'ΔK')} above the air around it"
    if r.value > r.limit.hard:
        compared = f"above {show(r.limit.hard, 'K')}"
    elif r.value > r.limit.screen:
        compared = f"less than {show(r.limit.hard - r.limit.screen, 'ΔK')} below {show(r.limit.hard, 'K')}"
    else:
        compared = f"clear of {show(r.limit.hard, 'K')}"
    return Finding(
        name=name,
        status=r.status,
        subject=r.part,
        state=r.state,
        quantity="temperature",
        value=r.value,
        unit="K",
        limit=r.limit.hard,
        margin=r.limit.hard - r.value,
        case=r.case,
        why=f"{_name(r)} reaches {show(r.value, 'K')} in {r.state}{with_}{above}: {compared}, {r.limit.words}.",
        mend=_mend(heat, r) if r.status != HOLDS else "",
        source=r.limit.source,
        place=heat.context.place(r.part),
    )


def _mend(heat: Heat, r: Reading) -> str:
    """The smallest opening that does, or the heat path the part would need."""
    room = heat.context.network.need.ambient[1]
    if r.limit.screen <= room:
        return f"The room alone is {show(room, 'K')}: a cooler place, or {_name(r)} of a kind that bears more."
    out = []
    case = DRAWN_CASE if r.case == "nominal" else 1
    if heat.vents is not None and r.part in heat.vents.over:
        area = heat.vents.smallest(r.part, case)
        if area is not None and area > written(heat.context.network, ("box", "vent_area")) * 1.001:
            out.append(f"Openings of about {show(area, 'm^2', 2)} low and as much high would do.")
        elif area is None:
            out.append("No opening does it alone.")
    theta = _needed(heat, r)
    if theta is not None:
        now = written(heat.context.network, (r.part, "thermal_resistance"))
        out.append(f"A heat path of {show(theta, 'K/W', 2)} to the air instead of {show(now, 'K/W', 2)} would do.")
    cells = "Cells away from what is hot, less charge current, or less loss."
    return " ".join([*out, cells if r.part in _packs(heat) else "Less loss, or the part away from what is hot."])


def _needed(heat: Heat, r: Reading) -> float | None:
    """Thermal resistance that keeps a part in its limit, the air as it is; None where none can. [K/W]

    Its loss does not change, so that its rise above the air is in proportion to the resistance.
    """
    if r.part in ("box", *_packs(heat)):
        return None
    wanted = r.limit.screen if r.case == "nominal" else r.limit.hard
    if not r.air < wanted < r.value:
        return None
    return written(heat.context.network, (r.part, "thermal_resistance")) * (wanted - r.air) / (r.value - r.air)


# --- charger ------------------------------------------------------------------------------------------------


def _folded(heat: Heat) -> Iterator[Finding]:
    """Linear chargers: how much of their cold current is left when all is warm."""
    context, names = heat.context, [s.standing.name for s in heat.warm.settings]
    if states.CHARGING not in names:
        return
    k = names.index(states.CHARGING)
    row = context.row(heat.warm.settings[k])
    for name in linear_chargers(context.network):
        cold = float(context.nominal.q(name, CURRENT)[row, 0])
        amps = heat.warm.soaked.q(name, CURRENT)[k]
        warm, room = float(amps[DRAWN]), show(context.network.need.ambient[1], "K")
        if np.isnan(cold + warm) or cold <= 0.0:
            continue
        share = warm / cold
        temp = float(heat.warm.part(context.network.part(name))[k, DRAWN])
        folds = written(context.network, (name, "foldback_temperature"))
        status = judged(share - FOLDED.value, 0.0)
        why = f"{name} gives {show(warm, 'A')} warm and {show(cold, 'A')} cold; it stands at {show(temp, 'K')} in a "
        why += f"room at {room} and folds back at {show(folds, 'K')}{_longer(heat)}."
        yield Finding(
            name="charger holds itself back in the heat",
            status=TIGHT if status == FAILS else HOLDS,
            subject=name,
            state=states.CHARGING,
            quantity="share of the cold charge current",
            value=share,
            limit=FOLDED.value,
            margin=share - FOLDED.value,
            why=why,
            mend="Less charge current, a lower adapter voltage, a heat sink or vents, or a switching charger.",
            source=f"{FOLDED.reason}; {FOLDED.source}",
            place=context.place(name, "foldback_temperature"),
        )


def _longer(heat: Heat) -> str:
    """What foldback costs in recharge, from the day with it and the day without."""
    plain = next((d for d in heat.days if d.label == LABELS[DRAWN]), None)
    cool = next((d for d in heat.days if d.label.endswith(UNFOLDED)), None)
    if plain is None or cool is None or not np.isfinite(plain.full + cool.full):
        return ""
    took, would = plain.full - plain.back, cool.full - cool.back
    if took - would < 0.01 * would:
        return f"; after a whole run the recharge takes {show(took, 's')}, the foldback costs next to nothing of it"
    return f"; after a whole run the recharge takes {show(took, 's')} instead of {show(would, 's')}"


# --- touch ----------------------------------------------------------------------------------------------------


def _touched(heat: Heat) -> Iterator[Finding]:
    """Wall of the box, and adapters, in a room at 25 °C as the standard asks."""
    network, warm = heat.context.network, heat.warm
    of = material(network)
    wall = warm.wall[:, TEMPERATE]
    if not np.isnan(wall).all():
        k = int(np.nanargmax(wall))
        yield _surface(heat, "box", "wall of the box", of, float(wall[k]), k, judge=True)
    for adapter in states.of_kind(network, "adapter"):
        temps = warm.part(adapter)[:, TEMPERATE]
        if outside(network, adapter) and not np.isnan(temps).all():
            k = int(np.nanargmax(temps))
            yield _surface(heat, adapter.name, f"case of {adapter.name}", "plastic", float(temps[k]), k, judge=False)


def _surface(heat: Heat, part: str, what: str, of: str, temp: float, k: int, judge: bool) -> Finding:
    """One surface against how it is usually touched. An adapter is certified: its case only makes tight."""
    rule = TOUCHED[USUAL_TOUCH][of]
    margin = rule.value - temp
    status = judged(margin, TOUCH_MARGIN.value) if judge else TIGHT if margin < 0.0 else HOLDS
    longer = [words for words, limits in TOUCHED.items() if temp <= limits[of].value]
    room = show(TOUCH_ROOM.value, "K")
    may = f"it may be {longer[0]}" if longer else "it may not be touched at all"
    certified = "" if judge else "; its thermal resistance is as stated or typical, its certificate decides"
    return Finding(
        name="surface too hot to touch",
        status=status,
        subject=part,
        state=heat.warm.settings[k].label,
        quantity=f"{what}, room at {room}",
        value=temp,
        unit="K",
        limit=rule.value,
        margin=margin,
        why=f"the {what} ({of}) reaches {show(temp, 'K')} in a room at {room}: {may}{certified}.",
        mend="Less loss inside, a larger box or vents; or keep it out of reach."
        if judge
        else "An adapter of more power runs cooler; leave air around it.",
        source=rule.source,
        place=heat.context.place(part) or heat.context.need_place,
    )


# --- what could not be judged ------------------------------------------------------------------------------------


def _cold_only(heat: Heat) -> Iterator[Finding]:
    """States that stand cold and not warm, and states that do not stand at all."""
    for k, setting in enumerate(heat.warm.settings):
        if heat.warm.soaked.found[k, DRAWN]:
            continue
        stands = heat.context.has(setting)
        yield Finding(
            name="no lasting state in the heat",
            status=FAILS if stands else OPEN,
            subject=heat.context.network.title,
            state=setting.label,
            why=f"{setting.label}: it stands while cold, but warmed up it does not last: temperatures run away or a "
            "supply gives up."
            if stands
            else f"{setting.label}: there is no standing point that could warm up; a standing point is missing.",
            mend="Less loss, vents, or a part with less leakage."
            if stands
            else "Mend what `standing` says of this state.",
            source="the network marched until its temperatures stand still",
            place=heat.context.need_place,
        )


def _no_day(heat: Heat) -> Iterator[Finding]:
    """A day that could not be marched, or not to its end."""
    context = heat.context
    names = [s.standing.name for s in heat.warm.settings]
    if states.MAINS_FULL not in names or not _packs(heat):
        return
    if not heat.warm.soaked.found[names.index(states.MAINS_FULL), DRAWN]:
        return
    day = next((d for d in heat.days if d.label == LABELS[DRAWN]), None)
    if day is not None and day.whole:
        return
    if day is None:
        why = "the load is lost within a minute of losing mains, so there is no run to warm anything; a run is missing."
    else:
        why = f"the march of a day ended at {show(float(day.t[-1]), 's')}: from there on the supply starts and stops "
        why += "without end, or no voltage satisfies the circuit; the rest of the day is missing."
    yield Finding(
        name="day in the heat not finished",
        status=OPEN,
        subject=context.network.title,
        state=DAYTIME,
        why=why,
        mend="Mend what `outage` and `standing` say of it.",
        source="run to the end, mains back, recharge, in the warmest room",
        place=context.need_place,
    )


# --- tables -----------------------------------------------------------------------------------------------------


def tables(heat: Heat) -> tuple[Table, ...]:
    """Parts by state, box by variant, the day, and the openings tried."""
    made = [_by_state(heat), _by_variant(heat)]
    if heat.days:
        made.append(_by_day(heat))
    if heat.vents is not None:
        made.append(_by_vent(heat))
    return tuple(made)


def _limit(heat: Heat, part: Placed) -> float | None:
    limits = [of_part(heat.context.network, part, s.standing.name) for s in heat.warm.settings]
    hard = [limit.hard for limit in limits if limit is not None]
    return min(hard) if hard else None


def _by_state(heat: Heat) -> Table:
    warm, network = heat.warm, heat.context.network
    heads = (("part", ""), ("limit", "K"), *((s.label, "K") for s in warm.settings), ("worst corner", "K"))
    rows = []
    for part in warm_parts(network):
        temps = warm.part(part)
        rows.append(_row(part.name, _limit(heat, part), temps[:, DRAWN], temps[:, CORNERS:]))
    rows.append(_row("air in the box", None, warm.air[:, DRAWN], warm.air[:, CORNERS:]))
    rows.append(_row("wall of the box", None, warm.wall[:, DRAWN], warm.wall[:, CORNERS:]))
    room = show(network.need.ambient[1], "K")
    return Table(f"Temperatures in a room at {room}, as drawn, peaks of the load counted", heads, tuple(rows))


def _row(name: str, limit: float | None, drawn: np.ndarray, corner: np.ndarray) -> tuple[object, ...]:
    top = float("nan") if np.isnan(corner).all() else float(np.nanmax(corner))
    return (name, limit, *(known(float(t)) for t in drawn), known(top))


def _by_variant(heat: Heat) -> Table:
    """Sealed, as drawn, vented: the warmest of all states."""
    warm, network = heat.warm, heat.context.network
    packs = states.of_kind(network, "pack")
    vents = {LABELS[0]: written(network, ("box", "vent_area")), LABELS[1]: 0.0, LABELS[2]: opened(network)}
    rows = []
    for b, (label, area) in enumerate(vents.items()):
        cells = [known(_top(warm.part(p)[:, b])) for p in packs]
        hottest = max(
            ((_top(warm.part(p)[:, b]), p.name) for p in warm_parts(network) if not outside(network, p)),
            default=(float("nan"), ""),
        )
        box = known(_top(warm.air[:, b])), known(_top(warm.wall[:, b]))
        rows.append((label, area, *box, *cells, known(hottest[0]), hottest[1]))
    heads = (
        ("box", ""), ("openings low, and as much high", "m^2"), ("air inside", "K"), ("wall", "K"),
        *((p.name, "K") for p in packs), ("hottest part", "K"), ("which", ""),
    )  # fmt: skip
    return Table("Sealed, as drawn and vented, the warmest of all states", heads, tuple(rows))


def _top(values: np.ndarray) -> float:
    return float("nan") if np.isnan(values).all() else float(np.nanmax(values))


def _by_day(heat: Heat) -> Table:
    network = heat.context.network
    rows = []
    for day in heat.days:
        cells = [known(day.hottest(p.name, True)) for p in states.of_kind(network, "pack")]
        full = day.full - day.back if np.isfinite(day.full) else float("nan")
        ended = "yes" if day.whole else "no"
        rows.append((day.label, day.back - LOSS, known(full), day.hottest("box"), *cells, ended))
    heads = (
        ("case", ""), ("run", "s"), ("recharge", "s"), ("air in the box", "K"),
        *((f"{p.name}, charging", "K") for p in states.of_kind(network, "pack")), ("to the end", ""),
    )  # fmt: skip
    return Table("A day: an hour full on mains, a run to the end, mains back", heads, tuple(rows))


def _by_vent(heat: Heat) -> Table:
    assert heat.vents is not None
    v = heat.vents
    over = np.max([o[DRAWN_CASE] for o in v.over.values()], axis=0)
    rows = tuple(
        (float(a), known(float(v.air[0, n])), known(float(v.air[1, n])), "yes" if over[n] <= 0.0 else "no")
        for n, a in enumerate(v.areas)
    )
    heads = (
        ("openings low, and as much high", "m^2"), ("air inside", "K"), ("air, worst corner", "K"),
        ("everything inside its limit, as drawn", ""),
    )  # fmt: skip
    return Table("Openings tried, the warmest of all states", heads, rows)
