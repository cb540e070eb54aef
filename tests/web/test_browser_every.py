"""What holds for every page: width, keyboard, labels, without scripts, on paper, and how much is sent."""

from __future__ import annotations

import re

import pytest

from web.screen import PHONE, SLOW

expect = pytest.importorskip("playwright.sync_api", reason="no Playwright: the pages are not seen by a browser").expect
expect.set_options(timeout=SLOW * 1000)

GAUGE, LANDING = "/b/harbour-gauge/", "/b/ferry-landing/"
PAGES = (
    "/", GAUGE, GAUGE + "outage", GAUGE + "parts", GAUGE + "part/converter", GAUGE + "question/ratings",
    GAUGE + "bench", LANDING + "cells", "/manual/answers/outage", "/pair",
)  # fmt: skip
WIDTHS = (390, 768, 1280, 1920)
MOST = 300_000
"""Of the first load of a sheet. [byte]"""

UNLABELLED = """() => [...document.querySelectorAll("input:not([type=hidden]), select, textarea")]
  .filter((f) => !f.labels.length && !f.getAttribute("aria-label")).map((f) => f.outerHTML)"""
UNTOLD = """() => [...document.querySelectorAll("svg, img, canvas")].filter((g) => !(
  g.closest("[aria-hidden=true], .chart") || g.getAttribute("alt") || g.getAttribute("aria-label") ||
  (g.getAttribute("role") === "img" && g.querySelector("title")?.textContent) ||
  g.querySelector("title")?.textContent)).map((g) => g.outerHTML.slice(0, 200))"""
UNREACHED = """() => {
  const shown = (e) => e.checkVisibility({visibilityProperty: true}) && !e.disabled && !e.closest("dialog:not([open])");
  return [...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, summary")]
    .filter((e) => shown(e) && e.tabIndex < 0).map((e) => e.outerHTML.slice(0, 200));
}"""
OVER = """() => {
  const page = document.documentElement;
  if (page.scrollWidth <= page.clientWidth) return [];
  return [page.scrollWidth, ...[...document.querySelectorAll("body *")].filter((e) =>
    e.getBoundingClientRect().right > page.clientWidth + 1 && !e.closest(".scroll"))
    .slice(0, 3).map((e) => e.outerHTML.slice(0, 160))];
}"""


@pytest.mark.parametrize("path", PAGES)
def test_nothing_is_wider_than_the_page_and_everything_has_a_name(look, path):
    page = look(path)
    page.wait_for_load_state()
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate(OVER) == [], f"at {width} px"
    assert page.evaluate(UNLABELLED) == []
    assert page.evaluate(UNTOLD) == []
    assert page.evaluate(UNREACHED) == []
    assert page.locator("h1").count() == 1 and page.title()


@pytest.mark.parametrize("path", ["/", GAUGE, GAUGE + "outage", GAUGE + "bench"])
def test_tab_reaches_the_controls_one_after_the_other_and_the_focus_is_seen(look, path):
    page = look(path)
    reached = []
    for _ in range(12):
        page.keyboard.press("Tab")
        focus = page.evaluate(
            "() => { const e = document.activeElement, s = getComputedStyle(e);"
            " return [e.outerHTML.slice(0, 120), s.outlineStyle, parseFloat(s.outlineWidth)]; }"
        )
        if focus[0].startswith("<body"):  # past the last control
            break
        assert focus[1] != "none" and focus[2] >= 2, focus
        reached.append(focus[0])
    assert "skip" in reached[0] and len(set(reached)) > 8


def test_a_part_opens_by_keyboard_and_escape_brings_back(look):
    page = look(GAUGE)
    link = page.locator("#path svg:visible a[href$='/part/converter']").first
    link.focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("dialog").locator("h1")).to_have_text("converter")
    page.keyboard.press("Escape")
    expect(page.get_by_role("dialog")).to_be_hidden()


def test_everything_is_read_without_scripts(look):
    look(GAUGE).locator("#q-drops .answer").wait_for()
    page = look(GAUGE, PHONE, java_script_enabled=False)
    expect(page.locator("#path svg:visible")).to_have_count(1)
    expect(page.locator("#q-drops .answer")).to_be_visible()
    page.locator("#path .states a").last.click()
    expect(page.locator("#path .states a").last).to_have_attribute("aria-current", "true")
    page.locator("#q-drops summary").click()
    page.locator("#q-drops").get_by_role("link", name="On a page of its own").click()
    expect(page.locator(".finding").first).to_be_visible()
    for path in (GAUGE + "part/converter", GAUGE + "parts", LANDING + "cells"):
        page.goto(path)
        expect(page.locator("input[name=value]").first).to_be_visible()
    page.goto(GAUGE + "outage?k0=0")
    expect(page.locator("#verdict")).not_to_be_empty()
    expect(page.locator("#ride svg")).to_be_visible()


def test_nothing_moves_for_those_who_ask_for_less_motion(look):
    page = look(GAUGE, reduced_motion="reduce")
    moving = """() => [...document.querySelectorAll("*")].filter((e) => { const s = getComputedStyle(e);
      return parseFloat(s.transitionDuration) > 0 || s.animationName !== "none"; })
      .map((e) => e.outerHTML.slice(0, 99))"""
    assert page.evaluate(moving) == []


@pytest.mark.parametrize("path", [GAUGE, LANDING + "cells"])
def test_it_prints(look, path):
    page = look(path)
    page.locator("main svg:visible").first.wait_for()
    printed = page.pdf(format="A4")
    pages = len(re.findall(rb"/Type\s*/Page\b", printed))
    assert printed.startswith(b"%PDF") and pages >= 1 and len(printed) > 20_000


def test_in_the_dark_the_paper_is_dark_and_the_ink_is_light(look):
    page = look(GAUGE, color_scheme="dark")
    both = page.evaluate("() => { const s = getComputedStyle(document.body); return [s.backgroundColor, s.color]; }")
    paper, ink = (sum(map(int, re.findall(r"\d+", c)[:3])) for c in both)
    assert paper < 150 and ink > 600


def test_the_first_load_of_an_answered_sheet_is_light(look, record_property):
    page = look(GAUGE)
    expect(page.locator("section[data-stage=full]")).to_have_count(15, timeout=300_000)
    line = page.context.new_cdp_session(page)
    line.send("Network.enable")
    line.send("Network.setCacheDisabled", {"cacheDisabled": True})
    sizes = []
    line.on("Network.loadingFinished", lambda event: sizes.append(event["encodedDataLength"]))
    page.reload(wait_until="load")
    page.locator("#path svg").first.wait_for(state="attached")
    record_property("first load [byte]", sum(sizes))
    print(f"first load of a sheet: {sum(sizes):.0f} bytes in {len(sizes)} answers")
    assert len(sizes) >= 4 and sum(sizes) < MOST
