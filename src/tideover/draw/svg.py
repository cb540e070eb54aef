"""A small, safe writer of SVG.

Every function returns text of the type `Ink`; plain text among children or attributes is escaped, so that no id or
title can become markup. One user unit is one millimetre of paper. Elements and attributes come from closed lists,
without scripts, links or pictures from elsewhere. The same input gives the same bytes.

Looks are classes of one style sheet (`STYLE`): dark on paper, light on dark where the reader's screen is dark, and
pure black on white in print. Nothing is told by colour alone: lines differ in weight and dash, and `DASHES` tell
groups apart.

Source: SVG 1.1 (W3C Recommendation, second edition), sections 5, 9, 10 and 13; XML 1.0, section 2.2.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable, Sequence
from functools import lru_cache
from html import escape as _escape
from typing import NamedTuple

TAGS = frozenset(("svg", "g", "title", "desc", "style", "clipPath"))
SHAPES = frozenset(("path", "rect", "circle", "line", "polyline", "text", "tspan"))
_NAME = re.compile(r"[a-z][A-Za-z0-9-]*")
_KEY = re.compile(r"[A-Za-z][A-Za-z0-9-]*")
_UNWRITABLE = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What XML cannot hold, not even escaped."""
DIGITS = 3
"""Decimals of a coordinate: a micrometre."""
FONT = '"Liberation Sans", Arial, Helvetica, sans-serif'
"""Of one and the same width almost everywhere, so that what fits here fits there."""

STYLE = f"""\
.drawing{{background:#fbfaf6}}
.drawing text{{font-family:{FONT};fill:#16262e}}
.drawing .soft{{fill:#4d5b62}}
.drawing .strong{{font-weight:700}}
.drawing .line{{fill:none;stroke:#16262e;stroke-width:.3}}
.drawing .fine{{fill:none;stroke:#4d5b62;stroke-width:.15}}
.drawing .bold{{fill:none;stroke:#16262e;stroke-width:.6}}
.drawing .dash{{stroke-dasharray:1.6 .9}}
.drawing .solid{{fill:#16262e;stroke:none}}
.drawing .edge{{fill:none;stroke:#16262e;stroke-width:.3}}
.drawing .under{{fill:none;stroke:#fbfaf6;stroke-width:1.3;stroke-linecap:round}}
.drawing .sheet{{fill:#fbfaf6;stroke:none}}
.drawing .blank{{fill:#fbfaf6;stroke:#16262e;stroke-width:.3}}
.drawing .metal{{fill:#dcdad2;stroke:#16262e;stroke-width:.25;fill-opacity:.8}}
.drawing .sign{{fill:none;stroke:#16262e;stroke-width:.55;stroke-linecap:round}}
.drawing .halo{{paint-order:stroke;stroke:#fbfaf6;stroke-width:.7;stroke-linejoin:round}}
.drawing .ring{{fill:none;stroke:#16262e}}
.drawing .spot{{fill:#16262e;stroke:none}}
.drawing .thin{{stroke-width:.15}}
.drawing .heavy{{stroke-width:.6}}
.drawing .hot{{stroke-width:.7}}
@media print{{.drawing{{background:#fff}}.drawing text{{fill:#000}}.drawing .sheet,.drawing .blank{{fill:#fff}}\
.drawing .halo,.drawing .under{{stroke:#fff}}}}
@media screen and (prefers-color-scheme:dark){{.drawing{{background:#10181c}}\
.drawing text,.drawing .solid,.drawing .spot{{fill:#e7ece9}}.drawing .soft{{fill:#9fb0b5}}\
.drawing .line,.drawing .bold,.drawing .edge,.drawing .sign,.drawing .ring{{stroke:#e7ece9}}\
.drawing .fine{{stroke:#9fb0b5}}\
.drawing .sheet{{fill:#10181c}}.drawing .blank{{fill:#10181c;stroke:#e7ece9}}\
.drawing .metal{{fill:#39484e;stroke:#e7ece9}}.drawing .halo,.drawing .under{{stroke:#10181c}}}}
"""
"""Classes of every drawing; widths in mm."""


class Ink(str):
    """Markup that is already safe."""

    __slots__ = ()


class Size(NamedTuple):
    """Width and height. [mm]"""

    width: float
    height: float


def number(value: float) -> str:
    """A coordinate as text, to a micrometre.

    Raises
    ------
    ValueError
        It is not finite.

    Examples
    --------
    >>> number(18.50004), number(-0.0001), number(3)
    ('18.5', '0', '3')
    """
    if not math.isfinite(value):
        raise ValueError(f"{value} is no place on a drawing.")
    text = f"{value:.{DIGITS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def escape(text: str) -> str:
    """Plain text as content or attribute; characters that XML cannot hold become a replacement mark.

    Examples
    --------
    >>> escape('<a & "b">')
    '&lt;a &amp; &quot;b&quot;&gt;'
    """
    return _escape(_UNWRITABLE.sub("\ufffd", text), quote=True)


