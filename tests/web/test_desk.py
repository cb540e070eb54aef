"""An open build: nothing typed is lost, nothing of others is overwritten, nobody's value is exchanged unseen."""

from __future__ import annotations

from pathlib import Path

import pytest

from tideover.design.edit import value_at
from tideover.web.desk import Desk

EXAMPLES = Path(__file__).parents[2] / "examples"
RUNTIME = ("need", "runtime")
RECHARGE = ("need", "recharge")


@pytest.fixture
def build(tmp_path):
    path = tmp_path / "build.yaml"
    path.write_bytes((EXAMPLES / "reading-room" / "build.yaml").read_bytes())
    return path


def test_undo_and_redo_go_over_a_save(build):
    desk = Desk(build)
    first = desk.state.text
    assert desk.change(RUNTIME, "4 h", "3 h").accepted
    assert desk.change(RECHARGE, "10 h", "12 h").state.edits == 2
    saved = desk.save()
    assert saved.edits == 0 and build.read_text() == saved.text
    assert desk.undo().edits == 1
    assert desk.undo().text == first and not desk.state.can_undo
    assert desk.redo().edits == 1
    assert desk.redo().text == saved.text and not desk.state.can_redo


def test_the_second_of_two_editors_is_told_who_was_first(build):
    desk = Desk(build)
    desk.change(RUNTIME, "4 h", "3 h", "phone")
    second = desk.change(RUNTIME, "5 h", "3 h", "laptop")
    assert not second.accepted and second.clash.current == "4 h" and second.clash.by.device == "phone"
    assert value_at(desk.state.text, RUNTIME) == "4 h"
    assert desk.change(RUNTIME, "5 h", "4 h", "laptop").accepted
    assert desk.who(RUNTIME).device == "laptop"


def test_a_refused_value_comes_back_in_the_readers_words_and_alters_nothing(build):
    desk = Desk(build)
    before = desk.state
    refused = desk.change(RUNTIME, "5 V", "3 h")
    assert not refused.accepted and desk.state == before
    (fault,) = refused.faults
    assert str(fault) == (
        f'{build}, line 10, column 12: need.runtime is "5 V", a voltage.\n'
        '   A time is expected, such as "8 h"; it may be 1 s to 400 d.\n   Write: runtime: 8 h'
    )
