"""Which source feeds the load, and does anything drain or feed back where it should not?

Asks what
    With mains present: what share of the power comes from the pack, whatever the set voltages and tolerances do, and
    what drains a full pack. On the pack: what flows back into the adapter, how many volts stand on the pins of a pulled
    plug, and what unpowered modules draw through their outputs.

Why it matters
    Where two sources meet at diodes the higher one feeds, and a few per cent of tolerance decide which. A pack that
    helps out while mains is present is empty when mains fails. A pulled plug with volts on its pins is a short waiting.

How computed
    Shares of power at the terminals of adapters and packs, in every mains state at mean and peak load, at the worst
    corner of all spreads. The pulled plug is the adapter with its output resistance raised to 1 Mohm, solved on a full
    pack, also in the warmest room, where leakage is largest; it is judged with a bleeder across its pins, since a few
    microamperes of leakage lift an open pin to volts that nothing but a meter sees.

Blind spots
    A module's reverse drain is a figure of its data sheet that is often missing; the shelf's is a guess. Leakage of a
    diode doubles every 10 K or so and varies tenfold from one to the next. The changeover is the outage question's.

An example that trips it
    A 12 V adapter and a pack of three cells meeting at two diodes: at 12.6 V the pack feeds, not the adapter.

Cure
    Set the source that should feed clear of the other's tolerance, or let a relay or a controller choose; an ideal
    diode or a relay against feeding back.

Source
    Charge balance at the terminals; limits: engineering judgement; safe voltage: IEC 62368-1, energy source class 1.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tideover.answers import states
from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Answer, Finding, Table, worst
from tideover.answers.context import Context, Points, Setting, known, settled
from tideover.answers.limits import BACK_FEED, DRAIN_FAILS, DRAIN_TIGHT, LIVE_PLUG, SHARED, TOUCH
from tideover.answers.paths import upstream
from tideover.cases import Extreme, join, nominal, override
from tideover.cases.batch import Array, Key
from tideover.network import Placed
from tideover.quantity import Quantity, show

KEY = "sources"
PULLED = 1e6
"""Output resistance of an adapter whose plug is pulled: what is left is the meter. [ohm]"""
BLEED = 5e-3
"""Current at the adapter's voltage that a bleeder across a pulled plug would take: leakage of a diode dies under it,
a path that can heat or corrode something does not. [A]"""
PLAIN = ("cable", "wire", "strip", "track", "connector", "switch", "shunt", "resistor", "fuse")
"""Kinds that let current through either way: never the culprit of a reverse path."""
TRACE = 1e-3
"""Share of the power below which a pack feeds nothing but its own board: see what drains it."""
DRAWS = 0.5
"""Share of the tight limit under which a drain is not worth a line."""


def answer(context: Context) -> Answer:
    """Answer the question; see the top of this file."""
    packs = states.of_kind(context.network, "pack")
    if not context.adapters and not packs:
        return Answer(KEY, OPEN, "There is neither an adapter nor a pack, so nothing feeds the load.")
    if not context.adapters or not packs:
        only = (context.adapters or packs)[0].name
        drained = list(_unpowered(context))
        status = worst(f.status for f in drained)
        return Answer(KEY, status, f"{only} is the only source.", settled(drained))
    settings = [s for s in context.settings if s.standing.on_mains]
    ends = context.worst([("high", s, pack_share) for s in settings])
    shared = [_share(context, s, end) for s, end in zip(settings, ends)]
    found = [*shared, *_mains_missing(context), *_drained(context, shared), *_plug(context), *_unpowered(context)]
    status = worst(f.status for f in found) if found else OPEN
    tables = (_table(context, settings, ends), _draws(context))
    return Answer(KEY, status, _headline(context, status, found), settled(found), tables)


def _headline(context: Context, status: str, found: list[Finding]) -> str:
    bad = next((f for f in found if f.status == status), None)
    if status == HOLDS or bad is None:
        plug = next((f for f in found if f.name == "pulled plug is live"), None)
        said = " A pulled plug is dead but for leakage." if plug else ""
        return f"{context.adapters[0].name} feeds the load whenever mains is present, in every corner.{said}"
    return f"{bad.state}: {bad.why}"


# --- with mains present ------------------------------------------------------------------------------------


def pack_share(points: Points) -> Array:
    """Share of the power put in that the packs give, shape (K, B). [-]"""
    network = points.context.network

    def power(part: Placed, quantity: str) -> Array:
        plus, minus = (part.nodes[part.kind.terminals.index(t)] for t in ("plus", "minus"))
        return np.maximum(points.q(part.name, quantity), 0.0) * (points.v(plus) - points.v(minus))

    cells = sum((power(p, "discharge current [A]") for p in states.of_kind(network, "pack")), np.zeros(points.shape))
    mains = sum((power(a, "current out [A]") for a in points.context.adapters), np.zeros(points.shape))
    share = cells / np.maximum(cells + mains, 1e-9)
    return np.where(share < TRACE, 0.0, share)


def _share(context: Context, setting: Setting, end: Extreme) -> Finding:
    pack = states.of_kind(context.network, "pack")[0]
    place = context.place(pack.name)
    if end.failed:
        return Finding(
            name="pack feeds the load while mains is present",
            status=FAILS,
            subject=pack.name,
            state=setting.label,
            quantity="share of the power that the pack gives",
            limit=SHARED.value,
            case=end.label,
            why=f"with {end.label} there is no standing point, so mains does not carry the load for good.",
            mend="See the findings of `standing` and `budget`.",
            source=SHARED.source,
            place=place,
        )
    share = end.value
    drawn = f"; {show(end.nominal, '%', 2)} as drawn"
    where = f" with {end.label}{drawn}" if share > 0.0 else " in every corner"
    status = FAILS if share > SHARED.value else TIGHT if share > 0.1 * SHARED.value else HOLDS
    return Finding(
        name="pack feeds the load while mains is present",
        status=status,
        subject=pack.name,
        state=setting.label,
        quantity="share of the power that the pack gives",
        value=share,
        limit=SHARED.value,
        margin=SHARED.value - share,
        case=end.label,
        why=f"{pack.name} gives {show(share, '%', 2)} of the power{where}.",
        mend="Set the source that should feed clear of the other's tolerance, or let a relay or a controller choose.",
        source=f"share of the load; {SHARED.source}",
        place=place,
    )


def _mains_missing(context: Context) -> Iterator[Finding]:
    """Mains states without a standing point: who feeds then changes from moment to moment."""
    stand = {s.label for s in context.settings}
    for standing in context.states:
        for level in states.levels(context.network):
            setting = Setting(standing, level)
            if standing.on_mains and setting.label not in stand:
                yield Finding(
                    name="source changes from moment to moment",
                    status=FAILS,
                    subject=context.adapters[0].name,
                    state=setting.label,
                    why="there is no standing point: adapter and pack take turns, see `standing`.",
                    mend="Mend what `standing` says of this state.",
                    source="the network solved as drawn",
                    place=context.place(context.adapters[0].name),
                )
                break


def _drained(context: Context, shared: list[Finding]) -> Iterator[Finding]:
    """What a full pack gives while mains is present, as a time to empty it."""
    full = next((s for s in context.settings if s.standing.name == states.MAINS_FULL), None)
    feeds = any(f.status == FAILS for f in shared if full and f.state.startswith(full.standing.name))
    if full is None or feeds:
        return
    points, k = context.nominal, context.row(full)
    for pack in states.of_kind(context.network, "pack"):
        amps = float(points.q(pack.name, "discharge current [A]")[k, 0])
        charge = _charge(points, pack)
        left = charge / amps if amps > 0.0 else np.inf
        kept = any(
            points.value((c.name, key))[k, 0] > 0.0
            for c in states.of_kind(context.network, "charger")
            for key in ("restart_voltage", "float_voltage")
        )
        status = _by_time(left)
        if kept and status == FAILS:
            status = TIGHT
        topped = "; the charger tops it up, so it is cycled a little" if kept and status != HOLDS else ""
        yield Finding(
            name="pack is drained while mains is present",
            status=status,
            subject=pack.name,
            state=full.label,
            quantity="current out of the full pack",
            value=amps,
            unit="A",
            limit=charge / DRAIN_TIGHT.value,
            margin=charge / DRAIN_TIGHT.value - amps,
            why=f"{pack.name} gives {show(max(amps, 0.0), 'A')}, which would empty it in {_long(left)}{topped}.",
            mend="Find what hangs on the pack: a board, a divider, a module's output.",
            source=f"time to empty; {DRAIN_TIGHT.source}",
            place=context.place(pack.name),
        )


def _by_time(seconds: float) -> str:
    return FAILS if seconds < DRAIN_FAILS.value else TIGHT if seconds < DRAIN_TIGHT.value else HOLDS


def _long(seconds: float) -> str:
    return show(seconds, "s") if seconds < 30.0 * DRAIN_TIGHT.value else "more than 30 years"


def _charge(points: Points, pack: Placed) -> float:
    """Charge of a full pack. [C]"""
    figures = ("capacity", "health", "parallel")
    return float(np.prod([points.value((pack.name, name))[0, 0] for name in figures]))


# --- on the pack -------------------------------------------------------------------------------------------------


def _plug(context: Context) -> Iterator[Finding]:
    """What flows back into a dead adapter, and what stands on its plug when that is pulled."""
    full = next((Setting(s) for s in context.states if s.name == states.FULL), None)
    if full is None or not context.has(full):
        return
    network = context.network
    out: dict[Key, float] = {(a.name, "output_resistance"): PULLED for a in context.adapters}
    as_is = nominal(network)
    pulled = override(as_is, out, "plug pulled")
    room = network.part("box").values["ambient"]
    warm = override(
        pulled, {("box", "ambient"): room.high if isinstance(room, Quantity) else float(room)}, "in the warmest room"
    )
    bleeders: dict[Key, float] = {(a.name, "reverse_leakage"): BLEED for a in context.adapters}
    bled = override(as_is, bleeders, "a bleeder across the plug")
    points = context.points(join(network, [as_is, pulled, warm, bled]), [full], fresh=True)
    for adapter in context.adapters:
        plus, minus = (adapter.nodes[adapter.kind.terminals.index(t)] for t in ("plus", "minus"))
        _, cool, hot, loaded = (float(x) for x in (points.v(plus) - points.v(minus))[0])
        back = float(points.q(adapter.name, "plus [A]")[0, 0])
        if np.isnan([cool, hot, loaded, back]).any():
            continue
        size = abs(loaded)
        limit = TOUCH if size > TOUCH.value else LIVE_PLUG
        blocks = _culprit(points, plus, adapter)
        through = f", through {blocks}" if blocks else ", with nothing to block it"
        bleeder = float(points.value((adapter.name, "voltage"))[0, 0]) / BLEED
        yield Finding(
            name="pulled plug is live",
            status=FAILS if size > TOUCH.value else TIGHT if size > LIVE_PLUG.value else HOLDS,
            subject=adapter.name,
            state=full.label,
            quantity="voltage on the pulled plug, bled",
            value=loaded,
            unit="V",
            limit=limit.value,
            margin=limit.value - size,
            why=f"a meter reads {show(abs(cool), 'V')} on the pins of {adapter.name} when its plug is pulled, "
            f"{show(abs(hot), 'V')} in the warmest room, {show(size, 'V')} with {show(bleeder, 'ohm', 2)} across them"
            f"{through if size > LIVE_PLUG.value else ''}.",
            mend="A diode or a relay contact behind the inlet.",
            source=f"{LIVE_PLUG.reason}; {LIVE_PLUG.source}; above 60 V {TOUCH.source}",
            place=context.place(adapter.name),
        )
        yield Finding(
            name="pack feeds back into the adapter",
            status=FAILS if back > 10.0 * BACK_FEED.value else TIGHT if back > BACK_FEED.value else HOLDS,
            subject=adapter.name,
            state=full.label,
            quantity="current into the adapter without mains",
            value=back,
            unit="A",
            limit=BACK_FEED.value,
            margin=BACK_FEED.value - back,
            why=f"{show(max(back, 0.0), 'A')} flow back into {adapter.name} while mains is away"
            f"{through if back > BACK_FEED.value else ''}.",
            mend="A diode or a relay contact between the adapter and the pack.",
            source=f"{BACK_FEED.reason}; {BACK_FEED.source}",
            place=context.place(adapter.name),
        )


def _culprit(points: Points, node: int, adapter: Placed) -> str:
    """The first part on the way back from the plug to the pack that ought to block."""

    def current(part: Placed, terminal: str) -> float:
        return float(points.readings.quantity[part.name, f"{terminal} [A]"][0])

    steps, _ = upstream(points.context.network, current, node, {adapter.name})
    return next((s.part.name for s in steps if s.part.kind.name not in PLAIN), "")


def _unpowered(context: Context) -> Iterator[Finding]:
    """Modules that do nothing and yet draw through their output, while the pack rests."""
    rest = next(
        (Setting(s, states.usual_level(context.network, s)) for s in context.states if s.name == states.OFF), None
    )
    packs = states.of_kind(context.network, "pack")
    if rest is None or not packs or not context.has(rest):
        return
    points, k = context.nominal, context.row(rest)
    charge = _charge(points, packs[0])
    limit = charge / DRAIN_TIGHT.value
    for name, amps in _backward(points, k):
        if amps < DRAWS * limit:
            continue
        left = charge / amps
        yield Finding(
            name="unpowered module drains the pack",
            status=_by_time(left),
            subject=name,
            state=rest.label,
            quantity="current into its output",
            value=amps,
            unit="A",
            limit=limit,
            margin=limit - amps,
            why=f"{name} draws {show(amps, 'A')} backwards, which would empty the pack in {_long(left)}.",
            mend="A diode or a switch at its output, or a module with less reverse drain.",
            source=f"time to empty; {DRAIN_TIGHT.source}",
            place=context.place(name, "reverse_drain"),
        )


def _backward(points: Points, k: int) -> Iterator[tuple[str, float]]:
    """Converters and chargers with the current that flows into their outputs. [A]"""
    at = points.flat(k, 0)
    for part in states.of_kind(points.context.network, "boost", "buck", "buck-boost", "linear regulator", "charger"):
        yield part.name, max(float(points.readings.quantity[part.name, "output [A]"][at]), 0.0)


# --- tables ---------------------------------------------------------------------------------------------------------


def _table(context: Context, settings: list[Setting], ends: tuple[Extreme, ...]) -> Table:
    points, network = context.nominal, context.network
    sources = [(a.name, "current out [A]") for a in context.adapters]
    sources += [(p.name, "discharge current [A]") for p in states.of_kind(network, "pack")]
    rows = []
    for setting, end in zip(settings, ends):
        k = context.row(setting)
        rows.append(
            (
                setting.label,
                *(float(points.q(name, quantity)[k, 0]) for name, quantity in sources),
                known(end.nominal),
                known(end.value),
                end.label,
            )
        )
    heads = (
        ("state", ""), *((name, "A") for name, _ in sources), ("share of the pack", ""), ("at worst", ""), ("with", ""),
    )  # fmt: skip
    return Table("Current out of each source with mains present", heads, tuple(rows))


def _draws(context: Context) -> Table:
    """What flows into the outputs of modules in the states without mains."""
    points = context.nominal
    rows = []
    for standing in context.states:
        setting = Setting(standing, states.usual_level(context.network, standing))
        if standing.on_mains or not context.has(setting):
            continue
        rows += [(standing.name, name, amps) for name, amps in _backward(points, context.row(setting))]
    heads = (("state", ""), ("module", ""), ("into its output", "A"))
    return Table("What unpowered modules draw backwards", heads, tuple(rows))
