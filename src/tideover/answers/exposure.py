"""What a pack's cells meet: recharges, float and runs in the coldest, a usual and the warmest room, group by group."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.context import Context
from tideover.answers.limits import COLD_CHARGE
from tideover.answers.packs import board_of, charger_of
from tideover.answers.refills import Refills, refill
from tideover.answers.runs import AMBIENT, AT_ONCE, Runs, label_energy, plain, run
from tideover.answers.soaks import soak
from tideover.answers.states import Setting
from tideover.answers.stoppers import stoppers
from tideover.answers.windows import Window
from tideover.cases import written
from tideover.laws.constants import TEMP_25
from tideover.network import Network, Placed
from tideover.quantity import Quantity
from tideover.solve import along, readings

Array = NDArray[np.float64]
Key = tuple[str, str]
COLD, USUAL, WARM = range(3)
ROOMS = ("coldest room", "room at 25 °C", "warmest room")
HIGH, JOINED = 3, 4
REFILLS = (*ROOMS, "charger at its highest", "groups joined when empty, charger at its highest")
LOW = 3
RUNS = (*ROOMS, "thresholds at their lowest")
FLOWS = 0.02
"""Share of its set current above which a charger counts as charging."""
LONGEST = 10.0 * 86400.0
"""A recharge is watched no longer. [s]"""
ENERGY, YEARLONG = 3.0, 400.0 * 86400.0
"""A load left on is watched for so many times what the label's energy feeds it, but no longer. [-] [s]"""
THRESHOLDS = ("cut_off", "cut_off_release", "lockout_off", "lockout_on")
"""What ends a run; releases move with it, so that neither passes the other."""
SET = ("hold_voltage", "float_voltage", "restart_voltage", "charge_current")


@dataclass(frozen=True)
class Charged:
    """Recharges of one pack, shape (len(REFILLS),) each; NaN where none could be marched, or where nothing flowed.

    Attributes
    ----------
    weak, mean : array
        Highest voltage of the weak group and of the mean one. [V]
    current : array
        Largest charge current of one cell, the mean of those side by side. [A]
    coldest, warmest : array
        Cell temperatures while current flowed. [K]
    cold_current : array
        Largest of `current` while the cells were colder than 10 °C. [A]
    begun : tuple of str
        From which charge: ``near cut-off``, ``half``, or nothing where there is no standing point at all.
    curve : tuple of two arrays
        Time and voltages of weak and mean group along the recharge in the usual room. [s] [V]
    """

    weak: Array
    mean: Array
    current: Array
    coldest: Array
    warmest: Array
    cold_current: Array
    begun: tuple[str, ...]
    curve: tuple[Array, Array, Array] | None


@dataclass(frozen=True)
class Emptied:
    """Runs of one pack, shape (len(RUNS),) each.

    Attributes
    ----------
    weak, mean : array
        Lowest voltages of the groups. [V]
    coldest, warmest : array
        Cell temperatures. [K]
    runtime, spared : array
        How long; how much of it the weak group spends below its voltage in use. [s]
    pack_then : array
        Voltage of the whole pack when the weak group gets there; NaN if it does not. [V]
    ended_by : tuple of str
        What ended each, in words; empty where nothing did.
    """

    weak: Array
    mean: Array
    coldest: Array
    warmest: Array
    runtime: Array
    spared: Array
    pack_then: Array
    ended_by: tuple[str, ...]


@dataclass(frozen=True)
class Floated:
    """Mains present, pack full, everything warm; shape (3,) for the three rooms, NaN without such a state."""

    temp: Array
    weak: Array
    mean: Array


def rooms(network: Network) -> list[tuple[str, dict[Key, float]]]:
    """The three rooms."""
    low, high = network.need.ambient
    return [(name, {AMBIENT: t}) for name, t in zip(ROOMS, (low, TEMP_25, high))]


