"""Single faults by how grave and how likely they are: a square for each. In px."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tideover.draw.figure import cut, framed, type_size, words
from tideover.draw.svg import Ink, Size, breadth, line, rect

SQUARE, GAP = 10.0, 3.0
LOOKS = {5: "fails", 4: "fails", 3: "tight", 2: "open", 1: "plain"}
"""Look of each severity; it stands in words beside it."""


def severities(
    counts: Mapping[tuple[str, str], int], rows: Sequence[str], columns: Sequence[str], *, title: str, width: float
) -> Ink:
    """A grid of severity against chance, with the number of faults in every field.

    Parameters
    ----------
    counts : mapping of (str, str) to int
        Number of faults by row and column. [-]
    rows, columns : sequence of str
        Severities, the gravest first, each beginning with its number; chances. [-]
    title : str
        Of the figure. [-]
    width : float
        Of the figure. [px]
    """
    size = type_size(width)
    if not rows or not columns:
        said = "No fault was tried."
        return framed(width, 3.0 * size, words(0.0, 2.0 * size, said, size, "fig-soft"), title=title, about=said)
    beside = width >= 560.0
    left = min(max(breadth(r, size) for r in rows) + 14.0, 0.34 * width) if beside else 0.0
    cell = (width - left) / len(columns)
    across = max(int((cell - 34.0) // (SQUARE + GAP)), 1)
    body: list[Ink] = [
        words(left + k * cell + 4.0, 1.1 * size, cut(c, cell - 6.0, size), size, "fig-soft")
        for k, c in enumerate(columns)
    ]
    y = 1.7 * size
    told = []
    for r in rows:
        most = max(counts.get((r, c), 0) for c in columns)
        deep = max(-(-most // across), 1)
        top = y + (0.0 if beside else 1.6 * size)
        tall = max(deep * (SQUARE + GAP) + 10.0, 2.0 * size)
        body.append(line(0.0, round(y, 1), width, round(y, 1), "fig-grid"))
        body.append(words(0.0, y + 1.35 * size, cut(r, left - 8.0 if beside else width, size), size))
        look = LOOKS.get(int(r[:1]) if r[:1].isdigit() else 1, "plain")
        for k, c in enumerate(columns):
            n = counts.get((r, c), 0)
            if not n:
                continue
            told.append(f"{r}, {c}: {n}")
            x = left + k * cell + 4.0
            body.append(words(x, top + 1.35 * size, str(n), size, "fig-strong"))
            for j in range(n):
                at = (x + 26.0 + (j % across) * (SQUARE + GAP), top + 7.0 + (j // across) * (SQUARE + GAP))
                body.append(rect(round(at[0], 1), round(at[1], 1), Size(SQUARE, SQUARE), f"fig-{look}"))
        y = top + tall
    return framed(width, round(y + 4.0, 1), *body, title=title, about="; ".join(told) + ".")
