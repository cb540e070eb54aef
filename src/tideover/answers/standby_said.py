"""What the standby answer says: findings, headline and tables."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Finding, Table
from tideover.answers.context import Context, known
from tideover.answers.drains import HALF_FULL, IDLE, OFF, UNPLUGGED, Drain, Drained, drain_list
from tideover.answers.limits import JUDGEMENT, TYPICAL, Rule
from tideover.answers.packs import chemistry
from tideover.laws.chemistry import CHEMISTRY
from tideover.quantity import show

DAY = 86400.0
HALF_YEAR = Rule(182.0 * DAY, "s", "until the next half-yearly test nobody looks at it")
MONTH = Rule(30.0 * DAY, "s", "what a supply may be left alone for without a thought")
SOURCE = "standing points at rest from full to empty, and the integral of charge over current"
COLD, ROOM, WARM = range(3)
ROOMS = ("coldest room", "25 °C", "warmest room")
NAMED = 3
"""Drains named in a sentence."""
WORTH_NAMING = 0.02
"""Share of the whole below which a drain is not named."""
LONGEST = 30.0 * 365.25 * DAY

MENDS: dict[tuple[str, str], str] = {
    ("protection board", "quiescent"): "a board with less quiescent current",
    ("charger", "reverse_drain"): "a diode or a switch between {0} and the pack, or a charger with less reverse drain",
    ("charger", "quiescent"): "a diode before {0}, so that nothing feeds its input",
    ("ideal diode", "quiescent"): "a switch before {0}, or a plain Schottky diode",
    ("diode", "leakage"): "a diode with less leakage in place of {0}",
    ("adapter", "reverse_leakage"): "a diode behind the inlet, before {0}",
    ("capacitor", "leakage"): "{0} with less leakage, or behind a switch",
    ("resistor", "resistance"): "{0} of a higher resistance, or behind a switch",
}
CONVERTER_MENDS = {
    "quiescent": "a switch before {0}, or a module that sleeps at light load",
    "off_current": "a switch before {0}",
    "reverse_drain": "a diode or a switch at the output of {0}",
}


def findings(context: Context, found: Drained) -> list[Finding]:
    """Each state, the reserve after the cut-off, and a build that cannot be switched off."""
    states = _told(found)
    return [*(_state(context, found, s) for s in states), _after(context, found), *_no_switch(context, found)]


def headline(context: Context, found: Drained, said: list[Finding]) -> str:
    """How long it lasts in each state at 25 °C, the largest drain, and what is wrong."""
    times = [f"{_long(found.lasts(state, ROOM, found.full, found.cut))} {state}" for state in _told(found)]
    pairs = drain_list(found, IDLE)
    drain = f"; idle, most goes into {_named(pairs[0][0])}" if pairs and pairs[0][1] > 0.0 else ""
    bad = next((f for s in (FAILS, TIGHT) for f in said if f.status == s), None)
    wrong = f" {bad.name[0].upper()}{bad.name[1:]}: {bad.why}" if bad and bad.name != EMPTIES else ""
    return f"At 25 °C a full pack lasts {', '.join(times)}{drain}.{wrong}"


EMPTIES = "pack empties at rest"


def _told(found: Drained) -> list[str]:
    """States worth a word: unplugged only where it differs from being off."""
    times = {s: found.lasts(s, ROOM, found.full, found.cut) for s in found.amps}
    usual = OFF if OFF in times else IDLE
    return [s for s in times if s != UNPLUGGED or abs(times[s] - times[usual]) > 0.02 * times[usual]]


def _long(seconds: float) -> str:
    if np.isnan(seconds):
        return "for an unknown time"
    if seconds >= LONGEST:
        return "more than 30 years"
    return show(seconds, "s") if seconds < 2.0 * DAY or seconds > 730.5 * DAY else f"{seconds / DAY:.0f} days"


def _named(drain: Drain) -> str:
    return f"the {drain.words} of {drain.part}"


def _shares(found: Drained, state: str) -> str:
    """The strongest drains of a state in words, the cells' own discharge among them."""
    whole = found.current(state, ROOM)
    parts = [(_named(d), c) for d, c in drain_list(found, state)]
    parts.append(("the cells' own discharge", float(found.own[ROOM])))
    parts = sorted((p for p in parts if p[1] > WORTH_NAMING * whole), key=lambda p: -p[1])[:NAMED]
    said = ", ".join(f"{words} {show(c, 'A')} ({100 * c / whole:.0f} %)" for words, c in parts)
    return f", of that {said}" if said else ""


