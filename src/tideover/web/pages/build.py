"""The sheet of a build, its parts, and what can be done to its text."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from tideover.answers.base import OPEN, QUESTIONS
from tideover.design import Fault, examine_text
from tideover.design.need import Need
from tideover.draw.path import fullest, path
from tideover.quantity import show, show_range
from tideover.render.page import MARKS
from tideover.shelf import items
from tideover.web import fields, view
from tideover.web.desk import State
from tideover.web.live import stream
from tideover.web.opened import Opened
from tideover.web.pages.common import PATIENCE, back, desks, device, opened, piece, render
from tideover.web.work import QUICK

ACTIONS = ("undo", "redo", "save", "revert")
HALT, GO_ON = "halt", "go-on"
"""What can be done with the work under way."""
RECOVERED = "Edits that were not saved last time are here again."
OUTSIDE = {
    "": "",
    "changed": "The file was changed outside; what was changed there is taken in.",
    "conflict": "The file was changed outside at a place that is edited here too.",
    "gone": "The file is not there any more. Save writes it again.",
}


def base(build: Opened) -> str:
    """Address of a build's page."""
    return f"/b/{quote(build.place.key)}/"


def bar(build: Opened, state: State | None = None) -> dict[str, Any]:
    """What the bar at the top shows."""
    state = state or build.desk.state
    on = (state.can_undo, state.can_redo, state.edits > 0 or state.outside == "gone", state.edits > 0)
    labels = ("Undo", "Redo", "Save", "Drop all edits")
    return {
        "base": base(build),
        "title": build.now.network.title if build.now.network else build.place.title,
        "version": state.version,
        "stand": build.stand,
        "edits": state.edits,
        "working": build.working(),
        "halt": (HALT, "Stop computing") if build.working() and not build.halted else None,
        "go_on": (GO_ON, "Go on computing") if build.halted else None,
        "actions": [(a, label, ok, a == "save") for a, label, ok in zip(ACTIONS, labels, on)],
        "notice": OUTSIDE[state.outside] or (RECOVERED if build.desk.recovered and state.edits else ""),
        "conflict": state.outside == "conflict",
    }


def head(build: Opened) -> dict[str, Any]:
    """What stands at the top of the sheet."""
    answers = build.answers()
    return {
        "tally": view.tally([a.status for a in answers.values()]),
        "waiting": 0 if build.now.faults else len(QUESTIONS) - len(answers),
        "again": not build.now.faults and len(answers) < len(QUESTIONS),
        "need": needed(build.now.network.need) if build.now.network else "",
        "faults": [fault(f) for f in build.now.faults],
        "gravest": view.gravest(answers),
    }


def fault(found: Fault) -> str:
    """A complaint about the file, which is named without the folders that lead to it."""
    return str(replace(found, place=replace(found.place, path=Path(found.place.path).name)))


def needed(need: Need) -> str:
    """What the load needs, in a line."""
    said = [f"{show_range(*need.window, 'V')} at ({need.at})"]
    said += [f"{show(need.runtime, 's')} without mains"] if need.runtime else []
    said += [f"full again within {show(need.recharge, 's')}"] if need.recharge else []
    return ", ".join([*said, f"in a room of {show_range(*need.ambient, 'K')}"])


def drawing(build: Opened, wanted: str) -> dict[str, Any]:
    """The path in one standing state."""
    now = build.now
    states = [f.state for f in now.flows]
    if now.network is None or not states:
        return {"path_wide": "", "states": (), "state": ""}
    flow = next((f for f in now.flows if f.state == wanted), now.flows[0])
    full = fullest(now.flows)
    marks = view.part_marks(build.answers())

    def link(part: str) -> str:
        return f"{base(build)}part/{quote(part, safe='')}"

    return {
        "path_wide": path(now.network, flow, marks, link, full=full),
        "path_slim": path(now.network, flow, marks, link, down=True, full=full),
        "path_said": "A line is as heavy as its current; dashed where none flows. A part opens its values.",
        "states": states,
        "state": flow.state,
    }


async def sheet(request: Request) -> Response:
    """The whole page."""
    build = await opened(request, PATIENCE)
    values = await run_in_threadpool(
        lambda: (
            bar(build)
            | head(build)
            | drawing(build, request.query_params.get("state", ""))
            | {
                "sections": [build.section(key) for key in QUESTIONS],
                "cautions": build.now.cautions,
                "quick": QUICK,
            }
        )
    )
    return render(request, "build.html", values)


async def events(request: Request) -> Response:
    """What happens to a build, for as long as a browser listens."""
    build = await opened(request, 0.0)  # that its first look is done is one of the events
    seen = request.query_params.get("seen", build.stand)

    def first() -> list[tuple[str, str]]:
        return [] if seen == build.stand else [("version", str(build.desk.state.version))]

    return StreamingResponse(stream(desks(request).live, build.place.key, first=first), media_type="text/event-stream")


async def section(request: Request) -> Response:
    """One question."""
    return await _question(request, "section.html")


async def behind(request: Request) -> Response:
    """Every finding and all tables of one question: a piece of the sheet, asked for when it is unfolded."""
    return await _question(request, "behind.html")


async def question(request: Request) -> Response:
    """One question on a page of its own."""
    return await _question(request, "question.html")


async def _question(request: Request, template: str) -> Response:
    build = await opened(request)
    key = request.path_params["question"]
    if key not in QUESTIONS:
        raise HTTPException(404, f"{key} is no question of the sheet.")
    found = await run_in_threadpool(build.section, key)
    return render(request, template, bar(build) | {"s": found, "faults": build.now.faults})


async def bar_piece(request: Request) -> Response:
    build = await opened(request)
    return render(request, "bar.html", bar(build))


