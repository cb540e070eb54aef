"""Files of cells and packs that a build names; every complaint word for word in cell_faults.txt."""

from __future__ import annotations

from pathlib import Path

import golden
import numpy as np
import pytest
from cells.builds import PACK, lay

from tideover.design import BuildError, examine
from tideover.design.built import growths, without
from tideover.design.cell_model import BuiltPack
from tideover.parts import KINDS

GOLDEN = Path(__file__).with_name("cell_faults.txt")
AMPERE_HOUR = 3600.0

BAD: dict[str, tuple[tuple[str, str], ...]] = {
    "no such file": (("from: cells/spool-pack.yaml", "from: cells/spol-pack.yaml"),),
    "a file that is no part": (("lamp: {kind: load,", "lamp: {kind: load, from: cells/spool.yaml,"),),
    "neither a cell nor a pack": (("tideover pack: 1\n", ""),),
    "a form to come": (("tideover cell: 1", "tideover cell: 2"),),
    "no YAML": (("groups:\n  - [A1, A2]", "groups:\n  - [A1, A2"),),
    "a misspelt key": (("groups:", "goups:"),),
    "a value without a unit": (("capacity: 2.4 Ah ±1 %\n", "capacity: 2.4\n"),),
    "a value that a cell has not": (("activation energy: 22 kJ/mol", "series: 3"),),
    "no resistance of the cell": (("  resistance: 40 mΩ ±5 %\n", ""),),
    "a curve that falls": (("3.68 V, 5 mV", "3.18 V, 5 mV"),),
    "a curve that ends early": (("[100 %", "[90 %"),),
    "a row too short": (("3.68 V, 5 mV, 1.0, 1.0]", "3.68 V]"),),
    "a curve in volts alone": (("[10 %, 3.35 V", "[10 %, 3.35"),),
    "a cell that nobody measured": (("- [A3, A4]", "- [A3, B4]"),),
    "a cell in two groups": (("- [A3, A4]", "- [A3, A1]"),),
    "groups of unequal size": (("- [A3, A4]", "- [A4]"),),
    "a resistance without a method": (("A1: {capacity: 2.4 Ah ±1 %, resistance: 45 mΩ ±3 %, method: DC 1 s}",
                                       "A1: {capacity: 2.4 Ah ±1 %, resistance: 45 mΩ}"),),
    "two methods": (("60 mΩ ±3 %, method: DC 1 s", "60 mΩ ±3 %, method: AC 1 kHz"),),
    "a method nobody knows": (("60 mΩ ±3 %, method: DC 1 s", "60 mΩ ±3 %, method: by eye"),),
    "another chemistry": (("method: DC 1 s, model: green sleeve", "method: DC 1 s, chemistry: LFP"),),
    "no capacity": (("A3: {capacity: 2.2 Ah ±1 %, ", "A3: {"),),
    "no cell in common": (("cell: spool.yaml\n", ""),),
    "a cell from nowhere": (("cell: spool.yaml", "cell: sundial"),),
    "a pack of packs": (("cell: spool.yaml", "cell: spool-pack2.yaml"),),
    "more groups than the file has": (("from: cells/spool-pack.yaml", "from: cells/spool-pack.yaml, series: 3"),),
    "a resistance that cannot be": (("resistance: 45 mΩ ±3 %, method: DC 1 s}", "resistance: 4.5 Ω, method: DC 1 s}"),
                                    ("resistance: 50 mΩ ±3 %", "resistance: 4.9 Ω"), ("60 mΩ", "4.8 Ω"),
                                    ("45 mΩ ±3 %, method: DC 1 s, model", "4.7 Ω, method: DC 1 s, model")),
    "measured by word alone": (("from: cells/spool-pack.yaml",
                                "cells: NMC 18650 2.6 Ah, series: 2, resistance curve: measured"),),
}  # fmt: skip
"""Name of the case: what is changed in the good files."""


def faults(folder: Path, *changes: tuple[str, str]) -> str:
    file = lay(folder, *changes)
    (folder / "cells" / "spool-pack2.yaml").write_text(PACK, encoding="utf-8")
    found = examine(file).faults
    assert found, "no fault was found"
    return str(BuildError(found)).replace(f"{folder}/", "")


