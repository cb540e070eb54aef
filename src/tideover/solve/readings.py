"""Currents, losses and named quantities of every part, at a standing point or along a march."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tideover.solve.record import Waves
from tideover.solve.rest import Inside
from tideover.solve.system import Array, System


@dataclass(frozen=True)
class Readings:
    """What could be measured, for each case or each point in time.

    Attributes
    ----------
    quantity : dict
        ``(part, "name [unit]")`` to an array, shape (cases,): the current into each terminal, ``plus [A]``, and what
        its kind shows, such as ``coil current [A]``, ``temperature [K]``.
    state : dict
        ``(part, state name)`` to an array, shape (cases,).
    machine : dict
        ``(part, machine)`` to the name of its discrete state in each case, a tuple.
    heat, supplied, delivered : dict
        part to an array, shape (cases,). [W]
    """

    quantity: dict[tuple[str, str], Array]
    state: dict[tuple[str, str], Array]
    machine: dict[tuple[str, str], tuple[str, ...]]
    heat: dict[str, Array]
    supplied: dict[str, Array]
    delivered: dict[str, Array]

    def take(self, cases: slice) -> Readings:
        """Some of the cases, side by side; arrays are views."""
        parted = ({key: value[cases] for key, value in table.items()} for table in vars(self).values())
        return Readings(*parted)


def readings(system: System, inside: Inside) -> Readings:
    """Read everything at the points in `inside`, whose last axis is the case.

    Parameters
    ----------
    system : System
        The network; its cases must be those of `inside`. [-]
    inside : Inside
        From `rest` or from `along`. [-]

    Returns
    -------
    readings : Readings
        By part and name. [-]
    """
    out = Readings({}, {}, {}, {}, {}, {})
    count = inside.V.shape[1]
    for g in system.groups:
        p = g.program
        at = (inside.V, inside.X, inside.M, inside.S)
        shown = g.call("shown", *at)
        powers = g.call("ledger", *at)
        for k, member in enumerate(g.members):
            name = system.network.parts[member].name
            for key, value in zip(p.shown_names, shown):
                out.quantity[name, key] = _one(value, k, g.n, count)
            for into, value in zip((out.supplied, out.heat, out.delivered), powers):
                into[name] = _one(value, k, g.n, count)
            for j, state in enumerate(p.states):
                out.state[name, state] = inside.X[g.x0 + j * g.n + k]
            for j, m in enumerate(g.kind.machines):
                out.machine[name, m.name] = tuple(m.states[c] for c in inside.M[g.m0 + j * g.n + k])
    return out


def _one(value: object, k: int, n: int, count: int) -> Array:
    if isinstance(value, np.ndarray) and value.shape == (n, count) and value.dtype == np.float64:
        return value[k].copy()  # the usual form; the general one costs ten times as much
    return np.array(np.broadcast_to(np.asarray(value, dtype=float), (n, count))[k])


def along(waves: Waves, case: int) -> tuple[Array, System, Inside]:
    """Times of one case of a march, and what `readings` needs to read every point of it.

    Parameters
    ----------
    waves : Waves
        A march that kept everything. [-]
    case : int
        Which case. [-]

    Returns
    -------
    t : array, shape (points,)
        Times. [s]
    system : System
        The network with that case's parameters. [-]
    inside : Inside
        Its points, the last axis in order of time. [-]
    """
    wave = waves.case(case)
    if wave.inside is None:
        raise ValueError("This march kept only some voltages; march again with keep=None to read everything.")
    alone = waves.system.take(np.array([case]))
    return wave.t, alone, Inside(*wave.inside)
