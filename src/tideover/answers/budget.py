"""Can the adapter feed the load and charge at once?

Asks what
    The adapter's current with the load at mean and at peak while it charges, against its rated current and against the
    limit at which it gives up; the largest load it feeds while charging; the largest charge current it leaves at full
    load; what flows into the pack; whether the charger ever reaches its set current; the smallest adapter that fits.

Why it matters
    The label of an adapter is read as if it served the load alone. With the charger on top it stops, retries, and the
    load lives on the pack while mains is present, until the pack is empty.

How computed
    The real network is solved with mains present, the pack half full and full. Loads and charge currents are raised in
    batches until the load leaves its window, the adapter passes its rated current or the pack gives current. The limit
    of an adapter that retries is lifted to see by how much it is passed. Worst cases are corners of all spreads.

Blind spots
    Inrush and boot peaks are the start question's; the adapter's temperature is the heat question's. The shelf holds
    common sizes, not every adapter there is.

An example that trips it
    A 9 V 1 A adapter for a 6 W load and a boost charger of 1 A into two cells: 1.8 A would be needed.

Cure
    A larger adapter, a lower charge current, or a charger that draws less when its input sags.

Source
    Charge balance at the nodes; plan an adapter for nine tenths of its rating: typical, unverified.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Answer, Finding, Table, judged, worst
from tideover.answers.context import REACHED, Context, Points, Setting, choice, known, settled
from tideover.answers.fitting import OUT, fitting, mains_settings
from tideover.answers.limits import CHARGE_SHORT, OVERLOAD_TIGHT, RATED_TIGHT
from tideover.answers.reach import largest_scale, overload_scale, search
from tideover.answers.standing import missing_points
from tideover.cases import Batch, Extreme, nominal
from tideover.cases.batch import Array, Key
from tideover.network import Placed
from tideover.quantity import show

KEY = "budget"
RATING = "the adapter's label; nine tenths of it is the usual plan: typical, unverified"
GIVES = 2e-3
"""Current that a pack may give while mains is present before it counts: boards and dividers draw less. [A]"""


def answer(context: Context) -> Answer:
    """Answer the question; see the top of this file."""
    if not context.adapters:
        return Answer(KEY, HOLDS, "No adapter is drawn, so there is no budget to keep: the pack feeds the load alone.")
    found = list(_adapters(context))
    charging = [s for s in mains_settings(context) if s.standing.name == states.CHARGING]
    if charging:
        found += [*_largest_load(context, charging), *_largest_charge(context, charging)]
        found += [*_into_pack(context, charging), *_held_back(context)]
    table, told = fitting(context)
    seen = max((_seen(context, f) for f in found), default=0.0)
    found = [_with_mend(f, told(seen)) for f in found]
    status = worst(f.status for f in found) if found else OPEN
    tables = (_table(context), *((table,) if table else ()))
    return Answer(KEY, status, _headline(status, found), settled(found), tables)


def _headline(status: str, found: list[Finding]) -> str:
    bad = next((f for f in found if f.status == status), None)
    if bad is None:
        return "Nothing about the adapter could be judged."
    return f"{bad.state}: {bad.why}" if status != HOLDS else bad.why


def _seen(context: Context, finding: Finding) -> float:
    """The label that one finding asks for: the current it saw, or the label as it is times the overload it saw. [A]"""
    if finding.value is None or finding.status == HOLDS or not finding.name.startswith("adapter"):
        return 0.0
    if finding.unit == "A":
        return finding.value
    rated = float(context.nominal.value((context.adapters[0].name, "rated_current"))[0, 0])
    return rated * finding.value / finding.limit if finding.unit == "" and finding.limit else 0.0


def _with_mend(finding: Finding, told: str) -> Finding:
    if finding.status == HOLDS or not finding.mend.startswith("Take an adapter"):
        return finding
    return replace(finding, mend=f"{finding.mend} {told}".rstrip())


# --- the adapter's current ------------------------------------------------------------------------------


def _adapters(context: Context) -> Iterator[Finding]:
    """Each adapter against its rating at mean load and against its limit at peak load, in the heavier state."""
    mains = mains_settings(context)
    stand = [s for s in mains if context.has(s)]
    names = {s.standing.name for s in mains}
    yield from (f for f in missing_points(context) if f.state.split(", no load")[0].split(", peak")[0] in names)
    if not stand:
        return
    mean = [s for s in stand if s.level == states.MEAN][:1]
    peak = [s for s in stand if s.level == states.worst_level(context.network)][:1]
    wanted = [(a, s, _out, _rated) for a in context.adapters for s in mean]
    wanted += [(a, s, _burden, _limited) for a in context.adapters for s in peak]
    ends = context.worst([("high", s, partial(read, a)) for a, s, read, _ in wanted])
    for (adapter, setting, _, told), end in zip(wanted, ends):
        yield told(context, adapter, setting, end)


def _out(adapter: Placed, points: Points) -> Array:
    """Current of an adapter. [A]"""
    return points.raw(adapter.name, OUT)


def _burden(adapter: Placed, points: Points) -> Array:
    """Current of an adapter over its limit. [-]"""
    return points.raw(adapter.name, "regulator current [A]") / points.value((adapter.name, "current_limit"))


def _rated(context: Context, adapter: Placed, setting: Setting, end: Extreme) -> Finding:
    amps = end.value
    rated = float(context.nominal.value((adapter.name, "rated_current"))[0, 0])
    return Finding(
        name="adapter runs past its rating",
        status=OPEN if np.isnan(amps) else judged(rated - amps, (1.0 - RATED_TIGHT.value) * rated),
        subject=adapter.name,
        state=setting.label,
        quantity="current of the adapter",
        value=known(amps),
        unit="A",
        limit=rated,
        margin=known(rated - amps),
        case=end.label,
        why=f"{adapter.name} gives {show(amps, 'A')} of the {show(rated, 'A')} on its label at mean load.",
        mend="Take an adapter with a higher current, or set the charger lower.",
        source=RATING,
        place=context.place(adapter.name, "rated_current"),
    )


def _limited(context: Context, adapter: Placed, setting: Setting, end: Extreme) -> Finding:
    share = end.value
    missing = np.isnan(share)
    said = "no value" if missing else f"{100 * share:.0f} % of the current at which it gives up"
    return Finding(
        name="adapter goes into overload",
        status=FAILS if missing else judged(REACHED - share, REACHED - OVERLOAD_TIGHT.value * REACHED),
        subject=adapter.name,
        state=setting.label,
        quantity="current over the adapter's limit",
        value=known(share),
        limit=REACHED,
        margin=known(REACHED - share),
        case=end.label,
        why=f"{adapter.name} reaches {said} with {end.label}; {100 * end.nominal:.0f} % as drawn.",
        mend="Take an adapter with a higher current, or set the charger lower.",
        source="the adapter's current limit",
        place=context.place(adapter.name, "current_limit"),
    )


# --- largest load, largest charge current -------------------------------------------------------------------


def _fed(points: Points) -> NDArray[np.bool_]:
    """Load inside its window, no pack giving current, no adapter past its rating or, at peaks, its limit; (K, B)."""
    context = points.context
    low, high = context.network.need.window
    v = points.v(context.network.at)
    with np.errstate(invalid="ignore"):
        good = (v >= low) & (v <= high)
        for adapter in context.adapters:
            rated = points.q(adapter.name, OUT) <= points.value((adapter.name, "rated_current"))
            good &= rated | np.array([[s.level == states.PEAK] for s in points.settings])
        for pack in states.of_kind(context.network, "pack"):
            good &= points.q(pack.name, "discharge current [A]") <= GIVES
    return good


def _largest_load(context: Context, charging: list[Setting]) -> Iterator[Finding]:
    network = context.network
    mean, peak = charging[0], charging[-1]
    watts = sum(float(context.nominal.value((p.name, "power"))[0, 0]) for p in context.loads)
    if watts <= 0.0:
        return
    top = overload_scale(context, mean)
    scale = float(largest_scale(context, nominal(network), [mean], _fed, top)[0, 0])
    ratio = max((states.demand(network, p, peak.level) for p in context.loads), default=1.0)
    status = FAILS if scale < 1.0 else TIGHT if scale < ratio else HOLDS
    more = " or more" if scale >= 0.999 * top else ""
    peaks = f" and its peaks {show(watts * ratio, 'W')}" if ratio > 1.0 else ""
    load = context.loads[0]
    yield Finding(
        name="adapter cannot feed the load while it charges",
        status=status,
        subject=load.name,
        state=mean.standing.name,
        quantity="largest load while charging",
        value=watts * scale,
        unit="W",
        limit=watts,
        margin=watts * (scale - 1.0),
        why=f"within the adapter's rating {show(watts * scale, 'W')}{more} can be fed while charging; "
        f"the load takes {show(watts, 'W')}{peaks}.",
        mend="Take an adapter with a higher current, or set the charger lower.",
        source="the network solved with rising load, parts nominal",
        place=context.place(load.name, "power"),
    )


def _largest_charge(context: Context, charging: list[Setting]) -> Iterator[Finding]:
    """All chargers' settings turned down together until the load is fed, its peaks too."""
    chargers = states.of_kind(context.network, "charger")
    now = {(c.name, "charge_current"): float(context.nominal.value((c.name, "charge_current"))[0, 0]) for c in chargers}

    def ask(tried: Array) -> NDArray[np.bool_]:
        shares = tried.reshape(-1)
        values: dict[Key, Array] = {key: amps * shares for key, amps in now.items()}
        batch = Batch(tuple(f"{share:.2f}" for share in shares), values, len(shares))
        return np.asarray(_fed(context.points(batch, charging, True)).all(axis=0).reshape(tried.shape))

    share = float(search(ask, np.array(1.0)))
    (first, amps), *_ = now.items()
    yield Finding(
        name="charge current is more than the adapter leaves",
        status=HOLDS if share >= 0.999 else FAILS if share <= 0.0 else TIGHT,
        subject=first[0],
        state=charging[-1].label,
        quantity="largest charge current at full load",
        value=amps * share,
        unit="A",
        limit=amps,
        margin=amps * (share - 1.0),
        why=f"with the load at its heaviest the adapter leaves {show(amps * share, 'A')} for charging; "
        f"{first[0]} is set to {show(amps, 'A')}.",
        mend=f"Set {first[0]} to {show(0.95 * amps * share, 'A', 2)}."
        if share > 0.0
        else "Take an adapter with a higher current.",
        source="the network solved with rising charge current, parts nominal",
        place=context.place(first[0], "charge_current"),
    )


