"""How another device is let in: it shows the code that the machine printed."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from tideover.web.guard import cookie
from tideover.web.pages.common import render
from tideover.web.pairing import Pairing, Refused


async def page(request: Request) -> Response:
    """The form for the code; a QR code brings it along."""
    return render(request, "pair.html", {"code": request.query_params.get("code", ""), "wrong": ""})


async def take(request: Request) -> Response:
    """Let the device in, or say why not."""
    form = await request.form()
    pairing: Pairing | None = request.app.state.pairing
    code = str(form.get("code", ""))
    if pairing is None:
        return render(request, "pair.html", {"code": "", "wrong": "This machine does not share its builds."}, 403)
    try:
        secret = pairing.pair(code, str(form.get("name", "")))
    except Refused as error:
        return render(request, "pair.html", {"code": code, "wrong": str(error)}, 403)
    answer = RedirectResponse("/", 303)
    answer.headers["set-cookie"] = cookie(secret)
    return answer
