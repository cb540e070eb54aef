"""Charts: round ticks inside, curves true after thinning, small, whatever the values."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from draw.figures_of import SVG, check
from tideover.answers.base import Series
from tideover.draw import axis
from tideover.draw.chart import Band, Mark, across, chart, upright
from tideover.draw.look import PHONE, WIDE
from tideover.draw.thin import thinned
from tideover.quantity import show

VALUES = st.one_of(
    st.floats(-1e9, 1e9), st.floats(1e-12, 1e9), st.sampled_from([0.0, 1e-12, 1e9, -1e9, 298.15, math.nan, math.inf])
)
UNITS = st.sampled_from(["V", "A", "s", "K", "J", "C", "W", "%", ""])


def series(x, y, name="load", unit="V", x_unit="s", log=False) -> Series:
    return Series(name, "time", x_unit, unit, tuple(x), tuple(y), log)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(VALUES, VALUES), max_size=12), UNITS, UNITS, st.booleans(), st.sampled_from([WIDE, PHONE]))
def test_any_curve_is_drawn_with_its_words_inside_and_apart(points, x_unit, unit, log, width):
    points = sorted(points, key=lambda p: (math.isnan(p[0]), p[0]))
    one = series([x for x, _ in points], [y for _, y in points], unit=unit, x_unit=x_unit, log=log)
    check(chart([one, series((0.0, 1.0), (1.0, 1.0), "other", unit, x_unit, log)], title="t", width=width))


@settings(max_examples=300, deadline=None)
@given(st.floats(-1e9, 1e9), st.floats(1e-9, 1e9), UNITS, st.integers(3, 9))
def test_ticks_are_round_few_and_inside(low, wide, unit, most):
    low, high = axis.span([low, low + wide])
    ticks = axis.ticks(low, high, unit, most)
    assert 2 <= len(ticks) <= most and low <= ticks[0] and ticks[-1] <= high
    names = axis.labels(ticks, unit)
    assert len(set(names)) == len(names) or unit == "s", "a clock has no finer words than seconds"
    assert len(set(axis.marked(low, high, unit, most)[1])) == len(axis.marked(low, high, unit, most)[0])


@pytest.mark.parametrize(("low", "high", "unit", "said"), [
    (0.0, 12.0, "V", ["0 V", "5 V", "10 V"]),
    (0.0, 8.0 * 3600.0, "s", ["0 s", "2 h", "4 h", "6 h", "8 h"]),
    (299.0, 331.0, "K", ["30 °C", "40 °C", "50 °C"]),
    (0.0, 360000.0, "J", ["0 J", "50 Wh", "100 Wh"]),
    (0.0, 0.95, "%", ["0 %", "20 %", "40 %", "60 %", "80 %"]),
    (11.96, 12.06, "V", ["12 V", "12.05 V"]),
])  # fmt: skip
def test_ticks_are_round_in_the_unit_that_people_read(low, high, unit, said):
    assert axis.labels(axis.ticks(low, high, unit, 5 if unit != "J" and "12.05" not in said[-1] else 3), unit) == said


@pytest.mark.parametrize("y", [(3.0,), (3.0, 3.0), (0.0, 0.0), (-1e-12, 1e9), (math.nan, 2.0)])
def test_flat_single_and_wide_curves(y):
    root = check(chart([series(range(len(y)), y)], title="t"))
    assert list(root.iter(f"{SVG}path")) or list(root.iter(f"{SVG}circle"))


@pytest.mark.parametrize("y", [(), (math.nan, math.inf)])
def test_nothing_to_draw_is_said(y):
    assert "Nothing to draw" in chart([series(range(len(y)), y)], title="t")


@pytest.mark.parametrize("count", [1, 8])
def test_a_hundred_thousand_points_stay_small_and_keep_their_extremes(count):
    t = [k * 1e-5 for k in range(100_000)]
    y = [math.sin(k * 0.9) for k in range(100_000)]
    y[54_321] = 7.0
    markup = chart([series(t, y, f"curve {k}") for k in range(count)], title="t")
    assert len(markup) < 30_000
    root = check(markup)
    heights = [float(v) for p in root.iter(f"{SVG}path") for v in re.findall(r" ([\d.]+)", p.get("d"))]
    assert len({h for h in heights if h == min(heights)}) == 1 and min(heights) < sorted(set(heights))[1] - 20.0


@settings(max_examples=100, deadline=None)
@given(st.lists(st.floats(-100.0, 100.0), min_size=1, max_size=400), st.integers(2, 50))
def test_thinning_keeps_ends_and_extremes(ys, columns):
    points = [(float(k), y) for k, y in enumerate(ys)]
    kept = thinned(points, columns)
    assert kept[0] == points[0] and kept[-1] == points[-1] and set(kept) <= set(points)
    assert min(y for _, y in kept) <= min(ys) + 0.13 and max(y for _, y in kept) >= max(ys) - 0.13
    assert len(kept) <= 4 * (columns + 1)


def test_gaps_stay_gaps():
    root = check(chart([series(range(5), (1.0, 2.0, math.nan, 2.0, 1.0))], title="t"))
    (path,) = root.iter(f"{SVG}path")
    assert path.get("d").count("M") == 2


def test_bands_limits_and_instants_stand_where_they_belong():
    one = series((0.0, 1.0), (12.0, 10.0))
    bands = [Band("window", 11.4, 12.6), Band("never", None, 9.0, look="harm")]
    root = check(chart([one], title="t", bands=bands, lines=[Mark("mains lost", x=0.5), Mark("limit", y=9.5)]))
    rects = {r.get("class"): r for r in root.iter(f"{SVG}rect")}
    assert set(rects) == {"fig-safe", "fig-harm"}
    assert float(rects["fig-safe"].get("y")) < float(rects["fig-harm"].get("y"))
    about = root.find(f"{SVG}desc").text
    assert "window: from 11.4 V to 12.6 V" in about and "mains lost: 500 ms" in about and "limit: 9.5 V" in about


def test_higher_values_stand_higher_and_decades_are_even():
    y = upright(1e-3, 1e3, "s", True, 0.0, 120.0, 12.0)
    assert y.at(1e3) < y.at(1e-3) and y.at(1.0) == pytest.approx((y.at(1e3) + y.at(1e-3)) / 2.0)
    x = across(0.0, 10.0, "s", False, (0.0, 100.0), 12.0)
    assert x.at(2.5) == pytest.approx(25.0) and x.at(99.0) == 100.0


def test_names_at_the_ends_only_where_the_curves_reach_them():
    t = tuple(float(k) for k in range(11))
    near, early = series(t, t, "a"), series(t[:3], t[:3], "b")
    assert "fig-lead" in chart([near, series(t, t[::-1], "b")], title="t")
    assert "fig-lead" not in chart([near, early], title="t")
    assert "fig-lead" not in chart([near, series(t, t[::-1], "b")], title="t", width=PHONE)


def test_a_curve_is_told_in_numbers():
    about = check(chart([series((0.0, 2.0, 4.0), (12.0, 9.5, 11.0))], title="t")).find(f"{SVG}desc").text
    assert about == f"load: 12 V at 0 s, 11 V at 4 s, between 9.5 V and {show(12.0, 'V')}."
