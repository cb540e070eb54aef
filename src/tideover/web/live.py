"""What happens to a build, told at once to every page that shows it, as server-sent events."""

from __future__ import annotations

import asyncio
import threading
from collections import deque
from collections.abc import AsyncIterator, Callable, Iterable
from contextlib import suppress

Event = tuple[str, str]
"""Name and data."""
EVENTS = ("version", "answer", "progress", "saved", "outside", "reading", "peer", "missed")
"""A new version of the text; an answer (its key); how far the sheet is; saved; the file changed outside; a reading at
the bench; who else looks; and events were left out, so that the page must be loaded again."""
LATEST = ("progress",)
"""Of these only the newest matters: one that still waits is replaced."""
WAITING = 256
"""Events that wait for a page; one that takes them no faster misses some and is told so."""
SIGN_OF_LIFE = 15.0
"""A line is sent when nothing happened for so long, so that a lost page is noticed. [s]"""


class Live:
    """Pages that listen, by build. `publish` may be called from any thread, `subscribe` in a running event loop."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._listeners: dict[str, set[_Listener]] = {}

    def publish(self, build: str, event: str, data: str = "") -> None:
        """Tell all pages of a build; ValueError for an event that is none of `EVENTS`."""
        if event not in EVENTS:
            raise ValueError(f"{event} is no event")
        with self._lock:
            listeners = tuple(self._listeners.get(build, ()))
        for listener in listeners:
            listener.tell((event, data))

    async def subscribe(self, build: str) -> AsyncIterator[Event]:
        """Events of a build from now on, until `close` or until nobody asks for more."""
        listener = _Listener()
        with self._lock:
            self._listeners.setdefault(build, set()).add(listener)
        try:
            while (event := await listener.next()) is not None:
                yield event
        finally:
            with self._lock:
                self._listeners[build].discard(listener)
                if not self._listeners[build]:
                    del self._listeners[build]

    def listening(self, build: str) -> int:
        """Pages that listen to a build."""
        with self._lock:
            return len(self._listeners.get(build, ()))

    def close(self) -> None:
        """End every subscription, so that the server can go."""
        with self._lock:
            listeners = [listener for some in self._listeners.values() for listener in some]
        for listener in listeners:
            listener.tell(None)


class _Listener:
    """Events that wait for one page."""

    def __init__(self) -> None:
        self._loop = asyncio.get_running_loop()
        self._lock = threading.Lock()
        self._events: deque[Event | None] = deque()
        self._some = asyncio.Event()

    def tell(self, event: Event | None) -> None:
        """From any thread; None ends it."""
        with self._lock:
            if event is not None and event[0] in LATEST:
                self._events = deque(e for e in self._events if e is None or e[0] != event[0])
            if len(self._events) >= WAITING:
                self._events = deque([("missed", "")])
            self._events.append(event)
        with suppress(RuntimeError):  # its loop is closed: nobody listens
            self._loop.call_soon_threadsafe(self._some.set)

    async def next(self) -> Event | None:
        """The next event; waits for it."""
        while True:
            with self._lock:
                if self._events:
                    return self._events.popleft()
                self._some.clear()
            await self._some.wait()


async def stream(
    live: Live, build: str, sign_of_life: float = SIGN_OF_LIFE, first: Callable[[], Iterable[Event]] = tuple
) -> AsyncIterator[str]:
    """The text of an event stream: what is published, and a comment now and then.

    `first` is asked once it listens: what the page missed between its making and now.
    """
    events = live.subscribe(build)
    coming: asyncio.Future[Event] | None = None
    try:
        yield "retry: 1000\n\n"
        coming = asyncio.ensure_future(anext(events))
        await asyncio.sleep(0)  # from here on it listens
        for name, data in first():
            yield written(name, data)
        while True:
            coming = coming or asyncio.ensure_future(anext(events))
            done, _ = await asyncio.wait((coming,), timeout=sign_of_life)
            if not done:
                yield ": still here\n\n"
                continue
            try:
                name, data = coming.result()
            except StopAsyncIteration:
                return
            coming = None
            yield written(name, data)
    finally:
        if coming is not None:
            coming.cancel()
            await asyncio.gather(coming, return_exceptions=True)
        await events.aclose()  # type: ignore[attr-defined]


def written(name: str, data: str) -> str:
    r"""One event as it goes over the wire.

    Examples
    --------
    >>> written("answer", "outage")
    'event: answer\ndata: outage\n\n'
    """
    lines = "".join(f"data: {line}\n" for line in data.replace("\r\n", "\n").replace("\r", "\n").split("\n"))
    return f"event: {name}\n{lines}\n"


__all__ = ["EVENTS", "Live", "stream", "written"]
