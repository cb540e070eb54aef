"""What the commands about the inventory share: its folder, its cells, what was changed in it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from tideover.cells.stock import METHODS, STATUSES
from tideover.cli.common import Refusal
from tideover.render.page import Page

if TYPE_CHECKING:
    from tideover.cells.inventory import Change
    from tideover.cells.stock import StockCell

__all__ = [
    "CAUTION",
    "METHODS",
    "STATUSES",
    "described",
    "in_folder",
    "named",
    "of_status",
    "plural",
    "replaced",
    "table",
]
Command = TypeVar("Command", bound=Callable[..., Any])
MOST_TOLD = 30
"""Changes told one by one before the rest is only counted."""
CAUTION = (
    "Lithium cells burn, salvaged ones more so. Charge and keep them where a fire harms nobody, on stone or metal, "
    "in sight; take to a collection point whatever is dented, swollen, rusted, leaking, or was empty. The maker's "
    "data sheet and your local fire, waste and transport rules prevail."
)


def in_folder(command: Command) -> Command:
    """The option that says which build's cells are meant."""
    said = "Folder of the build; its cells are in cells/inventory.csv."
    return click.option("--in", "folder", metavar="FOLDER", default=".", show_default=True, help=said)(command)


def table(folder: str, making: bool = False) -> Path:
    """The inventory of a folder; where none is there yet, only if it may be made."""
    from tideover.cells.inventory import inventory_file

    place = Path(folder)
    if not place.is_dir():
        raise Refusal(f"There is no folder {folder}.", "Make it first, or name another: --in FOLDER")
    path = inventory_file(place)
    if not making and not path.is_file():
        raise Refusal(f"There is no inventory {path}.", 'Begin one with: tideover cells add A1 --arrival "3.6 V"')
    return path


def described(out: Page, changes: Sequence[Change]) -> list[str]:
    """What was changed, cell by cell, with what was there before."""
    from tideover.cells import columns as col

    names = list(dict.fromkeys(change.id for change in changes))
    lines: list[str] = []
    width = max((len(change.column.name) for change in changes), default=0)
    for name in names[:MOST_TOLD]:
        these = [change for change in changes if change.id == name]
        fresh = these[0].column is col.COLUMNS[0]
        lines.append(out.plain(f"{name}{' is new' if fresh else ''}"))
        for change in these[1:] if fresh else these:
            lines += out.wrap(_difference(change), f"  {change.column.name:<{width}}  ", " " * (width + 4))
    if len(names) > MOST_TOLD:
        lines.append(f"and {len(names) - MOST_TOLD} more cells")
    return lines


def _difference(change: Change) -> str:
    unit = f" {change.column.unit}" if change.column.kind == "number" else ""
    if change.column.kind == "rests":
        before, after = (list(filter(None, text.split("; "))) for text in (change.old, change.new))
        added = [f"{pair} V added" for pair in after if pair not in before]
        return "; ".join(added + [f"{pair} V taken out" for pair in before if pair not in after])
    new = f"{change.new}{unit}" if change.new else "nothing"
    return f"{new}, was {change.old}{unit}" if change.old else new


def replaced(changes: Sequence[Change]) -> bool:
    """Whether any value took the place of another one; a further rest voltage does not."""
    return any(
        change.old and (change.column.kind != "rests" or set(change.old.split("; ")) - set(change.new.split("; ")))
        for change in changes
    )


def of_status(cells: Sequence[StockCell], status: str, model: str) -> list[StockCell]:
    """Those with a status and a model, both only if they are named."""
    from tideover.design.messages import folded, listed

    models = {folded(cell.model) for cell in cells}
    if model and folded(model) not in models:
        there = listed(sorted({cell.model or "(no model)" for cell in cells}))
        raise Refusal(f'No cell is of the model "{model}".', f"There are: {there}.")
    return [
        cell
        for cell in cells
        if (not status or cell.status == status) and (not model or folded(cell.model) == folded(model))
    ]


def plural(count: int, word: str = "cell") -> str:
    """``1 cell``, ``2 cells``."""
    return f"{count} {word}{'' if count == 1 else 's'}"


def named(ids: Sequence[str], most: int = 12) -> str:
    """Ids in a row; of very many only the first and how many more."""
    return ", ".join(ids) if len(ids) <= most else f"{', '.join(ids[:most])} and {len(ids) - most} more"