def _mend(context: Context, found: Drained, state: str) -> str:
    pairs = [(d, c) for d, c in drain_list(found, state) if c > found.own[ROOM]][:2]
    said = []
    for d, _ in pairs:
        kind = context.network.part(d.part).kind.name
        text = MENDS.get((kind, d.figure)) or CONVERTER_MENDS[d.figure]
        said.append(text.format(d.part))
    words = "; or ".join(said) or "a cooler place"
    return f"{words[0].upper()}{words[1:]}."


def _state(context: Context, found: Drained, state: str) -> Finding:
    """One state in the warmest room: until the cut-off, and whether the cells come to harm within a month."""
    times = [found.lasts(state, room, found.full, found.cut) for room in range(len(ROOMS))]
    worst = int(np.nanargmin(times)) if np.isfinite(times).any() else WARM
    t = times[worst]
    to_harm = found.lasts(state, worst, found.full, min(found.harmed, found.full))
    switchable = OFF in found.amps
    limit = MONTH if state == IDLE and switchable else HALF_YEAR
    place = context.place(found.pack.name)
    if np.isnan(t):
        return Finding(
            name=EMPTIES,
            status=OPEN,
            subject=found.pack.name,
            state=state,
            why=f"{state}: there is no standing point; a current at rest is missing.",
            mend="Mend what `standing` says of the states on the pack.",
            source=SOURCE,
            place=place,
        )
    if to_harm < MONTH.value and not (state == IDLE and switchable):
        status = FAILS
    else:
        status = TIGHT if t < limit.value else HOLDS
    half = found.lasts(state, worst, HALF_FULL, found.cut)
    lets_go = found.let_go[state]
    gone = ""
    if np.isfinite(lets_go) and lets_go > found.cut:
        gone = f"; the output is gone after {_long(found.lasts(state, worst, found.full, lets_go))} already"
    harmed = f"; the cells are harmed after {_long(to_harm)}" if status == FAILS else ""
    room = f"in the {ROOMS[worst]}" if worst != ROOM else "at 25 °C"
    return Finding(
        name=EMPTIES,
        status=status,
        subject=found.pack.name,
        state=state,
        quantity=f"time from full to the cut-off, {room}",
        value=min(t, LONGEST),
        unit="s",
        limit=limit.value,
        margin=min(t, LONGEST) - limit.value,
        why=f"{state} {room} a full pack lasts {_long(t)}, a half-full one {_long(half)}{gone}{harmed}: "
        f"{show(found.current(state, ROOM), 'A')} at the cells at 25 °C{_shares(found, state)}.",
        mend=_mend(context, found, state),
        source=f"{SOURCE}; {limit.reason}; {limit.source}",
        place=place,
    )


def _after(context: Context, found: Drained) -> Finding:
    """From the cut-off to where the cells are harmed, in the room where that is shortest."""
    state = OFF if OFF in found.amps else IDLE
    times = [found.lasts(state, room, found.cut, found.harmed) for room in range(len(ROOMS))]
    t = float(np.nanmin(times)) if np.isfinite(times).any() else float("inf")
    limits = CHEMISTRY[chemistry(context.network, found.pack)]
    volts = show(limits.discharge_abs, "V")
    name, limit = "cells harmed after the cut-off", MONTH
    if not found.guarded:
        name, limit = "nothing cuts the pack off at rest", HALF_YEAR
        lowest = min(found.full, max(found.cut, found.harmed))
        times = [found.lasts(state, room, found.full, min(found.harmed, lowest)) for room in range(len(ROOMS))]
        t = float(np.nanmin(times)) if np.isfinite(times).any() else float("inf")
        why = f"no board cuts this pack off: {state}, its drains take a full one down to {volts} a cell in {_long(t)}, "
        why += "below which the cells are harmed."
        mend = "A protection board, or a switch that is opened once the load has stopped."
    elif found.cut <= found.harmed:
        why = f"at rest the board lets the cells go to {volts} and below, where they are harmed; it is no guard there."
        mend = "A board with a higher cut-off, or a switch that is opened once the load has stopped."
    else:
        why = (
            f"after the cut-off the board and the cells themselves take {_long(t)} down to {volts} a cell, below which "
            "they are harmed."
        )
        mend = "Charge it within that time, a board with a higher cut-off or less current, or pull the pack's plug."
    if np.isnan(times).all():
        return Finding(
            name=name,
            status=OPEN,
            subject=found.pack.name,
            state="after the cut-off" if found.guarded else state,
            why="the current at rest is missing, so how long the cells last unharmed is not known.",
            mend="Mend what `standing` says of the states on the pack.",
            source=SOURCE,
            place=context.place(found.pack.name),
        )
    return Finding(
        name=name,
        status=TIGHT if t < limit.value else HOLDS,
        subject=found.pack.name,
        state="after the cut-off" if found.guarded else state,
        quantity=f"time from {'the cut-off' if found.guarded else 'full'} to harm",
        value=min(t, LONGEST),
        unit="s",
        limit=limit.value,
        margin=min(t, LONGEST) - limit.value,
        why=why,
        mend=mend,
        source=f"lowest voltage of the chemistry: {limits.source}; {limit.reason}; {limit.source}",
        place=context.place(found.pack.name),
    )


