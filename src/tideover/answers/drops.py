"""Where does each millivolt and each watt go on the way to the load?

Asks what
    Along the way of the load's current, out and back: which part takes how many volts, how much of what may be lost
    that is, how much every contact drops, and how much power each part turns into heat.

Why it matters
    A source, a lead, a connector, a fuse, a relay and a strip each take "only a little", and together they take the
    load below its window. The return side takes as much as the other. Contacts age, and the volts across one contact
    set how hot its spot gets.

How computed
    The current is followed from the load to its source on the solved standing point, with mains (charging if that
    stands) and on the nearly empty pack, at the load's peak. A converter ends one ladder and begins the next: before
    it, the lowest voltage allowed is where it locks out; behind it, the load's window. Each drop is then taken at its
    worst corner. Shares count from what the sources put in.

Blind spots
    Conductors are at room temperature; warm copper loses 4 % more for each 10 K. What a connector loses once it is worn
    is told with the stated worn resistance, which is a guess until it is measured. Ampacity is the ratings question's.

An example that trips it
    A 5 V load behind 3 m of 24 AWG lead at 2 A: the lead takes 1 V of a budget of 0.25 V.

Cure
    Shorten or thicken the part named first, or move the converter to the load's end of the lead.

Source
    Ohm's law; drop of a contact and its hot spot: Holm, Electric Contacts, 1967; limits typical, unverified.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from tideover.answers import states
from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Answer, Finding, Series, Table, worst
from tideover.answers.context import Context, Points, Setting, settled
from tideover.answers.limits import BUDGET_SHARE, CONTACT_FAILS, CONTACT_TIGHT, RUN_SHARE
from tideover.answers.paths import Path, Step, path
from tideover.cases import Extreme
from tideover.cases.batch import Array
from tideover.quantity import show

KEY = "drops"
CONTACTS = {"connector": "contact_resistance", "switch": "contact_resistance", "relay": "contact_resistance"}
"""Kinds with contacts of which each is judged by its own drop; for the others contacts are a small part."""
RULE = "share of what may be lost: typical, unverified"


@dataclass(frozen=True)
class Ladder:
    """A path between two converters, or one and an end: its steps, the volts at its start, the least at its end."""

    setting: Setting
    steps: tuple[Step, ...]
    start: float
    floor: float
    toward: str

    @property
    def budget(self) -> float:
        """What may be lost on it. [V]"""
        return self.start - self.floor


def answer(context: Context) -> Answer:
    """Answer the question; see the top of this file."""
    if not context.loads:
        return Answer(KEY, OPEN, "No load is drawn, so no current can be followed to one.")
    load = context.loads[0]
    walks = [(s, context.row(s)) for s in _settings(context)]
    if not walks:
        return Answer(KEY, OPEN, "No standing state has a solution, so no current can be followed; see `standing`.")
    points = context.nominal
    paths = [(s, k, path(points, k, 0, load)) for s, k in walks]
    ladders = [ladder for s, k, p in paths for ladder in _ladders(context, s, k, p)]
    found = list(_judged(context, ladders, paths))
    for s, _, p in paths:
        if p.source is None:
            found.append(_lost_track(context, s))
    status = worst(f.status for f in found)  # with nothing on the way, nothing is lost there: that holds
    tables = tuple(t for s, k, p in paths for t in (_ladder_table(context, s, k, p), _heat_table(context, s, k)))
    series = tuple(_series(context, s, k, p) for s, k, p in paths)
    return Answer(KEY, status, _headline(status, found, ladders), settled(found), tables, series)


def _headline(status: str, found: list[Finding], ladders: list[Ladder]) -> str:
    bad = next((f for f in found if f.status == status), None)
    if status == HOLDS or bad is None:
        most = max((f for f in found if f.value is not None), key=lambda f: f.value or 0.0, default=None)
        return f"No part takes more than its share; {most.why}" if most else "Nothing is lost on the way."
    return f"{bad.state}: {bad.why}"


def _settings(context: Context) -> list[Setting]:
    """The mains state and the pack state to follow: the heaviest that stand."""
    chosen = []
    for names in ((states.CHARGING, states.MAINS_FULL), (states.NEAR, states.HALF, states.FULL)):
        some = [s for name in names for s in reversed(context.settings) if s.standing.name == name]
        chosen += some[:1]
    return chosen


def _lost_track(context: Context, setting: Setting) -> Finding:
    return Finding(
        name="load's current cannot be followed",
        status=OPEN,
        subject=context.loads[0].name,
        state=setting.label,
        why="the current of the load does not lead to an adapter or a pack; does it carry any?",
        mend="Check the joins on the way to the load.",
        source="the solved standing point",
        place=context.place(context.loads[0].name),
    )


# --- ladders ----------------------------------------------------------------------------------------


def _ladders(context: Context, setting: Setting, k: int, p: Path) -> Iterator[Ladder]:
    """Cut a path at its converters. The way back belongs to the ladder that begins at the source."""
    if p.source is None:
        return
    points = context.nominal
    plus = p.source.nodes[p.source.kind.terminals.index("plus")]
    minus = p.source.nodes[p.source.kind.terminals.index("minus")]
    start = float(points.v(plus)[k, 0] - points.v(minus)[k, 0])
    run: list[Step] = list(p.back)
    for step in p.out:
        if step.regulates:
            yield Ladder(setting, tuple(run), start, _least_input(points, step, k), step.part.name)
            start, run = float(points.v(step.node(step.leave))[k, 0]), []
        else:
            run.append(step)
    yield Ladder(setting, tuple(run), start, context.network.need.window[0], p.load.name)


def _least_input(points: Points, step: Step, k: int) -> float:
    """Voltage below which a converter stops or cannot hold its output. [V]"""
    name = step.part.name
    keys = [n for n in ("lockout_off", "lowest_input") if n in step.part.values]
    floor = max((float(points.value((name, n))[k, 0]) for n in keys), default=0.0)
    if step.part.kind.name in ("linear regulator", "buck"):
        floor = max(floor, float(points.value((name, "set_voltage"))[k, 0]))
    return floor


def _reader(step: Step, per: str = "") -> Callable[[Points], Array]:
    """Drop of one step; of one contact of it when `per` names how many it has.

    An overloaded adapter is taken to give what it is asked for: it does so until it stops. Where nothing solves, no
    current flows and nothing is lost.
    """

    def read(points: Points) -> Array:
        volts = np.nan_to_num(points.raw_v(step.node(step.entry)) - points.raw_v(step.node(step.leave)))
        count = points.value((step.part.name, per)) if per else 1.0
        return np.asarray(volts / np.maximum(count, 1.0))

    return read


def _judged(context: Context, ladders: list[Ladder], paths: list[tuple[Setting, int, Path]]) -> Iterator[Finding]:
    """What takes most of each ladder or more than its share; and every contact. All worst cases in one search."""
    runs = [(ladder, step) for ladder in ladders for step in ladder.steps]
    touching = [(s, step) for s, _, p in paths for step in (*p.out, *p.back) if step.part.kind.name in CONTACTS]
    drops = [("high", ladder.setting, _reader(step)) for ladder, step in runs]
    drops += [
        ("high", s, _reader(step, "contacts" if step.part.kind.name == "connector" else "")) for s, step in touching
    ]
    ends = context.worst(drops, check=False)
    for ladder in ladders:
        mine = [(step, end) for (other, step), end in zip(runs, ends) if other is ladder]
        mine.sort(key=lambda pair: -pair[1].value)
        for rank, (step, end) in enumerate(mine):
            finding = _share(context, ladder, step, end)
            if rank == 0 or finding.status != HOLDS:
                yield finding
    for (setting, step), end in zip(touching, ends[len(runs) :]):
        yield _contact(context, setting, step, end)


def _share(context: Context, ladder: Ladder, step: Step, end: Extreme) -> Finding:
    """One part against the budget of its ladder and against a share of the source's voltage."""
    usual = RUN_SHARE.value * ladder.start
    half = BUDGET_SHARE.value * ladder.budget
    drop = end.value
    limit = max(min(usual, half), 0.0)
    status = HOLDS if drop <= limit else TIGHT
    if drop > max(ladder.budget, 0.0):
        status, limit = FAILS, max(ladder.budget, 0.0)
    side = " on the return side" if step.back else ""
    of = (
        f"{100 * drop / ladder.budget:.0f} % of the {show(ladder.budget, 'V')} that may be lost before {ladder.toward}"
        if ladder.budget > 0.0
        else f"nothing may be lost before {ladder.toward}"
    )
    return Finding(
        name="part takes more than its share of the voltage",
        status=status,
        subject=step.part.name,
        state=ladder.setting.label,
        quantity="drop",
        value=drop,
        unit="V",
        limit=limit,
        margin=limit - drop,
        case=end.label,
        why=f"{step.part.name} takes {show(drop, 'V')}{side}, {of}.",
        mend=_mend(step),
        source=f"{100 * RUN_SHARE.value:g} % of the source's voltage, or half of what may be lost: typical, unverified",
        place=context.place(step.part.name),
    )


