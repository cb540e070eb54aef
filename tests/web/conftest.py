"""The screen's tests run machine code where there is a compiler, in their children too: the sheet is a whole one."""

import os

import pytest

from tideover.solve import native


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
