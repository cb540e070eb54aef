"""Files that are never left half written."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import IO


def write_file(
    path: Path, fill: Callable[[IO[str]], object], last: Callable[[], object] | None = None
) -> None:
    """Write a file whole or not at all.

    Parameters
    ----------
    path : Path
        Its folder must exist; a file of that name is replaced in one step and hands on who may read it. [-]
    fill : callable
        ``fill(stream)`` writes its text. [-]
    last : callable, optional
        Called when all is on disk, right before the old file is replaced; what it raises leaves the old file. [-]
    """
    handle, name = tempfile.mkstemp(dir=path.parent or Path("."), prefix=f".{path.name[:40]}.")
    try:
        with open(handle, "w", encoding="utf-8", newline="") as stream:
            fill(stream)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, _mode(path))
        if last:
            last()
        os.replace(name, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise


def write_text(path: Path, text: str, last: Callable[[], object] | None = None) -> None:
    """Write a text whole or not at all.

    Parameters
    ----------
    path : Path
        Its folder must exist; a file of that name is replaced in one step. [-]
    text : str
        Its content. [-]
    last : callable, optional
        See `write_file`. [-]
    """
    write_file(path, lambda stream: stream.write(text), last)


def _mode(path: Path) -> int:
    """Who may read and write: as before, or as of any new file."""
    try:
        return path.stat().st_mode & 0o777
    except OSError:
        return 0o666 & ~_umask()


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
