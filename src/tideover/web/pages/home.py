"""The builds of a folder, and how to begin one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from tideover.demos import copy, examples, title
from tideover.web import lately, view
from tideover.web.pages.common import Desks, back, desks, render
from tideover.web.places import Place
from tideover.web.starting import BUILD, NEEDS, begin, starters


async def home(request: Request) -> Response:
    """All builds below the folder."""
    values = await run_in_threadpool(_values, desks(request), {}, {}, "")
    return render(request, "home.html", values)


def _values(here: Desks, given: Mapping[str, str], faults: Mapping[str, str], wrong: str) -> dict[str, Any]:
    known = examples()
    return {
        "folder": here.folder.resolve().name,
        "builds": [_card(here, place) for place in here.places()],
        "starters": starters(known),
        "needs": NEEDS,
        "given": dict(given),
        "faults": dict(faults),
        "examples": [{"key": k, "title": title(f / BUILD), "said": k} for k, f in known.items()],
        "wrong": wrong or faults.get("name", ""),
    }


def _card(here: Desks, place: Place) -> dict[str, Any]:
    """A build with its status line: what is known of it without computing anything."""
    build = here.open.get(place.key)
    statuses = [a.status for a in build.answers().values()] if build else []
    before = lately.read(place.file) if not statuses else None
    line = "not looked at yet; open it to have it answered"
    if before is not None:
        statuses = list(before.statuses)
        line = "" if before.same else "changed since; open it to have it answered again"
    return {
        "key": quote(place.key),
        "title": place.title,
        "line": "" if build and statuses else line,
        "tally": view.tally(statuses),
    }


async def new(request: Request) -> Response:
    """Start a build from a starter and the need."""
    form = await request.form()
    given = {key: str(value) for key, value in form.items() if key != "token"}
    here = desks(request)
    starter = next((s for s in starters(examples()) if s.key == given.get("starter")), None)
    if starter is None:
        values = await run_in_threadpool(_values, here, given, {}, "Pick one of the paths to start from.")
        return render(request, "home.html", values, 422)
    file, faults = await run_in_threadpool(begin, here.folder, given.get("name", ""), starter.text, given)
    if file is None:
        values = await run_in_threadpool(_values, here, given, faults, "")
        return render(request, "home.html", values, 422)
    return back(request, f"/b/{quote(file.parent.name)}/")


async def example(request: Request) -> Response:
    """Copy an example here and open it; one that is there already is only opened."""
    form = await request.form()
    name, here = str(form.get("name", "")), desks(request)
    known = examples()
    if name not in known:
        values = await run_in_threadpool(_values, here, {}, {}, f"There is no example {name}.")
        return render(request, "home.html", values, 404)
    target = here.folder / name
    if not (target / BUILD).is_file():
        if target.exists():
            said = f"There is a {name} in this folder already, which is no build; it was left as it is."
            values = await run_in_threadpool(_values, here, {}, {}, said)
            return render(request, "home.html", values, 409)
        await run_in_threadpool(copy, known[name], target)
    return back(request, f"/b/{quote(name)}/")
