"""The builds of a folder in a browser, and how to begin one."""

from __future__ import annotations

import uuid

import pytest

from web.screen import PHONE, SLOW

expect = pytest.importorskip("playwright.sync_api", reason="no Playwright: the builds are not seen by a browser").expect
expect.set_options(timeout=SLOW * 1000)


def test_builds_and_examples_are_listed_with_what_is_known_of_them(look):
    look("/b/harbour-gauge/").locator("#q-drops .answer").wait_for()
    page = look("/")
    card = page.locator("li", has=page.locator("a[href='/b/harbour-gauge/']"))
    expect(card).to_contain_text("Harbour gauge supply")
    expect(card.locator(".mark").first).to_be_visible()
    assert {"●", "◆", "▼", "○"} & set(card.inner_text())
    examples = page.get_by_role("button", name="and open it")
    assert examples.count() >= 4
    card.get_by_role("link").click()
    expect(page.locator("h1")).to_have_text("Harbour gauge supply")


def test_a_wrong_need_is_answered_beside_its_field_and_a_good_one_opens(look, served):
    page, name = look("/", PHONE), "shed-" + uuid.uuid4().hex[:6]
    page.get_by_label("Name of its folder").fill(name)
    page.get_by_label("Without mains for").fill("4 kg")
    page.get_by_label("Title").fill("Net shed lamp")
    page.get_by_role("button", name="Start it").click()
    field = page.locator(".field", has=page.get_by_label("Without mains for"))
    expect(field.get_by_role("alert")).to_contain_text("4 kg")
    expect(page.get_by_label("Without mains for")).to_have_value("4 kg")
    expect(page.get_by_label("Name of its folder")).to_have_value(name)
    assert not (served.folder / name).exists(), "nothing is written"
    page.get_by_label("Without mains for").fill("3 h")
    page.get_by_role("button", name="Start it").click()
    expect(page.locator("h1")).to_have_text("Net shed lamp")
    assert page.url.endswith(f"/b/{name}/")
    text = (served.folder / name / "build.yaml").read_text()
    assert "runtime: 3 h" in text and "title: Net shed lamp" in text


def test_a_folder_that_is_there_already_is_left_as_it_is(look, served):
    before = (served.folder / "harbour-gauge" / "build.yaml").read_bytes()
    page = look("/")
    page.get_by_label("Name of its folder").fill("harbour-gauge")
    page.get_by_role("button", name="Start it").click()
    expect(page.get_by_role("alert")).to_contain_text("left as it is")
    assert (served.folder / "harbour-gauge" / "build.yaml").read_bytes() == before
