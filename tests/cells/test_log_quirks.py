"""Every quirk of a logger has a file: read as the record it was made from, or refused with the option to state."""

from __future__ import annotations

import hashlib
import shutil

import numpy as np
import pytest

from cells.make_logs import FOLDER, QUIRKS, REFUSED, TEMP, Q
from tideover.cells.log_numbers import decimal_evidence
from tideover.cells.log_read import read_log
from tideover.cells.log_sidecar import statement
from tideover.design.messages import BuildError


@pytest.mark.parametrize("name", QUIRKS)
def test_a_quirk_is_read_as_the_record_it_was_made_from(name):
    quirk = QUIRKS[name]
    path = FOLDER / f"{name}.csv"
    before = path.read_bytes()
    log = read_log(path, statement("options", **quirk.state))
    assert path.read_bytes() == before and log.digest == hashlib.sha256(before).hexdigest()
    assert log.name == path.name
    assert np.isfinite(log.t).all() and log.t[0] == 0.0 and (np.diff(log.t) > 0).all()
    np.testing.assert_allclose(log.t, quirk.t - quirk.t[0], atol=1e-3)
    np.testing.assert_allclose(log.v, quirk.v, atol=1e-4)
    np.testing.assert_allclose(log.i, quirk.i, atol=1e-4)
    assert len(log.breaks) == quirk.breaks
    assert quirk.says in " ".join(log.assumed), log.assumed
    assert (log.temp is not None) == quirk.temp
    if quirk.temp:
        np.testing.assert_allclose(log.temp, TEMP + 273.15, atol=0.01)
    assert (log.discharged is not None) == quirk.counted
    if quirk.counted and len(log.t) == len(Q):
        # What one step moves is lost where a counter began anew.
        np.testing.assert_allclose(log.discharged, Q, atol=151.0 if quirk.breaks else 0.01)


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_not_certain_is_refused_with_the_option_that_states_it(name):
    with pytest.raises(BuildError) as caught:
        read_log(FOLDER / f"refused_{name}.csv")
    assert REFUSED[name][1] in str(caught.value)
    assert f"refused_{name}.csv" in str(caught.value)


def test_every_file_of_the_folder_is_in_the_table():
    names = {p.stem for p in FOLDER.glob("*.csv")}
    assert names == {*QUIRKS, *(f"refused_{name}" for name in REFUSED)}


def test_a_file_that_is_not_there_and_a_folder_are_told(tmp_path):
    for path, word in ((tmp_path / "none.csv", "no such file"), (tmp_path, "folder")):
        with pytest.raises(BuildError, match=word):
            read_log(path)


def test_a_row_without_the_power_that_gives_the_current_is_left_out(tmp_path):
    rows = [f"{60 * k},{4.15 - 0.04 * k:.3f},{2.5 * (4.15 - 0.04 * k):.4f}" for k in range(20)]
    rows[9] = rows[9].rpartition(",")[0] + ","
    (tmp_path / "log.csv").write_text("time [s],voltage [V],power [W]\n" + "\n".join(rows) + "\n")
    log = read_log(tmp_path / "log.csv", statement("options", discharge="positive"))
    assert len(log.t) == 19 and np.allclose(log.i, 2.5, atol=1e-3)
    assert any("1 rows lack" in said for said in log.assumed)


@pytest.mark.parametrize("column", (0, 1, 2))
def test_a_number_that_no_logger_means_counts_as_not_measured(tmp_path, column):
    rows = [[f"{60 * k}", f"{4.15 - 0.04 * k:.3f}", "2.5"] for k in range(20)]
    rows[9][column] = "9" * 300
    text = "\n".join(",".join(row) for row in rows)
    (tmp_path / "log.csv").write_text("time [s],voltage [V],current [A]\n" + text + "\n")
    log = read_log(tmp_path / "log.csv", statement("options", discharge="positive"))
    assert len(log.t) == 19 and log.t[-1] == 1140.0 and np.allclose(log.i, 2.5) and log.v.max() < 4.2


@pytest.mark.parametrize("cell", ("5 V.", "5 V,", "5e3.", "5.", "5 A.h"))
def test_a_mark_outside_the_digits_is_no_decimal_mark(cell):
    point, comma, either = decimal_evidence(["60", cell])
    assert len(point) + len(comma) + len(either) <= 1


def test_a_zone_change_within_the_file_is_no_jump(tmp_path):
    shutil.copy(FOLDER / "iso_zone.csv", tmp_path / "log.csv")
    text = (tmp_path / "log.csv").read_text()
    head, *rows = text.splitlines()
    moved = [r.replace("T10:", "T09:").replace("+02:00", "+01:00") if k > 10 else r for k, r in enumerate(rows)]
    (tmp_path / "log.csv").write_text("\n".join([head, *moved]) + "\n")
    log = read_log(tmp_path / "log.csv")
    np.testing.assert_allclose(log.t, QUIRKS["iso_zone"].t)
    assert not log.breaks