async def head_piece(request: Request) -> Response:
    build = await opened(request)
    return render(request, "head.html", bar(build) | head(build))


async def path_piece(request: Request) -> Response:
    build = await opened(request)
    values = await run_in_threadpool(drawing, build, request.query_params.get("state", ""))
    return render(request, "path.html", {"base": base(build)} | values)


# --- parts and values -------------------------------------------------------------------------------


def shelf_names() -> list[tuple[str, str]]:
    """Name and kind of everything on the shelf."""
    return [(item.name, item.kind) for item in items()]


async def parts(request: Request) -> Response:
    """All parts, and what is needed."""
    build = await opened(request)
    marks = view.part_marks(build.answers())
    rows = []
    specs = examine_text(build.desk.state.text).parts
    for name, spec in specs.items():
        status = marks.get(name, "")
        rows.append(
            {
                "name": name,
                "kind": spec.kind,
                "shelf": spec.shelf or "",
                "status": status,
                "mark": MARKS.get(status, ""),
            }
        )
    values = bar(build) | {"need_fields": fields.need_fields(build.desk.state.text), "rows": rows}
    return render(request, "parts.html", values)


async def part(request: Request) -> Response:
    """One part: its values and what was found about it."""
    build = await opened(request)
    name = request.path_params["part"]
    text = build.desk.state.text
    try:
        shelf, stated, others = fields.part_fields(text, name)
    except KeyError:
        raise HTTPException(404, f"There is no part {name} in this build.") from None
    kind = build.now.network.part(name).kind.name if build.now.network else ""
    found = [
        view.told([f], build.now.written.get(a.key))
        for a in build.answers().values()
        for f in a.findings
        if f.subject == name and f.status != "holds"
    ]
    shown = {
        "name": name,
        "kind": kind,
        "page": kind.replace(" ", "-"),
        "shelf": shelf,
        "fields": stated,
        "others": others,
        "findings": found,
    }
    suggested = fields.suggestions(kind, shelf_names())
    values = bar(build) | {"part": shown, "suggested": suggested}
    return render(request, "part_sheet.html" if piece(request) else "part.html", values)


async def value(request: Request) -> Response:
    """Put a value into the text; what is wrong with it is said beside its field."""
    build = await opened(request)
    form = await request.form()
    where = fields.place(str(form.get("where", "")))
    typed, seen = str(form.get("value", "")).strip(), str(form.get("again", form.get("seen", "")))
    change = await run_in_threadpool(build.change, where, typed or None, seen, device(request))
    if change.accepted:
        await run_in_threadpool(build.catch_up)
    if not piece(request):
        address = base(build) + (f"part/{quote(where[1], safe='')}" if where[:1] == ("parts",) else "parts")
        return back(request, address)
    found = field_of(build, where)
    if change.accepted:
        more = len(change.faults)
        found = fields.replace(found, said=f"Taken; {more} faults elsewhere in the file." if more else "Taken.")
    elif change.clash is not None:
        other, by = change.clash.current or "", change.clash.by
        said = f"{by.device if by else 'Somebody'} put {other or 'nothing'} here meanwhile. Yours was not taken yet."
        found = fields.replace(found.refused(typed, said, other), written=other)
    else:
        found = found.refused(typed, _said(change))
    return render(request, "field.html", {"base": base(build), "v": found})


def _said(change: Any) -> str:
    return "\n".join(" ".join(filter(None, (f"{f.where} {f.problem}.", f.expected, f.mend))) for f in change.faults)


def field_of(build: Opened, where: tuple[str, ...]) -> fields.Field:
    """The field of a place; 404 where there is none."""
    joined = fields.SEPARATOR.join(where)
    text = build.desk.state.text
    every: list[fields.Field] = list(fields.need_fields(text))
    if where[0] in ("parts", "box"):
        name = where[1] if where[0] == "parts" else "box"
        try:
            shelf, stated, others = fields.part_fields(text, name)
        except KeyError:
            raise HTTPException(404, f"There is no part {name} in this build.") from None
        every = [*([shelf] if shelf else []), *stated, *others]
    found = next((f for f in every if f.where == joined), None)
    if found is None:
        raise HTTPException(404, "There is no such value.")
    return found


# --- the text as a whole ----------------------------------------------------------------------------


async def act(request: Request) -> Response:
    """Undo, redo, save, or drop all edits."""
    build = await opened(request)
    action = request.path_params["action"]
    if action in (HALT, GO_ON):
        await run_in_threadpool(build.halt if action == HALT else build.go_on)
        return await _done(request, build, build.desk.state)
    if action not in ACTIONS:
        raise HTTPException(404, f"{action} cannot be done.")
    state = await run_in_threadpool(getattr(build.desk, action))
    return await _done(request, build, state, saved=action == "save")


async def settle(request: Request) -> Response:
    """After a change outside at the same place: whose edits stay."""
    build = await opened(request)
    form = await request.form()
    keep = str(form.get("keep", ""))
    if keep not in ("ours", "theirs"):
        raise HTTPException(400, "Keep ours or theirs.")
    state = await run_in_threadpool(build.desk.settle, keep)
    return await _done(request, build, state)


async def _done(request: Request, build: Opened, state: State, saved: bool = False) -> Response:
    await run_in_threadpool(build.catch_up)
    if saved and not state.edits:
        build.keep_saved()
        build.live.publish(build.place.key, "saved", str(state.version))
    if not piece(request):
        return back(request, base(build))
    return render(request, "bar.html", bar(build, state))


__all__ = ["OPEN", "act", "bar", "base", "part", "parts", "section", "settle", "sheet", "value"]
