"""What holds a charger's current back, at every point of a recharge: the smallest of its own limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.context import choice
from tideover.answers.packs import figure
from tideover.answers.refills import Refills
from tideover.network import Placed
from tideover.solve import along, readings

Array = NDArray[np.float64]
SET, TAPER = "its set current", "its hold voltage"
AT_LIMIT = 0.95
"""Share of its limit from which an adapter counts as what holds a charger back: its limit is rounded above that."""
RUN_IN = 1.0
"""Switching on is no part of a recharge. [s]"""


@dataclass(frozen=True)
class Stretch:
    """All the time of a recharge in which one limit acts.

    Attributes
    ----------
    limit : str
        ``its hold voltage``, ``its dropout``, ``the current limit of brick``.
    t : float
        For how long. [s]
    current : float
        Mean charge current meanwhile. [A]
    low, high : float
        Charge of the pack from and to. [-]
    """

    limit: str
    t: float
    current: float
    low: float
    high: float


def stretches(refills: Refills, case: int, charger: Placed, pack: Placed, share: float = 1.0) -> tuple[Stretch, ...]:
    """Which limit acts and for how long, in order of its first action.

    Parameters
    ----------
    refills : Refills
        Recharges. [-]
    case : int
        One that was marched. [-]
    charger, pack : Placed
        Whose current, whose charge. [-]
    share : float
        Until this share of all the charge that ever comes has come; a trickle may last for ever. [-]
    """
    assert refills.waves is not None
    t, system, inside = along(refills.waves, int(refills.positions[case]))
    read = readings(system, inside)
    v = refills.waves.case(int(refills.positions[case])).v
    node = dict(zip(charger.kind.terminals, charger.nodes))
    v_in = v[:, node["input"]] - v[:, node["minus"]]
    name = charger.name

    def its(key: str) -> float:
        return float(figure(refills.network, refills.batch, (name, key))[case])

    out, phase = read.state[name, "output"], np.array(read.machine[name, "phase"])
    set_to, target = its("charge_current"), its("hold_voltage")
    trickle = (phase == "precharge") * its("precharge_fraction") + (phase != "precharge") * 1.0
    caps = {SET: trickle * set_to, TAPER: 300.0 * set_to / target * (target - out)}
    kind = choice(charger, "type")
    if limit := its("input_current_limit"):
        caps["its input current limit"] = np.full(len(t), limit) * (
            1.0 if kind == "linear" else its("efficiency") * v_in / np.maximum(out, 1.0)
        )
    if least := its("input_voltage_limit"):
        caps["its input voltage limit"] = (v_in - least) / 0.2 * set_to
    if kind == "linear":
        caps["its temperature"] = (its("foldback_temperature") - read.quantity[name, "temperature [K]"]) / 5.0 * set_to
    if kind != "boost":
        caps["its dropout"] = (v_in - out - its("dropout")) / its("pass_resistance")
    names = np.array(list(caps))
    acts = names[np.argmin(np.stack(list(caps.values())), axis=0)]
    for adapter in states.of_kind(refills.network, "adapter"):
        most = float(figure(refills.network, refills.batch, (adapter.name, "current_limit"))[case])
        full = read.quantity[adapter.name, "regulator current [A]"] >= AT_LIMIT * most
        acts = np.where(full & ~np.isin(acts, (SET, TAPER)), f"the current limit of {adapter.name}", acts)
    acts = np.where((phase == "precharge") & (acts == SET), "precharge", acts)
    acts = np.where(phase == "off", "off: its input is too low", acts)
    acts = np.where(phase == "full", TAPER, acts)
    charge = read.state[pack.name, "charge"]
    gained = np.flatnonzero(charge >= charge[0] + share * (charge[-1] - charge[0]))
    last = int(gained[0]) + 1 if share < 1.0 and len(gained) else len(t)
    return _summed(t[:last], acts[:last], read.quantity[name, "charge current [A]"][:last], charge[:last])


def _summed(t: Array, acts: NDArray[np.str_], current: Array, charge: Array) -> tuple[Stretch, ...]:
    """Steps booked to what acts at their end; what lasts no longer than switching on is left out."""
    dt, mean = np.diff(t), 0.5 * (current[1:] + current[:-1])
    found = []
    for limit in dict.fromkeys(acts[1:].tolist()):
        mine = acts[1:] == limit
        lasts = float(dt[mine].sum())
        if lasts > RUN_IN:
            both = np.concatenate([charge[:-1][mine], charge[1:][mine]])
            amps = float((dt * mean)[mine].sum()) / lasts
            found.append(Stretch(limit, lasts, amps, float(both.min()), float(both.max())))
    return tuple(found)


def held_share(found: tuple[Stretch, ...]) -> float:
    """Share of the time before the hold voltage in which something but the set current limits. [-]"""
    before = sum(s.t for s in found if s.limit != TAPER)
    return sum(s.t for s in found if s.limit not in (SET, TAPER)) / before if before > 0.0 else 0.0
