"""One recharge, read: how long it takes, how it ends, and what the pack then lives at."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.limits import FULL_AGAIN
from tideover.answers.packs import charger_of, figure, full_charge
from tideover.answers.refills import Refills, retrying
from tideover.network import Placed
from tideover.solve import OUTCOMES, along, readings

Array = NDArray[np.float64]
Key = tuple[str, str]

ENDS, FLOATS, HANGS = "ends", "floats", "hangs"
SHORT, SINKS, IDLE = "stays short", "sinks", "idle"
GIVES_UP, NO_POINT, FAILED = "adapter gives up", "no standing point", "could not be judged"
"""How a recharge ends: the charger ends it; stands at its hold voltage for ever because it is made so, or because the
load takes its last current; never reaches that voltage; the pack gives charge; the charger is off; the adapter stops
and retries; there is nothing to stand on; our search failed."""
AT_HOLD = 0.985
"""Share of the hold voltage from which a charger counts as holding it; the charger's own logic counts from the same."""
LOST = 0.005
"""Charge a pack must lose, mains being present, before it counts as sinking. [-]"""
SHARES = (0.8, 0.9)
"""Of a full charge whose times are told. [-]"""


@dataclass(frozen=True)
class Recharge:
    """One recharge.

    Attributes
    ----------
    label : str
        Where it begins and in which condition.
    load : bool
        Whether the load is attached.
    how : str
        How it ends, one of those above.
    start, end, full : float
        Charge at the start, at the end, and as full as its charger makes it. [-]
    shares : tuple of float
        When each of `SHARES` of a full charge is reached; infinite where never. [s]
    full_at : float
        When it is full again: the charger ends, or, where it never does, `FULL_AGAIN` of a full charge. [s]
    volts : float
        Of one cell at the end, terminals of the pack. [V]
    output, current, into : float
        Charger's output voltage and current, and current into the pack, at the end. [V] [A]
    cold, warm : float
        Lowest and highest cell temperature while current flows in. [K]
    window : tuple of float
        Temperatures between which the cells may be charged. [K]
    until : float
        When the march ended. [s]
    loop : str
        What switches to and fro where there is no standing point; the adapter that gives up.
    blocked : str
        Protection board that has cut the charge off, if one has.
    figures : str
        Which are off nominal.
    """

    label: str
    load: bool
    how: str
    start: float
    end: float
    full: float
    shares: tuple[float, ...]
    full_at: float
    volts: float = float("nan")
    output: float = float("nan")
    current: float = float("nan")
    into: float = float("nan")
    cold: float = float("nan")
    warm: float = float("nan")
    window: tuple[float, float] = (0.0, np.inf)
    until: float = 0.0
    loop: str = ""
    blocked: str = ""
    figures: str = ""

    @property
    def ever_full(self) -> bool:
        """Whether it is full at some time."""
        return bool(np.isfinite(self.full_at))


def charge_between(t: Array, charge: Array, at: float) -> float:
    """Charge at an instant of a recharge; its last after the end. [-]"""
    return float(np.interp(at, t, charge))


def curve_of(refills: Refills, case: int, pack: Placed, what: str = "charge") -> tuple[Array, Array]:
    """Time and a state of the pack along one recharge. [s] [-]"""
    assert refills.waves is not None
    t, system, inside = along(refills.waves, int(refills.positions[case]))
    return t, readings(system, inside).state[pack.name, what]


def full_times(refills: Refills, pack: Placed) -> Array:
    """When every case is full again, shape (cases,); infinite where never. [s]"""
    full = full_charge(refills.network, pack, refills.batch)
    out = refills.ended_at.copy()
    for case in np.flatnonzero(np.isinf(out) & (refills.positions >= 0) & np.isinf(refills.gave_up_at)):
        out[case] = _reached(*curve_of(refills, int(case), pack), FULL_AGAIN.value * full[case])
    return out


def _reached(t: Array, charge: Array, level: float) -> float:
    """First time at a level; infinite where never."""
    over = np.flatnonzero(charge >= level)
    if not len(over):
        return float("inf")
    k = int(over[0])
    if k == 0:
        return 0.0
    return float(np.interp(level, charge[k - 1 : k + 1], t[k - 1 : k + 1]))


