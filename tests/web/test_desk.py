"""An open build: nothing typed is lost, nothing of others is overwritten, nobody's value is exchanged unseen."""

from __future__ import annotations

from pathlib import Path

import pytest

from tideover.design import BuildError
from tideover.design.edit import value_at
from tideover.web.desk import Desk, DeskError

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


def outside(build, old, new):
    build.write_bytes(build.read_bytes().replace(old.encode(), new.encode()))


def test_a_file_changed_outside_is_taken_when_nothing_of_ours_is_unsaved(build):
    desk = Desk(build)
    outside(build, "runtime: 3 h", "runtime: 6 h   # asked for")
    seen = desk.look()
    assert seen.outside == "changed" and seen.edits == 0 and seen.text == build.read_text()
    assert desk.who(RUNTIME).device == "outside"
    assert desk.look().outside == ""
    assert "runtime: 3 h" in desk.undo().text


def test_edits_at_other_places_are_merged_and_the_remarks_of_both_stay(build):
    desk = Desk(build)
    desk.change(RUNTIME, "4 h", "3 h")
    desk.change(("parts", "lead", "length"), "2 m", None)
    outside(build, "recharge: 12 h", "recharge: 11 h   # asked for\n  # and a line")
    merged = desk.look()
    assert merged.outside == "changed" and merged.edits == 2
    assert merged.text == build.read_text().replace("runtime: 3 h", "runtime: 4 h").replace(
        "lead: DC cable 18 AWG 1.5 m", "lead: {from: DC cable 18 AWG 1.5 m, length: 2 m}"
    )
    assert desk.save().edits == 0 and build.read_text() == merged.text


@pytest.mark.parametrize("keep, runtime", [("ours", "4 h"), ("theirs", "6 h")])
def test_the_same_place_changed_by_both_is_asked_about(build, keep, runtime):
    desk = Desk(build)
    desk.change(RUNTIME, "4 h", "3 h")
    desk.change(("need", "years"), "3", None)
    outside(build, "runtime: 3 h", "runtime: 6 h")
    outside(build, "recharge: 12 h", "recharge: 11 h")
    theirs = build.read_text()
    seen = desk.save()
    assert seen.outside == "conflict" and seen.disputed == (RUNTIME,) and seen.theirs == theirs
    assert "runtime: 4 h" in seen.text and build.read_text() == theirs, "nothing is written while it is asked"
    assert desk.look().outside == "conflict" and desk.save().outside == "conflict"
    chosen = desk.settle(keep)
    assert chosen.outside == "" and chosen.theirs == "" and chosen.disputed == ()
    values = [value_at(chosen.text, where) for where in (RUNTIME, RECHARGE, ("need", "years"))]
    assert values == [runtime, "11 h", "3"]
    assert desk.save().edits == 0 and build.read_text() == chosen.text


def test_both_changed_a_value_to_the_same_one(build):
    desk = Desk(build)
    desk.change(RUNTIME, "4 h", "3 h")
    outside(build, "runtime: 3 h", "runtime: 4 h")
    assert desk.look().outside == "changed" and desk.state.edits == 0


def test_a_file_changed_again_while_it_is_asked_about_is_not_overwritten(build):
    desk = Desk(build)
    desk.change(RUNTIME, "4 h", "3 h")
    outside(build, "runtime: 3 h", "runtime: 6 h")
    assert desk.look().outside == "conflict"
    outside(build, "recharge: 12 h", "recharge: 11 h")
    desk.settle("ours")
    saved = desk.save()
    assert value_at(saved.text, RUNTIME) == "4 h" and value_at(saved.text, RECHARGE) == "11 h"
    assert build.read_text() == saved.text


def test_a_change_in_the_last_moment_before_the_file_is_replaced_is_seen(build, monkeypatch):
    desk = Desk(build)
    desk.change(RUNTIME, "4 h", "3 h")
    once = [True]
    before = Desk._unchanged

    def late(self):
        if once and once.pop():
            outside(build, "recharge: 12 h", "recharge: 11 h")
        before(self)

    monkeypatch.setattr(Desk, "_unchanged", late)
    seen = desk.save()
    assert "recharge: 11 h" in build.read_text(), "the change of others was overwritten"
    assert value_at(seen.text, RECHARGE) == "11 h" and value_at(seen.text, RUNTIME) == "4 h"
    assert desk.save().edits == 0 and "runtime: 4 h" in build.read_text() and "recharge: 11 h" in build.read_text()


def test_a_file_that_is_gone_is_told_and_saved_again_when_asked(build):
    desk = Desk(build)
    text = build.read_text()
    build.unlink()
    assert desk.look().outside == "gone"
    assert desk.save().outside == "" and build.read_text() == text


def test_a_file_that_is_no_text_any_more_is_asked_about(build):
    desk = Desk(build)
    desk.change(RUNTIME, "4 h", "3 h")
    build.write_bytes(b"\xff\xfe\x00junk")
    assert desk.save().outside == "conflict" and build.read_bytes() == b"\xff\xfe\x00junk"
    text = desk.settle("ours").text
    assert "runtime: 4 h" in text and desk.save().outside == "" and build.read_text() == text


