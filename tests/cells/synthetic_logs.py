"""Logs of cells with known truth: drawn around a typical cell, with noise, scatter of the full charge and rounding."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tideover.cells.log import Log
from tideover.cells.model import nearest_item, of_item
from tideover.cells.run import CellCases, Load, Rows, discharge, simulate
from tideover.cells.unknowns import FULL_WIDTH, moved, typical_cell

LIKE = "NMC 18650 2.6 Ah"
CAPACITY = 2.6 * 3600.0
CUTOFF = 2.75
NAMES = ("capacity", "resistance", "fast_resistance", "slow_resistance")
NAMES += ("volts 0.2", "volts 0.5", "volts 0.8", "lag 0.05")
WIDTHS = np.array([0.05, 0.25, 0.3, 0.3, 0.02, 0.02, 0.02, 0.4])


@dataclass(frozen=True)
class World:
    """A cell that is known, and the charge it really had when it was called full, log by log."""

    cells: CellCases
    rng: np.random.Generator
    noise: float = 0.002

    @classmethod
    def drawn(cls, seed: int) -> World:
        rng = np.random.default_rng(seed)
        base = typical_cell(of_item(nearest_item("NMC", CAPACITY, LIKE)), CAPACITY, CUTOFF)
        return cls(moved(base, NAMES, (WIDTHS * rng.standard_normal(len(NAMES)))[None]), rng)

    def runtime(self, load: Load, cutoff: float = CUTOFF) -> float:
        """What it would do from a perfectly full charge. [s]"""
        return float(discharge(self.cells, load, cutoff).runtime[0])

    def constant_current(self, name: str, rate: float, leads: float = 0.0, every: float = 20.0) -> Log:
        """A rest, a discharge at so many times its nominal capacity an hour, and a rest."""
        start = 1.0 + FULL_WIDTH * self.rng.standard_normal()
        current = rate * CAPACITY / 3600.0
        lasts = float(discharge(self.cells, Load.constant("current", current), CUTOFF, start).runtime[0])
        every = min(every * max(0.2 / rate, 0.05), lasts / 200.0)
        t = np.arange(0.0, lasts + 900.0, every)
        i = np.where((t >= 60.0) & (t < 60.0 + lasts), current, 0.0)
        return self._log(name, t, i, start, leads)

    def pulses(self, name: str, rate: float) -> Log:
        """From full in steps of a tenth: a pulse of ten seconds, a rest, a discharge, a rest of half an hour."""
        start = 1.0 + FULL_WIDTH * self.rng.standard_normal()
        level, slow = rate * CAPACITY / 3600.0, 0.5 * CAPACITY / 3600.0
        t: list[float] = [0.0]
        i: list[float] = [0.0]

        def stretch(current: float, lasts: float, rows: int) -> None:
            for dt in np.geomspace(lasts / 50.0, lasts, rows):
                t.append(begin + float(dt))
                i.append(current)

        for _ in range(9):
            for current, lasts, rows in ((0.0, 60.0, 4), (level, 10.0, 12), (0.0, 120.0, 12), (slow, 700.0, 20),
                                         (0.0, 1800.0, 20)):  # fmt: skip
                begin = t[-1]
                t.append(begin + 0.01)
                i.append(current)
                stretch(current, lasts, rows)
        return self._log(name, np.array(t), np.array(i), start, 0.0)

    def _log(self, name: str, t: Any, i: Any, start: float, leads: float) -> Log:
        clean = Log(name, t, np.zeros_like(t), i)
        run = simulate(replace(self.cells, leads=np.array([leads])), Rows.of(clean), start)
        v = np.round(run.v[0] + self.noise * self.rng.standard_normal(len(t)), 3)
        temp = run.temp[0] + 0.2 * self.rng.standard_normal(len(t))
        return Log(name, t, v, i, temp)