def _into_pack(context: Context, charging: list[Setting]) -> Iterator[Finding]:
    """Net current into the pack while charging, at mean and peak load."""
    wanted = [(p, s) for p in states.of_kind(context.network, "pack") for s in charging if context.has(s)]
    ends = context.worst([("low", s, partial(_into, p)) for p, s in wanted])
    for (pack, setting), end in zip(wanted, ends):
        if end.failed:
            continue
        short = end.value < -GIVES
        status = HOLDS if not short else TIGHT if setting.level == states.PEAK else FAILS
        yield Finding(
            name="pack gives current while it should charge",
            status=status,
            subject=pack.name,
            state=setting.label,
            quantity="net current into the pack",
            value=end.value,
            unit="A",
            limit=0.0,
            margin=end.value,
            case=end.label,
            why=f"{show(end.value, 'A')} flows into {pack.name} with {end.label}; {show(end.nominal, 'A')} as drawn.",
            mend="Take an adapter with a higher current, or feed the load from before the charger.",
            source="charge balance at the pack",
            place=context.place(pack.name),
        )


def _into(pack: Placed, points: Points) -> Array:
    """Current into a pack. [A]"""
    return -points.q(pack.name, "discharge current [A]")


def _held_back(context: Context) -> Iterator[Finding]:
    """A charger that something keeps below its set current with the pack half full."""
    points = context.nominal
    for charger in states.of_kind(context.network, "charger"):
        for setting in [s for s in mains_settings(context) if s.standing.name == states.CHARGING][:1]:
            k = context.row(setting)
            if not points.found[k, 0]:
                continue
            name = charger.name
            amps = float(points.q(name, "charge current [A]")[k, 0])
            wanted = float(points.value((name, "charge_current"))[k, 0])
            phase = points.state(name, "phase", k)
            if amps >= CHARGE_SHORT.value * wanted:
                continue
            yield Finding(
                name="charger never reaches its set current",
                status=FAILS if phase == "off" else TIGHT,
                subject=name,
                state=setting.label,
                quantity="charge current",
                value=amps,
                unit="A",
                limit=CHARGE_SHORT.value * wanted,
                margin=amps - CHARGE_SHORT.value * wanted,
                why=f"{name} gives {show(amps, 'A')} of {show(wanted, 'A')}: {_what_holds(points, charger, k, phase)}.",
                mend="Raise the voltage at its input, or set it to what it can reach.",
                source="the charger's own limits",
                place=context.place(name, "charge_current"),
            )


