"""What the cells' answer says of one pack: its limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tideover.answers import limits as rule
from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Finding, judged
from tideover.answers.cells_years import headline_of, years
from tideover.answers.context import Context
from tideover.answers.exposure import COLD, HIGH, JOINED, LOW, REFILLS, ROOMS, RUNS, USUAL, WARM
from tideover.answers.states import of_kind
from tideover.cases import written
from tideover.network import Placed
from tideover.quantity import Quantity, show

if TYPE_CHECKING:
    from tideover.answers.cells import Seen

NEAR_EMPTY = 0.005
"""Below its limit by less than this a cell counts as being at it: a march stops within that of a threshold. [V]"""
LITHIUM_COLD = 263.15
"""Cells that may be charged below this need no gentler charge in the cold. [K]"""
RECHARGE = "recharge from near cut-off until the charger ends, read group by group"


def findings(context: Context, seen: Seen) -> list[Finding]:
    """Charging, float, discharging, then years."""
    return [*_charging(context, seen), *_floating(context, seen), *_emptying(context, seen), *years(context, seen)]


def _charging(context: Context, seen: Seen) -> list[Finding]:
    if seen.charger is None or seen.charged is None:
        return [
            Finding(
                "charging could not be judged",
                OPEN,
                seen.pack.name,
                "mains, charging",
                why="no charger fed by an adapter is drawn: what the cells are charged to, and how fast, is not known",
                mend="Draw the charger and its adapter.",
                source="the drawing",
                place=context.place(seen.pack.name),
            )
        ]
    found = [_hold(context, seen, seen.charger)]
    if not any(seen.charged.begun):
        found.append(
            Finding(
                "recharge could not be judged",
                OPEN,
                seen.charger.name,
                "mains, charging",
                why="with mains present there is no standing point to charge from, neither near cut-off nor half full: "
                "see whether the adapter can feed the load and charge at once",
                mend="Mend that first.",
                source=RECHARGE,
                place=context.place(seen.charger.name),
            )
        )
        return [*found, *_boards(context, seen, "over_charge")]
    found.append(_weak_high(context, seen))
    if seen.window.units > 1:
        found.append(_joined(context, seen))
    found += _boards(context, seen, "over_charge")
    if np.isnan(seen.charged.current).all():
        found.append(
            Finding(
                "charging current and temperature could not be judged",
                OPEN,
                seen.charger.name,
                "mains, charging",
                why=f"from {seen.charged.begun[USUAL] or 'there'} on no current flows into the pack: the charger's "
                "input leaves it no headroom, or the load takes all",
                mend="See how long until full again, and whether the adapter can feed the load and charge.",
                source=RECHARGE,
                place=context.place(seen.charger.name),
            )
        )
        return found
    return [*found, *_charge_temps(context, seen), *_charge_rate(context, seen)]


def _hold(context: Context, seen: Seen, charger: Placed) -> Finding:
    """Charger's setting and its tolerance over the units in series."""
    w = seen.window
    held = charger.values["hold_voltage"]
    units = w.units
    nominal = written(context.network, (charger.name, "hold_voltage")) / units
    high = held.high / units if isinstance(held, Quantity) else nominal
    over = nominal > w.highest + 1e-3
    above = high > w.highest + rule.CELL_VOLTS_TIGHT.value
    status = FAILS if over or high > w.absolute + 1e-6 else TIGHT if above else HOLDS
    why = f"{show(nominal * units, 'V', 4)} over {units:.0f} in series is {show(nominal, 'V', 4)}"
    why += f", at most {show(high, 'V', 4)}" if high > nominal else ""
    why += (
        f"; {show(w.highest, 'V', 4)} is what a full charge may reach, {show(w.absolute, 'V', 4)} what is never passed"
    )
    if seen.reach < nominal * units:
        why += (
            f"; its input leaves it only {show(seen.reach, 'V')}, so it never gets there: see how long until full again"
        )
    value, limit = (nominal, w.highest) if over else (high, w.absolute)
    return Finding(
        "charger takes the cells above their limit",
        status,
        charger.name,
        "end of charge",
        f"hold voltage of one {_unit(seen)}",
        value,
        "V",
        limit,
        limit - value,
        "nominal" if over or high == nominal else f"{charger.name} hold voltage at its highest",
        why=why,
        mend=f"Set it to {show(w.highest * units * nominal / high, 'V', 4)} or less.",
        source=w.origin("highest_voltage"),
        place=context.place(charger.name, "hold_voltage"),
    )


def _unit(seen: Seen) -> str:
    return "cell" if seen.window.cells == 1 else "block"


