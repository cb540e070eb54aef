"""Readings typed at the bench: durable before they are acknowledged."""

from __future__ import annotations

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from tideover.bench.readings import Readings
from tideover.quantity import QuantityError
from tideover.web.opened import Opened
from tideover.web.pages.build import bar, base
from tideover.web.pages.common import back, device, opened, piece, render


def readings(build: Opened) -> Readings:
    """Of a build."""
    return Readings(build.place.file.parent)


def _values(build: Opened, given: dict[str, str], wrong: str, said: str) -> dict[str, Any]:
    network = build.now.network
    flows = build.now.flows
    expected = {
        (node, f.state): volts for f in flows for node, volts in f.volts.items() if volts is not None
    }
    return bar(build) | {
        "nodes": network.nodes[1:] if network else (),
        "standing": [f.state for f in flows],
        "rows": readings(build).all(),
        "expected": expected,
        "given": given,
        "wrong": wrong,
        "said": said,
    }


async def bench(request: Request) -> Response:
    """The form and what was read so far."""
    build = await opened(request)
    values = await run_in_threadpool(_values, build, {}, "", "")
    return render(request, "readings.html" if piece(request) else "bench.html", values)


async def add(request: Request) -> Response:
    """Take a reading; the answer comes when it is on disk."""
    build = await opened(request)
    given = {k: str(v) for k, v in (await request.form()).items() if k != "token"}
    try:
        await run_in_threadpool(
            lambda: readings(build).take(
                given.get("id", ""),
                node=given.get("node", ""),
                state=given.get("state", ""),
                value=given.get("value", ""),
                meter=given.get("meter", ""),
                note=given.get("note", ""),
                device=device(request),
            )
        )
    except (QuantityError, ValueError) as error:
        values = await run_in_threadpool(_values, build, given, str(error), "")
        return render(request, "bench.html", values, 422)
    build.live.publish(build.place.key, "reading", given.get("id", ""))
    return back(request, base(build) + "bench")


async def strike(request: Request) -> Response:
    """Strike a reading out; it stays where it was written."""
    build = await opened(request)
    form = await request.form()
    await run_in_threadpool(readings(build).strike, str(form.get("id", "")), str(form.get("why", "")))
    build.live.publish(build.place.key, "reading", str(form.get("id", "")))
    return back(request, base(build) + "bench")


async def export(request: Request) -> Response:
    """All readings as CSV."""
    build = await opened(request)
    text = await run_in_threadpool(readings(build).csv)
    return PlainTextResponse(text, media_type="text/csv")
