"""``tideover new``: a build file to start from."""

from __future__ import annotations

import os
from importlib.resources import files
from pathlib import Path

import click

from tideover.cli.common import BUILD, HOLDS, Refusal, write
from tideover.files import write_text

STARTER = "starter.yaml"


def starter() -> str:
    """Text of the build that a new one starts as."""
    return files("tideover.cli").joinpath(STARTER).read_text(encoding="utf-8")


@click.command()
@click.argument("dir_", metavar="[DIR]", default=".")
def new(dir_: str) -> int:
    """Start a build.

    Writes a build.yaml with comments into DIR, the current folder if none is named. It computes as it stands: a
    12 V router with adapter, charger, pack, protection board, fuse, two diodes and a converter. Nothing is ever
    overwritten.
    """
    folder = Path(dir_)
    file = folder / BUILD
    if folder.is_file():
        raise Refusal(f"{folder} is a file.", f"Name a folder: tideover new {folder.stem}-supply")
    if os.path.lexists(file):
        raise Refusal(f"{file} is there already and was left as it is.", "Name another folder: tideover new my-supply")
    folder.mkdir(parents=True, exist_ok=True)
    text = starter()
    write_text(file, text)
    write(f"Started {file}. Change it to what you have, then:\n   tideover sheet {folder}\n")
    return HOLDS
