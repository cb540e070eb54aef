"""``tideover cells draw``: a pack to scale, for the person who welds it."""

from __future__ import annotations

from pathlib import Path

import click

from tideover.cli.cells.given import read_pack
from tideover.cli.common import HOLDS, Refusal, write
from tideover.files import write_text

BOTH = "both"


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
def draw(file: str, out: str, paper: str, side: str, full_size: bool) -> int:
    """Draw a pack to scale, for the person who welds it.

    FILE describes a pack of known cells. Each side is drawn as it is seen, with the ids, the signs and the groups of
    the cells, the strips, the weld points and the wires. A pack too large for a sheet is drawn smaller, to the scale
    stated; the bar of 50 mm on each sheet tells whether the printer kept its size.

    An .html holds all sheets and prints them at their size. An .svg holds one: with several, each gets its own file,
    numbered before the ending.
    """
    ending = Path(out).suffix.lower()
    if ending not in (".svg", ".html", ".htm"):
        raise Refusal(
            f'--out "{out}" is neither an .svg nor an .html.', f"Write: --out {Path(out).stem or 'pack'}.html"
        )
    pack = read_pack(file)
    from tideover.draw.pack import SIDES, sheets
    from tideover.draw.pack_plan import plan_of
    from tideover.draw.paper import said
    from tideover.draw.sheet import page

    plan = plan_of(pack)
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
