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
BACK_FEED = Rule(0.010, "A", "into an adapter without mains: above an ordinary output's own bleed", TYPICAL)
"""Rules of the standing answers."""

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
LOSSES_TIGHT = Rule(0.2, "1/year", "faults that put out the load: more than one in five years")
"""Rules of the faults answer."""
