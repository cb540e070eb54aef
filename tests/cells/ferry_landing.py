"""Makes the example of the ferry landing anew: ``python -m tests.cells.ferry_landing``.

First what a builder would have measured: two logs of one cell whose truth is known, and the tables of a charger-tester
and of a hand-held meter for a box of three lots with leaking and worn cells planted. Everything is drawn with one seed,
so that the files can be written again. Then the commands of the example's README, which make all the rest of its cells.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from tideover.cells.log import Log
from tideover.cells.model import nearest_item, of_item
from tideover.cells.run import CellCases, Load, Rows, discharge, simulate
from tideover.cells.stock import StockCell
from tideover.cells.unknowns import moved, typical_cell

from .synthetic import make_stock

EXAMPLE = Path(__file__).parents[2] / "examples" / "ferry-landing"
SEED = 26
LIKE, CUTOFF = "NMC 18650 2.6 Ah", 2.75
CAPACITY = 2.16 * 3600.0
"""Of the cell that was logged, C17. [C]"""
TRUTH = {"resistance": 0.30, "fast_resistance": 0.25, "slow_resistance": 0.35, "volts 0.5": -0.008, "lag 0.05": 0.3}
"""How far it is from the typical one: logarithms of factors, and volts."""
WIRES = 0.085
"""From the clamps of the tester to its own terminals: clip, lead and plug, both ways. [ohm]"""
SLOW, FAST = 0.3, 1.5
"""Currents of the two logs. [A]"""
FIRST_REST = datetime(2026, 9, 26, 18, 0)
ROUNDS = (0.0, 26.0, 7 * 24.0, 21 * 24.0)
"""Hours from the end of charge to the rounds of the meter."""
DEAD = "C34"
"""Arrived empty, and was not charged."""


@dataclass(frozen=True)
class Lot:
    """Cells of one origin: how many, shares of leaking and worn ones, factors on what such a box usually has."""

    source: str
    age: str
    model: str
    count: int
    leaking: float
    worn: float
    capacity: float
    resistance: float


LOTS = (
    Lot("bridge lamps", "2021", "NMC 18650 2.6 Ah", 20, 0.1, 0.1, 1.0, 1.0),
    Lot("ticket scanners", "2016", "NMC 18650 2.6 Ah", 14, 0.07, 0.07, 0.93, 1.1),
    Lot("hedge trimmer", "2022", "NMC 18650 2.5 Ah high drain", 6, 0.0, 0.0, 0.98, 0.5),
)


def typical() -> CellCases:
    """The cell that was logged, as it really is."""
    base = typical_cell(of_item(nearest_item("NMC", CAPACITY, LIKE)), CAPACITY, CUTOFF)
    return moved(base, tuple(TRUTH), np.array([list(TRUTH.values())]))


def record(current: float, every: float, generator: np.random.Generator) -> Log:
    """A rest of two minutes, a discharge from full to the cut-off, and a rest of half an hour."""
    cell = typical()
    lasts = float(discharge(cell, Load.constant("current", current), CUTOFF).runtime[0])
    t = np.unique(np.concatenate([np.arange(0.0, 120.0, 30.0), 120.0 + np.array([-1.0, 0.0, 1.0, 2.0, 5.0, 10.0, 30.0]),
                                  np.arange(180.0, 120.0 + lasts, every), 120.0 + lasts + np.array([-1.0, 0.0]),
                                  120.0 + lasts + np.geomspace(1.0, 1800.0, 20).round()]))  # fmt: skip
    t = np.unique(np.round(t))
    i = np.where((t >= 120.0) & (t < np.round(120.0 + lasts)), current, 0.0)
    run = simulate(cell, Rows.of(Log("", t, np.zeros_like(t), i)), 1.0)
    noisy = run.v[0] + 0.001 * generator.standard_normal(len(t))
    return Log("", t, noisy, i, run.temp[0] + 0.1 * generator.standard_normal(len(t)))


def log_text(log: Log) -> str:
    """As the tester writes it: two voltages, that at its own terminals and that of its sense clips."""
    temp = log.temp if log.temp is not None else np.full(len(log.t), 298.15)
    lines = ["time [s];U1 [V];U2 [V];current [A];temperature [°C]"]
    for t, v, i, warm in zip(log.t, log.v, log.i, temp):
        lines.append(f"{t:.0f};{v - WIRES * i:.3f};{v:.3f};{i:.3f};{warm - 273.15:.1f}")
    return "\n".join([*lines, ""])


def box(generator: np.random.Generator) -> tuple[list[StockCell], set[str]]:
    """Forty cells of three lots, C01 to C40, and those that leak or are worn; C17 is the one that was logged."""
    cells: list[StockCell] = []
    bad: set[str] = set()
    for lot in LOTS:
        planted = {"leaking": lot.leaking, "worn": lot.worn}
        drawn, truth = make_stock(generator, lot.count, hours=ROUNDS, model=lot.model, **planted)
        for cell in drawn:
            if cell.id in truth.leaking | truth.worn:
                bad.add(f"C{len(cells) + 1:02d}")
            cells.append(
                replace(
                    cell,
                    id=f"C{len(cells) + 1:02d}",
                    source=lot.source,
                    age=lot.age,
                    capacity=lot.capacity * (cell.capacity or 0.0),
                    resistance=lot.resistance * (cell.resistance or 0.0),
                    rests=tuple((FIRST_REST + timedelta(hours=h), v) for h, (_, v) in zip(ROUNDS, cell.rests)),
                )
            )
    cells[16] = replace(cells[16], capacity=CAPACITY, resistance=0.075)
    return cells, bad


def tester_text(cells: list[StockCell]) -> str:
    """What the charger-tester keeps of each cell; the dead one was not charged."""
    lines = ["Cell,Source,Age,Model,Arrival V,Capacity mAh,IR mOhm,Warmer by"]
    for cell in cells:
        if cell.id == DEAD:
            lines.append(f"{cell.id},{cell.source},{cell.age},{cell.model},1.12,,,")
            continue
        lines.append(
            f"{cell.id},{cell.source},{cell.age},{cell.model},{cell.arrival:.2f},{cell.capacity / 3.6:.0f},"
            f"{1e3 * cell.resistance:.0f},{cell.heating:.0f}"
        )
    return "\n".join([*lines, ""])


def rests_text(cells: list[StockCell]) -> str:
    """The notes of the meter's rounds, one reading a line."""
    lines = ["Cell,Voltage V,When"]
    for number in range(len(ROUNDS)):
        for cell in cells:
            if cell.id != DEAD:
                when, volts = cell.rests[number]
                lines.append(f"{cell.id},{volts:.3f},{when:%Y-%m-%d %H:%M}")
    return "\n".join([*lines, ""])


