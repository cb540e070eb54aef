"""``tideover cells group``: cells of the inventory into groups that are alike."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tideover.cells.stock import METHODS
from tideover.cli.cells.stock import about_conditions, at_one_condition, compared, in_folder, table
from tideover.cli.common import FAILS, HOLDS, Refusal, page, write, write_json
from tideover.files import write_text

if TYPE_CHECKING:
    from tideover.cells.balance import Balance
    from tideover.cells.choosing import Choice, Wish
    from tideover.cells.comparing import Compared
    from tideover.cells.grouping import Grouping
    from tideover.cells.groups_file import Old
    from tideover.cells.stock import StockCell

MOST = 10_000
"""Cells of the largest pack that is grouped."""


@click.command(short_help="Choose cells and put them into like groups.")
@click.option("--series", type=click.IntRange(1, MOST), required=True, metavar="S", help="Groups in series.")
@click.option(
    "--parallel", type=click.IntRange(1, MOST), required=True, metavar="P", help="Cells side by side in each."
)
@click.option("--chemistry", metavar="WORD", default="", help="Only cells of it, such as NMC or LFP.")
@click.option("--model", metavar="TEXT", default="", help="Only cells of this model.")
@click.option("--age", metavar="TEXT", default="", help="Only cells of this age class.")
@click.option("--method", type=click.Choice(METHODS), help="Only resistances by this method.")
@click.option(
    "--mix",
    type=click.Choice(["model", "age"]),
    multiple=True,
    help="Allow groups of different model or age in series; may be said twice.",
)
@click.option("--ignore-resistance", is_flag=True, help="Group by capacity alone.")
@click.option("--out", metavar="FILE", help="Write the pack file, such as cells/pack.yaml.")
@click.option("--title", metavar="TEXT", default="", help="Of the pack file.")
@click.option("--cell", metavar="CELL", default="", help="Fitted cell file beside it, or a cell of the shelf.")
@click.option("--replace", "replace_", is_flag=True, help="Change the groups of a pack file that is there.")
@click.option("--use", is_flag=True, help="Mark the cells as used in the inventory.")
@click.option("--seed", type=click.IntRange(0, 2**63 - 1), default=1, show_default=True, help="Seed of the exchanges.")
@at_one_condition
@in_folder
@click.option("--json", "json_", is_flag=True, help="Write JSON instead of text.")
def group(
    series: int,
    parallel: int,
    folder: str,
    chemistry: str,
    model: str,
    age: str,
    method: str | None,
    mix: tuple[str, ...],
    ignore_resistance: bool,
    out: str | None,
    title: str,
    cell: str,
    replace_: bool,
    use: bool,
    seed: int,
    at: str,
    through: str,
    json_: bool,
) -> int:
    """Choose cells for a pack and put them into groups that are alike.

    The best cells of one chemistry, model and age class are chosen from the inventory, none that are rejected, in
    quarantine or used, and exchanged until the groups are alike in capacity and in conductance. Told are the groups,
    the spread left, how far the weakest group is from what is possible at all, what that costs, and why the other
    cells stay out. Capacities are compared at one condition, as `tideover cells list` does.

    Exit status: 0 done, 1 done but the groups are too unlike, 2 could not.
    """
    from tideover.cells.choosing import Wish

    if series * parallel > MOST:
        raise Refusal(f"{series} × {parallel} cells are more than {MOST}.", "Group one module of the pack at a time.")
    if out is None and (title or cell or replace_ or use):
        said = next(
            o for o, on in (("--title", title), ("--cell", cell), ("--replace", replace_), ("--use", use)) if on
        )
        raise Refusal(f"{said} has no pack file to go with.", "Name one: --out cells/pack.yaml")
    mix = tuple(word for word in ("model", "age") if word in mix)
    wish = Wish(series, parallel, mix, chemistry, model, age, method or "", not ignore_resistance)
    target = Path(out) if out else None
    old = _old(target, replace_, cell) if target else None
    inventory = table(folder)
    stock, freed = _stock(inventory, old)
    same = compared(stock, at, through or _beside(target, cell))
    choice, grouping = _grouped(same.cells, wish, seed)
    choice = replace(choice, notes=(*choice.notes, *about_conditions(same)))
    from tideover.cells.balance import balance

    figures = balance(choice.cells, grouping)
    done: list[str] = []
    if target:
        groups = [[choice.cells[k] for k in row] for row in grouping.groups]
        done = _keep(target, old, groups, seed, title, cell, str(same.at or ""))
        done += _mark(inventory, choice, grouping, freed, f"tideover cells group --out {target}", use)
    from tideover.cli.cells import grouped

    if json_:
        write_json(_data(choice, grouping, figures, seed, target, done, same))
    else:
        write("\n".join(grouped.report(page(), choice, grouping, figures, seed, done)) + "\n")
    return FAILS if grouped.status(figures) == "fails" else HOLDS


# --- before ---------------------------------------------------------------------------------------


def _old(target: Path, replace_: bool, cell: str) -> Old | None:
    """The pack file that is there; refuses what must not or cannot be written, before anything is computed."""
    from tideover.cells.groups_file import read_old

    if target.is_dir():
        raise Refusal(f"{target} is a folder.", f"Name a file in it: --out {target / 'pack.yaml'}")
    if target.suffix.lower() not in (".yaml", ".yml"):
        raise Refusal(f"{target} is not called like a pack file.", f"Write: --out {target.with_suffix('.yaml')}")
    if not target.parent.is_dir():
        raise Refusal(f"There is no folder {target.parent}.", "Make it first, or name another.")
    if cell:
        _check_cell(target, cell)
    if not target.exists():
        return None
    if not replace_:
        raise Refusal(
            f"{target} is there already and was left as it is.",
            "Name another file, or put new groups into this one: --replace",
        )
    return read_old(target)


def _beside(target: Path | None, cell: str) -> str:
    """A fitted cell's file, which stands beside the pack file, as a path from here; a cell of the shelf as it is."""
    is_file = target is not None and Path(cell).suffix.lower() in (".yaml", ".yml")
    return str(target.parent / cell) if is_file and target else cell


