"""What the faults answer says of one fault: what happens, what stops it, and who would notice."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from tideover.answers import limits, states
from tideover.answers.harms import DEGRADED, DESTROYED, FIRE, LOST, NUISANCE, Harm, Reader, Told, load_limit, severity
from tideover.answers.rides import Event
from tideover.answers.strikes import Phase, Strikes
from tideover.cases import written
from tideover.cases.faults import Fault, Single
from tideover.quantity import show

SOON = 1.0
"""Within this the load goes dark at once, as far as anybody can see. [s]"""
TOLD_UP_TO = limits.PART_BURNS.value
"""Temperatures above this are only told to be above it: what melts first is not modelled. [K]"""
PROTECTIVE: dict[tuple[str, str, str], str] = {
    ("fuse", "element", "blown"): "blows",
    ("protection board", "discharge", "tripped"): "trips",
    ("protection board", "discharge", "empty"): "cuts the discharge",
    ("protection board", "charge", "full"): "stops the charge",
    ("adapter", "output", "pausing"): "stops and retries",
    ("adapter", "output", "overloaded"): "limits its current",
}
"""Events that stop a fault: kind, machine and state entered, and what to call it."""

READ_IN = ((states.MAINS_FULL, "with mains"), (states.CHARGING, "while charging"), (states.FULL, "on the pack"))
"""Where a meter is read, the easiest first."""


@dataclass(frozen=True)
class Judged:
    """A single fault, judged.

    Attributes
    ----------
    case : int
        Position in the batch.
    single : Single
        The fault.
    harm, told : Harm, Told
        Never less than those of the faultless build; as read.
    severity, cause : int, str
        As `tideover.answers.harms.severity` gives them.
    own : (int, str)
        The same of what the fault itself does: where it is less, the faultless build is what makes the severity.
    verdict : str
        What happens, in words that go on from "If the diode shorts, ".
    stopped, after : str, float
        What stops it, and how long after the fault; empty and NaN if nothing does. [s]
    heat : float
        Given off at the place of the fault until then, or until the march ends. [J]
    noticed : str
        By what somebody would notice, empty if by nothing.
    hidden : bool
        Nobody notices without measuring or testing while mains is present.
    """

    case: int
    single: Single
    harm: Harm
    told: Told
    severity: int
    cause: str
    verdict: str
    stopped: str
    after: float
    heat: float
    noticed: str
    hidden: bool
    own: tuple[int, str] = (NUISANCE, "")

    @property
    def rate(self) -> float:
        """How often, to an order of magnitude. [1/year]"""
        return self.single.rate

    @property
    def sentence(self) -> str:
        """The whole verdict: ``If the diode shorts, the adapter pushes the cells past 4.25 V within 4 min``."""
        return f"If {self.single.label}, {self.verdict}"


def judge(strikes: Strikes) -> tuple[Judged, tuple[Judged, ...]]:
    """The faultless build, and every single fault, gravest and likeliest first."""
    reader = Reader(strikes)
    base, told = reader.read(0)
    level, cause = severity(base)
    plain = Speaker(reader, base)
    none = Single(strikes.context.network.parts[-1], Fault("is as it should be", 0.0))
    said = plain.verdict(0, None, base, told, cause)
    healthy = Judged(0, none, base, told, level, cause, said, "", np.nan, 0.0, "", False)
    found = []
    for case, single in enumerate(strikes.struck.singles, start=1):
        own, told = reader.read(case)
        harm = own.worst(base)
        level, cause = severity(harm)
        stopped, after = plain.stops(case, told)
        noticed, obvious = plain.noticed(case, single, told, cause)
        hidden = not obvious and (level in (DEGRADED, LOST) or single.fault.guards)
        mine = severity(own)
        inherited = mine[0] < level
        cause = cause if inherited else mine[1]
        if inherited:
            verdict = f"it is as bad as without a fault: {healthy.verdict}"
        else:
            verdict = plain.verdict(case, single, harm, told, cause)
        if inherited:
            pass
        elif level >= DESTROYED and not stopped and not single.fault.inherent:
            verdict += ", and nothing stops it"
        elif level == FIRE and not single.fault.inherent:
            verdict += ", and nothing stops it in time"
        heat = reader.heat(case, after if stopped else np.inf)
        one = Judged(case, single, harm, told, level, cause, verdict, stopped, after, heat, noticed, hidden)
        found.append(replace(one, own=mine))
    order = sorted(found, key=lambda j: (-j.severity, j.single.fault.inherent, -j.rate, j.case))
    return healthy, tuple(order)


class Speaker:
    """Puts what was read into words."""

    def __init__(self, reader: Reader, base: Harm) -> None:
        self.reader, self.base = reader, base
        self.strikes, self.network = reader.strikes, reader.network
        self.kinds = {p.name: p.kind.name for p in self.network.parts}
        self.usual = {
            id(phase): {(e.part, e.machine, e.after) for e in phase.events(0)}
            for phase in (self.strikes.mains, self.strikes.pack)
            if phase is not None
        }

    # --- what happens --------------------------------------------------------------------------------------

    def verdict(self, case: int, single: Single | None, harm: Harm, told: Told, cause: str) -> str:
        """What happens, for the cause that makes the severity."""
        mine = getattr(self, "_" + cause.replace(" ", "_").replace("-", "_"), None)
        if cause and mine is not None:
            return str(mine(single, told))
        if single is not None and single.fault.guards:
            return "nothing happens until something else goes wrong"
        return "hardly anything changes"

    def _pusher(self, single: Single | None, told: Told) -> str:
        """Who overcharges the cells."""
        if single is not None and single.part.kind.name == "charger" and "hold" in single.fault.words:
            return single.part.name
        adapters = states.of_kind(self.network, "adapter")
        return adapters[0].name if adapters and told.phase == "mains" else "the circuit"

    def _pushes(self, single: Single | None, told: Told) -> str:
        if np.isnan(told.past_charge_limit):
            within = ""
        else:
            within = f" within {show(max(told.past_charge_limit, 1.0), 's')}{', at its pace' if told.paced else ''}"
        who = self._pusher(single, told)
        return f"{who} pushes the cells past {show(told.charge_limit, 'V')}{within}, up to {show(told.cell_high, 'V')}"

    def _fire(self, single: Single | None, told: Told) -> str:
        if single is not None and single.fault.burns:
            return "that cell heats itself and may set its neighbours alight, whatever the circuit does"
        if told.cell_hot > limits.CELL_RUNS_AWAY.value:
            flow = f"{show(told.current, 'A')} flow and " if told.current > 1.0 else ""
            return f"{flow}the cells get {self._hot(told.cell_hot)}"
        return f"{self._pushes(single, told)}: fire is to be expected"

    @staticmethod
    def _hot(temp: float) -> str:
        return f"more than {show(TOLD_UP_TO, 'K')} hot" if temp > TOLD_UP_TO else f"{show(temp, 'K')} hot"

    def _burns(self, single: Single | None, told: Told) -> str:
        after = "" if np.isnan(told.burns_after) else f" after {show(told.burns_after, 's')}"
        return f"{told.hot_part} gets {self._hot(told.hot)}{after}"

    def _over_voltage(self, single: Single | None, told: Told) -> str:
        most, stated = load_limit(self.strikes)
        top = self.reader.mask.high
        bears = f"{show(most, 'V')} is the most it bears" if stated else f"its window ends at {show(top, 'V')}"
        return f"the load gets {show(told.load_high, 'V')}; {bears}"

    def _reversed(self, single: Single | None, told: Told) -> str:
        return f"the load gets {show(-told.load_low, 'V')} the wrong way round"

    def _over_charge(self, single: Single | None, told: Told) -> str:
        return self._pushes(single, told)

    def _charged_too_far(self, single: Single | None, told: Told) -> str:
        return self._pushes(single, told)

    def _over_discharge(self, single: Single | None, told: Told) -> str:
        return f"a run on the pack ends too late: a cell falls to {_meter(max(told.cell_low, 0.0))}"

    def _discharged_too_far(self, single: Single | None, told: Told) -> str:
        return self._over_discharge(single, told)

    def _dark(self, single: Single | None, told: Told) -> str:
        if told.dark_after < SOON:
            return "the load goes dark at once"
        alone = "the pack carries the load alone, and " if self.reader.packs else ""
        return f"{alone}the load goes dark after {show(told.dark_after, 's')}"

    def _no_backup(self, single: Single | None, told: Told) -> str:
        return f"the load goes dark when mains {'returns' if told.dark_when == 'return' else 'is lost'}"

    def _peaks(self, single: Single | None, told: Told) -> str:
        return f"the load drops out at its peaks {'with mains present' if told.dark_peak == 'mains' else 'on the pack'}"

    def _never_charges(self, single: Single | None, told: Told) -> str:
        return "the pack is not charged again after an outage"

    def _breaks_a_part(self, single: Single | None, told: Told) -> str:
        return f"{told.broken} gets {show(told.broken_volts, 'V')}, more than it is rated for"

    def _overheats_a_part(self, single: Single | None, told: Told) -> str:
        return f"{told.hot_part} gets {self._hot(told.hot)}, more than it is rated for"

    def _above_its_window(self, single: Single | None, told: Told) -> str:
        return f"the load gets {show(told.load_high, 'V')}, above its window"

    def _hot_cells(self, single: Single | None, told: Told) -> str:
        return f"the cells get {self._hot(told.cell_hot)}"

    def _shorter_run(self, single: Single | None, told: Told) -> str:
        if told.charged_less > limits.RUNTIME_LOST.value:
            return f"the pack is charged to {100 * (1 - told.charged_less):.0f} % of what it used to be"
        was = self.healthy_runtime
        return f"the run on the pack shrinks from {show(was, 's')} to {show(told.runtime, 's')}"

    def _drains(self, single: Single | None, told: Told) -> str:
        return f"switched off, the pack is empty after {show(told.idle, 's')}"

    @property
    def healthy_runtime(self) -> float:
        pack = self.strikes.pack
        return np.nan if pack is None else self.reader._dark_at(pack, 0, 0.0, np.inf)

    # --- what stops it -------------------------------------------------------------------------------------

    def stops(self, case: int, told: Told) -> tuple[str, float]:
        """The first protective parts that act in the fault and not without it, and when the first does. [s]

        What an adapter does to its own output stops neither a short whose current it cannot be the source of nor cells
        that are hot from their own discharge.
        """
        if self.strikes.struck.singles[case - 1].fault.inherent:
            return "", np.nan
        for phase in (self.strikes.mains, self.strikes.pack):
            if phase is None:
                continue
            acted = [e for e in self._acted(phase, case) if not self._beside_it(e, told)]
            if acted:
                said = [f"{e.part} {self._does(e)}" for e in acted[:2]]
                return ", ".join(said), acted[0].t
        return "", np.nan

    def _beside_it(self, e: Event, told: Told) -> bool:
        if self.kinds[e.part] != "adapter":
            return False
        most = 1.5 * written(self.strikes.context.network, (e.part, "current_limit"))
        return bool(told.current > most or told.cell_hot > limits.CELL_RUNS_AWAY.value)

    def _does(self, e: Event) -> str:
        return PROTECTIVE.get((self.kinds[e.part], e.machine, e.after), "")

    def _acted(self, phase: Phase, case: int) -> list[Event]:
        single = self.strikes.struck.singles[case - 1]
        first: dict[str, Event] = {}
        for e in phase.events(case):
            if e.t >= phase.loss or (e.part, e.machine, e.after) in self.usual[id(phase)]:
                continue
            if e.part == single.part.name or (e.after == "empty" and e.t > limits.AT_ONCE.value):
                continue  # the end of an ordinary run stops no fault
            if self._does(e) and e.part not in first:
                passing = e.after == "overloaded"
                later = any(x.part == e.part and x.after == "pausing" for x in phase.events(case))
                if passing and (later or self._recovers(phase, case, e)):
                    continue
                first[e.part] = e
        return sorted(first.values(), key=lambda e: e.t)

    @staticmethod
    def _recovers(phase: Phase, case: int, e: Event) -> bool:
        return any(x.part == e.part and x.before == e.after and x.t >= e.t for x in phase.events(case))

    # --- who notices ---------------------------------------------------------------------------------------

    def noticed(self, case: int, single: Single, told: Told, cause: str) -> tuple[str, bool]:
        """By what somebody would notice; and whether that needs no meter and no test."""
        if cause in ("fire", "burns", "over-voltage", "reversed"):
            return "the damage", True
        if single.part.kind.name == "load":
            return "the load itself", True
        if told.dark_when == "mains":
            return ("the load stops" if told.dark_after < SOON else "the load stops when the pack is empty"), True
        if told.dark_peak == "mains":
            return "the load stops at its peaks", True
        mains = self.strikes.mains
        if mains is not None and mains.hunts[case] and not mains.hunts[0]:
            busy = Counter(e.part for e in mains.events(case) if self.kinds.get(e.part) in ("adapter", "charger"))
            if busy:
                part = busy.most_common(1)[0][0]
                return f"{part} starts and stops", self.kinds[part] == "adapter"
        for name, where in READ_IN:
            said = self._reading(case, name)
            if said:
                return f"{said} {where}", False
        if told.dark_when or told.dark_peak or self._shorter(told):
            return "a test run on the pack", False
        if cause in ("never charges", "shorter run"):
            return "a second test run on the pack", False
        return "", False

    def _shorter(self, told: Told) -> bool:
        return told.runtime < (1.0 - limits.RUNTIME_LOST.value) * self.healthy_runtime

    def _reading(self, case: int, name: str) -> str:
        """The node whose voltage differs most from the usual one, if a hand-held meter shows it."""
        row = self.strikes.row(name)
        if row is None:
            return ""
        points = self.strikes.points
        best, said = 0.0, ""
        for node in range(1, len(self.network.nodes)):
            if self.network.nodes[node].endswith("tap"):
                continue
            v = points.v(node)[row]
            usual, now = float(v[0]), float(v[case])
            off = abs(now - usual)
            share = off / max(abs(usual), 1.0)
            enough = off > limits.NOTICED_LEAST.value and share > limits.NOTICED.value
            if enough and share > best:
                best, said = share, f"{self.network.nodes[node]} reads {_meter(now)}, not {_meter(usual)},"
        return said


def _meter(volts: float) -> str:
    """A voltage as a hand-held meter shows it."""
    return show(round(volts, 2) + 0.0, "V")


def chance(rate: float) -> str:
    """A rate in words. [1/year]

    Examples
    --------
    >>> chance(0.05), chance(1e-3), chance(2e-5), chance(1e-8)
    ('likely', 'possible', 'rare', 'remote')
    """
    steps = ((limits.LIKELY, "likely"), (limits.POSSIBLE, "possible"), (limits.RARE, "rare"))
    return next((word for rule, word in steps if rate >= rule.value), "remote")


def hidden_chance(found: tuple[Judged, ...]) -> float:
    """Chance that a fault which nobody notices has already taken the backup, tested at the usual interval. [-]"""
    years = limits.INSPECTION.value / (365.25 * 86400.0)
    return 0.5 * years * sum(j.rate for j in found if j.hidden and j.severity == LOST)


def losses(found: tuple[Judged, ...]) -> float:
    """How often a single fault puts the load out, or its backup. [1/year]"""
    return sum(j.rate for j in found if j.severity == LOST)


def group_energy(strikes: Strikes) -> float:
    """Energy of one group of cells at its label. [J]"""
    network = strikes.context.network
    packs = states.of_kind(network, "pack")
    names = ("capacity", "parallel", "nominal_voltage")
    return max((float(np.prod([written(network, (p.name, n)) for n in names])) for p in packs), default=0.0)
