"""Answers made by hand for the figures, and what their markup is held against."""

from __future__ import annotations

import math
import re
from itertools import combinations
from xml.etree import ElementTree

from tideover.answers.base import FAILS, HOLDS, QUESTIONS, TIGHT, Answer, Finding, Series, Spread, Table
from tideover.draw.svg import breadth

SVG = "{http://www.w3.org/2000/svg}"
SIZE = 4.0
"""Words may touch by so much of their reckoned breadth, which is rounded up. [px]"""


def finding(value=10.9, limit=11.4, status=FAILS, **more) -> Finding:
    told = {"name": "load drops out", "subject": "load", "state": "on pack", "quantity": "voltage at the load"}
    told |= {"value": value, "limit": limit, "margin": None if value is None else value - limit, "unit": "V"} | more
    return Finding(status=status, **told)


def _wave(name: str, dip: float) -> Series:
    t = [k * 0.001 for k in range(101)]
    return Series(
        name, "time", "s", "V", tuple(t), tuple(12.0 - dip * math.exp(-(((x - 0.04) / 0.01) ** 2)) for x in t)
    )


def answers() -> dict[str, Answer]:
    """One for each question, small and of a choir loft's supply."""
    tables = {
        "standing": (
            Table(
                "Voltage at (load) and what the spreads do to it",
                (("state", ""), ("mean load", "V"), ("peak load", "V"), ("lowest", "V"), ("highest", "V")),
                (("mains, full", 12.05, 12.0, 11.9, 12.2), ("on pack, half", 11.6, 11.5, 11.3, 11.9)),
            ),
            Table("Window of the load", (("from", "V"), ("to", "V")), ((11.4, 12.6),)),
        ),
        "drops": (
            Table(
                "From pack to lamp: on pack, as drawn",
                (("part", ""), ("way", ""), ("from", ""), ("to", ""), ("before it", "V"), ("drop", "V"), ("heat", "W")),
                (("fuse", "out", "a", "b", 12.0, 0.04, 0.1), ("converter", "out", "b", "c", 12.0, None, 1.0)),
            ),
            Table(
                "Watts: on pack, as drawn",
                (("part", ""), ("heat", "W"), ("share of what goes in", "")),
                (("fuse", 0.1, 0.01), ("converter", 1.0, 0.1), ("delivered to the load", 9.0, 0.89)),
            ),
        ),
        "sources": (
            Table(
                "Current out of each source with mains present",
                (("state", ""), ("adapter", "A"), ("pack", "A")),
                (("mains, charging", 1.2, -0.8), ("mains, full", 0.5, 0.00006)),
            ),
        ),
        "outage": (
            Table(
                "What the load bears",
                (("the load is", ""), ("limit", "V"), ("for at most", "s")),
                (("above its window", 12.6, 0.0), ("below its window", 11.4, 0.005), ("in a dip, below", 10.5, 0.0)),
            ),
            Table(
                "Events: pack full, peak load, mains back after 50 ms",
                (("after the loss", "s"), ("part", ""), ("what", ""), ("load", "V")),
                ((0.0, "mains", "is lost", 12.0), (0.05, "mains", "is back", 12.0)),
            ),
            Table(
                "What moves the margin most", (("figure", ""), ("change", "V")), (("hold-up -20 %", -0.3), ("x", None))
            ),
        ),
        "endurance": (
            Table(
                "How long it carries the load",
                (("case", ""), ("runtime", "s"), ("peaks hold until", "s")),
                (("new, 25 °C", 41000.0, 41000.0), ("aged, coldest room", 27000.0, 27000.0)),
            ),
            Table(
                "From the label to the load",
                (("step", ""), ("change", "J"), ("left", "J"), ("remark", "")),
                (
                    ("on the label", None, 388800.0, ""),
                    ("not charged", -39000.0, 349800.0, ""),
                    ("diodes", -500.0, 349300.0, ""),
                    ("standby", -300.0, 349000.0, ""),
                    ("delivered", None, 349000.0, ""),
                ),
            ),
            Table("What moves the runtime most", (("figure", ""), ("change", "s")), (("lamp power +10 %", -3700.0),)),
        ),
        "start": (
            Table("Events: pack run empty, mains back", (("after", "s"), ("part", "")), ((0.0, "adapter"),)),
            Table(
                "Starts tried",
                (("dead state, and what happens", ""), ("serves after", "s"), ("outcome", "")),
                (("pack run empty", 1.5, "comes back"), ("board tripped", None, "stays dead")),
            ),
        ),
        "standby": (
            Table(
                "What drains the pack",
                (("drain", ""), ("as stated", "A"), ("at the cells, switched off", "A"), ("at the cells, idle", "A")),
                (
                    ("converter", 0.012, 0.0, 0.012),
                    ("cells", None, 0.00027, 0.00027),
                    ("all together", None, 0.00027, 0.0123),
                ),
            ),
        ),
        "heat": (
            Table(
                "Temperatures in a room at 40 °C, as drawn",
                (("part", ""), ("limit", "K"), ("mains, full", "K"), ("worst corner", "K")),
                (
                    ("pack", 318.15, 317.0, 318.0),
                    ("charger", 398.15, 366.0, 370.0),
                    ("air in the box", None, 316.0, 317.0),
                ),
            ),
        ),
        "ratings": (
            Table(
                "How much of each rating is used",
                tuple(
                    (n, "%" if n == "of limit" else "")
                    for n in ("part", "reading", "worst", "rating", "of limit", "status", "where")
                ),
                (
                    ("fuse", "current", "5.85 A", "5 A", 1.17, "fails", "on pack"),
                    ("lead", "current", "2 A", "5 A", 0.4, "holds", ""),
                ),
            ),
        ),
        "tolerance": (
            Table(
                "At the tolerance limits: as written",
                tuple((n, "") for n in ("", "limit", "written", "corner", "RSS", "hold", "at least", " ")),
                (("runtime", "8 h", "11 h", "7 h", "7 h", "97 %", "96 %", "fails"),),
            ),
            Table(
                "What makes the scatter",
                (("", ""), ("figure", ""), ("share of its scatter", "")),
                (
                    ("runtime", "lamp power", "60 %"),
                    ("", "pack capacity", "30 %"),
                    ("", "all figures together", "90 %"),
                ),
            ),
        ),
        "faults": (
            Table(
                "Single faults",
                tuple((n, "") for n in ("severity", "fault", "what happens", "chance", "noticed by")),
                (
                    ("5 fire or burn", "pack is shorted", "it burns", "rare", "the damage"),
                    ("3 output or backup lost, hidden", "fuse opens", "no backup", "likely", "nothing"),
                    ("3 output or backup lost", "adapter dies", "pack carries it", "likely", "the light"),
                ),
            ),
        ),
        "year": (
            Table(
                "Losses of the load in a year",
                (("supply", ""), ("times a year", ""), ("95 % interval", "")),
                (("adapter alone", 4.07, "4.0 to 4.1"), ("this one, now", 0.03, "0.025 to 0.036")),
            ),
            Table(
                "A usual year, outage by outage, after 5 years",
                (("begins after", "s"), ("month", ""), ("lasts", "s"), ("charge then", "%"), ("load", "")),
                ((8.0e6, "4", 120.0, 0.9, "bridged"), (2.0e7, "8", 50000.0, 0.9, "lost")),
            ),
            Table("As it ages", (("age", ""), ("carries the load", "s")), (("new", 41000.0), ("5 years", 33000.0))),
        ),
    }
    curve = tuple(3600.0 * k for k in range(9))
    series = {
        "outage": (_wave("load, nominal", 0.9), _wave("load, worst corner", 1.2)),
        "endurance": (Series("pack, new", "time", "s", "V", curve, tuple(12.3 - 0.4 * k for k in range(9))),),
        "recharge": (
            Series("charge of pack", "time", "s", "", curve, tuple(k / 9.0 for k in range(9))),
            Series("charge current", "time", "s", "A", curve, (1.2,) * 7 + (0.5, 0.1)),
        ),
        "start": (Series("load", "time", "s", "V", (-0.02, 0.0, 1.5, 1.6, 2.5), (0.0, 0.0, 0.1, 12.0, 12.0)),),
        "heat": (Series("pack", "time", "s", "K", curve, tuple(313.15 + 0.5 * k for k in range(9))),),
        "ratings": (Series("fuse, earliest", "current", "A", "s", (5.6, 10.0, 100.0), (1e4, 0.5, 0.001), log=True),),
        "cells": (Series("held at 4.1 V", "years of service", "", "s", (0.0, 5.0, 10.0), (41000.0, 35000.0, 30000.0)),),
        "year": (Series("pack, a usual year", "time", "s", "%", (0.0, 2e7, 2.1e7, 31557600.0), (0.9, 0.9, 0.1, 0.9)),),
    }
    found = {
        "endurance": (
            finding(41000.0, 28800.0, HOLDS, quantity="runtime at mean load", unit="s", state="on pack, new, 25 °C"),
            finding(
                27000.0, 28800.0, FAILS, quantity="runtime at mean load", unit="s", state="on pack, aged, coldest room"
            ),
        ),
        "recharge": (finding(29000.0, 50400.0, HOLDS, quantity="time until full", unit="s", margin=21400.0),),
        "heat": (finding(318.0, 318.15, TIGHT, quantity="temperature", unit="K", subject="pack", margin=0.15),),
    }
    count = (1, 4, 20, 40, 25, 10)
    lie = Spread("runtime", "runtime at mean load", "s", tuple(27000.0 + 1800.0 * k for k in range(7)),
                 tuple(n / 100.0 for n in count), 28800.0, "low", 0.99, 0.96, 0.999, 100)  # fmt: skip
    return {
        key: Answer(
            key,
            FAILS,
            "",
            found.get(
                key,
                (
                    finding(subject=f"load of {key}"),
                    finding(0.5, 0.97, HOLDS, quantity="current over its limit", unit="", margin=0.47),
                ),
            ),
            tables.get(key, ()),
            series.get(key, ()),
            spreads=(lie,) if key == "tolerance" else (),
        )
        for key in QUESTIONS
    }


