"""Sheets of paper: sizes, the scales of drawings, and what must be cut over several of them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tideover.draw.svg import Size

PAPERS = {"A4": Size(210.0, 297.0), "letter": Size(215.9, 279.4)}
"""Upright. [mm] ISO 216; ANSI/ASME Y14.1, size A."""
EDGE = 10.0
"""Left free all round: what most printers cannot reach, and room to hold it. [mm]"""
SCALES = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 30.0, 40.0, 50.0, 75.0, 100.0, 150.0, 200.0)
"""Reductions that are used; beyond the last, ten times as much again. ISO 5455 and steps between."""


@dataclass(frozen=True)
class Piece:
    """A rectangle of a plan that goes on one sheet.

    Attributes
    ----------
    x, y : float
        Its upper left corner on the plan. [mm of the thing]
    size : Size
        [mm of the thing]
    """

    x: float
    y: float
    size: Size


def turned(paper: Size, sideways: bool) -> Size:
    """The paper as it lies: upright, or sideways."""
    return Size(paper.height, paper.width) if sideways else paper


def reduction(thing: Size, room: Size) -> float:
    """By how much a thing must be drawn smaller to fit.

    Parameters
    ----------
    thing, room : Size
        [mm]

    Returns
    -------
    scale : float
        1 is true size, 2 is half of it; one of `SCALES`, or ten times the last and so on. [-]

    Examples
    --------
    >>> reduction(Size(100.0, 90.0), Size(190.0, 220.0)), reduction(Size(400.0, 280.0), Size(190.0, 220.0))
    (1.0, 2.5)
    """
    need = max(thing.width / room.width, thing.height / room.height) - 1e-9
    fits = next((s for s in SCALES if s >= need), None)
    if fits is not None:
        return fits
    return float(SCALES[-1] * 10.0 ** math.ceil(math.log10(need / SCALES[-1])))


def said(scale: float) -> str:
    """A scale as drawings state it.

    Examples
    --------
    >>> said(1.0), said(2.5)
    ('1:1', '1:2.5')
    """
    return f"1:{scale:g}"


def cuts(length: float, room: float, step: float = 0.0) -> list[float]:
    """Where a length is cut so that every part fits.

    Parameters
    ----------
    length, room : float
        Of the thing and of the paper. [mm]
    step : float
        Cuts fall on whole steps where they can, so that no cell is cut that need not be; below a micrometre
        a step is none. [mm]

    Returns
    -------
    ends : list of float
        From 0 to the length. [mm]

    Examples
    --------
    >>> cuts(100.0, 190.0), cuts(400.0, 190.0, 20.0)
    ([0.0, 100.0], [0.0, 180.0, 360.0, 400.0])
    """
    ends = [0.0]
    while length - ends[-1] > room + 1e-9:
        whole = math.floor((ends[-1] + room) / step + 1e-9) * step if step > 1e-3 else 0.0
        ends.append(whole if whole > ends[-1] + room / 2.0 else ends[-1] + room)
    return [*ends, length]
