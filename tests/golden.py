"""Texts that are compared word for word with a file of expected ones.

The file holds, for each case, a line ``=== name`` and the text below it. ``TIDEOVER_RENEW=1`` in the
environment writes it anew; what changed is then read in review.
"""

from __future__ import annotations

import os
from pathlib import Path


def load(file: Path) -> dict[str, str]:
    """Expected texts by name."""
    if not file.exists():
        return {}
    cases = file.read_text(encoding="utf-8").split("=== ")[1:]
    return {name: text.rstrip("\n") for name, _, text in (case.partition("\n") for case in cases)}


def save(file: Path, texts: dict[str, str]) -> None:
    file.write_text("\n".join(f"=== {name}\n{text}\n" for name, text in texts.items()), encoding="utf-8")


def check(file: Path, texts: dict[str, str]) -> None:
    """Compare all texts with the file."""
    if os.environ.get("TIDEOVER_RENEW"):
        save(file, texts)
    assert load(file) == texts