def _no_switch(context: Context, found: Drained) -> Iterator[Finding]:
    """A build without a switch is idle when it is off."""
    if OFF in found.amps:
        return
    t = found.lasts(IDLE, ROOM, found.full, found.cut)
    yield Finding(
        name="nothing switches it off",
        status=OPEN if np.isnan(t) else TIGHT if t < HALF_YEAR.value else HOLDS,
        subject=found.pack.name,
        state=IDLE,
        quantity="time from full to the cut-off, at 25 °C",
        value=None if np.isnan(t) else min(t, LONGEST),
        unit="s",
        limit=HALF_YEAR.value,
        margin=None if np.isnan(t) else min(t, LONGEST) - HALF_YEAR.value,
        why=f"there is no switch in the drawing, so put away it idles on: {_long(t)} from full.",
        mend="A switch or a plug between the pack and everything else, for transport and the drawer.",
        source=f"{HALF_YEAR.reason}; {JUDGEMENT}",
        place=context.place(found.pack.name),
    )


# --- tables ---------------------------------------------------------------------------------------------


def tables(found: Drained) -> tuple[Table, ...]:
    """Times by state and room, and what drains the cells in each state."""
    return (_times(found), _tree(found))


def _capped(seconds: float) -> float | None:
    return known(min(seconds, LONGEST))


def _times(found: Drained) -> Table:
    rows = []
    for state in found.amps:
        for room, words in enumerate(ROOMS):
            amps = found.current(state, room)
            let_go = found.let_go[state]
            gone = found.lasts(state, room, found.full, let_go) if np.isfinite(let_go) else float("nan")
            rows.append(
                (
                    state,
                    words,
                    known(amps),
                    _capped(found.lasts(state, room, found.full, found.cut)),
                    _capped(found.lasts(state, room, HALF_FULL, found.cut)),
                    _capped(gone),
                    _capped(found.lasts(state, room, found.cut, found.harmed)),
                )
            )
    heads = (
        ("state", ""), ("room", ""), ("at the cells, half full", "A"), ("full to cut-off", "s"),
        ("half to cut-off", "s"), ("full to lockout", "s"), ("cut-off to harm", "s"),
    )  # fmt: skip
    return Table("How long it lasts at rest, mains away; 30 years stand for longer", heads, tuple(rows))


def _tree(found: Drained) -> Table:
    """Every drain as stated and as it counts at the cells, at 25 °C and half charge."""
    names = list(found.amps)
    rows: list[tuple[object, ...]] = []
    order = np.argsort([-max(float(found.costs[s][k]) for s in names) for k in range(len(found.drains))])
    for k in order:
        drain = found.drains[int(k)]
        costs = [float(found.costs[s][k]) for s in names]
        if max(costs) < 1e-9:
            continue
        stated = drain.stated if drain.figure != "resistance" else None
        rows.append((f"{drain.part}, {drain.words}", stated, *(known(max(c, 0.0)) for c in costs)))
    own = float(found.own[ROOM])
    rows.append(("cells, their own discharge", None, *(own for _ in names)))
    whole = [found.current(s, ROOM) for s in names]
    rest = [whole[n] - own - float(np.nansum(np.maximum(found.costs[s], 0.0))) for n, s in enumerate(names)]
    rows.append(("everything else, and counted twice", None, *(known(x) for x in rest)))
    rows.append(("all together", None, *(known(x) for x in whole)))
    heads = (("drain", ""), ("as stated", "A"), *((f"at the cells, {s}", "A") for s in names))
    return Table(f"What drains the pack: {TYPICAL} where not stated by you", heads, tuple(rows))
