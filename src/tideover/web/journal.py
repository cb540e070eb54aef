"""Unsaved edits on disk: each server that has a build open keeps them in a file of its own beside the build.

The first keeps ``.tideover/<name>.edits``, a second one ``.tideover/<name>.2.edits``, and so on. Which file is whose
is settled by a lock that falls with the process, so that whoever comes next finds the edits of one that was killed and
leaves alone those of one that runs.
"""

from __future__ import annotations

import contextlib
import json
import os
from dataclasses import dataclass
from pathlib import Path

from tideover import files
from tideover.web.locks import Lock

MOST = 100
"""Servers that may have one build open."""


@dataclass(frozen=True)
class Edits:
    """What a journal holds: the text that was on disk, and what had become of it."""

    base: str
    text: str


class Journal:
    """The journal of one open build.

    Parameters
    ----------
    file : Path
        The build file.
    """

    def __init__(self, file: Path) -> None:
        self.folder = file.parent / ".tideover"
        self.name = file.name
        self.number = 0  # none yet: opening a build leaves no trace in its folder
        self.lock: Lock | None = None

    def path(self, number: int) -> Path:
        """File of the journal with that number."""
        return self.folder / (f"{self.name}.edits" if number == 1 else f"{self.name}.{number}.edits")

    def left(self) -> dict[int, Edits]:
        """Edits that servers left behind which run no more; each stays until it is dropped. One becomes ours."""
        found: dict[int, Edits] = {}
        for number in range(1, MOST):
            path = self.path(number)
            if not path.exists() or not self._take(number):
                continue
            try:
                content = json.loads(path.read_text(encoding="utf-8"))
                found[number] = Edits(str(content["base"]), str(content["text"]))
            except OSError:
                continue
            except (ValueError, KeyError, TypeError):
                os.replace(path, self._aside(path))
        return found

    def write(self, base: str, text: str) -> None:
        """Keep edits; on disk when this returns. Without edits there is no file."""
        if base == text and not self.number:
            return
        path = self.path(self._own())
        if base == text:
            path.unlink(missing_ok=True)
        else:
            content = {"tideover edits": 1, "base": base, "text": text}
            files.write_text(path, json.dumps(content, ensure_ascii=False))

    def drop(self, number: int) -> None:
        """Remove a journal that was left and is taken over."""
        if number != self.number:
            with contextlib.suppress(OSError):
                self.path(number).unlink(missing_ok=True)

    def close(self) -> None:
        """Let go of it, as the end of the process does; what it holds stays."""
        if self.lock:
            self.lock.release()
        self.lock, self.number = None, 0

    def _own(self) -> int:
        for number in range(1, MOST):
            if self.number:
                break
            if not self.path(number).exists():
                self._take(number)
        if not self.number:
            raise OSError(None, f"{MOST} programs have it open")
        return self.number

    def _take(self, number: int) -> bool:
        """Make sure that no running server has a journal; the first one taken becomes ours."""
        lock = Lock(self.folder / f"{self.name}.{number}.held")
        try:
            if not lock.take():
                return False
        except OSError:
            return False
        if self.number:
            lock.release()
        else:
            self.lock, self.number = lock, number
        return True

    def _aside(self, path: Path) -> Path:
        free = (path.with_name(f"{path.name}-unreadable-{n}") for n in range(1, 10_000))
        return next(file for file in free if not file.exists())
