"""``tideover cells add``: a cell, or further readings of one that is there."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

import click

from tideover.cli.cells.stock import METHODS, described, in_folder, replaced, table
from tideover.cli.common import HOLDS, Refusal, page, write

if TYPE_CHECKING:
    from tideover.cells.stock import StockCell


class _Spoken(click.Command):
    """Takes values as people type them, without quotes: ``--method DC 1 s``."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        return super().parse_args(ctx, join_values(args))


def join_values(args: list[str]) -> list[str]:
    """Join the words after an option, where the cell's id came first and cannot be among them.

    Examples
    --------
    >>> join_values(["A1", "--method", "DC", "1", "s", "--capacity", "2.1", "Ah"])
    ['A1', '--method', 'DC 1 s', '--capacity', '2.1 Ah']
    """
    if not args or args[0].startswith("-"):
        return args
    out: list[str] = []
    for word in args:
        if len(out) > 2 and not word.startswith("--") and not out[-1].startswith("--"):
            out[-1] = f"{out[-1]} {word}"
        else:
            out.append(word)
    return out


@click.command(cls=_Spoken)
@click.argument("cell_id", metavar="ID")
@click.option("--model", metavar="TEXT", help="What its sleeve says, or a name on the shelf.")
@click.option("--chemistry", metavar="WORD", help="NMC, NCA, LFP, LTO, LCO or PbA.")
@click.option("--source", metavar="TEXT", help="Where it came from.")
@click.option("--acquired", metavar="DATE", help="When it came: 2026-09-12.")
@click.option("--age", metavar="TEXT", help="Your word for its age class; classes are not mixed.")
@click.option("--nameplate", metavar="CHARGE", help="Stated when new: 2.6Ah.")
@click.option("--capacity", metavar="CHARGE", help="Measured: 2.1Ah.")
@click.option("--capacity-spread", metavar="SHARE", help="Standard uncertainty of it: 1%.")
@click.option("--discharge-current", metavar="CURRENT", help="At which the capacity was measured: 0.5A.")
@click.option("--cut-off", "cutoff", metavar="VOLTS", help="To which it was discharged for that: 2.8V.")
@click.option("--ambient", metavar="TEMPERATURE", help='Around the cell meanwhile: "25 °C".')
@click.option("--resistance", metavar="OHMS", help="Measured: 65mohm. Its method must be said.")
@click.option("--method", metavar="METHOD", help='"DC 1 s", "DC 10 s" or "AC 1 kHz".')
@click.option("--resistance-spread", metavar="SHARE", help="Standard uncertainty of it: 3%.")
@click.option("--arrival", metavar="VOLTS", help="When it came: 3.61V.")
@click.option(
    "--rest",
    "rests",
    metavar="TEXT",
    multiple=True,
    help='A voltage at rest: "4.182 V at 2026-10-01 18:00"; without a time it is now. May be repeated.',
)
@click.option("--heating", metavar="KELVIN", help="Rise over its neighbours during charge: 4K.")
@click.option("--status", metavar="WORD", help="new, good, quarantine, rejected or used.")
@click.option("--reason", metavar="TEXT", help="Why it is in quarantine or rejected.")
@click.option("--notes", metavar="TEXT", help="Free words; they are added to those there.")
@in_folder
def add(cell_id: str, folder: str, rests: tuple[str, ...], **said: str | None) -> int:
    """Add the cell ID, or further readings of it.

    A rest voltage is added to those there. Any other value takes the place of the one before, which is told and kept
    in the history, cells/inventory.log.csv.

    \b
      tideover cells add A17 --model "NMC 18650 2.6 Ah" --chemistry NMC
      tideover cells add A17 --resistance 65mohm --method "DC 1 s"
      tideover cells add A17 --rest "4.182 V at 2026-10-01 18:00"

    Exit status: 0 done, 2 could not.
    """
    path = table(folder, making=True)
    from tideover.cells.inventory import history_file, store
    from tideover.cells.stock import StockCell

    name = " ".join(cell_id.split())
    values = _values(name, said, rests)
    was_there = path.exists()

    def edit(cells: tuple[StockCell, ...]) -> list[StockCell]:
        there = {cell.id: cell for cell in cells}
        alike = next((other for other in there if other.casefold() == name.casefold()), name)
        if alike != name:
            raise Refusal(f"{name} is too much like {alike}, which is there.", f"Write: {alike}, or another id.")
        return [_with(there.get(name, StockCell(name)), values)]

    changes = store(path, edit, "tideover cells add")
    out = page()
    lines = [] if was_there else out.wrap(f"{path} was made.")
    lines += described(out, changes) if changes else out.wrap(f"{name} has these values already; nothing was changed.")
    if replaced(changes):
        lines += out.wrap(f"What was there before is kept in {history_file(path)}.")
    write("\n".join(lines) + "\n")
    return HOLDS