def _weak_high(context: Context, seen: Seen) -> Finding:
    assert seen.charged is not None
    w, c = seen.window, seen.charged
    top = np.fmax(c.weak, c.mean)[:JOINED]
    k = int(np.nanargmax(top)) if np.isfinite(top).any() else USUAL
    value = float(top[k])
    status = FAILS if value > w.absolute else TIGHT if value > w.highest + rule.CELL_VOLTS_TIGHT.value else HOLDS
    return Finding(
        "a group is charged too high",
        status,
        seen.pack.name,
        f"recharge, {REFILLS[k]}",
        "highest group voltage",
        value,
        "V",
        w.absolute if status == FAILS else w.highest,
        (w.absolute if status == FAILS else w.highest) - value,
        "nominal" if k < HIGH else REFILLS[HIGH],
        why=f"the weak group comes to {show(float(c.weak[k]), 'V', 4)}, the mean one to "
        f"{show(float(c.mean[k]), 'V', 4)}; groups that were balanced when full come back together",
        mend="A lower hold voltage, or cells with less spread.",
        source=f"{RECHARGE}; {w.origin('highest_voltage')}",
        place=context.place(seen.pack.name),
    )


def _joined(context: Context, seen: Seen) -> Finding:
    """Groups joined when empty: the one with the least capacity is full first. How it was joined the drawing does not
    say, so this makes tight, never fails."""
    assert seen.charged is not None
    w, c = seen.window, seen.charged
    value = float(np.fmax(c.weak[JOINED], c.mean[JOINED]))
    known = np.isfinite(value)
    apart = float(c.weak[JOINED] - c.mean[JOINED]) if known else 0.0
    less = 100.0 * written(context.network, (seen.pack.name, "capacity_spread"))
    return Finding(
        "groups joined when empty take the weak one too high",
        TIGHT if known and value > w.absolute else HOLDS,
        seen.pack.name,
        f"recharge, {REFILLS[JOINED]}",
        "highest group voltage",
        value if known else None,
        "V",
        w.absolute,
        w.absolute - value if known else None,
        REFILLS[HIGH],
        why=f"a group with {less:.0f} % less capacity, level with the others when empty, ends {show(apart, 'V')} above"
        if known
        else "from there nothing is charged",
        mend="Charge every cell full before the groups are joined, or take a board that balances.",
        source=RECHARGE,
        place=context.place(seen.pack.name, "capacity_spread"),
    )


def _board_of(context: Context, pack: Placed) -> Placed | None:
    tap = pack.nodes[pack.kind.terminals.index("tap")]
    boards = of_kind(context.network, "protection board")
    return next((b for b in boards if b.nodes[b.kind.terminals.index("sense tap")] == tap), None)


def _boards(context: Context, seen: Seen, threshold: str) -> list[Finding]:
    """What a board's threshold, with its spread, would let a group come to."""
    board = _board_of(context, seen.pack)
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


def _charge_temps(context: Context, seen: Seen) -> list[Finding]:
    assert seen.charged is not None and seen.charger is not None
    w, c = seen.window, seen.charged
    out = []
    for name, values, limit, sign, figure in (
        ("cells are charged too cold", c.coldest, w.coldest_charge, 1.0, "coldest_charge"),
        ("cells are charged too warm", c.warmest, w.warmest_charge, -1.0, "warmest_charge"),
    ):
        some = values[: len(ROOMS)]
        if not np.isfinite(some).any():
            continue
        k = int(np.nanargmin(sign * some))
        value, cold = float(some[k]), sign > 0.0
        margin = sign * (value - limit)
        status = judged(margin, rule.CELL_TEMP_TIGHT.value)
        why = f"the cells are at {show(value, 'K')} when it begins; below {show(limit, 'K')} lithium is plated"
        if cold and limit < LITHIUM_COLD + 10.0:
            why = f"the cells are at {show(value, 'K')} when it begins"
        if cold and status == FAILS:
            why += "; a charger without a temperature cut-out goes on, and none is part of the charger's model"
        if not cold:
            why = (
                f"they warm up to {show(value, 'K')} in a room of {show(_room(context, k), 'K')}, by what the charger "
            )
            why += "burns and the box holds in"
        out.append(
            Finding(
                name,
                status,
                seen.pack.name,
                f"mains, charging, {ROOMS[k]}",
                "cell temperature while charging",
                value,
                "K",
                limit,
                margin,
                why=why,
                mend="A charger that stops by the cells' own temperature; if yours does, this finding falls away."
                if cold
                else "A vented or larger box, a smaller charge current, the charger outside or away from the cells; a "
                "charger that stops by the cells' temperature protects them, and recharges later.",
                source=f"recharge read at the cells; {w.origin(figure)}",
                place=context.place(seen.charger.name),
            )
        )
    return out


def _room(context: Context, k: int) -> float:
    low, high = context.network.need.ambient
    return (low, 298.15, high)[k]


