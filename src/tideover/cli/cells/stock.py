"""What the commands about the inventory share: its folder, its cells, what was changed in it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from tideover.cells.stock import METHODS, STATUSES
from tideover.cli.common import Refusal
from tideover.quantity import show
from tideover.render.page import Page

if TYPE_CHECKING:
    from tideover.cells.comparing import Compared
    from tideover.cells.inventory import Change
    from tideover.cells.stock import StockCell

__all__ = [
    "CAUTION",
    "METHODS",
    "STATUSES",
    "about_conditions",
    "at_one_condition",
    "compared",
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


def at_one_condition(command: Command) -> Command:
    """The options that say at which condition capacities are compared, and through which cell."""
    at = click.option(
        "--at",
        metavar="CONDITION",
        default="",
        help='Compare capacities at: "0.5 A to 2.8 V at 25 °C"; otherwise at the commonest of the inventory.',
    )
    said = "Convert capacities through this fitted cell's file or cell of the shelf; the nearest if not told."
    return at(click.option("--through", metavar="CELL", default="", help=said)(command))


def compared(cells: Sequence[StockCell], at: str, through: str) -> Compared:
    """Their capacities at one condition; Refusal where none of them can be brought to that asked for."""
    from tideover.cells.comparing import comparable
    from tideover.cli.cells.given import cell_model, condition

    model = cell_model(through) if through else None
    found = comparable(cells, condition("--at", at) if at else None, model)
    if (
        at
        and found.failed
        and not found.converted
        and len(found.failed) + len(found.not_said) == len([c for c in cells if c.capacity])
    ):
        name, why = next(iter(found.failed.items()))
        raise Refusal(f'--at is "{at}", to which no capacity can be brought.', f"{name}: {why}.")
    return found


def about_conditions(found: Compared) -> list[str]:
    """What has to be said of how capacities were brought to one condition, each a sentence or two."""
    if found.at is None:
        if not found.not_said:
            return []
        return [
            "Capacities are as measured: nobody said at which current, to which cut-off and at what temperature. "
            'Say it: tideover cells add ID --discharge-current 0.5A --cut-off 2.8V --ambient "25 °C"'
        ]
    said = [f"Capacities at {found.at}."]
    for title in dict.fromkeys(c.through for c in found.converted.values()):
        these = {name: c for name, c in found.converted.items() if c.through == title}
        typical = any(c.typical for c in these.values())
        whose = f"{title} of the shelf: typical, unverified" if typical else f"the fitted cell {title}"
        said.append(
            f"Measured at another condition and converted through {whose}: {named(list(these))}; "
            f"uncertain by up to {show(max(c.spread for c in these.values()), '%', 2)} for that."
        )
    plain = [name for name, c in found.converted.items() if not c.by_resistance]
    if plain:
        said.append(
            f"No resistance by direct current is known of {named(plain)}: that of the model counts. One by alternating "
            "current is not used."
        )
    if found.not_said:
        said.append(
            f"As measured, and so hard to compare: {named(list(found.not_said))}; current, cut-off or temperature of "
            "their capacity is not said."
        )
    for why in dict.fromkeys(found.failed.values()):
        said.append(f"As measured: {named([name for name, w in found.failed.items() if w == why])}; {why}.")
    return said


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
