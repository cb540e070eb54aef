"""The cells of a build: inventory, fitted kinds of cell, groups and strips."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response

from tideover.cells import columns as col
from tideover.cells.stock import STATUSES
from tideover.laws.methods import METHODS
from tideover.web import stock
from tideover.web.opened import Opened
from tideover.web.pages.build import bar, base
from tideover.web.pages.common import back, opened, piece, render

CHOICES = {"status": STATUSES, "method": ("", *METHODS)}


def _folder(build: Opened) -> Path:
    return build.place.file.parent


def _cell(cell: Any, field: str, wrong: str = "", typed: str | None = None) -> dict[str, Any]:
    written = stock.shown(cell, field)
    return {
        "field": field,
        "value": written if typed is None else typed,
        "written": written,
        "wrong": wrong,
        "choices": CHOICES.get(field, ()),
        "fixed": field in stock.FIXED,
    }


def _values(build: Opened, wrong: str = "", said: str = "") -> dict[str, Any]:
    table, verdicts, faults = stock.stock(_folder(build))
    kinds, packs, others = stock.described(_folder(build))
    rows = [
        {
            "id": v.cell.id,
            "cells": [_cell(v.cell, field) for field in stock.SHOWN],
            "verdict": v.status,
            "why": v.why,
        }
        for v in verdicts
    ]
    return bar(build) | {
        "heads": [col.BY_FIELD[field].header for field in stock.SHOWN],
        "rows": rows,
        "there": table is not None,
        "notes": table.notes if table else (),
        "faults": [str(f) for f in (*faults, *others)],
        "kinds": kinds,
        "packs": packs,
        "methods": METHODS,
        "wrong": wrong,
        "said": said,
    }


async def cells(request: Request) -> Response:
    """The page."""
    build = await opened(request)
    return render(request, "cells.html", await run_in_threadpool(_values, build))


async def edit(request: Request) -> Response:
    """Put one value into the inventory."""
    build = await opened(request)
    form = {k: str(v) for k, v in (await request.form()).items()}
    name, field, typed = form.get("id", ""), form.get("field", ""), form.get("value", "").strip()
    wrong = ""
    try:
        await run_in_threadpool(stock.change, _folder(build), name, field, typed, form.get("seen", ""))
    except stock.RefusedError as error:
        wrong = str(error)
    if not piece(request):
        if wrong:
            return render(request, "cells.html", await run_in_threadpool(_values, build, wrong), 422)
        return back(request, base(build) + "cells")
    table, _, _ = await run_in_threadpool(stock.stock, _folder(build))
    found = next((c for c in table.cells if c.id == name), None) if table else None
    if found is None or field not in stock.SHOWN:
        return render(request, "stock_cell.html", {"base": base(build), "id": name, "c": {"wrong": wrong}}, 404)
    shown = _cell(found, field, wrong, typed if wrong else None)
    return render(request, "stock_cell.html", {"base": base(build), "id": name, "c": shown, "i": form.get("i", "0")})


async def take_in(request: Request) -> Response:
    """Take the cells of another table in."""
    build = await opened(request)
    form = await request.form()
    table = form.get("table")
    if not isinstance(table, UploadFile) or not table.filename:
        return render(request, "cells.html", await run_in_threadpool(_values, build, "Choose a table first."), 422)
    body = await table.read()

    def take() -> tuple[int, tuple[str, ...]]:
        with tempfile.TemporaryDirectory() as place:
            file = Path(place) / (Path(table.filename or "").name or "table.csv")
            file.write_bytes(body)
            return stock.take_in(
                _folder(build), file, str(form.get("method", "")), str(form.get("each", "")), "replace" in form
            )

    try:
        count, notes = await run_in_threadpool(take)
    except stock.RefusedError as error:
        wrong = f"Nothing was taken in. {error}"
        return render(request, "cells.html", await run_in_threadpool(_values, build, wrong), 422)
    said = " ".join((f"{count} values are new or changed.", *notes))
    return render(request, "cells.html", await run_in_threadpool(_values, build, "", said))
