"""Killed at any instant: the build file is the old one or the new one, and nothing acknowledged is lost.

The children are forked, so that they start at once; each is killed by the operating system without warning.
"""

from __future__ import annotations

import os
import random
import select
import signal
import sys
import time
from collections.abc import Callable

import pytest

from tideover.bench.readings import Readings, typed
from tideover.design.edit import value_at
from tideover.web.desk import Desk

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
KILLS = 100
REMARKS = "".join(f"# line {n} of what was found out about it\n" for n in range(100))
TEXT = f"tideover: 1\ntitle: build 0 of many  # a short file, that many saves go into a moment\n{REMARKS}# the end\n"
TITLE = ("title",)
RNG = random.Random(7)


def killed(work: Callable[[Callable[[str], None]], None], most: float = 0.08) -> list[str]:
    """Let a child work until it is killed, in most cases after its first word; what it acknowledged, in order."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(read)
            work(lambda said: os.write(write, f"{said}\n".encode()) and None)
        finally:
            os._exit(3)  # it was not killed in time, or stumbled
    os.close(write)
    if RNG.random() < 0.9:
        select.select([read], [], [], 10.0)
    time.sleep(RNG.uniform(0.0, most))
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    with os.fdopen(read) as pipe:
        said = pipe.read().splitlines()
    assert os.WIFSIGNALED(status), f"the child ended by itself: {status}"
    return said


def test_a_hundred_kills_while_saving_leave_the_old_file_or_the_new_one(tmp_path, monkeypatch):
    monkeypatch.setattr(Desk, "_faults", lambda self, text: ())  # read a hundred times a second, not judged
    path = tmp_path / "build.yaml"
    path.write_bytes(TEXT.encode())
    number, saved, saves, unsaved = 0, 0, 0, 0

    def written(n: int) -> str:
        return TEXT.replace("build 0 of many", f"build {n} of many")

    for _ in range(KILLS):

        def work(tell: Callable[[str], None], first: int = number) -> None:
            desk = Desk(path)
            for n in range(first + 1, first + 1000):
                assert desk.change(TITLE, f"build {n} of many", value_at(desk.state.text, TITLE)).accepted
                tell(f"changed {n}")
                assert desk.save().edits == 0
                tell(f"saved {n}")

        said = [line.split() for line in killed(work)]
        changed = max([number, *(int(n) for what, n in said if what == "changed")])
        saved = max([saved, *(int(n) for what, n in said if what == "saved")])
        there = path.read_bytes().decode()
        assert there in [written(n) for n in range(saved, changed + 2)], f"neither old nor new after {said[-2:]}"
        resumed = Desk(path)
        title = value_at(resumed.state.text, TITLE) or ""
        now = int(title.split()[1])
        assert changed <= now <= changed + 1, f"acknowledged {changed}, found {now}"
        assert resumed.state.text == written(now)
        saves += len([line for line in said if line[0] == "saved"])
        unsaved += resumed.recovered
        resumed.close()
        number = now
    assert saves > KILLS // 2 and unsaved > 0, "killed too early, or never between a change and its save"
    print(f"{KILLS} kills, {saves} saves, {unsaved} times unsaved edits were taken up again", file=sys.stderr)


def test_a_hundred_kills_while_adding_readings_lose_none(tmp_path):
    folder = tmp_path / "bench"
    known: set[str] = set()
    for kill in range(KILLS):

        def work(tell: Callable[[str], None], kill: int = kill) -> None:
            readings = Readings(folder)
            for n in range(1000):
                tell(readings.add(typed("load", "mains", f"{n} mV", id=f"{kill}-{n}")).id)

        acknowledged = killed(work)
        there = [reading.id for reading in Readings(folder).all()]
        known |= set(acknowledged)
        assert known <= set(there), f"lost {known - set(there)}"
        more = set(there) - known
        assert len(there) == len(set(there)) and len(more) <= 1, "more than the one under way"
        known |= more
    assert len(known) > KILLS
    print(f"{KILLS} kills, {len(known)} readings, none lost", file=sys.stderr)
