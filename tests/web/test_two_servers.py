"""Two servers that have one build open, and many threads of one: every value that was accepted is in the file."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable

import pytest

from tideover.design.edit import value_at
from tideover.web.desk import Desk

ROUNDS = 25
TEXT = "tideover: 1\nneed:\n  runtime: 0 h   # asked for by one\n  recharge: 0 h  # asked for by another\n"


def child(work: Callable[[], None]) -> int:
    number = os.fork()
    if number == 0:
        status = 1
        try:
            work()
            status = 0
        finally:
            os._exit(status)
    return number


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
def test_two_servers_that_save_over_and_over_overwrite_nothing_of_each_other(tmp_path, monkeypatch):
    monkeypatch.setattr(Desk, "_faults", lambda self, text: ())
    path = tmp_path / "build.yaml"
    path.write_text(TEXT)

    def work(key: str, other: str) -> None:
        desk, seen = Desk(path), 0
        for n in range(1, ROUNDS + 1):
            assert desk.change(("need", key), f"{n} h", f"{n - 1} h").accepted, "our own value was changed by others"
            while desk.save().edits:  # they were quicker: theirs is merged, and we save again
                assert desk.state.outside != "conflict"
            theirs = int((value_at(path.read_text(), ("need", other)) or "").split()[0])
            assert theirs >= seen, "a value that was saved has gone back"
            seen = theirs

    children = [child(lambda: work("runtime", "recharge")), child(lambda: work("recharge", "runtime"))]
    assert [os.waitstatus_to_exitcode(os.waitpid(number, 0)[1]) for number in children] == [0, 0]
    assert path.read_text() == TEXT.replace("0 h", f"{ROUNDS} h")


def test_of_many_threads_that_change_one_value_each_is_accepted_or_told(tmp_path, monkeypatch):
    monkeypatch.setattr(Desk, "_faults", lambda self, text: ())
    path = tmp_path / "build.yaml"
    path.write_text(TEXT)
    desk = Desk(path)
    results = []

    def work(n: int) -> None:
        for k in range(5):
            seen = value_at(desk.state.text, ("need", "runtime"))
            results.append((f"{n}.{k} h", desk.change(("need", "runtime"), f"{n}.{k} h", seen, f"phone {n}")))

    threads = [threading.Thread(target=work, args=(n,)) for n in range(1, 5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    accepted = {value for value, change in results if change.accepted}
    assert all(change.accepted or change.clash for _, change in results) and len(results) == 20
    history = set()
    while desk.state.can_undo:
        history.add(value_at(desk.state.text, ("need", "runtime")))
        desk.undo()
    assert history == accepted
