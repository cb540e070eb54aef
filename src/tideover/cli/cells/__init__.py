"""``tideover cells``: from discharge logs and a box of mixed cells to a pack that the build uses."""

from __future__ import annotations

import click

from tideover.cli.cells.draw import draw

INNER: tuple[click.Command, ...] = (draw,)
"""In the order in which a builder meets them."""


class _Cells(click.Group):
    """Lists its commands in the order of the table."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return [str(command.name) for command in INNER]


@click.group(cls=_Cells, commands={str(command.name): command for command in INNER})
def cells() -> None:
    """Take cells from their logs to a pack that shares its current."""
