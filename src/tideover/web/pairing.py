"""Which other devices may come in: a code shown once on this machine, then a secret that the device keeps.

The code travels over a network that others may listen to, so it works once, for a few minutes, and guessing is held
up: of 30^8 codes a guesser tries five a minute.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

LETTERS = "ABCDEFGHJKMNPQRSTVWXYZ23456789"
"""No letter that is read as another or as a digit."""
LENGTH = 8
LASTS = 600.0
"""A code is good for this long. [s]"""
TRIES, LOCKED = 5, 60.0
"""After so many wrong codes none is taken for this long. [-] [s]"""
LONGEST_NAME = 40
"""Letters of a device's name that are kept."""


class Refused(Exception):
    """The code was not taken; the text says why and what to do."""


@dataclass(frozen=True)
class Device:
    """A device that was let in; `mark` is the digest of the secret that it keeps."""

    name: str
    mark: bytes


class Pairing:
    """Codes given out and devices let in. Every method may be called from any thread."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._code = ""
        self._given = 0.0
        self._wrong = 0
        self._until = -float("inf")
        self._devices: dict[bytes, Device] = {}

    def code(self) -> str:
        """A new code; the one before it is good no more."""
        with self._lock:
            self._code = "".join(secrets.choice(LETTERS) for _ in range(LENGTH))
            self._given = self._clock()
            return self._code

    def pair(self, written: str, name: str) -> str:
        """Take a code and let a device in.

        Parameters
        ----------
        written : str
            As typed; case, spaces and hyphens do not matter. [-]
        name : str
            What the device is to be called; "a device" if nothing is said. [-]

        Returns
        -------
        secret : str
            What the device shows from now on. [-]

        Raises
        ------
        Refused
            A wrong code, one that was used or is too old, or too many tries.
        """
        typed = "".join(c for c in written.upper() if c.isalnum())
        with self._lock:
            now = self._clock()
            if now < self._until:
                raise Refused(f"Too many wrong codes. Wait {self._until - now:.0f} s, then type the code again.")
            good = hmac.compare_digest(typed.encode("utf-8", "replace"), self._code.encode()) and bool(self._code)
            if not good:
                self._wrong += 1
                if self._wrong >= TRIES:
                    self._wrong, self._until = 0, now + LOCKED
                raise Refused("This is not the code, or it was used already. Look at the machine that shows it.")
            self._code, self._wrong = "", 0
            if now - self._given > LASTS:
                raise Refused("This code is too old. Ask for a new one on the machine that shows it.")
            secret = secrets.token_urlsafe(32)
            said = " ".join("".join(c if c.isprintable() else " " for c in name).split())[:LONGEST_NAME]
            device = Device(said or "a device", _mark(secret))
            self._devices[device.mark] = device
            return secret

    def device(self, secret: str) -> Device | None:
        """The device that keeps a secret."""
        mark = _mark(secret)
        with self._lock:
            # Looked up by digest: how long it takes tells nothing about the secret.
            return self._devices.get(mark)

    @property
    def devices(self) -> tuple[Device, ...]:
        """All that were let in."""
        with self._lock:
            return tuple(self._devices.values())

    def forget(self, mark: bytes) -> None:
        """Let a device in no more."""
        with self._lock:
            self._devices.pop(mark, None)


def _mark(secret: str) -> bytes:
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).digest()


__all__ = ["Device", "Pairing", "Refused"]
