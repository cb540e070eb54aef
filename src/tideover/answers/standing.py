"""What does each point read in every standing state?

Asks what
    The voltage of every node with mains present and the pack charging or full, on the pack when it is full, half and
    nearly empty, and switched off; whether there is a standing point at all; and whether the load stays inside its
    window at mean and at peak power, whatever the parts' tolerances do.

Why it matters
    These are the voltages a meter reads on the finished build. A converter is a constant-power load: the lower its
    input, the more it draws, and past a limit no voltage satisfies the circuit, so the supply collapses or hunts.

How computed
    Each state is solved for equilibrium with charge and temperature held. The worst case of each state is searched
    over the corners of all spreads: each figure alone shows which way it pushes, all are pushed at once, and 64 random
    corners check the result. The distance to collapse is the largest multiple of the load that is still inside its
    window; on a nearly empty pack it is taken with cells aged to 1.5 times their resistance.

Blind spots
    Parts are at the temperature of the room (the heat question warms them). A relay is judged from a cold start, so a
    state that only lasts because it was entered from another one is not seen. The end of a charge, where the charger
    still holds its voltage, is no standing state: `recharge` tells what the load sees then. Switching ripple is not
    modelled. Corners find the worst case only where the voltage moves one way with each figure; random corners are
    there for the rest.

An example that trips it
    A 9 V 1 A adapter that feeds a 6 W load and a 1 A charger: no standing point, the adapter stops and retries.

Cure
    Thicker or shorter wire, a source of higher voltage or lower resistance, a converter with more reach, less charge
    current, a tighter set voltage.

Source
    Kirchhoff's current law to 1 nA; the collapse limit V²/4R of a constant-power load on a resistive source, textbook;
    margins: engineering judgement.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tideover.answers import states
from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Answer, Finding, Table, judged, worst
from tideover.answers.context import REACHED, Context, Points, Setting, choice, known, settled
from tideover.answers.limits import AGED, COLLAPSE_TIGHT, WINDOW_TIGHT
from tideover.answers.reach import largest_scale, overload_scale
from tideover.cases import Extreme, corner, nominal, override
from tideover.cases.batch import Array
from tideover.quantity import show, show_range

KEY = "standing"
Pair = tuple[tuple[Setting, Setting], Extreme, Extreme]
CORNERS = "extreme values over the spreads of the parts; margin: engineering judgement"


def answer(context: Context) -> Answer:
    """Answer the question; see the top of this file."""
    network = context.network
    if not context.states:
        return Answer(KEY, OPEN, "There is neither an adapter nor a pack, so nothing stands anywhere.")
    found = [*missing_points(context), *_not_working(context)]
    wanted = _window_settings(context)
    ends = context.worst(
        [(way, setting, _at_load) for low, high in wanted for way, setting in (("low", low), ("high", high))]
    )
    pairs = list(zip(wanted, ends[0::2], ends[1::2]))
    found += [_window(context, settings, low, high) for settings, low, high in pairs]
    found += list(_distance(context))
    status = worst(f.status for f in found) if found else OPEN
    low, high = network.need.window
    allowed = Table("Window of the load", (("from", "V"), ("to", "V")), ((low, high),))
    tables = (_nodes(context), _load_table(context, pairs), allowed)
    window = show_range(low, high, "V")
    return Answer(KEY, status, _headline(context, status, found, pairs, window), settled(found), tables)


def _headline(context: Context, status: str, found: list[Finding], pairs: list[Pair], window: str) -> str:
    where = context.network.nodes[context.network.at]
    bad = next((f for f in found if f.status == status), None)
    if status == HOLDS or bad is None:
        low = min((e.value for _, e, _ in pairs), default=np.nan)
        high = max((e.value for _, _, e in pairs), default=np.nan)
        return f"({where}) stays at {show_range(low, high, 'V', 4)} in every standing state; {window} is allowed."
    return f"{bad.state}: {bad.why}"


# --- no point ------------------------------------------------------------------------------------


def _judged_settings(context: Context) -> list[Setting]:
    return [
        Setting(s, level)
        for s in context.states
        for level in (
            states.levels(context.network) if s.name != states.OFF else (states.usual_level(context.network, s),)
        )
    ]


def missing_points(context: Context) -> Iterator[Finding]:
    """States in which the build as written does not stand still; the mean load speaks for the peak."""
    points = context.nominal
    told: set[str] = set()
    for setting in _judged_settings(context):
        k = context.row(setting)
        if points.found[k, 0] or setting.standing.name in told:
            continue
        told.add(setting.standing.name)
        if points.solved[k, 0]:
            yield overloaded(context, points, k, 0, "nominal")
            continue
        outcome = int(points.rest.outcome[points.flat(k, 0)])
        yield {1: _collapse, 2: _hunts, 3: _unsolved}[outcome](context, setting, k)


def overloaded(context: Context, points: Points, k: int, b: int, case: str) -> Finding:
    """An adapter that is asked for more than it gives."""
    ratios = [
        points.raw(a.name, "regulator current [A]")[k, b] / points.value((a.name, "current_limit"))[k, b]
        for a in context.adapters
    ]
    adapter = context.adapters[int(np.nanargmax(ratios))]
    limit = REACHED * float(points.value((adapter.name, "current_limit"))[k, b])
    asked = float(points.raw(adapter.name, "regulator current [A]")[k, b])
    if choice(adapter, "overload") == "hiccup":
        figures = [points.value((adapter.name, n))[k, b] for n in ("overload_time", "retry_time", "rise_time")]
        then = f"so it stops and tries again about every {show(float(sum(figures)), 's', 2)}"
    else:
        then = "so it holds its current and its voltage falls"
    return Finding(
        name="adapter is overloaded",
        status=FAILS,
        subject=adapter.name,
        state=points.settings[k].label,
        quantity="current asked of the adapter",
        value=asked,
        unit="A",
        limit=limit,
        margin=limit - asked,
        case=case,
        why=f"{adapter.name} would have to give {show(asked, 'A')} and gives up at {show(limit, 'A')}, {then}.",
        mend="Take an adapter with a higher current, or set the charger lower.",
        source="the adapter's current limit",
        place=context.place(adapter.name),
    )


def _collapse(context: Context, setting: Setting, k: int) -> Finding:
    top = overload_scale(context, setting, 1.0) if setting.standing.on_mains else 1.0
    share = float(largest_scale(context, nominal(context.network), [setting], top=top)[0, 0])
    load = context.loads[0].name if context.loads else ""
    return Finding(
        name="no standing point",
        status=FAILS,
        subject=load,
        state=setting.label,
        quantity="largest load over load",
        value=share,
        limit=1.0,
        margin=share - 1.0,
        why=f"no voltage satisfies the circuit: it feeds {100 * share:.0f} % of this load at most.",
        mend="Less resistance between source and converter, a higher source voltage, or a smaller load.",
        source="collapse limit of a constant-power load",
        place=context.place(load) if load else context.need_place,
    )


def _hunts(context: Context, setting: Setting, k: int) -> Finding:
    period, names = context.nominal.rest.loops.get(context.nominal.flat(k, 0), (0.0, ()))
    every = f" about every {show(period, 's', 2)}" if period > 0.0 else ""
    between = f": {', '.join(names)}" if names else ""
    part = names[0].split(":")[0] if names else ""
    return Finding(
        name="build hunts between two states",
        status=FAILS,
        subject=part,
        state=setting.label,
        quantity="period of the alternation",
        value=period or None,
        unit="s",
        why=f"it never comes to rest but changes over{every}{between}.",
        mend="More hysteresis in the part that lets go, or less resistance before it.",
        source="discrete states that agree with no voltages",
        place=context.place(part) if part else "",
    )


def _unsolved(context: Context, setting: Setting, k: int) -> Finding:
    at = context.nominal.flat(k, 0)
    node = context.network.nodes[int(context.nominal.rest.worst[at])]
    left = float(context.nominal.rest.residual[at])
    return Finding(
        name="standing point was not found",
        status=OPEN,
        subject=node,
        state=setting.label,
        quantity="current left over at the node",
        value=left,
        unit="A",
        why=f"the search did not settle: {show(left, 'A')} is left over at ({node}).",
        mend="Look for a value far from what parts usually have near that node.",
        source="Kirchhoff's current law",
    )


def _not_working(context: Context) -> Iterator[Finding]:
    """Loads that hang in reset although the circuit stands still."""
    points = context.nominal
    for setting in _judged_settings(context):
        k = context.row(setting)
        if setting.standing.name == states.OFF or not points.found[k, 0]:
            continue
        for load in context.loads:
            if points.state(load.name, "work", k) != "working":
                volts = float(points.readings.state[load.name, "input"][points.flat(k, 0)])
                limit = float(points.value((load.name, "restarts_above"))[k, 0])
                yield Finding(
                    name="load hangs in reset",
                    status=FAILS,
                    subject=load.name,
                    state=setting.label,
                    quantity="voltage at its own input",
                    value=volts,
                    unit="V",
                    limit=limit,
                    margin=volts - limit,
                    why=f"{load.name} sees {show(volts, 'V')} and only starts above {show(limit, 'V')}.",
                    mend="Raise the voltage at the load, or take one that starts lower.",
                    source="the load's restart voltage",
                    place=context.place(load.name, "restarts_above"),
                )


# --- the window ------------------------------------------------------------------------------------


def _window_settings(context: Context) -> list[tuple[Setting, Setting]]:
    """For each state the heaviest and the lightest load that stands."""
    by_state: dict[str, list[Setting]] = {}
    for s in context.settings:
        by_state.setdefault(s.standing.name, []).append(s)
    return [(some[-1], some[0]) for some in by_state.values()]


def _at_load(points: Points) -> Array:
    return points.v(points.context.network.at)


def _window(context: Context, settings: tuple[Setting, Setting], low: Extreme, high: Extreme) -> Finding:
    """The load's voltage against its window, at the worse of its two ends."""
    network = context.network
    floor, ceiling = network.need.window
    if low.failed or high.failed:
        setting, end = (settings[0], low) if low.failed else (settings[1], high)
        points = context.points(corner(network, context.spreads, [end.signs]), [setting])
        if points.solved[0, 0]:
            return overloaded(context, points, 0, 0, end.label)
        return Finding(
            name="no standing point at the limits of the parts",
            status=FAILS,
            subject=network.nodes[network.at],
            state=setting.label,
            quantity="voltage at the load",
            unit="V",
            case=end.label,
            why=f"it stands as drawn, but not with {end.label}.",
            mend="Tighten the figures named, or leave more margin.",
            source=CORNERS,
            place=context.need_place,
        )
    below = low.value - floor <= ceiling - high.value
    end, setting, limit = (low, settings[0], floor) if below else (high, settings[1], ceiling)
    margin = end.value - floor if below else ceiling - end.value
    reads = f"{show(end.value, 'V', 4)} at ({network.nodes[network.at]})"
    word = "lowest" if below else "highest"
    return Finding(
        name="load voltage leaves its window",
        status=judged(margin, WINDOW_TIGHT.value * (ceiling - floor)),
        subject=network.nodes[network.at],
        state=setting.label,
        quantity=f"{word} voltage at the load",
        value=end.value,
        unit="V",
        limit=limit,
        margin=margin,
        case=end.label,
        why=f"{reads} with {end.label}, {show(abs(margin), 'V', 2)} {'inside' if margin >= 0 else 'outside'} "
        f"{show(limit, 'V')}; {show(end.nominal, 'V', 4)} as drawn.",
        mend=_window_mend(below, end),
        source=CORNERS,
        place=context.need_place,
    )


