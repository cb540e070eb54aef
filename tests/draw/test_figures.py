"""Figures of every answer: legible, safe, the same every time, and true to the numbers."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from golden import check as golden

from draw.figures_of import SVG, answers, check, finding
from tideover.answers.base import FAILS, HOLDS, OPEN, QUESTIONS, STATUSES, TIGHT, Answer
from tideover.draw.figure import apart, cut, mark
from tideover.draw.figures import FIGURES, figures
from tideover.draw.look import LOOK, PHONE, WIDE
from tideover.draw.margin import holds_below, margin_bar, margins, matching
from tideover.draw.ranked import Bar, ranked
from tideover.draw.svg import breadth
from tideover.draw.waterfall import Step, waterfall

ANSWERS = answers()
WIDTHS = (WIDE, PHONE)
HOSTILE = '<script>alert("x")</script>&\x00' + "x" * 300


def test_every_question_has_its_figures():
    assert set(FIGURES) == set(QUESTIONS) and all(FIGURES.values())


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("key", QUESTIONS)
def test_words_stand_inside_and_apart(key, width):
    drawn = figures(ANSWERS[key], None, width)
    assert drawn
    for markup in drawn:
        assert float(check(markup).get("width")) == width


@pytest.mark.parametrize("key", QUESTIONS)
def test_type_on_a_phone_is_large_enough_to_read(key):
    for markup in figures(ANSWERS[key], None, PHONE):
        assert all(float(t.get("font-size")) >= 12.0 for t in check(markup).iter(f"{SVG}text"))


@pytest.mark.parametrize("key", QUESTIONS)
def test_the_same_answer_gives_the_same_bytes(key):
    assert figures(ANSWERS[key]) == figures(answers()[key])


def test_figures_of_one_page_have_ids_of_their_own():
    ids = [i.get("id") for a in ANSWERS.values() for w in WIDTHS for m in figures(a, None, w) for i in check(m).iter()]
    known = [i for i in ids if i]
    assert len(known) == len(set(known))


def test_figures_in_words_word_for_word():
    said = {}
    for key, answer in ANSWERS.items():
        for k, markup in enumerate(figures(answer)):
            root = check(markup)
            said[f"{key} {k + 1}"] = f"{root.find(f'{SVG}title').text}\n{root.find(f'{SVG}desc').text}"
    golden(Path(__file__).with_name("figures.txt"), said)


def test_an_answer_without_data_has_no_figure():
    for key in QUESTIONS:
        assert figures(Answer(key, OPEN, "not answered")) == ()


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("key", QUESTIONS)
def test_names_from_the_file_cannot_become_markup(key, width):
    answer = ANSWERS[key]
    tables = tuple(
        replace(
            t,
            rows=tuple(tuple(HOSTILE if k == 0 and isinstance(v, str) else v for k, v in enumerate(r)) for r in t.rows),
        )
        for t in answer.tables
    )
    series = tuple(replace(s, name=HOSTILE) for s in answer.series)
    found = tuple(replace(f, subject=HOSTILE, state=HOSTILE) for f in answer.findings)
    for markup in figures(replace(answer, tables=tables, series=series, findings=found), None, width):
        assert not list(check(markup).iter(f"{SVG}script")) and "<script" not in markup


@pytest.mark.parametrize("key", QUESTIONS)
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1e308, None])
def test_numbers_that_are_none_leave_no_trace(key, value):
    answer = ANSWERS[key]
    tables = tuple(
        replace(t, rows=tuple(tuple(value if isinstance(v, float) else v for v in r) for r in t.rows))
        for t in answer.tables
    )
    bad = math.nan if value is None else value
    series = tuple(replace(s, y=(bad,) * len(s.y)) for s in answer.series)
    found = tuple(replace(f, value=value, margin=value) for f in answer.findings)
    for markup in figures(replace(answer, tables=tables, series=series, findings=found)):
        check(markup)


# --- margin bars -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("value", "limit", "margin", "status", "below"), [
    (10.9, 11.4, -0.5, FAILS, False),
    (12.0, 11.4, 0.6, HOLDS, False),
    (0.031, 0.02, -0.011, TIGHT, True),
    (0.5, 0.97, 0.47, HOLDS, True),
    (0.5, 0.97, None, FAILS, False),
    (0.5, 0.97, None, HOLDS, True),
    (1.2, 1.2, 0.0, HOLDS, None),
])  # fmt: skip
def test_the_safe_side_is_the_one_on_which_the_margin_is_positive(value, limit, margin, status, below):
    assert holds_below(finding(value, limit, status, margin=margin)) is below


@pytest.mark.parametrize("width", [200.0, 320.0])
@pytest.mark.parametrize("status", STATUSES)
@pytest.mark.parametrize(("value", "limit"), [(1e-12, 2e-12), (1e9, 1.0), (-5.0, 3.0), (0.0, 0.0), (12.0, 12.0)])
def test_a_margin_bar_shows_any_value(value, limit, status, width):
    root = check(margin_bar(finding(value, limit, status), finding(value * 0.9, limit, status), width))
    assert f"fig-{status}" in "".join(e.get("class") or "" for e in root.iter())


def test_a_margin_bar_tells_what_the_tolerances_do():
    about = check(margin_bar(finding(10.9), finding(11.9, status=HOLDS))).find(f"{SVG}desc").text
    assert about == "load: 10.9 V, at least 11.4 V, 11.9 V as written, fails"
    assert "fig-spread" in margin_bar(finding(10.9), finding(11.9)) and "fig-spread" not in margin_bar(finding(10.9))


def test_a_margin_bar_without_a_number_says_so():
    assert "no number" in margin_bar(finding(None, None, OPEN, margin=None))


def test_as_written_is_found_by_what_it_is_about():
    one, other = finding(), finding(state="on mains")
    assert matching(one, [other, one]) is one
    assert matching(one, [replace(other, case="nominal")]).state == "on mains"
    assert matching(one, [replace(one, quantity="current")]) is None


def test_margin_bars_of_written_and_worst_stand_together():
    about = check(margins([finding()], [finding(11.8)], title="t", width=WIDE)).find(f"{SVG}desc").text
    assert "11.8 V as written" in about


# --- pieces ----------------------------------------------------------------------------------------------


def test_a_waterfall_ends_where_its_steps_lead():
    steps = [
        Step("label", None, 100.0),
        Step("a", -30.0, 70.0),
        Step("b", -0.1, 69.9),
        Step("c", -0.2, 69.7),
        Step("end", None, 69.7),
    ]
    markup = waterfall(steps, "V", title="t", width=WIDE)
    assert "2 smaller ones together" in markup and "-300 mV" in markup
    about = check(markup).find(f"{SVG}desc").text
    assert all(f"{s.label}: " in about for s in steps), "joined in the picture, told one by one in words"


def test_bars_are_as_long_as_their_values():
    root = check(ranked([Bar("a", 1.0), Bar("b", 4.0)], "A", title="t", width=WIDE))
    first, second = (float(r.get("width")) for r in root.iter(f"{SVG}rect"))
    assert first == pytest.approx(4.0 * second, abs=0.5)


def test_fewer_bars_than_usual_count_the_others_and_tell_them_in_words():
    drawn = ranked([Bar(f"part {k}", 9.0 - k) for k in range(9)], "W", title="t", width=WIDE, most=6)
    check(drawn)
    assert drawn.count("fig-bar") == 6 and "and 3 more, none above 3 W" in drawn
    assert "part 8: 1 W" in drawn


@pytest.mark.parametrize("size", [1e-12, 1.0, 1e9])
@pytest.mark.parametrize("width", WIDTHS)
def test_bars_of_any_size_and_sign(size, width):
    check(ranked([Bar("a", size), Bar("b", -size / 3.0), Bar("c", 0.0)], "A", title="t", width=width, signed=True))
    check(
        ranked(
            [Bar(f"part {k}", size * k, "of much more") for k in range(40)],
            "V",
            title="t",
            width=width,
            limit=size * 20.0,
        )
    )


def test_labels_keep_apart_and_inside():
    assert apart([5.0, 5.0, 5.0], 10.0, 0.0, 100.0) == [5.0, 15.0, 25.0]
    assert apart([99.0, 99.0], 10.0, 0.0, 100.0) == [90.0, 100.0]


def test_words_are_cut_to_fit():
    assert cut("short", 100.0, 12.0) == "short"
    assert breadth(cut("a very long name of a part", 60.0, 12.0), 12.0) <= 60.0


def test_each_status_has_a_shape_of_its_own():
    assert len({mark(10.0, 10.0, s).replace(f"fig-{s}", "") for s in STATUSES}) == len(STATUSES)


def test_every_class_drawn_has_its_look():
    drawn = "".join(m for a in ANSWERS.values() for w in WIDTHS for m in figures(a, None, w))
    used = {c for part in drawn.split('class="')[1:] for c in part.split('"')[0].split()}
    assert all(c == "fig" or f".{c}{{" in LOOK for c in used), sorted(used)
