"""A lock between processes that work in one folder."""

from __future__ import annotations

import contextlib
import sys
import time
from pathlib import Path
from typing import IO

WAIT = 10.0
"""How long one waits for another to finish a save. [s]"""


class Lock:
    """Held inside ``with``; it falls with the process that holds it, however that ends.

    Parameters
    ----------
    path : Path
        A file of its own, made when there is none and left lying.

    Raises
    ------
    OSError
        When the folder cannot be written in, or nobody lets go for `WAIT` seconds.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.stream: IO[bytes] | None = None

    def __enter__(self) -> Lock:
        self.path.parent.mkdir(exist_ok=True)
        stream = self.path.open("ab")
        until = time.monotonic() + WAIT
        while not _taken(stream):
            if time.monotonic() > until:
                stream.close()
                raise TimeoutError(None, "another program is saving it and does not finish")
            time.sleep(0.01)
        self.stream = stream
        return self

    def __exit__(self, *_: object) -> None:
        if self.stream:
            with contextlib.suppress(OSError):
                self.stream.close()


if sys.platform == "win32":
    import msvcrt

    def _taken(stream: IO[bytes]) -> bool:
        try:
            stream.seek(0)
            msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
else:
    import fcntl

    def _taken(stream: IO[bytes]) -> bool:
        try:
            fcntl.flock(stream.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
