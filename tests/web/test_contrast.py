"""Every text on screen stands out from what is behind it, in light, in dark and in print (WCAG 2.2, 1.4.3, AA)."""

import re
from pathlib import Path

import pytest

CSS = (Path(__file__).parents[2] / "src/tideover/web/static/tideover.css").read_text(encoding="utf-8")
SCHEMES = ("light", "dark", "print")
TEXTS = ("ink", "soft", "sea", "amber", "brick", "slate")
"""Colours that words and marks are written in."""
GROUNDS = ("paper", "raised")
PAIRS = [(text, ground) for text in TEXTS for ground in GROUNDS] + [
    ("paper", "sea"),  # the main button
    ("ink", "amber2"),
    ("ink", "brick2"),
    ("ink", "sea2"),
    ("sea", "amber2"),  # a link in a notice
    ("sea", "brick2"),
]
LEAST = 4.5
LEAST_OF_EDGES = 3.0
"""Of the edge of a field against the page (1.4.11)."""


def palettes() -> dict[str, dict[str, str]]:
    """Colours of each scheme; what one does not set stays as in the light one."""
    blocks = re.findall(r":root \{(.*?)\}", CSS, re.S)
    found = [dict(re.findall(r"--(\w+): (#[0-9a-f]{3,6});", block)) for block in blocks]
    assert len(found) == len(SCHEMES)
    return {name: found[0] | own for name, own in zip(SCHEMES, found)}


def luminance(colour: str) -> float:
    digits = colour[1:] if len(colour) == 7 else "".join(2 * c for c in colour[1:])
    parts = [int(digits[k : k + 2], 16) / 255.0 for k in (0, 2, 4)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_black_on_white_is_the_greatest_contrast() -> None:
    assert contrast("#000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize(("text", "ground"), PAIRS)
def test_words_stand_out_from_their_ground(scheme: str, text: str, ground: str) -> None:
    colours = palettes()[scheme]
    assert contrast(colours[text], colours[ground]) >= LEAST


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("ground", GROUNDS)
def test_edges_of_fields_stand_out(scheme: str, ground: str) -> None:
    colours = palettes()[scheme]
    assert contrast(colours["slate"], colours[ground]) >= LEAST_OF_EDGES
