"""What all commands share: the page they write on, exit statuses, the build they are about."""

from __future__ import annotations

import contextlib
import os
import shutil
import sys
from pathlib import Path
from typing import Any, TextIO

import click

from tideover.render.page import WIDTH, Page

HOLDS, FAILS, COULD_NOT = 0, 1, 2
"""Exit statuses."""
BUILD = "build.yaml"


class Refusal(click.ClickException):
    """Something asked for cannot be done: what, and below it how to mend it."""

    exit_code = COULD_NOT

    def __init__(self, problem: str, *mends: str) -> None:
        super().__init__("\n   ".join((problem, *filter(None, mends))))


def page(stream: TextIO | None = None) -> Page:
    """The page for a stream: colour and the window's width for people, 80 plain columns for pipes and files."""
    stream = stream or sys.stdout
    person = stream.isatty()
    colour = person and not os.environ.get("NO_COLOR") and os.environ.get("TERM", "") != "dumb"
    width = min(max(shutil.get_terminal_size((WIDTH, 24)).columns, 40), WIDTH) if person else WIDTH
    return Page(width, stream.encoding or "ascii", colour)


def write(text: str) -> None:
    """Write to standard output; a reader who left early is no fault."""
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        mute()
    except UnicodeEncodeError:  # such as a file name with bytes of no encoding
        encoding = sys.stdout.encoding or "ascii"
        sys.stdout.write(text.encode(encoding, "replace").decode(encoding))


def mute() -> None:
    """Send what is still to come to nowhere, so that nothing complains when the process ends."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def complain(text: str) -> None:
    """Write to standard error, in characters that it has; a value's own control characters stay out."""
    with contextlib.suppress(OSError, ValueError):
        print(page(sys.stderr).plain(text), file=sys.stderr)


def as_json(data: Any) -> str:
    """Data as text; `tideover.render.data.plain` has removed what JSON lacks."""
    import json

    return json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def write_json(data: Any) -> None:
    """Data to standard output, in escapes where the encoding needs them."""
    import json

    text = as_json(data)
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        text = json.dumps(data, indent=1, allow_nan=False) + "\n"
    write(text)


def build_file(path: str) -> Path:
    """The build file meant by a path: the file itself, or the one in the folder."""
    file = Path(path)
    try:
        inside = file / BUILD
        if file.is_dir() and inside.is_file():
            return inside
        if file.is_dir():
            raise Refusal(
                f"{path}: there is no {BUILD} in this folder.",
                f"Name the file, or start one with: tideover new {path}",
            )
    except ValueError:  # a name that no file can have; reading it tells
        pass
    return file
