"""Answers for a pack of known cells: they are those of these cells, and of no typical ones."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from cells.builds import lay

from tideover.answers import cells, endurance
from tideover.answers.base import HOLDS, OPEN, TIGHT, Answer
from tideover.answers.context import Context
from tideover.answers.windows import worst_share
from tideover.cases.faults import strike
from tideover.design import welded
from tideover.network import Network, load


def of(folder: Path, *changes: tuple[str, str]) -> Network:
    return load(lay(folder, *changes))


def told(answer: Answer, name: str) -> str:
    return next(f.status for f in answer.findings if f.name == name)


@pytest.fixture(scope="module")
def answered(tmp_path_factory: pytest.TempPathFactory) -> Answer:
    return cells.answer(Context.of(of(tmp_path_factory.mktemp("even"))))


def test_unequal_cells_and_groups_are_named(answered: Answer) -> None:
    uneven = next(f for f in answered.findings if f.name == "groups have unequal capacity")
    assert uneven.value == pytest.approx(1.0 - 4.55 / 4.625)
    assert uneven.status == HOLDS and "group 2 (A3, A4) has 4.55 Ah" in uneven.why
    beside = next(f for f in answered.findings if f.name == "cells side by side have unequal resistance")
    assert beside.value == pytest.approx(60.0 / 52.5 - 1.0) and beside.status == HOLDS
    groups = next(t for t in answered.tables if t.title.startswith("Groups of known cells"))
    assert [row[3] for row in groups.rows] == ["A1, A2", "A3, A4"]


POOR = """notes:
  - "Poor fit: the cell does not follow spool-slow.csv by 60 mV root mean square."
fit: {form"""


@pytest.mark.parametrize("source", ("cells/spool-pack.yaml", "cells/spool.yaml, series: 2, parallel: 2"))
def test_a_poor_fit_leaves_cells_and_endurance_open(tmp_path: Path, source: str) -> None:
    network = of(tmp_path, ("fit: {form", POOR), ("cells/spool-pack.yaml", source))
    context = Context.of(network)
    for found in (cells.answer(context), endurance.answer(context)):
        own = next(f for f in found.findings if f.name == "the cell does not follow the logs that it was fitted on")
        assert own.status == OPEN and found.status != HOLDS
        assert "spool.yaml" in own.why and "spool-slow.csv by 60 mV" in own.why
        assert "build.yaml:" in own.place and "Log such a cell again" in own.mend
    assert "Do not rely on it: the fit of cells is poor" in found.headline


def test_a_sound_fit_is_not_doubted(tmp_path: Path) -> None:
    notes = POOR.replace("Poor fit:", "One log has no temperatures:")
    context = Context.of(of(tmp_path, ("fit: {form", notes)))
    for found in (cells.answer(context), endurance.answer(context)):
        assert not any("does not follow" in f.name for f in found.findings)
    assert "Do not rely" not in found.headline


def test_a_poor_neighbour_and_a_weak_group_are_tight(tmp_path: Path) -> None:
    changes = ("resistance: 60 mΩ", "resistance: 75 mΩ"), ("A3: {capacity: 2.2 Ah", "A3: {capacity: 1.9 Ah")
    found = cells.answer(Context.of(of(tmp_path, *changes)))
    assert told(found, "cells side by side have unequal resistance") == TIGHT
    assert told(found, "groups have unequal capacity") == TIGHT


def test_without_resistances_it_says_what_is_missing(tmp_path: Path) -> None:
    found = cells.answer(Context.of(of(tmp_path, (", resistance: 60 mΩ ±3 %, method: DC 1 s", ""))))
    assert told(found, "resistance of the cells is not known") == OPEN


def test_the_hardest_worked_cell_is_named(tmp_path: Path) -> None:
    """Group 2: 45 mOhm beside 60 mOhm carries 60/52.5 of the mean."""
    network = of(tmp_path)
    share, why = worst_share(network, network.part("cells"))
    assert share == pytest.approx(60.0 / 52.5)
    assert why.startswith("A4 of group 2")


def test_a_lost_weld_and_a_weak_group_strike_these_cells(tmp_path: Path) -> None:
    struck = strike(of(tmp_path))
    labels = [s.label for s in struck.singles]
    weld = labels.index("cells loses a weld: A4 of group 2, its worst, drops out") + 1
    weak = labels.index("cells has its weakest group, 2, fall by another 40 %") + 1
    spread = struck.batch.values["cells", "capacity_spread"]
    assert spread[0] == pytest.approx(1.0 - 4.55 / 4.70)
    assert spread[weld] == pytest.approx(1.0 - 2.20 / 4.70)
    assert spread[weak] == pytest.approx(1.0 - 0.6 * 4.55 / 4.70)


STRIPS = "strip: {along: nickel strip 8 × 0.15 mm, pitch: 20 mm, weld: 2 mΩ, plus: first, minus: last}\ncells:\n"


def test_every_lost_weld_that_could_matter_is_struck_with_its_strips(tmp_path: Path) -> None:
    """Resistance of the struck pack, between its leads, is that of the strips' network with the weld open."""
    network = of(tmp_path, ("cells:\n", STRIPS))
    part, struck = network.part("cells"), strike(network)
    pack = part.built
    assert pack is not None
    losses = {w.id: w for w in welded.losses_of_a_weld(pack, part.kind)}
    welds = [k for k, s in enumerate(struck.singles, 1) if "loses a weld" in s.label]
    hit = {next(id for id in losses if f" {id} of group" in struck.singles[k - 1].label): k for k in welds}
    assert max(losses.values(), key=lambda w: w.growth).id in hit
    assert max(losses[id].largest for id in hit) == pytest.approx(max(w.largest for w in losses.values()))
    assert min(losses.values(), key=lambda w: w.capacity).id in hit
    own = welded.cell_resistances(pack, part.kind)
    common = sum(welded.number(pack, part.kind, n) for n in ("resistance", "fast_resistance", "slow_resistance"))
    for id, k in hit.items():
        f = {n: struck.batch.values["cells", n][k] for n in ("growth", "resistance_spread", "joint_resistance")}
        got = common * f["growth"] / 2.0 * (2.0 + f["resistance_spread"]) + 2.0 * f["joint_resistance"]
        g = losses[id].group - 1
        intact = 1.0 / np.sum(1.0 / own.reshape(2, 2), axis=1)
        group = intact[g] + welded.joint(pack, part.kind).nominal
        whole = intact.sum() + 2.0 * welded.joint(pack, part.kind).nominal
        assert got == pytest.approx(whole + (losses[id].growth - 1.0) * group, rel=1e-6)
    total = sum(struck.singles[k - 1].rate for k in welds)
    assert total == pytest.approx(1000.0 * 14.0 / 100.0 * 8766e-9, rel=1e-3)


def test_more_measured_capacity_carries_the_load_longer(tmp_path: Path) -> None:
    def hours(k: int, *changes: tuple[str, str]) -> float:
        found = endurance.answer(Context.of(of(tmp_path / str(k), *changes)))
        return float(found.tables[0].rows[0][1])

    usual = hours(0)
    assert hours(1, ("A3: {capacity: 2.2 Ah", "A3: {capacity: 2.0 Ah")) < 0.98 * usual
    assert hours(2, ("0.9]", "0.9]\n# a remark")) == usual
