"""Published records, where they are at hand: each is read with the right sign and the charge that its source states."""

from __future__ import annotations

import os
import re
from pathlib import Path

import numpy as np
import pytest

from tideover.cells.log_read import read_log

FOLDER = Path(os.environ.get("TIDEOVER_CELLS") or Path(__file__).parents[2].parent / "shared" / "data" / "cells")
KINDS = ("*_cc_*.csv", "*hppc*.csv", "vrla*.csv", "*drive*.csv", "cp18650*.csv", "*ocv*.csv", "*curve*.csv")
FILES = sorted({f for kind in KINDS for f in FOLDER.glob(kind)})


def test_published_records_are_at_hand():
    if not FILES:
        pytest.skip(f"no published records in {FOLDER}; name their folder in TIDEOVER_CELLS")
    assert len(FILES) > 20


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_sign_and_charge_are_those_of_the_source(file):
    log = read_log(file)
    header = file.read_text().splitlines()[0].strip().split(",")
    table = np.genfromtxt(file, delimiter=",", skip_header=1)
    np.testing.assert_allclose(log.i, table[:, header.index("current_A")], atol=1e-9)
    rows = [line for line in (FOLDER / "README.md").read_text().splitlines() if f"`{file.name}`" in line]
    stated = re.findall(r"(-?[0-9.]+) Ah", rows[0]) if rows else []
    if stated:
        assert min(abs(log.charge[-1] / 3600.0 / float(q) - 1.0) for q in stated) < 0.01
