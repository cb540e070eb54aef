"""``tideover cells list``: the cells at hand, and how those of a kind compare."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from tideover.cli.cells.stock import (
    STATUSES,
    about_conditions,
    at_one_condition,
    compared,
    in_folder,
    of_status,
    plural,
    table,
)
from tideover.cli.common import HOLDS, Refusal, page, write, write_json
from tideover.quantity import show
from tideover.render.page import NOTHING, Page, grid

if TYPE_CHECKING:
    from tideover.cells.cohorts import Cohort
    from tideover.cells.comparing import Compared
    from tideover.cells.stock import StockCell

SORTS = ("id", "capacity", "resistance", "status", "model", "arrival")


@click.command("list")
@click.option("--status", type=click.Choice(STATUSES), help="Only those of this status.")
@click.option("--model", metavar="TEXT", default="", help="Only those of this model.")
@click.option("--sort", type=click.Choice(SORTS), help="Order; the table's own otherwise.")
@at_one_condition
@click.option("--json", "json_", is_flag=True, help="Write JSON instead of text.")
@in_folder
def list_(status: str | None, model: str, sort: str | None, at: str, through: str, json_: bool, folder: str) -> int:
    """List the cells of the inventory.

    Below them the medians of those that may be compared: one model, chemistry and age class, and for resistances one
    method. A cell that stands apart from the others of its kind is marked with an asterisk.

    Capacities are shown as measured and at one condition, a current from full to a cut-off at a temperature, with one
    standard uncertainty. Those measured at another are converted through the model of a cell.

    \b
      tideover cells list --at "0.5 A to 2.8 V" --through cells/spool.yaml

    Exit status: 0 done, 2 could not.
    """
    path = table(folder)
    from tideover.cells.cohorts import cohorts
    from tideover.cells.inventory import load

    inventory = load(path)
    cells = of_status(inventory.cells, status or "", model)
    if not cells and inventory.cells:
        raise Refusal(f"No cell of {path} is of that kind.", f"It holds {plural(len(inventory.cells))}.")
    found = compared(cells, at, through)
    pairs = list(zip(cells, found.cells))
    pairs = sorted(pairs, key=lambda pair: _key(pair[1], sort)) if sort else pairs
    cells = [cell for cell, _ in pairs]
    groups = cohorts([cell for _, cell in pairs])
    if json_:
        write_json(_data(cells, groups, inventory.notes, found))
        return HOLDS
    out = page()
    lines = [out.strong(out.plain(f"{path}: {plural(len(cells))}")), *(x for n in inventory.notes for x in out.wrap(n))]
    if cells:
        lines += ["", *_table(out, pairs, groups, found)]
    if groups:
        lines += ["", *cohort_table(out, groups)]
    told = about_conditions(found)
    lines += ["", *(line for said in told for line in out.wrap(said))] if told else []
    write("\n".join(lines) + "\n")
    return HOLDS


def _key(cell: StockCell, sort: str) -> tuple[bool, Any]:
    """Those without the value come last; the largest capacity first."""
    value = getattr(cell, sort)
    if sort == "status":
        return False, STATUSES.index(value)
    if value is None or value == "":
        return True, 0
    return False, -value if sort == "capacity" else natural(value) if isinstance(value, str) else value


def natural(text: str) -> tuple[tuple[bool, Any], ...]:
    """Order in which A9 stands before A10."""
    import re

    return tuple((not p.isdigit(), int(p) if p.isdigit() else p.casefold()) for p in re.split(r"(\d+)", text) if p)


def _table(
    out: Page, pairs: list[tuple[StockCell, StockCell]], groups: tuple[Cohort, ...], found: Compared
) -> list[str]:
    odd = {(name, group.of) for group in groups for name in group.outliers}
    rows = []
    for cell, same in pairs:
        marks = {of: " *" if (cell.id, of) in odd else "" for of in ("capacity", "resistance")}
        capacity = NOTHING if cell.capacity is None else show(cell.capacity, "C") + marks["capacity"]
        there = NOTHING
        if found.at is not None and same.capacity is not None and cell.id not in {*found.not_said, *found.failed}:
            there = f"{show(same.capacity, 'C')} ±{show(same.capacity_spread, '%', 2)}"
        resistance = NOTHING
        if cell.resistance is not None:
            resistance = f"{show(cell.resistance, 'ohm')} {cell.method or '(method?)'}{marks['resistance']}"
        rest = (show(cell.rests[-1][1], "V", 4), f"{cell.rests[-1][0].date()}") if cell.rests else (NOTHING, NOTHING)
        rows.append((cell.id, cell.model or NOTHING, capacity, there, resistance, *rest, cell.status))
    heads = ("id", "model", "capacity", f"at {found.at}", "resistance", "at rest", "on", "status")
    used = [k for k in range(len(heads)) if k in (0, 2, 4, 7) or any(row[k] not in (NOTHING, "") for row in rows)]
    lines = grid(out, [(heads[k], "") for k in used], [[row[k] for k in used] for row in rows])
    told = [cell for cell, _ in pairs if cell.reason]
    lines += [""] if told else []
    return [*lines, *(x for c in told for x in out.wrap(f"{c.id}, {c.status}: {c.reason}", "  ", "    "))]


def cohort_table(out: Page, groups: tuple[Cohort, ...]) -> list[str]:
    """Medians of those that may be compared."""
    lines: list[str] = []
    for of in ("capacity", "resistance"):
        these = [group for group in groups if group.of == of]
        if not these:
            continue
        unit = these[0].unit
        heads = (f"{of} of", ""), ("n", ""), ("median", unit), ("MAD", unit), ("lowest", unit), ("highest", unit)
        rows = [
            (
                g.like,
                len(g.ids),
                g.median,
                g.mad if len(g.ids) > 1 else None,
                min(g.values),
                max(g.values),
                ", ".join(g.outliers) or NOTHING,
            )
            for g in these
        ]
        lines += [*([""] if lines else []), *grid(out, [*heads, ("stand apart", "")], rows)]
    return lines


def cell_data(cell: StockCell) -> dict[str, Any]:
    """A cell as JSON, in SI."""
    from dataclasses import asdict

    data = asdict(cell)
    data["acquired"] = cell.acquired.isoformat() if cell.acquired else None
    data["rests"] = [{"at": when.isoformat(), "volts": volts} for when, volts in cell.rests]
    return data


def condition_data(found: Compared) -> dict[str, Any]:
    """At which condition capacities were compared, and those that were converted, as JSON in SI."""
    from dataclasses import asdict

    return {
        "at": asdict(found.at) if found.at else None,
        "converted": {name: asdict(c) for name, c in found.converted.items()},
        "condition not said": list(found.not_said),
        "not converted": found.failed,
    }


def _data(
    cells: list[StockCell], groups: tuple[Cohort, ...], notes: tuple[str, ...], found: Compared
) -> dict[str, Any]:
    return {
        "form": 1,
        **condition_data(found),
        "notes": list(notes),
        "cells": [cell_data(cell) for cell in cells],
        "cohorts": [cohort_data(group) for group in groups],
    }


def cohort_data(group: Cohort) -> dict[str, Any]:
    """A cohort as JSON."""
    return {
        "of": group.of,
        "like": group.like,
        "unit": group.unit,
        "n": len(group.ids),
        "median": group.median,
        "mad": group.mad,
        "lowest": min(group.values),
        "highest": max(group.values),
        "outliers": list(group.outliers),
    }
