"""``tideover cells import``: many cells from another table."""

from __future__ import annotations

from pathlib import Path

import click

from tideover.cli.cells.stock import METHODS, described, in_folder, named, plural, replaced, table
from tideover.cli.common import HOLDS, Refusal, page, write


@click.command("import")
@click.argument("file", metavar="FILE")
@click.option("--method", metavar="METHOD", default="", help='Of all its resistances: "DC 1 s", "DC 10 s", "AC 1 kHz".')
@click.option("--at", metavar="TIME", default="", help='Of voltages without a date: "2026-10-01 18:00".')
@click.option(
    "--dates", metavar="TEXT", default="", help='How dates with slashes are meant: "day first", "month first".'
)
@click.option(
    "--columns",
    metavar="TEXT",
    default="",
    help='Which column is what: "id = Cell; capacity = Cap [mAh]; resistance ="; with nothing it is left out.',
)
@click.option(
    "--each", metavar="TEXT", default="", help='What holds for every cell: "chemistry = NMC; age = 2019 scrap".'
)
@click.option("--replace", "replacing", is_flag=True, help="Let new values take the place of others.")
@in_folder
def import_(file: str, method: str, at: str, dates: str, columns: str, each: str, replacing: bool, folder: str) -> int:
    """Take cells from the table FILE into the inventory.

    Headers such as id, capacity [mAh], IR mOhm, voltage, date are recognised; what is not certain must be said.
    Rest voltages are added to those there. A cell that has another value already is a conflict: nothing at all is
    taken in until --replace allows it; what was there before is then kept in the history.

    \b
      tideover cells import tester.csv --method "DC 1 s" --each "chemistry = NMC"

    Exit status: 0 done, 2 could not.
    """
    path = table(folder, making=True)
    from tideover.cells import columns as col
    from tideover.cells.importing import Told, merge, pairs, read_table
    from tideover.cells.inventory import history_file, store

    try:
        told = Told(
            pairs(columns),
            pairs(each),
            str(col.read(col.BY_FIELD["method"], method)) if method else "",
            col.read_time(at)[0] if at else None,
            _dates(dates),
        )
    except col.WrongValueError as error:
        option = "--at" if at and "time" in error.expected else "--method"
        more = f"Methods are: {', '.join(METHODS)}." if option == "--method" else error.expected
        raise Refusal(f"{option}: {error.problem}.", more) from None
    except ValueError as error:
        option = "--columns" if columns else "--each"
        raise Refusal(f"{option}: {error}") from None
    source = Path(file)
    if path.exists() and source.exists() and source.samefile(path):
        raise Refusal(f"{file} is the inventory itself.", "Name another table.")
    rows, notes = read_table(source, told)
    was_there = path.exists()
    changes = store(path, lambda cells: merge(cells, rows, source, replacing), f"tideover cells import {source.name}")
    out = page()
    lines = [
        out.plain(f"{file}: {plural(len(rows), 'row')}"),
        *(line for n in notes for line in out.wrap(n, "  ", "    ")),
    ]
    lines += [""] + ([] if was_there else out.wrap(f"{path} was made."))
    names = {change.id for change in changes}
    fresh = {change.id for change in changes if change.column is col.COLUMNS[0]}
    lines += described(out, [change for change in changes if change.id not in fresh])
    lines += out.wrap(f"New: {named(list(dict.fromkeys(c.id for c in changes if c.id in fresh)))}") if fresh else []
    alike = len({row.id for row in rows}) - len(names)
    lines += out.wrap(f"{plural(len(fresh), 'new cell')}, {len(names - fresh)} changed, {alike} as they were.")
    if replaced(changes):
        lines += out.wrap(f"What was there before is kept in {history_file(path)}.")
    write("\n".join(lines) + "\n")
    return HOLDS


def _dates(text: str) -> str:
    from tideover.cells.columns import DATES

    said = " ".join(text.casefold().replace("-", " ").split())
    if said and said not in DATES:
        raise Refusal(f'--dates is "{text}".', f'Write: --dates "{DATES[0]}", or --dates "{DATES[1]}"')
    return said