def element(tag: str, *children: str, **attributes: str | float | None) -> Ink:
    """One element.

    Parameters
    ----------
    tag : str
        One of `TAGS` or `SHAPES`. [-]
    *children : str
        `Ink` goes in as it is, plain text is escaped. [-]
    **attributes : str, float or None
        None is left out; an underscore stands for a hyphen, one at the end is dropped. [-]

    Returns
    -------
    markup : Ink
        On one line. [-]

    Raises
    ------
    ValueError
        An element, or an attribute, that a drawing has no use for.

    Examples
    --------
    >>> element("text", "A<B", x=1.5, text_anchor="middle", class_="soft")
    '<text x="1.5" text-anchor="middle" class="soft">A&lt;B</text>'
    """
    if tag not in TAGS and tag not in SHAPES:
        raise ValueError(f"{tag!r} is no element of a drawing.")
    said = []
    for key, value in attributes.items():
        name = _attribute(key)
        if value is not None:
            said.append(f' {name}="{escape(value) if isinstance(value, str) else number(value)}"')
    inside = "".join(child if isinstance(child, Ink) else escape(child) for child in children)
    return Ink(f"<{tag}{''.join(said)}>{inside}</{tag}>" if inside else f"<{tag}{''.join(said)}/>")


@lru_cache(maxsize=256)
def _attribute(key: str) -> str:
    """Name of an attribute from that of an argument; ValueError for one that a drawing has no use for."""
    name = key.rstrip("_").replace("_", "-")
    if not _KEY.fullmatch(name) or name.lower().startswith("on") or name.lower() in ("href", "style"):
        raise ValueError(f"{name!r} is no attribute of a drawing.")
    return name


def stacked(*children: str) -> Ink:
    """Each on a line of its own; plain text is escaped."""
    inside = "\n".join(child if isinstance(child, Ink) else escape(child) for child in children if child)
    return Ink(f"\n{inside}\n") if inside else Ink("")


def group(*children: str, title: str = "", **attributes: str | float | None) -> Ink:
    """Things that belong together, named for who cannot see them; its parts stand on lines of their own."""
    named = (element("title", title),) if title else ()
    return element("g", stacked(*named, *children), **attributes)


def circle(x: float, y: float, radius: float, look: str, **attributes: str | float | None) -> Ink:
    """A circle about a point. [mm]"""
    return element("circle", cx=x, cy=y, r=radius, class_=look, **attributes)


def rect(x: float, y: float, size: Size, look: str, **attributes: str | float | None) -> Ink:
    """A rectangle from its upper left corner. [mm]"""
    return element("rect", x=x, y=y, width=size.width, height=size.height, class_=look, **attributes)


def line(x1: float, y1: float, x2: float, y2: float, look: str, **attributes: str | float | None) -> Ink:
    """A straight line. [mm]"""
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, class_=look, **attributes)


def outline(points: Iterable[tuple[float, float]], look: str, closed: bool = True) -> Ink:
    """A line through points, in mm, back to the first if closed."""
    steps = "L".join(f"{number(x)} {number(y)}" for x, y in points)
    return element("path", d=f"M{steps}{'Z' if closed else ''}", class_=look)


def text(
    x: float,
    y: float,
    said: str | Sequence[str],
    size: float,
    look: str | None = None,
    anchor: str | None = None,
    turn: float = 0.0,
) -> Ink:
    """Words on one line or several.

    Parameters
    ----------
    x, y : float
        Of the base line, of the first line if there are several. [mm]
    said : str or sequence of str
        One line, or its lines. [-]
    size : float
        Height of the type. [mm]
    look : str, optional
        Classes. [-]
    anchor : str, optional
        ``middle`` or ``end``; the start otherwise. [-]
    turn : float
        Clockwise about its point. [deg]
    """
    lines = (said,) if isinstance(said, str) else tuple(said)
    turned = f"rotate({number(turn)} {number(x)} {number(y)})" if turn else None
    inside = (
        lines
        if len(lines) == 1
        else tuple(element("tspan", words, x=x, dy=k and LEADING * size) for k, words in enumerate(lines))
    )
    return element("text", *inside, x=x, y=y, font_size=size, class_=look, text_anchor=anchor, transform=turned)


# --- how wide words are ------------------------------------------------------------------------------

LEADING = 1.2
"""From line to line, of the type's height."""
WIDTHS = (
    ("ijl'|", 0.23),
    (" .,:;!/\\It[]f", 0.29),
    ('()r-`°"·', 0.35),
    ("+<=>~±×÷", 0.60),
    ("mM%", 0.90),
    ("Ww", 0.90),
    ("@—…", 1.02),
)
"""Of the type's height, rounded up from the usual sans serif face; the rest is below."""
SMALL, LARGE, FULL = 0.57, 0.79, 1.02
"""Other small letters and figures; other capitals; letters of scripts that fill a square."""


