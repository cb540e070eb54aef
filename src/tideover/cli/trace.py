"""``tideover trace``: raw waveforms of a build through events."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

import click

from tideover.cli.common import COULD_NOT, HOLDS, Refusal, build_file, page, write, write_json
from tideover.files import write_file
from tideover.quantity import QuantityError, parse, show

if TYPE_CHECKING:
    from tideover.traces import Trace

STANDARD_OUTPUT = "-"
MOST_TOLD = 40
"""Happenings listed before the rest is only counted."""


class _Spoken(click.Command):
    """Takes a time as people type it, without quotes: ``--for 1 h 30 min``."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        return super().parse_args(ctx, join_time(args))


def join_time(args: list[str], option: str = "--for") -> list[str]:
    """Join the words after an option that are one time.

    Examples
    --------
    >>> join_time(["room", "--for", "3", "s", "--json"])
    ['room', '--for', '3 s', '--json']
    """
    if option not in args:
        return args
    first = args.index(option) + 1
    for last in range(min(first + 4, len(args)), first + 1, -1):
        said = " ".join(args[first:last])
        try:
            parse(said, "s")
        except QuantityError:
            continue
        return [*args[:first], said, *args[last:]]
    return args


@click.command(cls=_Spoken)
@click.argument("build")
@click.option(
    "--events", metavar="TEXT", default="", help="What happens and when, with semicolons between, as shown above."
)
@click.option("--for", "length", metavar="TIME", default="1 s", show_default=True, help="How long to follow it.")
@click.option(
    "--start",
    type=click.Choice(["full", "half", "low"]),
    default="full",
    show_default=True,
    help="Charge of the pack at the start.",
)
@click.option(
    "--out", metavar="FILE", help="Keep the waveforms in this CSV file; a single - writes them to standard output."
)
@click.option("--json", "json_", is_flag=True, help="Write JSON instead of text.")
def trace(build: str, events: str, length: str, start: str, out: str | None, json_: bool) -> int:
    """Follow a build through events and keep the raw waveforms.

    BUILD is a folder with a build.yaml in it, or the file itself. The events say what happens from outside:

    \b
      mains off at 20 ms; mains on at 2 s
      router peak at 1 s; router mean at 1.5 s; router off at 2 s
      switch open at 3 s; switch closed at 4 s

    Mains is every adapter at once; an adapter's own name does for it alone. It begins where everything stands
    still, with mains on, or off if the first event is its return. The columns are time [s], the voltage of each
    node, the current of each part (from its first terminal to its second; with more terminals, into each of them)
    and the state of each part that has states. An instant at which something switches stands twice.

    Exit status: 0 done, 2 could not run or could not be followed to the end.
    """
    until = _time(length)
    if json_ and out == STANDARD_OUTPUT:
        raise Refusal("JSON and the CSV cannot both go to standard output.", "Write: --json, or --out FILE.csv")
    target = Path(out) if out and out != STANDARD_OUTPUT else None
    if target:
        _may_write(target)
    file = build_file(build)
    from tideover.traces import trace as run

    found = run(str(file), events, until, start)
    if target:
        write_file(target, lambda stream: _csv(found, stream))
    if out == STANDARD_OUTPUT:
        write(_as_text(found))
    elif json_:
        write_json(_data(found))
    else:
        write(_summary(found, until, target))
    return HOLDS if found.whole else COULD_NOT


def _time(text: str) -> float:
    try:
        return parse(text, "s", "3 s").nominal
    except QuantityError as error:
        raise Refusal(
            f'--for is "{error.text}", {error.problem}.', error.expected, f'Write: --for "{error.mend}"'
        ) from None


def _may_write(target: Path) -> None:
    """Refuse a file that is there and is no trace: it was written by someone, and not to be lost."""
    if target.is_dir():
        raise Refusal(f"{target} is a folder.", f"Name a file in it: --out {target / 'trace.csv'}")
    if not target.parent.is_dir():
        raise Refusal(f"There is no folder {target.parent}.", "Make it first, or name another.")
    if target.exists():
        with target.open(encoding="utf-8", errors="replace") as stream:
            if not stream.read(20).startswith("time [s]"):
                raise Refusal(f"{target} is there already and is no trace; it was left as it is.", "Name another file.")


def _csv(found: Trace, stream: IO[str]) -> None:
    csv.writer(stream, lineterminator="\n").writerows(found.rows())


def _as_text(found: Trace) -> str:
    from io import StringIO

    stream = StringIO()
    _csv(found, stream)
    return stream.getvalue()


def _summary(found: Trace, until: float, target: Path | None) -> str:
    """What happened and how far every voltage went."""
    from tideover.render import text

    out = page()
    told = found.happenings()
    rows = [[show(h.at, "s", 6), h.text] for h in told[:MOST_TOLD]]
    lines = [
        *map(out.strong, out.wrap(f"{found.title}: {show(until, 's', 4)} from {found.start}")),
        *(line for note in found.notes for line in out.wrap(note)),
        "",
    ]
    said = "\n".join(lines) + "\n"
    said += text.table(out, "What happened", (("at", ""), ("what", "")), rows) if rows else "Nothing switched.\n"
    if len(told) > MOST_TOLD:
        said += f"  and {len(told) - MOST_TOLD} more\n"
    volts = [
        (name, low, show(low_at, "s", 4), high, show(high_at, "s", 4))
        for name, unit, low, low_at, high, high_at in found.extremes()
        if unit == "V"
    ]
    columns = (("node", ""), ("lowest", "V"), ("at", ""), ("highest", "V"), ("at", ""))
    said += "\n" + text.table(out, "How far each voltage went", columns, volts) + "\n"
    kept = (
        f"Waveforms: {target}, {len(found.times)} rows of {len(found.headers)} columns."
        if target
        else f"The waveforms ({len(found.times)} points) were not kept; add: --out trace.csv"
    )
    return said + "\n".join(out.wrap(kept)) + "\n"


def _data(found: Trace) -> dict[str, Any]:
    from tideover.render.data import FORM, plain

    return {
        "form": FORM,
        "title": found.title,
        "start": found.start,
        "whole": found.whole,
        "notes": list(found.notes),
        "events": [{"at": h.at, "what": h.text, "part": h.part} for h in found.happenings()],
        "time": plain(found.times),
        "columns": [
            {"name": c.name, "unit": c.unit, "header": c.header, "values": plain(array)}
            for c, array in zip(found.columns, found.arrays)
        ],
    }
