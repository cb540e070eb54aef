"""Example builds: where they are, what they are called, and a copy of one."""

from __future__ import annotations

import re
import shutil
import tempfile
from pathlib import Path

ORDER = ("reading-room", "harbour-gauge", "choir-loft", "ferry-landing")
"""The simplest first; others follow by name."""
NOT_COPIED = shutil.ignore_patterns("__pycache__", ".*")


def examples() -> dict[str, Path]:
    """Folders of the examples by name: those of the installed package, else those beside the source."""
    here = Path(__file__).resolve().parent
    for root in (here / "examples", here.parents[1] / "examples"):
        found = {f.parent.name: f.parent for f in sorted(root.glob("*/build.yaml"))}
        if found:
            return {name: found[name] for name in sorted(found, key=_rank)}
    return {}


def _rank(name: str) -> tuple[int, str]:
    return (ORDER.index(name) if name in ORDER else len(ORDER), name)


def copy(source: Path, target: Path) -> None:
    """Copy a folder whole or not at all."""
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=target.parent, prefix=".copy.") as place:
        copied = Path(place) / target.name
        shutil.copytree(source, copied, ignore=NOT_COPIED)
        copied.rename(target)


def title(file: Path) -> str:
    """Title of a build file, without reading it as one; empty where it has none."""
    found = re.search(r"^title:\s*(.+?)\s*(?:#.*)?$", file.read_text(encoding="utf-8"), re.MULTILINE)
    return found[1].strip("\"'") if found else ""
