"""Pages of the manual that are made from the code say what the code says."""

from __future__ import annotations

import runpy
import subprocess
import sys
from pathlib import Path

from tideover.answers.base import QUESTIONS
from tideover.parts import ALL

DOCS = Path(__file__).parents[1] / "docs"
HEADINGS = ("Asks what", "Why it matters", "How computed", "Blind spots", "An example that trips it", "Cure", "Source")


def test_made_pages_are_up_to_date():
    done = subprocess.run(
        [sys.executable, str(DOCS / "generate.py"), "--check"], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_every_kind_and_every_question_has_a_page():
    for kind in ALL:
        assert (DOCS / "parts" / f"{kind.name.replace(' ', '-')}.md").exists(), kind.name
    for key in QUESTIONS:
        page = (DOCS / "answers" / f"{key}.md").read_text(encoding="utf-8")
        assert page.splitlines()[2] == f"# {QUESTIONS[key]}"
        assert [line[3:] for line in page.splitlines() if line.startswith("## ")] == list(HEADINGS)


def test_links_between_pages_lead_somewhere():
    import re

    for page in [*DOCS.rglob("*.md"), DOCS.parent / "CONTRIBUTING.md", DOCS.parent / "CHANGELOG.md"]:
        text = re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.S)
        for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", text):
            assert (page.parent / target).exists(), f"{page.name}: {target}"


def test_the_tutorials_edits_fit_one_after_the_other_and_leave_a_build(tmp_path):
    """Its outputs take minutes to replay: ``python docs/replay.py --check``."""
    from tideover.cli.program import run
    from tideover.network import load

    replay = runpy.run_path(str(DOCS / "replay.py"))
    run(["new", str(tmp_path)])
    file, edits = tmp_path / "build.yaml", 0
    for block in replay["BLOCK"].finditer((DOCS / "tutorial.md").read_text(encoding="utf-8")):
        if block[1] == "diff":
            replay["edit"](block[3], file)
            edits += 1
    assert edits and load(file).part("pack")
