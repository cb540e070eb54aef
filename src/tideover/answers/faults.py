"""What does each single fault do?

Asks what
    For every part and every way in which it usually fails (it opens, it shorts, it drifts, it sticks): what the load,
    the cells and the parts around it then get, what stops it and how soon, and who would notice. From the gravest down:
    5 fire or burn, 4 load or pack destroyed, 3 output or backup lost, 2 degraded, 1 nuisance. A fault that nobody
    notices until mains fails is marked hidden.

Why it matters
    Parts fail one at a time. A build in which one shorted diode pushes the adapter onto the cells is dangerous however
    well it works today, and a supply that stands by for months hides its faults until the outage.

How computed
    All faults are solved side by side. Opens and drifts are figures of the part; shorts are a milliohm across it. Each
    strikes the healthy build twice: on mains with the pack full, watched for 12 h and then through an outage, and on
    the full pack, until well past the end of a run. What hunts without end (an adapter that retries) is followed for a
    while and then continued at its pace. Standing points in every state show charging, peaks and readings. Every
    measure of harm is at least that of the faultless build. Fuses, boards, limits and thermal foldback act as modelled.

Blind spots
    One fault at a time, at the figures as written. Ratios and rates of failures are typical, unverified, and good for
    an order of magnitude at best. A module's own thermal shutdown, a cell's own safety valve and a clamp that the
    drawing does not show are not modelled; nor are arcs, loose strands, wrong polarity, a drill or water. A short is a
    milliohm; one of an ohm can burn where a fuse never notices. Averaged models show no switching spikes.

An example that trips it
    A 15 V adapter and a three-cell pack meet at two diodes, without a protection board. If the diode of the pack
    shorts, the adapter lifts the cells past their limit within minutes, and nothing stops it.

Cure
    A protection board on the cells and a fuse at their terminal, each upstream of everything it protects; an adapter
    whose voltage the cells bear; a clamp or a wide input at the load; a test under load twice a year for what hides.

Source
    Method after IEC 60812 (failure modes and effects), with severities in our own words; ratios of failure modes as in
    public reliability tables, recalled: typical, unverified.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from tideover.answers import faults_said as say
from tideover.answers import limits, states
from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Answer, Finding, Table, worst
from tideover.answers.context import Context, settled
from tideover.answers.faults_said import Judged, chance
from tideover.answers.harms import DESTROYED, FIRE, LOST, SEVERITIES, load_limit
from tideover.answers.packs import chemistry
from tideover.answers.strikes import Strikes, strikes
from tideover.cases.faults import strike
from tideover.laws.chemistry import CHEMISTRY
from tideover.quantity import show

KEY = "faults"
YEAR = 365.25 * 86400.0
SOURCE = "single faults struck on the whole network; figures of harm: typical, unverified"


def answer(context: Context) -> Answer:
    """What every single fault does; see the top of this file."""
    return told(context, strikes(strike(context.network), context.seed))


def told(context: Context, done: Strikes) -> Answer:
    """The answer from what was computed."""
    healthy, found = say.judge(done)
    findings = settled(_findings(context, done, healthy, found))
    tables = tuple(t for t in (_table(found), _figures(found), _rates(found)) if t.rows)
    return Answer(KEY, worst(f.status for f in findings), _headline(findings, healthy, found), findings, tables)


# --- findings ----------------------------------------------------------------------------------------------


def _findings(context: Context, done: Strikes, healthy: Judged, found: Sequence[Judged]) -> Iterator[Finding]:
    """Load, cells, heat, then loss of output; over-voltage first."""
    yield from _open(context, done)
    if healthy.severity >= LOST:
        yield Finding(
            "build does not hold even without a fault",
            FAILS,
            "",
            "no fault",
            why=f"{healthy.verdict}, with nothing broken; a fault makes that no better",
            mend="See the other answers first.",
            source=SOURCE,
            place=context.need_place,
        )
    yield _on_load(context, done, found)
    if done.struck.network and states.of_kind(context.network, "pack"):
        yield _overcharged(context, found)
        yield _run_flat(context, found)
    yield _burnt(context, found)
    yield from _inherent(context, done, found)
    if healthy.severity < LOST:
        yield _losses(context, found)
        yield _hidden(context, found)


def _open(context: Context, done: Strikes) -> Iterator[Finding]:
    """What could not be followed, and why not."""
    missing = []
    if done.mains is None and context.adapters:
        missing.append("with mains present, as there is no standing point to strike: see `standing`")
    if done.pack is None and states.of_kind(context.network, "pack"):
        missing.append("on the pack, as there is no standing point to strike: see `standing`")
    if missing:
        yield Finding(
            "faults could not be followed in time",
            OPEN,
            "",
            "; ".join(missing),
            why="only their standing points, and the marches that were left, were judged",
            mend="Make the build stand there without a fault first.",
            source=SOURCE,
            place=context.need_place,
        )


def _status(worst_of: Judged | None) -> str:
    """Fire that a part could stop fails unless it is remote; destruction fails where it is likely."""
    if worst_of is None or worst_of.own[0] < DESTROYED:
        return HOLDS
    if worst_of.own[0] == FIRE:
        return FAILS if worst_of.rate >= limits.RARE.value else TIGHT
    return FAILS if worst_of.rate >= limits.LIKELY.value else TIGHT


def _graver(found: Sequence[Judged], causes: Sequence[str]) -> list[Judged]:
    """Faults of some causes that a part could stop, the one that decides the status first."""
    mine = [j for j in found if j.own[1] in causes and not j.single.fault.inherent]
    order = (FAILS, TIGHT, HOLDS)
    return sorted(mine, key=lambda j: (order.index(_status(j)), -j.own[0], -j.rate))


def _extreme(found: Sequence[Judged], key: Callable[[Judged], float]) -> Judged | None:
    """The fault with the largest figure, among those that destroy nothing: the others are told as what they destroy."""
    known = [j for j in found if j.own[0] < DESTROYED and np.isfinite(key(j))]
    return max(known, key=key, default=None)


def _worst_finding(
    context: Context,
    name: str,
    grave: Sequence[Judged],
    extreme: Judged | None,
    value: float | None,
    unit: str,
    limit: float,
    upper: bool,
    quantity: str,
    mend: str,
) -> Finding:
    """One measure over all faults: the fault that decides, the others named."""
    first = grave[0] if grave else extreme
    status = _status(grave[0] if grave else None)
    others = [j.single.label for j in grave[1:] if j.own[0] >= DESTROYED]
    why = "" if first is None else first.sentence
    if first is not None and grave:
        why += f"; {first.stopped} after {show(first.after, 's')}" if first.stopped else ""
        why += f" ({chance(first.rate)})"
    if others:
        why += f". Likewise if {'; if '.join(others[:4])}"
        why += f"; and {len(others) - 4} more" if len(others) > 4 else ""
    margin = None if value is None else (limit - value if upper else value - limit)
    return Finding(
        name,
        status,
        first.single.part.name if first else "",
        first.single.label if first else "",
        quantity,
        value,
        unit,
        limit,
        margin,
        why=why,
        mend=mend if status != HOLDS else "",
        source=f"{SOURCE}; ratio and rate of the fault: {first.single.fault.source}" if first else SOURCE,
        place=context.place(first.single.part.name) if first else context.need_place,
    )


def _on_load(context: Context, done: Strikes, found: Sequence[Judged]) -> Finding:
    most, stated = load_limit(done)
    grave = _graver(found, ("over-voltage", "reversed"))
    extreme = grave[0] if grave else _extreme(found, lambda j: j.told.load_high)
    value = None if extreme is None else extreme.told.load_high
    mend = "A clamp that blows a fuse, or a load that bears it" + ("." if stated else "; state its highest voltage.")
    return _worst_finding(
        context,
        "single fault puts too much voltage on the load",
        grave,
        extreme,
        value,
        "V",
        most,
        True,
        "highest voltage at the load",
        mend,
    )


def _chemistry_limit(context: Context, name: str) -> float:
    """Of the first pack, where no fault tells of any. [V]"""
    pack = states.of_kind(context.network, "pack")[0]
    return float(getattr(CHEMISTRY[chemistry(context.network, pack)], name))


def _overcharged(context: Context, found: Sequence[Judged]) -> Finding:
    over = limits.OVERCHARGED.value
    grave = [j for j in _graver(found, ("fire", "over-charge")) if j.told.cell_high > j.told.charge_limit + over]
    extreme = grave[0] if grave else _extreme(found, lambda j: j.told.cell_high - j.told.charge_limit)
    limit = _chemistry_limit(context, "charge_abs") if extreme is None else extreme.told.charge_limit
    limit += over
    guard = not states.of_kind(context.network, "protection board")
    mend = "A protection board on the cells" if guard else "A second barrier beside the board"
    return _worst_finding(
        context,
        "single fault overcharges the cells",
        grave,
        extreme,
        None if extreme is None else extreme.told.cell_high,
        "V",
        limit,
        True,
        "highest voltage of a cell",
        f"{mend}, or an adapter whose voltage the pack bears.",
    )


def _run_flat(context: Context, found: Sequence[Judged]) -> Finding:
    grave = _graver(found, ("over-discharge",))
    extreme = grave[0] if grave else _extreme(found, lambda j: -j.told.cell_low / j.told.discharge_limit)
    limit = _chemistry_limit(context, "discharge_abs") if extreme is None else extreme.told.discharge_limit
    limit *= limits.DEEP.value
    return _worst_finding(
        context,
        "single fault runs the cells flat",
        grave,
        extreme,
        None if extreme is None else max(extreme.told.cell_low, 0.0),
        "V",
        limit,
        False,
        "lowest voltage of a cell",
        "A converter whose lockout lies above the cells' lowest voltage, so that it does not rest on one part alone.",
    )


def _burnt(context: Context, found: Sequence[Judged]) -> Finding:
    """Parts that burn, and cells that a current heats."""
    hot = limits.CELL_RUNS_AWAY.value
    grave = [j for j in _graver(found, ("burns", "fire")) if j.cause == "burns" or j.told.cell_hot > hot]
    extreme = grave[0] if grave else _extreme(found, lambda j: j.told.hot)
    cells = extreme is not None and extreme.cause == "fire"
    limit = hot if cells else limits.PART_BURNS.value
    value = None if extreme is None else min(extreme.told.cell_hot if cells else extreme.told.hot, say.TOLD_UP_TO)
    return _worst_finding(
        context,
        "single fault burns something",
        grave,
        extreme,
        value,
        "K",
        limit,
        True,
        "hottest cell" if cells else f"temperature of {extreme.told.hot_part}" if extreme else "temperature",
        "A fuse or a limit that acts sooner, upstream of everything that can short.",
    )


def _inherent(context: Context, done: Strikes, found: Sequence[Judged]) -> Iterator[Finding]:
    """What no part of any drawing could stop."""
    mine = [j for j in found if j.single.fault.inherent and j.severity == FIRE]
    if not mine:
        return
    rate = sum(j.rate for j in mine)
    first = mine[0]
    yield Finding(
        "cells can burn whatever the circuit does",
        TIGHT if rate >= limits.RARE.value else HOLDS,
        first.single.part.name,
        "at any time",
        "energy of one group of cells",
        say.group_energy(done),
        "J",
        why="; ".join(f"if {j.single.label}, {j.verdict}" for j in mine)
        + f". To an order of magnitude once in {_round(1.0 / rate)} years",
        mend="Insulate the cells' terminals, fuse right at them, keep what burns a hand's breadth away, and a smoke "
        "alarm near.",
        source=f"{SOURCE}; rate of the fault: {first.single.fault.source}",
        place=context.place(first.single.part.name),
    )


def _round(value: float) -> str:
    """One digit: ``90 000``."""
    return f"{float(f'{value:.0e}'):,.0f}".replace(",", " ")


def _losses(context: Context, found: Sequence[Judged]) -> Finding:
    """How often a single fault takes the output or its backup."""
    rate = say.losses(tuple(found))
    grave = sorted((j for j in found if j.severity == LOST), key=lambda j: -j.rate)
    limit = YEAR / limits.FAULTS_TIGHT.value
    value = YEAR / rate if rate > 0.0 else None
    return Finding(
        "single faults take the output or its backup",
        TIGHT if rate > limits.FAULTS_TIGHT.value else HOLDS,
        grave[0].single.part.name if grave else "",
        f"{len(grave)} of {len(found)} faults",
        "mean time between them",
        value,
        "s",
        limit,
        None if value is None else value - limit,
        why="; ".join(f"if {j.single.label}, {j.verdict}" for j in grave[:3]),
        mend="A better or a second part of the kind named, or a spare in the drawer.",
        source=SOURCE,
        place=context.place(grave[0].single.part.name) if grave else context.need_place,
    )


def _hidden(context: Context, found: Sequence[Judged]) -> Finding:
    """Faults that have already taken the backup when mains fails."""
    share = say.hidden_chance(tuple(found))
    mine = sorted((j for j in found if j.hidden and j.severity == LOST), key=lambda j: -j.rate)
    return Finding(
        "hidden fault has taken the backup before mains fails",
        TIGHT if share > limits.HIDDEN_TIGHT.value else HOLDS,
        mine[0].single.part.name if mine else "",
        f"{len(mine)} hidden faults, tested under load twice a year",
        "chance",
        share,
        "",
        limits.HIDDEN_TIGHT.value,
        limits.HIDDEN_TIGHT.value - share,
        why="; ".join(j.single.label + (f" ({j.noticed})" if j.noticed else "") for j in mine[:3]),
        mend="Test it under load more often, or add something that shows the fault.",
        source=f"rate times half the time between tests; {SOURCE}",
        place=context.place(mine[0].single.part.name) if mine else context.need_place,
    )


def _headline(findings: Sequence[Finding], healthy: Judged, found: Sequence[Judged]) -> str:
    """The worst one, and how many of each."""
    if healthy.severity >= LOST:
        said = f"It does not hold even without a fault: {healthy.verdict}. "
    else:
        said = ""
    counts = [(level, sum(j.severity == level for j in found)) for level in SEVERITIES]
    tally = ", ".join(f"{n} of severity {level}" for level, n in counts if n)
    if not found:
        return f"{said}Nothing in the drawing can fail."
    by_part = [j for j in found if not j.single.fault.inherent]
    first = min(by_part or found, key=lambda j: ((FAILS, TIGHT, HOLDS).index(_status(j)), -j.severity, -j.rate))
    return f"{said}{_capital(first.sentence)} ({chance(first.rate)}). {len(found)} single faults: {tally}."


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


# --- tables ------------------------------------------------------------------------------------------------


def _table(found: Sequence[Judged]) -> Table:
    """Every fault in a row, the gravest first."""
    columns = (("severity", ""), ("fault", ""), ("what happens", ""), ("chance", ""), ("noticed by", ""))
    rows = [
        (
            SEVERITIES[j.severity] + (", hidden" if j.hidden else ""),
            j.single.label,
            j.verdict,
            chance(j.rate),
            j.noticed or "nothing",
        )
        for j in found
    ]
    return Table("Single faults", columns, tuple(rows))


def _figures(found: Sequence[Judged]) -> Table:
    """What was found in each, in the same order."""
    columns = (
        ("fault", ""),
        ("load, highest", "V"),
        ("cell, highest", "V"),
        ("hottest part, to 200 °C", "K"),
        ("heat at the fault", "J"),
        ("stopped by", ""),
        ("after", "s"),
    )

    def hot(j: Judged) -> float:
        return float(np.fmin(np.fmax(j.told.hot, j.told.cell_hot), say.TOLD_UP_TO))

    rows = [
        (
            j.single.label,
            *(_known(x) for x in (j.told.load_high, j.told.cell_high, hot(j), round(j.heat, 1))),
            j.stopped,
            _known(j.after),
        )
        for j in found
    ]
    return Table("What load, cells and parts get", columns, tuple(rows))


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _rates(found: Sequence[Judged]) -> Table:
    """What the chances are made of."""
    columns = (("fault", ""), ("share of its kind's failures", ""), ("mean time between", "s"), ("source", ""))
    rows = [
        (j.single.label, j.single.fault.share / 100.0, YEAR / j.rate if j.rate > 0.0 else None, j.single.fault.source)
        for j in sorted(found, key=lambda j: -j.rate)
    ]
    return Table("How likely each is taken to be", columns, tuple(rows))