def _check_cell(target: Path, cell: str) -> None:
    from tideover.shelf import find, items, nearest

    if Path(cell).suffix.lower() in (".yaml", ".yml"):
        if not (target.parent / cell).is_file():
            raise Refusal(f"There is no cell file {target.parent / cell}.", "It is sought beside the pack file.")
        return
    item = find(cell)
    if item is None or item.kind != "cell":
        cells = {i.name for i in items() if i.kind == "cell"}
        near = [name for name in nearest(cell) if name in cells] or sorted(cells)
        raise Refusal(
            f'"{cell}" is no cell of the shelf.', f"There are: {'; '.join(near[:6])}.", "See: tideover parts cell"
        )


def _stock(inventory: Path, old: Old | None) -> tuple[tuple[StockCell, ...], frozenset[str]]:
    """The cells, and those used by just the pack file that is to be replaced, which are free for it."""
    from tideover.cells.inventory import read_inventory

    stock = read_inventory(inventory)
    freed = frozenset(c.id for c in stock if old and c.status == "used" and c.id in old.ids)
    return tuple(replace(c, status="good") if c.id in freed else c for c in stock), freed


def _grouped(stock: tuple[StockCell, ...], wish: Wish, seed: int) -> tuple[Choice, Grouping]:
    import numpy as np

    from tideover.cells.choosing import CannotChoose, choose
    from tideover.cells.grouping import group_cells

    try:
        choice = choose(stock, wish)
    except CannotChoose as error:
        raise Refusal(error.problem, *error.mends) from None
    # The order of the ids decides among equals, not that of the file.
    choice = _ordered(choice)
    capacity = [c.capacity for c in choice.cells]
    resistance = [c.resistance for c in choice.cells] if wish.resistance else None
    rng = np.random.default_rng(seed)
    found = group_cells(
        np.array(capacity, dtype=float),
        None if resistance is None else np.array(resistance, dtype=float),
        choice.kinds,
        wish.series,
        wish.parallel,
        rng,
        bool(wish.mix),
    )
    return choice, found


