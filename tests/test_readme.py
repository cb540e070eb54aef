"""What the README shows is what the program prints, and its two commands exist."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
FIRST = ROOT / "examples" / "reading-room" / "as-first-drawn"


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)\n```", README, re.S)


def test_output_in_the_readme_is_the_saved_sheet() -> None:
    saved = FIRST.with_suffix(".sheet.txt").read_text(encoding="utf-8")
    assert len(blocks("text")) == 2
    for block in blocks("text"):
        assert block in saved


def test_build_file_in_the_readme_is_the_example() -> None:
    (shown,) = blocks("yaml")
    assert shown in FIRST.with_suffix(".yaml").read_text(encoding="utf-8")


def test_commands_and_links_exist() -> None:
    targets = set(re.findall(r"^(\w+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.M))
    assert set(re.findall(r"^    make (\w+)$", README, re.M)) == {"demo", "test"} <= targets
    for link in re.findall(r"\]\(([^)#]+)\)", README):
        assert (ROOT / link).exists(), link
