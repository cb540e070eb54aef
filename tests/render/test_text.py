"""Sheets and answers as text, word for word; the expected texts stand in texts.txt beside this file."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import golden
import pytest

from render.samples import ANSWERS, CAUTIONS, ENDURANCE, OUTAGE, STANDING, TITLE
from tideover.answers.base import STATUSES, Answer, Finding, Table
from tideover.render import text
from tideover.render.page import MARKS, Page, cell, grid, number

GOLDEN = Path(__file__).with_name("texts.txt")
UTF8, ASCII = Page(), Page(encoding="ascii")


def test_sheets_and_answers_word_for_word():
    golden.check(
        GOLDEN,
        {
            "the sheet": text.sheet(UTF8, TITLE, ANSWERS, CAUTIONS).rstrip("\n"),
            "the sheet in ASCII": text.sheet(ASCII, TITLE, ANSWERS, CAUTIONS).rstrip("\n"),
            "an answer that fails": text.answer(UTF8, TITLE, OUTAGE, CAUTIONS).rstrip("\n"),
            "an answer that fails, in ASCII": text.answer(ASCII, TITLE, OUTAGE).rstrip("\n"),
            "an answer that holds": text.answer(UTF8, TITLE, STANDING).rstrip("\n"),
            "an answer with nothing but its headline": text.answer(UTF8, TITLE, ENDURANCE).rstrip("\n"),
            "no answers": text.sheet(UTF8, TITLE, ()).rstrip("\n"),
        },
    )


@pytest.mark.parametrize("page", [UTF8, ASCII, Page(encoding="latin-1"), Page(width=50)])
def test_no_line_is_wider_than_the_page(page):
    said = text.sheet(page, TITLE, ANSWERS, CAUTIONS)
    said += text.answer(page, TITLE, OUTAGE) + text.answer(page, TITLE, STANDING)
    assert max(map(len, said.splitlines())) <= page.width
    said.encode(page.encoding)


def test_long_words_and_names_stay_on_the_page():
    long = "x" * 300
    f = Finding(long, "fails", long, state=long, quantity=long, value=1.0, unit="V", case=long, why=long, mend=long)
    table = Table(long, ((long, ""), (long, "V")), ((long, 1.0), (None, 2.0)))
    a = Answer("outage", "fails", long, (f,), (table,), (), (long,))
    for said in (text.sheet(UTF8, long, (a,)), text.answer(UTF8, long, a)):
        assert max(map(len, said.splitlines())) <= 80


def test_colour_adds_nothing_but_colour():
    painted = text.sheet(Page(colour=True), TITLE, ANSWERS) + text.answer(Page(colour=True), TITLE, OUTAGE)
    assert "\x1b[" in painted
    plain = text.sheet(UTF8, TITLE, ANSWERS) + text.answer(UTF8, TITLE, OUTAGE)
    assert re.sub(r"\x1b\[[0-9]+m", "", painted) == plain
    assert "\x1b" not in plain


def test_a_status_shows_by_mark_and_word_alone():
    for status in STATUSES:
        said = text.sheet(UTF8, TITLE, (replace(ENDURANCE, status=status),))
        assert f"{MARKS[status]} {status}" in said
    assert len({ASCII.mark(s) for s in STATUSES}) == len(STATUSES)


def test_a_build_that_answers_with_control_characters_does_not_upset_the_terminal():
    said = text.sheet(UTF8, "a\x1b[31mb\x07", (replace(ENDURANCE, headline="\x1b]0;owned\x07"),))
    assert "\x1b" not in said and "\x07" not in said


def test_a_number_keeps_its_unit_when_a_line_breaks():
    lines = Page(width=24).wrap("it falls to the value of 12 V and so on")
    assert lines == ["it falls to the value of", "12 V and so on"]
    assert Page(width=26).wrap("it falls to the value of 12 V and so on")[0] == "it falls to the value of"


def test_margins_of_temperatures_are_differences():
    f = Finding("box too warm", "fails", "box", quantity="air", value=353.15, unit="K", limit=333.15, margin=-20.0)
    said = "\n".join(text.finding(UTF8, f))
    assert "80 °C, limit 60 °C" in said and "20 K short" in said


def test_what_is_the_same_but_for_its_state_is_told_once_and_the_worst_of_it():
    f = Finding("jack too hot", "fails", "jack", state="charging", quantity="rise", value=31.0, unit="ΔK", margin=-1.0)
    worse = replace(f, state="full load", value=35.0, margin=-5.0)
    again = replace(f, mend="Take a larger one.")
    other = replace(f, subject="plug")
    said = text.sheet(
        UTF8, TITLE, (Answer("budget", "fails", "x", (f, worse)), Answer("drops", "fails", "y", (again, other)))
    )
    assert said.count("Jack too hot (") == 1 and said.count("Jack too hot: plug (") == 1
    assert "Rise: 35 K; full load.\n   Also: charging.\n" in said
    in_depth = text.answer(UTF8, TITLE, Answer("budget", "fails", "x", (f, worse)))
    assert in_depth.count("Jack too hot (") == 2


def test_small_shares_are_short():
    assert number(0.0000536, "") == "5.4e-05" and number(0.5, "") == "0.5" and number(0.0, "") == "0"


def test_a_wide_table_is_cut_and_loses_nothing():
    columns = (("node", ""), *((f"state number {k}", "V") for k in range(20)))
    rows = [("bus", *(float(k) + 0.125 for k in range(20)))]
    lines = grid(UTF8, columns, rows)
    assert max(map(len, lines)) <= 80
    joined = " ".join(lines)
    assert all(cell(k + 0.125, "V") in joined for k in range(20))
    assert sum(line.split()[:1] == ["bus"] for line in lines) == joined.count("node")


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (None, "V", "–"),
        (float("nan"), "A", "–"),
        (5e-323, "V", "0 V"),
        (float("inf"), "s", "without limit"),
        (-0.0, "V", "0 V"),
    ],
)
def test_odd_numbers(value, unit, shown):
    assert number(value, unit) == shown
