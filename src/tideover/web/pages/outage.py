"""The outage player: settings are turned, and the march of one outage is drawn."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from tideover.answers.replay import Knob, Replay, knobs, replay
from tideover.draw.chart import chart
from tideover.network import Network
from tideover.quantity import show
from tideover.render.data import plain
from tideover.web.opened import Opened
from tideover.web.pages.build import bar
from tideover.web.pages.common import opened, render

STEPS = 48
"""Places on a slider."""
WIDE = 20.0
"""Highest over lowest from which a slider runs in equal ratios."""


@dataclass(frozen=True)
class Slider:
    """A knob as a slider over a few round places, one of which is the build as drawn."""

    id: str
    label: str
    steps: tuple[str, ...]
    at: int


def places(knob: Knob) -> tuple[float, ...]:
    """Values of a slider, from low to high; the value as drawn is one of them."""
    if not knob.unit and knob.high > 1.0:  # a count
        return tuple(float(n) for n in range(round(knob.low), round(knob.high) + 1))
    if knob.low > 0.0 and knob.high / knob.low >= WIDE:
        ratio = math.log(knob.high / knob.low) / STEPS
        between = [knob.low * math.exp(k * ratio) for k in range(STEPS + 1)]
    else:
        between = [knob.low + k * (knob.high - knob.low) / STEPS for k in range(STEPS + 1)]
    rounded = {float(f"{value:.2g}") for value in between[1:-1]}
    inside = {value for value in rounded if knob.low < value < knob.high}
    return tuple(sorted(inside | {knob.low, knob.high, knob.value}))


def sliders(network: Network, asked: Mapping[str, str]) -> tuple[Slider, ...]:
    """All knobs, where they were turned to."""
    found = []
    for k, knob in enumerate(knobs(network)):
        values = places(knob)
        found.append(Slider(f"k{k}", knob.name, tuple(_shown(v, knob) for v in values), _index(asked, k, knob, values)))
    return tuple(found)


def _shown(value: float, knob: Knob) -> str:
    if knob.unit:
        return show(value, knob.unit)
    return f"{value:g}" if knob.high > 1.0 else show(value, "%")


def _index(asked: Mapping[str, str], k: int, knob: Knob, values: tuple[float, ...]) -> int:
    """Place that was asked for, or that of the build as drawn; what is no place of the slider is none."""
    text = asked.get(f"k{k}", "")
    if text.isascii() and text.isdigit() and len(text) < 4 and int(text) < len(values):
        return int(text)
    return values.index(knob.value)


def ride(network: Network, asked: Mapping[str, str]) -> Replay:
    """The outage as the sliders stand."""
    settings = {}
    for k, knob in enumerate(knobs(network)):
        values = places(knob)
        settings[knob.key] = values[_index(asked, k, knob, values)]
    return replay(network, settings)


async def page(request: Request) -> Response:
    """The player; without scripts it draws what its sliders were set to."""
    build = await opened(request)
    network = _network(build)
    asked = dict(request.query_params)
    values: dict[str, Any] = {"knobs": await run_in_threadpool(sliders, network, asked), "figure": "", "headline": ""}
    if asked:
        played = await run_in_threadpool(ride, network, asked)
        volts = [s for s in played.series if s.y_unit == "V"]
        values["figure"] = await run_in_threadpool(lambda: chart(volts, title="Voltages", width=1080)) if volts else ""
        values["headline"] = played.said
    return render(request, "outage.html", bar(build) | values)


async def played(request: Request) -> Response:
    """An outage as data, for the chart."""
    build = await opened(request)
    network = _network(build)
    try:
        found = await run_in_threadpool(ride, network, dict(request.query_params))
    except ValueError as error:
        return JSONResponse({"wrong": str(error)})
    need = network.need
    marks = [{"t": t, "name": "mains lost"} for t in found.losses] + [
        {"t": t, "name": "mains back"} for t in found.returns
    ]
    data = {
        "status": found.status,
        "headline": found.said,
        "t": found.series[0].x if found.series else (),
        "series": [
            {"name": s.name, "unit": s.y_unit, "y": s.y, "shown": k == 0 or s.y_unit == "V"}
            for k, s in enumerate(found.series)
        ],
        "window": need.window,
        "dips": need.dips,
        "marks": marks,
    }
    return JSONResponse(plain(data), headers={"Cache-Control": "no-store"})


def _network(build: Opened) -> Network:
    if build.now.network is None:
        raise HTTPException(409, "The file as it stands cannot be computed; its sheet says why.")
    return build.now.network
