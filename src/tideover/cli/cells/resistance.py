"""``tideover cells resistance``: resistances from the steps of a log, by stated method."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from tideover.cli.cells.given import logs_of, value
from tideover.cli.common import HOLDS, page, write, write_json
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.cells.pulses import PulseReading

METHODS = ("DC 1 s", "DC 10 s")
"""Names of the two methods, as the inventory has them."""


@click.command("resistance")
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
@click.option("--capacity", metavar="VALUE", default="", help="Of the cell, to tell its charge where steps were made.")
@click.option("--json", "json_", is_flag=True, help="Write JSON instead of text.")
def resistance(files: tuple[str, ...], capacity: str, json_: bool) -> int:
    """Read a cell's resistance from the steps of its current.

    For every step of each FILE: the drop for each ampere one second (DC 1 s) and ten seconds (DC 10 s) after it, with
    the drift before it taken off, and its uncertainty. Where rows are too far apart there is none. The two differ, and
    both differ from a reading at one kilohertz (AC 1 kHz): compare only like with like.

    Exit status: 0 done, 2 could not run.
    """
    from tideover.cells.pulses import readings

    whole = value("--capacity", capacity, "C", "2.5 Ah")
    logs = logs_of(files)
    found = [(log.name, readings(log)) for log in logs]
    if json_:
        write_json([{"file": name, "steps": [_data(r) for r in steps]} for name, steps in found])
    else:
        write("\n\n".join("\n".join(_lines(name, steps, whole)) for name, steps in found) + "\n")
    return HOLDS


def _lines(name: str, steps: tuple[PulseReading, ...], whole: float | None) -> list[str]:
    from tideover.render.page import grid

    out = page()
    lines = [*map(out.strong, out.wrap(name))]
    if not steps:
        return [*lines, *out.wrap("No step of its current can be read: before it, the current must be steady for 5 s.")]
    charge = "charge" if whole else "taken out"
    columns = (("after", "s"), (charge, "%" if whole else "C"), ("step", "A"), ("at", "K"), *((m, "") for m in METHODS))
    rows = []
    for r in steps:
        where = 1.0 - r.discharged / whole if whole else r.discharged
        temp = r.temp if r.temp == r.temp else None
        rows.append((r.t, where, r.step, temp, *(_ohms(a, b) for a, b in zip(r.resistance, r.spread))))
    lines += grid(out, columns, rows)
    return [*lines, *out.wrap("± is one standard uncertainty; a dash: the rows do not tell.")]


def _ohms(ohms: float, spread: float) -> str:
    return f"{show(ohms, 'ohm', 3)} ±{show(spread, 'ohm', 1)}" if ohms == ohms else "–"


def _data(r: PulseReading) -> dict[str, Any]:
    def known(x: float) -> float | None:
        return x if x == x else None

    return {
        "time": r.t,
        "taken out": r.discharged,
        "step": r.step,
        "temperature": known(r.temp),
        **{m: {"ohm": known(a), "spread": known(b)} for m, a, b in zip(METHODS, r.resistance, r.spread)},
    }
