"""Where a pass becomes tight, and the rules of thumb that are judged against: each figure once, with its reason.

None of them decides safety; every one is engineering judgement unless a source is named.
"""

from __future__ import annotations

from dataclasses import dataclass

TYPICAL = "typical, unverified"
JUDGEMENT = "engineering judgement"


@dataclass(frozen=True)
class Rule:
    """A figure, its unit, why it is that, and where it comes from."""

    value: float
    unit: str
    reason: str
    source: str = JUDGEMENT


WINDOW_TIGHT = Rule(
    0.05, "", "share of the window's width: what a hand-held meter and a warm room take away from a margin"
)
COLLAPSE_TIGHT = Rule(
    1.5, "", "load that can be fed over load: below it, cells aged as below and a cold room may end it", TYPICAL
)
AGED = Rule(1.5, "", "growth of a pack's resistance towards the end of its life; 1.5 to 2 is usual", TYPICAL)
RUN_SHARE = Rule(
    0.03, "", "share of a source's voltage that wiring may take: the usual budget of low-voltage wiring", TYPICAL
)
BUDGET_SHARE = Rule(0.5, "", "share of a drop budget that one part may take: what is left must do for all the others")
CONTACT_TIGHT = Rule(
    0.020, "V", "drop of one contact: 7 K at its hot spot, and the usual sign of a contact that ages", TYPICAL
)
CONTACT_FAILS = Rule(0.050, "V", "drop of one contact: 40 K at its hot spot, near where tin softens", TYPICAL)
RATED_TIGHT = Rule(0.9, "", "share of the rated current that an adapter should be planned for", TYPICAL)
OVERLOAD_TIGHT = Rule(0.9, "", "share of the current limit, whose own scatter is in the corners already")
CHARGE_SHORT = Rule(0.95, "", "share of its set current below which a charger counts as held back by something else")
DRAIN_TIGHT = Rule(365.25 * 86400.0, "s", "a pack that empties within a year while mains is present")
DRAIN_FAILS = Rule(30 * 86400.0, "s", "a pack that empties within a month while mains is present")
SHARED = Rule(
    0.10, "", "share of the load that the pack may carry while mains is present before it counts as feeding it"
)
LIVE_PLUG = Rule(1.0, "V", "on the pins of a pulled plug: enough to spark or to corrode them when touched together")
TOUCH = Rule(60.0, "V", "direct voltage that is safe to touch", "IEC 62368-1, energy source class 1")
FULL_AGAIN = Rule(0.99, "", "share of a full charge at which a pack counts as full where its charger never ends")
RECHARGE_TIGHT = Rule(0.1, "", "share of the time asked for a recharge: the scatter of cells and chargers of one lot")
NEXT_TOO_SOON = Rule(
    0.25, "", "share of the outages that find a pack not yet full, had the one before emptied it: one in four is usual"
)
RECHARGE_USUAL = Rule(12 * 3600.0, "s", "full again within half a day after one median outage: by the evening")
MEDIAN_OUTAGE = Rule(
    52 * 60.0, "s", "median of a log-normal outage with a mean of two hours and a spread of 1.3", TYPICAL
)
CYCLES_TIGHT = Rule(
    100.0, "1/year", "full discharges a year while nothing fails: five years of 500 cycles spent on standby", TYPICAL
)
RESTART_SOON = Rule(3600.0, "s", "a charger that starts again within the hour never rests, nor do its cells")
BACK_FEED = Rule(0.010, "A", "into an adapter without mains: above an ordinary output's own bleed", TYPICAL)
YIELD = Rule(0.95, "", "share of builds that must hold as built: of twenty replicas one may need rework")
"""Rules of the standing answers."""

STARTS = Rule(1000.0, "", "starts that a fuse should outlive: one a day for three years")
TRIP_TIGHT = Rule(0.7, "", "share of a trip's delay that a rush may last: such delays scatter by a third", TYPICAL)
CONTACT_RUSH = Rule(
    3.0, "", "rush into a capacitor over the rating of the contact that makes it; beyond it, contacts weld", TYPICAL
)
"""Rules of the start."""

