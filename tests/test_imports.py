"""Imports point one way, and no file is too long to be read in one go."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import tideover

PACKAGE = Path(tideover.__file__).parent
FILES = sorted(PACKAGE.rglob("*.py"))
ORDER = (
    "quantity",
    "files",
    "demos",
    "laws",
    "parts",
    "shelf",
    "design",
    "network",
    "solve",
    "cases",
    "traces",
    "cells",
    "bench",
    "answers",
    "draw",
    "render",
    "web",
    "cli",
)
"""Each may import what stands before it. The face (`__init__`) may import all but the command line."""
ONLY = {"render": ("quantity", "answers"), "solve": ("quantity", "laws", "parts")}
"""Where less than everything before it is allowed."""
LONGEST = 600


def place(file: Path) -> tuple[str, ...]:
    parts = file.relative_to(PACKAGE).with_suffix("").parts
    return parts[:-1] if parts[-1] == "__init__" else parts


def imported(file: Path) -> set[tuple[str, ...]]:
    """Modules of ours that a file imports, without the first word."""
    found = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {tuple(name.name.split(".")) for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            package = ("tideover", *file.relative_to(PACKAGE).parts)[: -node.level] if node.level else ()
            base = (*package, *filter(None, (node.module or "").split(".")))
            found |= {(*base, name.name) for name in node.names} if base == ("tideover",) else {base}
    return {module[1:] for module in found if module[0] == "tideover" and len(module) > 1}


@pytest.mark.parametrize("file", FILES, ids=lambda f: "/".join(place(f)) or "tideover")
def test_imports_point_one_way(file):
    here = place(file)
    folder = here[0] if here else "face"
    modules = imported(file) - {("__version__",)}
    if folder in ("face", "__main__"):
        assert folder == "__main__" or not any(module[0] == "cli" for module in modules)
        return
    assert folder in ORDER, f"{folder} has no place in the order of imports; give it one in this test"
    before = ORDER[: ORDER.index(folder)]
    for module in modules:
        if module[0] == folder:
            continue
        assert module[0] in before, f"{'.'.join(here)} imports {'.'.join(module)}, which stands after it"
        if folder in ONLY:
            assert module[0] in ONLY[folder], f"{folder} may import only {', '.join(ONLY[folder])}"
        if folder == "solve" and module[0] == "parts":
            assert module[1:2] == ("base",), "solve meets parts at their contract, parts.base, alone"


def test_every_place_in_the_order_exists():
    assert {place(file)[0] for file in FILES if place(file)} - {"__main__"} == set(ORDER)


@pytest.mark.parametrize("file", FILES, ids=lambda f: "/".join(place(f)) or "tideover")
def test_no_file_is_longer_than_can_be_read_in_one_go(file):
    assert len(file.read_text(encoding="utf-8").splitlines()) <= LONGEST


def test_the_rule_would_catch_a_wrong_arrow(tmp_path):
    wrong = tmp_path / "wrong.py"
    lines = ("from tideover.solve import rest", "import tideover.cli.sheet", "from tideover import laws")
    wrong.write_text("def f():\n" + "".join(f"    {line}\n" for line in lines))
    assert imported(wrong) == {("solve",), ("cli", "sheet"), ("laws",)}
