"""``tideover cells``: from discharge logs and a box of mixed cells to a pack that the build uses."""

from __future__ import annotations

import click

from tideover.cli.cells.add import add
from tideover.cli.cells.draw import draw
from tideover.cli.cells.fit import fit
from tideover.cli.cells.group import group
from tideover.cli.cells.import_ import import_
from tideover.cli.cells.labels import labels
from tideover.cli.cells.list import list_
from tideover.cli.cells.pack import pack_command
from tideover.cli.cells.predict import predict
from tideover.cli.cells.read import read
from tideover.cli.cells.resistance import resistance
from tideover.cli.cells.screen import screen

INNER: tuple[click.Command, ...] = (
    read, resistance, fit, predict, add, import_, list_, screen, labels, group, pack_command, draw,
)
"""In the order in which a builder meets them."""


class _Cells(click.Group):
    """Lists its commands in the order of the table."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return [str(command.name) for command in INNER]


@click.group(cls=_Cells, commands={str(command.name): command for command in INNER})
def cells() -> None:
    """Take cells from their logs to a pack that shares its current."""
