"""Events reach every page that listens, in order, from any thread; a page that is too slow is told what it missed."""

from __future__ import annotations

import asyncio
import threading

import pytest

from tideover.web.live import WAITING, Live, stream, written


async def taken(live, count, build="gauge", ready=None):
    out = []
    events = live.subscribe(build)
    async for event in events:
        out.append(event)
        if len(out) == count:
            break
    await events.aclose()
    return out


async def listening(live, count, build="gauge"):
    while live.listening(build) < count:
        await asyncio.sleep(0.001)


def test_every_page_of_a_build_hears_what_another_thread_tells_in_order():
    async def scene():
        live = Live()
        pages = [asyncio.create_task(taken(live, 3)) for _ in range(2)]
        other = asyncio.create_task(taken(live, 1, "choir"))
        await listening(live, 2)
        await listening(live, 1, "choir")

        def tell():
            for key in ("drops", "standing", "outage"):
                live.publish("gauge", "answer", key)

        thread = threading.Thread(target=tell)
        thread.start()
        assert await asyncio.gather(*pages) == [[("answer", k) for k in ("drops", "standing", "outage")]] * 2
        thread.join()
        live.publish("choir", "saved")
        assert await other == [("saved", "")]
        assert live.listening("gauge") == live.listening("choir") == 0

    asyncio.run(asyncio.wait_for(scene(), 10))


def test_only_the_newest_progress_waits():
    async def scene():
        live = Live()
        page = asyncio.create_task(taken(live, 2))
        await listening(live, 1)
        for k in range(5):
            live.publish("gauge", "progress", str(k))
        live.publish("gauge", "saved")
        return await page

    assert asyncio.run(asyncio.wait_for(scene(), 10)) == [("progress", "4"), ("saved", "")]


def test_a_page_that_is_too_slow_is_told_that_it_missed_something():
    async def scene():
        live = Live()
        page = asyncio.create_task(taken(live, 2))
        await listening(live, 1)
        for k in range(WAITING + 1):
            live.publish("gauge", "answer", str(k))
        return await page

    assert asyncio.run(asyncio.wait_for(scene(), 10)) == [("missed", ""), ("answer", str(WAITING))]


def test_closing_ends_every_page_at_once():
    async def scene():
        live = Live()
        lines = []

        async def page():
            async for text in stream(live, "gauge"):
                lines.append(text)

        task = asyncio.create_task(page())
        await listening(live, 1)
        live.publish("gauge", "version", "7")
        live.close()
        await task
        assert live.listening("gauge") == 0
        return lines

    assert asyncio.run(asyncio.wait_for(scene(), 10)) == ["retry: 1000\n\n", "event: version\ndata: 7\n\n"]


def test_a_silent_stream_shows_that_it_lives_and_loses_nothing():
    async def scene():
        live = Live()
        lines = stream(live, "gauge", 0.01)
        assert await anext(lines) == "retry: 1000\n\n"
        assert await anext(lines) == ": still here\n\n"
        live.publish("gauge", "saved")
        assert await anext(lines) == "event: saved\ndata: \n\n"
        await lines.aclose()
        assert live.listening("gauge") == 0

    asyncio.run(asyncio.wait_for(scene(), 10))


def test_data_of_several_lines_cannot_begin_another_event():
    sent = "event: answer\ndata: a\ndata: event: saved\ndata: \ndata: b\n\n"
    assert written("answer", "a\nevent: saved\r\rb") == sent


def test_an_event_that_is_none_is_refused():
    with pytest.raises(ValueError):
        Live().publish("gauge", "nonsense")
