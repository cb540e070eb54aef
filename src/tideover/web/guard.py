"""Who may ask, and how much: checked before any page sees a request.

A page of another site that is open in the same browser can send requests to this machine, under this machine's name or
under a name of its own that it points here. So the name asked for, the page that asks, and a token that only our pages
know are checked; other devices come in by a code (see `pairing`). On the machine itself any program of the user may
ask.
"""

from __future__ import annotations

import hmac
import ipaddress
import secrets
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs

from tideover.web.pairing import Pairing

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

LARGEST = 4_000_000
"""Of a request's body. [byte]"""
LARGEST_FORM = 65_536
"""Of a form whose token is read here; larger ones bring the token in the header. [byte]"""
TOKEN_HEADER, TOKEN_FIELD = "x-tideover", "token"
COOKIE = "tideover_device"
PAIR_PATH = "/pair"
OPEN_TO_STRANGERS = "/static/"
"""Besides the page that pairs, what a device sees that was not let in yet."""
READING = ("GET", "HEAD")
HEADERS = (
    (
        b"content-security-policy",
        b"default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; form-action 'self'; "
        b"frame-ancestors 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)
"""Sent with everything: our own scripts and styles from our own files, nothing in a frame of others."""


class TooLarge(Exception):
    """The body is larger than what is taken."""


@dataclass
class Guard:
    """ASGI middleware.

    Attributes
    ----------
    app : App
        What is guarded. It finds the device that asks in ``scope["state"]["device"]``, "" for this machine.
    port : int
        Where we listen; names in requests must carry it.
    shared : tuple of str
        Names and addresses under which other devices may ask; none unless the user shares.
    pairing : Pairing
        Devices let in.
    token : str
        What every change must bring, in the header ``X-Tideover`` or the form's field ``token``.
    """

    app: App
    port: int
    shared: tuple[str, ...] = ()
    pairing: Pairing = field(default_factory=Pairing)
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32))

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
        elif scope["type"] == "websocket":  # there are none here
            await send({"type": "websocket.close", "code": 1008})
        elif scope["type"] == "http":
            await self._http(scope, receive, _with_headers(send))

    async def _http(self, scope: Scope, receive: Receive, send: Send) -> None:
        asked = _Asked(scope)
        if not named(asked.one("host"), self._names, self.port):
            return await refuse(send, 421, "This name is not that of the machine. Use the address that was printed.")
        if asked.doubtful:
            return await refuse(send, 400, "The request cannot be read: a header stands in it twice or is no text.")
        device = self.pairing.device(asked.cookie)
        here = _loopback(scope.get("client"))
        if not (here or device or asked.path == PAIR_PATH or asked.path.startswith(OPEN_TO_STRANGERS)):
            if asked.method == "GET":
                return await send_away(send, PAIR_PATH)
            return await refuse(send, 403, f"This device was not let in yet. Open {PAIR_PATH} and type the code.")
        length = asked.one("content-length")
        if length and (not length.isascii() or not length.isdigit() or len(length) > 15):
            return await refuse(send, 400, "The request cannot be read: its length is no number.")
        if length and int(length) > LARGEST:
            return await refuse(send, 413, TOO_LARGE)
        limited = _Limited(receive)
        if asked.method not in READING:
            if not self._ours(asked):
                return await refuse(send, 403, "This came from a page of another site, and was not done.")
            try:
                allowed = asked.path == PAIR_PATH or await self._knows(asked, limited)
            except TooLarge:
                return await refuse(send, 413, TOO_LARGE)
            if not allowed:
                return await refuse(send, 403, "This page is older than the server. Load it again and repeat.")
        scope.setdefault("state", {})["device"] = device.name if device is not None and not here else ""
        answered = _Answered(send, limited)
        try:
            await self.app(scope, limited, answered)
        except Exception:
            if not limited.over or answered.begun:
                raise
        if limited.over and not answered.begun:
            await refuse(send, 413, TOO_LARGE)

    @property
    def _names(self) -> frozenset[str]:
        return frozenset(("localhost", "127.0.0.1", "::1", *(name.casefold() for name in self.shared)))

    def _ours(self, asked: _Asked) -> bool:
        """Whether a change was sent by a page of ours, as far as the browser tells."""
        if asked.one("sec-fetch-site") not in ("", "same-origin", "none"):
            return False
        origin = asked.one("origin")
        if not origin:
            return True  # not a page's script or form, or an old browser: the token decides
        scheme, slashes, rest = origin.partition("://")
        return bool(slashes) and scheme == "http" and rest.casefold() == asked.one("host").casefold()

    async def _knows(self, asked: _Asked, body: _Limited) -> bool:
        """Whether a change brings the token."""
        brought = asked.one(TOKEN_HEADER)
        if not brought and asked.one("content-type").partition(";")[0].strip() == "application/x-www-form-urlencoded":
            form = await body.ahead(LARGEST_FORM)
            try:
                brought = parse_qs(form.decode(), max_num_fields=1000).get(TOKEN_FIELD, [""])[0]
            except ValueError:  # not UTF-8, or too many fields
                return False
        return hmac.compare_digest(brought.encode("utf-8", "replace"), self.token.encode())


