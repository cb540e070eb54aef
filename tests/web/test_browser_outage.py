"""The outage player in a browser."""

from __future__ import annotations

from statistics import median

import pytest

from web.screen import LAPTOP, PHONE, SLOW

expect = pytest.importorskip("playwright.sync_api", reason="no Playwright: the player is not seen by a browser").expect
expect.set_options(timeout=SLOW * 1000)

INK = """() => {
  const canvas = document.querySelector("#ride canvas"), ctx = canvas.getContext("2d");
  const dots = ctx.getImageData(0, 0, canvas.width, canvas.height).data, colours = {};
  for (let k = 0; k < dots.length; k += 4) if (dots[k + 3]) {
    const c = [dots[k], dots[k + 1], dots[k + 2]].join(); colours[c] = (colours[c] || 0) + 1;
  }
  return [Object.keys(colours).length, Object.values(colours).reduce((a, b) => a + b, 0), canvas.width * canvas.height];
}"""


def played(page, count):
    """Wait until so many rides were drawn."""
    page.wait_for_function("n => Number(document.getElementById('ride').dataset.rides || 0) >= n", arg=count)


@pytest.mark.parametrize("size", [LAPTOP, PHONE], ids=["laptop", "phone"])
def test_the_chart_is_drawn_and_said_in_a_sentence(look, size):
    page = look("/b/harbour-gauge/outage", size)
    played(page, 1)
    colours, dots, area = page.evaluate(INK)
    assert colours > 20 and 0.02 * area < dots <= area, "the chart is blank"
    expect(page.locator("#verdict")).to_contain_text("V")
    expect(page.locator("#ride .u-legend")).to_contain_text("[V]")


def test_sliders_change_the_sentence_and_answer_soon(look, record_property):
    page = look("/b/harbour-gauge/outage")
    played(page, 1)
    verdict, slider = page.locator("#verdict"), page.get_by_role("slider").first
    expect(slider).to_have_attribute("aria-valuetext", page.locator("output").first.inner_text())
    before, shown = verdict.inner_text(), page.locator("output").first.inner_text()
    slider.focus()
    slider.press("End")
    played(page, 2)
    assert page.locator("output").first.inner_text() != shown
    expect(slider).to_have_attribute("aria-valuetext", page.locator("output").first.inner_text())
    took = []
    for n in range(15):
        slider.press("ArrowLeft")
        played(page, 3 + n)
        took.append(int(page.locator("#ride").get_attribute("data-took")))
    record_property("median of 15 slider moves [ms]", median(took))
    rides = 17
    for one in page.get_by_role("slider").all():  # which of them decides depends on the build
        for key in ("End", "Home"):
            was = one.input_value()
            one.press(key)
            if one.input_value() == was:  # it stood there already
                continue
            rides += 1
            played(page, rides)
            if verdict.inner_text() != before:
                break
    assert verdict.inner_text() != before
    print(f"15 slider moves: median {median(took)} ms, longest {max(took)} ms")


def test_dragging_looks_closer_and_a_double_click_shows_all(look):
    page = look("/b/harbour-gauge/outage")
    played(page, 1)
    over = page.locator("#ride .u-over")
    ink = page.evaluate("() => document.querySelector('#ride canvas').toDataURL()")
    box = over.bounding_box()
    page.mouse.move(box["x"] + box["width"] * 0.1, box["y"] + 60)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.4, box["y"] + 60, steps=4)
    page.mouse.up()
    page.wait_for_function("ink => document.querySelector('#ride canvas').toDataURL() !== ink", arg=ink)
    over.dblclick()
    page.mouse.move(0, 0)
    page.wait_for_function("ink => document.querySelector('#ride canvas').toDataURL() === ink", arg=ink)
