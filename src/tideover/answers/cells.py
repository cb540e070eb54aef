"""Are the cells kept inside their limits, and what does it cost in years to hold them full?

Asks what
    How high the charger, a weak group and the protection board let the cells go, and how low a run and the board take
    them. How cold and how warm they are charged, floated and discharged; how hard the hardest worked cell works. What
    they have left after the years asked for, by hold voltage and by temperature, in capacity and in hours.

Why it matters
    A board is the last resort, not a charge controller: it acts well outside what cells bear for long. Charging below
    0 °C plates lithium even while every voltage looks normal. A pack that is held full and warm loses years without
    ever being used, and whoever holds it lower gives hours away from the first day.

How computed
    Recharges, runs and warm standing points of the whole network are read group by group, in the coldest, a usual and
    the warmest room. So are a recharge with the charger's voltage and current at their highest, one of groups that were
    joined when empty instead of full, and a run with the thresholds that end it at their lowest. The board's thresholds
    are judged with their spreads against the cells' limits. Cells side by side share a current by their resistances,
    one of them at the end of its spread. Capacity and resistance after years come from published calendar laws at the
    voltage a cell is held at and the temperature it floats at; each hold voltage and age is then a run.

Blind spots
    What cycling takes is left out, as with no outage at all; the answer on a year counts it. A law fitted to one cell
    is right within a factor of two for another. A charger's cut-out by temperature, a taper in the cold and balancing
    are not modelled. One group is weak and the others are alike, one cell of a group is odd and the others are alike. A
    run begins at the room's temperature.

An example that trips it
    Two cells in series floated at 8.4 V in a closed box beside a converter: the drawing shows nothing wrong, and in
    five years at 35 °C a third of the capacity is gone.

Cure
    Cool first: shade, vents, the charger and converter away from the cells. Then a lower hold voltage, as low as the
    runtime allows. Join groups when full. A lockout that ends the run before the board does. Where it freezes, a
    charger that watches the cells' temperature.

Source
    Limits stated with the cells prevail, else usual ones of the chemistry (typical, unverified); ageing: Schmalstieg
    et al. 2014 (NMC), Naumann et al. 2018 (LFP), public guides of valve-regulated lead-acid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tideover.answers import cells_built as built
from tideover.answers import cells_said as say
from tideover.answers import cells_strips as strips
from tideover.answers import cells_tables as tables_of
from tideover.answers import exposure, states
from tideover.answers.base import OPEN, Answer, Finding, Series, Table, worst
from tideover.answers.context import Context, settled
from tideover.answers.exposure import ROOMS, Charged, Emptied, Floated
from tideover.answers.keeping import Keeping, cells_in_series, keeping
from tideover.answers.packs import charger_of
from tideover.answers.windows import Window, window, worst_share
from tideover.laws.constants import TEMP_25
from tideover.network import Placed

SHOWN = 3
"""At most so many hold voltages are drawn over the years."""


@dataclass(frozen=True)
class Seen:
    """Everything that is known of one pack's cells.

    Attributes
    ----------
    reach : float
        Highest voltage that the charger's input leaves it. [V]
    share : (float, str)
        Current of the hardest worked cell over the mean of its group, and why.
    peak : (float, str)
        Largest current of a mean cell on the pack [A], and in which state.
    left_on : float
        Lowest voltage of a group where the load is left on after a run; NaN where a board watches the pack. [V]
    """

    pack: Placed
    charger: Placed | None
    reach: float
    window: Window
    share: tuple[float, str]
    charged: Charged | None
    floated: Floated
    emptied: Emptied
    peak: tuple[float, str]
    kept: Keeping
    left_on: float = float("nan")


def answer(context: Context) -> Answer:
    """Cells against their limits and against years; see the top of this file."""
    every = look(context)
    if not every:
        return Answer("cells", OPEN, "There is no pack in the drawing, so there are no cells to judge.")
    return told(context, every)


def told(context: Context, every: Sequence[Seen]) -> Answer:
    """The answer, from what is known of every pack."""
    findings: list[Finding] = []
    tables: list[Table] = []
    series: list[Series] = []
    said: list[str] = []
    for seen in every:
        as_built = strips.assessed(context, seen)
        own = say.findings(context, seen)
        own += strips.findings(context, seen, as_built) if as_built else []
        findings += own
        tables += [tables_of.limits(own), tables_of.groups(seen), *built.table(seen)]
        tables += [strips.table(as_built)] if as_built else []
        tables += [*tables_of.years(seen), tables_of.holds(context, seen)]
        series += _series(seen)
        said.append((f"{seen.pack.name}: " if len(every) > 1 else "") + say.headline(context, seen))
    done = settled(findings)
    return Answer(
        "cells", worst(f.status for f in done), " ".join(said), done, tuple(t for t in tables if t.rows), tuple(series)
    )


def look(context: Context) -> tuple[Seen, ...]:
    """Every pack of a build, charged, floated, emptied and aged."""
    network = context.network
    packs = states.of_kind(network, "pack")
    if not packs:
        return ()
    floated = exposure.floats(context, packs)
    runs = exposure.discharges(context)
    fed = states.of_kind(network, "charger") and states.of_kind(network, "adapter")
    left_on = exposure.left_on(context, packs)
    refills = exposure.recharges(context, packs) if fed else None
    out = []
    for pack in packs:
        limits, charger = window(network, pack), _charger(context, pack, packs)
        reach = exposure.headroom(context, charger) if charger else float("inf")
        highest = min(limits.highest / limits.cells, reach / cells_in_series(network, pack))
        seen = Seen(
            pack,
            charger,
            reach,
            limits,
            worst_share(network, pack),
            exposure.charged(refills, pack, charger) if refills and charger else None,
            floated[pack.name],
            exposure.emptied(runs, pack, limits),
            exposure.peak_current(context, pack),
            _kept(context, pack, charger, highest, floated[pack.name]),
            left_on.get(pack.name, float("nan")),
        )
        out.append(seen)
    return tuple(out)


def _charger(context: Context, pack: Placed, packs: tuple[Placed, ...]) -> Placed | None:
    """The charger that feeds a pack; none where the only ones there are stand at other packs."""
    charger = charger_of(context.network, pack)
    if charger is None:
        return None
    others = {p.nodes[p.kind.terminals.index("plus")] for p in packs if p is not pack}
    own = pack.nodes[pack.kind.terminals.index("plus")]
    output = charger.nodes[charger.kind.terminals.index("output")]
    return None if output in others and output != own else charger


def _kept(context: Context, pack: Placed, charger: Placed | None, highest: float, floated: Floated) -> Keeping:
    """Hold voltages, temperatures and ages of one pack; the temperatures are those it floats at."""
    low, high = context.network.need.ambient
    rooms = np.array([low, TEMP_25, high])
    found = np.isfinite(floated.temp)
    temps = np.append(np.where(found, floated.temp, rooms), TEMP_25)
    names = tuple(f"full in the {room}" if f else f"as the {room}" for room, f in zip(ROOMS, found))
    return keeping(context.network, pack, charger, temps, (*names, "cells at 25 °C"), exposure.USUAL, highest)


def _series(seen: Seen) -> list[Series]:
    """Hours over years at the highest, the build's own and the lowest hold voltage; group voltages of a recharge."""
    kept = seen.kept
    rows = sorted({0, kept.own, len(kept.volts) - 1})[:SHOWN]
    out = [
        Series(
            f"{seen.pack.name} held at {kept.volts[v]:.2f} V a cell{', as built' if v == kept.own else ''}",
            "years of service",
            "",
            "s",
            tuple(kept.years.tolist()),
            tuple(kept.hours[v].tolist()),
        )
        for v in rows
        if kept.law is not None
    ]
    if seen.charged and seen.charged.curve:
        t, weak, mean = seen.charged.curve
        for name, y in (("weak group", weak), ("mean group", mean)):
            out.append(
                Series(f"{seen.pack.name}, {name}, recharge", "time", "s", "V", tuple(t.tolist()), tuple(y.tolist()))
            )
    return out