TOO_LARGE = f"This is larger than the {LARGEST // 1_000_000} MB that are taken at once."


class _Asked:
    """A request's line and headers."""

    ONCE = ("host", "origin", "content-length", "content-type", "sec-fetch-site", TOKEN_HEADER)

    def __init__(self, scope: Scope) -> None:
        self.method = str(scope.get("method", "GET"))
        self.path = str(scope.get("path", "/"))
        self.values: dict[str, list[str]] = {}
        for name, value in scope.get("headers") or ():
            self.values.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))

    @property
    def doubtful(self) -> bool:
        """Whether what must stand once stands twice: others on the way may have read the other one."""
        return any(len(self.values.get(name, ())) > 1 for name in self.ONCE)

    def one(self, name: str) -> str:
        """A header's text; "" when there is none."""
        return self.values.get(name, [""])[0].strip()

    @property
    def cookie(self) -> str:
        """The secret that a device keeps."""
        jar: SimpleCookie = SimpleCookie()
        for text in self.values.get("cookie", ()):
            try:
                jar.load(text)
            except CookieError:
                continue
        return jar[COOKIE].value if COOKIE in jar else ""


class _Limited:
    """Receives a body and counts it while it comes; what was read ahead is given first."""

    def __init__(self, receive: Receive) -> None:
        self.receive = receive
        self.ahead_of: list[Message] = []
        self.count = 0
        self.over = False

    async def __call__(self) -> Message:
        return self.ahead_of.pop(0) if self.ahead_of else await self._next()

    async def _next(self) -> Message:
        message = await self.receive()
        if message["type"] == "http.request":
            self.count += len(message.get("body", b""))
            if self.count > LARGEST:
                self.over = True
                raise TooLarge
        return message

    async def ahead(self, most: int) -> bytes:
        """The whole body, if it is no longer than `most`; the application gets it all the same."""
        body = b""
        while True:
            message = await self._next()
            self.ahead_of.append(message)
            body += message.get("body", b"")
            if len(body) > most:
                return b""
            if message["type"] != "http.request" or not message.get("more_body", False):
                return body


class _Answered:
    """Sends what the application answers, unless the body was too large: then whatever it makes of that is dropped."""

    def __init__(self, send: Send, body: _Limited) -> None:
        self.send, self.body, self.begun = send, body, False

    async def __call__(self, message: Message) -> None:
        if self.body.over and not self.begun:
            return
        self.begun = True
        await self.send(message)


def named(host: str, names: Iterable[str], port: int) -> bool:
    """Whether a Host header is one of our names with our port.

    Examples
    --------
    >>> named("localhost:8400", ["localhost"], 8400), named("harbour.example:8400", ["localhost"], 8400)
    (True, False)
    """
    host = host.casefold()
    if host.startswith("["):
        name, bracket, rest = host[1:].partition("]")
        if not bracket:
            return False
    else:
        name, colon, after = host.partition(":")
        rest = colon + after
    return name in names and rest in ((f":{port}", "") if port == 80 else (f":{port}",))


def _loopback(client: Any) -> bool:
    """Whether the other end is this machine."""
    try:
        address = ipaddress.ip_address(client[0])
    except (TypeError, ValueError, IndexError):
        return False
    mapped = getattr(address, "ipv4_mapped", None)
    return bool((mapped or address).is_loopback)


def cookie(secret: str) -> str:
    """The header ``Set-Cookie`` that a device keeps its secret by."""
    return f"{COOKIE}={secret}; Path=/; HttpOnly; SameSite=Strict; Max-Age=31536000"


def device_of(scope: Scope) -> str:
    """Name of the device that asks, as the guard found it; "" for this machine."""
    return str(scope.get("state", {}).get("device", ""))


def _with_headers(send: Send) -> Send:
    """The same with our headers on every answer; what an application says of its own stays."""

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            own = list(message.get("headers", ()))
            said = {name.lower() for name, _ in own}
            message = {**message, "headers": [*own, *((n, v) for n, v in HEADERS if n not in said)]}
        await send(message)

    return sending


async def refuse(send: Send, status: int, why: str) -> None:
    """Answer with a sentence."""
    kind = (b"content-type", b"text/plain; charset=utf-8")
    body = f"{why}\n".encode()
    headers = [kind, (b"content-length", str(len(body)).encode()), (b"connection", b"close")]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


async def send_away(send: Send, path: str) -> None:
    """To another page."""
    headers = [(b"location", path.encode()), (b"content-length", b"0")]
    await send({"type": "http.response.start", "status": 303, "headers": headers})
    await send({"type": "http.response.body", "body": b""})


__all__ = ["COOKIE", "LARGEST", "PAIR_PATH", "TOKEN_FIELD", "TOKEN_HEADER", "Guard", "cookie", "device_of"]
