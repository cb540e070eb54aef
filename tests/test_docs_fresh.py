"""Pages of the manual that are made from the code say what the code says."""

from __future__ import annotations

import runpy
import subprocess
import sys
from pathlib import Path

from tideover.answers.base import QUESTIONS
from tideover.parts import ALL

DOCS = Path(__file__).parents[1] / "docs"
REPLAY = runpy.run_path(str(DOCS / "replay.py"))
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

    run(["new", str(tmp_path)])
    assert edits_of("tutorial.md", tmp_path)
    assert load(tmp_path / "build.yaml").part("pack")


def test_the_edits_of_the_cells_tutorial_end_at_the_build_and_the_pack_of_the_example(tmp_path):
    """It sets out from the example's build, and from a pack file that says nothing of strips yet."""
    example = DOCS.parent / "examples" / "ferry-landing"
    (tmp_path / "cells").mkdir()
    for name in ("build.yaml", "cells/pack.yaml"):
        lines = (example / name).read_text(encoding="utf-8").splitlines(keepends=True)
        (tmp_path / name).write_text("".join(x for x in lines if not x.startswith("strip:")), encoding="utf-8")
    assert edits_of("tutorial-cells.md", tmp_path) == 3
    for name in ("build.yaml", "cells/pack.yaml"):
        assert (tmp_path / name).read_text(encoding="utf-8") == (example / name).read_text(encoding="utf-8")


def test_the_cells_tutorial_types_the_commands_of_the_example():
    """So that what it shows is what stands in the example's folder."""
    readme = (DOCS.parent / "examples" / "ferry-landing" / "README.md").read_text(encoding="utf-8")
    tutorial = (DOCS / "tutorial-cells.md").read_text(encoding="utf-8")
    typed = [line for line in readme.splitlines() if line.startswith("$ ")]
    assert len(typed) == 7
    for line in typed:
        assert f"\n{line}\n" in tutorial, line


def test_every_tutorial_is_replayed():
    assert set(REPLAY["PAGES"]) == {page.name for page in DOCS.glob("tutorial*.md")}


def edits_of(page: str, folder: Path) -> int:
    """Make the edits of a tutorial; how many there were."""
    edits = 0
    for block in REPLAY["BLOCK"].finditer((DOCS / page).read_text(encoding="utf-8")):
        if block[1] == "diff":
            REPLAY["edit"](block[3], folder / REPLAY["edited"](block[3]))
            edits += 1
    return edits
