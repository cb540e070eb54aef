"""``tideover cells pack``: a pack of known cells under a load, cell by cell and strip by strip."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from tideover.cli.cells.draw import read_pack
from tideover.cli.cells.fit import value
from tideover.cli.common import HOLDS, Refusal, page, write, write_json
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.cells.built_pack import Shown
    from tideover.design.cell_model import BuiltPack

HOURS = 5.0
"""In which the load empties the pack where nobody states one."""
WARM = 5
"""Pieces of strip that are listed."""
WARMEST = 20.0
"""Warming of a strip past which it is said to be too thin: a usual guidance, typical, unverified. [K]"""
BETTER = 0.02
"""Share of the mean by which other places of the leads must be better to be named."""
CAUTIONS = (
    "A pack gives hundreds of amperes into a short: a fuse at the pack, tools insulated, rings off, eye protection.",
    "Weld on an insulated pack, try the weld on scrap first, and never solder to a cell's body.",
    "Bring cells to one voltage before they are joined. The makers' data and local rules prevail.",
)


@click.command("pack")
@click.argument("file")
@click.option("--current", metavar="VALUE", default="", help="Of the pack; a fifth of its capacity an hour else.")
@click.option("--ambient", metavar="VALUE", default="25 °C", show_default=True, help="Around the pack.")
@click.option("--json", "json_", is_flag=True, help="Write JSON instead of text.")
def pack(file: str, current: str, ambient: str, json_: bool) -> int:
    """Show how a pack of known cells shares its current.

    FILE is a pack file. Every cell is followed by itself through a discharge, its strips and welds between: who carries
    most and when, what is left in whom, what flows between the cells afterwards, which strip warms most, and whether
    the leads would be better soldered elsewhere.

    Exit status: 0 done, 2 could not run.
    """
    from tideover.cells.built_pack import shown
    from tideover.parts.pack import PACK

    built = read_pack(file)
    capacity = min(sum(c.capacity.nominal for c in group) for group in built.groups)
    load = value("--current", current, "A", "2 A") if current else capacity / (HOURS * 3600.0)
    if load is None or not 0.0 < load <= capacity / 60.0:
        most = show(capacity / 60.0, "A", 2)
        raise Refusal(f'--current is "{current}".', f"More than nothing is expected, up to {most}: empty in a minute.")
    air = value("--ambient", ambient, "K", "25 °C") or 298.15
    if not 230.0 < air < 350.0:
        raise Refusal(f'--ambient is "{ambient}", outside what cells bear.', 'Write, for example: --ambient "20 °C"')
    found = shown(built, PACK, load, air)
    if json_:
        write_json(_data(found))
    else:
        write("\n".join(_lines(built, found)) + "\n")
    return HOLDS


def _lines(built: BuiltPack, found: Shown) -> list[str]:
    from tideover.render.page import grid

    out = page()
    lines = [*map(out.strong, out.wrap(built.title))]
    count = f"{built.series} in series of {built.parallel} side by side"
    lines += out.wrap(f"{count}, {show(found.current, 'A')} until it is empty.")
    lost = 1.0 - found.runtime / found.even
    lines += ["", *out.wrap(
        f"It lasts {show(found.runtime, 's')}; cells that shared evenly would last {show(found.even, 's')}"
        + (f": {100 * lost:.2g} % is lost." if lost > 5e-4 else ".")
    )]  # fmt: skip
    k = int(found.largest.argmax())
    lines += out.wrap(
        f"{found.ids[k]} works hardest: {found.largest[k]:.2f} times the mean, {show(found.worst_at, 's')} after the "
        f"begin; at the begin {found.ids[int(found.begin.argmax())]} with {found.begin.max():.2f} times."
    )
    lines += out.wrap(f"Once the load stops, up to {show(found.traded, 'A', 2)} flow between the cells.")
    columns = (("cell", ""), ("group", ""), ("at the begin", ""), ("at most", ""), ("at most", "A"), ("left", "%"))
    mean = found.current / built.parallel
    rows = [
        (id, str(k // built.parallel + 1), f"{a:.3f}", f"{b:.3f}", float(b) * mean, float(left))
        for k, (id, a, b, left) in enumerate(zip(found.ids, found.begin, found.largest, found.left))
    ]
    lines += ["", out.strong("Current of each cell over the mean, and what is left in it"), *grid(out, columns, rows)]
    return [*lines, *_strips(out, found), "", *(line for said in CAUTIONS for line in out.wrap(said, "! ", "  "))]


def _strips(out: Any, found: Shown) -> list[str]:
    from tideover.render.page import grid

    if not found.spots:
        return ["", *out.wrap("The file has no key strip: strips and welds are taken to have no resistance.")]
    lines = ["", out.strong("Strips, the warmest first")]
    rows = [(s.name, s.current, s.heat, f"{s.rise:.2g} K") for s in found.spots[:WARM]]
    lines += grid(out, (("piece", ""), ("current", "A"), ("heat", "W"), ("warmer by", "")), rows)
    top = found.spots[0]
    if top.rise > WARMEST:
        lines += out.wrap(f"{top.name}: too thin for this load. A second layer, or a wider strip.")
    lines += out.wrap(f"Strips and welds add {show(found.joint, 'ohm')} for each group (typical, unverified).")
    if found.leads:
        best, worst = found.leads[0], found.leads[-1]
        now = found.as_built
        said = f"Leads: plus at the {best.plus} column and minus at the {best.minus} are the most even, "
        said += f"{best.largest:.2f} times the mean under a long load; at the {worst.plus} and the {worst.minus} it is "
        said += f"{worst.largest:.2f}. As built: {now:.2f}."
        lines += out.wrap(said + (" Move them." if now > best.largest + BETTER else " They may stay where they are."))
    return lines


def _data(found: Shown) -> dict[str, Any]:
    return {
        "form": 1,
        "current": found.current,
        "runtime": found.runtime,
        "shared evenly": found.even,
        "worst at": found.worst_at,
        "between cells": found.traded,
        "cells": [
            {"id": id, "begin": float(a), "most": float(b), "left": float(c)}
            for id, a, b, c in zip(found.ids, found.begin, found.largest, found.left)
        ],
        "strips": [{"piece": s.name, "current": s.current, "heat": s.heat, "warmer": s.rise} for s in found.spots],
        "joint resistance": found.joint,
        "leads": [vars(place) for place in found.leads],
    }
