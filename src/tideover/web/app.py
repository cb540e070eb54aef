"""The server: every address, and what answers there."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator
from pathlib import Path

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from tideover.draw.look import LOOK
from tideover.draw.path_look import PATH_LOOK
from tideover.draw.svg import STYLE
from tideover.web.pages import bench, build, cells, home, manual, outage, pair
from tideover.web.pages.common import Desks, render
from tideover.web.pairing import Pairing

LOOK_EVERY = 1.0
"""How often a file is looked at for changes by others. [s]"""
B = "/b/{key:path}"
ROUTES = (
    Route("/", home.home),
    Route("/new", home.new, methods=["POST"]),
    Route("/example", home.example, methods=["POST"]),
    Route("/pair", pair.page),
    Route("/pair", pair.take, methods=["POST"]),
    Route("/manual/{page:path}", manual.manual),
    Route(f"{B}/events", build.events),
    Route(f"{B}/bar", build.bar_piece),
    Route(f"{B}/head", build.head_piece),
    Route(f"{B}/path", build.path_piece),
    Route(f"{B}/q/{{question}}", build.section),
    Route(f"{B}/q/{{question}}/all", build.behind),
    Route(f"{B}/question/{{question}}", build.question),
    Route(f"{B}/parts", build.parts),
    Route(f"{B}/part/{{part}}", build.part),
    Route(f"{B}/value", build.value, methods=["POST"]),
    Route(f"{B}/settle", build.settle, methods=["POST"]),
    Route(f"{B}/outage", outage.page),
    Route(f"{B}/outage/ride", outage.played),
    Route(f"{B}/cells", cells.cells),
    Route(f"{B}/cells/edit", cells.edit, methods=["POST"]),
    Route(f"{B}/cells/import", cells.take_in, methods=["POST"]),
    Route(f"{B}/bench", bench.bench),
    Route(f"{B}/bench/add", bench.add, methods=["POST"]),
    Route(f"{B}/bench/strike", bench.strike, methods=["POST"]),
    Route(f"{B}/bench/readings.csv", bench.export),
    Route(f"{B}/{{action}}", build.act, methods=["POST"]),
    Route(f"{B}/", build.sheet),
)


def create(root: Path, token: str, pairing: Pairing | None = None) -> Starlette:
    """The server of a folder.

    Parameters
    ----------
    root : Path
        A folder in which builds are looked for, or one build file. [-]
    token : str
        What our own pages bring with every change; the guard asks for it. [-]
    pairing : Pairing, optional
        Lets other devices in, where the user shares. [-]
    """
    here = Desks(root, token)

    @contextlib.asynccontextmanager
    async def life(app: Starlette) -> AsyncIterator[None]:
        watching = asyncio.create_task(_watch(here))
        try:
            yield
        finally:
            watching.cancel()
            await run_in_threadpool(here.close)

    static = StaticFiles(packages=[("tideover.web", "static")])
    app = Starlette(
        routes=[*ROUTES, Route("/figures.css", _figures), Mount("/static", static)],
        middleware=[Middleware(GZipMiddleware, minimum_size=1000)],
        exception_handlers={HTTPException: _sorry, ClientDisconnect: _gone, Exception: _ours},
        lifespan=life,
    )
    app.state.desks = here
    app.state.pairing = pairing
    return app


async def _watch(here: Desks) -> None:
    """See now and then whether files were changed outside, for builds that somebody looks at."""
    while True:
        await asyncio.sleep(LOOK_EVERY)
        for one in list(here.open.values()):
            if here.live.listening(one.place.key):
                with contextlib.suppress(OSError):
                    await run_in_threadpool(one.look)


async def _figures(request: Request) -> Response:
    return PlainTextResponse(LOOK + PATH_LOOK + STYLE, media_type="text/css")


async def _sorry(request: Request, error: Exception) -> Response:
    status = getattr(error, "status_code", 500)
    what = {404: "Not found", 405: "Not done", 413: "Too large"}.get(status, "This cannot be done")
    return render(request, "sorry.html", {"what": what, "why": getattr(error, "detail", "")}, status)


async def _gone(request: Request, error: Exception) -> Response:
    return Response(status_code=400)  # it broke off in the middle of its body; nobody reads this


async def _ours(request: Request, error: Exception) -> Response:
    why = f"This is a fault of ours, not of your build: {type(error).__name__}. Nothing was lost."
    return render(request, "sorry.html", {"what": "Our fault", "why": why}, 500)
