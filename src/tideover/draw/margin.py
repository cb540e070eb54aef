"""The margin bar: value, limit and what the tolerances do to it, on one scale. In px; values in SI.

The side on which it holds is shaded, the limit is a tick across the scale, the value carries the mark of its status,
and a thick line runs from the value as written to the one in the worst corner.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from tideover.answers.base import FAILS, Finding
from tideover.draw.axis import FLAT
from tideover.draw.figure import TOO_LARGE, cut, framed, mark, type_size, words
from tideover.draw.look import SMALL
from tideover.draw.svg import Ink, Size, breadth, line, rect
from tideover.quantity import show

LEAST = 200.0
"""The narrowest bar. [px]"""
FROM_ZERO = 0.75
"""A scale begins at 0 when the lowest value is below this share of the highest; temperatures have no such 0."""
SIDES: dict[bool | None, tuple[str, str]] = {
    True: ("at most", "≤"),
    False: ("at least", "≥"),
    None: ("limit", "limit"),
}
"""On which side of its limit a value holds, in words and as a sign."""
PAD = 0.18
"""Of the scale, beyond what stands on it."""


def matching(finding: Finding, others: Sequence[Finding]) -> Finding | None:
    """The finding among others about the same thing, as written."""

    def same(f: Finding) -> bool:
        return (f.name, f.subject, f.quantity, f.unit) == (
            finding.name,
            finding.subject,
            finding.quantity,
            finding.unit,
        )

    alike = [f for f in others if same(f)]
    return next((f for f in alike if f.state == finding.state), alike[0] if len(alike) == 1 else None)


def drawable(finding: Finding) -> bool:
    """Whether it has a value and a limit that stand on a scale."""
    return all(v is not None and abs(v) < TOO_LARGE for v in (finding.value, finding.limit))


def holds_below(finding: Finding) -> bool | None:
    """Whether the value has to stay below its limit; None where it stands on it and neither side is said."""
    assert finding.value is not None and finding.limit is not None
    reserve = finding.limit - finding.value
    if finding.margin and math.isfinite(finding.margin) and reserve:
        return (reserve > 0.0) == (finding.margin > 0.0)
    return (reserve > 0.0) == (finding.status != FAILS) if reserve else None


def ends(values: Sequence[float], unit: str) -> tuple[float, float]:
    """A scale that leaves room around some values."""
    low, high = min(values), max(values)
    if unit != "K" and 0.0 <= low <= FROM_ZERO * high and high > 0.0:
        return 0.0, high * (1.0 + PAD)
    if unit != "K" and high <= 0.0 and FROM_ZERO * low >= high and low < 0.0:
        return low * (1.0 + PAD), 0.0
    wide = high - low
    if wide <= FLAT * max(abs(low), abs(high)):
        wide = max(abs(low), abs(high), 1e-12) * 0.2
    return low - PAD * wide - wide * 0.2, high + PAD * wide + wide * 0.2


def margin_bar(finding: Finding, written: Finding | None = None, width: float = LEAST) -> Ink:
    """One finding as a margin bar, for a cell of a table.

    Parameters
    ----------
    finding : Finding
        With value and limit; else a dash stands there. [-]
    written : Finding, optional
        The same as written, without tolerances. [-]
    width : float
        From `LEAST` up. [px]

    Returns
    -------
    markup : Ink
        With the value above the scale and the limit below it. [-]
    """
    size = SMALL
    title = finding.quantity or finding.name
    if not drawable(finding):
        said = f"{finding.status}; no number"
        return framed(width, 46.0, words(0.0, 28.0, "—", size, "fig-soft"), title=title, about=said)
    body = bar(finding, written, (0.0, width), 23.0, size)
    return framed(width, 46.0, *body, title=title, about=told(finding, written))


def told(finding: Finding, written: Finding | None = None) -> str:
    """A finding on its scale, in words and numbers."""
    assert finding.value is not None and finding.limit is not None
    side = SIDES[holds_below(finding)][0]
    said = f"{finding.subject}: {show(finding.value, finding.unit, 4)}, {side} {show(finding.limit, finding.unit, 4)}"
    if written is not None and written.value is not None and abs(written.value) < TOO_LARGE:
        said += f", {show(written.value, finding.unit, 4)} as written"
    return f"{said}, {finding.status}"


def bar(
    finding: Finding, written: Finding | None, sides: tuple[float, float], y: float, size: float, named: bool = True
) -> list[Ink]:
    """The bar itself between two sides, its scale at the height y; value and limit in words, if `named`. [px]"""
    value, limit = finding.value, finding.limit
    assert value is not None and limit is not None
    base = written.value if written is not None and written.value is not None else value
    base = base if abs(base) < TOO_LARGE else value
    low, high = ends((value, limit, base), finding.unit)
    start, end = sides[0] + 7.0, sides[1] - 7.0

    def at(v: float) -> float:
        return round(start + (v - low) / (high - low) * (end - start), 1)

    tick = at(limit)
    below = holds_below(finding)
    left, right = (sides[0], tick) if below else (tick, sides[1])
    out = [] if below is None else [rect(left, y - 7.0, Size(round(right - left, 1), 14.0), "fig-safe")]
    out += [
        line(sides[0], y, sides[1], y, "fig-axis"),
        line(tick, y - 10.0, tick, y + 10.0, "fig-limit"),
    ]
    if abs(at(base) - at(value)) > 1.0:
        out.append(line(at(base), y, at(value), y, f"fig-spread fig-{finding.status}"))
        out.append(line(at(base), y - 5.0, at(base), y + 5.0, "fig-axis"))
    out.append(mark(at(value), y, finding.status, 4.5))
    if named:
        wide = sides[1] - sides[0]
        for v, height, look in ((value, y - 12.0, "fig-strong"), (limit, y + 12.0 + 0.75 * size, "fig-soft")):
            said = show(v, finding.unit, 3 if abs(value - limit) > 0.02 * abs(limit) else 4)
            said = cut(f"{SIDES[below][1]} {said}" if look == "fig-soft" else said, wide, size)
            half = breadth(said, size) / 2.0
            spot = min(max(at(v), sides[0] + half), sides[1] - half)
            out.append(words(spot, height, said, size, look, "middle"))
    return out


def margins(
    findings: Sequence[Finding], written: Sequence[Finding] = (), *, title: str, width: float, about: str = ""
) -> Ink:
    """Several findings under each other, each a name with its bar.

    Parameters
    ----------
    findings : sequence of Finding
        Those without numbers are left out. [-]
    written : sequence of Finding
        The same as written. [-]
    title, about : str
        Of the figure. [-]
    width : float
        Of the figure. [px]
    """
    size = type_size(width)
    shown = [f for f in findings if drawable(f)]
    rows = [(f, matching(f, written)) for f in shown]
    if not rows:
        said = "No number to show."
        return framed(width, 3.0 * size, words(0.0, 2.0 * size, said, size, "fig-soft"), title=title, about=said)
    beside = width >= 560.0
    tall = 54.0 if beside else 58.0 + 2.6 * size
    left = round(0.46 * width) if beside else 0.0
    body: list[Ink] = []
    for k, (f, other) in enumerate(rows):
        top = k * tall
        room = (left - 14.0) if beside else width
        first = cut(f"{f.subject}: {f.quantity or f.name}", room, size)
        second = cut(f.state, room, size)
        if k:
            body.append(line(0.0, top, width, top, "fig-grid"))
        if beside:
            body += [words(0.0, top + 1.9 * size, first, size), words(0.0, top + 3.2 * size, second, size, "fig-soft")]
            body += bar(f, other, (left, width), top + 27.0, size)
        else:
            body += [words(0.0, top + 1.4 * size, first, size), words(0.0, top + 2.7 * size, second, size, "fig-soft")]
            body += bar(f, other, (0.0, width), top + 2.6 * size + 31.0, size)
    said = "; ".join(told(f, other) for f, other in rows)
    return framed(width, len(rows) * tall + 2.0, *body, title=title, about=f"{about} {said}.".strip())
