"""``tideover cells draw``: a pack to scale, for the person who welds it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from tideover.cli.cells.given import read_pack, single_thread, stated_load, usual_load
from tideover.cli.common import HOLDS, Refusal, write
from tideover.files import write_text

if TYPE_CHECKING:
    from tideover.design.cell_model import BuiltPack
    from tideover.draw.plan import Plan

BOTH = "both"
NO_END = 1e4
"""A rise above which there is no equilibrium. [K]"""


@click.command()
@click.argument("file")
@click.option("--out", metavar="OUT", required=True, help="Where to: a name that ends in .svg, or .html to print from.")
@click.option(
    "--paper", type=click.Choice(["A4", "letter"]), default="A4", show_default=True, help="Size of the sheets."
)
@click.option(
    "--side", type=click.Choice(["top", "bottom", BOTH]), default=BOTH, show_default=True, help="Which side to draw."
)
@click.option("--full-size", is_flag=True, help="Keep 1:1 for a pack larger than a sheet: it is cut over several.")
@click.option("--shares", is_flag=True, help="Show what each cell carries, and the hottest strip.")
@click.option("--current", metavar="CURRENT", help="Load for --shares, such as 5A; without a load, C/2 is taken.")
@click.option("--power", metavar="POWER", help="Load for --shares instead, such as 12W.")
def draw(
    file: str, out: str, paper: str, side: str, full_size: bool, shares: bool, current: str | None, power: str | None
) -> int:
    """Draw a pack to scale, for the person who welds it.

    FILE describes a pack of known cells. Each side is drawn as it is seen, with the ids, the signs and the groups of
    the cells, the strips, the weld points and the wires. A pack too large for a sheet is drawn smaller, to the scale
    stated; the bar of 50 mm on each sheet tells whether the printer kept its size.

    An .html holds all sheets and prints them at their size. An .svg holds one: with several, each gets its own file,
    numbered before the ending.

    With --shares every cell also shows its largest share of current in a discharge to the cut-off, over the mean of its
    group, as a number and as a bar; the strip that gets hottest by the usual rule is flagged.
    """
    if not shares and (current is not None or power is not None):
        raise Refusal("A load is stated, and nothing on the drawing depends on it.", "Add: --shares")
    load = stated_load(current, power)
    ending = Path(out).suffix.lower()
    if ending not in (".svg", ".html", ".htm"):
        raise Refusal(
            f'--out "{out}" is neither an .svg nor an .html.', f"Write: --out {Path(out).stem or 'pack'}.html"
        )
    single_thread()
    pack = read_pack(file)
    from tideover.draw.pack import SIDES, sheets
    from tideover.draw.pack_plan import plan_of
    from tideover.draw.paper import said
    from tideover.draw.sheet import page

    plan = _loaded(pack, load) if shares else plan_of(pack)
    made = sheets(plan, paper, SIDES if side == BOTH else (side,), full_size)
    target = Path(out)
    if ending != ".svg":
        files = [(target, page(plan.title, made))]
    elif len(made) == 1:
        files = [(target, made[0].markup())]
    else:
        files = [
            (target.with_name(f"{target.stem}-{k}{target.suffix}"), sheet.markup()) for k, sheet in enumerate(made, 1)
        ]
    for path, _ in files:
        if path.resolve() == Path(file).resolve():
            raise Refusal(f"{path} is the pack itself, which a drawing must not replace.", "Choose another --out.")
    try:
        for path, text in files:
            write_text(path, text)
    except OSError as error:
        raise Refusal(f"{path}: cannot be written ({error.strerror or error}).", "Does its folder exist?") from error
    count = f"{len(made)} sheet{'s' * (len(made) != 1)} of {paper}"
    how = " and ".join(sorted({said(sheet.scale) for sheet in made})) if plan.true else "not to scale"
    write("".join(f"{path}\n" for path, _ in files))
    write(f"{count}, {how}. {pack.series}S{pack.parallel}P, {len(plan.spots)} cell{'s' * (len(plan.spots) != 1)}.\n")
    if not plan.true:
        write("The file has no key strip: where the cells stand is not known, so that only a table is drawn.\n")
    else:
        write("".join(f"{note}\n" for note in plan.notes))
        write("Print at 100 %, then measure the bar of 50 mm.\n")
    if any(sheet.scale != 1.0 for sheet in made):
        write("It is larger than a sheet. At its true size over several: --full-size\n")
    return HOLDS


def _loaded(pack: BuiltPack, load: tuple[float | None, float | None]) -> Plan:
    """The plan with each cell's largest share as the pack is described, and with its hottest strip."""
    if pack.strip is None:
        raise Refusal(
            f"{pack.file} does not say how its cells are joined, so their shares cannot be drawn.",
            "Add, for example: strip: nickel strip 8 × 0.15 mm",
        )
    from dataclasses import replace

    from tideover.cells.as_built import assess
    from tideover.design import welded
    from tideover.draw.pack_plan import plan_of
    from tideover.parts import KINDS
    from tideover.quantity import show

    if load == (None, None):
        load = (usual_load(pack), None)
    found = assess(pack, KINDS["pack"], *load)
    said = show(load[0], "A") if load[0] is not None else show(load[1] or 0.0, "W")
    hottest = None
    if found.strips:
        h = found.strips[0]
        rise = f"{h.rise:.0f} K above the air" if h.rise < NO_END else "a rise without end"
        hottest = (
            list(welded.place(pack).segments).index(h.segment),
            f"{show(h.current, 'A', 3)}, {rise} by the usual rule ({h.case})",
        )
    plan = plan_of(pack, {c.id: c.most for c in found.cases[0].cells}, hottest)
    note = f"Shares: largest current of each cell over its group's mean, in a discharge with {said} as described."
    return replace(plan, notes=(*plan.notes, note))
