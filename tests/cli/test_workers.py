"""Who shares long work, and how far it is."""

from __future__ import annotations

import io
import os
import sys
import time

import pytest
from cases.clusters import loopback

from cli import samples
from tideover.cases import share
from tideover.cli.common import Refusal
from tideover.cli.program import run
from tideover.cli.workers import Progress, at_work


def square(x):
    return x * x


def test_workers_come_and_go():
    with at_work(2, None) as executor:
        assert share(square, range(5), executor).results == (0, 1, 4, 9, 16)
    with at_work(0, None) as executor:
        assert executor is None


def test_a_cluster_is_found_by_its_address():
    with loopback(processes=False) as other, at_work(None, other._client.scheduler.address) as executor:
        assert share(square, range(5), executor).results == (0, 1, 4, 9, 16)


def test_a_cluster_that_is_not_there_is_refused(monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr("tideover.cli.workers.PATIENCE", 0.2)
    with pytest.raises(Refusal, match=r"no scheduler answers there(.|\n)*dask scheduler"), at_work(
        None, "tcp://127.0.0.1:9"
    ):
        pass


def test_a_missing_library_is_named_with_its_extra(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(Refusal, match=r"tideover\[cluster\]"), at_work(None, "tcp://127.0.0.1:9"):
        pass


def test_two_answers_to_one_question_are_refused():
    with pytest.raises(Refusal, match="one of them"), at_work(2, "tcp://127.0.0.1:9"):
        pass


def test_the_command_hands_on_what_it_was_told(tmp_path, monkeypatch, capsys):
    (tmp_path / "build.yaml").write_text(samples.SMALL, encoding="utf-8")
    got = {}

    def sheet(network, keys=None, **more):
        got.update(more)
        return ()

    samples.answer_with(monkeypatch, ())
    monkeypatch.setattr(sys.modules["tideover.answers.sheet"], "sheet", sheet)
    assert run(["sheet", str(tmp_path), "--samples", "50", "--workers", "0", "--seed", "3"]) == 0
    assert (got["samples"], got["executor"], got["seed"]) == (50, None, 3)
    assert run(["sheet", str(tmp_path), "--samples", "0"]) == 2
    assert "samples" in capsys.readouterr().err


class Person(io.StringIO):
    def isatty(self):
        return True

    def fileno(self):
        raise OSError


@pytest.mark.parametrize("stream", [io.StringIO, Person])
def test_a_bar_is_for_people_only(monkeypatch, stream):
    out = stream()
    monkeypatch.setattr(sys, "stderr", out)
    with Progress() as told:
        for k in range(1, 5):
            told(k, 4)
    assert ("Sampling" in out.getvalue() and "100%" in out.getvalue()) == (stream is Person)
    assert os.linesep not in out.getvalue().rstrip(os.linesep)


def _late(path):
    time.sleep(3.0)
    path.touch()


def test_an_interrupt_does_not_wait_for_what_workers_are_at(tmp_path):
    with pytest.raises(KeyboardInterrupt), at_work(2, None) as executor:
        assert executor.submit(abs, -1).result() == 1
        executor.submit(_late, tmp_path / "done")
        raise KeyboardInterrupt
    assert not (tmp_path / "done").exists()
