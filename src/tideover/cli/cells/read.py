"""``tideover cells read``: what a logger's file holds, how it was understood, and what must be stated."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

import click

from tideover.cli.common import COULD_NOT, HOLDS, Refusal, complain, page, write, write_json
from tideover.files import write_file
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.cells.log import Log
    from tideover.cells.log_parts import Part
    from tideover.cells.log_read import Reading
    from tideover.render.page import Page

FIRST_WORDS = "time [s],voltage [V],current [A]"
"""Begin of a tidy copy; a file that begins otherwise is never replaced."""
MOST_PARTS = 12
"""Parts listed before the rest is only counted."""
HEIGHT = 9


@click.command("read")
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
@click.option(
    "--columns", metavar="TEXT", default="", help='In order: "time [s], voltage, -"; or by name: "voltage=U1".'
)
@click.option("--discharge", metavar="SIGN", default="", help="Sign of the current on discharge: positive or negative.")
@click.option("--current", metavar="VALUE", default="", help="Constant current of the load, where no column has it.")
@click.option("--resistor", metavar="VALUE", default="", help="Load resistor, where no column has the current.")
@click.option(
    "--power", metavar="VALUE", default="", help="Constant power of the load, where no column has the current."
)
@click.option("--every", metavar="TIME", default="", help="Time between two rows, where no column has it.")
@click.option("--dates", metavar="ORDER", default="", help="Dates with the year last: day-first or month-first.")
@click.option("--decimal", metavar="MARK", default="", help="Decimal mark: point or comma.")
@click.option("--units", metavar="TEXT", default="", help='Units the file does not tell: "time=min, current=mA".')
@click.option("--out", metavar="FILE", default="", help="Write a tidy copy in SI, discharge positive; of one FILE.")
@click.option("--json", "json_", is_flag=True, help="Write JSON instead of text.")
def read(files: tuple[str, ...], out: str, json_: bool, **stated: str) -> int:
    """Read discharge logs as any logger writes them.

    FILE is a text file with one row a sample. Delimiter, decimal mark, header, units, kind of time and sign of the
    current are recognised where they are certain; where not, the message names the option that states it. What is
    stated is kept beside the file, in FILE.read.yaml, and not asked again; options override it. The file itself is
    never written to.

    Exit status: 0 all could be read, 2 some could not; the others are told all the same.
    """
    from tideover.cells import log_read, log_sidecar
    from tideover.design.messages import BuildError

    if out and len(files) > 1:
        raise Refusal("--out is for one FILE.", "Read them one by one.")
    if out:
        _may_write(Path(out), [Path(f) for f in files])
    said = log_sidecar.statement("the options", **stated)
    told: list[str] = []
    data: list[dict[str, Any]] = []
    status = HOLDS
    for name in files:
        try:
            found = log_read.read(name, said)
        except BuildError as error:
            complain(str(error).replace("nothing was computed", "nothing was read"))
            data.append({"file": name, "read": False, "faults": [_fault(f) for f in error.faults]})
            status = COULD_NOT
            continue
        kept = _keep(Path(name), found)
        if out:
            write_file(Path(out), lambda stream, log=found.log: _csv(log, stream))  # type: ignore[misc]
        if json_:
            data.append(_data(name, found, kept))
        else:
            told.append("\n".join(_said(page(), found, kept, out)) + "\n")
    if json_:
        from tideover.render.data import FORM

        write_json({"form": FORM, "logs": data})
    else:
        write("\n".join(told))
    return status


def _keep(path: Path, found: Reading) -> str:
    """Write the sidecar; what could not be written is told, for the log was read all the same."""
    from tideover.cells import log_sidecar

    try:
        written = log_sidecar.save(path, found.log.digest, found.stated, found.decided)
    except OSError as error:
        return f"{log_sidecar.place_of(path)} could not be written: {error.strerror or error}."
    place = log_sidecar.place_of(path)
    return f"Kept in {place}." if written else f"{place} says so already."


def _may_write(target: Path, logs: list[Path]) -> None:
    """Refuse to replace what is no tidy copy, or a log itself."""
    if target.is_dir():
        raise Refusal(f"{target} is a folder.", f"Name a file in it: --out {target / 'tidy.csv'}")
    if not target.parent.is_dir():
        raise Refusal(f"There is no folder {target.parent}.", "Make it first, or name another.")
    if any(log.exists() and target.exists() and target.samefile(log) for log in logs):
        raise Refusal(f"{target} is the log itself, which is never written to.", "Name another file.")
    if target.exists():
        with target.open(encoding="utf-8", errors="replace") as stream:
            if not stream.read(len(FIRST_WORDS)).startswith(FIRST_WORDS):
                raise Refusal(
                    f"{target} is there already and is no tidy copy; it was left as it is.", "Name another file."
                )


def _csv(log: Log, stream: IO[str]) -> None:
    """The record in SI; an empty row stands where it begins anew."""
    rows = csv.writer(stream, lineterminator="\n")
    rows.writerow([*FIRST_WORDS.split(","), "temperature [degC]", "discharged [Ah]"])
    charge = log.charge
    for k in range(len(log.t)):
        temp = "" if log.temp is None or log.temp[k] != log.temp[k] else f"{log.temp[k] - 273.15:.6g}"
        rows.writerow([f"{log.t[k]:.12g}", f"{log.v[k]:.9g}", f"{log.i[k]:.9g}", temp, f"{charge[k] / 3600.0:.9g}"])


# --- told ------------------------------------------------------------------------------------------


def _figures(log: Log) -> dict[str, Any]:
    """What the record holds, in SI."""
    import numpy as np

    charge = log.charge
    steps = np.diff(charge)
    power = 0.5 * (log.v[1:] + log.v[:-1]) * steps
    return {
        "rows": len(log.t),
        "span": float(log.t[-1]),
        "lowest voltage": float(log.v.min()),
        "highest voltage": float(log.v.max()),
        "lowest current": float(log.i.min()),
        "highest current": float(log.i.max()),
        "lowest temperature": None if log.temp is None or np.isnan(log.temp).all() else float(np.nanmin(log.temp)),
        "highest temperature": None if log.temp is None or np.isnan(log.temp).all() else float(np.nanmax(log.temp)),
        "charge out": float(steps[steps > 0].sum()),
        "charge in": float(-steps[steps < 0].sum()),
        "energy out": float(power[steps > 0].sum()),
        "energy in": float(-power[steps < 0].sum()),
    }


def _said(out: Page, found: Reading, kept: str, copy: str) -> list[str]:
    from tideover.answers.base import Series
    from tideover.cells.log_parts import parts_of
    from tideover.quantity import show_range
    from tideover.render.chart import chart
    from tideover.render.page import grid

    log = found.log
    f = _figures(log)
    lines = [*map(out.strong, out.wrap(log.name))]
    began = f", in {len(log.breaks) + 1} pieces" if log.breaks else ""
    lines += out.wrap(f"{f['rows']} rows over {show(f['span'], 's', 4)}{began}", "  ")
    lines += out.wrap(f"voltage {show_range(f['lowest voltage'], f['highest voltage'], 'V', 4)}", "  ")
    lines += out.wrap(
        f"current {show_range(f['lowest current'], f['highest current'], 'A', 4)}, discharge positive", "  "
    )
    if f["lowest temperature"] is not None:
        lines += out.wrap(f"temperature {show_range(f['lowest temperature'], f['highest temperature'], 'K')}", "  ")
    for word in ("out", "in"):
        if f[f"charge {word}"] > 1e-3 * (f["charge out"] + f["charge in"]):
            lines += out.wrap(f"{word}: {show(f[f'charge {word}'], 'C', 4)}, {show(f[f'energy {word}'], 'J', 4)}", "  ")
    parts = parts_of(log)
    lines += ["", *out.wrap(_count(parts))]
    rows = [
        (show(p.begin, "s", 4), p.kind, show(p.lasts, "s"), p.current, p.power, show(p.charge, "C", 4))
        for p in parts[:MOST_PARTS]
    ]
    lines += grid(
        out, (("from", ""), ("part", ""), ("lasts", ""), ("current", "A"), ("power", "W"), ("charge", "")), rows
    )
    if len(parts) > MOST_PARTS:
        lines.append(f"  and {len(parts) - MOST_PARTS} more")
    thin = slice(None, None, max(len(log.t) // 2000, 1))
    both = f["charge in"] > 0.02 * f["charge out"] and f["charge out"] > 0.02 * f["charge in"]
    across = ("time", "s", log.t) if both else ("charge taken out", "C", log.charge)
    x, y = across[2][thin].tolist(), log.v[thin].tolist()
    curve = Series("voltage", across[0], across[1], "V", tuple(x), tuple(y))
    lines += ["", *chart(out, [curve], HEIGHT)]
    if log.assumed:
        lines += ["", "Assumed"]
        for sentence in log.assumed:
            lines += out.wrap(sentence, "  - ", "    ")
    lines += ["", *out.wrap(kept)]
    if copy:
        lines += out.wrap(f"Tidy copy: {copy}")
    return lines


def _count(parts: tuple[Part, ...]) -> str:
    """How many parts of each kind, in the order in which they come first."""
    kinds: dict[str, int] = {}
    for part in parts:
        kinds[part.kind] = kinds.get(part.kind, 0) + 1
    return "Parts: " + ", ".join(f"{n} x {kind}" for kind, n in kinds.items())


def _data(name: str, found: Reading, kept: str) -> dict[str, Any]:
    from dataclasses import asdict

    from tideover.cells.log_parts import parts_of

    log = found.log
    return {
        "file": name,
        "read": True,
        "digest": log.digest,
        **_figures(log),
        "breaks": [int(k) for k in log.breaks],
        "counted": log.discharged is not None,
        "parts": [{**asdict(p)} for p in parts_of(log)],
        "assumed": list(log.assumed),
        "stated": {key: value for key, value in asdict(found.stated).items() if value not in ("", None)},
        "kept": kept,
    }


def _fault(fault: Any) -> dict[str, Any]:
    return {
        "line": fault.place.line,
        "problem": f"{fault.where} {fault.problem}".strip(),
        "expected": fault.expected,
        "mend": fault.mend,
    }
