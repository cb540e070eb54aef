"""How the cells of a pack share the current in time: a state of its own for every cell, the strips between them.

Each cell follows the same equations as the pack that a build computes with (`tideover.parts.pack`): a voltage curve
with hysteresis behind a series resistance and two resistor-capacitor pairs, all following temperature. The strips are
an algebraic network (`tideover.laws.strips`). All cases of a run are stepped together, each with a step of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tideover.cells.model import PER_CASE
from tideover.design import welded
from tideover.design.cell_model import BuiltPack
from tideover.laws.cell_curve import CellCurve
from tideover.laws.cells import resistance_factor
from tideover.laws.constants import TEMP_25
from tideover.laws.smooth import positive
from tideover.laws.strips import StripNetwork
from tideover.parts.base import Kind
from tideover.parts.pack import REFERENCE

DISCHARGE, REST, CHARGE, HOLD = "discharge", "rest", "charge", "hold"
TOLERANCE = 0.003
"""How far a current may depart from the straight line drawn through the step before, over the mean of a cell. [-]"""
LANDING = 1e-5
"""How near a voltage must come to where a phase ends. [V]"""
FIRST = 0.05
"""First step after a jump of the load. [s]"""
MOST_STEPS = 20_000
MONTH = 2.63e6


@dataclass(frozen=True)
class Phase:
    """One stretch of time.

    Attributes
    ----------
    kind : str
        ``discharge`` until the lowest group is at the lowest voltage of a cell, ``rest``, ``charge`` until the highest
        group is at the highest voltage, ``hold`` at the voltage then reached until the current is down to `current`.
    current : float or None
        Of the pack, without sign. [A]
    power : float or None
        Of the pack instead, without sign. [W]
    longest : float
        It ends after this at the latest. [s]
    """

    kind: str
    current: float | None = None
    power: float | None = None
    longest: float = 1e6


@dataclass(frozen=True, eq=False)
class Case:
    """One condition under which the pack is followed.

    Attributes
    ----------
    name : str
        What it is called.
    temp : float
        Of the air and of the cells at the start. [K]
    welds : array, shape (n,), or None
        Of both ends of each cell; infinite for an open one; None as described. [ohm]
    corner : str
        Resistance of the strips: ``low``, ``nominal``, ``high``.
    start : float or array, shape (n,)
        State of charge. [-]
    """

    name: str
    temp: float = TEMP_25
    welds: Any = None
    corner: str = welded.NOMINAL
    start: Any = 1.0


@dataclass(frozen=True, eq=False)
class Cells:
    """The cells as numbers: those that differ from cell to cell as arrays of shape (n,)."""

    capacity: Any
    growth: Any
    curve: CellCurve
    usual: bool
    p: dict[str, float]

    @classmethod
    def of(cls, pack: BuiltPack, kind: Kind) -> Cells:
        """Of a pack, with what its file leaves out as the pack has it by default."""
        own = np.array([c.capacity.nominal for group in pack.groups for c in group])
        p = {q.name: welded.number(pack, kind, q.name) for q in kind.parameters if q.name in _NEEDED}
        p["lowest_voltage"] = welded.number(pack, kind, "lowest_voltage")
        p["highest_voltage"] = welded.number(pack, kind, "highest_voltage")
        chemistry = kind.parameter("chemistry").choices[int(welded.number(pack, kind, "chemistry"))]
        curve = pack.cell.curve or CellCurve.of(chemistry)
        return cls(own, welded.cell_growths(pack, kind), curve, pack.cell.curve is None, p)

    def alike(self, groups: int) -> Cells:
        """One mean cell a group: as if all its cells shared at one state of charge."""
        capacity = self.capacity.reshape(groups, -1).mean(axis=1)
        growth = 1.0 / (1.0 / self.growth.reshape(groups, -1)).mean(axis=1)
        return Cells(capacity, growth, self.curve, self.usual, self.p)


_NEEDED = (*PER_CASE, "charge_efficiency", "cells_per_unit")


@dataclass(frozen=True, eq=False)
class Course:
    """One case in time; arrays over its instants, of which each jump of the load has two.

    Attributes
    ----------
    case : Case
        Which.
    t : array, shape (k,)
        From the start. [s]
    phase : array of int, shape (k,)
        Position of the phase that each instant belongs to.
    current, volts : array, shape (k,)
        Of the leads. [A, V]
    groups : array, shape (k, groups)
        Voltage of each group between its sense leads. [V]
    cells, charge, temp : array, shape (k, n)
        Discharge current [A], state of charge and temperature [K] of every cell.
    ended : tuple of str
        Why each phase ended: ``limit``, ``time``, ``collapse`` when the power asked for was more than the pack can
        give, ``small current``.
    energy : dict of str to float
        Since the start: ``delivered``, ``cells``, ``welds``, ``strips``, and ``stored``, what the cells have more than
        at the start. They add up to nothing. [J]
    """

    case: Case
    t: Any
    phase: Any
    current: Any
    volts: Any
    groups: Any
    cells: Any
    charge: Any
    temp: Any
    ended: tuple[str, ...]
    energy: dict[str, float] = field(default_factory=dict)

    def during(self, phase: int) -> Any:
        """Which instants belong to a phase, a mask of shape (k,)."""
        return self.phase == phase

    def lasted(self, phase: int) -> float:
        """How long a phase took. [s]"""
        t = self.t[self.during(phase)]
        return float(t[-1] - t[0])

    def given(self, phase: int) -> float:
        """Charge that left the pack during a phase. [C]"""
        mask = self.during(phase)
        return float(np.trapezoid(self.current[mask], self.t[mask]))


@dataclass
class _State:
    """States of all cells in all cases, shape (cases, n)."""

    charge: Any
    fast: Any
    slow: Any
    lag: Any
    temp: Any

    def where(self, mask: Any, other: _State) -> _State:
        pick = mask[:, None]
        return _State(*(np.where(pick, a, b) for a, b in zip(vars(self).values(), vars(other).values())))


@dataclass
class _Instant:
    """What follows from the states and the load at one instant."""

    cells: Any
    load: Any
    volts: Any
    nodes: Any
    segments: Any
    failed: Any


def run(
    pack: BuiltPack,
    kind: Kind,
    phases: Sequence[Phase],
    cases: Sequence[Case],
    tolerance: float = TOLERANCE,
) -> tuple[Course, ...]:
    """Follow a pack, every cell by itself.

    Parameters
    ----------
    pack : BuiltPack
        As read.
    kind : Kind
        The pack, for what the cell's file leaves out.
    phases : sequence of Phase
        One after the other.
    cases : sequence of Case
        Followed side by side.
    tolerance : float
        See `TOLERANCE`. [-]

    Returns
    -------
    courses : tuple of Course
        One a case.

    Notes
    -----
    Charge by the trapezoidal rule, the pairs exactly for a current that changes straight over the step, hysteresis and
    temperature exactly for its mean; all together with the network by Newton's method. A load of constant power has
    its closed form at every step, so that the point of collapse is met, not stepped over.
    """
    strips = [welded.network(pack, case.corner, case.temp) for case in cases]
    where = welded.place(pack)
    sense = [2 * pack.series * pack.parallel, *(tap.nodes[0] for tap in where.sense), -1]
    none = welded.weld_resistance(pack)
    n = pack.series * pack.parallel
    welds = np.stack([np.broadcast_to(none if case.welds is None else case.welds, n) for case in cases])
    return follow(Cells.of(pack, kind), strips, welds, sense, phases, cases, pack.series, tolerance)


def shared_evenly(pack: BuiltPack, kind: Kind, phases: Sequence[Phase], case: Case) -> Course:
    """Follow the pack as if its cells shared without strips, all cells of a group at one state of charge."""
    s, p = pack.series, pack.parallel
    ends = [(2 * k + 1, 2 * k + 2) for k in range(s - 1)]
    chain = StripNetwork.of(s, ends, np.zeros(len(ends)), [0], [2 * s - 1])
    sense = [2 * s, *(2 * k + 1 for k in range(s - 1)), -1]
    even = [_scaled(phase, 1.0 / p) for phase in phases]
    welds = np.full((1, s), welded.weld_resistance(pack))
    return follow(Cells.of(pack, kind).alike(s), [chain], welds, sense, even, [case], s, TOLERANCE)[0]


def _scaled(phase: Phase, by: float) -> Phase:
    current = None if phase.current is None else phase.current * by
    power = None if phase.power is None else phase.power * by
    return Phase(phase.kind, current, power, phase.longest)


def follow(
    cells: Cells,
    strips: Sequence[StripNetwork],
    welds: Any,
    sense: Sequence[int],
    phases: Sequence[Phase],
    cases: Sequence[Case],
    groups: int,
    tolerance: float,
) -> tuple[Course, ...]:
    """Follow cells on any network of strips; `run` has the parameters of a pack."""
    first = strips[0]
    network = StripNetwork(
        first.cells,
        first.ends,
        np.stack([s.ohms for s in strips]),
        first.part,
        np.stack([s.rise for s in strips]),
        np.stack([s.flow for s in strips]),
    )
    march = _March(cells, network, np.asarray(welds, dtype=float), list(sense), cases, groups, tolerance)
    for k, phase in enumerate(phases):
        march.go(k, phase)
    return march.courses()


class _March:
    """All cases on their way through the phases."""

    def __init__(
        self,
        cells: Cells,
        network: StripNetwork,
        welds: Any,
        sense: list[int],
        cases: Sequence[Case],
        groups: int,
        tolerance: float,
    ) -> None:
        self.cells, self.network, self.welds, self.sense = cells, network, welds, sense
        self.cases, self.groups, self.tolerance = cases, groups, tolerance
        n, b = network.cells, len(cases)
        self.air = np.array([[case.temp] for case in cases])
        start = np.stack([np.broadcast_to(np.asarray(case.start, dtype=float), n) for case in cases])
        rest = np.zeros((b, n))
        self.x = _State(start, rest, rest, rest, np.broadcast_to(self.air, (b, n)))
        self.t = np.zeros(b)
        self.held = np.zeros(b)
        self.size = np.ones(b)
        self.rows: list[tuple[Any, ...]] = []
        self.ended: list[list[str]] = [[] for _ in cases]
        self.spent = {name: np.zeros(b) for name in ("delivered", "cells", "welds", "strips")}
        self.stored_0 = self.stored(self.x)

    # --- one cell -------------------------------------------------------------------------------

    def resistances(self, charge: Any, temp: Any) -> tuple[Any, Any, Any]:
        """Ohmic, fast and slow. [ohm]"""
        c, p = self.cells, self.cells.p
        warm = c.growth * resistance_factor(temp, p["activation_energy"], REFERENCE)
        if c.usual:
            low = positive(0.2 - charge, 0.01)
            ohmic, lag = 1.0 + 25.0 * low * low, 1.0
        else:
            ohmic, lag = c.curve.ohmic.value(charge), c.curve.lag.value(charge)
        return p["resistance"] * warm * ohmic, p["fast_resistance"] * warm * lag, p["slow_resistance"] * warm * lag

    def rate(self, i: Any, charge: Any) -> Any:
        """How fast a cell loses charge. [1/s]"""
        p = self.cells.p
        missing = (1.0 - p["charge_efficiency"]) * positive(-i, 1e-3)
        return (i + missing) / self.cells.capacity + p["self_discharge"] / MONTH * charge

    def heat(self, x: _State, i: Any) -> Any:
        """Set free in each cell, without its welds. [W]"""
        p = self.cells.p
        r0, r1, r2 = self.resistances(x.charge, x.temp)
        ocv = p["cells_per_unit"] * self.cells.curve.open_circuit.value(x.charge)
        missing = (1.0 - p["charge_efficiency"]) * positive(-i, 1e-3)
        leak = p["self_discharge"] * self.cells.capacity / MONTH * x.charge
        return i * i * r0 + x.fast**2 / r1 + x.slow**2 / r2 + ocv * (missing + leak) - i * x.lag

    def stored(self, x: _State) -> Any:
        """Energy in all cells of each case. [J]"""
        p = self.cells.p
        chemical = p["cells_per_unit"] * self.cells.capacity * self.cells.curve.open_circuit.integral(x.charge)
        pairs = 0.5 * (p["fast_capacitance"] * x.fast**2 + p["slow_capacitance"] * x.slow**2)
        return np.sum(chemical + pairs, axis=-1)

    # --- one instant ----------------------------------------------------------------------------

    def loaded(self, phase: Phase, e: Any, r: Any) -> _Instant:
        """Solve the network with cells of given voltage and resistance under the load of a phase."""
        i_0, i_1, v_0, r_pack = self.network.line(e, r)
        failed = np.zeros(len(v_0), dtype=bool)
        if phase.kind == REST:
            load = np.zeros(len(v_0))
        elif phase.kind == HOLD:
            load = (v_0 - self.held) / r_pack
        elif phase.power is not None:
            power = phase.power if phase.kind == DISCHARGE else -phase.power
            room = v_0 * v_0 - 4.0 * power * r_pack
            failed = room < 0.0
            load = (v_0 - np.sqrt(np.maximum(room, 0.0))) / (2.0 * r_pack)
        else:
            sign = 1.0 if phase.kind == DISCHARGE else -1.0
            load = np.full(len(v_0), sign * (phase.current or 0.0))
        i = i_0 + i_1 * load[:, None]
        return _Instant(i, load, v_0 - r_pack * load, None, None, failed)

    def now(self, phase: Phase) -> _Instant:
        """Currents that the states and the load ask for."""
        x, p = self.x, self.cells.p
        e = p["cells_per_unit"] * self.cells.curve.open_circuit.value(x.charge) + x.lag - x.fast - x.slow
        return self.loaded(phase, e, self.resistances(x.charge, x.temp)[0] + self.welds)

    def group_volts(self, i: Any, load: Any) -> tuple[Any, Any]:
        """Voltage of each group between its sense leads, and currents of all segments."""
        fed = self.network._fed(i, load)
        segments = np.einsum("...sk,...k->...s", self.network.flow, fed)
        return self.between(fed), segments

    def between(self, fed: Any) -> Any:
        """Voltage between neighbouring sense leads, by way of the first cell of each group."""
        rise = np.einsum("...jk,...k->...j", self.network.rise, fed)
        u = self.u
        n, per = self.network.cells, self.network.cells // self.groups
        out = []
        for g in range(self.groups):
            k = g * per
            above, below = self.sense[g], self.sense[g + 1]
            up = rise[:, above] - rise[:, 2 * k]
            down = rise[:, 2 * k + 1] - rise[:, below]
            out.append(u[:, k] + up + down)
        assert n == per * self.groups
        return np.stack(out, axis=1)

    # --- one step -------------------------------------------------------------------------------

    def step(self, phase: Phase, i: Any, guess: Any, dt: Any) -> tuple[_State, _Instant, Any]:
        """One step of each case, its own length; also whether Newton's method converged."""
        x, p, q = self.x, self.cells.p, self.cells.capacity
        h = dt[:, None]
        rate_0 = self.rate(i, x.charge)
        new, found = guess, None
        converged = np.zeros(len(dt), dtype=bool)
        for _ in range(12):
            charge = x.charge - 0.5 * h * (rate_0 + self.rate(new, x.charge))
            _, r1, r2 = self.resistances(0.5 * (x.charge + charge), x.temp)
            fast, by_fast = _ramp(x.fast, i, new, r1, p["fast_capacitance"], h)
            slow, by_slow = _ramp(x.slow, i, new, r2, p["slow_capacitance"], h)
            mean = 0.5 * (i + new)
            size = np.sqrt(mean * mean + 1e-8)
            aim = -mean * p["hysteresis"] / size
            lag = aim + (x.lag - aim) * np.exp(-p["hysteresis_rate"] / q * size * h)
            ocv, slope = self.cells.curve.open_circuit.both(charge)
            softer = p["cells_per_unit"] * slope * 0.5 * h / q + by_fast + by_slow
            e = p["cells_per_unit"] * ocv + lag - fast - slow + softer * new
            r0 = self.resistances(charge, x.temp)[0]
            found = self.loaded(phase, e, r0 + self.welds + softer)
            change = np.abs(found.cells - new).max(axis=-1)
            new = found.cells
            converged = change < 1e-7 * self.size
            if np.all(converged | found.failed):
                break
        assert found is not None
        charge = x.charge - 0.5 * h * (rate_0 + self.rate(new, x.charge))
        fast, _ = _ramp(x.fast, i, new, r1, p["fast_capacitance"], h)
        slow, _ = _ramp(x.slow, i, new, r2, p["slow_capacitance"], h)
        cool = _State(charge, fast, slow, lag, x.temp)
        heat = 0.5 * (self.heat(x, i) + self.heat(cool, new))
        final = self.air + heat * p["thermal_resistance"]
        left = np.exp(-h / (p["thermal_resistance"] * p["heat_capacity"]))
        return _State(charge, fast, slow, lag, final + (x.temp - final) * left), found, converged

    def terminal(self, x: _State, i: Any) -> Any:
        """Voltage of each cell at its welds' far ends. [V]"""
        p = self.cells.p
        e = p["cells_per_unit"] * self.cells.curve.open_circuit.value(x.charge) + x.lag - x.fast - x.slow
        r = self.resistances(x.charge, x.temp)[0] + self.welds
        open_ = np.isinf(r)
        return np.where(open_, np.nan, e - np.where(open_, 0.0, i * np.where(open_, 1.0, r)))

    def seen(self, x: _State, at: _Instant) -> tuple[Any, Any]:
        """Group voltages and segment currents of an instant."""
        self.u = self._welded(self.terminal(x, at.cells), at)
        return self.group_volts(at.cells, at.load)

    def _welded(self, u: Any, at: _Instant) -> Any:
        """Between the strips at each cell's place: for a lost cell, by way of a neighbour that is not."""
        if not np.isnan(u).any():
            return u
        fed = self.network._fed(at.cells, at.load)
        rise = np.einsum("...jk,...k->...j", self.network.rise, fed)
        over = rise[:, 0:-2:2] - rise[:, 1:-2:2]
        per = self.network.cells // self.groups
        base = (u - over).reshape(len(u), self.groups, per)
        whole = np.nanmean(base, axis=-1, keepdims=True)
        return np.where(np.isnan(u), (whole + over.reshape(base.shape)).reshape(u.shape), u)

    def room(self, phase: Phase, groups: Any, load: Any) -> Any:
        """How far the end of a phase is: above zero before it. [V]"""
        p = self.cells.p
        if phase.kind == DISCHARGE:
            return groups.min(axis=-1) - p["lowest_voltage"]
        if phase.kind == CHARGE:
            return p["highest_voltage"] - groups.max(axis=-1)
        if phase.kind == HOLD:
            return np.abs(load) - (phase.current or 0.0)
        return np.full(len(groups), np.inf)

    # --- one phase ------------------------------------------------------------------------------

    def go(self, number: int, phase: Phase) -> None:
        """Follow every case through one phase."""
        b = len(self.cases)
        begin = self.t.copy()
        if phase.kind == HOLD and self.rows:
            self.held = self.rows[-1][3].copy()
        at = self.now(phase)
        groups, segments = self.seen(self.x, at)
        if phase.kind != REST:
            self.size = np.maximum(np.abs(at.cells).mean(axis=-1), 1e-6)
        room = self.room(phase, groups, at.load)
        why = np.where(at.failed, "collapse", np.where(room <= 0.0, "limit", ""))
        self.keep(number, at, groups)
        dt, slope = np.full(b, FIRST), np.zeros_like(at.cells)
        for _ in range(MOST_STEPS):
            left = phase.longest - (self.t - begin)
            why = np.where((why == "") & (left <= 1e-9), "time", why)
            active = why == ""
            if not active.any():
                break
            dt = np.where(active, np.minimum(dt, left), 0.0)
            guess = at.cells + slope * dt[:, None]
            x, new, good = self.step(phase, at.cells, guess, dt)
            g, f = self.seen(x, new)
            error = np.abs(new.cells - guess).max(axis=-1) / self.size
            beyond = self.room(phase, g, new.load)
            tiny = dt <= 1e-4
            wrong = active & ~tiny & (~good | new.failed | (error > 4.0 * self.tolerance))
            over = active & ~wrong & ~tiny & (beyond < -LANDING)
            why = np.where(active & tiny & new.failed, "collapse", why)
            take = active & ~wrong & ~over & (why == "")
            self.spend(x, at, new, segments, f, np.where(take, dt, 0.0))
            grown = dt * np.clip(0.9 * np.sqrt(self.tolerance / np.maximum(error, 1e-9)), 0.3, 2.0)
            with np.errstate(invalid="ignore", divide="ignore"):
                landing = dt * np.clip(room / (room - beyond), 0.02, 0.98)
                slope = np.where(take[:, None], (new.cells - at.cells) / np.maximum(dt, 1e-12)[:, None], slope)
            self.t = self.t + np.where(take, dt, 0.0)
            self.x = x.where(take, self.x)
            at = _picked(take, new, at)
            groups, segments = np.where(take[:, None], g, groups), np.where(take[:, None], f, segments)
            room = np.where(take, beyond, room)
            why = np.where(take & (room < LANDING), "limit", why)
            dt = np.where(wrong, 0.4 * dt, np.where(over, landing, grown))
            if take.any():
                self.keep(number, at, groups)
        else:
            why = np.where(why == "", "steps", why)
        for k, word in enumerate(why):
            self.ended[k].append("small current" if phase.kind == HOLD and word == "limit" else str(word))

    def keep(self, number: int, at: _Instant, groups: Any) -> None:
        self.rows.append((self.t.copy(), number, at.load, at.volts, groups, at.cells, self.x.charge, self.x.temp))

    def spend(self, x: _State, at: _Instant, new: _Instant, before: Any, after: Any, dt: Any) -> None:
        """Energies of a step, by the trapezoidal rule."""
        finite = np.where(np.isinf(self.welds), 0.0, self.welds)
        ohms = self.network.ohms
        for name, one, other in (
            ("delivered", at.load * at.volts, new.load * new.volts),
            ("cells", self.heat(self.x, at.cells).sum(axis=-1), self.heat(x, new.cells).sum(axis=-1)),
            ("welds", (finite * at.cells**2).sum(axis=-1), (finite * new.cells**2).sum(axis=-1)),
            ("strips", (ohms * before**2).sum(axis=-1), (ohms * after**2).sum(axis=-1)),
        ):
            self.spent[name] = self.spent[name] + np.where(dt > 0.0, 0.5 * dt * (one + other), 0.0)

    def courses(self) -> tuple[Course, ...]:
        """What was kept, case by case, without the instants at which a case stood still for others."""
        stored = self.stored(self.x) - self.stored_0
        out = []
        for b, case in enumerate(self.cases):
            rows = [
                (row[0][b], row[1], *(a[b] for a in row[2:]))
                for k, row in enumerate(self.rows)
                if k == 0 or row[0][b] != self.rows[k - 1][0][b] or row[1] != self.rows[k - 1][1]
            ]
            t, phase, current, volts, groups, cells, charge, temp = (np.array(column) for column in zip(*rows))
            energy = {**{name: float(v[b]) for name, v in self.spent.items()}, "stored": float(stored[b])}
            ended = tuple(self.ended[b])
            out.append(Course(case, t, phase, current, volts, groups, cells, charge, temp, ended, energy))
        return tuple(out)


def _picked(mask: Any, new: _Instant, old: _Instant) -> _Instant:
    cells = np.where(mask[:, None], new.cells, old.cells)
    return _Instant(
        cells, np.where(mask, new.load, old.load), np.where(mask, new.volts, old.volts), None, None, new.failed
    )


def _ramp(v: Any, i: Any, new: Any, r: Any, c: Any, h: Any) -> tuple[Any, Any]:
    """Voltage of a pair after a step over which the current goes straight from `i` to `new`; and its slope by `new`."""
    tau = r * c
    with np.errstate(invalid="ignore", divide="ignore"):
        gone = -np.expm1(-h / tau)
        part = np.where(h > 0.0, gone * tau / h, 1.0)
    by_new = r * (1.0 - part)
    return v * (1.0 - gone) + i * r * (part - (1.0 - gone)) + new * by_new, by_new


__all__ = ["CHARGE", "DISCHARGE", "HOLD", "REST", "Case", "Cells", "Course", "Phase", "follow", "run", "shared_evenly"]
