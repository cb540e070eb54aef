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
YIELD = Rule(0.95, "", "share of builds that must hold as built: of twenty replicas one may need rework")
"""Rules of the standing answers."""
