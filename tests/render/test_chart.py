"""Charts in characters; the expected ones stand in charts.txt beside this file."""

from __future__ import annotations

import math
from pathlib import Path

import golden
import pytest

from render.samples import OUTAGE
from tideover.answers.base import Series
from tideover.render.chart import SIGNS, chart, charts
from tideover.render.page import Page

GOLDEN = Path(__file__).with_name("charts.txt")
UTF8 = Page()


def curve(x, y, name="load", unit="V"):
    return Series(name, "time", "s", unit, tuple(x), tuple(y))


DECADES = [
    Series("opens", "current", "A", "s", (1.0, 10.0, 100.0), (1e3, 10.0, 0.1), log=True),
    Series("steady", "current", "A", "s", (0.0, 3.0, 3.0), (1.0, 1e-3, 1e3), log=True),
]


def test_charts_as_drawn():
    wave = [k / 100 for k in range(101)]
    golden.check(
        GOLDEN,
        {
            "a dip": "\n".join(charts(UTF8, OUTAGE.series)),
            "a dip in ASCII": "\n".join(charts(Page(encoding="ascii"), OUTAGE.series)),
            "a sine": "\n".join(chart(UTF8, [curve(wave, [5 * math.sin(6.28 * x) for x in wave])], 9)),
            "two units": "\n".join(charts(UTF8, [curve((0, 1), (0, 1)), curve((0, 1), (1, 0), "pack", "A")], 5)),
            "decades": "\n".join(charts(UTF8, DECADES)),
            "a flat line": "\n".join(chart(UTF8, [curve((0, 3600 * 8), (12.0, 12.0))], 5)),
        },
    )


@pytest.mark.parametrize(
    ("x", "y"),
    [((), ()), ((1.0,), (math.nan,)), ((math.inf,), (1.0,))],
)
def test_nothing_to_draw_is_said(x, y):
    assert chart(UTF8, [curve(x, y)]) == ["  • load: nothing to draw"]


def test_in_decades_a_power_law_is_a_straight_line():
    """t = 1000 / I^2: as many rows down as columns right, in proportion; what is not above zero is left out."""
    drawn = chart(UTF8, DECADES[:1], 13)
    places = [(line.index("•"), k) for k, line in enumerate(drawn[:13]) if "•" in line]
    (x0, y0), (x1, y1) = places[0], places[-1]
    for x, y in places:
        assert abs((y - y0) - (x - x0) * (y1 - y0) / (x1 - x0)) <= 1.5
    assert "nothing to draw" in chart(UTF8, [Series("none", "current", "A", "s", (0.0,), (1.0,), log=True)])[0]


@pytest.mark.parametrize("value", [0.0, 1e-9, -4.2, 1e6, 300.0])
def test_a_single_point_is_drawn(value):
    drawn = chart(UTF8, [curve((2.0,), (value,))])
    assert sum(line.count("•") for line in drawn) == 2  # the point and the legend


def test_the_shortest_dip_is_seen():
    """A spike of one point among 100 000 reaches the bottom of the chart."""
    y = [12.0] * 100_000
    y[50_000] = 2.0
    drawn = chart(UTF8, [curve(range(100_000), y)])
    column = drawn[0].index("•") if "•" in drawn[0] else None
    assert column is None or sum("•" in line for line in drawn[:12]) >= 8


@pytest.mark.parametrize("width", [40, 60, 80])
def test_charts_fit_the_page(width):
    many = [curve((0, 1e-9, 5e4), (k, -k, k * 1e6), f"node with a rather long name {k}") for k in range(9)]
    lines = charts(Page(width=width), many)
    assert max(map(len, lines)) <= width
    assert sum("rather" in line for line in lines) == 9


def test_signs_differ_in_ascii_too():
    page = Page(encoding="ascii")
    assert len({page.plain(s) for s in SIGNS}) == len(SIGNS)