def floats(context: Context, packs: tuple[Placed, ...]) -> dict[str, Floated]:
    """Every pack, floated in the three rooms."""
    full = [Setting(s) for s in context.states if s.name == states.MAINS_FULL]
    none = np.full(3, np.nan)
    if not full or not states.of_kind(context.network, "charger"):
        return {p.name: Floated(none, none, none) for p in packs}
    warm = soak(context.network, plain(context.network, rooms(context.network)), full)
    return {
        p.name: Floated(*(warm.q(p.name, q)[0] for q in ("temperature [K]", "weak group [V]", "mean group [V]")))
        for p in packs
    }


def recharges(context: Context, packs: tuple[Placed, ...]) -> tuple[Refills, Refills]:
    """From near cut-off, and from half for what has no standing point there."""
    network = context.network
    usual = {AMBIENT: TEMP_25, **_set_high(network)}
    batch = plain(network, [*rooms(network), *((name, usual) for name in REFILLS[HIGH:])])
    longest = max((_longest(network, p) for p in packs), default=LONGEST)
    found = []
    for share in (None, 0.5):
        charges: dict[Key, Array] = {}
        for p in packs:
            ends = states.charges(network, p, share)
            weak = ends[p.name, "weak_charge"]
            for key, value in ends.items():
                charges[key] = np.full(batch.count, value)
            charges[p.name, "charge"][JOINED] = weak
        found.append(refill(network, batch, charges, longest))
        if not (found[0].standing != 0).any():
            return found[0], found[0]
    return found[0], found[1]


def _longest(network: Network, pack: Placed) -> float:
    charger = charger_of(network, pack)
    if charger is None:
        return LONGEST
    charge = written(network, (pack.name, "capacity")) * written(network, (pack.name, "parallel"))
    return float(min(4.0 * charge / written(network, (charger.name, "charge_current")) + 86400.0, LONGEST))


def _set_high(network: Network) -> dict[Key, float]:
    out = {}
    for charger in states.of_kind(network, "charger"):
        for name in SET:
            value = charger.values[name]
            if isinstance(value, Quantity):
                out[charger.name, name] = value.high
    return out


def charged(both: tuple[Refills, Refills], pack: Placed, charger: Placed) -> Charged:
    """What one pack met in the recharges."""
    out = {name: np.full(len(REFILLS), np.nan) for name in ("weak", "mean", "i", "cold", "warm", "cold_i")}
    begun = []
    curve = None
    for k in range(len(REFILLS)):
        which = next((j for j, r in enumerate(both) if r.positions[k] >= 0), None)
        begun.append("" if which is None else ("near cut-off", "half")[which])
        if which is None:
            continue
        refills = both[which]
        assert refills.waves is not None
        t, system, inside = along(refills.waves, int(refills.positions[k]))
        q = readings(system, inside).quantity
        weak, mean, temp = (q[pack.name, n] for n in ("weak group [V]", "mean group [V]", "temperature [K]"))
        into = -q[pack.name, "discharge current [A]"] / written(refills.network, (pack.name, "parallel"))
        least = FLOWS * written(refills.network, (charger.name, "charge_current"))
        flows = q[charger.name, "charge current [A]"] > least
        out["weak"][k], out["mean"][k] = weak.max(), mean.max()
        if k == USUAL:
            curve = (t, weak, mean)
        if not flows.any():
            continue
        out["i"][k], out["cold"][k], out["warm"][k] = into[flows].max(), temp[flows].min(), temp[flows].max()
        chilled = flows & (temp < COLD_CHARGE.value)
        out["cold_i"][k] = into[chilled].max() if chilled.any() else 0.0
    return Charged(out["weak"], out["mean"], out["i"], out["cold"], out["warm"], out["cold_i"], tuple(begun), curve)


def discharges(context: Context) -> Runs:
    """Runs in the three rooms, and one with every threshold that ends a run at its lowest."""
    network = context.network
    low: dict[Key, float] = {AMBIENT: TEMP_25}
    for part in network.parts:
        for name in THRESHOLDS:
            value = part.values.get(name)
            if isinstance(value, Quantity):
                low[part.name, name] = value.low
    return run(network, plain(network, [*rooms(network), (RUNS[LOW], low)]))


