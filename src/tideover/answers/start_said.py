"""What the start answer says: findings and the headline from starts that were marched and read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from tideover.answers import states
from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Finding, judged
from tideover.answers.context import Context
from tideover.answers.limits import CONTACT_RUSH, STARTS, TRIP_TIGHT
from tideover.answers.mask import Mask
from tideover.answers.outage_said import tight
from tideover.answers.packs import charger_of
from tideover.answers.rushes import BRIEF, Rush
from tideover.answers.start_mends import Mend
from tideover.answers.start_tables import said
from tideover.answers.starts import BOTH, EMPTY, JOINED, LOW, MAINS, TRIES, TRIPPED, Dead
from tideover.cases import written
from tideover.laws.fuses import pulse_allowance
from tideover.network import Placed
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.answers.start import Corners, Tried
    from tideover.answers.start_read import Outcome

SOURCE = "march from the dead state, the whole network"
CONTACTS = {"relay": "contact_rating", "switch": "ampacity"}
CALMER = "Let the load start later, or leave more reserve between what feeds it and what it takes while starting."
CHARGED = 1e-3
"""Current into a pack from which it counts as being charged. [A]"""
NOT_STATED = 1000.0
"""The figure that stands for a rating nobody stated. [A]"""


def findings(
    context: Context, mask: Mask, tried: Tried, mends: Sequence[Mend], edge: Corners
) -> tuple[Finding, ...]:
    """One for each dead state; then the pack, the voltage, the tolerances, fuse, board, contacts, adapter."""
    deads = list(dict.fromkeys(tried.starts.deads))
    out = [_comes_back(context, tried, dead, mends) for dead in deads]
    out += _locked_out(context, tried, mends)
    out += _too_high(context, mask, tried)
    out += _corners(context, edge)
    out += _fuses(context, tried)
    out += _boards(context, tried)
    out += _contacts(context, tried)
    out += _hiccups(context, tried)
    return tuple(out)


# --- does the load come back ---------------------------------------------------------------------------


def _comes_back(context: Context, tried: Tried, dead: Dead, mends: Sequence[Mend]) -> Finding:
    """The worst of the loads tried from one dead state."""
    here = tried.of(dead)
    outcomes = tried.outcomes
    k = next((k for k in here if not outcomes[k].back), None)
    if k is None:
        k = max(here, key=lambda j: outcomes[j].serves)
    one = outcomes[k]
    status = _severity(tried, dead, k)
    return Finding(
        name="load stays dead when mains returns" if dead.wakes == MAINS else "pack alone does not start the load",
        status=status,
        subject=context.network.need.at,
        state=tried.starts.label(k),
        quantity="time until it serves again" if one.back else "voltage at the load at the end",
        value=one.serves if one.back else one.final,
        unit="s" if one.back else "V",
        limit=None if one.back else context.network.need.window[0],
        margin=None if one.back else one.final - context.network.need.window[0],
        why=_why(tried, k) + f" ({dead.how})",
        mend=_mend(tried, dead, mends) if not one.back else CALMER if status == TIGHT else "",
        source=SOURCE,
        place=context.need_place,
    )


def _severity(tried: Tried, dead: Dead, k: int) -> str:
    """A nearly empty pack need not start it, nor a full one that is joined once, if mains then frees its board."""
    one = tried.outcomes[k]
    if one.back:
        restless = one.resets > 0 or (np.isfinite(one.margin) and one.margin < 0.0)
        return OPEN if not one.ended and one.cycle is None else TIGHT if restless or not one.ended else HOLDS
    if not one.ended and one.cycle is None:
        return OPEN
    once = dead.key == JOINED and not dead.signals
    return TIGHT if dead.key == LOW or (once and _mains_frees(tried)) else FAILS


def _mains_frees(tried: Tried) -> bool:
    """Whether a board that has tripped is released, and the load served, once mains is there."""
    cases = [k for k, d in enumerate(tried.starts.deads) if d.key == TRIPPED]
    return bool(cases) and all(tried.outcomes[k].back and not tried.outcomes[k].board for k in cases)


def _why(tried: Tried, k: int) -> str:
    one = tried.outcomes[k]
    if one.back:
        text = f"in its window {show(one.in_window, 's')} after"
        if one.serves > one.in_window:
            text += f", and booted {show(one.serves - one.in_window, 's')} later"
        if one.resets:
            text += f"; it starts {one.resets + 1} times before it stays"
        elif np.isfinite(one.margin) and one.margin < 0.0:
            text += f", yet then it dips by {show(-one.margin, 'V')} more than the load forgives"
        if one.cycle is not None and not one.ended:
            text += f"; meanwhile {one.cycle.said}"
        return text
    if one.cycle is not None:
        return f"{one.cycle.said} without end: {one.cycle.words}"
    if not one.ended:
        return f"the march stopped after {TRIES} steps without showing what comes"
    tripped = _tripped(tried, k)
    start = f"{tripped} takes the rush into empty capacitors for a fault and trips; " if tripped else ""
    waits = "; ".join(one.waits)
    if not waits:
        return start + "nothing waits for anything: the voltage does not reach the window" + _meanwhile(one)
    still = "; so nothing moves" if len(one.waits) > 1 else ""
    return f"{start}{waits}{_meanwhile(one) or still}"


def _meanwhile(one: Outcome) -> str:
    """That the pack is being charged all the while: the load may be served once it is charged."""
    if not one.charge > CHARGED:
        return ""
    return f"; meanwhile {show(one.charge, 'A')} flow into the pack, so it may come back when that is charged"


def _tripped(tried: Tried, k: int) -> str:
    """A board that a start made trip."""
    starts = tried.starts
    kinds = {p.name: p.kind.name for p in starts.network.parts}
    for e in starts.events(k):
        if kinds[e.part] == "protection board" and e.after == "tripped" and e.before in ("shorted", "overloaded"):
            return e.part
    return ""


def _mend(tried: Tried, dead: Dead, mends: Sequence[Mend]) -> str:
    found = next((m for m in mends if m.dead is dead), None) or next(
        (m for m in mends if m.dead.wakes == dead.wakes), None
    )
    once = "Let mains charge it first. " if dead.key == LOW else ""
    if dead.key == JOINED and not dead.signals and _mains_frees(tried):
        once = "Join the pack while mains is present. "
    if found is None or not found.holds:
        rest = "" if found is None else "None of the changes tried brings it back by itself; see the table of them."
        return (once + rest).strip() or "See what the parts wait for, and take one that waits for less."
    where = "" if found.dead is dead else ", as tried from another dead state"
    return f"{once}It comes back with {'; or with '.join(found.holds[:3])}{where}."


def _locked_out(context: Context, tried: Tried, mends: Sequence[Mend]) -> Iterator[Finding]:
    """Whether the pack is charged again once mains is back, and its board closes."""
    network, starts = context.network, tried.starts
    pack = next((p for p in states.of_kind(network, "pack") if charger_of(network, p) is not None), None)
    here = [
        k
        for k, d in enumerate(starts.deads)
        if d.wakes == MAINS and d.key != BOTH and starts.levels[k] == states.MEAN
    ]
    if pack is None or not here or not states.of_kind(network, "protection board"):
        return
    k = min(here, key=lambda j: (not tried.locked(j), starts.deads[j].key != EMPTY, tried.outcomes[j].charge))
    one, locked = tried.outcomes[k], tried.locked(k)
    if locked:
        asleep = tuple(p.name for p in states.of_kind(network, "protection board", "charger"))
        waits = [w for w in one.waits if w.startswith(asleep)]
        why = "; ".join(waits) + ("; so neither moves" if len(waits) > 1 else "")
        if one.cycle is not None:
            why = f"{one.cycle.said}; the charger never gets to push in"
    elif one.board:
        why = f"{one.board} has not closed yet, but the charger pushes current through it and its groups rise"
    else:
        why = "its board has closed and it is charged"
    good = next((m.holds for m in mends if m.dead is starts.deads[k] and m.holds), ())
    yield Finding(
        name="pack stays locked out when mains returns",
        status=FAILS if locked else HOLDS,
        subject=pack.name,
        state=starts.label(k),
        quantity="charge current at the end",
        value=one.charge,
        unit="A",
        why=why,
        mend=f"It recovers with {'; or with '.join(good[:3])}."
        if good
        else "First let the supply start at all."
        if one.cycle is not None
        else _wakes(context, next((m.tried for m in mends if m.dead is starts.deads[k]), ())),
        source=SOURCE,
        place=context.place(one.board or pack.name),
    )


def _wakes(context: Context, failed: Sequence[str]) -> str:
    """What usually wakes a locked pack, less what was tried here in vain or is so already."""
    chargers = states.of_kind(context.network, "charger")
    sleepy = any(written(context.network, (c.name, "starts_above")) > 0.0 for c in chargers)
    ways = ["a charger that wakes a pack at 0 V"] if sleepy else []
    if not any(words.startswith("a button") for words in failed):
        ways.append("a button that bridges the board for a moment")
    ways.append("unplug the load until the pack has been charged, or feed it from before the charger")
    text = ", or ".join(ways)
    return f"{text[0].upper()}{text[1:]}."


def _too_high(context: Context, mask: Mask, tried: Tried) -> Iterator[Finding]:
    k = max(range(len(tried.outcomes)), key=lambda j: tried.outcomes[j].highest)
    over = mask.high - tried.outcomes[k].highest
    yield Finding(
        name="load sees too much voltage while starting",
        status=judged(over, tight(mask)),
        subject=context.network.need.at,
        state=tried.starts.label(k),
        quantity="highest voltage at the load",
        value=tried.outcomes[k].highest,
        unit="V",
        limit=mask.high,
        margin=over,
        why="the output overshoots where it begins to regulate, or follows its source",
        mend="A longer soft start, more capacitance at the output, or a lower set voltage.",
        source="window of the build's need",
        place=context.need_place,
    )


def _corners(context: Context, edge: Corners) -> Iterator[Finding]:
    if not edge.tried:
        return
    if edge.fails:
        verb = "fails" if edge.fails == 1 else "fail"
        why = f"{edge.fails} of {edge.tried} starts in random corners {verb}; in the first, "
        why += "what is named would mend it if it alone were as written" if edge.decisive else "no figure decides it"
    else:
        why = f"{edge.tried} starts were tried in random corners"
    yield Finding(
        name="start fails in a corner of the tolerances",
        status=TIGHT if edge.fails else HOLDS,
        subject=context.network.need.at,
        state=edge.first or "every start tried",
        quantity="random corners in which the load does not come back",
        value=float(edge.fails),
        limit=0.0,
        margin=-float(edge.fails),
        case=edge.decisive or "nominal",
        why=why,
        mend="Leave more reserve there." if edge.decisive else CALMER,
        source="random corners of the declared spreads, each figure at one of its limits",
        place=context.need_place,
    )


# --- what the rush does ----------------------------------------------------------------------------------


def _largest(tried: Tried, part: Placed, measure: str = "peak") -> Rush | None:
    here = [r for r in tried.rushes if r.part == part.name]
    return max(here, key=lambda r: getattr(r, measure), default=None)


def _fuses(context: Context, tried: Tried) -> Iterator[Finding]:
    allowed = float(pulse_allowance(STARTS.value))
    for fuse in states.of_kind(context.network, "fuse"):
        top = _largest(tried, fuse, "melted")
        if top is None:
            continue
        integral = written(context.network, (fuse.name, "melting_integral"))
        blown = top.melted >= 1.0
        yield Finding(
            name="fuse melts at the start" if blown else "fuse is worn by the rush of each start",
            status=FAILS if blown else TIGHT if top.melted > allowed else HOLDS,
            subject=fuse.name,
            state=tried.starts.label(top.case),
            quantity="share of the way to melting",
            value=top.melted,
            limit=allowed,
            margin=allowed - top.melted,
            why=f"the rush peaks at {show(top.peak, 'A')} and takes {show(top.integral, 'A^2 s')} of the "
            f"{show(integral, 'A^2 s')} that melt it; {100 * allowed:.0f} % may be taken {STARTS.value:.0f} times",
            mend="A fuse with a larger melting integral, or a resistor in the way of the rush.",
            source="melting integral with the leak of its heat; public pulse table of fuse makers",
            place=context.place(fuse.name),
        )


def _boards(context: Context, tried: Tried) -> Iterator[Finding]:
    network = context.network
    for board in states.of_kind(network, "protection board"):
        ohms = written(network, (board.name, "on_resistance"))
        trips = {
            "overloaded": (written(network, (board.name, "sense_voltage")) / ohms, "overload_delay"),
            "shorted": (written(network, (board.name, "short_voltage")) / ohms, "short_delay"),
        }
        hit = [k for k in range(len(tried.outcomes)) if _tripped(tried, k) == board.name]
        dwell, k, state = _dwell(tried, board, {s: written(network, (board.name, d)) for s, (_, d) in trips.items()})
        if hit:
            # The start that fails first, then the one with the larger rush.
            k = min(hit, key=lambda j: (tried.outcomes[j].back, -_peak(tried, board, j)))
        limit, delay = trips[state]
        mild = tried.outcomes[k].back or _severity(tried, tried.starts.deads[k], k) == TIGHT
        status = (TIGHT if mild else FAILS) if hit else TIGHT if dwell > TRIP_TIGHT.value else HOLDS
        peak = _peak(tried, board, k)
        yield Finding(
            name="protection board trips on the rush",
            status=status,
            subject=board.name,
            state=tried.starts.label(k),
            quantity="peak current out of the pack" if hit else "time past a threshold over the delay of that trip",
            value=peak if hit else dwell,
            unit="A" if hit else "",
            limit=limit if hit else 1.0,
            margin=limit - peak if hit else 1.0 - dwell,
            why=f"the rush peaks at {show(peak, 'A')}; it trips at {show(limit, 'A')} after "
            + show(written(network, (board.name, delay)), "s")
            + (", and the rush lasts longer" if hit else f", and the rush lasts {100 * dwell:.0f} % of that"),
            mend="A resistor or thermistor in the way of the rush, less capacitance behind it, or a slower board.",
            source="board's own thresholds and delays, by the march",
            place=context.place(board.name),
        )


def _peak(tried: Tried, part: Placed, case: int) -> float:
    return max((r.peak for r in tried.rushes if r.part == part.name and r.case == case), default=0.0)


def _dwell(tried: Tried, board: Placed, delays: dict[str, float]) -> tuple[float, int, str]:
    """Longest stay past a threshold over its delay, the start and which threshold."""
    best = (0.0, max(range(len(tried.outcomes)), key=lambda k: _peak(tried, board, k)), "shorted")
    for k in range(len(tried.outcomes)):
        t, known = tried.starts.read(k)
        events = [e for e in tried.starts.events(k) if e.part == board.name and e.machine == "discharge"]
        stays = [(float(t[0]), known.machine[board.name, "discharge"][0]), *((e.t, e.after) for e in events)]
        for (begins, state), (ends, _) in pairwise(stays):
            if state in delays and (ends - begins) / delays[state] > best[0]:
                best = ((ends - begins) / delays[state], k, state)
    return best


def _contacts(context: Context, tried: Tried) -> Iterator[Finding]:
    for kind, rating in CONTACTS.items():
        for part in states.of_kind(context.network, kind):
            rated = written(context.network, (part.name, rating))
            top = _largest(tried, part, "held")
            if top is None or rated >= NOT_STATED:
                continue
            limit = CONTACT_RUSH.value * rated
            past = FAILS if kind == "relay" else TIGHT
            yield Finding(
                name="contact welds on the rush",
                status=past if top.held > limit else TIGHT if top.held > rated else HOLDS,
                subject=part.name,
                state=tried.starts.label(top.case),
                quantity=f"rush through its {top.where}" if top.where else "rush through it",
                value=top.held,
                unit="A",
                limit=limit,
                margin=limit - top.held,
                why=f"a contact rated {show(rated, 'A')} makes a rush of {show(top.held, 'A')}, mean over "
                f"{show(BRIEF, 's')}, gone after {show(top.lasts, 's')}; past {CONTACT_RUSH.value:g} times it may weld",
                mend="A resistor or thermistor in the way of the rush, less capacitance there, or a larger contact.",
                source=f"rush over rating; {CONTACT_RUSH.source}",
                place=context.place(part.name),
            )


def _hiccups(context: Context, tried: Tried) -> Iterator[Finding]:
    """Adapters that gave up at least once in a start that succeeded in the end."""
    back = [k for k, one in enumerate(tried.outcomes) if one.back and tried.starts.deads[k].wakes == MAINS]
    if not back:
        return
    for adapter in context.adapters:
        counts = {
            k: sum(e.part == adapter.name and e.after == "pausing" for e in tried.starts.events(k)) for k in back
        }
        k = max(back, key=lambda j: counts[j])
        yield Finding(
            name="adapter gives up while starting",
            status=TIGHT if counts[k] else HOLDS,
            subject=adapter.name,
            state=tried.starts.label(k) if counts[k] else "every start that succeeds",
            quantity="times it stops and tries again",
            value=float(counts[k]),
            limit=0.0,
            margin=-float(counts[k]),
            why=f"it meets load, charger and empty capacitors at once and gets there at try {counts[k] + 1}"
            if counts[k]
            else "it carries load, charger and empty capacitors at once",
            mend="A larger adapter, less charge current, or a load that starts later.",
            source="adapter's overload by the march",
            place=context.place(adapter.name),
        )


# --- in one line ---------------------------------------------------------------------------------------------


def pick(tried: Tried) -> int:
    """The start shown in full: the first that fails, mains first; or the one that takes longest from mains."""
    deads, outcomes = tried.starts.deads, tried.outcomes
    order = sorted(range(len(outcomes)), key=lambda k: deads[k].wakes != MAINS)
    grave = {FAILS: 0, OPEN: 1, TIGHT: 2, HOLDS: 3}
    bad = [k for k in order if not outcomes[k].back]
    if bad:
        return min(bad, key=lambda k: grave[_severity(tried, deads[k], k)])
    return max(order, key=lambda k: (deads[k].wakes == MAINS, outcomes[k].serves))


def headline(tried: Tried, found: Sequence[Finding]) -> str:
    """One line with numbers."""
    deads = list(dict.fromkeys(tried.starts.deads))
    dead_names = ("load stays dead when mains returns", "pack alone does not start the load")
    told = found[: len(deads)]
    assert all(f.name in dead_names for f in told)
    failing = [f for f, d in zip(told, deads) if f.quantity != "time until it serves again"]
    grave = [f for f in failing if f.status == FAILS] or [f for f in failing if f.status == OPEN]
    k = pick(tried)
    text = f"It starts from {len(deads) - len(failing)} of {len(deads)} dead states"
    if grave:
        return f"{text}; not so: {tried.starts.label(k)}: {_short(tried, k)}."
    locked = next((f for f in found if f.name.startswith("pack stays locked out") and f.status == FAILS), None)
    if locked is not None:
        return f"{text}, but the pack stays locked out when mains returns ({locked.state}): {locked.why}."
    served = [one.serves for one, d in zip(tried.outcomes, tried.starts.deads) if one.back and d.wakes == MAINS]
    if served:
        text += f"; the load serves {show(max(served), 's')} after mains is back, at the latest"
    if failing:
        text += f"; but {tried.starts.label(k)}: {_short(tried, k)}"
    return text + "."


def _short(tried: Tried, k: int) -> str:
    one = tried.outcomes[k]
    if one.cycle is not None:
        return f"{one.cycle.said} without end"
    if not one.ended:
        return said(one)
    tripped = _tripped(tried, k)
    if tripped:
        return f"the rush into empty capacitors trips {tripped}"
    return one.waits[0] if one.waits else said(one)
