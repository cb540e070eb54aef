"""The manual's pages, as they stand in the documentation."""

from __future__ import annotations

import re
from pathlib import Path

from markdown_it import MarkdownIt
from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from tideover.web.pages.common import render

_NAME = re.compile(r"(?:[a-z0-9-]+/)?[a-z0-9-]+")


def folder() -> Path:
    """Where the documentation is: in the installed package, else beside the source."""
    here = Path(__file__).resolve()
    inside = here.parents[2] / "docs"
    return inside if inside.is_dir() else here.parents[4] / "docs"


async def manual(request: Request) -> Response:
    """One page of it."""
    name = request.path_params["page"].removesuffix(".md")
    file = folder() / f"{name}.md"
    if not _NAME.fullmatch(name) or not file.is_file():
        raise HTTPException(404, f"The manual has no page {name}.")
    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")
    text = Markup(markdown.render(file.read_text(encoding="utf-8")))
    return render(request, "manual.html", {"text": text, "name": name})
