"""What ends a run on the pack, and how far every other limit still is at that moment."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers.blame import CONVERTERS
from tideover.answers.rides import events
from tideover.answers.runs import RECENT, Runs, steady_end
from tideover.cases import written
from tideover.solve import along, readings

Array = NDArray[np.float64]
SLOPE = 0.03
"""Share of the run from which a limit's approach is extrapolated."""
EVENTS = {
    ("protection board", "empty"): "cut-off of {}",
    ("protection board", "tripped"): "overcurrent trip of {}",
    ("fuse", "blown"): "{} blows",
    ("load", "reset"): "{} resets",
    **{(kind, "locked out"): "lockout of {}" for kind in CONVERTERS},
    **{(kind, "cut off"): "light-load cut-off of {}" for kind in CONVERTERS},
}


@dataclass(frozen=True)
class Stopper:
    """A limit at the end of a run.

    Attributes
    ----------
    name : str
        ``cut-off of board``.
    part : str
        Whose it is.
    value, limit : float
        Where the quantity stood just before the end, and where the limit is. [unit]
    left : float
        How long until it would act by itself, at the pace of the last part of the run; 0 for the one that acted,
        infinite for one that does not come nearer. [s]
    acted : bool
        Whether it ended the run.
    """

    name: str
    part: str
    quantity: str
    value: float
    limit: float
    unit: str
    left: float
    acted: bool

    @property
    def switches(self) -> bool:
        """Whether something ends a run there; the lowest voltage of the cells only says that something should."""
        return not self.name.startswith("lowest voltage")


def stoppers(runs: Runs, case: int) -> tuple[Stopper, ...]:
    """The limit that ended a run first, then the others, the nearest first."""
    assert runs.waves is not None
    position = int(runs.positions[case])
    t, system, inside = along(runs.waves, position)
    network = runs.network
    kinds = {p.name: p.kind.name for p in network.parts}
    late = [e for e in events(runs.waves, position) if e.t >= t[-1] - RECENT]
    acted = next((e for e in late if (kinds[e.part], e.after) in EVENTS), None)
    before = np.arange(steady_end(runs, case) + 1)
    some = inside.take(before)
    read = readings(system, some)
    v = runs.waves.case(position).v[before]
    time = t[before]
    found: list[tuple[str, str, str, Array, float, str]] = [
        ("window of the load", network.need.at, "voltage at the load", v[:, network.at], network.need.window[0], "V")
    ]
    for p in network.parts:
        kind, node = p.kind.name, dict(zip(p.kind.terminals, p.nodes))
        if kind == "protection board":
            low = read.quantity[p.name, "lowest group [V]"]
            found.append(
                (f"cut-off of {p.name}", p.name, "lowest group", low, _value(runs, case, p.name, "cut_off"), "V")
            )
        elif kind in CONVERTERS:
            across = v[:, node["input"]] - v[:, node["minus"]]
            lockout = _value(runs, case, p.name, "lockout_off")
            if lockout > 0.0:
                found.append((f"lockout of {p.name}", p.name, "its input", across, lockout, "V"))
            reach = read.quantity[p.name, "reach [A]"] - read.quantity[p.name, "output current [A]"]
            found.append((f"limit of {p.name}", p.name, "output current to spare", reach, 0.0, "A"))
        elif kind == "pack":
            low = read.quantity[p.name, "weak group [V]"]
            lowest = _value(runs, case, p.name, "lowest_voltage")
            found.append((f"lowest voltage of the cells of {p.name}", p.name, "weakest group", low, lowest, "V"))
    name = EVENTS[kinds[acted.part], acted.after].format(acted.part) if acted else _unswitched(found)
    if runs.outcome(case) == 0:
        name = ""
    out = [_stopper(f, time, f[0] == name) for f in found]
    if name and not any(s.acted for s in out):
        part = acted.part if acted else ""
        out.append(Stopper(name, part, "", float("nan"), float("nan"), "", 0.0, True))
    return tuple(sorted(out, key=lambda s: (not s.acted, s.left)))


def _unswitched(found: list[tuple[str, str, str, Array, float, str]]) -> str:
    """No part switched: the converter has nothing to spare, or the voltage itself has sunk."""
    spare = [f for f in found if f[0].startswith("limit of") and f[3][-1] < 0.03]
    return spare[0][0] if spare else found[0][0]


def _stopper(f: tuple[str, str, str, Array, float, str], time: Array, acted: bool) -> Stopper:
    name, part, quantity, y, limit, unit = f
    if acted:
        return Stopper(name, part, quantity, float(y[-1]), limit, unit, 0.0, True)
    k = int(np.searchsorted(time, (1.0 - SLOPE) * time[-1]))
    k = min(k, len(time) - 2) if len(time) > 1 else 0
    span = time[-1] - time[k]
    pace = (y[k] - y[-1]) / span if span > 0.0 else 0.0
    left = (y[-1] - limit) / pace if pace > 1e-12 else np.inf
    if y[-1] < limit:
        left = -1.0
    return Stopper(name, part, quantity, float(y[-1]), limit, unit, float(left), False)


def _value(runs: Runs, case: int, part: str, name: str) -> float:
    values = runs.batch.values.get((part, name))
    return written(runs.network, (part, name)) if values is None else float(values[case])