def test_every_complaint_word_for_word(tmp_path: Path) -> None:
    golden.check(GOLDEN, {name: faults(tmp_path / str(k), *changes) for k, (name, changes) in enumerate(BAD.items())})


def test_a_fitted_cell_brings_its_values_its_curve_and_their_origin(tmp_path: Path) -> None:
    changes = ("from: cells/spool-pack.yaml", "from: cells/spool.yaml, series: 2, slow resistance: 30 mΩ")
    spec = examine(lay(tmp_path, changes)).design().parts["cells"]
    assert spec.values["capacity"].nominal == pytest.approx(2.4 * AMPERE_HOUR)
    assert spec.values["capacity"].high == pytest.approx(2.424 * AMPERE_HOUR)
    assert spec.values["resistance_curve"] == KINDS["pack"].parameter("resistance curve").choices.index("measured")
    assert spec.values["slow_resistance"].nominal == 0.030  # the build file's own word stands
    assert spec.origins["capacity"].endswith("fitted, spool-slow.csv")
    assert spec.curve is not None and spec.built is None
    assert spec.curve.open_circuit.value(0.5) == pytest.approx(3.68)
    assert spec.curve.lag.value(0.0) == pytest.approx(4.2)
    np.testing.assert_allclose(spec.curve.spread, [0.012, 0.008, 0.005, 0.005])


def test_a_pack_file_may_be_named_without_keys(tmp_path: Path) -> None:
    spec = examine(lay(tmp_path, ("{from: cells/spool-pack.yaml}", "cells/spool-pack.yaml"))).design().parts["cells"]
    assert (spec.kind, spec.values["series"].nominal, spec.values["parallel"].nominal) == ("pack", 2.0, 2.0)


def built(folder: Path, *changes: tuple[str, str]) -> tuple[BuiltPack, dict[str, float]]:
    spec = examine(lay(folder, *changes)).design().parts["cells"]
    assert spec.built is not None
    return spec.built, {k: getattr(v, "nominal", v) for k, v in spec.values.items()}


def test_groups_become_common_ones_and_a_weakest_one_by_hand(tmp_path: Path) -> None:
    """Groups of 4.70 and 4.55 Ah; the weaker is the other's 0.9681. A 1 s step of the common cell drops 40 mOhm and
    what its pairs have taken up by then."""
    pack, values = built(tmp_path)
    assert values["capacity"] == pytest.approx(2.35 * AMPERE_HOUR)
    assert values["capacity_spread"] == pytest.approx(1.0 - 4.55 / 4.70)
    step = 0.040 + 0.010 * (1.0 - np.exp(-1.0 / 20.0)) + 0.025 * (1.0 - np.exp(-1.0 / 400.0))
    own = np.array([[45.0, 50.0], [60.0, 45.0]]) * 1e-3 / step
    np.testing.assert_allclose(growths(pack), own)
    groups = 2.0 / np.sum(1.0 / own, axis=1)
    assert values["growth"] == pytest.approx(groups[0])
    assert values["resistance_spread"] == pytest.approx(groups[1] / groups[0] - 1.0)


def test_an_impedance_tells_which_cell_has_more_and_not_how_much_there_is(tmp_path: Path) -> None:
    pack, values = built(tmp_path, *[("method: DC 1 s", "method: AC 1 kHz")] * 4)
    np.testing.assert_allclose(growths(pack), np.array([[45.0, 50.0], [60.0, 45.0]]) / 50.0)
    assert values["growth"] == pytest.approx(2.0 / (50.0 / 45.0 + 1.0))


def test_the_cell_whose_loss_costs_most_comes_first(tmp_path: Path) -> None:
    pack, _ = built(tmp_path)
    left = without(pack)
    assert [m.id for m in left] == ["A4", "A1", "A3", "A2"]
    assert left[0].left == pytest.approx(2.20 * AMPERE_HOUR)
    assert left[0].values["capacity_spread"] == pytest.approx(1.0 - 2.20 / 4.70)
    assert left[1].values["capacity"] == pytest.approx(4.55 / 2.0 * AMPERE_HOUR)
    own = np.array(growths(pack))
    assert left[0].values["resistance_spread"] == pytest.approx(own[1, 0] * np.sum(1.0 / own[0]) - 1.0)

