"""The screen's tests run machine code where there is a compiler, in their children too: the sheet is a whole one.

The browser's tests share one server and one browser; those that edit have a copy of the example to themselves.
"""

import os
import shutil
from pathlib import Path

import pytest

from tideover.solve import native
from web import screen

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="package", autouse=True)
def machine_code():
    was = os.environ.get("TIDEOVER_NATIVE")
    os.environ["TIDEOVER_NATIVE"] = "1"
    native.compiler.cache_clear()
    yield
    if was is None:
        del os.environ["TIDEOVER_NATIVE"]
    else:
        os.environ["TIDEOVER_NATIVE"] = was
    native.compiler.cache_clear()


@pytest.fixture(scope="session")
def served(tmp_path_factory):
    """The real server: `harbour-gauge` is only read, `edited` is changed, `ferry-landing` has cells."""
    folder = tmp_path_factory.mktemp("workshop")
    for name, source in (("harbour-gauge", "harbour-gauge"), ("edited", "harbour-gauge"), ("ferry-landing",) * 2):
        shutil.copytree(EXAMPLES / source, folder / name)
    server = screen.Server.start(folder)
    try:
        yield server.ready()
    finally:
        server.end()


@pytest.fixture(scope="module")
def browser():
    """One for each file: while it is there, nothing else in this process can run an event loop."""
    path = screen.chromium()
    if not path:
        pytest.skip("no Chromium on this machine: the screen is not seen by a browser in this run")
    playwright = pytest.importorskip("playwright.sync_api", reason="no Playwright: the screen is not seen by a browser")
    with playwright.sync_playwright() as p:
        found = p.chromium.launch(executable_path=path, args=list(screen.FLAGS))
        yield found
        found.close()


@pytest.fixture
def look(browser, served):
    """Opens pages, each in a browser of its own as far as cookies go; what left the machine fails the test."""
    contexts, strangers, broken = [], [], []

    def asked(request):
        if not request.url.startswith((served.address + "/", "data:", "blob:")):
            strangers.append(request.url)

    def new(path=None, size=screen.LAPTOP, **options):
        context = browser.new_context(viewport=size, base_url=served.address, **options)
        context.set_default_timeout(screen.SLOW * 1000)
        context.on("request", asked)
        context.on("weberror", lambda error: broken.append(str(error.error)))
        contexts.append(context)
        page = context.new_page()
        if path is not None:
            page.goto(path)
        return page

    yield new
    for context in contexts:
        context.close()
    assert not strangers, f"these requests leave the machine: {strangers}"
    assert not broken, f"scripts of the page failed: {broken}"


@pytest.fixture
def edited(served):
    """Address of the build that may be edited, as saved; what a test left unsaved is dropped after it."""
    yield "/b/edited/"
    assert served.alive, served.said
    served.post("/b/edited/revert", {})
