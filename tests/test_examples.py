"""Every example reads, and its sheet is the one saved beside it; `python -m tests.test_examples` renews them."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
BUILDS = sorted(p.relative_to(ROOT).as_posix() for p in (ROOT / "examples").glob("*/*.yaml"))


def saved(build: str) -> Path:
    return (ROOT / build).with_suffix(".sheet.txt")


def printed(build: str) -> tuple[str, int]:
    """What the command prints for a build, through a plain pipe."""
    command = [sys.executable, "-X", "utf8", "-m", "tideover", "sheet", build]
    done = subprocess.run(command, capture_output=True, cwd=ROOT, timeout=900, check=False)
    assert done.stderr.decode() == ""
    return done.stdout.decode(), done.returncode


@pytest.mark.parametrize("build", BUILDS)
def test_sheet_is_the_one_saved_beside_the_build(build: str) -> None:
    text, status = printed(build)
    assert text == saved(build).read_text(encoding="utf-8")
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "○ open" not in text
    first_drawn = build.endswith("as-first-drawn.yaml")
    assert status == (1 if first_drawn else 0)
    assert first_drawn == (text.count("▼ fails") >= 3)


def test_every_example_has_its_readme_and_saved_sheet() -> None:
    for build in BUILDS:
        assert saved(build).exists(), build
        assert (ROOT / build).with_name("README.md").exists(), build


if __name__ == "__main__":
    for name in BUILDS:
        saved(name).write_text(printed(name)[0], encoding="utf-8")
        print("renewed", saved(name))