KNEE = Rule(0.7, "", "capacity left below which cells may fail fast and no ageing law holds", TYPICAL)
END_OF_LIFE = Rule(0.8, "", "capacity left at which a cell counts as worn", "convention of the trade")
GROWN = Rule(
    1.5, "", "resistance of a worn cell over a new one's, in step with the loss, where no law says it", TYPICAL
)
FLOAT_LIFE = Rule(4.0 * 365.25 * 86400.0, "s", "design life of a sealed lead-acid block on float at 25 °C", TYPICAL)
SCATTER = Rule(
    2.0,
    "",
    "factor between the loss of the published cell and of another: twice the scatter of 0.35 (standard deviation of "
    "the logarithm)",
)
CELL_VOLTS_TIGHT = Rule(0.010, "V", "a cell's voltage this near its limit: what a hand-held meter can tell apart")
USE_TIGHT = Rule(0.05, "V", "a cell this far under the voltage planned for: the last minute of a run")
BOARD_ABOVE = Rule(
    0.10, "V", "a board's over-charge threshold, spread included, over the cells' absolute limit: boards are the last "
    "resort, and those for 4.2 V cells act at 4.25 V to 4.33 V", TYPICAL,
)  # fmt: skip
BOARD_BELOW = Rule(
    0.15, "V", "a board's cut-off, spread included, under what cells bear: boards are the last resort, and those for "
    "4.2 V cells act at 2.4 V to 2.6 V", TYPICAL,
)  # fmt: skip
CELL_TEMP_TIGHT = Rule(3.0, "K", "a cell's temperature this near its limit: one cell differs from its neighbours")
COLD_CHARGE = Rule(283.15, "K", "below it lithium cells are charged gently (charging schemes by temperature)", TYPICAL)
COLD_RATE = Rule(0.2 / 3600.0, "1/s", "charge current over capacity below 10 °C: a fifth of it an hour", TYPICAL)
UNRATED_CHARGE = Rule(0.5 / 3600.0, "1/s", "charge current over capacity where the maker states none", TYPICAL)
UNRATED_DISCHARGE = Rule(1.0 / 3600.0, "1/s", "discharge current over capacity where the maker states none", TYPICAL)
GROUPS_UNEVEN = Rule(0.03, "", "capacity of a group within 2 to 3 % of the others: practice with used cells", TYPICAL)
GROUPS_RESIST = Rule(0.10, "", "resistance of a group within 10 % of the others: practice with used cells", TYPICAL)
BESIDE_UNEVEN = Rule(
    0.15, "", "resistance of cells side by side within 15 % of each other: practice with used cells", TYPICAL
)
"""Rules of the cells."""

LOSSES_FAIL = Rule(
    1.0,
    "",
    "losses of the load a year, where the need allows no other number: as many as a good mains supply has by itself",
)
LOSSES_TIGHT = Rule(1.0, "", "losses expected over all the years asked for, where the need allows no other number")
LOSSES_SHARE = Rule(
    0.5, "", "share of the losses allowed that may be expected: one place has twice the outages of another", TYPICAL
)
REFILL_SHARE = Rule(0.25, "", "share of the losses that a pack always full would have carried")
FILLED_LEAST = Rule(0.05, "", "share of its charge that a pack must take up from empty to count as being filled")
"""Rules of the answer on a year of outages."""

LOAD_SPARE = Rule(
    0.10, "", "share above its window at which a load counts as destroyed where its highest voltage is not stated"
)
REVERSED = Rule(0.5, "V", "reverse voltage that a load bears: about a diode drop", TYPICAL)
OVERCHARGED = Rule(
    0.10, "V", "above the limit of a cell's chemistry: boards act up to there, past it a pack is scrap", TYPICAL
)
OVERCHARGE_FIRE = Rule(
    0.25, "V", "above the limit of a lithium cell's chemistry: venting and fire are to be expected", TYPICAL
)
CELL_RUNS_AWAY = Rule(353.15, "K", "80 °C: lithium cells begin to heat themselves at 80 to 130 °C", TYPICAL)
PART_BURNS = Rule(473.15, "K", "200 °C: solder has melted, insulation chars and glows", TYPICAL)
DEEP = Rule(
    0.8, "", "share of a chemistry's lowest voltage: a cell that was lower is not to be charged again", TYPICAL
)
RUNTIME_LOST = Rule(0.10, "", "share of the runtime that may go before it counts as degraded")
CHARGE_LOST = Rule(0.05, "", "share of the usual charge current below which a pack counts as not charged")
CHARGES = Rule(0.005, "A", "below this the faultless pack is not being charged either")
DRAIN_LOST = Rule(0.5, "", "share of the usual time to empty that a fault must take away to count")
AT_ONCE = Rule(60.0, "s", "a run that ends sooner than this is no backup")
LONG_RUN = Rule(7 * 86400.0, "s", "a pack drained more slowly than this while mains is present is found in time")
NOTICED = Rule(0.02, "", "share by which a reading must differ from the usual one to be noticed on a hand-held meter")
NOTICED_LEAST = Rule(0.1, "V", "difference below which nobody looks twice")
INSPECTION = Rule(0.5 * 365.25 * 86400.0, "s", "between tests under load: twice a year")
HIDDEN_TIGHT = Rule(0.01, "", "chance that a hidden fault has already taken the backup when mains fails")
LIKELY = Rule(1e-2, "1/year", "a fault so likely that one build in a hundred has it every year")
POSSIBLE = Rule(1e-4, "1/year", "one build in ten thousand every year")
RARE = Rule(1e-6, "1/year", "below this a fault is remote: one build in a million every year")
FAULTS_TIGHT = Rule(0.2, "1/year", "faults that put out the load: more than one in five years")
"""Rules of the faults answer."""
