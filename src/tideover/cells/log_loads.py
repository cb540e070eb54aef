"""Current that no column has: a stated current, resistor or power; and columns that hold one direction each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tideover.cells import log_faults as say
from tideover.cells import log_signs
from tideover.cells.log import Array
from tideover.cells.log_direction import Directed
from tideover.cells.log_sidecar import ReadAs
from tideover.design.messages import Fault
from tideover.quantity import show

LET_GO = 0.01
"""Share of the voltage by which it must jump at once for the load to have been switched; noise stays far below."""
FIRST, LAST = 0.2, 0.6
"""The load is switched on within the first fifth of the rows, and off in the last two fifths: engineering judgement."""


@dataclass(frozen=True)
class Load:
    """A current made from what was stated."""

    i: Array
    notes: tuple[str, ...] = ()
    fault: Fault | None = None


def stated(name: str, t: Array, v: Array, said: ReadAs, breaks: tuple[int, ...]) -> Load:
    """Current of a stated load; none before it is switched on and after it is switched off.

    Parameters
    ----------
    name : str
        Of the file. [-]
    t, v : array, shape (n,)
        Time and voltage. [s], [V]
    said : ReadAs
        With one of `current`, `resistor` and `power`. [-]
    breaks : tuple of int
        Rows that begin anew. [-]
    """
    if said.current is not None:
        i = np.full(len(v), said.current)
        what = f"a constant {'discharge' if said.current > 0 else 'charge'} of {show(abs(said.current), 'A')}"
    elif said.resistor is not None:
        i = v / said.resistor
        what = f"a load of {show(said.resistor, 'ohm')}"
    else:
        power = said.power or 0.0
        i = power / np.where(np.abs(v) > 0.05, v, np.inf)
        what = f"a constant power of {show(power, 'W')}"
    notes = [f"The current was not recorded; {what} was stated."]
    sign = -1.0 if said.current is not None and said.current < 0 else 1.0
    on, off = _switched(v * sign)
    i = i.copy()
    if on:
        i[:on] = 0.0
        notes.append(f"The voltage steps {'down' if sign > 0 else 'up'} at {t[on]:.6g} s: no current is taken before.")
    if off < len(v):
        i[off:] = 0.0
        notes.append(
            f"The voltage steps {'up' if sign > 0 else 'down'} at {t[off]:.6g} s: no current is taken from there on."
        )
    seen = log_signs.look(t[on:off], v[on:off], i[on:off] if said.current is not None else np.full(off - on, 1.0), ())
    if said.current is not None and seen.sign < 0:
        way = "rises" if sign > 0 else "falls"
        kind = "discharge" if sign > 0 else "charge"
        mend = f"State --current {show(-said.current, 'A')} if it is a {'charge' if sign > 0 else 'discharge'}."
        return Load(i, (), say.sign_against(name, f"the voltage {way} under the stated {kind}", mend))
    if said.current is None and seen.sign < 0:
        mend = "Cut the charge part off in a copy, or state the current: --current"
        return Load(i, (), say.sign_against(name, "the voltage rises although a load was stated", mend))
    return Load(i, tuple(notes))


def _switched(v: Array) -> tuple[int, int]:
    """First row under load and first row after it; `v` falls under load."""
    dv = np.diff(v)
    if len(dv) < 4:
        return 0, len(v)
    usual = float(np.median(np.abs(dv)))
    least = LET_GO * float(np.median(np.abs(v)))
    limit = max(least, 3.0 * usual)  # with rows far apart the discharge itself moves it, too
    on, off = 0, len(v)
    early = np.flatnonzero(dv[: max(int(FIRST * len(dv)), 1)] < -limit)
    if len(early):
        k = int(early[0]) + 1
        if float(np.ptp(v[:k])) < limit:
            on = k
    limit = max(least, 1.5 * usual)  # upwards, it moves by itself only through noise
    late = np.flatnonzero(dv > limit)
    late = late[late >= LAST * len(dv)]
    if len(late):
        k = int(late[0]) + 1
        if float(v[k:].min()) > float(v[k - 1]) + 0.5 * limit:
            off = k
    return on, off


def one_way(name: str, t: Array, v: Array, out: Array | None, into: Array | None, breaks: tuple[int, ...]) -> Directed:
    """Current from columns that say discharge and charge; the voltage must not contradict them."""
    i = np.zeros(len(t))
    for x, sign in ((out, 1.0), (into, -1.0)):
        if x is None:
            continue
        known = np.nan_to_num(x)
        if not log_signs.one_sided(known):
            word = "discharge" if sign > 0 else "charge"
            return Directed(i, (), say.sign_open(name, f"the column of {word} current has both signs"))
        i += sign * np.abs(known)
    said = "and".join(w for w, x in ((" discharge ", out), (" charge ", into)) if x is not None).strip()
    seen = log_signs.look(t, v, i, breaks)
    if seen.sign < 0:
        why = f"the column says {said}, but with discharge positive {seen.why}"
        return Directed(i, (), say.sign_open(name, why))
    return Directed(i, (f"The current is positive on discharge by the name of its column ({said}).",))
