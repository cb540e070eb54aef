"""The example of the ferry landing is what its own commands make of what was measured."""

from __future__ import annotations

import re

import pytest

from tideover.cells.model import cell_cases
from tideover.cells.run import Load, discharge
from tideover.design import cell_files
from tideover.design.messages import Fault
from tideover.design.model import Place
from tideover.design.source import Scalar
from tideover.parts.pack import PACK
from tideover.shelf import find

from .ferry_landing import EXAMPLE, measured, remake, typical

HISTORY = "cells/inventory.log.csv"
README = (EXAMPLE / "README.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("landing")
    return folder, remake(folder, README)


def test_every_file_of_measured_and_cells_is_made_by_the_commands(made):
    folder, _ = made
    names = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
    kept = {p.relative_to(EXAMPLE).as_posix() for part in ("measured", "cells") for p in (EXAMPLE / part).iterdir()}
    assert names == kept
    for name in sorted(names - {HISTORY}):
        assert (folder / name).read_text(encoding="utf-8") == (EXAMPLE / name).read_text(encoding="utf-8"), name


def test_the_history_differs_in_its_times_only(made):
    folder, _ = made
    history = [
        [line.partition(",")[2] for line in (place / HISTORY).read_text(encoding="utf-8").splitlines()]
        for place in (folder, EXAMPLE)
    ]
    assert history[0] == history[1] and len(history[0]) > 40


def test_the_readme_quotes_what_the_commands_print(made):
    _, said = made
    quoted = 0
    for block in re.findall(r"^```console\n(.*?)^```", README, flags=re.M | re.S):
        command, at = "", 0
        for line in block.splitlines():
            if line.startswith("$ "):
                command, at = line[2:], 0
                continue
            lines = said[command].splitlines()
            assert line in lines[at:], line
            at, quoted = lines.index(line, at) + 1, quoted + 1
    assert quoted >= 6


def test_screening_rejects_the_planted_cells_and_no_other(made):
    folder, _ = made
    table = (folder / "cells/inventory.csv").read_text(encoding="utf-8")
    assert {line.split(",")[0] for line in table.splitlines() if ",rejected," in line} == measured()[1]


def test_the_fitted_cell_runs_as_long_as_the_one_that_was_logged(made):
    """At loads of neither log; the wires between tester and cell are not taken for the cell's."""
    folder, _ = made
    faults: list[Fault] = []
    place = Scalar("cells/bridge-lamp.yaml", Place(str(folder / "build.yaml")), 0, 0)
    found = cell_cases(cell_files.read(place, PACK, find, faults.append))
    assert not faults
    for load in (Load.constant("power", 0.6), Load.constant("current", 1.0), Load.constant("power", 4.0)):
        fitted, true = (float(discharge(cell, load, 2.9).runtime[0]) for cell in (found, typical()))
        assert abs(fitted / true - 1.0) < 0.01
    assert float(found.leads[0]) == 0.0


def test_a_group_of_older_cells_is_the_weak_one():
    """What the example is there to show."""
    answer = (EXAMPLE / "build.sheet.txt").read_text(encoding="utf-8")
    assert "The run is ended by the lockout of converter with the weak group at 2.91 V" in " ".join(answer.split())
    pack = (EXAMPLE / "cells/pack.yaml").read_text(encoding="utf-8")
    ages = [set(re.findall(rf"{id}: .*age: \"(\d+)\"", pack)) for id in ("C05", "C03", "C21")]
    assert ages == [{"2021"}, {"2021"}, {"2016"}]
