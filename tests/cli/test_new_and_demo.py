"""Commands that write files: nothing is overwritten, nothing is left half written."""

from __future__ import annotations

from pathlib import Path

import pytest
from render.samples import STANDING

from cli.samples import SMALL, answer_with
from tideover import demos
from tideover.cli import demo
from tideover.cli.program import run
from tideover.files import write_file
from tideover.network import load


@pytest.fixture(autouse=True)
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def shown(tmp_path_factory, monkeypatch):
    """Two examples of our own in place of the project's, and a sheet that answers at once."""
    root = tmp_path_factory.mktemp("examples")
    for name in ("reading-room", "attic"):
        (root / name / "cells").mkdir(parents=True)
        (root / name / "build.yaml").write_text(SMALL.replace("Lamp", f'"The {name}"  # ours'), encoding="utf-8")
        (root / name / "cells" / "log.csv").write_text("time [s]\n", encoding="utf-8")
    folders = {name: root / name for name in ("reading-room", "attic")}
    monkeypatch.setattr(demo, "examples", lambda: folders)
    answer_with(monkeypatch, (STANDING,))
    return root


def test_a_new_build_computes_as_it_stands(capsys):
    assert run(["new", "boat shed"]) == 0
    network = load("boat shed/build.yaml")
    assert {p.kind.name for p in network.parts} >= {
        "adapter", "charger", "pack", "protection board", "fuse", "ideal diode", "buck-boost", "load", "box",
    }  # fmt: skip
    assert network.nodes[network.at] == "load"
    assert "tideover sheet" in capsys.readouterr().out


def test_every_line_of_a_new_build_fits_a_screen():
    run(["new"])
    lines = Path("build.yaml").read_text(encoding="utf-8").splitlines()
    assert max(map(len, lines)) <= 120 and sum("#" in line for line in lines) > 15


def test_new_never_overwrites(capsys):
    Path("build.yaml").write_text("mine")
    assert run(["new"]) == 2
    assert Path("build.yaml").read_text() == "mine"
    assert capsys.readouterr().err == (
        "build.yaml is there already and was left as it is.\n   Name another folder: tideover new my-supply\n"
    )


def test_new_refuses_a_file_in_place_of_a_folder(capsys):
    Path("shed").write_text("mine")
    assert run(["new", "shed"]) == 2
    assert capsys.readouterr().err.startswith("shed is a file.\n")


def test_new_does_not_follow_a_link_that_leads_nowhere(tmp_path, capsys):
    Path("build.yaml").symlink_to(tmp_path / "elsewhere.yaml")
    assert run(["new"]) == 2
    assert not Path("elsewhere.yaml").exists()


def test_a_new_build_holds(capsys):
    """The real answers, those that take a moment: what a newcomer starts from should not fail."""
    run(["new"])
    assert run(["sheet", ".", "standing", "drops", "budget"]) == 0
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 80 and "our fault" not in out


def test_the_examples_of_the_project_are_found_and_can_be_read():
    known = demos.examples()
    assert tuple(known)[: len(demos.ORDER)] == demos.ORDER
    for folder in known.values():
        assert load(folder / "build.yaml").title


def test_demo_lists_the_examples_and_takes_the_first(shown, capsys):
    assert run(["demo"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Examples:\n  reading-room  The reading-room\n  attic         The attic\n")
    assert "Copied the example to reading-room: build.yaml, cells/log.csv" in out
    assert "holds  standing" in out
    assert Path("reading-room/cells/log.csv").is_file()


def test_demo_copies_elsewhere(shown):
    assert run(["demo", "attic", "--into", "far/away"]) == 0
    assert [f.name for f in Path("far/away").iterdir()] == ["attic"]


def test_demo_never_overwrites_what_was_changed(shown, capsys):
    run(["demo", "attic"])
    assert run(["demo", "attic"]) == 0  # as it was copied: nothing to lose
    Path("attic/build.yaml").write_text("mine")
    capsys.readouterr()
    assert run(["demo", "attic"]) == 2
    out, err = capsys.readouterr()
    assert out == "" and Path("attic/build.yaml").read_text() == "mine"
    assert err == (
        "attic is there already and was left as it is.\n"
        "   Move it away, or copy the example elsewhere: tideover demo attic --into elsewhere\n"
    )


def test_demo_knows_its_examples(shown, capsys):
    assert run(["demo", "cellar"]) == 2
    assert capsys.readouterr().err == 'There is no example "cellar".\n   There are: reading-room, attic.\n'


def test_a_copy_that_fails_leaves_nothing(shown, monkeypatch, capsys):
    def full(*_, **__):
        raise OSError(28, "No space left on device", "attic")

    monkeypatch.setattr(demos.shutil, "copytree", full)
    assert run(["demo", "attic"]) == 2
    assert list(Path().iterdir()) == []
    assert capsys.readouterr().err.startswith("attic: No space left on device.\n")


def test_a_file_is_written_whole_or_not_at_all(tmp_path):
    file = tmp_path / "x.csv"
    file.write_text("old")

    def half(stream):
        stream.write("new, but only hal")
        raise RuntimeError

    with pytest.raises(RuntimeError):
        write_file(file, half)
    assert file.read_text() == "old" and [f.name for f in tmp_path.iterdir()] == ["x.csv"]
