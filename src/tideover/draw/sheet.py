"""Drawings on a page that prints them at their true size."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from tideover.draw.paper import EDGE
from tideover.draw.svg import FONT, STYLE, Size, escape, number

SAID = (
    "Print at 100 % (“actual size”), without fitting to the page and without the browser's own margins, head and foot "
    "lines. On each sheet a bar is 50 mm: measure it before you trust the drawing."
)


class Drawn(Protocol):
    """A sheet that can stand in a page."""

    @property
    def paper(self) -> Size: ...

    @property
    def title(self) -> str: ...

    def markup(self, alone: bool = True) -> str: ...


def page(title: str, sheets: Sequence[Drawn], said: str = SAID) -> str:
    """An HTML page with each sheet on paper of its own size, without anything from elsewhere.

    Parameters
    ----------
    title : str
        Of the page. [-]
    sheets : sequence of Drawn
        At least one. [-]
    said : str
        Shown above the sheets on a screen; not printed. [-]

    Returns
    -------
    text : str
        Ends with a line end. [-]
    """
    papers = {paper: f"p{k}" for k, paper in enumerate(dict.fromkeys(s.paper for s in sheets))}
    rules = [f"@page {{ size: {_size(sheets[0].paper)}; margin: 0 }}"]
    for paper, name in papers.items():
        rules.append(f"@page {name} {{ size: {_size(paper)}; margin: 0 }}")
        rules.append(
            f"@media print {{ .{name} {{ page: {name}; width: {number(paper.width)}mm;"
            f" height: {number(paper.height)}mm }} }}"
        )
    figures = "".join(
        f'<figure class="{papers[sheet.paper]}">\n{sheet.markup(alone=False)}</figure>\n' for sheet in sheets
    )
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>\n{LOOK}{chr(10).join(rules)}\n{STYLE}</style>\n</head>\n<body>\n"
        f"<header>\n<h1>{escape(title)}</h1>\n<p>{escape(said)}</p>\n</header>\n<main>\n{figures}</main>\n"
        "</body>\n</html>\n"
    )


def _size(paper: Size) -> str:
    return f"{number(paper.width)}mm {number(paper.height)}mm"


LOOK = f"""\
:root {{ color-scheme: light dark }}
body {{ margin: 0; background: #ecebe4; color: #16262e; font: 16px/1.5 {FONT} }}
header {{ max-width: 70ch; margin: 0 auto; padding: {EDGE:g}mm {EDGE:g}mm 0 }}
h1 {{ font-size: 1.4em; line-height: 1.25; margin: 0 0 .3em; overflow-wrap: anywhere }}
p {{ margin: 0 0 1em }}
main {{ overflow-x: auto; padding: 0 2mm 8mm }}
figure {{ margin: 4mm auto; width: max-content; box-shadow: 0 0 0 1px #b9b6ab }}
figure svg {{ display: block }}
@media screen and (prefers-color-scheme: dark) {{
  body {{ background: #1b262b; color: #e7ece9 }}
  figure {{ box-shadow: 0 0 0 1px #4d5b62 }}
}}
@media print {{
  body {{ background: none }}
  header {{ display: none }}
  main {{ overflow: visible; padding: 0 }}
  figure {{ margin: 0; box-shadow: none; break-after: page; break-inside: avoid; overflow: hidden }}
  figure:last-child {{ break-after: auto }}
}}
"""
