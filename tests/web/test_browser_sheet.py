"""The sheet of a build in a browser: title, tally, path, questions, folds."""

from __future__ import annotations

import re

import pytest

from tideover.answers.base import QUESTIONS
from web.screen import LAPTOP, PHONE, SLOW

expect = pytest.importorskip("playwright.sync_api", reason="no Playwright: the sheet is not seen by a browser").expect
expect.set_options(timeout=SLOW * 1000)

GAUGE = "/b/harbour-gauge/"
SIZES = pytest.mark.parametrize("size", [LAPTOP, PHONE], ids=["laptop", "phone"])
STATUS = {"holds": "●", "tight": "◆", "fails": "▼", "open": "○"}


@SIZES
def test_the_sheet_has_title_tally_path_and_fifteen_questions_in_order(look, size):
    page = look(GAUGE, size)
    expect(page.locator("h1")).to_have_text("Harbour gauge supply")
    expect(page.locator("#path svg:visible")).to_have_count(1)
    expect(page.locator(".tally .mark").first).to_be_visible()
    asked = page.locator(".sheet > section h2").all_text_contents()
    assert asked == list(QUESTIONS.values()) and len(asked) == 15
    tops = [box["y"] for h in page.locator(".sheet h2").all() if (box := h.bounding_box())]
    above = page.locator("#path").bounding_box()
    assert tops == sorted(tops) and len(tops) == 15 and above and above["y"] < tops[0]


@SIZES
def test_a_choice_of_state_changes_the_currents_in_the_drawing(look, size):
    page = look(GAUGE, size)
    drawing = page.locator("#path svg:visible")
    chosen = page.locator("#path .states a[aria-current]")
    first, before = chosen.inner_text(), drawing.text_content()
    other = page.locator("#path .states a:not([aria-current])").last
    name = other.inner_text()
    other.click()
    expect(chosen).to_have_text(name)
    assert name != first and drawing.text_content() != before
    amps = re.compile(r"\d m?A")
    assert amps.search(before) and amps.search(drawing.text_content())


def test_every_answer_says_its_status_by_mark_and_word_and_the_tally_counts_them(look):
    page = look(GAUGE)
    expect(page.locator("section[data-stage=full]")).to_have_count(15)
    seen = []
    for said in page.locator(".sheet p.answer").all():
        word, mark = said.locator("b").first.inner_text(), said.locator(".mark").inner_text()
        assert STATUS[word] == mark.strip()
        seen.append(word)
    assert len(seen) == 15
    page.reload()
    counted = page.locator(".tally > span:has(.mark)").all()
    tally = [(t.locator(".mark").inner_text().strip(), int(t.locator("b").inner_text())) for t in counted]
    assert sorted(tally) == sorted((STATUS[word], seen.count(word)) for word in set(seen))


@SIZES
def test_a_fold_loads_findings_and_tables_that_sort(look, size):
    page = look(GAUGE, size)
    section = page.locator("#q-ratings")
    section.locator("summary").click()
    expect(section.locator(".finding").first).to_be_visible()
    expect(section.locator("table").first).to_be_visible()
    expect(section.get_by_role("link", name="How this is computed")).to_have_attribute(
        "href", "/manual/answers/ratings"
    )
    head = section.locator("table th button").first
    head.click()
    expect(section.locator("table th[aria-sort=ascending]")).to_have_count(1)
    column = section.locator("table").first.locator("tbody tr td:first-child").all_text_contents()
    assert len(column) > 1 and column == sorted(column, key=str.casefold)


def test_the_gravest_findings_stand_at_the_top_and_lead_to_their_questions(look):
    page = look("/b/ferry-landing/")
    expect(page.locator(".worst li").first).to_be_visible()
    link = page.locator(".worst a").first
    target = link.get_attribute("href")
    link.click()
    assert page.url.endswith(target)
    expect(page.locator(target)).to_be_in_viewport()
