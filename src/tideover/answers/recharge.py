"""How long until full again with the load attached, does the charger ever end, and is it full in time?

Asks what
    How long a pack takes from the end of a run until it is full again, with the load attached and without, in the
    coldest and the warmest room, aged, and with every tolerance against it; what holds the charger back; whether it
    ever ends its charge, and what the pack lives at then; whether the load stays inside its window to the end of the
    charge; how much runtime one, two and four hours give back.

Why it matters
    Outages come in clusters, and a pack that is not full again is a shorter one. A charger that never ends holds its
    cells at their highest voltage for years; one without headroom never fills them; an adapter that gives up with the
    load attached leaves them empty while mains is present.

How computed
    The whole network is marched with mains present from the charge at which a run on the pack ended, until the charger
    ends by itself or a long time has gone. Tolerances are moved one at a time, then all the bad way at once. After the
    end a row of standing points follows the pack down until the charger starts again. Runtimes are runs from the
    charge reached. What holds the charger back is the smallest of its limits at each point. Full is as full as its
    charger makes it; where the charger never ends, 99 % of that.

Blind spots
    A safety timer is not modelled: one shorter than the recharge ends it early. Diffusion makes real tails 1.2 to 1.5
    times longer (typical, unverified). A charger that charges less in the cold or holds a lower voltage in the heat is
    taken as one that does not. The load is at its mean; peaks are only told. Waking from a dead state is the question
    on starting.

An example that trips it
    A board that needs 1.5 V between input and pack on a 9 V adapter: with 8.4 V to reach, the current dies away long
    before, the charger never ends, and half the charge is never there.

Cure
    A higher charge current or a larger adapter; more voltage at the charger's input; the load fed from before the
    charger; a charger that needs less headroom.

Source
    Charge balance and the charger's own thresholds; full again in 12 h after a median outage by judgement, where
    nothing is asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers import recharge_said as say
from tideover.answers import recharge_tables as tables_of
from tideover.answers import states
from tideover.answers.base import OPEN, Answer, Series, worst
from tideover.answers.context import Context, settled
from tideover.answers.limits import MEDIAN_OUTAGE
from tideover.answers.packs import charger_of
from tideover.answers.recharge_read import ENDS, Recharge, curve_of, full_times, read
from tideover.answers.recharge_volts import load_kept
from tideover.answers.refills import Refills, refill
from tideover.answers.restraint import Stretch, stretches
from tideover.answers.runs import AMBIENT, Runs, aged, emptying, longest_run, plain, run
from tideover.answers.stoppers import stoppers
from tideover.answers.topping import Topping, topping
from tideover.cases import Batch, Spread, corner, join, one_at_a_time, override, written
from tideover.laws.constants import TEMP_25
from tideover.network import Placed
from tideover.quantity import show
from tideover.solve import along, readings

KEY = "recharge"
Array = NDArray[np.float64]
Key = tuple[str, str]
NEW, COLD, WARM, OLD = range(4)
LABELS = ("new, 25 °C", "new, coldest room", "new, warmest room", "aged, 25 °C")
CORNERS = ("coldest room, worst corner", "warmest room, worst corner")
WATCHED = 3 * 86400.0
"""A recharge is watched for three days at least, longer where more is asked or the charge current is small. [s]"""
SLOW = 3.0
"""Times the charge of all cells over the charge current, or the time asked: watched for so long at least."""
AT_ONCE = 1.0
"""A run shorter than this never began: the recharge is told from near cut-off instead. [s]"""
OTHER = 0.01
"""Charge by which another limit must end a run lower to be told apart. [-]"""
LATER = 0.1
"""Share of a run within which another limit must act to be told. [-]"""
WORTH_TELLING = 10.0
"""Change of the recharge below which a figure is not named. [s]"""
MOST = 0.9
"""Of all the charge that ever comes: until then the charge current is held against the one that is set. [-]"""
PARTIAL = (3600.0, 7200.0, 14400.0)
"""How long is recharged before mains fails again. [s]"""


@dataclass(frozen=True)
class Start:
    """Where recharges begin: charge and weak charge of every pack, and what ended the run."""

    charges: dict[Key, float]
    ended_by: str


@dataclass(frozen=True)
class Partial:
    """Runtime that so long a recharge gives back."""

    t: float
    load: bool
    charge: float
    runtime: float


@dataclass(frozen=True)
class Told:
    """All that was computed, for those who put it into words and tables."""

    pack: Placed
    charger: Placed
    cases: tuple[Recharge, ...]
    unloaded: Recharge
    others: tuple[Recharge, ...]
    median: Recharge | None
    corners: tuple[Recharge, ...]
    alone: tuple[str, ...]
    held: tuple[Stretch, ...]
    held_unloaded: tuple[Stretch, ...]
    held_early: tuple[Stretch, ...]
    after: Topping | None
    partial: tuple[Partial, ...]
    left: float
    effects: tuple[tuple[str, float], ...]
    ended_by: str


def answer(context: Context) -> Answer:
    """How long until full again; see the top of this file."""
    network = context.network
    packs = states.of_kind(network, "pack")
    if not packs:
        return Answer(KEY, OPEN, "There is no pack in the drawing, so there is nothing to be charged again.")
    pack, charger = packs[0], charger_of(network, packs[0])
    if charger is None or not context.adapters:
        missing = "charger" if charger is None else "adapter"
        said = f"There is no {missing} in the drawing, so nothing tells how {pack.name} is charged again."
        return Answer(KEY, OPEN, said)
    spreads = [s for s in context.spreads if (s.part, s.name) != AMBIENT]
    runs = run(network, _conditions(context), limit=longest_run(network))
    first, plan = _first(context, runs, spreads)
    times = full_times(first, pack)
    effects = _effects(times, plan)
    second = _corners(context, spreads, effects)
    told = _told(context, first, plan, second, effects, spreads, (pack, charger))
    found = settled([*say.findings(context, told), *load_kept(context, first, plan.named, second, CORNERS)])
    return Answer(
        KEY,
        worst(f.status for f in found),
        say.headline(context, told, found),
        found,
        tuple(t for t in tables_of.tables(told, first, second, plan.named) if t.rows),
        _series(first, plan, told),
    )


# --- which recharges are marched ---------------------------------------------------------------------------


@dataclass(frozen=True)
class Plan:
    """Cases of the first batch: where each begins, whether the load is attached, and what it is for.

    `named` are told one by one; the single figures begin at `singles` with one as written. `unloaded` and `median` are
    positions, `others` those of other limits.
    """

    batch: Batch
    starts: tuple[Start, ...]
    load: tuple[bool, ...]
    unloaded: int
    median: int | None
    others: tuple[int, ...]
    singles: int

    @property
    def named(self) -> tuple[str, ...]:
        """Labels of all that come before the single figures."""
        return self.batch.labels[: self.singles]

    def charges(self) -> dict[Key, Array]:
        """As `refill` takes them."""
        return {key: np.array([s.charges[key] for s in self.starts]) for key in self.starts[0].charges}


def _conditions(context: Context) -> Batch:
    """New at 25 °C, in the coldest and the warmest room; aged."""
    network = context.network
    low, high = network.need.ambient
    worn: dict[Key, float] = {}
    for pack in states.of_kind(network, "pack"):
        old = aged(network, pack, network.need.years)
        worn |= {(pack.name, "health"): old.health, (pack.name, "growth"): old.growth}
    given = ({AMBIENT: TEMP_25}, {AMBIENT: low}, {AMBIENT: high}, {AMBIENT: TEMP_25, **worn})
    return plain(network, list(zip(LABELS, given)))


def _first(context: Context, runs: Runs, spreads: list[Spread]) -> tuple[Refills, Plan]:
    """Every condition from where its own run ended; single figures from where the new one did at 25 °C."""
    network = context.network
    ends = [_end(runs, k) for k in range(len(LABELS))]
    new = ends[NEW]
    listed: list[tuple[str, dict[Key, float], Start, bool]] = []
    written_so = {AMBIENT: TEMP_25}
    listed.append((f"{LABELS[NEW]}, load off", written_so, new, False))
    others = [(f"{LABELS[NEW]}, from the {s.ended_by}", s) for s in _others(runs, new)]
    listed += [(label, written_so, s, True) for label, s in others]
    listed += [(f"{label}, load off", written_so, s, False) for label, s in others]
    median = None
    if network.need.recharge is None and runs.outcome(NEW) >= 0:
        median = len(LABELS) + len(listed)
        listed.append((f"{LABELS[NEW]}, after {show(MEDIAN_OUTAGE.value, 's')}", written_so, _median(runs), True))
    singles = override(one_at_a_time(network, spreads), {AMBIENT: TEMP_25})
    batch = join(network, [runs.batch, plain(network, [(label, given) for label, given, _, _ in listed]), singles])
    starts = (*ends, *(s for _, _, s, _ in listed), *[new] * singles.count)
    load = (*[True] * len(ends), *(on for _, _, _, on in listed), *[True] * singles.count)
    at = len(LABELS)
    plan = Plan(batch, starts, load, at, median, tuple(range(at + 1, at + 1 + 2 * len(others))), at + len(listed))
    levels = [states.MEAN if on else states.NONE for on in load]
    return refill(network, batch, plan.charges(), watched(context), levels), plan


def _end(runs: Runs, case: int, t: float | None = None) -> Start:
    """Charges at the end of a run or at some time in it; near cut-off where none ended by itself."""
    network = runs.network
    charges: dict[Key, float] = {}
    ran = runs.runtime[case] >= AT_ONCE and (runs.outcome(case) == 1 or t is not None)
    for pack in states.of_kind(network, "pack"):
        if not ran:
            charges |= states.charges(network, pack, None)
            continue
        assert runs.waves is not None
        time, system, inside = along(runs.waves, int(runs.positions[case]))
        read_ = readings(system, inside).state
        at = time[-1] if t is None else t
        for name in ("charge", "weak_charge"):
            charges[pack.name, name] = float(np.interp(at, time, read_[pack.name, name]))
    if not ran or t is not None:
        return Start(charges, "")
    return Start(charges, next((s.name for s in stoppers(runs, case) if s.acted), "end of the run"))


def _median(runs: Runs) -> Start:
    """After one median outage, or at the end of the run if that comes first."""
    return _end(runs, NEW, min(MEDIAN_OUTAGE.value, float(runs.runtime[NEW])))


def _others(runs: Runs, new: Start) -> list[Start]:
    """Limits that would have ended the run a little later, each at the charge it would have left."""
    if runs.outcome(NEW) != 1 or runs.runtime[NEW] < AT_ONCE:
        return []
    found: list[Start] = []
    t = float(runs.runtime[NEW])
    before = _end(runs, NEW, 0.97 * t).charges
    for stop in stoppers(runs, NEW):
        if stop.acted or not stop.switches or not 0.0 < stop.left <= LATER * t:
            continue
        pace = {key: (before[key] - now) / (0.03 * t) for key, now in new.charges.items()}
        lower = {key: now - pace[key] * stop.left for key, now in new.charges.items()}
        if max(abs(new.charges[key] - lower[key]) for key in lower) > OTHER:
            found.append(Start(lower, stop.name))
    return found


def watched(context: Context) -> float:
    """How long a recharge is watched. [s]"""
    network = context.network
    amps = sum(written(network, (c.name, "charge_current")) for c in states.of_kind(network, "charger"))
    names = ("capacity", "health", "parallel")
    coulombs = sum(
        float(np.prod([written(network, (p.name, n)) for n in names])) for p in states.of_kind(network, "pack")
    )
    return max(WATCHED, SLOW * (network.need.recharge or 0.0), SLOW * coulombs / amps if amps > 0.0 else 0.0)


def _effects(times: Array, plan: Plan) -> Array:
    """Change of the recharge by each single figure; infinite where it alone keeps the pack from ever being full."""
    base, single = times[plan.singles], times[plan.singles + 1 :]
    with np.errstate(invalid="ignore"):
        out = single - base
    return np.where(np.isnan(out), 0.0, out)


def _signs(spreads: Sequence[Spread], effects: Array) -> Array:
    moved = np.array([1.0 if s.high > s.nominal else -1.0 for s in spreads])
    return np.where(np.abs(effects) < WORTH_TELLING, 0.0, np.where(effects > 0.0, moved, -moved))


def _corners(context: Context, spreads: list[Spread], effects: Array) -> Refills:
    """Every figure the way that lengthens the recharge, in the coldest and the warmest room, each from its own run."""
    network = context.network
    signs = _signs(spreads, effects)
    both = override(corner(network, spreads, np.vstack([signs, signs])), {AMBIENT: np.array(network.need.ambient)})
    runs = run(network, both, limit=longest_run(network))
    starts = [_end(runs, k) for k in range(2)]
    charges = {key: np.array([s.charges[key] for s in starts]) for key in starts[0].charges}
    return refill(network, both, charges, watched(context))


# --- reading -------------------------------------------------------------------------------------------------


def _told(
    context: Context,
    first: Refills,
    plan: Plan,
    second: Refills,
    effects: Array,
    spreads: list[Spread],
    parts: tuple[Placed, Placed],
) -> Told:
    pack, charger = parts
    signs, order = _signs(spreads, effects), np.argsort(-np.abs(effects), kind="stable")
    figures = ", ".join(spreads[k].said(float(signs[k])) for k in order[:5] if signs[k] != 0.0) or "nominal"
    labels = plan.named

    def one(case: int) -> Recharge:
        return read(first, case, pack, labels[case], plan.load[case])

    cases = tuple(one(k) for k in range(len(LABELS)))
    unloaded = one(plan.unloaded)
    singles = plan.batch.labels[plan.singles + 1 :]
    never = tuple(label for label, dt in zip(singles, effects) if np.isposinf(dt))
    telling = [k for k in order[:8] if WORTH_TELLING <= abs(effects[k]) < np.inf]
    partial, left = _partial(context, first, plan, pack, cases[NEW])
    return Told(
        pack,
        charger,
        cases,
        unloaded,
        tuple(one(k) for k in plan.others),
        None if plan.median is None else one(plan.median),
        tuple(read(second, k, pack, CORNERS[k], True, figures) for k in range(2)),
        never,
        _held(first, NEW, charger, pack),
        _held(first, plan.unloaded, charger, pack),
        _held(first, NEW if first.positions[NEW] >= 0 else plan.unloaded, charger, pack, MOST),
        topping(first, NEW, pack) if cases[NEW].how == ENDS else None,
        partial,
        left,
        tuple((singles[k], float(effects[k])) for k in telling),
        plan.starts[NEW].ended_by,
    )


def _held(refills: Refills, case: int, charger: Placed, pack: Placed, share: float = 1.0) -> tuple[Stretch, ...]:
    return stretches(refills, case, charger, pack, share) if refills.positions[case] >= 0 else ()


def _partial(
    context: Context, first: Refills, plan: Plan, pack: Placed, new: Recharge
) -> tuple[tuple[Partial, ...], float]:
    """Runtimes after so long a recharge, and the runtime from the charge at which it ends up."""
    network = context.network
    wanted = [(t, k) for k in (NEW, plan.unloaded) if first.positions[k] >= 0 for t in (*PARTIAL, np.inf)]
    if not wanted:
        return (), float("nan")
    charges: dict[Key, Array] = {}
    for p in states.of_kind(network, "pack"):
        for name in ("charge", "weak_charge"):
            charges[p.name, name] = np.array([np.interp(t, *curve_of(first, k, p, name)) for t, k in wanted])
    batch = override(plain(network, [(f"after {t:g} s", {}) for t, _ in wanted]), {AMBIENT: TEMP_25})
    runtime = run(network, batch, keep=False, charges=charges, limit=emptying(network)).runtime
    reached = charges[pack.name, "charge"]
    found = [Partial(t, plan.load[k], float(c), float(r)) for (t, k), c, r in zip(wanted, reached, runtime)]
    last = [p for p in found if np.isinf(p.t)]
    return tuple(p for p in found if np.isfinite(p.t)), last[0].runtime


def _series(first: Refills, plan: Plan, told: Told) -> tuple[Series, ...]:
    """Charge of the pack and charge current over time, with the load attached and off."""
    out = []
    for case, words in ((NEW, "load attached"), (plan.unloaded, "load off")):
        if first.positions[case] < 0 or first.waves is None:
            continue
        t, system, inside = along(first.waves, int(first.positions[case]))
        r = readings(system, inside)
        charge = r.state[told.pack.name, "charge"]
        amps = r.quantity[told.charger.name, "charge current [A]"]
        time = tuple(t.tolist())
        out.append(Series(f"charge of {told.pack.name}, {words}", "time", "s", "", time, tuple(charge.tolist())))
        out.append(Series(f"charge current, {words}", "time", "s", "A", time, tuple(amps.tolist())))
    return tuple(out)
