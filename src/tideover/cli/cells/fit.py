"""``tideover cells fit``: one kind of cell from its logs, written as a file that a build can name."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tideover.cli.cells.given import condition, logs_of, value
from tideover.cli.common import HOLDS, Refusal, page, write, write_json
from tideover.quantity import parse, show

if TYPE_CHECKING:
    from tideover.cells.condition import Condition
    from tideover.cells.fit import Fitted
    from tideover.render.page import Page

SEED = 1
"""Of the draws behind the interval of a capacity."""


@click.command("fit")
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
@click.option("--out", metavar="FILE", default="", help="Write the fitted cell here, such as cells/spool-cell.yaml.")
@click.option("--replace", is_flag=True, help="Replace a cell that was written before.")
@click.option("--chemistry", metavar="WORD", default="", help="NMC, NCA, LFP, LTO, LCO or PbA; NMC if it is not told.")
@click.option("--like", metavar="NAME", default="", help="Cell of the shelf to compare with; the nearest if not told.")
@click.option("--title", metavar="TEXT", default="", help="What the cell is called.")
@click.option("--leads", metavar="VALUE", default="", help='Leads that are in the voltages: "70 mΩ", or "70 mΩ ±10 %".')
@click.option("--nominal", metavar="VALUE", default="", help="Capacity, where no log goes from full to empty.")
@click.option("--cut-off", "cutoff", metavar="VALUE", default="", help="Voltage of the empty cell at rest.")
@click.option(
    "--at",
    metavar="CONDITION",
    multiple=True,
    help='Print the capacity at: "0.5 A to 2.8 V at 25 °C". May be repeated; a fifth of it an hour if not told.',
)
@click.option("--ambient", metavar="VALUE", default="25 °C", show_default=True, help="For logs without temperatures.")
@click.option("--json", "json_", is_flag=True, help="Write JSON instead of text.")
def fit(
    files: tuple[str, ...],
    out: str,
    replace: bool,
    chemistry: str,
    like: str,
    title: str,
    leads: str,
    nominal: str,
    cutoff: str,
    at: tuple[str, ...],
    ambient: str,
    json_: bool,
) -> int:
    """Fit one kind of cell to its logs.

    Each FILE is a log of the same cell, or of cells of the same kind, as `tideover cells read` reads it: discharges at
    several currents, pulse tests, rests, profiles. More currents and temperatures tell more; each value says whether
    the logs tell it or it is the shelf's. The file written can be named by a build:

    \b
      pack: {from: cells/spool-cell.yaml, series: 3, parallel: 4}

    Exit status: 0 done, 2 could not run.
    """
    from tideover.cells import model_file
    from tideover.cells.fit import fit as fitting
    from tideover.parts.pack import CHEMISTRIES

    word = next((c for c in CHEMISTRIES if c.casefold() == chemistry.strip().casefold()), None)
    if chemistry and word is None:
        raise Refusal(f'"{chemistry}" is no chemistry.', f"There are: {', '.join(CHEMISTRIES)}.")
    if out and not out.endswith((".yaml", ".yml")):
        raise Refusal(f"{out} would not be found by a build.", f"Write: --out {Path(out).with_suffix('.yaml')}")
    wanted = [condition("--at", text) for text in at]
    target = Path(out) if out else None
    if target and os.path.lexists(target) and not replace:
        raise Refusal(f"{target} is there already and was left as it is.", "Name another file, or write: --replace")
    outside = None
    if leads:
        ohms = value("--leads", leads, "ohm", "70 mΩ") or 0.0
        given = parse(leads, "ohm")
        outside = (ohms, max((given.high - given.low) / 4.0, 0.02 * ohms))
    try:
        found = fitting(
            logs_of(files),
            word,
            like or None,
            title,
            outside,
            value("--nominal", nominal, "C", "2.5 Ah"),
            value("--cut-off", cutoff, "V", "2.5 V"),
            ambient=value("--ambient", ambient, "K", "25 °C") or 298.15,
        )
    except (ValueError, LookupError) as error:
        raise Refusal(str(error).strip("'\""), "See what the logs hold: tideover cells read FILE...") from None
    full = float(found.cells.volts[0, -1]) * found.cells.cells_per_unit
    for text, which in zip(at, wanted):
        if which.cutoff >= full:
            raise Refusal(f'--at is "{text}", but the full cell rests at {show(full, "V")}.', "Name a lower cut-off.")
    if target:
        target.parent.mkdir(parents=True, exist_ok=True)
        model_file.write(found, target)
    if json_:
        write_json(_data(found) | {"capacity": _capacities(found, wanted)})
    else:
        write("\n".join(_said(page(), found, target, wanted)) + "\n")
    return HOLDS


def _rows(found: Fitted, short: bool = False) -> list[tuple[str, str, str, str]]:
    from tideover.cells import model_file
    from tideover.parts.pack import PACK

    rows = []
    for name in model_file.FITTED:
        own = float(getattr(found.cells, name)[0])
        if name == "hysteresis" and own == 0.0:
            continue
        p = PACK.parameter(name)
        sigma = model_file.width(found, name)
        share = sigma / own if sigma is not None and name == "activation_energy" else sigma
        spread = f"±{100 * share:.2g} %" if share is not None else "-"
        whence = _origin(found, name) if short else model_file.origin(found, name)
        rows.append((p.key, show(own, p.unit, 4), spread, whence))
    return rows


def _origin(found: Fitted, name: str) -> str:
    """Where a value comes from, in few words: logs by their number in the table below."""
    from tideover.cells.model_file import UNKNOWN

    told = found.told_by.get(UNKNOWN.get(name, name), ())
    numbers = [str(k) for k, m in enumerate(found.misfits, 1) if m.name in told]
    if not numbers:
        return "shelf; not told by the logs"
    return f"log{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}"


def _said(out: Page, found: Fitted, target: Path | None, wanted: list[Condition]) -> list[str]:
    from tideover.cells.condition import Condition
    from tideover.design.cell_model import POOR
    from tideover.render.page import grid

    lines = [*map(out.strong, out.wrap(found.title)), ""]
    poor = [note for note in found.notes if note.startswith(POOR)]
    lines += [line for note in poor for line in [*map(out.strong, out.wrap(note, "! ", "  ")), ""]]
    columns = (("value", ""), ("at 25 °C, half charge", ""), ("uncertainty", ""), ("from", ""))
    lines += grid(out, columns, _rows(found, short=True))
    lines += out.wrap(f"The shelf's cell is {found.like.title}: typical, unverified.")
    lines += [""]
    for c in _capacities(found, wanted):
        at = Condition(**c["at"])
        beyond = f" That is {c['beyond']}." if c["beyond"] else ""
        lines += out.wrap(
            f"Capacity from full at {at}: {show(c['middle'], 'C', 4)}; nine of ten "
            f"between {show(c['low'], 'C', 4)} and {show(c['high'], 'C', 4)} (seed {SEED}).{beyond}"
        )
    lines += ["", out.strong("What is left between model and log")]
    of_logs = [("", ""), ("log", ""), ("rms", "V"), ("largest", "V"), ("rows", ""), ("begins", "%"), ("leads", "ohm")]
    logs = enumerate(zip(found.misfits, found.leads), 1)
    rows = [(str(k), m.name, m.rms, m.worst, str(m.rows), m.start, leads) for k, (m, leads) in logs]
    lines += grid(out, of_logs, rows)
    for note in (n for n in found.notes if n not in poor):
        lines += ["", *out.wrap(note)]
    lines.append("")
    lines += out.wrap(
        f"Wrote {target}. In build.yaml: pack: {{from: {target}, series: 3, parallel: 4}}"
        if target
        else "Nothing was written; --out cells/NAME.yaml keeps it."
    )
    return lines


def _capacities(found: Fitted, wanted: list[Condition]) -> list[dict[str, Any]]:
    """Capacity at each condition, in SI; at the usual one where none is asked for."""
    from dataclasses import asdict

    import numpy as np

    from tideover.cells.capacity import of_fit, usual_condition

    rows = []
    for at in wanted or [usual_condition(found)]:
        (low, middle, high), beyond = of_fit(found, at, np.random.default_rng(SEED))
        rows.append({"at": asdict(at), "low": low, "middle": middle, "high": high, "beyond": beyond})
    return rows


def _data(found: Fitted) -> dict[str, Any]:
    keys = ("key", "value", "uncertainty", "from")
    return {
        "form": 1,
        "title": found.title,
        "chemistry": found.chemistry,
        "values": [dict(zip(keys, row)) for row in _rows(found)],
        "curve": [{"charge": float(s), "volts": float(v)} for s, v in zip(found.cells.knots, found.cells.volts[0])],
        "logs": [
            {"name": m.name, "rms": m.rms, "largest": m.worst, "rows": m.rows, "start": m.start} for m in found.misfits
        ],
        "notes": list(found.notes),
    }