def _charge_rate(context: Context, seen: Seen) -> list[Finding]:
    assert seen.charged is not None and seen.charger is not None
    w, c = seen.window, seen.charged
    share, words = seen.share
    k = int(np.nanargmax(c.current))
    out = [
        _rate(
            context,
            "cells are charged too fast",
            float(c.current[k]) * share,
            w.charge_rating,
            rule.UNRATED_CHARGE,
            f"recharge, {REFILLS[k]}",
            words,
            "A smaller charge current, or more cells side by side.",
            seen,
            context.place(seen.charger.name, "charge_current"),
            "charge_rating",
        )
    ]
    cold = float(c.cold_current[COLD]) if np.isfinite(c.cold_current[COLD]) else 0.0
    if w.cells == 1 and w.coldest_charge > LITHIUM_COLD and cold > 0.0:
        rate, limit = cold * share / w.capacity, rule.COLD_RATE.value
        out.append(
            Finding(
                "cells are charged too fast for the cold",
                TIGHT if rate > limit else HOLDS,
                seen.pack.name,
                "recharge, coldest room, cells below 10 °C",
                "charge current of the hardest worked cell",
                cold * share,
                "A",
                limit * w.capacity,
                limit * w.capacity - cold * share,
                why=f"{3600 * rate:.2f} of its capacity an hour; {words}",
                mend="A smaller charge current, or a charger that gives less when its cells are cold.",
                source=f"{rule.COLD_RATE.reason} ({rule.COLD_RATE.source})",
                place=context.place(seen.charger.name, "charge_current"),
            )
        )
    return out


def _rate(
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


def _floating(context: Context, seen: Seen) -> list[Finding]:
    w, f = seen.window, seen.floated
    if not np.isfinite(f.temp).any():
        return []
    k = int(np.nanargmax(f.temp))
    temp, volts = float(f.temp[k]), float(np.nanmax(np.fmax(f.weak, f.mean)))
    margin = w.warmest_charge - temp
    subject = seen.charger.name if seen.charger else seen.pack.name
    return [
        Finding(
            "full pack is kept too warm",
            judged(margin, rule.CELL_TEMP_TIGHT.value),
            seen.pack.name,
            f"mains, full, {ROOMS[k]}",
            "cell temperature, everything settled",
            temp,
            "K",
            w.warmest_charge,
            margin,
            why=f"the box keeps the cells {show(temp - _room(context, k), 'K', 2)} above the room, day and night; they "
            "age about twice as fast for every 10 K",
            mend="Shade, vents or a larger box; the converter and the charger away from the cells.",
            source=f"warm standing point; {w.origin('warmest_charge')}",
            place=context.place(seen.pack.name),
        ),
        Finding(
            "cells are kept at a voltage that wears them",
            judged(w.standby - volts, 0.0) if volts <= w.standby else TIGHT,
            subject,
            "mains, full",
            "group voltage, everything settled",
            volts,
            "V",
            w.standby,
            w.standby - volts,
            why=f"{show(w.standby, 'V')} and less is kept for years at little cost; the tables say what it costs here",
            mend=f"Hold {show(w.standby * w.units, 'V', 4)} or less, if the runtime allows.",
            source=w.source,
            place=context.place(subject, "hold_voltage") if seen.charger else context.place(subject),
        ),
    ]


def _emptying(context: Context, seen: Seen) -> list[Finding]:
    w, e = seen.window, seen.emptied
    share, words = seen.share
    amps, state = seen.peak
    out = [_low(context, seen), *_boards(context, seen, "cut_off")]
    if np.isfinite(amps):
        out.append(
            _rate(
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
        sides = ((cold - w.coldest_discharge, cold, w.coldest_discharge, COLD),)
        sides += ((w.warmest_discharge - warm, warm, w.warmest_discharge, WARM),)
        margin, value, limit, room = min(sides)
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
        else (f"the weak group comes down to {show(float(e.weak[k]), 'V')}")
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
        f"on pack, end of the run, {RUNS[k]}",
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


def headline(context: Context, seen: Seen) -> str:
    """One line with numbers."""
    w, e = seen.window, seen.emptied
    said = []
    if seen.charger is not None:
        hold = written(context.network, (seen.charger.name, "hold_voltage")) / w.units
        said.append(f"charged to {show(hold, 'V')} a {_unit(seen)} ({show(w.highest, 'V')} is the limit)")
    lows = np.fmin(e.weak, e.mean)[: len(ROOMS)]
    if np.isfinite(lows).any():
        said.append(f"emptied to {show(float(np.nanmin(lows)), 'V')} ({show(w.lowest, 'V')})")
    if seen.charged and np.isfinite(seen.charged.warmest[: len(ROOMS)]).any():
        cold = float(np.nanmin(seen.charged.coldest[: len(ROOMS)]))
        warm = float(np.nanmax(seen.charged.warmest[: len(ROOMS)]))
        said.append(
            f"charged at {show(cold, 'K')} to {show(warm, 'K')} ({show(w.coldest_charge, 'K')} to "
            f"{show(w.warmest_charge, 'K')})"
        )
    text = ", ".join(said)
    return f"{text[:1].upper()}{text[1:]}. {headline_of(context, seen)}" if text else headline_of(context, seen)
