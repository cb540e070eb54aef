"""The browser libraries stand beside the code, are those that were locked, and keep the page light."""

import hashlib
import json
from pathlib import Path

import pytest

import tideover

ROOT = Path(__file__).parents[2]
LIBRARIES = Path(tideover.__file__).parent / "web" / "static" / "libraries"
SHIPPED = json.loads((ROOT / "package.json").read_text(encoding="utf-8"))["files_shipped"]
HEAVIEST = 300_000
"""The most a page may load altogether, not compressed. [byte]"""


@pytest.mark.parametrize("name", SHIPPED)
def test_a_library_is_the_one_that_was_locked(name):
    file = LIBRARIES / name
    assert file.is_file(), f"{name} is missing: install the package again (pip install --editable .) with a network"
    assert hashlib.sha256(file.read_bytes()).hexdigest() == SHIPPED[name]["sha256"]


def test_nothing_else_lies_among_the_libraries():
    assert {file.name for file in LIBRARIES.iterdir()} == set(SHIPPED)


def test_each_library_comes_with_its_licence():
    for library in {name.split(".")[0].split("-")[0] for name in SHIPPED}:
        text = (LIBRARIES / f"{library}-licence.txt").read_text(encoding="utf-8")
        assert "Permission to use" in text or "Permission is hereby granted" in text


def test_the_lock_file_pins_what_is_asked_for_and_names_no_registry():
    asked = json.loads((ROOT / "package.json").read_text(encoding="utf-8"))["dependencies"]
    written = (ROOT / "package-lock.json").read_text(encoding="utf-8")
    locked = json.loads(written)["packages"]
    assert {name: locked[f"node_modules/{name}"]["version"] for name in asked} == asked
    assert all(entry["integrity"].startswith("sha512-") for place, entry in locked.items() if place)
    assert "resolved" not in written and "://" not in written


def test_all_that_a_page_loads_is_light():
    static = [file for file in (LIBRARIES.parent).rglob("*") if file.suffix in (".js", ".css")]
    assert static
    assert sum(file.stat().st_size for file in static) < HEAVIEST