def read(refills: Refills, case: int, pack: Placed, label: str, load: bool, figures: str = "") -> Recharge:
    """Everything that is told about one recharge."""
    network, batch = refills.network, refills.batch
    full = float(full_charge(network, pack, batch)[case])
    how = _how(refills, case, pack)
    if refills.positions[case] < 0:
        start = float(refills.charges[pack.name, "charge"][case])
        never = (np.inf,) * len(SHARES)
        loop = _quitter(refills, case) if how == GIVES_UP else ", ".join(refills.loops.get(case, ()))
        return Recharge(label, load, how, start, start, full, never, np.inf, loop=loop, figures=figures)
    charger = charger_of(network, pack)
    assert charger is not None and refills.waves is not None
    t, system, inside = along(refills.waves, int(refills.positions[case]))
    r = readings(system, inside)
    charge = r.state[pack.name, "charge"]
    ended = float(refills.ended_at[case])
    giving = how in (GIVES_UP, FAILED)
    late = ended if np.isfinite(ended) else np.inf if giving else _reached(t, charge, FULL_AGAIN.value * full)
    flows = r.quantity[pack.name, "discharge current [A]"] < -1e-2
    warmth = r.quantity[pack.name, "temperature [K]"]
    some = flows if flows.any() else np.ones(len(t), dtype=bool)
    own = {n: float(figure(network, batch, (pack.name, n))[case]) for n in ("cells_per_unit", *_WINDOW)}
    return Recharge(
        label,
        load,
        how,
        float(charge[0]),
        float(charge[-1]),
        full,
        tuple(_reached(t, charge, share * full) for share in SHARES),
        late,
        volts=float(r.quantity[pack.name, "mean group [V]"][-1]) / own["cells_per_unit"],
        output=float(r.state[charger.name, "output"][-1]),
        current=float(r.quantity[charger.name, "charge current [A]"][-1]),
        into=-float(r.quantity[pack.name, "discharge current [A]"][-1]),
        cold=float(warmth[some].min()),
        warm=float(warmth[some].max()),
        window=(own["coldest_charge"], own["warmest_charge"]),
        until=float(t[-1]),
        loop=_quitter(refills, case) if how == GIVES_UP else "",
        blocked=_blocked(refills, case),
        figures=figures,
    )


_WINDOW = ("coldest_charge", "warmest_charge")


def _quitter(refills: Refills, case: int) -> str:
    """Adapter that stops and retries: by what switches to and fro, or by the state it ended in."""
    loop = " ".join(refills.loops.get(case, ()))
    last, k = refills.last, int(refills.positions[case])
    for adapter in retrying(refills.network):
        if adapter.name in loop or (k >= 0 and last and last[0].machine[adapter.name, "output"][k] == "pausing"):
            return adapter.name
    return ""


def _blocked(refills: Refills, case: int) -> str:
    assert refills.last is not None
    machine, k = refills.last[0].machine, int(refills.positions[case])
    boards = states.of_kind(refills.network, "protection board")
    return next((b.name for b in boards if machine[b.name, "charge"][k] == "full"), "")


def _how(refills: Refills, case: int, pack: Placed) -> str:
    network = refills.network
    charger = charger_of(network, pack)
    assert charger is not None
    if refills.positions[case] < 0:
        if _quitter(refills, case):
            return GIVES_UP
        return FAILED if OUTCOMES[int(refills.standing[case])] == "not converged" else NO_POINT
    if np.isfinite(refills.gave_up_at[case]):
        return GIVES_UP
    if refills.outcome(case) == 2:
        return FAILED
    if np.isfinite(refills.ended_at[case]):
        return ENDS
    assert refills.last is not None
    r, k = refills.last[0], int(refills.positions[case])
    if r.machine[charger.name, "phase"][k] == "off":
        return IDLE

    def its(key: str) -> float:
        return float(figure(network, refills.batch, (charger.name, key))[case])

    if r.state[charger.name, "output"][k] >= AT_HOLD * its("hold_voltage"):
        return HANGS if its("termination_fraction") > 0.0 else FLOATS
    _, charge = curve_of(refills, case, pack)
    return SINKS if charge[-1] < charge[0] - LOST else SHORT
