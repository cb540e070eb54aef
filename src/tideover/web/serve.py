"""The server as a process: its address, its browser, its end."""

from __future__ import annotations

import errno
import io
import socket
import webbrowser
from collections.abc import Callable
from pathlib import Path

import segno
import uvicorn

from tideover.web.app import create
from tideover.web.guard import Guard

LOOPBACK = "127.0.0.1"
EVERY = "0.0.0.0"
TRIES = 20
"""Ports after the usual one that are tried."""


async def serve(
    root: Path, port: int | None, share: bool, browser: bool, usual: int, write: Callable[[str], object]
) -> None:
    """Serve a folder until it is interrupted.

    Parameters
    ----------
    root : Path
        A folder, or one build file. [-]
    port : int or None
        Port that must be taken; otherwise the usual one or the next that is free. [-]
    share : bool
        Whether other devices may come in, with a code. [-]
    browser : bool
        Whether to open one. [-]
    usual : int
        Port to begin with. [-]
    write : callable
        Takes what a person must read. [-]

    Raises
    ------
    OSError
        The port cannot be had.
    """
    own = listening(EVERY if share else LOOPBACK, port, usual)
    number = own.getsockname()[1]
    outside = address_here() if share else ""
    guard = Guard(number, (outside,) if outside else ())
    address = f"http://{LOOPBACK}:{number}/"
    write(f"Open on this machine: {address}\n")
    if share:
        code = guard.pairing.new_code()
        other = f"http://{outside}:{number}/pair"
        write(f"On another device in this network: {other}\nCode, good once and for ten minutes: {code}\n")
        drawn = io.StringIO()
        segno.make(f"{other}?code={code}", error="m").terminal(drawn, compact=True)
        write(drawn.getvalue())
    write("Ctrl-C ends it; edits that are not saved are kept.\n")
    config = uvicorn.Config(
        create(root, guard), log_level="error", timeout_graceful_shutdown=1, server_header=False, lifespan="on"
    )
    server = uvicorn.Server(config)
    if browser:
        webbrowser.open(address)
    await server.serve(sockets=[own])


def listening(host: str, port: int | None, usual: int) -> socket.socket:
    """A socket that listens: on the port asked for, or on the usual one or one of the next."""
    for number in (port,) if port is not None else range(usual, usual + TRIES):
        found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            found.bind((host, number or 0))
            found.listen(128)
            return found
        except OSError as error:
            found.close()
            if port is not None or error.errno != errno.EADDRINUSE:
                raise
    raise OSError(errno.EADDRINUSE, f"ports {usual} to {usual + TRIES - 1} are all in use")


def address_here() -> str:
    """Address of this machine in its network: that from which it would send; nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address for documentation, RFC 5737
            return str(probe.getsockname()[0])
        except OSError:
            return LOOPBACK
