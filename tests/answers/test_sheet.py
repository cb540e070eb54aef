"""The sheet as a whole."""

from __future__ import annotations

import math
from importlib import import_module

import pytest

from answers.builds import charged, network, plain
from tideover.answers import sheet as page
from tideover.answers.base import QUESTIONS, STATUSES
from tideover.cases import pool

OURS = ("standing", "drops", "budget", "sources")


def test_the_table_has_the_questions_in_their_order():
    assert tuple(page.ANSWERS) == tuple(QUESTIONS)


HEADINGS = (
    "Asks what",
    "Why it matters",
    "How computed",
    "Blind spots",
    "An example that trips it",
    "Cure",
    "Source",
)


@pytest.mark.parametrize("key", page.ANSWERS)
def test_the_page_of_an_answer_has_its_headings_in_order(key):
    text = import_module(page.ANSWERS[key]).__doc__
    assert text.startswith(QUESTIONS[key])
    assert tuple(line for line in text.split("\n") if line in HEADINGS) == HEADINGS


def test_tables_and_findings_hold_numbers_or_nothing():
    for text in (charged("12 V 1 A adapter", "2 A"), plain("48 W", window="1 V to 13 V")):
        for answer in page.sheet(network(text), OURS):
            cells = [c for t in answer.tables for row in t.rows for c in row]
            cells += [x for f in answer.findings for x in (f.value, f.limit, f.margin)]
            assert not [c for c in cells if isinstance(c, float) and not math.isfinite(c)], answer.key
            assert all(len(row) == len(t.columns) for t in answer.tables for row in t.rows)


def test_every_finding_says_what_where_why_and_how_to_mend():
    for text in (charged("12 V 1 A adapter", "2 A"), plain("48 W", window="1 V to 13 V")):
        for answer in page.sheet(network(text), OURS):
            assert answer.status in STATUSES and answer.headline
            for f in answer.findings:
                assert f.name and f.subject and f.state and f.why and f.source, f
                assert (f.status == "holds") != bool(f.mend), f
                assert "nan" not in f.why.lower() and "unknown" not in f.why, f


def test_an_error_of_ours_is_open_and_spares_the_others(monkeypatch):
    def breaks(key):
        def answer(context):
            raise RuntimeError("a slip")

        return answer if key == "drops" else real(key)

    real = page.answerer
    monkeypatch.setattr(page, "answerer", breaks)
    answers = page.sheet(network(plain()), OURS)
    assert [a.key for a in answers] == list(OURS)
    assert answers[1].status == "open"
    assert "our fault" in answers[1].headline and "a slip" in answers[1].headline
    assert all("our fault" not in a.headline for a in answers if a.key != "drops")


def test_an_answer_whose_module_is_missing_is_open(monkeypatch):
    monkeypatch.setitem(page.ANSWERS, "endurance", "tideover.answers.not_there")
    (answer,) = page.sheet(network(plain()), ["endurance"])
    assert answer.status == "open" and "our fault" in answer.headline


def test_an_unknown_question_is_refused():
    with pytest.raises(KeyError):
        page.sheet(network(plain()), ["weather"])


def test_workers_change_no_answer_and_no_order():
    """Questions go to other processes, a few together; samples in pieces."""
    n, keys = network(plain("6 W ±10 %")), ("standing", "heat", "tolerance", "budget")
    alone = page.sheet(n, keys, samples=40)
    with pool(2) as workers:
        shared = page.sheet(n, keys, samples=40, executor=workers)
    assert shared == alone
    assert [a.key for a in shared] == list(keys)