def _window_mend(below: bool, end: Extreme) -> str:
    way = "Raise" if below else "Lower"
    if not end.effects:
        return f"{way} the voltage that feeds the load."
    figure = end.effects[0][0]
    figure = figure.rsplit(" ", 2)[0] if figure.endswith("%") else figure
    return f"{way} the voltage that feeds the load, or narrow the spread of {figure}."


def _distance(context: Context) -> Iterator[Finding]:
    """How much more than its load a nearly empty, aged pack could feed."""
    near = [s for s in context.settings if s.standing.name == states.NEAR]
    if not near:
        return
    setting = near[-1]
    packs = states.of_kind(context.network, "pack")
    growth = {(p.name, "growth"): AGED.value * float(context.nominal.value((p.name, "growth"))[0, 0]) for p in packs}
    aged = override(nominal(context.network), growth, "cells aged")
    floor = context.network.need.window[0]
    if not float(context.nominal.v(context.network.at)[context.row(setting), 0]) >= floor:
        return
    top = 2.0
    reach = float(largest_scale(context, aged, [setting], _not_low, top)[0, 0])
    said = f"{reach:.2f}" if reach < top else f"{top:.0f} or more"
    status = HOLDS if reach >= COLLAPSE_TIGHT.value else TIGHT
    yield Finding(
        name="pack collapses under little more than its load",
        status=status,
        subject=packs[0].name,
        state=setting.label,
        quantity="largest load over load",
        value=reach,
        limit=COLLAPSE_TIGHT.value,
        margin=reach - COLLAPSE_TIGHT.value,
        case=f"cells aged to {AGED.value:g} times their resistance",
        why=f"with aged cells the nearly empty pack feeds {said} times this load.",
        mend="More cells side by side, thicker wire before the converter, or a converter with more reach.",
        source="largest load over load; below 1.5 it is close: typical, unverified",
        place=context.place(packs[0].name),
    )


