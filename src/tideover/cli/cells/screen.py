"""``tideover cells screen``: which cells may be built in, which wait apart, which are recycled."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from tideover.cli.cells.list import cell_data, cohort_data, cohort_table, condition_data
from tideover.cli.cells.stock import (
    CAUTION,
    about_conditions,
    at_one_condition,
    compared,
    in_folder,
    named,
    plural,
    table,
)
from tideover.cli.common import FAILS, HOLDS, Refusal, page, write, write_json
from tideover.quantity import QuantityError, parse, show
from tideover.render.page import Page

if TYPE_CHECKING:
    from tideover.cells.cohorts import Cohort
    from tideover.cells.inventory import Change
    from tideover.cells.screening import Verdict

BAR = 30
"""Characters of a histogram's longest bar."""


@click.command()
@click.argument("ids", metavar="[ID]...", nargs=-1)
@click.option("--apply", "applying", is_flag=True, help="Write status and reason into the inventory.")
@click.option(
    "--rested",
    metavar="TIME",
    default="0 h",
    show_default=True,
    help="From the end of charge to each cell's first rest voltage, if you know it: 1d.",
)
@at_one_condition
@click.option("--json", "json_", is_flag=True, help="Write JSON instead of text.")
@in_folder
def screen(ids: tuple[str, ...], applying: bool, rested: str, at: str, through: str, json_: bool, folder: str) -> int:
    """Judge the cells by what was measured of them.

    With an ID only those cells are shown, with every number, its limit and where the limit comes from; they are
    compared with all the others of their kind. Nothing is changed without --apply. A cell that is built in keeps its
    status, and one that was rejected or put in quarantine by hand is never let off.

    Exit status: 0 no cell is rejected, 1 some are, 2 could not.
    """
    path = table(folder)
    from tideover.cells.cohorts import cohorts
    from tideover.cells.inventory import load, store
    from tideover.cells.screening import REJECTED
    from tideover.cells.screening import screen as judge

    wait = _time(rested)
    inventory = load(path)
    missing = [name for name in ids if name not in {cell.id for cell in inventory.cells}]
    if missing:
        raise Refusal(f"There is no cell {', '.join(missing)} in {path}.", "See: tideover cells list")
    found = compared(inventory.cells, at, through)
    verdicts = [v for v in judge(inventory.cells, wait, found) if not ids or v.cell.id in ids]
    changes: tuple[Change, ...] = ()
    if applying:
        wanted = set(ids)

        def edit(cells: Any) -> list[Any]:
            found_now = judge(cells, wait, compared(cells, at, through))
            return [v.becomes for v in found_now if not wanted or v.cell.id in wanted]

        changes = store(path, edit, "tideover cells screen --apply")
    groups = cohorts(found.cells)
    status = FAILS if any(v.status == REJECTED and v.cell.status != "used" for v in verdicts) else HOLDS
    if json_:
        write_json(_data(verdicts, groups, bool(changes)) | condition_data(found))
        return status
    out = page()
    lines = [out.strong(out.plain(f"{path}: {plural(len(verdicts))} judged")), *_counts(out, verdicts)]
    if ids:
        for verdict in verdicts:
            lines += ["", *_whole(out, verdict)]
    else:
        lines += _told(out, verdicts)
        lines += ["", *cohort_table(out, groups)] if groups else []
        lines += _histograms(out, verdicts, groups)
    told = about_conditions(found)
    lines += ["", *(line for said in told for line in out.wrap(said))] if told else []
    lines += [""]
    if applying:
        names = {change.id for change in changes}
        for status_now in dict.fromkeys(v.becomes.status for v in verdicts if v.cell.id in names):
            these = [v.cell.id for v in verdicts if v.cell.id in names and v.becomes.status == status_now]
            lines += out.wrap(f"Now {status_now}: {named(these, 12 if status_now == 'good' else 1000)}", "", "  ")
        lines += out.wrap(f"{path}: {plural(len(names))} changed; what was there before is kept in its history.")
    else:
        pending = sum(v.becomes != v.cell for v in verdicts)
        hint = f"; {plural(pending, 'status')[:-1] + 'es' if pending != 1 else '1 status'} would change: --apply"
        lines += out.wrap(f"Nothing was changed{hint if pending else ''}.")
    lines += ["", *out.wrap(CAUTION)]
    write("\n".join(lines) + "\n")
    return status


def _time(text: str) -> float:
    try:
        found = parse(text, "s", "1 d").nominal
    except QuantityError as error:
        raise Refusal(f'--rested is "{error.text}", {error.problem}.', error.expected, "Write: --rested 1d") from None
    if not 0.0 <= found <= 365 * 86400.0:
        raise Refusal(f'--rested is "{text}".', "A time from nothing to a year is expected.", "Write: --rested 1d")
    return found


def _counts(out: Page, verdicts: Sequence[Verdict]) -> list[str]:
    from tideover.cells.screening import counted

    return out.wrap(", ".join(f"{count} {status}" for status, count in counted(verdicts).items()))


