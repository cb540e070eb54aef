"""What the page of a build shows: its answers cut into what stands in the text, in the margin and behind a fold."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tideover.answers.base import FAILS, HOLDS, OPEN, QUESTIONS, TIGHT, Answer, Finding, Table, worst
from tideover.draw.figure import title_of
from tideover.draw.figures import figures
from tideover.draw.margin import drawable, margin_bar, matching
from tideover.draw.svg import Ink
from tideover.render import words
from tideover.render.page import MARKS, cell

PENDING, WRITTEN, FULL = "pending", "written", "full"
"""How far a question is: not yet answered; for the build as written; with all its corners."""
SHOWN = 2
"""Findings whose reason stands in the margin; the others are behind the fold."""
GRAVE = (FAILS, TIGHT, OPEN)
WIDE, SLIM = 720, 358
"""Width of a figure on a laptop and on a phone. [px]"""


@dataclass(frozen=True)
class Told:
    """A finding as it stands on the page; every text is plain."""

    status: str
    mark: str
    stated: str
    judged: str
    measured: str
    worst_with: str
    why: str
    also: str
    mend: str
    source: str
    subject: str
    bar: str


@dataclass(frozen=True)
class Grid:
    """A table as it stands on the page: texts, which columns are numbers, and what those sort by."""

    title: str
    heads: tuple[str, ...]
    right: tuple[bool, ...]
    rows: tuple[tuple[tuple[str, str], ...], ...]


@dataclass(frozen=True)
class Drawn:
    """A figure, and what stands above it for those who see it."""

    caption: str
    drawing: Ink


@dataclass(frozen=True)
class Section:
    """One question.

    Attributes
    ----------
    key, question : str
        As in `tideover.answers.base.QUESTIONS`.
    stage : str
        `PENDING`, `WRITTEN` or `FULL`; an answer of before the last edit is shown as pending.
    status, mark, headline : str
        Of the answer; empty while there is none.
    was : str
        What the saved file answers, where that differs.
    wide, slim : tuple of Drawn
        Figures, for a laptop and for a phone.
    margin, behind : tuple of Told
        Findings with their reasons: the gravest in the margin, all behind the fold.
    tables : tuple of Grid
        All of the answer.
    cautions : tuple of str
        Of the answer.
    """

    key: str
    question: str
    stage: str
    status: str = ""
    mark: str = ""
    headline: str = ""
    was: str = ""
    wide: tuple[Drawn, ...] = ()
    slim: tuple[Drawn, ...] = ()
    margin: tuple[Told, ...] = ()
    behind: tuple[Told, ...] = ()
    tables: tuple[Grid, ...] = ()
    cautions: tuple[str, ...] = ()


def section(
    key: str,
    stage: str,
    answer: Answer | None,
    written: Answer | None = None,
    saved: Answer | None = None,
) -> Section:
    """One question as the page shows it.

    Parameters
    ----------
    key : str
        Of the question. [-]
    stage : str
        How far its answer is. [-]
    answer, written, saved : Answer, optional
        The answer; that for the build as written, for the spread of the bars; that of the saved file, where the text
        was edited since. [-]
    """
    if answer is None:
        return Section(key, QUESTIONS[key], PENDING)
    grouped = words.groups([answer])
    held = [[f] for f in answer.findings if f.status == HOLDS]
    differs = saved is not None and (saved.headline, saved.status) != (answer.headline, answer.status)
    was = f"Saved: {MARKS[saved.status]} {saved.status}. {saved.headline}" if saved is not None and differs else ""
    return Section(
        key,
        QUESTIONS[key],
        stage,
        answer.status,
        MARKS[answer.status],
        answer.headline,
        was,
        tuple(Drawn(title_of(f), f) for f in figures(answer, written, WIDE)),
        tuple(Drawn(title_of(f), f) for f in figures(answer, written, SLIM)),
        tuple(told(g, written) for g in grouped[:SHOWN]),
        tuple(told(g, written) for g in [*grouped, *held]),
        tuple(grid(t) for t in answer.tables),
        answer.cautions,
    )


def broken(key: str, error: Exception) -> Section:
    """A question whose drawing failed: our fault, said as such."""
    said = f"Not drawn: this is our fault and not the build's ({type(error).__name__}). The command line answers it: "
    return Section(key, QUESTIONS[key], FULL, OPEN, MARKS[OPEN], f"{said}tideover sheet . {key}")


def told(group: Sequence[Finding], written: Answer | None = None) -> Told:
    """A finding, and in which other states it was found too."""
    f = group[0]
    others = dict.fromkeys(o.state for o in group[1:] if o.state and o.state != f.state)
    return Told(
        f.status,
        MARKS[f.status],
        words.sentence(words.stated(f)).rstrip("."),
        words.judged(f),
        words.measured(f),
        words.worst_with(f),
        words.sentence(f.why),
        words.sentence(f"also: {'; '.join(others)}" if others else ""),
        "" if f.status == HOLDS else words.sentence(f.mend),
        "; ".join(filter(None, (re.split(r"[/\\]", f.place)[-1], f.source))),
        f.subject,
        _bar(f, written),
    )


def _bar(f: Finding, written: Answer | None) -> str:
    """Its margin bar; nothing where it has no value and limit to stand on a scale."""
    return margin_bar(f, matching(f, written.findings) if written else None) if drawable(f) else ""


def grid(table: Table) -> Grid:
    """A table in texts; numbers keep what they sort by."""
    right = tuple(
        bool(table.rows) and all(isinstance(row[k], int | float) or row[k] is None for row in table.rows)
        for k in range(len(table.columns))
    )
    rows = tuple(
        tuple(
            (cell(value, unit), repr(float(value)) if isinstance(value, int | float) else str(value or "").casefold())
            for value, (_, unit) in zip(row, table.columns)
        )
        for row in table.rows
    )
    return Grid(table.title, tuple(name for name, _ in table.columns), right, rows)


def tally(statuses: Sequence[str]) -> tuple[tuple[str, str, int, str], ...]:
    """Status, mark, how many, and the word that fits; graver ones first."""
    counts = [(s, sum(one == s for one in statuses)) for s in (FAILS, TIGHT, HOLDS, OPEN)]
    return tuple((s, MARKS[s], n, words.SPOKEN[s][n > 1]) for s, n in counts if n)


def gravest(answers: Mapping[str, Answer], most: int = 3) -> tuple[tuple[str, Told], ...]:
    """The findings that a builder must see first, each with the key of its question."""
    found: list[tuple[str, list[Finding]]] = []
    for key, answer in answers.items():
        found += [(key, group) for group in words.groups([answer])]

    def order(one: tuple[str, list[Finding]]) -> tuple[int, float]:
        return GRAVE.index(one[1][0].status), _depth(one[1][0])

    return tuple((key, told(group)) for key, group in sorted(found, key=order)[:most])


def _depth(f: Finding) -> float:
    """Margin over limit, where both are known: what sorts findings of different units."""
    if f.margin is None or not f.limit:
        return 0.0
    return f.margin / abs(f.limit)


def overall(answers: Mapping[str, Answer]) -> str:
    """Status of the build as far as it was judged."""
    return worst(a.status for a in answers.values())


def part_marks(answers: Mapping[str, Answer]) -> dict[str, str]:
    """The gravest status of what was found about each part."""
    marks: dict[str, list[str]] = {}
    for answer in answers.values():
        for f in answer.findings:
            marks.setdefault(f.subject, []).append(f.status)
    return {name: worst(statuses) for name, statuses in marks.items()}
