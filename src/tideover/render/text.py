"""Answers as text in 80 columns: the whole sheet in short, or one answer in depth."""

from __future__ import annotations

from collections.abc import Sequence

from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Answer, Finding, worst
from tideover.render import words
from tideover.render.chart import charts
from tideover.render.page import Page, grid, number


def sheet(
    page: Page, title: str, answers: Sequence[Answer], cautions: Sequence[str] = (), seed: int | None = None
) -> str:
    """The whole sheet: a line for every question, what is tight or fails in full, the cautions.

    Parameters
    ----------
    page : Page
        Where it goes. [-]
    title : str
        Of the build. [-]
    answers : sequence of Answer
        In the order of the sheet. [-]
    cautions : sequence of str
        Of the build as a whole; those of the answers stand before them. [-]
    seed : int, optional
        Of the random draws, to be told. [-]

    Returns
    -------
    text : str
        Ending with a line end.
    """
    lines = [*heading(page, title, answers), ""]
    key = max((len(a.key) for a in answers), default=0)
    for a in answers:
        indent = f"{page.plain('●')} {a.status:<5}  {a.key:<{key}}  "
        first, *others = page.wrap(a.headline, indent, " " * len(indent))
        start = f"{page.mark(a.status)} {page.tint(f'{a.status:<5}', a.status)}  {page.strong(f'{a.key:<{key}}')}  "
        lines += [(start + first[len(indent) :]).rstrip(), *others]
    for group in words.groups(answers):
        lines += ["", *finding(page, group[0], [f.state for f in group[1:] if f.state != group[0].state])]
    return _end(page, lines, answers, cautions, seed)


def answer(page: Page, title: str, a: Answer, cautions: Sequence[str] = (), seed: int | None = None) -> str:
    """One answer in depth: headline, all findings, tables, charts, cautions; arguments as those of `sheet`."""
    first, *others = page.wrap(f"{a.status}: {a.headline}", "● ", "  ")
    lines = [
        *page.wrap(title),
        "",
        *(page.strong(line) for line in page.wrap(a.question)),
        f"{page.mark(a.status)} {page.tint(a.status, a.status)}{first[2 + len(a.status) :]}",
        *others,
    ]
    for status in (FAILS, TIGHT, OPEN):
        for f in a.findings:
            if f.status == status:
                lines += ["", *finding(page, f)]
    held = [f for f in a.findings if f.status == HOLDS]
    if held:
        lines += ["", "What does not come true:"]
        for f in held:
            lines += holding(page, f)
    for table in a.tables:
        lines += ["", *page.wrap(table.title), *grid(page, table.columns, table.rows)]
    if a.series:
        lines += ["", *charts(page, a.series)]
    return _end(page, lines, (a,), cautions, seed)


def heading(page: Page, title: str, answers: Sequence[Answer]) -> list[str]:
    """Title and tally: ``Reading room: 1 fails, 2 hold``."""
    tally = words.tally([a.status for a in answers])
    return [page.strong(line) for line in page.wrap(f"{title}: {tally}" if tally else title)]


def finding(page: Page, f: Finding, others_in: Sequence[str] = ()) -> list[str]:
    """A finding in full: what, value and limit, the worst case, why, what would mend it, where.

    `others_in` are further states in which it was found.
    """
    said = words.sentence(f"{words.stated(f)} ({words.judged(f)})")
    first, *others = page.wrap(said, "● ", "   ")
    also = "; ".join(dict.fromkeys(filter(None, others_in)))
    body = [
        words.measured(f),
        words.worst_with(f),
        words.sentence(f.why),
        words.sentence(f"also: {also}" if also else ""),
        words.sentence(f.mend),
    ]
    lines = [f"{page.mark(f.status)} {page.strong(first[2:])}", *others]
    for sentence in filter(None, body):
        lines += page.wrap(sentence, "   ")
    tail = "; ".join(filter(None, (f.place, f.source)))
    return lines + (page.wrap(f"[{tail}]", "   ", "    ") if tail else [])


def holding(page: Page, f: Finding) -> list[str]:
    """A finding that holds, in a line: what did not come true, and by how much."""
    told = words.measured(f) or words.sentence(f.why)
    spare = f" {number(f.margin, words.difference(f.unit))} to spare." if f.margin is not None else ""
    first, *others = page.wrap(f"{words.stated(f)}. {told}{spare}", "● ", "   ")
    return [f"{page.mark(f.status)}{first[1:]}", *others]


def table(page: Page, title: str, columns: Sequence[tuple[str, str]], rows: Sequence[Sequence[object]]) -> str:
    """A table under its title, ending with a line end."""
    return "\n".join([*page.wrap(title), *grid(page, columns, rows)]) + "\n"


def _end(page: Page, lines: list[str], answers: Sequence[Answer], cautions: Sequence[str], seed: int | None) -> str:
    """Add the cautions, each once, and the seed."""
    said = dict.fromkeys((*(c for a in answers for c in a.cautions), *cautions))
    if said:
        lines += ["", "Cautions"]
        for caution in said:
            lines += page.wrap(caution, "- ", "  ")
    if seed is not None:
        lines += ["", f"Random draws with seed {seed}."]
    return "\n".join(lines) + "\n"


def status(answers: Sequence[Answer]) -> str:
    """Of all answers taken together."""
    return worst(a.status for a in answers)
