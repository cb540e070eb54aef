"""A lock between processes that work in one folder."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
import time
from pathlib import Path

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
        self.handle = -1

    def __enter__(self) -> Lock:
        until = time.monotonic() + WAIT
        while not self.take():
            if time.monotonic() > until:
                raise TimeoutError(errno.ETIMEDOUT, "another program is saving it and does not finish")
            time.sleep(0.01)
        return self

    def __exit__(self, *_: object) -> None:
        self.release()

    def take(self) -> bool:
        """Take it without waiting, if nobody has it."""
        self.path.parent.mkdir(exist_ok=True)
        handle = os.open(self.path, os.O_RDWR | os.O_CREAT | getattr(os, "O_CLOEXEC", 0), 0o666)
        if not _taken(handle):
            os.close(handle)
            return False
        self.handle = handle
        return True

    def release(self) -> None:
        """Let go; nothing happens when it is not held."""
        handle, self.handle = self.handle, -1
        if handle >= 0:
            with contextlib.suppress(OSError):
                os.close(handle)

    def __del__(self) -> None:
        self.release()


if sys.platform == "win32":
    import msvcrt

    def _taken(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
else:
    import fcntl

    def _taken(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