def _ordered(choice: Choice) -> Choice:
    from tideover.cells.choosing import by_id

    order = sorted(range(len(choice.cells)), key=lambda k: by_id(choice.cells[k].id))
    return replace(choice, cells=tuple(choice.cells[k] for k in order), kinds=tuple(choice.kinds[k] for k in order))


# --- after ----------------------------------------------------------------------------------------


def _keep(
    target: Path, old: Old | None, groups: list[list[StockCell]], seed: int, title: str, cell: str, at: str
) -> list[str]:
    """Write the pack file; what was done, in sentences."""
    from tideover.cells.groups_file import Pack, place_for_old, rewritten, too_large, written

    pack = Pack(groups, seed, title, cell, at)
    text = rewritten(old, pack) if old else written(pack)
    if too_large(text):
        raise Refusal(f"{target} would be too large to be read again.", "Group one module of the pack at a time.")
    if old is None:
        write_text(target, text)
        return [f"Pack file: {target}."]
    before = place_for_old(target)
    write_text(before, old.text)
    write_text(target, text)
    done = [f"Pack file: {target}; as it was before it is kept in {before}."]
    if old.others:
        done.append(f"Kept in it: {', '.join(old.others)}. See whether that still fits these groups.")
    return done


def _mark(
    inventory: Path, choice: Choice, grouping: Grouping, freed: frozenset[str], command: str, use: bool
) -> list[str]:
    """Enter in the inventory which cells are used, if asked for; what was done, in sentences."""
    chosen = {choice.cells[k].id for row in grouping.groups for k in row}
    leave = freed - chosen
    if not use:
        if leave:
            return [f"{len(leave)} cells left the pack and are still marked as used; --use marks all anew."]
        return [] if chosen <= freed else ["The inventory was not changed; mark the cells as used with: --use"]
    from tideover.cells.inventory import store

    def edit(cells: tuple[StockCell, ...]) -> list[StockCell]:
        used = [replace(c, status="used") for c in cells if c.id in chosen]
        return used + [replace(c, status="new") for c in cells if c.id in leave]

    store(inventory, edit, command)
    done = [f"{len(chosen)} cells are marked as used in {inventory}."]
    if leave:
        done.append(f"{len(leave)} that left the pack are new again, to be screened before they go elsewhere.")
    return done


def _data(
    choice: Choice,
    grouping: Grouping,
    figures: Balance,
    seed: int,
    target: Path | None,
    done: list[str],
    same: Compared,
) -> dict[str, Any]:
    from tideover.cells.choosing import all_out
    from tideover.cli.cells import grouped
    from tideover.cli.cells.list import condition_data
    from tideover.render.data import FORM, plain

    def each(values: Any, k: int) -> Any:
        return None if values is None else plain(float(values[k]))

    return {
        "form": FORM,
        "status": grouped.status(figures),
        "seed": seed,
        "series": len(grouping.groups),
        "parallel": len(grouping.groups[0]),
        "chemistry": choice.cells[0].chemistry,
        "method": choice.method,
        **condition_data(same),
        "groups": [
            {
                "cells": [choice.cells[i].id for i in row],
                "capacity": float(figures.capacity[k]),
                "uncertainty": float(figures.uncertainty[k]),
                "resistance": each(figures.resistance, k),
                "half range": each(figures.within, k),
                "largest share": each(figures.share, k),
            }
            for k, row in enumerate(grouping.groups)
        ],
        "usable": grouping.smallest,
        "matched": grouping.matched,
        "bound": grouping.bound,
        "spread": grouping.spread,
        "expected loss by measuring": figures.expected_loss,
        "weighed": grouping.weighed,
        "out": [{"cell": cell.id, "why": why} for cell, why in all_out(choice, grouping)],
        "notes": [*choice.notes, *done],
        "file": str(target) if target else None,
    }
