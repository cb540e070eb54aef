"""``tideover cells labels``: a sheet of labels to print."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import click

from tideover.cli.cells.stock import STATUSES, in_folder, of_status, plural, table
from tideover.cli.common import HOLDS, Refusal, page, write
from tideover.files import write_text
from tideover.quantity import QuantityError, parse

FORMS = (".html", ".svg")
SIGN = "Labels for cells"
"""By which a file of ours is known that may be replaced."""
LEAST, MOST = 1, 40
"""Labels in a row or a column."""


@click.command()
@click.argument("ids", metavar="[ID]...", nargs=-1)
@click.option("--status", type=click.Choice(STATUSES), help="Only those of this status.")
@click.option("--model", metavar="TEXT", default="", help="Only those of this model.")
@click.option("--paper", type=click.Choice(("A4", "letter")), default="A4", show_default=True, help="Of the sheets.")
@click.option("--rows", type=click.IntRange(LEAST, MOST), help="Labels below each other; 10 unless said.")
@click.option("--columns", type=click.IntRange(LEAST, MOST), help="Labels side by side; 4 unless said.")
@click.option("--size", metavar="SIZE", default="", help='Of a label instead: "38 x 21 mm".')
@click.option("--skip", type=click.IntRange(0, 10_000), default=0, help="Labels of the first sheet that are used up.")
@click.option("--out", metavar="FILE", default="labels.html", show_default=True, help="To write; .html or .svg.")
@in_folder
def labels(
    ids: tuple[str, ...],
    status: str | None,
    model: str,
    paper: str,
    rows: int | None,
    columns: int | None,
    size: str,
    skip: int,
    out: str,
    folder: str,
) -> int:
    """Make a sheet of labels for the cells, or for each ID.

    A label has the id in big letters and as a QR code, the kind of cell, capacity, resistance with its method, the
    status and today's date. Print it at 100 %, without fitting it to the page.

    Exit status: 0 done, 2 could not.
    """
    path = table(folder)
    target = Path(out)
    _may_write(target)
    from tideover.cells import labels as make
    from tideover.cells.inventory import read_inventory

    everyone = read_inventory(path)
    missing = [name for name in ids if name not in {cell.id for cell in everyone}]
    if missing:
        raise Refusal(f"There is no cell {', '.join(missing)} in {path}.", "See: tideover cells list")
    cells = [cell for cell in of_status(everyone, status or "", model) if not ids or cell.id in ids]
    if not cells:
        raise Refusal(f"No cell of {path} is of that kind.", "See: tideover cells list")
    if size and (rows or columns):
        raise Refusal("--size and --rows or --columns contradict each other.", "Give the one or the others.")
    try:
        sheet = make.of_size(paper, *_size(size)) if size else make.in_grid(paper, columns or 4, rows or 10)
        if skip >= sheet.labels:
            raise Refusal(f"--skip is {skip}, but a sheet has {sheet.labels} labels.", "Give a smaller number.")
        drawings = make.sheets(cells, sheet, date.today(), skip)
    except ValueError as error:
        raise Refusal(str(error), 'Give larger labels, such as: --size "38 x 21 mm"') from None
    if target.suffix == ".html":
        files = [target]
        write_text(target, make.page(drawings, sheet))
    else:
        files = [target if len(drawings) == 1 else _numbered(target, k) for k in range(1, len(drawings) + 1)]
        for file in files:
            _may_write(file)
        for file, drawing in zip(files, drawings):
            write_text(file, drawing)
    said = (
        f"{', '.join(map(str, files))}: {plural(len(cells), 'label')} of {sheet.width:.1f} x {sheet.height:.1f} mm, "
        f"{sheet.columns} by {sheet.rows} on {plural(len(drawings), 'sheet')} of {sheet.paper}. "
        "Print at 100 %, first on plain paper, and hold it against the label paper."
    )
    write("\n".join(page().wrap(said)) + "\n")
    return HOLDS


def _numbered(target: Path, k: int) -> Path:
    return target.with_name(f"{target.stem}-{k}{target.suffix}")


def _size(text: str) -> tuple[float, float]:
    """Width and height in millimetres; a unit that only the second has holds for both."""
    parts = re.split(r"\s*[x×*]\s*|\s+by\s+", text.strip())
    try:
        if len(parts) != 2:
            raise ValueError
        unit = re.sub(r"[\d.,\s]", "", parts[1])
        given = [part if re.search(r"[a-z]", part) else f"{part} {unit}" for part in parts]
        width, height = (parse(part, "m", "38 mm").nominal * 1e3 for part in given)
        if not (5.0 <= width <= 300.0 and 5.0 <= height <= 300.0):
            raise ValueError
    except (QuantityError, ValueError):
        expected = "Width and height of a label are expected, from 5 mm to 300 mm."
        raise Refusal(f'--size is "{text}".', expected, 'Write: --size "38 x 21 mm"') from None
    return width, height


def _may_write(target: Path) -> None:
    """Refuse what is no sheet of labels: it was written by someone, and not to be lost."""
    if target.suffix not in FORMS:
        raise Refusal(f'--out is "{target}".', f"Its name ends in {' or '.join(FORMS)}.", "Write: --out labels.html")
    if not target.parent.is_dir():
        raise Refusal(f"There is no folder {target.parent}.", "Make it first, or name another.")
    if target.is_dir():
        raise Refusal(f"{target} is a folder.", f"Name a file in it: --out {target / 'labels.html'}")
    if target.exists() and SIGN not in target.read_text(encoding="utf-8", errors="replace")[:2000]:
        raise Refusal(f"{target} is there already and holds no labels; it was left as it is.", "Name another file.")
