"""The manual's pages and pictures, as they stand in the documentation."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Sequence
from pathlib import Path
from urllib.parse import urlsplit

from markdown_it import MarkdownIt
from markdown_it.token import Token
from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, Response

from tideover.web.pages.common import render

FIRST = "README"
"""The page that lists the others, in each folder."""
_NAME = re.compile(r"(?:[A-Za-z0-9-]+/){0,2}[A-Za-z0-9-]+")
_COMMENT = re.compile(r"^<!--.*?-->\n", re.M | re.S)
_NOT_IN_ANCHORS = re.compile(r"[^\w\- ]")


def folder() -> Path:
    """Where the documentation is: in the installed package, else beside the source."""
    here = Path(__file__).resolve()
    inside = here.parents[2] / "docs"
    return inside if inside.is_dir() else here.parents[4] / "docs"


async def manual(request: Request) -> Response:
    """One page of it, or one picture."""
    asked = request.path_params["page"] or FIRST
    stem, dot, ending = asked.partition(".")
    file = folder() / f"{stem}.{ending or 'md'}"
    known = _NAME.fullmatch(stem) is not None and ending in ("", "md", "png") and bool(ending) == bool(dot)
    if not known or not file.is_file() or not file.resolve().is_relative_to(folder().resolve()):
        raise HTTPException(404, f"The manual has no page {asked}.")
    if ending == "png":
        return FileResponse(file, media_type="image/png")
    text = page(file.read_text(encoding="utf-8"), posixpath.dirname(stem))
    return render(request, "manual.html", {"text": text, "name": title(text) or stem})


def title(text: str) -> str:
    """First heading of a page as text."""
    found = re.search(r"<h1[^>]*>(.*?)</h1>", text, re.S)
    return Markup(found[1]).striptags() if found else ""


def page(written: str, inside: str) -> Markup:
    """A page as markup: its headings can be linked to, its links lead to pages of the screen.

    Parameters
    ----------
    written : str
        Markdown; markup inside it is shown, not taken; comments are left out. [-]
    inside : str
        Folder of the page below the documentation, empty for none. [-]
    """
    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = markdown.parse(_COMMENT.sub("", written))
    seen: dict[str, int] = {}
    for token, following in zip(tokens, [*tokens[1:], None]):
        if token.type == "heading_open" and following is not None:
            token.attrSet("id", _anchor(following.content, seen))
        if token.children:
            token.children = _mended(token.children, inside)
    return Markup(markdown.renderer.render(tokens, markdown.options, {}))


def address(link: str, inside: str) -> str | None:
    """Where a link of a page leads on the screen; None where the screen has no such page.

    Examples
    --------
    >>> address("../glossary.md#signs", "answers")
    '/manual/glossary#signs'
    >>> address("../CONTRIBUTING.md", "") is None
    True
    """
    parts = urlsplit(link)
    if parts.scheme in ("http", "https") or (not parts.path and parts.fragment):
        return link
    path = posixpath.normpath(posixpath.join(inside, parts.path))
    if parts.scheme or parts.netloc or path.startswith(("..", "/")) or not path.endswith((".md", ".png")):
        return None
    return f"/manual/{path.removesuffix('.md')}" + (f"#{parts.fragment}" if parts.fragment else "")


def _mended(tokens: Sequence[Token], inside: str) -> list[Token]:
    """Links and pictures with their addresses on the screen; what leads elsewhere stays as words."""
    kept: list[Token] = []
    leads: list[bool] = []
    for token in tokens:
        if token.type == "link_open":
            there = address(str(token.attrGet("href") or ""), inside)
            leads.append(there is not None)
            if there is None:
                continue
            token.attrSet("href", there)
        elif token.type == "link_close" and not leads.pop():
            continue
        elif token.type == "image":
            there = address(str(token.attrGet("src") or ""), inside)
            if there is None or not there.startswith("/manual/"):
                token = Token("text", "", 0, content=token.content)
            else:
                token.attrSet("src", there)
        kept.append(token)
    return kept


def _anchor(heading: str, seen: dict[str, int]) -> str:
    """Name of a heading in links, as forges make it."""
    name = _NOT_IN_ANCHORS.sub("", heading.lower()).strip().replace(" ", "-")
    count = seen.get(name, 0)
    seen[name] = count + 1
    return f"{name}-{count}" if count else name