def _mend(step: Step) -> str:
    kind = step.part.kind.name
    if kind in ("cable", "wire", "strip", "track"):
        return "Shorten it, or take more copper."
    if kind in ("diode", "ideal diode"):
        return "Take a diode with a lower drop, or an ideal diode."
    if kind in ("shunt", "resistor"):
        return "Take a smaller resistance."
    if kind == "fuse":
        return "Take a fuse of a higher rating if the wire allows it: it has less resistance."
    return "Take one with less resistance."


# --- contacts -----------------------------------------------------------------------------------------


def _contact(context: Context, setting: Setting, step: Step, end: Extreme) -> Finding:
    part, points, k = step.part, context.nominal, context.row(setting)
    drop = end.value
    status = FAILS if drop > CONTACT_FAILS.value else TIGHT if drop > CONTACT_TIGHT.value else HOLDS
    limit = CONTACT_FAILS.value if status == FAILS else CONTACT_TIGHT.value
    worn = ""
    if "aged_resistance" in part.values:
        amps = abs(float(points.q(part.name, f"{step.entry} [A]")[k, 0]))
        aged = amps * float(points.value((part.name, "aged_resistance"))[k, 0])
        if aged > CONTACT_FAILS.value:
            status = FAILS if status == FAILS else TIGHT
            worn = f"; worn to its stated limit it would drop {show(aged, 'V')}"
    return Finding(
        name="contact drops too much",
        status=status,
        subject=part.name,
        state=setting.label,
        quantity="drop of one contact",
        value=drop,
        unit="V",
        limit=limit,
        margin=limit - drop,
        case=end.label,
        why=f"one contact of {part.name} drops {show(drop, 'V')}; {show(limit, 'V')} is where "
        f"{'it overheats' if limit == CONTACT_FAILS.value else 'it begins to age'}{worn}.",
        mend="Take a connector with a larger contact, use two contacts side by side, or solder the joint.",
        source="hot spot of a contact, Holm 1967; limits typical, unverified",
        place=context.place(part.name),
    )


