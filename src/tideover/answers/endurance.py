"""How long does it carry the load, and what stops it?

Asks what
    How long a full pack carries the mean load with mains away: new at 25 °C, in the coldest and the warmest room, after
    the years asked for, and with every tolerance against it; what ends the run, how far the next limit is, whether a
    peak of the load ends it sooner, and where the watt-hours on the label go.

Why it matters
    Half the computed hours arrive. A charger that ends early, a converter, thin wire, a cold room, aged cells and a
    lockout above the cells' own empty point each take their share, and a peak on a low pack takes the rest.

How computed
    The whole network is marched from the charge at which the charger leaves the pack until the voltage at the load
    falls below its window or the load resets. Tolerances are moved one at a time, then all the bad way at once. Peaks
    are standing points at charges along each run, the slow resistances of the cells taken as a short peak meets them.
    The waterfall books the cells' content by the integral of their curve and the losses by the march's own ledger.

Blind spots
    The open-circuit curve is typical, not that of your cells. Below its 0 % it goes on straight. Ageing laws were
    fitted to one cell and are right within a factor of two; cycling is left out. A load is taken at its mean. Peaks are
    tried at twelve points of a run. The charge that a cold charger leaves out is not counted.

An example that trips it
    Two cells feeding a boost module whose lockout lies at 3.3 V a cell: a tenth of the charge stays in the cells, and
    the pack recovers when it stops, so the module starts and stops until the cells are truly empty.

Cure
    More or better cells, a converter with less loss or a lower lockout, shorter and thicker wire, a higher hold voltage
    (at the price of years), a smaller load.

Source
    Stored-energy time as in IEC 62040-5-3; end of life at 80 % of capacity by convention; cell data and ageing as
    stated with them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers import endurance_said as say
from tideover.answers import endurance_tables as tables_of
from tideover.answers import states
from tideover.answers.base import OPEN, Answer, Series, worst
from tideover.answers.context import Context
from tideover.answers.peaks import peaks
from tideover.answers.runs import AMBIENT, AT_ONCE, Aged, Runs, aged, plain, run
from tideover.answers.stoppers import Stopper, stoppers
from tideover.answers.waterfall import waterfall
from tideover.cases import Batch, Spread, corner, join, one_at_a_time, override, written
from tideover.laws.constants import TEMP_25

Array = NDArray[np.float64]
Key = tuple[str, str]
NEW, COLD, WARM, OLD, OLD_COLD, WORST, ALL_BAD = range(7)
LABELS = (
    "new, 25 °C",
    "new, coldest room",
    "new, warmest room",
    "aged, 25 °C",
    "aged, coldest room",
    "new, 25 °C, worst corner",
    "aged, coldest room, worst corner",
)
SINGLES = OLD_COLD + 1
"""Where the single figures begin in the first batch of runs, with one at 25 °C and nothing else changed."""
WORTH_TELLING = 1.0
"""Change of the runtime below which a figure is not named. [s]"""


@dataclass(frozen=True)
class Case:
    """One run, read."""

    label: str
    runtime: float
    peak_until: float
    chatters: bool
    stops: tuple[Stopper, ...]
    delivered: float
    ended: bool
    failed: bool
    figures: str = ""

    @property
    def holds_until(self) -> float:
        """Until the first of a peak or the mean load finds it wanting. [s]"""
        return min(self.runtime, self.peak_until)


def answer(context: Context) -> Answer:
    """How long it carries the load; see the top of this file."""
    network = context.network
    packs = states.of_kind(network, "pack")
    if not packs:
        return Answer("endurance", OPEN, "There is no pack in the drawing, so nothing carries the load without mains.")
    old = {p.name: aged(network, p, network.need.years) for p in packs}
    spreads = [s for s in context.spreads if (s.part, s.name) != AMBIENT]
    first = run(network, join(network, [_conditions(context, old), _singles(context, spreads)]))
    if first.waves is None or first.outcome(NEW) < 0 or first.runtime[NEW] < AT_ONCE:
        return say.does_not_start(context, first)
    effects = first.runtime[SINGLES + 1 :] - first.runtime[SINGLES]
    corners, label = _corners(context, spreads, effects, old)
    second = run(network, corners)
    cases = [*_read(first, range(SINGLES)), *_read(second, range(2), label)]
    effects_told = _told(first, effects)
    falls = waterfall(first, NEW)
    found = say.findings(context, cases, old, effects_told, falls)
    tables = (
        tables_of.runtimes(cases),
        tables_of.stopper_table(cases[NEW]),
        tables_of.waterfall_table(falls, cases),
        tables_of.contributors(effects_told),
        tables_of.ledger([(first, k, LABELS[k]) for k in range(SINGLES)]),
        tables_of.ledger([(second, k, LABELS[WORST + k]) for k in (0, 1)], "Energy ledger, worst corner"),
    )
    return Answer(
        "endurance",
        worst(f.status for f in found),
        say.headline(context, cases, found),
        tuple(found),
        tuple(t for t in tables if t.rows),
        _series(context, first, second),
    )


def _conditions(context: Context, old: dict[str, Aged]) -> Batch:
    """New and aged, at 25 °C and in the coldest and warmest room."""
    low, high = context.network.need.ambient
    worn = _worn(old)
    return plain(
        context.network,
        [
            (LABELS[NEW], {AMBIENT: TEMP_25}),
            (LABELS[COLD], {AMBIENT: low}),
            (LABELS[WARM], {AMBIENT: high}),
            (LABELS[OLD], {AMBIENT: TEMP_25, **worn}),
            (LABELS[OLD_COLD], {AMBIENT: low, **worn}),
        ],
    )


def _worn(old: dict[str, Aged]) -> dict[Key, float]:
    out: dict[Key, float] = {}
    for name, a in old.items():
        out[name, "health"], out[name, "growth"] = a.health, a.growth
    return out


def _singles(context: Context, spreads: list[Spread]) -> Batch:
    return override(one_at_a_time(context.network, spreads), {AMBIENT: TEMP_25})


def _corners(context: Context, spreads: list[Spread], effects: Array, old: dict[str, Aged]) -> tuple[Batch, str]:
    """Every figure the way that shortens the run; new at 25 °C, and aged in the coldest room."""
    moved = np.array([1.0 if s.high > s.nominal else -1.0 for s in spreads])
    signs = np.where(np.abs(effects) < WORTH_TELLING, 0.0, np.where(effects < 0.0, moved, -moved))
    both = corner(context.network, spreads, np.vstack([signs, signs]))
    low = context.network.need.ambient[0]
    given: dict[Key, Array] = {AMBIENT: np.array([TEMP_25, low])}
    for (part, name), value in _worn(old).items():
        as_written = both.values.get((part, name), np.full(2, written(context.network, (part, name))))
        given[part, name] = np.array([as_written[0], value])
    order = np.argsort(-np.abs(effects), kind="stable")
    label = ", ".join(spreads[k].said(float(signs[k])) for k in order[:5] if signs[k] != 0.0)
    return override(both, given), label or "nominal"


def _read(runs: Runs, which: range, figures: str = "") -> list[Case]:
    """Runtime, peaks and stoppers of some cases."""
    started = [k for k in which if runs.outcome(k) >= 0]
    offset = WORST if figures else 0
    found = {}
    if started:
        tried = peaks(runs, started)
        for j, k in enumerate(started):
            assert runs.waves is not None
            t = float(runs.runtime[k])
            found[k] = Case(
                LABELS[offset + k],
                t,
                float(tried.until[j]) * t,
                bool(tried.chatters[j]),
                stoppers(runs, k),
                float(runs.waves.delivered[runs.positions[k]]),
                runs.outcome(k) == 0,
                runs.outcome(k) == 2,
                figures,
            )
    return [found.get(k, Case(LABELS[offset + k], 0.0, 0.0, False, (), 0.0, False, False, figures)) for k in which]


def _told(first: Runs, effects: Array) -> tuple[tuple[str, float], ...]:
    order = np.argsort(-np.abs(effects), kind="stable")[:8]
    labels = first.batch.labels[SINGLES + 1 :]
    return tuple((labels[k], float(effects[k])) for k in order if abs(effects[k]) >= WORTH_TELLING)


def _series(context: Context, first: Runs, second: Runs) -> tuple[Series, ...]:
    """Voltages of load and pack over time."""
    network = context.network
    pack = states.of_kind(network, "pack")[0]
    plus, minus = (pack.nodes[pack.kind.terminals.index(n)] for n in ("plus", "minus"))
    out = []
    for runs, k, label in ((first, NEW, LABELS[NEW]), (second, 1, LABELS[ALL_BAD])):
        if runs.outcome(k) < 0:
            continue
        t, v = runs.wave(k)
        for name, y in ((f"load, {label}", v[:, network.at]), (f"{pack.name}, {label}", v[:, plus] - v[:, minus])):
            out.append(Series(name, "time", "s", "V", tuple(t.tolist()), tuple(y.tolist())))
    return tuple(out)
