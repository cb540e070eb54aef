"""Pieces that all figures are made of: the frame, words that fit, status marks, labels that keep apart. In px."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import unescape
from zlib import crc32

from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT
from tideover.draw.look import HANDY, SIZE, SMALL
from tideover.draw.svg import Ink, breadth, circle, element, number, outline, stacked, text

TOO_LARGE, TOO_SMALL = 1e15, 1e-15
"""No figure shows values past the one, in SI: they count as not known; smaller than the other they count as 0."""


def type_size(width: float) -> float:
    """Height of the type of a figure so wide. [px]"""
    return SIZE if width >= HANDY else SMALL


def framed(width: float, height: float, *body: str, title: str, about: str) -> Ink:
    """A whole figure.

    Parameters
    ----------
    width, height : float
        Of the figure; it shrinks with a narrower page. [px]
    *body : str
        What it shows. [-]
    title, about : str
        Name, and its content in words and numbers for who cannot see it. [-]

    Returns
    -------
    markup : Ink
        One ``svg`` element; the same input gives the same bytes. [-]
    """
    content = "|".join((title, about, f"{width} {height}", *body))
    name = f"fig-{crc32(content.encode('utf-8', 'replace')):08x}"
    return element(
        "svg",
        stacked(element("title", title, id=f"{name}-t"), element("desc", about, id=f"{name}-d"), *body),
        xmlns="http://www.w3.org/2000/svg",
        width=number(width),
        height=number(height),
        viewBox=f"0 0 {number(width)} {number(height)}",
        class_="fig",
        role="img",
        aria_labelledby=f"{name}-t {name}-d",
    )


def title_of(figure: str) -> str:
    """The title of a whole figure, as plain text."""
    found = re.search(r"<title[^>]*>(.*?)</title>", figure, re.S)
    return unescape(found[1]) if found else ""


def words(x: float, y: float, said: str, size: float, look: str = "", anchor: str | None = None) -> Ink:
    """One line of text. [px]"""
    return text(round(x, 1), round(y, 1), said, size, look or None, anchor)


def cut(said: str, width: float, size: float) -> str:
    """Words shortened at their end until they fit a width; one letter at least remains.

    Examples
    --------
    >>> cut("pack contact resistance", 80.0, 12.0)
    'pack contac…'
    """
    said = " ".join(said.split())
    if breadth(said, size) <= width:
        return said
    low, high = 1, len(said)
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if breadth(f"{said[:middle]}…", size) <= width else (low, middle - 1)
    return f"{said[:low].rstrip()}…"


def mark(x: float, y: float, status: str, r: float = 5.0) -> Ink:
    """The shape of a status: disc, diamond, triangle downward, ring. [px]"""
    x, y = round(x, 1), round(y, 1)
    look = f"fig-{status}"
    if status == HOLDS:
        return circle(x, y, r, look)
    if status == TIGHT:
        return outline(((x, y - 1.25 * r), (x + 1.25 * r, y), (x, y + 1.25 * r), (x - 1.25 * r, y)), look)
    if status == FAILS:
        return outline(((x - 1.2 * r, y - r), (x + 1.2 * r, y - r), (x, y + 1.2 * r)), look)
    assert status == OPEN, status
    return circle(x, y, r - 1.0, f"{look} fig-hollow")


def apart(places: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Places moved as little as needed to keep a gap, inside limits where there is room for all.

    Examples
    --------
    >>> apart([5.0, 6.0, 40.0], 10.0, 0.0, 50.0)
    [5.0, 15.0, 40.0]
    """
    order = sorted(range(len(places)), key=lambda k: (places[k], k))
    found = [0.0] * len(places)
    last = low - gap
    for k in order:
        last = found[k] = max(places[k], last + gap)
    edge = high + gap
    for k in reversed(order):
        edge = found[k] = min(found[k], edge - gap)
    return found


def listed(parts: Sequence[str], most: int = 12) -> str:
    """Several statements as one text, the first ones where there are many."""
    more = f"; and {len(parts) - most} more" if len(parts) > most else ""
    return "; ".join(parts[:most]) + more