def left_on(context: Context, packs: tuple[Placed, ...]) -> dict[str, float]:
    """Lowest voltage of a group where the load is left on after it has dropped out, in a room at 25 °C. [V]

    Only packs that no board watches: the others are told by its cut-off. Empty where there is no load, or no run.
    """
    network = context.network
    bare = [p for p in packs if board_of(network, p) is None]
    power = sum(written(network, (p.name, "power")) for p in context.loads)
    if not bare or power <= 0.0:
        return {}
    label = sum(label_energy(network, p) for p in packs)
    runs = run(network, plain(network, [rooms(network)[USUAL]]), limit=min(ENERGY * label / power, YEARLONG), on=True)
    if runs.outcome(0) < 0:
        return {}
    assert runs.waves is not None
    _, system, inside = along(runs.waves, int(runs.positions[0]))
    q = readings(system, inside).quantity
    return {p.name: float(min(q[p.name, f"{g} group [V]"].min() for g in ("weak", "mean"))) for p in bare}


def emptied(runs: Runs, pack: Placed, window: Window) -> Emptied:
    """What one pack met in the runs."""
    names = ("weak", "mean", "cold", "warm", "spared", "then")
    out = {name: np.full(len(RUNS), np.nan) for name in names}
    ended = []
    for k in range(len(RUNS)):
        if runs.outcome(k) < 0 or runs.runtime[k] < AT_ONCE:
            ended.append("")
            continue
        assert runs.waves is not None
        t, system, inside = along(runs.waves, int(runs.positions[k]))
        q = readings(system, inside).quantity
        weak, mean, temp = (q[pack.name, n] for n in ("weak group [V]", "mean group [V]", "temperature [K]"))
        out["weak"][k], out["mean"][k], out["cold"][k], out["warm"][k] = weak.min(), mean.min(), temp.min(), temp.max()
        below = np.flatnonzero(weak < window.in_use)
        first = int(below[0]) if len(below) else len(t) - 1
        out["spared"][k] = t[-1] - t[first]
        if len(below):
            out["then"][k] = (mean * (window.units - 1.0) + weak)[first]
        stops = stoppers(runs, k)
        ended.append(stops[0].name if stops and stops[0].acted else "")
    return Emptied(
        out["weak"], out["mean"], out["cold"], out["warm"], runs.runtime, out["spared"], out["then"], tuple(ended)
    )


def peak_current(context: Context, pack: Placed) -> tuple[float, str]:
    """Largest current that one cell of a pack gives on average of those beside it, and in which state. [A]"""
    points = context.nominal
    amps = points.q(pack.name, "discharge current [A]")[:, 0] / written(context.network, (pack.name, "parallel"))
    on_pack = [k for k, s in enumerate(points.settings) if s.standing.on_pack and np.isfinite(amps[k])]
    if not on_pack:
        return float("nan"), ""
    k = max(on_pack, key=lambda j: float(amps[j]))
    return float(amps[k]), points.settings[k].label


def headroom(context: Context, charger: Placed) -> float:
    """Highest voltage that a charger's input leaves it, the pack full; infinite if that stands in nothing's way. [V]"""
    kind = charger.kind.parameter("type").choices[int(written(context.network, (charger.name, "type")))]
    full = [s for s in context.states if s.name == states.MAINS_FULL]
    if kind == "boost" or not full:
        return float("inf")
    node = dict(zip(charger.kind.terminals, charger.nodes))
    points = context.nominal
    row = context.row(Setting(full[0]))
    v = points.v(node["input"])[row, 0] - (points.v(node["minus"])[row, 0] if node["minus"] else 0.0)
    return float(v - written(context.network, (charger.name, "dropout"))) if np.isfinite(v) else float("inf")