def breadth(said: str, size: float) -> float:
    """About how wide words become, rather too much than too little. [mm]

    Examples
    --------
    >>> round(breadth("A01", 2.5), 2)
    4.82
    """
    total = 0.0
    for letter in unicodedata.normalize("NFC", said):
        if unicodedata.combining(letter):
            continue
        known = next((w for letters, w in WIDTHS if letter in letters), None)
        if known is None:
            full = unicodedata.east_asian_width(letter) in "WF" or ord(letter) > 0x2FFF
            known = FULL if full else LARGE if letter.isupper() else SMALL if ord(letter) < 0x250 else LARGE
        total += known
    return total * size


def wrapped(said: str, width: float, size: float) -> list[str]:
    """Words broken into lines no wider than a width; a word that is wider by itself stands alone.

    Examples
    --------
    >>> wrapped("Insulate every cell end", 20.0, 2.5)
    ['Insulate every', 'cell end']
    """
    lines: list[str] = []
    for word in said.split():
        if lines and breadth(f"{lines[-1]} {word}", size) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def fitted(said: str, width: float, size: float, least: float, most: int = 3) -> tuple[float, list[str]]:
    """A name at the largest type that fits a width, broken anywhere if it must be, shortened in its middle at last.

    Parameters
    ----------
    said : str
        The name. [-]
    width : float
        Room on a line. [mm]
    size, least : float
        Largest and smallest type. [mm]
    most : int
        Lines. [-]

    Returns
    -------
    size : float
        Of the type. [mm]
    lines : list of str
        At least one.

    Examples
    --------
    >>> fitted("A01", 12.0, 3.0, 1.8)
    (3.0, ['A01'])
    >>> fitted("attic-box-2019-cell-0117", 10.0, 3.0, 1.8)
    (1.8, ['attic-box-', '2019-cell-', '0117'])
    """
    one = breadth(said, 1.0)
    if one * least <= width:
        return min(size, max(least, math.floor(10.0 * width / one) / 10.0)) if one else size, [said]
    lines = _broken(said, width, least)
    if len(lines) > most:
        cut = len(said)
        while len(lines) > most and cut > 2:
            cut -= 1
            lines = _broken(f"{said[: cut // 2]}…{said[len(said) - (cut - cut // 2) :]}", width, least)
    return least, lines


def _broken(said: str, width: float, size: float) -> list[str]:
    """Broken where a line is full, behind a mark rather than inside a word if one is near."""
    lines, rest = [], said
    while rest:
        end = next((k for k in range(len(rest), 1, -1) if breadth(rest[:k], size) <= width), 1)
        if end < len(rest):
            mark = max(rest.rfind(sign, 0, end) for sign in " -_./:")
            end = mark + 1 if mark + 1 > end // 2 else end
        lines.append(rest[:end].strip() or rest[:end])
        rest = rest[end:]
    return lines or [said]


# --- whole drawings ----------------------------------------------------------------------------------

DASHES: dict[str, str | None] = {
    "clear": None,
    "ticks": ".45 1.55",
    "bars": "2.2 1.1",
    "pairs": ".45 .55 .45 2.4",
    "long": "5 .9",
    "fine": ".4 .5",
    "mixed": "3 .8 .45 .8",
    "sparse": "1.1 4",
}
"""Broad dashed lines that are told apart without colour, as lengths of dash and gap in mm; two that follow each other
never look alike. Dashes stay lines in print, where a filling with a pattern becomes one large picture for each use."""


def document(size: Size, *body: str, title: str, about: str = "", prefix: str = "d", alone: bool = True) -> Ink:
    """A whole drawing.

    Parameters
    ----------
    size : Size
        Of the paper. [mm]
    *body : str
        What is on it; one user unit is one millimetre. [-]
    title, about : str
        Told to who cannot see it. [-]
    prefix : str
        Before ids, so that several drawings can stand in one page. [-]
    alone : bool
        A file of its own: with its XML declaration and its style sheet. [-]

    Returns
    -------
    markup : Ink
        Ends with a line end. [-]
    """
    if not _NAME.fullmatch(prefix):
        raise ValueError(f"{prefix!r} cannot begin an id.")
    named = [element("title", title, id=f"{prefix}-title")]
    if about:
        named.append(element("desc", about, id=f"{prefix}-about"))
    style = [element("style", Ink(STYLE))] if alone else []
    shape = element(
        "svg",
        stacked(*named, *style, *body),
        xmlns="http://www.w3.org/2000/svg",
        width=f"{number(size.width)}mm",
        height=f"{number(size.height)}mm",
        viewBox=f"0 0 {number(size.width)} {number(size.height)}",
        class_="drawing",
        role="img",
        aria_labelledby=f"{prefix}-title" + (f" {prefix}-about" if about else ""),
    )
    return Ink(f'<?xml version="1.0" encoding="UTF-8"?>\n{shape}\n' if alone else f"{shape}\n")
