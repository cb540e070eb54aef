"""One kind of cell through a known current, power or resistor: many cases side by side.

The equations are those of the pack in the engine (`tideover.parts.pack`) for one group of one cell: open-circuit curve
with hysteresis, a series resistance and two resistor-capacitor pairs, one activation energy, and its own heat. Between
rows the pairs take exact exponential steps, so that rows may lie seconds or half an hour apart.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.cells.log import Array, Log
from tideover.laws.cells import STEEP, Curve, resistance_factor
from tideover.laws.constants import MONTH, TEMP_25
from tideover.parts.base import held_temp

SWEEPS = 4
"""Passes over a log without temperatures: each leaves a tenth of the error of its self-heating."""
STEPS = 600
"""Steps into which a discharge at constant load is cut, in terms of its capacity."""
FLOOR = -1.0
"""State of charge below which a voltage that has not fallen to its limit never will. [-]"""
LONGEST_RUN = 400 * 24 * 3600.0
"""A discharge that has not ended by then is given up. [s]"""
WARMS = 60.0
"""Half the time over which logged temperatures are averaged: a cell takes several minutes to warm, so what changes
faster is the thermometer's noise. Taken for the cell's own it would say that the resistance does not follow the
temperature. Judgement. [s]"""
CURRENT, POWER, RESISTANCE = "current", "power", "resistance"


@dataclass(frozen=True, eq=False)
class CellCases:
    """One kind of cell in many cases, such as draws of its uncertain parameters.

    Attributes
    ----------
    knots : array, shape (k,)
        States of charge of the curves, from 0 to 1. [-]
    volts, ohmic, lag : array, shape (cases, k)
        Open-circuit voltage of one cell [V]; its ohmic resistance, and those of its pairs, over the ones stated. [-]
    capacity : array, shape (cases,), as all that follow
        From full to its lowest voltage at rest. [C]
    resistance, fast_resistance, slow_resistance : array
        At half charge and 25 degrees Celsius. [ohm]
    fast_capacitance, slow_capacitance : array
        Beside the pairs. [F]
    activation_energy : array
        Of all resistances. [J/mol]
    hysteresis, hysteresis_rate : array
        Half the gap of the branches [V], and how fast it swings per full charge. [-]
    thermal_resistance, heat_capacity : array
        To the air around it [K/W], and of its body. [J/K]
    self_discharge : array
        Share of its charge, per month. [-]
    leads : array
        In series outside the cell; between cell and logger only. [ohm]
    cells_per_unit : int
        Cells inside one unit, of which `volts` and `hysteresis` tell one. [-]
    steep : float
        Least slope of the open-circuit curve beyond 0 and 1. [V]
    """

    knots: Array
    volts: Array
    ohmic: Array
    lag: Array
    capacity: Array
    resistance: Array
    fast_resistance: Array
    fast_capacitance: Array
    slow_resistance: Array
    slow_capacitance: Array
    activation_energy: Array
    hysteresis: Array
    hysteresis_rate: Array
    thermal_resistance: Array
    heat_capacity: Array
    self_discharge: Array
    leads: Array
    cells_per_unit: int = 1
    steep: float = 0.0

    @property
    def count(self) -> int:
        """Cases. [-]"""
        return len(self.capacity)

    def take(self, cases: Any) -> CellCases:
        """Some of the cases."""
        per_case = {f.name: getattr(self, f.name)[cases] for f in fields(self) if f.name not in SHARED}
        return replace(self, **per_case)

    @cached_property
    def curves(self) -> Curve:
        """Voltage, ohmic shape and shape of the pairs, of all cases one after another."""
        steep = np.repeat([self.steep, 0.0, 0.0], self.count)
        return Curve.through(self.knots, np.concatenate([self.volts, self.ohmic, self.lag]), steep)

    def at(self, charge: Array) -> tuple[Array, Array, Array]:
        """Voltage of the unit at rest [V] and both shapes [-], shape (..., cases) as the charge."""
        three = np.concatenate([charge, charge, charge], axis=-1)
        volts, ohmic, lag = np.split(self.curves.value(three), 3, axis=-1)
        return self.cells_per_unit * volts, ohmic, lag

    def warmth(self, temp: Any) -> Array:
        """Growth of the resistances at a temperature. [-]"""
        return np.asarray(resistance_factor(held_temp(temp), self.activation_energy, TEMP_25))


SHARED = ("knots", "cells_per_unit", "steep")


def typical_steep(chemistry: str) -> float:
    """Least slope of the curve of a chemistry beyond empty and full. [V]"""
    return STEEP.get(chemistry, 0.0)


@dataclass(frozen=True, eq=False)
class Rows:
    """What a log drives a cell with, and the voltage it shows; rows may be thinned.

    Attributes
    ----------
    t, v, i, charge : array, shape (n,)
        Time [s], voltage [V], current [A], and charge taken out since the first row. [C]
    temp : array, shape (n,), or None
        Of the cell. [K]
    rest : array of bool, shape (n - 1,)
        Between which rows nothing was recorded and rest is assumed. [-]
    ambient : float
        Around the cell, where `temp` is None. [K]
    """

    t: Array
    v: Array
    i: Array
    charge: Array
    temp: Array | None
    rest: NDArray[np.bool_]
    ambient: float = TEMP_25

    @classmethod
    def of(cls, log: Log, keep: NDArray[np.intp] | None = None, ambient: float = TEMP_25) -> Rows:
        """Rows of a log: all, or those kept.

        Parameters
        ----------
        log : Log
            As read. [-]
        keep : array of int, optional
            Rows, ascending. [-]
        ambient : float
            Counts where the log has no temperatures. [K]
        """
        keep = np.arange(len(log.t)) if keep is None else np.asarray(keep)
        broken = np.isin(np.arange(len(log.t)), log.breaks)
        holes = np.cumsum(broken)
        rest = holes[keep[1:]] > holes[keep[:-1]]
        temp = None
        if log.temp is not None and np.isfinite(log.temp).any():
            known = np.isfinite(log.temp)
            temp = _calmed(log.t, np.interp(log.t, log.t[known], log.temp[known]))[keep]
        return cls(log.t[keep], log.v[keep], log.i[keep], log.charge[keep], temp, rest, ambient)


def _calmed(t: Array, temp: Array) -> Array:
    """Temperatures without the noise of single rows: means over `WARMS` to either side, less near the ends. [K]"""
    if len(t) < 3:
        return temp
    half = np.minimum(WARMS, np.minimum(t - t[0], t[-1] - t))
    area = np.concatenate([[0.0], np.cumsum(np.diff(t) * 0.5 * (temp[1:] + temp[:-1]))])

    def until(at: Array) -> Array:
        k = np.clip(np.searchsorted(t, at, side="right") - 1, 0, len(t) - 2)
        part = at - t[k]
        slope = (temp[k + 1] - temp[k]) / (t[k + 1] - t[k])
        return np.asarray(area[k] + part * (temp[k] + 0.5 * part * slope))

    wide = half > 0.0
    mean = (until(t + half) - until(t - half)) / np.where(wide, 2.0 * half, 1.0)
    return np.where(wide, mean, temp)


@dataclass(frozen=True, eq=False)
class Run:
    """What happened to each case.

    Attributes
    ----------
    t : array, shape (n,)
        Instants. [s]
    v, charge, temp : array, shape (cases, n)
        Voltage at the leads [V], state of charge [-] and temperature. [K]
    heat : array, shape (cases, n)
        Set free in the cell. [W]
    """

    t: Array
    v: Array
    charge: Array
    temp: Array
    heat: Array


def simulate(cells: CellCases, rows: Rows, start: Any = 1.0) -> Run:
    """Follow a log: its current, and its own count of charge, are known.

    Parameters
    ----------
    cells : CellCases
        The cases. [-]
    rows : Rows
        Of one log. [-]
    start : float or array, shape (cases,)
        State of charge at the first row, where the cell has rested. [-]

    Returns
    -------
    run : Run
        At the rows. Where temperatures were logged they count; else the cell warms itself.
    """
    n, width = len(rows.t), cells.count
    dt = np.diff(rows.t)[:, None]
    moved = np.diff(rows.charge)
    mean = np.where(rows.rest, 0.0, moved / dt[:, 0])
    s = np.broadcast_to(start, (width,)) - rows.charge[:, None] / cells.capacity  # (n, cases)
    ocv, ohmic, _ = cells.at(s)
    _, _, lag = cells.at(0.5 * (s[1:] + s[:-1]))
    swing = _hysteresis(cells, moved)
    current = rows.i[:, None]
    if rows.temp is not None:
        temp = np.broadcast_to(rows.temp[:, None], (n, width))
        return _once(cells, rows, s, ocv, ohmic, lag, swing, temp, dt, mean, current)
    temp = np.full((n, width), rows.ambient)
    cool = np.exp(-dt / (cells.thermal_resistance * cells.heat_capacity))
    for _ in range(SWEEPS):
        run = _once(cells, rows, s, ocv, ohmic, lag, swing, temp, dt, mean, current)
        between = 0.5 * (run.heat.T[1:] + run.heat.T[:-1])
        rise = _recursion(cool, between * cells.thermal_resistance * (1.0 - cool))
        temp = rows.ambient + rise
    return replace(run, temp=temp.T)


def _once(
    cells: CellCases,
    rows: Rows,
    s: Array,
    ocv: Array,
    ohmic: Array,
    lag: Array,
    swing: Array,
    temp: Array,
    dt: Array,
    mean: Array,
    current: Array,
) -> Run:
    """One pass at given temperatures; arrays (rows, cases)."""
    warmth = cells.warmth(temp)
    between = cells.warmth(0.5 * (temp[1:] + temp[:-1])) * lag
    r0 = cells.resistance * warmth * ohmic
    settled, joule = np.zeros_like(s), current * current * r0
    for r, c in (
        (cells.fast_resistance, cells.fast_capacitance),
        (cells.slow_resistance, cells.slow_capacitance),
    ):
        ohms = r * between
        left = np.exp(-dt / (ohms * c))
        v = _recursion(left, mean[:, None] * ohms * (1.0 - left))
        settled += v
        joule[1:] += v[1:] * v[1:] / ohms
    v_out = ocv + swing - settled - current * (r0 + cells.leads)
    return Run(rows.t, v_out.T, s.T, temp.T, (joule - current * swing).T)


def _recursion(left: Array, gain: Array) -> Array:
    """x[k + 1] = left[k] x[k] + gain[k] from 0."""
    out = np.zeros((len(gain) + 1, gain.shape[1]))
    x = out[0]
    for k in range(len(gain)):
        x = left[k] * x + gain[k]
        out[k + 1] = x
    return out


def _hysteresis(cells: CellCases, moved: Array) -> Array:
    """Hysteresis voltage at every row, from 0: it follows the charge moved, not time."""
    if not np.any(cells.hysteresis):
        return np.zeros((len(moved) + 1, cells.count))
    left = np.exp(-cells.hysteresis_rate * np.abs(moved[:, None]) / cells.capacity)
    return _recursion(left, -np.sign(moved)[:, None] * cells.hysteresis * (1.0 - left))


# --- a discharge until empty ----------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Load:
    """What is drawn from a cell: one level for ever, or a table that repeats.

    Attributes
    ----------
    law : str
        ``current`` [A], ``power`` [W] or ``resistance`` [ohm].
    level : array, shape (n,)
        Positive on discharge; of a table's pieces.
    lasts : array, shape (n,)
        How long each piece is; infinite for a single one. [s]
    """

    law: str
    level: Array
    lasts: Array

    @classmethod
    def constant(cls, law: str, level: float) -> Load:
        """One level for ever."""
        return cls(law, np.array([level]), np.array([np.inf]))

    @classmethod
    def table(cls, law: str, t: Array, level: Array) -> Load:
        """A table: each level holds from its row's time to the next row's; the last as long as the one before."""
        lasts = np.diff(t)
        return cls(law, np.asarray(level, float), np.append(lasts, lasts[-1]))

    def pieces(self, longest: float) -> Iterator[tuple[float, float]]:
        """Length [s] and level of one piece after another, none longer than a limit, without end."""
        while True:
            for level, lasts in zip(self.level.tolist(), self.lasts.tolist()):
                if not np.isfinite(lasts):
                    while True:
                        yield longest, level
                parts = max(int(np.ceil(lasts / longest - 1e-9)), 1)
                for _ in range(parts):
                    yield lasts / parts, level


@dataclass(frozen=True, eq=False)
class Discharge:
    """A run until the voltage falls to a limit.

    Attributes
    ----------
    runtime : array, shape (cases,)
        Infinite where it never fell. [s]
    charge, energy : array, shape (cases,)
        Delivered by then. [C], [J]
    end_temp, hottest : array, shape (cases,)
        Of the cell at the end, and at most. [K]
    t : array, shape (n,)
        Instants of the curve. [s]
    v, i : array, shape (cases, n)
        Voltage [V] and current [A]; NaN after a case's end.
    slope : array, shape (cases,)
        Of the voltage at the end. [V/s]
    """

    runtime: Array
    charge: Array
    energy: Array
    end_temp: Array
    hottest: Array
    t: Array
    v: Array
    i: Array
    slope: Array


def discharge(
    cells: CellCases,
    load: Load,
    cutoff: float,
    start: Any = 1.0,
    ambient: Any = TEMP_25,
    steps: int = STEPS,
    until: float = LONGEST_RUN,
) -> Discharge:
    """Discharge every case until its voltage falls to a limit.

    Parameters
    ----------
    cells : CellCases
        The cases. [-]
    load : Load
        What is drawn. [-]
    cutoff : float
        At the terminals. [V]
    start : float or array, shape (cases,)
        State of charge; the cell has rested, at the temperature around it. [-]
    ambient : float or array, shape (cases,)
        Around it. [K]
    steps : int
        Into which the capacity is cut at the mean load; a table's own rows are steps, too. [-]
    until : float
        Given up after. [s]

    Returns
    -------
    found : Discharge

    Notes
    -----
    Steps of the midpoint rule for charge and temperature, exact exponentials for the pairs. A load of power or
    resistance is solved for its current at the beginning and in the middle of every step.
    """
    width = cells.count
    x = _Now(
        np.broadcast_to(np.asarray(start, float), (width,)).copy(),
        np.zeros(width),
        np.zeros(width),
        np.zeros(width),
        np.broadcast_to(np.asarray(ambient, float), (width,)).copy(),
    )
    longest = _step(cells, load, steps, until)
    t, before = 0.0, np.nan
    none, never = np.empty(0), np.full(width, np.nan)
    out = Discharge(never, never.copy(), never.copy(), never, never, none, none, none, np.zeros(width))
    runtime, slope = np.full(width, np.inf), np.zeros(width)
    charge, energy, hottest = np.zeros(width), np.zeros(width), x.temp.copy()
    end_temp = x.temp.copy()
    going = np.ones(width, bool)
    kept_t: list[float] = []
    kept_v: list[Array] = []
    kept_i: list[Array] = []
    last_v = np.full(width, np.nan)
    last = (0.0, charge, energy, x.temp)

    def ended(v: Array) -> None:
        """Cases whose voltage has just fallen: the instant by a straight line between the last two."""
        nonlocal going
        fell = going & (v <= cutoff)
        if not fell.any():
            return
        drop = last_v - v
        share = np.where(drop > 0.0, (last_v - cutoff) / np.where(drop > 0.0, drop, 1.0), 0.0)
        share = np.where(np.isfinite(share), np.clip(share, 0.0, 1.0), 1.0)
        was_t, was_charge, was_energy, was_temp = last
        runtime[fell] = (was_t + share * (t - was_t))[fell]
        out.charge[fell] = (was_charge + share * (charge - was_charge))[fell]
        out.energy[fell] = (was_energy + share * (energy - was_energy))[fell]
        end_temp[fell] = (was_temp + share * (x.temp - was_temp))[fell]
        if t > was_t:
            slope[fell] = (drop / (t - was_t))[fell]
        going = going & ~fell

    with np.errstate(over="ignore", invalid="ignore"):
        for dt, level in load.pieces(longest):
            seen = _seen(cells, x)
            if t > 0.0:
                ended(_drawn(load.law, before, seen)[1])  # at the end of the piece before
            i, v = _drawn(load.law, level, seen)
            if level != before or t == 0.0:
                last_v, last = v, (t, charge, energy, x.temp)
                ended(v)
            kept_t.append(t)
            kept_v.append(np.where(going, v, np.nan))
            kept_i.append(np.where(going, i, np.nan))
            if not (going & (x.charge > FLOOR)).any() or t > until:
                break
            last_v, last = v, (t, charge, energy, x.temp)
            middle = _moved(cells, x, seen, i, 0.5 * dt)
            seen_middle = _seen(cells, middle)
            i_middle, v_middle = _drawn(load.law, level, seen_middle)
            x = _moved(cells, x, seen_middle, i_middle, dt)
            charge = charge + i_middle * dt
            energy = energy + i_middle * v_middle * dt
            hottest = np.where(going, np.maximum(hottest, x.temp), hottest)
            t, before = t + dt, level
    out.charge[going], out.energy[going] = charge[going], energy[going]
    return replace(
        out,
        runtime=runtime,
        end_temp=np.where(np.isfinite(runtime), end_temp, x.temp),
        hottest=hottest,
        t=np.array(kept_t),
        v=np.array(kept_v).T,
        i=np.array(kept_i).T,
        slope=slope,
    )


@dataclass
class _Now:
    """State of every case: charge, both pairs and hysteresis [V], temperature [K]; and what is around it."""

    charge: Array
    fast: Array
    slow: Array
    hysteresis: Array
    temp: Array
    ambient: Array | None = None

    def __post_init__(self) -> None:
        if self.ambient is None:
            self.ambient = self.temp


@dataclass
class _Seen:
    """What a state means: voltage behind the ohmic resistance, that resistance, those of the pairs."""

    emf: Array
    ohms: Array
    fast: Array
    slow: Array


def _seen(cells: CellCases, x: _Now) -> _Seen:
    ocv, ohmic, lag = cells.at(x.charge)
    warmth = cells.warmth(x.temp)
    emf = ocv + x.hysteresis - x.fast - x.slow
    lagging = warmth * lag
    return _Seen(
        emf,
        cells.resistance * warmth * ohmic + cells.leads,
        cells.fast_resistance * lagging,
        cells.slow_resistance * lagging,
    )


def _drawn(law: str, level: float, seen: _Seen) -> tuple[Array, Array]:
    """Current [A] and voltage [V]; a power beyond reach draws the most that there is."""
    if law == CURRENT:
        i = np.full_like(seen.emf, level)
    elif law == RESISTANCE:
        i = seen.emf / (seen.ohms + level)
    else:
        i = (seen.emf - np.sqrt(np.maximum(seen.emf**2 - 4.0 * level * seen.ohms, 0.0))) / (2.0 * seen.ohms)
    return i, seen.emf - i * seen.ohms


def _moved(cells: CellCases, x: _Now, seen: _Seen, i: Array, dt: float) -> _Now:
    """The state after some time at a current, with resistances as seen."""
    fast = np.exp(-dt / (seen.fast * cells.fast_capacitance))
    slow = np.exp(-dt / (seen.slow * cells.slow_capacitance))
    leak = cells.self_discharge / MONTH * x.charge
    charge = x.charge - dt * (i / cells.capacity + leak)
    swing = np.exp(-cells.hysteresis_rate * np.abs(i) * dt / cells.capacity)
    towards = -np.sign(i) * cells.hysteresis
    heat = i * i * (seen.ohms - cells.leads) + x.fast**2 / seen.fast + x.slow**2 / seen.slow - i * x.hysteresis
    around = x.ambient if x.ambient is not None else x.temp
    cool = np.exp(-dt / (cells.thermal_resistance * cells.heat_capacity))
    settled = around + heat * cells.thermal_resistance
    return _Now(
        charge,
        x.fast * fast + i * seen.fast * (1.0 - fast),
        x.slow * slow + i * seen.slow * (1.0 - slow),
        x.hysteresis * swing + towards * (1.0 - swing),
        settled + (x.temp - settled) * cool,
        around,
    )


def _step(cells: CellCases, load: Load, steps: int, until: float) -> float:
    """Longest step: a share of the time in which the mean load takes the capacity. [s]"""
    volts = cells.cells_per_unit * float(np.mean(cells.volts[:, len(cells.knots) // 2]))
    level = np.abs(load.level)
    current = {CURRENT: level, POWER: level / volts, RESISTANCE: volts / np.maximum(level, 1e-9)}[load.law]
    lasts = np.where(np.isfinite(load.lasts), load.lasts, 1.0)
    mean = float(np.sum(current * lasts) / np.sum(lasts))
    return min(float(np.mean(cells.capacity)) / max(mean, 1e-12) / steps, until / 10.0)