def measured() -> tuple[dict[str, str], set[str]]:
    """Every measured file of the example by name, and the cells that are to be rejected."""
    generator = np.random.default_rng(SEED)
    slow, fast = record(SLOW, 120.0, generator), record(FAST, 30.0, generator)
    cells, bad = box(generator)
    texts = {"slow.csv": log_text(slow), "fast.csv": log_text(fast)}
    return {**texts, "tester.csv": tester_text(cells), "rests.csv": rests_text(cells)}, bad | {DEAD}


def commands(readme: str) -> list[str]:
    """What the README has a builder type, in order."""
    blocks = re.findall(r"^```console\n(.*?)^```", readme, flags=re.M | re.S)
    return [line[2:] for block in blocks for line in block.splitlines() if line.startswith("$ ")]


def remake(folder: Path, readme: str) -> dict[str, str]:
    """Measure and do everything again, in a folder; what each command printed."""
    said: dict[str, str] = {}
    (folder / "measured").mkdir(parents=True)
    for name, text in measured()[0].items():
        (folder / "measured" / name).write_text(text, encoding="utf-8")
    (strip,) = re.findall(r"^strip: .*\n", readme, flags=re.M)
    for command in commands(readme):
        words = shlex.split(command)[1:]
        environment = {**os.environ, "COLUMNS": "80", "NO_COLOR": "1"}
        done = subprocess.run(
            [sys.executable, "-X", "utf8", "-m", "tideover", *words], cwd=folder, env=environment, capture_output=True
        )
        if done.returncode > 1:
            raise SystemExit(f"{command}\n{done.stderr.decode()}")
        said[command] = done.stdout.decode()
        if " screen " in command:
            (folder / "cells" / "screening.txt").write_bytes(done.stdout)
        if " group " in command:
            pack = folder / "cells" / "pack.yaml"
            text = pack.read_text(encoding="utf-8").replace("seed: 1\n", "seed: 1\n" + strip)
            pack.write_text(text, encoding="utf-8")
    return said


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        remake(Path(name), (EXAMPLE / "README.md").read_text(encoding="utf-8"))
        for part in ("measured", "cells"):
            shutil.rmtree(EXAMPLE / part, ignore_errors=True)
            shutil.copytree(Path(name) / part, EXAMPLE / part)
    print("made anew:", EXAMPLE)
