"""What a build answered when it was last looked at, kept beside it so that the list of builds can say so."""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from tideover.answers.base import STATUSES, Answer
from tideover.files import write_text

FOLDER = ".tideover"


@dataclass(frozen=True)
class Lately:
    """Statuses of the answers of one text.

    Attributes
    ----------
    statuses : tuple of str
        One for each answer, in the order of the sheet.
    same : bool
        Whether the file is still that text.
    """

    statuses: tuple[str, ...]
    same: bool


def _file(build: Path) -> Path:
    return build.parent / FOLDER / f"{build.name}.status"


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def keep(build: Path, text: str, answers: Mapping[str, Answer]) -> None:
    """Keep what a saved text answered; a folder that cannot be written is no reason to stop."""
    statuses = [a.status for a in answers.values()]
    with contextlib.suppress(OSError):
        _file(build).parent.mkdir(exist_ok=True)
        write_text(_file(build), json.dumps({"text": _digest(text), "statuses": statuses}) + "\n")


def read(build: Path) -> Lately | None:
    """What is known of a build; None where nothing is, or what stands there is not ours."""
    try:
        found = json.loads(_file(build).read_text(encoding="utf-8"))
        statuses = tuple(s for s in found["statuses"] if s in STATUSES)
        text = build.read_text(encoding="utf-8-sig")
    except (OSError, ValueError, TypeError, KeyError):
        return None
    return Lately(statuses, found.get("text") == _digest(text)) if statuses else None
