"""Take the pictures of the screen that the manual shows, from copies of the examples.

    python docs/pictures.py [NAME ...]

It opens the screen on a folder of copies, waits until every question is answered, and writes ``docs/pictures/*.png``,
in few colours so that they stay small. It needs the packages of the tests (Playwright), Pillow and the system's
Chromium; no test runs it.
"""

from __future__ import annotations

import io
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

from tideover.demos import copy, examples

DOCS = Path(__file__).parent
TARGET = DOCS / "pictures"
LARGEST = 150_000
"""Of one picture. [byte]"""
PATIENCE = 400.0
"""For all answers of a build. [s]"""
FLAGS = ("--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking")
WIDE, PHONE = (1280, 900), (390, 844)
FIRST = "b/reading-room/as-first-drawn.yaml/"
GAUGE, LANDING, FAULTY = "b/harbour-gauge/", "b/ferry-landing/", "b/with-a-fault/"


def nothing(page: Page) -> None:
    """Take it as it is."""


def part(page: Page) -> None:
    """Open the charger beside the sheet."""
    page.locator(".path .wide a[href$='/part/charger']").click()
    page.wait_for_selector("#drawer[open] .field")


def edited(page: Page) -> None:
    """Set a charge current that is no current: what is wrong is said beside its field."""
    field_of = page.locator(".field", has=page.get_by_text("charge current", exact=True)).first
    field_of.locator("input[name=value]").fill("1 V")
    field_of.locator("input[name=value]").press("Tab")
    page.wait_for_selector(".field .wrong")
    page.locator(".field .wrong").first.scroll_into_view_if_needed()


@dataclass(frozen=True)
class Picture:
    """One picture: what is opened and done, how large the window is, and which part of the page is taken."""

    address: str
    size: tuple[int, int] = WIDE
    dark: bool = False
    only: str = ""
    before: Callable[[Page], None] = field(default=nothing)
    whole: bool = False
    """Whether it is taken when all questions are answered."""


PICTURES = {
    "sheet": Picture(FIRST, whole=True),
    "sheet-dark": Picture(FIRST, dark=True, whole=True),
    "sheet-phone": Picture(FIRST, PHONE, whole=True),
    "ride": Picture(FIRST, only="#q-outage .said", whole=True),
    "reason": Picture(FIRST, only="#q-outage aside", whole=True),
    "part": Picture(FIRST, before=part, whole=True),
    "wrong": Picture(FIRST + "part/charger", before=edited),
    "parts": Picture(GAUGE + "parts"),
    "question": Picture(FIRST + "question/budget"),
    "player": Picture(GAUGE + "outage"),
    "player-phone": Picture(GAUGE + "outage", PHONE, dark=True),
    "cells": Picture(LANDING + "cells"),
    "cells-phone": Picture(LANDING + "cells", PHONE),
    "bench": Picture(GAUGE + "bench", (1024, 860)),
    "fault": Picture(FAULTY, (1280, 640)),
    "builds": Picture("", dark=True),
    "pairing": Picture("pair", (390, 460)),
}


def prepare(folder: Path) -> None:
    """Copies of the examples, one of them with faults in its file."""
    for name, source in examples().items():
        copy(source, folder / name)
    text = (folder / "choir-loft" / "build.yaml").read_text(encoding="utf-8")
    (folder / "with-a-fault").mkdir()
    wrong = re.sub(r"(?m)^title:.*$", "title: Choir loft, with a fault", text.replace("100 mV", "100 mvolt", 1))
    (folder / "with-a-fault" / "build.yaml").write_text(wrong, encoding="utf-8")


def answered(browser: Browser, address: str) -> None:
    """Wait until all questions of a build are answered with their corners."""
    page = browser.new_page()
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        page.goto(address)
        page.wait_for_timeout(3000)
        stages = page.eval_on_selector_all(".sheet > section", "all => all.map(s => s.dataset.stage)")
        if stages and all(stage == "full" for stage in stages):
            break
    page.close()


def take(browser: Browser, root: str, name: str, picture: Picture) -> None:
    """One picture, as few colours as make it small enough."""
    width, height = picture.size
    page = browser.new_page(
        viewport={"width": width, "height": height}, color_scheme="dark" if picture.dark else "light"
    )
    page.goto(root + picture.address)
    page.wait_for_timeout(1500)
    picture.before(page)
    page.wait_for_timeout(500)
    taken = page.locator(picture.only).screenshot() if picture.only else page.screenshot()
    page.close()
    image = Image.open(io.BytesIO(taken)).convert("RGB")
    for colours in (128, 64, 32, 16):
        image.quantize(colours, dither=Image.Dither.NONE).save(TARGET / f"{name}.png", optimize=True)
        if (TARGET / f"{name}.png").stat().st_size < LARGEST:
            return
    raise SystemExit(f"{name}.png is larger than {LARGEST} bytes.")


def main(asked: list[str]) -> None:
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if chromium is None:
        raise SystemExit("There is no Chromium on this machine: install one, such as the package chromium.")
    TARGET.mkdir(exist_ok=True)
    wanted = {name: PICTURES[name] for name in asked or PICTURES}
    with tempfile.TemporaryDirectory() as place, sync_playwright() as play:
        folder = Path(place) / "builds"
        prepare(folder)
        command = [sys.executable, "-m", "tideover", "open", str(folder), "--no-browser"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
            try:
                assert server.stdout is not None
                root = server.stdout.readline().split()[-1]
                browser = play.chromium.launch(executable_path=chromium, args=list(FLAGS))
                for address in dict.fromkeys(p.address for p in wanted.values() if p.whole):
                    answered(browser, root + address)
                for name, picture in wanted.items():
                    take(browser, root, name, picture)
                browser.close()
            finally:
                server.terminate()


if __name__ == "__main__":
    main(sys.argv[1:])
