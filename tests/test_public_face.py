"""The public face: which names there are, that they cost nothing before they are used, and the page about them."""

from __future__ import annotations

import doctest
import re
import subprocess
import sys
from pathlib import Path

import pytest
from cli.samples import SMALL, answer_with
from render.samples import STANDING

import tideover
from tideover.cli.program import run
from tideover.design import examine_text
from tideover.network import settle

PAGE = Path(__file__).parents[1] / "docs" / "python.md"
NAMES = [
    "Answer",
    "BuildError",
    "Finding",
    "Network",
    "Quantity",
    "Trace",
    "__version__",
    "build",
    "march",
    "read",
    "rest",
    "sheet",
    "trace",
]


def test_the_names_are_these():
    assert tideover.__all__ == NAMES
    assert dir(tideover) == sorted(NAMES)
    for name in NAMES:
        assert getattr(tideover, name) is not None


def test_names_are_what_they_say():
    from tideover import answers, design, network, quantity, solve, traces

    assert tideover.read is network.load and tideover.Network is network.Network
    assert tideover.rest is solve.rest and tideover.march is solve.march and tideover.build is solve.build
    assert tideover.trace is traces.trace and tideover.BuildError is design.BuildError
    assert tideover.Quantity is quantity.Quantity and tideover.Answer is answers.base.Answer


def test_a_name_that_is_none_is_refused_with_those_there_are():
    with pytest.raises(AttributeError, match="no 'simulate'; it has Answer, BuildError"):
        _ = tideover.simulate


def test_one_key_may_stand_alone_and_a_wrong_one_is_refused_with_those_there_are(monkeypatch):
    asked = answer_with(monkeypatch, (STANDING,))
    network = settle(examine_text(SMALL))
    assert tideover.sheet(network, "standing", seed=4) == (STANDING,)
    assert asked == [("Lamp", ("standing",), 4)]
    with pytest.raises(KeyError, match="'standin' is no question of the sheet; there are standing"):
        tideover.sheet(network, ["standin"])


def test_importing_loads_nothing_heavy():
    code = (
        "import sys, tideover\n"
        "heavy = ('numpy', 'scipy', 'click', 'pydantic', 'ruamel.yaml', 'tideover.quantity')\n"
        "print([module for module in heavy if module in sys.modules])"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True).stdout == "[]\n"


def test_no_module_of_the_package_hides_a_name_of_its_face():
    package = Path(tideover.__file__).parent
    modules = {path.stem for path in package.glob("*.py")} | {path.name for path in package.iterdir() if path.is_dir()}
    assert not modules & set(NAMES)


def test_every_name_is_in_the_page():
    page = PAGE.read_text(encoding="utf-8")
    named = set(re.findall(r"`([A-Za-z_]+)(?:\(|`)", page))
    assert set(NAMES) <= named


def test_the_examples_of_the_page_are_true(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    run(["new"])
    failed, tried = doctest.testfile(str(PAGE), module_relative=False, encoding="utf-8", report=True)
    assert tried > 10 and failed == 0