def _what_holds(points: Points, charger: Placed, k: int, phase: str) -> str:
    """Which of a charger's limits is the one that acts."""
    name = charger.name
    node = dict(zip(charger.kind.terminals, charger.nodes))
    ground = float(points.v(node["minus"])[k, 0])
    v_in, v_out = (float(points.v(node[t])[k, 0]) - ground for t in ("input", "output"))

    def figure(key: str) -> float:
        return float(points.value((name, key))[k, 0])

    if phase == "off":
        return f"it is off, its input at {show(v_in, 'V')} being too low for {show(v_out, 'V')} at its output"
    if phase in ("precharge", "tapering", "full"):
        return f"it is in its phase {phase}"
    drawn = float(points.q(name, "input current [A]")[k, 0])
    spare = v_in - v_out - figure("dropout") - figure("pass_resistance") * figure("charge_current")
    nearness = {
        f"its input sags to {show(v_in, 'V')}, where it draws less on purpose": v_in - figure("input_voltage_limit"),
        f"the pack stands at its hold voltage, {show(v_out, 'V')}": figure("hold_voltage") - v_out,
    }
    if choice(charger, "type") != "boost":
        nearness[f"only {show(v_in - v_out, 'V')} is left across it, its dropout"] = spare
    if limit := figure("input_current_limit"):
        nearness[f"its input current limit of {show(limit, 'A')} is reached"] = 10.0 * (limit - drawn) / limit
    return min(nearness, key=lambda reason: nearness[reason])


# --- the table ----------------------------------------------------------------------------------


def _table(context: Context) -> Table:
    points, network = context.nominal, context.network
    rows = []
    for setting in mains_settings(context):
        k = context.row(setting)

        def total(kind: str, quantity: str, k: int = k) -> float | None:
            parts = states.of_kind(network, kind)
            value = sum(float(points.raw(p.name, quantity)[k, 0]) for p in parts)
            return known(value)

        into = total("pack", "discharge current [A]")
        rows.append(
            (
                setting.label,
                total("adapter", OUT),
                known(points.burden[k, 0]),
                total("charger", "input current [A]"),
                total("charger", "charge current [A]"),
                None if into is None else -into,
                total("load", "drawn [A]"),
                "yes" if points.found[k, 0] else "no, it is what would be asked",
            )
        )
    heads = (
        ("state", ""), ("adapter", "A"), ("over its limit", ""), ("into the charger", "A"), ("charge current", "A"),
        ("into the pack", "A"), ("load", "A"), ("stands", ""),
    )  # fmt: skip
    return Table("Currents with mains present, as drawn", heads, tuple(rows))
