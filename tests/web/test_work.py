"""The sheet in the background: each answer as it is found, ended when the text changes, whatever happens to a child."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tideover.answers.base import OPEN
from tideover.answers.sheet import ANSWERS, sheet
from tideover.design import examine_text
from tideover.network import load, settle
from tideover.solve import native
from tideover.web.work import FROM_QUICK_TO_LONG, QUICK, SAMPLED, Work, quick

ROOT = Path(__file__).parents[2]
FILE = ROOT / "examples" / "harbour-gauge" / "build.yaml"
LONG = 120.0


@pytest.fixture
def text() -> str:
    return FILE.read_text(encoding="utf-8")


@pytest.fixture
def heard():
    return []


@pytest.fixture
def work(heard):
    work = Work(lambda version, answer: heard.append((version, answer)), samples=50)
    yield work
    work.close()


def until(done, patience: float = LONG) -> None:
    end = time.monotonic() + patience
    while not done():
        assert time.monotonic() < end, "it did not happen in time"
        time.sleep(0.02)


def at_work(run) -> list[int]:
    return [child.process.pid for child in run.children]


def alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


def test_every_question_has_its_place_in_the_order():
    assert sorted([*FROM_QUICK_TO_LONG, SAMPLED]) == sorted(ANSWERS)


def test_answers_come_one_by_one_and_are_those_of_the_sheet(work, heard, text):
    keys = ("drops", "standing")
    network = work.start(1, text, FILE, keys)
    until(lambda: len(heard) == 1)
    assert set(work.results(1)) == {heard[0][1].key}
    assert work.wait(LONG)
    assert work.results(1) == {a.key: a for a in sheet(network, keys, samples=50)}
    assert [version for version, _ in heard] == [1, 1]


def test_the_tolerances_tell_how_far_they_are(text):
    told = []
    work = Work(on_progress=lambda version, progress: told.append((progress.key, work.sampled)), samples=600)
    try:
        work.start(1, text, FILE, (SAMPLED,))
        until(lambda: work.sampled[0] > 0)
        key, (done, total) = told[-1]
        assert key == SAMPLED and 0 < done <= total
    finally:
        work.close()


def test_a_newer_text_ends_the_older_one_and_leaves_no_process(work, heard, text):
    work.start(1, text, FILE, ("faults", "year"))
    run = work._run
    until(lambda: len(run.children) == 2)
    old = at_work(run)
    work.start(2, text, FILE, ("drops",))
    assert work.wait(LONG)
    run.thread.join(LONG)
    assert not run.thread.is_alive() and run.children == []
    until(lambda: not any(alive(pid) for pid in old), 10.0)
    assert [(version, answer.key) for version, answer in heard] == [(2, "drops")]
    assert work.results(1) == {}


def test_an_older_text_is_not_begun_after_a_newer_one(work, text):
    work.start(5, text, FILE, ("drops",))
    assert work.start(4, text, FILE, ("drops",)) is None
    assert work.wait(LONG)
    assert set(work.results(5)) == {"drops"} and work.results(4) == {}


def test_a_child_killed_from_outside_leaves_its_question_open_and_the_others_answered(work, heard, text):
    work.children = 1
    work.start(1, text, FILE, ("faults", "drops"), first=("faults",))
    run = work._run
    until(lambda: run.children and run.children[0].key == "faults")
    os.kill(at_work(run)[0], signal.SIGKILL)
    assert work.wait(LONG)
    found = work.results(1)
    assert found["faults"].status == OPEN and "ended from outside" in found["faults"].headline
    assert not found["faults"].broken
    assert found["drops"].status != OPEN


def test_faults_of_a_text_are_told_instead_of_answers(work, heard, text):
    assert work.start(1, text.replace("tideover: 1", "tideover: 1\nnonsense: 3"), FILE) is None
    assert [fault.where for fault in work.faults(1)] == ["nonsense"]
    assert work.results(1) == {} and work.progress.total == 0
    work.start(2, text, FILE, ("drops",))
    assert work.wait(LONG) and work.faults(2) == ()


def test_a_change_of_a_value_compiles_nothing(text, monkeypatch):
    if native.compiler() is None:
        pytest.skip("there is no C compiler here")
    made = []
    monkeypatch.setattr(native, "_compile", lambda *a: made.append(a))
    monkeypatch.setattr(native, "_BUILT", {})
    quick(load(FILE))
    assert made
    del made[:]
    changed = text.replace("runtime: 8 h", "runtime: 9 h").replace("length: 0.4 m", "length: 0.5 m", 1)
    assert changed != text
    quick(settle(examine_text(changed, str(FILE))))
    assert made == []


def test_a_child_told_to_stop_while_it_compiles_leaves_nothing_behind(tmp_path):
    if native.compiler() is None:
        pytest.skip("there is no C compiler here")
    code = (
        "import signal, sys\n"
        "from tideover.web.worker import _leave\n"
        "signal.signal(signal.SIGTERM, _leave)\n"
        "from tideover.network import load\n"
        "from tideover.solve import build\n"
        f"network = load({str(FILE)!r})\n"
        "print('begins', flush=True)\n"
        "build(network)\n"
    )
    env = os.environ | {"XDG_CACHE_HOME": str(tmp_path), "PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen([sys.executable, "-c", code], env=env, stdout=subprocess.PIPE) as child:
        until(lambda: list((tmp_path / "tideover").glob("*/network.c")), 60.0)
        child.terminate()
        assert child.wait(20.0) == 0
    assert list((tmp_path / "tideover").iterdir()) == []


def test_children_end_with_a_server_that_was_killed(tmp_path):
    code = (
        "import time\n"
        "from pathlib import Path\n"
        "from tideover.web.work import Work\n"
        "if __name__ == '__main__':\n"
        f"    file = Path({str(FILE)!r})\n"
        "    work = Work()\n"
        "    work.start(1, file.read_text(), file, ('faults', 'year'))\n"
        "    run = work._run\n"
        "    while not (len(run.children) == 2 and all(c.key for c in run.children)):\n"
        "        time.sleep(0.02)\n"
        "    print(*(c.process.pid for c in run.children), flush=True)\n"
        "    time.sleep(600)\n"
    )
    script = tmp_path / "server.py"
    script.write_text(code)
    env = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen([sys.executable, str(script)], env=env, stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout is not None
        pids = [int(word) for word in server.stdout.readline().split()]
        assert len(pids) == 2 and all(map(alive, pids))
        server.kill()
        server.wait()
    until(lambda: not any(map(alive, pids)), 20.0)


def test_the_first_look_answers_its_questions_as_the_build_is_written(text):
    network = load(FILE)
    answers = quick(network)
    assert [a.key for a in answers] == list(QUICK)
    assert not any(a.broken for a in answers)
    full = sheet(network, ("drops",))[0]
    ladder = answers[QUICK.index("drops")].tables[0]
    assert [row[0] for row in ladder.rows] == [row[0] for row in full.tables[0].rows]