# --- tables -------------------------------------------------------------------------------------------


def _rungs(context: Context, k: int, p: Path) -> list[tuple[Step, float, float, float, float]]:
    """Step, volts before, volts after, current, heat."""
    points = context.nominal
    rows = []
    for step in (*p.out, *p.back):
        before, after = (float(points.v(step.node(t))[k, 0]) for t in (step.entry, step.leave))
        amps = -float(points.q(step.part.name, f"{step.leave} [A]")[k, 0])
        rows.append((step, before, after, amps, float(points.heat(step.part.name)[k, 0])))
    return rows


def _ladder_table(context: Context, setting: Setting, k: int, p: Path) -> Table:
    names = context.network.nodes
    rows = tuple(
        (
            step.part.name,
            "back" if step.back else "out",
            names[step.node(step.entry)],
            names[step.node(step.leave)],
            before,
            None if step.regulates else before - after,
            amps,
            heat,
        )
        for step, before, after, amps, heat in _rungs(context, k, p)
    )
    heads = (
        ("part", ""), ("way", ""), ("from", ""), ("to", ""), ("before it", "V"), ("drop", "V"), ("current", "A"),
        ("heat", "W"),
    )  # fmt: skip
    source = p.source.name if p.source else "?"
    return Table(f"From {source} to {p.load.name}: {setting.label}, as drawn", heads, rows)


def _heat_table(context: Context, setting: Setting, k: int) -> Table:
    points, network = context.nominal, context.network
    put_in = _put_in(context, k)
    heats = [(part.name, float(points.heat(part.name)[k, 0])) for part in network.parts if part.nodes]
    heats.sort(key=lambda pair: -pair[1])
    rows = [(name, watts, watts / put_in if put_in > 0.0 else None) for name, watts in heats if watts > 1e-6]
    fed = sum(float(points.readings.delivered[load.name][k]) for load in states.of_kind(network, "load"))
    rows.append(("delivered to the load", fed, fed / put_in if put_in > 0.0 else None))
    heads = (("part", ""), ("heat", "W"), ("share of what goes in", ""))
    return Table(f"Watts: {setting.label}, as drawn", heads, tuple(rows))


def _put_in(context: Context, k: int) -> float:
    """Power from mains and from the pack's chemistry. [W]"""
    points = context.nominal
    mains = sum(float(points.readings.supplied[a.name][k]) for a in context.adapters)
    cells = 0.0
    for pack in states.of_kind(context.network, "pack"):
        amps = float(points.q(pack.name, "discharge current [A]")[k, 0])
        cells += max(amps, 0.0) * float(points.q(pack.name, "open circuit [V]")[k, 0])
    return mains + cells


def _series(context: Context, setting: Setting, k: int, p: Path) -> Series:
    volts: list[float] = []
    for _, before, after, _, _ in _rungs(context, k, Path(p.source, p.load, p.out, ())):
        volts += [before, after] if not volts else [after]
    name, x = f"Voltage along the way: {setting.label}", tuple(float(n) for n in range(len(volts)))
    return Series(name, "step", "", "V", x, tuple(volts))
