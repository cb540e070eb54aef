"""Files that are never left half written."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import IO


def write_file(path: Path, fill: Callable[[IO[str]], object]) -> None:
    """Write a file whole or not at all.

    Parameters
    ----------
    path : Path
        Its folder must exist; a file of that name is replaced in one step. [-]
    fill : callable
        ``fill(stream)`` writes its text. [-]
    """
    handle, name = tempfile.mkstemp(dir=path.parent or Path("."), prefix=f".{path.name[:40]}.")
    try:
        with open(handle, "w", encoding="utf-8", newline="") as stream:
            fill(stream)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, 0o666 & ~_umask())
        os.replace(name, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise


def write_text(path: Path, text: str) -> None:
    """Write a text whole or not at all.

    Parameters
    ----------
    path : Path
        Its folder must exist; a file of that name is replaced in one step. [-]
    text : str
        Its content. [-]
    """
    write_file(path, lambda stream: stream.write(text))


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
