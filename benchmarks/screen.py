"""The screen as its user waits for it: the first page, an edit, a slider, and how much is sent.

It needs Playwright and a Chromium of the system; without them nothing is measured and that is said.
"""

from __future__ import annotations

import argparse
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from typing import Any

from .measures import Chart, Row
from .scenario import BUILD

NAME = BUILD.parent.name
EDITS, MOVES = 20, 15
FLAGS = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking")
PATIENCE = 300_000
"""For the whole sheet. [ms]"""


def charts(quick: bool) -> tuple[Chart, ...]:
    """What is measured through a browser; none where there is no browser."""
    path = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        path = None
    if path is None:
        print("The screen is not measured: that needs Playwright and a Chromium.")
        return ()
    edits, moves = (3, 3) if quick else (EDITS, MOVES)
    with _served() as (address, waited), sync_playwright() as p:
        browser = p.chromium.launch(executable_path=path, args=list(FLAGS))
        context = browser.new_context(viewport={"width": 1280, "height": 800}, base_url=address)
        context.set_default_timeout(PATIENCE)
        page = context.new_page()
        rows: list[Row] = [("start to the first page", "1", f"{waited:.3g} s", "")]
        rows.append(_edits(page, edits))
        rows.append(_moves(page, moves))
        rows.append(_bytes(page))
        browser.close()
    said = (
        "`tideover open` on a copy of the harbour gauge, a browser of 1280 pixels on the same machine. An edit is "
        "timed from leaving the field to the new quick answer in the page, while the slow answers are being worked out."
    )
    return (Chart("The screen", said, ("what", "times", "median", "longest"), tuple(rows)),)


@contextmanager
def _served() -> Iterator[tuple[str, float]]:
    """A server on a copy of the example: its address, and how long it took to its first page. [s]"""
    with tempfile.TemporaryDirectory() as place:
        shutil.copytree(BUILD.parent, Path(place) / NAME)
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        address = f"http://127.0.0.1:{port}"
        command = [sys.executable, "-m", "tideover", "open", place, "--no-browser", "--port", str(port)]
        began = time.perf_counter()
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        try:
            while process.poll() is None:
                try:
                    urllib.request.urlopen(f"{address}/b/{NAME}/").read()
                    break
                except OSError:
                    time.sleep(0.005)
            yield address, time.perf_counter() - began
        finally:
            process.terminate()
            process.wait()


def _edits(page: Any, count: int) -> Row:
    """The length of the lead is changed again and again; the drops are answered anew."""
    page.goto(f"/b/{NAME}/")
    page.locator("#q-drops .answer").wait_for()
    page.locator("#path svg:visible a[href$='/part/lead']").first.click()
    field = page.locator("dialog").get_by_label("length", exact=True)
    took = []
    for n in range(count):
        before = page.locator("#q-drops .answer").inner_text()
        field.fill(f"{3 + 2 * n % 29} m")
        took.append(page.evaluate(_EDIT, before))
    return (f"an edit to its quick answer, {NAME}", str(count), f"{median(took):.0f} ms", f"{max(took):.0f} ms")


_EDIT = """(before) => new Promise((done) => {
  const began = performance.now();
  const changed = () => {
    const now = document.querySelector("#q-drops .answer");
    if (!now || now.innerText === before) return;
    watch.disconnect();
    done(performance.now() - began);
  };
  const watch = new MutationObserver(changed);
  watch.observe(document.body, {childList: true, subtree: true, characterData: true});
  document.activeElement.blur();
})"""


def _moves(page: Any, count: int) -> Row:
    page.goto(f"/b/{NAME}/outage")
    drawn = "n => Number(document.getElementById('ride').dataset.rides || 0) > n"
    page.wait_for_function(drawn, arg=0)
    slider, took = page.get_by_role("slider").first, []
    for n in range(count):
        slider.press("ArrowLeft" if n % 2 else "ArrowRight")
        page.wait_for_function(drawn, arg=n + 1)
        took.append(int(page.locator("#ride").get_attribute("data-took")))
    return ("a slider of the outage to its sentence", str(count), f"{median(took):.0f} ms", f"{max(took):.0f} ms")


def _bytes(page: Any) -> Row:
    """With every question answered and nothing kept from before."""
    page.goto(f"/b/{NAME}/")
    page.wait_for_function("document.querySelectorAll('section[data-stage=full]').length === 15")
    line = page.context.new_cdp_session(page)
    line.send("Network.enable")
    line.send("Network.setCacheDisabled", {"cacheDisabled": True})
    sizes: list[float] = []
    line.on("Network.loadingFinished", lambda event: sizes.append(event["encodedDataLength"]))
    page.reload(wait_until="load")
    return ("first load of the answered sheet", "1", f"{sum(sizes) / 1e3:.0f} kB", "")


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.screen", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="measure less")
    for chart in charts(parser.parse_args().quick):
        print(f"{chart.title}: {re.sub('`', '', chart.said)}")
        for row in (chart.head, *chart.rows):
            print("  ".join(row))


if __name__ == "__main__":
    main()
