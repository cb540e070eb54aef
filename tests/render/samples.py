"""Answers made up for the tests of what shows them; none of their numbers was computed."""

from __future__ import annotations

import math

from tideover.answers.base import Answer, Finding, Series, Table

NAN = float("nan")
TITLE = "Choir loft lamp"

STANDING = Answer(
    "standing",
    "holds",
    "The load reads 12.02 V on mains and 11.98 V on the pack; it needs 11.4 V to 12.6 V.",
    (
        Finding(
            "load outside its window",
            "holds",
            "load",
            state="on pack, near cut-off",
            quantity="voltage at the load",
            value=11.981,
            unit="V",
            limit=11.4,
            margin=0.581,
            case="nominal",
            source="need.window",
            place="build.yaml:5:11",
        ),
        Finding(
            "box too warm",
            "holds",
            "box",
            quantity="air in the box",
            value=308.15,
            unit="K",
            limit=333.15,
            margin=25.0,
        ),
    ),
    (
        Table(
            "Volts at every point",
            (("node", ""), ("mains, charging", "V"), ("on pack, full", "V"), ("on pack, half", "V"), ("cut-off", "V")),
            (
                ("inlet", 18.71, 0.0021, NAN, None),
                ("bus", 18.66, 12.31, 11.05, 9.02),
                ("load", 12.0203, 11.9951, 11.98, 11.981),
            ),
        ),
    ),
)
OUTAGE = Answer(
    "outage",
    "fails",
    "No, at the peak load: it dips to 9.5 V for 6.1 ms, and forgives 10.8 V for 5 ms.",
    (
        Finding(
            "the load drops out while mains is lost",
            "fails",
            "load",
            state="4.8 ms after mains is lost",
            quantity="voltage at the load",
            value=9.5,
            unit="V",
            limit=10.8,
            margin=-1.3,
            case="the slowest changeover (10 ms), the hold-up capacitor at -20 %, 2.0 A load",
            why="the hold-up capacitor is empty before the contact touches",
            mend="It would hold with 21 mF nominal, or a changeover of 4.8 ms.",
            source="need.dips",
            place="build.yaml:7:10",
        ),
        Finding(
            "mains returns unseen",
            "tight",
            "relay",
            state="1.5 s after mains is back",
            quantity="time outside the window",
            value=0.0042,
            unit="s",
            limit=0.005,
            margin=0.0008,
        ),
        Finding(
            "load reboots",
            "open",
            "lamp",
            why="the lamp does not say below which voltage it resets",
            mend="Write: resets below: 9 V",
        ),
    ),
    (
        Table(
            "What dominates",
            (("cause", ""), ("share", "%"), ("how it comes about and what would change it", "")),
            (
                ("contact travel", 0.71, "break before make: nothing feeds the bus while the armature is on its way"),
                ("capacitor at its lower limit", 0.22, "20 % less charge"),
                ("droop", 0.07, "the converter's own control"),
            ),
        ),
    ),
    (
        Series(
            "load",
            "time after mains is lost",
            "s",
            "V",
            tuple(k * 1e-3 for k in range(-20, 61)),
            tuple(12.0 if k < 0 else 12.0 - 2.5 * math.sin(min(k, 20) * math.pi / 20) for k in range(-20, 61)),
        ),
        Series("lowest allowed", "time after mains is lost", "s", "V", (-0.02, 0.06), (11.4, 11.4)),
    ),
    ("A capacitor of this size stays charged: bleed it first.",),
)
ENDURANCE = Answer(
    "endurance",
    "open",
    "Could not be judged: no standing point on the pack.",
)
TIGHT = Answer("budget", "tight", "The adapter carries both with 40 mA to spare.")
ANSWERS = (STANDING, TIGHT, OUTAGE, ENDURANCE)
CAUTIONS = ("Mains only through a certified adapter.", "Numbers here are estimates.")
