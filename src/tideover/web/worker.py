"""What runs in a child process: one question after the other, each answer sent as it is found."""

from __future__ import annotations

import os
import signal
import sys
import threading
from multiprocessing import parent_process
from multiprocessing.connection import Connection, wait
from typing import Any

from tideover.answers.base import Answer
from tideover.answers.context import Context
from tideover.answers.sheet import asked
from tideover.network import Network

NICE = 5
"""How far children stand back, so that the page and its quick answers go first."""
GRACE = 2.0
"""How long a child may take to put its things away once it is told to stop. [s]"""

Message = tuple[str, Any]
"""``("answer", Answer)`` or ``("told", (done, total))``."""


def serve(channel: Connection, network: Network, seed: int, samples: int) -> None:
    """Answer the keys that come, until None comes or nobody listens any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which then ends its children
    signal.signal(signal.SIGTERM, _leave)
    threading.Thread(target=_orphaned, daemon=True).start()
    if hasattr(os, "nice"):
        os.nice(NICE)
    context = Context.of(network, seed, samples, None, lambda done, total: channel.send(("told", (done, total))))
    try:
        while (key := channel.recv()) is not None:
            answer: Answer = asked(key, context)
            channel.send(("answer", answer))
    except (EOFError, BrokenPipeError, ConnectionResetError):
        return


def _leave(number: int, frame: object) -> None:
    """Told to stop: unwind, so that half-made files are removed."""
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    sys.exit(0)


def _orphaned() -> None:
    """Stop when the server is gone, however it went: nobody would hear the answers."""
    parent = parent_process()
    if parent is None:
        return
    wait([parent.sentinel])
    os.kill(os.getpid(), signal.SIGTERM)
    threading.Event().wait(GRACE)
    os._exit(1)