def _values(name: str, said: dict[str, str | None], rests: tuple[str, ...]) -> dict[str, Any]:
    """Values in SI; every fault in one report."""
    from tideover.cells import columns as col

    texts = {field: text for field, text in said.items() if text is not None}
    faults: list[str] = []
    values: dict[str, Any] = {}
    for field, text in [("id", name), *texts.items()]:
        option = "ID" if field == "id" else "--cut-off" if field == "cutoff" else f"--{field.replace('_', '-')}"
        try:
            if not text.strip():
                raise col.WrongValueError(
                    "nothing", "A value is expected.", "Leave the option out to keep what is there."
                )
            values[field] = col.read(col.BY_FIELD[field], text)
        except col.WrongValueError as error:
            faults.append(_fault(option, error))
    for text in rests:
        try:
            alone = re.fullmatch(r"\s*[-+]?[\d.,]+\s*[a-zA-Z]+\s*", text)
            timed = f"{text} at {datetime.now():%Y-%m-%dT%H:%M}" if alone else text
            values["rests"] = (*values.get("rests", ()), *col.read_rests(timed, ""))
        except col.WrongValueError as error:
            faults.append(_fault("--rest", error))
    if "resistance" in texts and "method" not in texts:
        methods = ", ".join(f'"{method}"' for method in METHODS)
        faults.append(
            "--resistance has no --method.\n   Methods differ by up to a factor of two and are never mixed.\n"
            f"   Add one of: {methods}"
        )
    if faults:
        raise Refusal("\n".join(faults))
    values.pop("id")
    return values


def _fault(option: str, error: Any) -> str:
    return "\n   ".join(filter(None, (f"{option}: {error.problem}.", error.expected, error.mend)))


def _with(cell: StockCell, values: dict[str, Any]) -> StockCell:
    """The cell with new values; what contradicts a reading that is there is refused."""
    from tideover.cells.importing import united
    from tideover.cells.inventory import same
    from tideover.cells.stock import CONDITIONS

    values = dict(values)
    if "capacity" in values and cell.capacity is not None and not same(values["capacity"], cell.capacity):
        values = dict.fromkeys(CONDITIONS) | values  # how another one was measured says nothing of this one
    if "rests" in values:
        given, twice = united((), values["rests"])
        values["rests"], clash = united(cell.rests, given)
        if clash or twice or len(given) < len(set(values["rests"]) - set(cell.rests)):
            when, volts = (clash or twice)[0]
            raise Refusal(
                f"{cell.id} had {volts:g} V at {when.isoformat(' ', 'minutes')}; one instant has one voltage.",
                "Give the right time, or correct the table by hand.",
            )
    if values.get("notes") and cell.notes and values["notes"] not in cell.notes:
        values["notes"] = f"{cell.notes}; {values['notes']}"
    if values.get("status") in ("quarantine", "rejected") and not (values.get("reason") or cell.reason):
        raise Refusal(f"{cell.id} is {values['status']}, but why is not said.", 'Add: --reason "dent beside the ring"')
    return replace(cell, **values)
