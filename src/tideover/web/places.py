"""Which builds there are below a folder, and by what name an address means one of them."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path

DEEPEST = 3
"""Folders below the one that was opened in which builds are looked for."""
MOST = 200
"""Builds that are listed; a folder of more is no workshop."""
PASSED_OVER = frozenset(("node_modules", "__pycache__", "site-packages"))
_VERSION = re.compile(r"^tideover\s*:", re.MULTILINE)
_TITLE = re.compile(r"^title:\s*(.+?)\s*(?:#.*)?$", re.MULTILINE)


@dataclass(frozen=True)
class Place:
    """One build file.

    Attributes
    ----------
    key : str
        What stands for it in addresses: its path below the folder, without ``/build.yaml``.
    file : Path
        Where it is.
    title : str
        As it says itself, or the name of its folder.
    """

    key: str
    file: Path
    title: str


def find(root: Path) -> tuple[Place, ...]:
    """Builds below a folder: the file itself where it is one.

    Parameters
    ----------
    root : Path
        A folder, or one build file. [-]

    Returns
    -------
    places : tuple of Place
        By path; no link out of the folder is followed. [-]
    """
    if root.is_file():
        return (_place(root.parent, root),)
    files: list[Path] = []
    for folder, inner, names in os.walk(root, followlinks=False):
        depth = len(Path(folder).relative_to(root).parts)
        inner[:] = sorted(d for d in inner if not d.startswith(".") and d not in PASSED_OVER) if depth < DEEPEST else []
        files += [
            Path(folder, n) for n in sorted(names) if n.endswith((".yaml", ".yml")) and _is_build(Path(folder, n))
        ]
        if len(files) >= MOST:
            break
    return tuple(_place(root, f) for f in files[:MOST])


def _is_build(file: Path) -> bool:
    """Whether it says so itself; links are left alone, since they may lead anywhere."""
    if file.is_symlink() or not file.is_file():
        return False
    return file.name == "build.yaml" or bool(_VERSION.search(_beginning(file)))


def _beginning(file: Path) -> str:
    try:
        with file.open("rb") as stream:
            return stream.read(4000).decode("utf-8", "replace")
    except OSError:
        return ""


def _place(root: Path, file: Path) -> Place:
    inside = file.relative_to(root)
    parts = inside.parts[:-1] if inside.name == "build.yaml" else (*inside.parts[:-1], inside.name)
    found = _TITLE.search(_beginning(file))
    title = found[1].strip("\"'") if found else ""
    return Place("/".join(parts) or "build", file, title or file.resolve().parent.name)