def read(markup: str) -> ElementTree.Element:
    """A figure as a tree, after what every figure keeps was checked."""
    assert not re.search(r"\b(nan|inf)\b", markup.lower().replace("info", "")), markup
    root = ElementTree.fromstring(markup)
    assert root.tag == f"{SVG}svg" and root.get("role") == "img"
    title, about = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None and title.text and about is not None and about.text
    assert root.get("aria-labelledby") == f"{title.get('id')} {about.get('id')}"
    return root


def boxes(root: ElementTree.Element) -> list[tuple[float, float, float, float, str]]:
    """Left, top, right, bottom and words of every text, by their reckoned breadth."""
    found = []

    def walk(node: ElementTree.Element, dx: float, dy: float) -> None:
        moved = re.match(r"translate\(([-\d.]+) ([-\d.]+)\)", node.get("transform") or "")
        if moved:
            dx, dy = dx + float(moved[1]), dy + float(moved[2])
        if node.tag == f"{SVG}text":
            size, said = float(node.get("font-size") or 0.0), "".join(node.itertext())
            wide = breadth(said, size)
            x = float(node.get("x") or 0.0) + dx
            x -= {"middle": wide / 2.0, "end": wide}.get(node.get("text-anchor") or "", 0.0)
            y = float(node.get("y") or 0.0) + dy
            found.append((x, y - 0.75 * size, x + wide, y + 0.2 * size, said))
        for child in node:
            walk(child, dx, dy)

    walk(root, 0.0, 0.0)
    return found


def check(markup: str) -> ElementTree.Element:
    """That all words stand inside the figure and none on another."""
    root = read(markup)
    width, height = float(root.get("width") or 0.0), float(root.get("height") or 0.0)
    found = boxes(root)
    for left, top, right, base, said in found:
        assert left >= -SIZE and right <= width + SIZE, f"{said!r} leaves the figure: {left} to {right} of {width}"
        assert top >= -2.0 and base <= height + 2.0, f"{said!r} leaves the figure: {top} to {base} of {height}"
    for one, other in combinations(found, 2):
        apart = (
            one[2] <= other[0] + SIZE
            or other[2] <= one[0] + SIZE
            or one[3] <= other[1] + 2.0
            or other[3] <= one[1] + 2.0
        )
        assert apart, f"{one[4]!r} stands on {other[4]!r}"
    return root