def test_a_broken_text_outside_is_taken_as_it_is_but_never_over_edits_of_ours(build):
    desk = Desk(build)
    broken = build.read_text() + "oops: [\n"
    build.write_text(broken)
    assert desk.look().text == broken and desk.faults()
    refused = desk.change(RUNTIME, "4 h", "3 h")
    assert not refused.accepted and "cannot be followed" in str(refused.faults[0])
    mended = broken.replace("oops: [\n", "")
    build.write_text(mended)
    desk.look()
    assert desk.change(RUNTIME, "4 h", "3 h").accepted
    build.write_text(broken)
    assert desk.look().outside == "conflict" and "runtime: 4 h" in desk.state.text


def test_unsaved_edits_are_taken_up_by_the_next_server(build):
    desk = Desk(build)
    desk.change(RUNTIME, "4 h", "3 h", "phone")
    text = desk.state.text
    desk.close()
    after = Desk(build)
    assert after.recovered and after.state.text == text and after.state.edits == 1
    assert after.undo().edits == 0 and after.redo().text == text
    after.save()
    after.close()
    assert not Desk(build).recovered


def test_unsaved_edits_are_merged_with_what_changed_meanwhile(build):
    desk = Desk(build)
    desk.change(RUNTIME, "4 h", "3 h")
    desk.close()
    outside(build, "recharge: 12 h", "recharge: 11 h")
    after = Desk(build)
    assert after.state.outside == "changed" and after.state.edits == 1
    assert value_at(after.state.text, RECHARGE) == "11 h" and value_at(after.state.text, RUNTIME) == "4 h"


def test_unsaved_edits_that_contradict_what_changed_meanwhile_are_asked_about(build):
    desk = Desk(build)
    desk.change(RUNTIME, "4 h", "3 h")
    desk.close()
    outside(build, "runtime: 3 h", "runtime: 6 h")
    after = Desk(build)
    assert after.state.outside == "conflict" and after.state.disputed == (RUNTIME,)
    assert after.look().outside == "conflict"
    assert value_at(after.settle("ours").text, RUNTIME) == "4 h"


def test_a_journal_that_cannot_be_read_is_put_aside_and_not_deleted(build):
    folder = build.parent / ".tideover"
    folder.mkdir()
    (folder / "build.yaml.edits").write_text("{half")
    desk = Desk(build)
    assert not desk.recovered and desk.state.edits == 0
    assert [file.read_text() for file in folder.glob("*unreadable*")] == ["{half"]


def test_two_servers_on_one_build_keep_each_other_s_edits(build):
    one, two = Desk(build), Desk(build)
    assert one.change(RUNTIME, "4 h", "3 h").accepted
    assert two.change(RECHARGE, "11 h", "12 h").accepted
    assert one.save().edits == 0
    merged = two.save()
    assert merged.edits == 0 and "runtime: 4 h" in build.read_text() and "recharge: 11 h" in build.read_text()
    assert one.look().text == merged.text
    one.change(RUNTIME, "5 h", "4 h")
    two.change(RECHARGE, "10 h", "11 h")
    one.close()
    two.close()  # both killed with edits unsaved
    after = Desk(build)
    assert value_at(after.state.text, RUNTIME) == "5 h" and value_at(after.state.text, RECHARGE) == "10 h"
    after.save()
    after.close()
    assert not Desk(build).recovered


def test_line_ends_and_the_mark_at_the_begin_of_the_file_stay(build):
    raw = b"\xef\xbb\xbf" + build.read_bytes().replace(b"\n", b"\r\n")
    build.write_bytes(raw)
    desk = Desk(build)
    desk.change(RUNTIME, "4 h", "3 h")
    desk.save()
    assert build.read_bytes() == raw.replace(b"runtime: 3 h", b"runtime: 4 h")


def test_who_may_read_the_file_and_the_link_that_leads_to_it_stay(build, tmp_path):
    build.chmod(0o640)
    link = tmp_path / "elsewhere.yaml"
    link.symlink_to(build)
    desk = Desk(link)
    desk.change(RUNTIME, "4 h", "3 h")
    desk.save()
    assert link.is_symlink() and build.stat().st_mode & 0o777 == 0o640 and "runtime: 4 h" in build.read_text()


def test_revert_goes_back_to_what_is_saved_and_can_be_undone(build):
    desk = Desk(build)
    desk.change(RUNTIME, "4 h", "3 h")
    assert desk.revert().edits == 0
    assert desk.undo().edits == 1


def test_a_change_that_leaves_other_faults_is_accepted_and_they_are_told(build):
    desk = Desk(build)
    change = desk.change(("parts", "pack diode", "from"), "5 A blade fuse", "ideal diode 10 mΩ")
    assert change.accepted
    back = desk.change(("need", "at"), "nowhere", "terminal")
    assert not back.accepted and back.faults[0].where == "need.at"


def test_a_disk_that_refuses_is_told_and_nothing_is_lost(build, monkeypatch):
    desk = Desk(build)
    desk.change(RUNTIME, "4 h", "3 h")

    def full(*_args, **_more):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("tideover.files.write_text", full)
    with pytest.raises(DeskError, match=r"was not written \(No space left on device\)"):
        desk.save()
    with pytest.raises(DeskError):
        desk.change(RECHARGE, "11 h", "12 h")
    assert desk.state.edits == 1 and value_at(desk.state.text, RECHARGE) == "12 h"
    monkeypatch.undo()
    assert desk.save().edits == 0


def test_a_build_that_does_not_exist_is_told_at_once(tmp_path):
    with pytest.raises(BuildError, match="there is no such file"):
        Desk(tmp_path / "build.yaml")
