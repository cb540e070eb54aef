"""A fit against a record that it has not seen: how far runtime and voltage are off."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tideover.cells.comparing import comparable
from tideover.cells.condition import Condition
from tideover.cells.fit import Fitted
from tideover.cells.log import Log
from tideover.cells.run import Load, Rows, discharge, simulate
from tideover.cells.stock import StockCell

from .tables import Reader, under_load


@dataclass(frozen=True)
class Check:
    """Something else that is claimed: in words with what was measured, and whether it holds."""

    words: str
    met: bool


@dataclass(frozen=True)
class Verdict:
    """One prediction against one record.

    Attributes
    ----------
    record : str
        What was predicted.
    runtime, rms : float or None
        Error of the runtime or of the capacity [-], and of the voltage, root mean square. [V]
    runtime_bound, rms_bound : float or None
        At most so much, of either sign; None where nothing is claimed.
    checks : tuple of Check
        What else is claimed.
    """

    record: str
    runtime: float | None = None
    rms: float | None = None
    runtime_bound: float | None = None
    rms_bound: float | None = None
    checks: tuple[Check, ...] = ()

    @property
    def met(self) -> bool:
        """Whether all that is claimed holds; a figure that is not a number never does."""
        pairs = ((self.runtime, self.runtime_bound), (self.rms, self.rms_bound))
        kept = [value is not None and abs(value) < bound for value, bound in pairs if bound is not None]
        kept += [check.met for check in self.checks]
        return bool(kept) and all(kept)

    @property
    def cells(self) -> tuple[str, ...]:
        """Record, runtime, voltage, bounds, met or not: one row of the table."""
        bounds = [f"{100 * self.runtime_bound:.2g} %"] if self.runtime_bound is not None else []
        bounds += [f"{1e3 * self.rms_bound:.0f} mV"] if self.rms_bound is not None else []
        bounds += [check.words + ("" if check.met else " (NOT)") for check in self.checks]
        return (
            self.record,
            "" if self.runtime is None else f"{100 * self.runtime:+.2f} %",
            "" if self.rms is None else f"{1e3 * self.rms:.1f} mV",
            ", ".join(bounds),
            "met" if self.met else "NOT MET",
        )


def judged(found: Fitted, record: Log) -> tuple[float, float]:
    """Error of the runtime [-], and of the voltage, root mean square [V], of a discharge at constant current."""
    rows, current, lasted = under_load(record)
    air = float(record.temp[0]) if record.temp is not None else 298.15
    run = discharge(found.cells, Load.constant("current", current), float(record.v[rows.stop]), 1.0, air)
    volts = simulate(found.cells, Rows.of(record, ambient=air)).v[0]
    return float(run.runtime[0] / lasted - 1.0), float(np.sqrt(np.mean((volts[rows] - record.v[rows]) ** 2)))


def until_empty(found: Fitted, record: Log, repeats: float) -> tuple[float, float]:
    """Error of the time to a record's lowest voltage under its own power, which goes on as it repeats [-], and of the
    voltage up to there, root mean square [V]."""
    end = int(np.argmin(record.v))
    again = (record.t > record.t[end] - repeats) & (record.t <= record.t[end])
    power = record.i * record.v
    t = np.concatenate([record.t[: end + 1], record.t[again] + repeats])
    load = Load.table("power", t, np.concatenate([power[: end + 1], power[again]]))
    assert record.temp is not None
    run = discharge(found.cells, load, float(record.v[end]), 1.0, float(record.temp[0]))
    left = (simulate(found.cells, Rows.of(record)).v[0] - record.v)[: end + 1]
    return float(run.runtime[0] / (record.t[end] - record.t[0]) - 1.0), float(np.sqrt(np.mean(left**2)))


def above(found: Fitted, record: Log, limit: float) -> float:
    """Error of the voltage where the record is above a limit, root mean square. [V]"""
    volts = simulate(found.cells, Rows.of(record)).v[0]
    fine = record.v > limit
    return float(np.sqrt(np.mean((volts - record.v)[fine] ** 2)))


def measured(record: Log) -> tuple[float, Condition]:
    """Charge that a discharge at constant current gave [C], and under what condition."""
    rows, current, lasted = under_load(record)
    air = float(record.temp[0]) if record.temp is not None else 298.15
    return current * lasted, Condition(current, float(record.v[rows.stop]), air)


def capacity(read: Reader, word: str, size: float, known: str, asked: str) -> Verdict:
    """A capacity at the condition of another record; as far off as it says itself, twice its uncertainty, is fine."""
    charge, there = measured(read(known))
    true, at = measured(read(asked))
    cell = StockCell("A", "", word, nameplate=3600.0 * size, capacity=charge, discharge_current=there.current,
                     cutoff=there.cutoff, ambient=there.ambient)  # fmt: skip
    found = comparable([cell], at).converted["A"]
    return Verdict(asked, float(np.log(found.capacity / true)), runtime_bound=2.0 * found.spread)
