"""What a cell is judged by: every limit once, with its reason and where it comes from.

All of them are the practice of people who sort used cells. A maker's data sheet prevails.
"""

from __future__ import annotations

from dataclasses import dataclass

from tideover.laws.chemistry import CHEMISTRY

GOOD, QUARANTINE, REJECTED, OPEN = "good", "quarantine", "rejected", "open"
WORSE = (GOOD, OPEN, QUARANTINE, REJECTED)
"""Ascending; the worst judgement is the cell's verdict."""
TYPICAL = "typical, unverified"
JUDGEMENT = "engineering judgement"
WEEK = 7 * 86400.0
DAY = 86400.0


@dataclass(frozen=True)
class Rule:
    """A figure in SI, its unit, why it is that, and where it comes from."""

    value: float
    unit: str
    reason: str
    source: str = TYPICAL


def why(rule: Rule) -> str:
    """Reason and source of a rule in words."""
    return f"{rule.reason} ({rule.source})"


@dataclass(frozen=True)
class Judgement:
    """One quantity of one cell against its rule.

    Attributes
    ----------
    of : str
        ``by hand``, ``arrival``, ``heating``, ``capacity``, ``resistance`` or ``self-discharge``.
    status : str
        ``good``, ``open``, ``quarantine`` or ``rejected``.
    said : str
        In words, with the numbers.
    value, limit : float or None
        In SI. For self-discharge, the fall of the voltage in the time watched.
    unit : str
        Of both.
    rule : str
        Why the limit is that, and where it comes from.
    missing : str
        What is to be done so that an open one can be judged; the same words for all cells that lack the same.
    """

    of: str
    status: str
    said: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    rule: str = ""
    missing: str = ""


CAPACITY_LEAST = Rule(0.60, "", "60 % of the nameplate, below which a cell is past its knee and fades fast")
CAPACITY_PREFERRED = Rule(0.75, "", "share of the nameplate below which a cell is usable, but not sought; 0.75 to 0.80")
CAPACITY_MOST = Rule(1.10, "", "share of the nameplate that no cell has: a slip, or another cell", JUDGEMENT)
RESISTANCE_TIMES = Rule(2.0, "", "twice the resistance when new: a cell that is worn, or damaged inside")
OUTLIER_MADS = Rule(5.0, "", "five median deviations (3.4 standard ones) from the median: no member of its cohort")
RESISTANCE_COHORT = Rule(
    2.0, "", "twice the median of its cohort, or five median deviations: one of them is a doubt, both are a finding"
)
RESISTANCE_FACTOR = Rule(1.5, "", "times the cohort's median: below it no resistance is odd, however alike the others")
CAPACITY_FACTOR = Rule(0.15, "", "share of the cohort's median: within it no capacity is odd", JUDGEMENT)
HEATING_MOST = Rule(10.0, "ΔK", "warmer than its neighbours while charged at a fifth of its capacity an hour")
COHORT_LEAST = Rule(6.0, "", "cells from which on a median means anything", JUDGEMENT)
RELAXING = Rule(1.0 * DAY, "s", "after charge a voltage falls for hours by 5 to 25 mV without any loss of charge")
WATCHED = Rule(14.0 * DAY, "s", "shortest time between readings from which a loss is judged; 14 to 28 days")
WATCHED_LONGEST = Rule(28.0 * DAY, "s", "longer ones are judged by what is lost in this time")
EARLY = Rule(0.5 * DAY, "s", "by which the last reading may come early", JUDGEMENT)
DROP_MOST = Rule(0.010, "V", "more than the median of the cohort in 14 to 28 days, or five median deviations")
WEEKLY_MOST = Rule(0.005 / WEEK, "V/s", "more than the median of the cohort: 5 mV a week, to be watched apart")
READING = Rule(0.0011, "V", "standard uncertainty: a hand-held meter's 0.7 mV, and 2 K at 0.4 mV/K", JUDGEMENT)
RECHARGED = Rule(0.015, "V", "rise from one reading to the next that only a charge in between explains", JUDGEMENT)
ROSE = Rule(0.004, "V", "rise over the whole rest that no warming by 2 K and no reading explains", JUDGEMENT)
TELLING = Rule(0.06, "", "share of the charge that 10 mV may stand for: on a flatter curve the voltage tells nothing")
HEALTHY = Rule(0.02, "", "share lost in a month by a sound lithium cell, 0.01 to 0.03")

ARRIVAL_LEAST: dict[str, Rule] = {
    **dict.fromkeys(
        ("NMC", "NCA", "LCO", "LFP", ""),
        Rule(2.0, "V", "on arrival: below it copper may have dissolved; not to be revived, but recycled"),
    ),
    "LTO": Rule(CHEMISTRY["LTO"].discharge_abs, "V", "on arrival: below its lowest voltage the cell is harmed"),
    "PbA": Rule(CHEMISTRY["PbA"].discharge_abs, "V", "on arrival, for each cell of a block: it is sulphated below"),
}
"""By chemistry; an empty word where none is stated. A sorting rule on the safe side, no threshold of physics."""