def _told(out: Page, verdicts: Sequence[Verdict]) -> list[str]:
    """Everything but the good ones, with the reason; those that wait for one thing together."""
    from tideover.cells.screening import OPEN, QUARANTINE, REJECTED

    lines: list[str] = []
    for status, title in ((REJECTED, "Rejected"), (QUARANTINE, "Quarantine"), (OPEN, "Open: could not be judged yet")):
        groups: dict[str, list[str]] = {}
        for verdict in verdicts:
            if verdict.status != status:
                continue
            for judgement in verdict.decisive if status == OPEN else ():
                groups.setdefault(judgement.missing or judgement.said, []).append(verdict.cell.id)
            if status != OPEN:
                groups.setdefault(verdict.why, []).append(verdict.cell.id)
        if groups:
            lines += ["", out.strong(title)]
        for why, names in groups.items():
            lines += out.wrap(f"{', '.join(names)}: {why}", "  ", "    ")
    sub = [v for v in verdicts if v.status == "good" and any("usable but" in j.said for j in v.judgements)]
    if sub:
        said = f"Good, but below the capacity that is sought: {', '.join(v.cell.id for v in sub)}"
        lines += ["", *out.wrap(said, "", "  ")]
    for of, what in (("arrival", "voltage on arrival"), ("heating", "heating during charge")):
        unknown = [v.cell.id for v in verdicts if any(j.of == of and j.status == OPEN for j in v.judgements)]
        if unknown:
            lines += ["", *out.wrap(f"Not noted, and so not judged: {what} of {named(unknown)}", "", "  ")]
    for verdict in verdicts:
        if verdict.kept:
            lines += ["", *out.wrap(f"{verdict.cell.id} keeps its status: {verdict.kept}", "", "  ")]
    return lines


def _whole(out: Page, verdict: Verdict) -> list[str]:
    """One cell with every number."""
    cell = verdict.cell
    lines = [out.strong(out.plain(f"{cell.id}: {verdict.status} (status in the inventory: {cell.status})"))]
    for judgement in verdict.judgements:
        lines += out.wrap(f"{judgement.status}: {judgement.said}", f"  {judgement.of:<15}", " " * 17)
        limit = "" if judgement.limit is None else f"limit {show(judgement.limit, judgement.unit)}: "
        lines += out.wrap(f"{limit}{judgement.rule}", " " * 17, " " * 17) if judgement.rule else []
    leak = verdict.leak
    if leak:
        said = f"{plural(leak.fall.used, 'reading')} in {show(leak.fall.span, 's')}"
        said += f", of which {show(leak.fall.relaxation, 'V', 2)} are taken for relaxation"
        said += f"; {plural(leak.fall.left, 'reading')} before the last charge left out" if leak.fall.left else ""
        said += f"; a current of {show(leak.current, 'A', 2)}" if leak.current is not None else ""
        said += "; a room that is 2 K warmer or colder moves a voltage by up to 0.8 mV"
        lines += out.wrap(said, " " * 17, " " * 17)
    if verdict.kept:
        lines += out.wrap(f"It keeps its status: {verdict.kept}", "  ", "  ")
    return lines


def _histograms(out: Page, verdicts: Sequence[Verdict], groups: tuple[Cohort, ...]) -> list[str]:
    """How capacities, resistances and losses lie."""
    from tideover.cells.rules import COHORT_LEAST, WEEK

    wanted = [
        (f"{g.of.capitalize()} of {g.like}", g.values, g.unit, g.of)
        for g in groups
        if len(g.values) >= COHORT_LEAST.value
    ]
    falls = [v.leak.fall.rate * WEEK for v in verdicts if v.leak]
    if len(falls) >= COHORT_LEAST.value:
        wanted.append(("Fall of the voltage in a week", tuple(falls), "V", "fall"))
    lines: list[str] = []
    for title, values, unit, _ in wanted:
        lines += ["", out.strong(out.plain(title)), *_bars(out, values, unit)]
    return lines


def _bars(out: Page, values: Sequence[float], unit: str) -> list[str]:
    from tideover.cells.cohorts import histogram

    rows = histogram(values)
    most = max(count for _, _, count in rows)
    said = [(f"{show(low, unit)} to {show(high, unit)}", count) for low, high, count in rows]
    width = max(len(text) for text, _ in said)
    return [
        out.plain(f"  {text:<{width}}  {'#' * (-(-count * BAR // most)):<{BAR}} {count or ''}").rstrip()
        for text, count in said
    ]


def _data(verdicts: Sequence[Verdict], groups: tuple[Cohort, ...], applied: bool) -> dict[str, Any]:
    return {
        "form": 1,
        "applied": applied,
        "cells": [
            {
                **cell_data(v.cell),
                "verdict": v.status,
                "why": v.why,
                "becomes": {"status": v.becomes.status, "reason": v.becomes.reason},
                "kept": v.kept,
                "judgements": [
                    {
                        "of": j.of,
                        "status": j.status,
                        "said": j.said,
                        "value": j.value,
                        "limit": j.limit,
                        "unit": j.unit,
                        "rule": j.rule,
                    }
                    for j in v.judgements
                ],
                "self-discharge": None
                if v.leak is None
                else {
                    "rate": v.leak.fall.rate,
                    "low": v.leak.fall.low,
                    "high": v.leak.fall.high,
                    "relaxation": v.leak.fall.relaxation,
                    "monthly": v.leak.monthly,
                    "current": v.leak.current,
                },
            }
            for v in verdicts
        ],
        "cohorts": [cohort_data(group) for group in groups],
    }
