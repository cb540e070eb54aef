"""From the label to the load: every step takes its part of the energy, or adds to it. In px; values in SI."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tideover.draw.figure import TOO_LARGE, cut, framed, type_size, words
from tideover.draw.look import HANDY
from tideover.draw.svg import Ink, Size, breadth, line, rect
from tideover.quantity import show

SMALL_SHARE = 0.004
"""Steps below this share of the largest total are drawn together as one."""


@dataclass(frozen=True)
class Step:
    """A step: `change` is None for a total; `left` is what is left after it."""

    label: str
    change: float | None
    left: float


def waterfall(steps: Sequence[Step], unit: str, *, title: str, width: float, about: str = "") -> Ink:
    """Totals as whole bars, changes as the piece between two of them, from the top down.

    Parameters
    ----------
    steps : sequence of Step
        In their order. [-]
    unit : str
        SI unit of all. [-]
    title, about : str
        Of the figure. [-]
    width : float
        Of the figure. [px]
    """
    size = type_size(width)
    known = [s for s in steps if abs(s.left) < TOO_LARGE and (s.change is None or abs(s.change) < TOO_LARGE)]
    if not known:
        said = "Nothing to draw: no energy is known."
        return framed(width, 3.0 * size, words(0.0, 2.0 * size, said, size, "fig-soft"), title=title, about=said)
    shown = _joined(known)
    beside = width >= HANDY
    texts = [_said(s, unit) for s in shown]
    left = min(max(breadth(s.label, size) for s in shown) + 14.0, 0.44 * width) if beside else 0.0
    room = max(breadth(t, size) for t in texts) + 10.0
    ends = [v for s in shown for v in (s.left, s.left - (s.change or 0.0))]
    low, high = min(0.0, *ends), max(0.0, *ends)
    high = high if high > low else low + 1.0
    start, end = left + 2.0, width - room

    def at(value: float) -> float:
        return round(start + (value - low) / (high - low) * (end - start), 1)

    tall = 1.85 * size if beside else 3.1 * size
    foot = len(shown) * tall + 4.0
    body: list[Ink] = [line(at(0.0), 2.0, at(0.0), round(foot, 1), "fig-axis")] if beside else []
    for k, (step, said) in enumerate(zip(shown, texts)):
        top = k * tall + 2.0
        y = round(top + (0.35 * size if beside else 1.6 * size), 1)
        base = y + 0.95 * size
        before = 0.0 if step.change is None else step.left - step.change
        a, z = sorted((at(before), at(step.left)))
        look = "bar" if step.change is None else "loss" if step.change < 0.0 else "gain"
        body.append(rect(a, y, Size(max(round(z - a, 1), 1.0), round(1.15 * size, 1)), f"fig-{look}"))
        if k + 1 < len(shown):
            down = round(y + 1.15 * size, 1)
            body.append(line(at(step.left), down, at(step.left), round(y + tall, 1), "fig-lead"))
        strong = "fig-strong" if step.change is None else ""
        look = f"{strong} fig-halo".strip()
        spot = (0.0, base) if beside else (0.0, top + 1.15 * size)
        body.append(words(*spot, cut(step.label, (left - 12.0) if beside else width, size), size, look))
        body.append(words(z + 5.0, base, said, size, strong or "fig-soft"))
    told = "; ".join(f"{s.label}: {_said(s, unit)}" for s in known)
    return framed(width, round(foot + 2.0, 1), *body, title=title, about=f"{about} {told}.".strip())


def _said(step: Step, unit: str) -> str:
    if step.change is None:
        return show(step.left, unit)
    return f"{'+' if step.change > 0.0 else ''}{show(step.change, unit)}"


def _joined(steps: Sequence[Step]) -> list[Step]:
    """Small changes that follow each other between two totals as one step, where there are several."""
    least = SMALL_SHARE * max(abs(s.left) for s in steps)
    out: list[Step] = []
    piece: list[Step] = []

    def end_piece() -> None:
        small = [s for s in piece if s.change is not None and abs(s.change) < least]
        if len(small) < 2:
            out.extend(piece)
        else:
            level = piece[0].left - (piece[0].change or 0.0)
            for s in (s for s in piece if s not in small):
                level += s.change or 0.0
                out.append(Step(s.label, s.change, level))
            change = sum(s.change or 0.0 for s in small)
            out.append(Step(f"{len(small)} smaller ones together", change, level + change))
        piece.clear()

    for step in steps:
        if step.change is None:
            end_piece()
            out.append(step)
        else:
            piece.append(step)
    end_piece()
    return out
