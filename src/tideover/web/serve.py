"""The server as a process: its address, its browser, its end."""

from __future__ import annotations

import errno
import os
import secrets
import socket
import webbrowser
from collections.abc import Callable
from pathlib import Path

import uvicorn

from tideover.web.app import create
from tideover.web.guard import Guard
from tideover.web.pairing import Pairing
from tideover.web.sharing import address_here, invitation

LOOPBACK = "127.0.0.1"
EVERY = "0.0.0.0"
LOGGED = "error" if os.environ.get("TIDEOVER_DEBUG") else "critical"
"""What the server says of itself; the end of a page that still listens is no error that a user must read."""
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
    pairing, token = Pairing(), secrets.token_urlsafe(32)
    shared = (outside,) if outside else ()
    app = Guard(create(root, token, pairing if share else None), number, shared, pairing, token)
    address = f"http://{LOOPBACK}:{number}/"
    write(f"Open on this machine: {address}\n")
    if outside:
        write(invitation(outside, number, pairing.code()) + "\n")
    elif share:
        write("This machine is in no network: no other device can come in.\n")
    write("Ctrl-C ends it; edits that are not saved are kept.\n")
    config = uvicorn.Config(
        app, log_level=LOGGED, timeout_graceful_shutdown=1, server_header=False, lifespan="on", proxy_headers=False
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
