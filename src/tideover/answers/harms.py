"""What each single fault does to load, cells and parts: measures of harm read from the marches, and their severity.

Every measure is such that more is worse, and that of a fault is never less than that of the faultless build: a fault
mends nothing. The severity follows from the measures alone.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.answers import limits, states
from tideover.answers.mask import Mask, held, stretches_below
from tideover.answers.packs import charger_of, chemistry, curve, full_charge
from tideover.answers.strikes import WATCHED, Phase, Strikes
from tideover.cases import written
from tideover.cases.faults import Single
from tideover.laws.chemistry import CHEMISTRY
from tideover.network import Placed

Array = NDArray[np.float64]
FIRE, DESTROYED, LOST, DEGRADED, NUISANCE = 5, 4, 3, 2, 1
SEVERITIES = {
    FIRE: "5 fire or burn",
    DESTROYED: "4 load or pack destroyed",
    LOST: "3 output or backup lost",
    DEGRADED: "2 degraded",
    NUISANCE: "1 nuisance",
}
SPIKE, LASTING, PULSE = 1e-4, 1e-2, 1.0
"""Over-voltage at the load, current through a short and over-voltage of cells count from these lengths. [s]"""
FIRST = 1.0
"""The current through a short is told for this long. [s]"""
LITHIUM = ("NMC", "NCA", "LCO", "LFP", "LTO")


@dataclass(frozen=True)
class Harm:
    """Measures of harm of one fault, more being worse; a ratio is 1 at its limit.

    Attributes
    ----------
    over_voltage : float
        Voltage at the load over the highest it bears. [-]
    above_window : float
        Voltage at the load over the top of its window. [-]
    reversed : float
        Reverse voltage at the load. [V]
    over_charge : float
        Voltage of a cell above the limit of its chemistry. [V]
    on_fire : float
        The same, or the cells' temperature, over what sets lithium cells alight. [-]
    over_discharge : float
        Lowest limit of a cell over its voltage. [-]
    hottest : float
        Temperature of the hottest part over that at which things burn. [-]
    past_rating : float
        Temperature over the highest its part is rated for. [-]
    past_voltage : float
        Voltage at a part over the highest it is rated for. [-]
    dark_on_mains, dark_in_outage, dark_at_peak : float
        1 where the load goes dark with mains present; when mains is lost or returns; at its own peaks. [-]
    never_charges : float
        1 where an empty pack is no longer charged. [-]
    runtime_lost : float
        Share of the runtime on the pack that is gone. [-]
    drains : float
        The time after which a pack switched off should not yet be empty, over that it takes. [-]
    cells_hot : float
        Temperature of the cells over the warmest they may be used at. [-]
    """

    over_voltage: float = 0.0
    above_window: float = 0.0
    reversed: float = 0.0
    over_charge: float = -1.0
    on_fire: float = 0.0
    over_discharge: float = 0.0
    hottest: float = 0.0
    past_rating: float = 0.0
    past_voltage: float = 0.0
    dark_on_mains: float = 0.0
    dark_in_outage: float = 0.0
    dark_at_peak: float = 0.0
    never_charges: float = 0.0
    runtime_lost: float = 0.0
    drains: float = 0.0
    cells_hot: float = 0.0

    def worst(self, other: Harm) -> Harm:
        """The larger of every measure."""
        return Harm(*(max(getattr(self, f.name), getattr(other, f.name)) for f in fields(self)))


CAUSES: tuple[tuple[int, str, Any], ...] = (
    (FIRE, "fire", lambda h: h.on_fire >= 1.0),
    (FIRE, "burns", lambda h: h.hottest >= 1.0),
    (DESTROYED, "over-voltage", lambda h: h.over_voltage > 1.0),
    (DESTROYED, "reversed", lambda h: h.reversed > limits.REVERSED.value),
    (DESTROYED, "over-charge", lambda h: h.over_charge > limits.OVERCHARGED.value),
    (DESTROYED, "over-discharge", lambda h: h.over_discharge > 1.0 / limits.DEEP.value),
    (LOST, "dark", lambda h: h.dark_on_mains > 0.0),
    (LOST, "no backup", lambda h: h.dark_in_outage > 0.0),
    (LOST, "peaks", lambda h: h.dark_at_peak > 0.0),
    (LOST, "never charges", lambda h: h.never_charges > 0.0),
    (LOST, "breaks a part", lambda h: h.past_voltage > 1.0),
    (LOST, "overheats a part", lambda h: h.past_rating > 1.0),
    (DEGRADED, "charged too far", lambda h: h.over_charge > 0.0),
    (DEGRADED, "discharged too far", lambda h: h.over_discharge > 1.0),
    (DEGRADED, "above its window", lambda h: h.above_window > 1.0),
    (DEGRADED, "hot cells", lambda h: h.cells_hot > 1.0),
    (DEGRADED, "shorter run", lambda h: h.runtime_lost > limits.RUNTIME_LOST.value),
    (DEGRADED, "drains", lambda h: h.drains > 1.0),
)
"""What makes a severity, the worst first: the first cause that applies is the one to tell."""


def severity(harm: Harm) -> tuple[int, str]:
    """Severity, 1 to 5, and its cause in a word or two; nuisance where there is none.

    Examples
    --------
    >>> severity(Harm(over_voltage=1.2))
    (4, 'over-voltage')
    >>> severity(Harm())
    (1, '')
    """
    return next(((level, cause) for level, cause, applies in CAUSES if applies(harm)), (NUISANCE, ""))


@dataclass(frozen=True)
class Told:
    """What is told of a fault beside its harm: values, names and times, NaN or empty where there is nothing to tell.

    Attributes
    ----------
    load_high, load_low : float
        Highest and lowest voltage at the load. [V]
    cell_high, cell_low : float
        Of one cell of any group. [V]
    charge_limit, discharge_limit : float
        Of the chemistry of the pack whose cells are worst off. [V]
    past_charge_limit : float
        Time from the fault until a cell passes the limit of its chemistry. [s]
    paced : bool
        That time follows from the pace at which the supply hunts.
    phase : str
        What was present when the worst came: ``mains`` or ``pack``.
    hot, hot_part, burns_after : float, str, float
        The hottest part [K], and when it is so hot that things burn. [s]
    cell_hot : float
        Of the cells. [K]
    broken, broken_volts : str, float
        Part past its voltage rating, and by what.
    dark_after, dark_when : float, str
        When the load goes dark [s] after the fault, or after mains is lost or has returned.
    runtime : float
        On the pack from full. [s]
    current : float
        Largest current through a short in its first second. [A]
    idle : float
        Until a pack that is switched off is empty. [s]
    charged_less : float
        Share of the charge that its charger no longer gives it. [-]
    dark_peak : str
        Where peaks of the load put it out: ``mains`` or ``pack``.
    """

    load_high: float = np.nan
    load_low: float = np.nan
    cell_high: float = np.nan
    cell_low: float = np.nan
    charge_limit: float = np.nan
    discharge_limit: float = np.nan
    past_charge_limit: float = np.nan
    paced: bool = False
    phase: str = "mains"
    hot: float = np.nan
    hot_part: str = ""
    burns_after: float = np.nan
    cell_hot: float = np.nan
    broken: str = ""
    broken_volts: float = np.nan
    dark_after: float = np.nan
    dark_when: str = ""
    runtime: float = np.nan
    current: float = np.nan
    idle: float = np.nan
    charged_less: float = 0.0
    dark_peak: str = ""


def load_limit(strikes: Strikes) -> tuple[float, bool]:
    """Highest voltage the load bears, and whether its build file states it. [V]"""
    network = strikes.context.network
    stated = [written(network, (p.name, "highest_voltage")) for p in strikes.context.loads]
    stated = [v for v in stated if v > 0.0]
    top = network.need.window[1]
    return (min(stated), True) if stated else (top * (1.0 + limits.LOAD_SPARE.value), False)


class Reader:
    """Reads harm from the marches and standing points, fault by fault."""

    def __init__(self, strikes: Strikes) -> None:
        self.strikes = strikes
        self.network = strikes.context.network
        self.mask = Mask.of(self.network.need)
        self.packs = states.of_kind(self.network, "pack")
        batch = strikes.struck.batch
        self.full = {p.name: np.maximum(full_charge(self.network, p, batch), 1e-3) for p in self.packs}
        self.level = states.worst_level(self.network)
        self.load_max = load_limit(strikes)[0]
        self.bridges = {s.bridge for s in strikes.struck.singles if s.bridge}
        self.parts = [
            p for p in self.network.parts if p.kind.warm and p.name not in self.bridges and p.kind.name != "pack"
        ]
        self.parts = [p for p in self.parts if not p.name.startswith("stray at ")]

    def single(self, case: int) -> Single | None:
        return self.strikes.struck.singles[case - 1] if case else None

    def read(self, case: int) -> tuple[Harm, Told]:
        """Harm of one fault as it is, and what to tell of it."""
        h: dict[str, float] = {}
        told: dict[str, Any] = {}
        for phase in (self.strikes.mains, self.strikes.after, self.strikes.pack):
            if phase is None or phase.cut(case).stop == phase.cut(case).start:
                continue
            self._load(phase, case, h, told)
            for pack in self.packs:
                self._cells(phase, case, pack, h, told)
            self._heat(phase, case, h, told)
            self._volts(phase, case, h, told)
        self._dark(case, h, told)
        self._short(case, told)
        self._standing(case, h, told)
        single = self.single(case)
        if single and single.fault.burns and chemistry(self.network, single.part) in LITHIUM:
            h["on_fire"] = max(h.get("on_fire", 0.0), 1.0)
        return Harm(**h), Told(**told)

    # --- the load ------------------------------------------------------------------------------------------

    def _load(self, phase: Phase, case: int, h: dict[str, float], told: dict[str, Any]) -> None:
        cut = phase.cut(case)
        t, v = phase.t[cut], phase.v(self.network.at)[cut]
        high, low = -held(t, -v, SPIKE), held(t, v, SPIKE)
        _more(h, "over_voltage", high / self.load_max)
        _more(h, "above_window", high / self.mask.high)
        _more(h, "reversed", -low)
        told["load_high"] = max(told.get("load_high", -np.inf), high)
        told["load_low"] = min(told.get("load_low", np.inf), low)

    def _dark_at(self, phase: Phase, case: int, since: float, until: float) -> float:
        """First instant from which the load stays below its window for longer than its dips allow; or it resets."""
        cut = phase.cut(case)
        t, v = phase.t[cut], phase.v(self.network.at)[cut]
        k = np.flatnonzero((t >= since) & (t <= until))
        if not len(k):
            return np.nan
        first = np.inf
        for level, allowed in self.mask.steps:
            starts, ends = stretches_below(t[k], v[k], level)
            late = t[k][-1] if k[-1] == len(t) - 1 else np.inf
            over = starts[(ends - starts > allowed) | ((ends >= late) & (level == self.mask.low) & phase.stuck[case])]
            first = min(first, float(over[0]) if len(over) else np.inf)
        for load in self.strikes.context.loads:
            names = phase.read.machine[load.name, "work"][cut.start : cut.stop]
            reset = next((float(t[j]) for j in k if names[j] != "working"), np.inf)
            first = min(first, reset)
        return first - since if np.isfinite(first) else np.nan

    def _dark(self, case: int, h: dict[str, float], told: dict[str, Any]) -> None:
        """When the load goes dark: with mains present, when it is lost, when it returns; and how long the pack runs."""
        mains, after, pack = self.strikes.mains, self.strikes.after, self.strikes.pack
        out = np.nan
        when = ""
        if mains is not None:
            out, when = self._dark_at(mains, case, 0.0, min(mains.loss, np.inf)), "mains"
            if np.isnan(out) and (case == 0 or np.isnan(self._empty_at_pace(mains, 0))):
                out = self._empty_at_pace(mains, case)
            if np.isnan(out) and mains.stuck[case]:
                out = float(mains.t[mains.cut(case)][-1])
        if not np.isnan(out):
            h["dark_on_mains"] = 1.0
        elif mains is not None:
            phase = after if after is not None and (after.case == case).any() else mains
            for since, until, name in ((phase.loss, phase.back, "loss"), (phase.back, np.inf, "return")):
                out = self._dark_at(phase, case, since, until)
                if not np.isnan(out):
                    h["dark_in_outage"], when = 1.0, name
                    break
        told["dark_after"], told["dark_when"] = out, when if not np.isnan(out) else ""
        if pack is not None:
            told["runtime"] = self._dark_at(pack, case, 0.0, np.inf)
            first = self._dark_at(pack, 0, 0.0, np.inf)
            mine = told["runtime"]
            if not np.isnan(first) and first > 0.0 and not np.isnan(mine):
                h["runtime_lost"] = 1.0 - mine / first
            at_once = not np.isnan(mine) and mine < limits.AT_ONCE.value
            if at_once and (np.isnan(first) or first >= limits.AT_ONCE.value):
                h["dark_in_outage"] = 1.0
                if np.isnan(told["dark_after"]):
                    told["dark_after"], told["dark_when"] = mine, "loss"

    def _empty_at_pace(self, phase: Phase, case: int) -> float:
        """When the pack is empty that feeds the load though mains is present; NaN if it is not being emptied. [s]"""
        for pack in self.packs:
            soc, rate, t = self._pace(phase, case, pack)
            if rate < 0.0:
                left = soc - states.empty_at(self.network, pack)
                at = t + max(left, 0.0) / -rate
                if at < limits.LONG_RUN.value:
                    return at
        return np.nan

    def _pace(self, phase: Phase, case: int, pack: Placed) -> tuple[float, float, float]:
        """Charge of the weak group, its mean rate over the second half of a march on mains, and the time."""
        cut = phase.cut(case)
        early = phase.t[cut] <= phase.loss
        t, soc = phase.t[cut][early], phase.read.state[pack.name, "weak_charge"][cut][early]
        if len(t) < 2 or t[-1] <= 0.0:
            return float(soc[-1]), 0.0, float(t[-1])
        middle = float(np.interp(0.5 * t[-1], t, soc))
        return float(soc[-1]), (float(soc[-1]) - middle) / (0.5 * float(t[-1])), float(t[-1])

    # --- cells ---------------------------------------------------------------------------------------------

    def _cells(self, phase: Phase, case: int, pack: Placed, h: dict[str, float], told: dict[str, Any]) -> None:
        single = self.single(case)
        if single and single.part.name == pack.name and single.fault.means == "open":
            return  # its groups are no longer between the nodes that they are read from
        limit = CHEMISTRY[chemistry(self.network, pack)]
        lithium = chemistry(self.network, pack) in LITHIUM
        cells = written(self.network, (pack.name, "cells_per_unit"))
        cut, read = phase.cut(case), phase.read
        t = phase.t[cut]
        groups = [read.quantity[pack.name, f"{g} group [V]"][cut] / cells for g in ("weak", "mean")]
        high = max(-held(t, -v, PULSE) for v in groups)
        low = min(held(t, v, PULSE) for v in groups)
        past = np.nan
        for v in groups:
            starts, ends = stretches_below(t, -v, -limit.charge_abs)
            long = starts[ends - starts > PULSE]
            past = float(np.fmin(past, long[0])) if len(long) else past
        paced = False
        if phase.hunts[case] and phase.name == states.MAINS_FULL and phase.t[cut][-1] < phase.loss:
            reach, at = self._charged_at_pace(phase, case, pack)
            if reach > max(high, limit.charge_abs):
                high, past, paced = reach, float(np.fmin(past, at)), np.isnan(past)
        temp = float(read.state[pack.name, "temp"][cut].max())
        _more(h, "over_charge", high - limit.charge_abs)
        _more(h, "over_discharge", limit.discharge_abs / max(low, 1e-3))
        _more(h, "cells_hot", _kelvin_share(temp, written(self.network, (pack.name, "warmest_discharge"))))
        if lithium:
            _more(h, "on_fire", 1.0 + (high - limit.charge_abs - limits.OVERCHARGE_FIRE.value))
            _more(h, "on_fire", _kelvin_share(temp, limits.CELL_RUNS_AWAY.value))
        if high - limit.charge_abs > told.get("cell_high", -np.inf) - told.get("charge_limit", 0.0):
            if told.get("charge_limit", limit.charge_abs) != limit.charge_abs:
                told["past_charge_limit"] = np.nan  # that was another pack, less badly off
            told["cell_high"], told["charge_limit"] = high, limit.charge_abs
            told["phase"] = "pack" if phase.name == states.FULL else "mains"
        if low / limit.discharge_abs < told.get("cell_low", np.inf) / told.get("discharge_limit", 1.0):
            told["cell_low"], told["discharge_limit"] = low, limit.discharge_abs
        told["cell_hot"] = max(told.get("cell_hot", -np.inf), temp)
        mine = phase is not self.strikes.after and told["charge_limit"] == limit.charge_abs
        if mine and not np.isnan(past) and not past >= told.get("past_charge_limit", np.inf):
            told["past_charge_limit"], told["paced"] = past, paced

    def _charged_at_pace(self, phase: Phase, case: int, pack: Placed) -> tuple[float, float]:
        """Voltage that a cell reaches while the supply hunts on, and when it passes its limit. [V] [s]

        The charger, or the adapter round it, cannot lift it above its own voltage, nor past what the board allows.
        """
        limit = CHEMISTRY[chemistry(self.network, pack)]
        soc, rate, t = self._pace(phase, case, pack)
        if rate <= 0.0:
            return -np.inf, np.nan
        series = written(self.network, (pack.name, "series"))
        cells = written(self.network, (pack.name, "cells_per_unit"))
        given = self.strikes.struck.batch.values

        def figure(key: tuple[str, str]) -> float:
            return float(given[key][case]) if key in given else written(self.network, key)

        single = self.single(case)
        around = single is not None and single.bridge  # past the charger, for all that is known
        charger = charger_of(self.network, pack)
        pushing = [figure((p.name, "voltage")) for p in states.of_kind(self.network, "adapter")]
        if not around:
            pushing = [figure((charger.name, "hold_voltage"))] if charger else []
        ceilings = [max(pushing) / (series * cells)] if pushing else []
        tap = pack.nodes[pack.kind.terminals.index("tap")]
        for board in states.of_kind(self.network, "protection board"):
            if board.nodes[board.kind.terminals.index("sense tap")] == tap:
                ceilings.append(figure((board.name, "over_charge")) / cells)
        ocv = curve(self.network, pack)
        x = np.linspace(0.0, 3.0, 3001)
        volts = np.asarray(ocv.value(x[:, None]))[:, 0]
        if not ceilings:
            return -np.inf, np.nan
        end = min(float(np.interp(soc + rate * (WATCHED - t), x, volts)), *ceilings)
        wanted = float(np.interp(limit.charge_abs, volts, x))
        return end, t + max(wanted - soc, 0.0) / rate

    # --- heat and volts ------------------------------------------------------------------------------------

    def _heat(self, phase: Phase, case: int, h: dict[str, float], told: dict[str, Any]) -> None:
        cut = phase.cut(case)
        t = phase.t[cut]
        hunting = phase.hunts[case] and len(t) > 2 and t[-1] > 0.0
        for part in self.parts:
            temps = phase.read.state[part.name, "temp"][cut]
            top = float(temps.max())
            if hunting:
                top = max(top, self._warm_at_pace(phase, case, part))
            _more(h, "hottest", _kelvin_share(top, limits.PART_BURNS.value))
            rated = part.values.get("largest_junction_temperature")
            if rated is not None:
                most = written(self.network, (part.name, "largest_junction_temperature"))
                _more(h, "past_rating", _kelvin_share(top, most))
            if top > told.get("hot", -np.inf):
                told["hot"], told["hot_part"] = top, part.name
                hot = np.flatnonzero(temps >= limits.PART_BURNS.value)
                told["burns_after"] = float(t[hot[0]]) if len(hot) else np.nan

    def _warm_at_pace(self, phase: Phase, case: int, part: Placed) -> float:
        """Temperature that a part tends to under its mean heat over the second half of a march that hunts. [K]"""
        cut = phase.cut(case)
        t = phase.t[cut]
        late = t >= 0.5 * t[-1]
        if np.count_nonzero(late) < 2 or t[late][-1] <= t[late][0]:
            return -np.inf
        heat = phase.read.heat[part.name][cut][late]
        mean = float(np.trapezoid(heat, t[late]) / (t[late][-1] - t[late][0]))
        return float(phase.inside.V[-1][cut][-1]) + mean * written(self.network, (part.name, "thermal_resistance"))

    def _volts(self, phase: Phase, case: int, h: dict[str, float], told: dict[str, Any]) -> None:
        cut = phase.cut(case)
        t = phase.t[cut]
        for part in self.network.parts:
            for terminal, low_side, name in RATED.get(part.kind.name, ()):
                if part.name in self.bridges or part.name.startswith("stray at "):
                    continue
                ends = [part.nodes[part.kind.terminals.index(x)] for x in (terminal, low_side)]
                v = -held(t, -(phase.v(ends[0])[cut] - phase.v(ends[1])[cut]), PULSE)
                share = v / written(self.network, (part.name, name))
                if share > h.get("past_voltage", 0.0) and share > 1.0:
                    told["broken"], told["broken_volts"] = part.name, v
                _more(h, "past_voltage", share)

    def _short(self, case: int, told: dict[str, Any]) -> None:
        """Current through a short."""
        single = self.single(case)
        if single is None or not single.bridge:
            return
        for phase in filter(None, (self.strikes.mains, self.strikes.pack)):
            cut = phase.cut(case)
            t, i = phase.t[cut], np.abs(phase.read.quantity[single.bridge, "a [A]"][cut])
            early = t <= FIRST  # later the cells are hotter than their resistance is known for
            told["current"] = max(told.get("current", 0.0), -held(t[early], -i[early], LASTING))

    def heat(self, case: int, until: float) -> float:
        """Heat at the place of a fault above what the part usually gives off, until an instant. [J]"""
        single = self.strikes.struck.singles[case - 1]
        most = 0.0
        for phase in filter(None, (self.strikes.mains, self.strikes.pack)):
            cut, read = phase.cut(case), phase.read
            t = phase.t[cut]
            extra = read.heat[single.part.name][cut] - read.heat[single.part.name][phase.cut(0)][0]
            if single.bridge:
                extra = extra + read.heat[single.bridge][cut]
            early = t <= until
            most = max(most, float(np.trapezoid(np.maximum(extra[early], 0.0), t[early])))
        return most

    # --- standing points -----------------------------------------------------------------------------------

    def _standing(self, case: int, h: dict[str, float], told: dict[str, Any]) -> None:
        points = self.strikes.points
        row = self.strikes.row(states.CHARGING)
        for pack in self.packs:
            full = self.full[pack.name]
            lower = 1.0 - float(full[case] / full[0])
            _more(h, "runtime_lost", lower)
            told["charged_less"] = max(told.get("charged_less", 0.0), lower)
            if row is None or lower > 0.3:
                continue  # charging ends so low that a half full pack counts as full
            i = -points.raw(pack.name, "discharge current [A]")[row]
            first, mine = float(i[0]), float(i[case])
            if first > limits.CHARGES.value and not mine >= limits.CHARGE_LOST.value * first:
                h["never_charges"] = 0.0 if np.isnan(mine) and self._gains(case, pack) else 1.0
        for name in (states.MAINS_FULL, states.FULL):
            peak = self.strikes.row(name, self.level)
            if peak is not None:
                lit = [self._lit(peak, k) for k in (0, case)]
                if lit[0] and not lit[1]:
                    h["dark_at_peak"] = 1.0
                    told["dark_peak"] = told.get("dark_peak") or ("mains" if name == states.MAINS_FULL else "pack")
        off = self.strikes.row(states.OFF)
        if off is not None:
            for pack in self.packs:
                i = points.raw(pack.name, "discharge current [A]")[off]
                key = (pack.name, "capacity"), (pack.name, "parallel")
                coulombs = written(self.network, key[0]) * written(self.network, key[1])
                idle = [coulombs / x if x > 0.0 else np.inf for x in (float(i[0]), float(i[case]))]
                told["idle"] = idle[1]
                if idle[1] < limits.DRAIN_LOST.value * idle[0]:
                    _more(h, "drains", limits.DRAIN_FAILS.value / idle[1])

    def _lit(self, row: int, case: int) -> bool:
        """Whether the load stands in its window; where the supply hunts, the marches judge."""
        points = self.strikes.points
        volts = float(points.raw_v(self.network.at)[row, case])
        return bool(np.isnan(volts) or volts >= self.mask.low)

    def _gains(self, case: int, pack: Placed) -> bool:
        """Whether the pack still gains charge though the supply hunts."""
        mains = self.strikes.mains
        return mains is not None and self._pace(mains, case, pack)[1] > 0.0


RATED: dict[str, tuple[tuple[str, str, str], ...]] = {
    "capacitor": (("plus", "minus", "voltage_rating"),),
    "charger": (("input", "minus", "highest_input"),),
    "boost": (("input", "minus", "highest_input"),),
    "buck": (("input", "minus", "highest_input"),),
    "buck-boost": (("input", "minus", "highest_input"),),
    "linear regulator": (("input", "minus", "highest_input"),),
    "diode": (("cathode", "anode", "reverse_voltage"),),
    "ideal diode": (("cathode", "minus", "voltage_rating"),),
}
"""Between which terminals a kind bears how much: terminal, terminal, parameter."""


def _more(h: dict[str, float], name: str, value: float) -> None:
    if not np.isnan(value):
        h[name] = max(h.get(name, -1.0), float(value))


def _kelvin_share(temp: float, limit: float) -> float:
    """Rise above 25 °C over the rise that is allowed."""
    return (temp - 298.15) / (limit - 298.15)
