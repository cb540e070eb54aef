"""What the cells' answer says of charging and of standing full."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tideover.answers import limits as rule
from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Finding, judged
from tideover.answers.cells_shared import board_finding, rate_finding, room_of, unit_of
from tideover.answers.context import Context
from tideover.answers.exposure import COLD, HIGH, JOINED, REFILLS, ROOMS, USUAL
from tideover.cases import written
from tideover.network import Placed
from tideover.quantity import Quantity, show

if TYPE_CHECKING:
    from tideover.answers.cells import Seen

LITHIUM_COLD = 263.15
"""Cells that may be charged below this need no gentler charge in the cold. [K]"""
RECHARGE = "recharge from near cut-off until the charger ends, read group by group"


def charging(context: Context, seen: Seen) -> list[Finding]:
    """Charger's setting, groups, board, temperatures and currents of a recharge."""
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
        return [*found, *board_finding(context, seen, "over_charge")]
    found.append(_weak_high(context, seen))
    if seen.window.units > 1:
        found.append(_joined(context, seen))
    found += board_finding(context, seen, "over_charge")
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
        f"hold voltage of one {unit_of(seen)}",
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
            why = f"they warm up to {show(value, 'K')} in a room of {show(room_of(context, k), 'K')}, by what the "
            why += "charger burns and the box holds in"
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


def _charge_rate(context: Context, seen: Seen) -> list[Finding]:
    assert seen.charged is not None and seen.charger is not None
    w, c = seen.window, seen.charged
    share, words = seen.share
    k = int(np.nanargmax(c.current))
    out = [
        rate_finding(
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


def floating(context: Context, seen: Seen) -> list[Finding]:
    """Temperature and voltage of the full pack while mains is present."""
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
            why=f"the box keeps the cells {show(temp - room_of(context, k), 'K', 2)} above the room, day and night; "
            "they age about twice as fast for every 10 K",
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
