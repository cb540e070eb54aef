"""``tideover cells fit`` and ``predict`` as they are typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from cells.synthetic_logs import World

from tideover.cli.program import run


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("spool")
    world = World.drawn(7)
    for name, rate in (("slow.csv", 0.2), ("fast.csv", 1.0)):
        log = world.constant_current(name, rate)
        assert log.temp is not None
        rows = [f"{t:g},{v:.3f},{i:.4f},{k - 273.15:.1f}" for t, v, i, k in zip(log.t, log.v, log.i, log.temp)]
        text = "time [s],voltage [V],current [A],temperature [°C]\n" + "\n".join(rows) + "\n"
        (place / name).write_text(text, encoding="utf-8")
    return place


def test_from_logs_to_a_prediction(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    assert run(["cells", "fit", "slow.csv", "fast.csv", "--out", "cells/spool.yaml", "--title", "Spool cell"]) == 0
    said = capsys.readouterr().out
    words = " ".join(said.split())
    assert "logs 1, 2" in words and "shelf; not told" in words and "Wrote cells/spool.yaml" in words
    assert run(["cells", "fit", "slow.csv", "--out", "cells/spool.yaml"]) == 2
    assert "left as it is" in capsys.readouterr().err
    assert run(["cells", "predict", "cells/spool.yaml", "--power", "5 W", "--to", "2.8 V", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["runtime"]["low"] < found["runtime"]["middle"] < found["runtime"]["high"]
    assert found["energy"] == pytest.approx(5.0 * found["runtime"]["middle"], rel=1e-3)
    assert run(["cells", "predict", "cells/spool.yaml", "--current", "1 A"]) == 0
    assert "nine of ten between" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("typed", "told"),
    (
        (["fit", "slow.csv", "--chemistry", "zinc"], "is no chemistry"),
        (["fit", "slow.csv", "--out", "spool.txt"], "spool.yaml"),
        (["fit", "none.csv"], "no such file"),
        (["fit", "slow.csv", "--leads", "70 mV"], "A resistance is expected"),
        (["predict", "sundial", "--current", "1 A"], "neither a file"),
        (["predict", "none.yaml", "--current", "1 A"], "no such file"),
        (["predict", "NMC 18650 2.6 Ah"], "No load is told"),
        (["predict", "NMC 18650 2.6 Ah", "--current", "1 A", "--power", "2 W"], "More than one load"),
        (["predict", "NMC 18650 2.6 Ah", "--current", "0 A"], "draws nothing"),
        (["predict", "NMC 18650 2.6 Ah", "--current", "1 A", "--to", "5 V"], "the cell is full at 4.2 V"),
        (["predict", "NMC 18650 2.6 Ah", "--current", "1 A", "--from", "200 %"], "no cell can have"),
        (["predict", "NMC 18650 2.6 Ah", "--current", "1 A", "--ambient", "900 °C"], "outside what cells bear"),
    ),
)
def test_what_cannot_be_done_is_refused_with_its_mend(
    folder: Path,
    typed: list[str],
    told: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(folder)
    assert run(["cells", *typed]) == 2
    caught = capsys.readouterr()
    assert told in caught.err and not caught.out and "Traceback" not in caught.err


def test_a_load_that_never_ends_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["cells", "predict", "NMC 18650 2.6 Ah", "--current", "1 uA"]) == 0
    assert "next to nothing" in capsys.readouterr().out
