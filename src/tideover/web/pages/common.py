"""What every page needs: the open builds, the templates, and who asks."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, select_autoescape
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from tideover.draw.svg import Ink
from tideover.web.guard import device_of
from tideover.web.live import Live
from tideover.web.opened import Opened
from tideover.web.places import Place, find

PATIENCE = 0.5
"""How long the sheet waits for the first look, which may have to compile. [s]"""
HERE = "the machine itself"
"""Who asks when no other device does."""


@dataclass
class Desks:
    """All builds below a folder, and those that are open.

    Attributes
    ----------
    root : Path
        A folder, or one build file.
    token : str
        What our own pages bring with every change.
    live : Live
        Who is told.
    open : dict of str to Opened
        Builds that were asked for, by key.
    tasks : set
        Work that goes on after its page was sent.
    """

    root: Path
    token: str
    live: Live = field(default_factory=Live)
    open: dict[str, Opened] = field(default_factory=dict)
    tasks: set[asyncio.Future[Any]] = field(default_factory=set)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    @property
    def folder(self) -> Path:
        """Where builds are."""
        return self.root.parent if self.root.is_file() else self.root

    def places(self) -> tuple[Place, ...]:
        """Builds as they are now."""
        return find(self.root)

    def get(self, key: str) -> Opened:
        """An open build; it is opened when it is asked for first. Nothing but what was found can be opened.

        Raises
        ------
        LookupError
            There is none of that key.
        """
        with self._lock:
            if key in self.open:
                return self.open[key]
            place = next((p for p in self.places() if p.key == key), None)
            if place is None:
                raise LookupError(key)
            self.open[key] = Opened(place, self.live)
            return self.open[key]

    def close(self) -> None:
        """End all work."""
        self.live.close()
        for one in self.open.values():
            one.close()

    @cached_property
    def templates(self) -> Environment:
        """Texts are escaped; only drawings, which are safe already, go in as they are."""
        found = Environment(
            loader=PackageLoader("tideover.web"),
            autoescape=select_autoescape(default=True, default_for_string=True),
            trim_blocks=True,
            lstrip_blocks=True,
            finalize=lambda value: Markup(value) if isinstance(value, Ink) else value,
        )
        return found


def desks(request: Request) -> Desks:
    """The open builds of this server."""
    found: Desks = request.app.state.desks
    return found


async def opened(request: Request, patience: float | None = None) -> Opened:
    """The build that an address means, with its quick answers; 404 where there is none.

    With `patience` [s] it comes without them where they take longer; the pages are told when they are there.
    """
    try:
        build = await run_in_threadpool(desks(request).get, request.path_params["key"])
    except LookupError:
        raise HTTPException(404, f"There is no build {request.path_params['key']} in this folder.") from None
    if not build.caught_up:
        catching = asyncio.ensure_future(run_in_threadpool(build.catch_up))
        await asyncio.wait((catching,), timeout=patience)
        here = desks(request)
        here.tasks.add(catching)
        catching.add_done_callback(here.tasks.discard)
    return build


def render(request: Request, template: str, values: Mapping[str, Any], status: int = 200) -> Response:
    """A page or a piece of one."""
    here = desks(request)
    text = here.templates.get_template(template).render(token=here.token, **values)
    return HTMLResponse(text, status, headers={"Cache-Control": "no-store"})


def piece(request: Request) -> bool:
    """Whether a script asks for a piece of a page."""
    return "hx-request" in request.headers or "x-drawer" in request.headers


def back(request: Request, address: str) -> Response:
    """After something was done without a script: to a page that shows it."""
    return RedirectResponse(address, 303)


def device(request: Request) -> str:
    """Name of the device that asks."""
    return device_of(request.scope) or HERE
