"""``tideover open``: the screen."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from tideover.cli.common import HOLDS, Refusal, build_file, complain, write

PORT = 8414
"""Asked for first; the next free one is taken where it is in use."""


@click.command("open")
@click.argument("build", required=False, default=".")
@click.option("--port", type=click.IntRange(1, 65535), help=f"Port to listen on.  [default: {PORT} or the next free]")
@click.option("--no-browser", is_flag=True, help="Print the address and open no browser.")
@click.option("--share", is_flag=True, help="Let devices on the local network in, with a code that is shown once.")
def open_(build: str, port: int | None, no_browser: bool, share: bool) -> int:
    """Show a build on the screen.

    BUILD is a folder with a build.yaml in it, the file itself, or a folder of builds; the current folder if none is
    named. The page is served to this machine alone unless --share is given; it ends with Ctrl-C. Edits are kept
    until they are saved or dropped, even if the process is killed.
    """
    import asyncio

    from tideover.web.serve import serve

    root = Path(build)
    if not root.exists():
        raise Refusal(f"{build}: there is no such file or folder.", "Name a build: tideover open reading-room")
    target = build_file(build) if root.is_dir() and (root / "build.yaml").is_file() else root
    try:
        asyncio.run(serve(target, port, share, not no_browser, PORT, write))
    except KeyboardInterrupt:
        complain("Ended.")
    except OSError as error:
        raise Refusal(
            f"Port {port} cannot be listened on: {error.strerror or error}.", "Name another: --port 8500"
        ) from None
    sys.stdout.flush()
    return HOLDS
