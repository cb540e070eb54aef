"""Findings in words, without any layout: what the text, the screen and the pages say alike."""

from __future__ import annotations

from collections.abc import Sequence

from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Answer, Finding
from tideover.render.page import number

SPOKEN = {
    HOLDS: ("holds", "hold"),
    TIGHT: ("is tight", "are tight"),
    FAILS: ("fails", "fail"),
    OPEN: ("is open", "are open"),
}
"""One, and several, of a status."""


def tally(statuses: Sequence[str]) -> str:
    """How many there are of each status, graver ones first.

    Examples
    --------
    >>> tally(["holds", "fails", "holds"])
    '1 fails, 2 hold'
    """
    counts = [(sum(one == s for one in statuses), s) for s in (FAILS, TIGHT, OPEN, HOLDS)]
    return ", ".join(f"{n} {SPOKEN[s][n > 1]}" for n, s in counts if n)


def groups(answers: Sequence[Answer]) -> list[list[Finding]]:
    """Findings to be told in full, graver ones first; what is the same but for its state stands together.

    The one with the least margin leads its group, the one that says more of what would mend it among equals.
    """
    found: dict[tuple[str, str, str], list[Finding]] = {}
    for f in (f for a in answers for f in a.findings):
        found.setdefault((f.status, f.name, f.subject), []).append(f)

    def first(f: Finding) -> tuple[float, int]:
        return (0.0 if f.margin is None or f.margin != f.margin else f.margin, -len(f.mend))

    return [
        sorted(group, key=first) for status in (FAILS, TIGHT, OPEN) for key, group in found.items() if key[0] == status
    ]


def stated(f: Finding) -> str:
    """The bad thing and whose it is: ``contact drops too much: jack``."""
    known = f.name.casefold().replace("-", " ")
    return f.name if not f.subject or f.subject.casefold().replace("-", " ") in known else f"{f.name}: {f.subject}"


def judged(f: Finding) -> str:
    """``fails, 1.3 V short``; ``tight, 0.2 V to spare``; ``tight, 3 mV past the mark to watch``."""
    if f.margin is None or f.margin != f.margin:
        return f.status
    size = number(abs(f.margin), difference(f.unit))
    if f.margin >= 0.0:
        return f"{f.status}, {size} to spare"
    return f"{f.status}, {size} {'short' if f.status == FAILS else 'past the mark to watch'}"


def measured(f: Finding) -> str:
    """``Voltage at the load: 9.5 V, limit 10.8 V, 4.8 ms after mains is lost.``"""
    if f.value is None:
        return sentence(f.state)
    said = f"{f.quantity or f.subject}: {number(f.value, f.unit, 4)}"
    if f.limit is not None:
        said += f", limit {number(f.limit, f.unit, 4)}"
    return sentence(f"{said}; {f.state}" if f.state else said)


def worst_with(f: Finding) -> str:
    """The corner in which it is worst, as a sentence; nothing where that is the build as written."""
    return sentence(f"Worst with {f.case}" if f.case not in ("", "nominal") else "")


def difference(unit: str) -> str:
    """A margin between two temperatures is a difference."""
    return "ΔK" if unit == "K" else unit


def sentence(text: str) -> str:
    """With a capital first and a full stop last.

    Examples
    --------
    >>> sentence("the fuse melts"), sentence("")
    ('The fuse melts.', '')
    """
    text = text.strip()
    if not text:
        return ""
    first = text.split()[0]
    text = text[0].upper() + text[1:] if first[1:].islower() or (len(first) == 1 and first.isalpha()) else text
    return text if text[-1] in ".!?:" else f"{text}."