def _not_low(points: Points) -> np.ndarray:
    floor = points.context.network.need.window[0]
    with np.errstate(invalid="ignore"):
        return points.v(points.context.network.at) >= floor


# --- tables ----------------------------------------------------------------------------------------


def shown_nodes(context: Context) -> list[int]:
    """Nodes a meter can reach: all but the return and those that only a sense line touches."""
    touched: dict[int, int] = {}
    for part in context.network.parts:
        for terminal, node in zip(part.kind.terminals, part.nodes):
            if terminal != "tap" and not terminal.startswith("sense"):
                touched[node] = touched.get(node, 0) + 1
    return [n for n in range(1, len(context.network.nodes)) if touched.get(n, 0) > 0]


def _nodes(context: Context) -> Table:
    points = context.nominal
    rows = [context.row(Setting(s, states.usual_level(context.network, s))) for s in context.states]
    cells = [(context.network.nodes[n], *(known(x) for x in points.v(n)[rows, 0])) for n in shown_nodes(context)]
    heads = (("node", ""), *((s.name, "V") for s in context.states))
    return Table("Voltage of every node to the return, mean load, as drawn", heads, tuple(cells))


def _load_table(context: Context, pairs: list[Pair]) -> Table:
    points, at = context.nominal, context.network.at
    rows = []
    for (heavy, light), low, high in pairs:
        mean, peak = (float(points.v(at)[context.row(s), 0]) for s in (light, heavy))
        rows.append((heavy.standing.name, mean, peak, known(low.value), known(high.value), low.label, high.label))
    heads = (
        ("state", ""), ("mean load", "V"), ("peak load", "V"), ("lowest", "V"), ("highest", "V"),
        ("lowest with", ""), ("highest with", ""),
    )  # fmt: skip
    return Table(f"Voltage at ({context.network.nodes[at]}) and what the spreads do to it", heads, tuple(rows))
