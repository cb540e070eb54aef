"""Readings typed at the bench: durable before they are acknowledged."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from tideover.answers.flows import Flow
from tideover.bench.readings import Reading, ReadingError, Readings, typed
from tideover.render.page import number
from tideover.web.opened import Opened
from tideover.web.pages.build import bar, base
from tideover.web.pages.common import back, device, opened, piece, render


def readings(build: Opened) -> Readings:
    """Of a build."""
    return Readings(build.place.file.parent / "bench")


@dataclass(frozen=True)
class Row:
    """A reading as it stands in the table, with what was computed for that point."""

    id: str
    node: str
    state: str
    written: str
    computed: str
    meter: str
    taken: str
    device: str
    note: str
    struck: str


def _row(reading: Reading, flows: Mapping[str, Flow]) -> Row:
    flow = flows.get(reading.state)
    expected = None
    if flow is not None and reading.unit == "V":
        expected = flow.volts.get(reading.node)
    elif flow is not None and reading.unit == "A":
        expected = flow.currents.get(reading.node)
    return Row(
        reading.id,
        reading.node,
        reading.state,
        reading.written,
        number(expected, reading.unit, 4),
        reading.meter,
        reading.taken.astimezone().strftime("%Y-%m-%d %H:%M"),
        reading.device,
        reading.note,
        reading.struck,
    )


def _values(build: Opened, given: Mapping[str, str], wrong: str = "") -> dict[str, Any]:
    network = build.now.network
    flows = {f.state: f for f in build.now.flows}
    parts = [p.name for p in network.parts if p.nodes] if network else []
    return bar(build) | {
        "points": [*network.nodes[1:], *parts] if network else (),
        "standing": list(flows),
        "rows": [_row(r, flows) for r in reversed(readings(build).all())],
        "given": given,
        "fresh": given.get("id") or uuid.uuid4().hex,
        "wrong": wrong,
    }


async def bench(request: Request) -> Response:
    """The form and what was read so far."""
    build = await opened(request)
    values = await run_in_threadpool(_values, build, {})
    return render(request, "readings.html" if piece(request) else "bench.html", values)


async def add(request: Request) -> Response:
    """Take a reading; the answer comes when it is on disk."""
    build = await opened(request)
    given = {k: str(v) for k, v in (await request.form()).items() if k != "token"}

    def keep() -> None:
        reading = typed(
            given.get("node", ""),
            given.get("state", ""),
            given.get("value", ""),
            meter=given.get("meter", ""),
            note=given.get("note", ""),
            device=device(request),
            id=given.get("id", ""),
        )
        readings(build).add(reading)

    try:
        await run_in_threadpool(keep)
    except ReadingError as error:
        values = await run_in_threadpool(_values, build, given, str(error))
        return render(request, "bench.html", values, 422)
    build.live.publish(build.place.key, "reading", given.get("id", ""))
    return back(request, base(build) + "bench")


async def strike(request: Request) -> Response:
    """Strike a reading out; it stays where it was written."""
    build = await opened(request)
    form = await request.form()
    name, why = str(form.get("id", "")), str(form.get("why", ""))
    try:
        await run_in_threadpool(readings(build).strike, name, why)
    except KeyError:
        raise HTTPException(404, "There is no such reading.") from None
    except ReadingError as error:
        return render(request, "bench.html", await run_in_threadpool(_values, build, {}, str(error)), 422)
    build.live.publish(build.place.key, "reading", name)
    return back(request, base(build) + "bench")


async def export(request: Request) -> Response:
    """All readings as CSV."""
    build = await opened(request)
    text = await run_in_threadpool(readings(build).export, True)
    return PlainTextResponse(text, media_type="text/csv")
