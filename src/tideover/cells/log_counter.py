"""The logger's own count of charge: which way it counts, where it began anew, whether it agrees with the current."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.cells.log import Array

ALIKE = 0.10
"""Relative difference up to which a count agrees with the current; loggers' shunts are worse than their voltages."""
SLIGHT = 0.02
"""Share of all charge moved below which a direction proves nothing."""
SKIPPED = 0.005
"""Share of all charge moved by which a count may run ahead of the current over one step, unless rows are missing."""


@dataclass(frozen=True)
class Count:
    """What a counter tells.

    Attributes
    ----------
    discharged : array, shape (n,), or None
        Charge taken out since the first row; None when the counter does not agree with the current. [C]
    holes : tuple of int
        Rows before which much more was counted than the current gives: rows are missing there. [-]
    notes : tuple of str
        What was found.
    """

    discharged: Array | None
    holes: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()


def current_charge(t: Array, i: Array) -> Array:
    """Charge taken out in every step, by the current. [C]"""
    return np.diff(t) * 0.5 * (i[1:] + i[:-1])


def steady(t: Array, i: Array) -> NDArray[np.bool_]:
    """Steps over which the current is known: it is nearly the same at both ends, and no rows are missing."""
    dt = np.diff(t)
    size = np.maximum(np.abs(i[1:]), np.abs(i[:-1]))
    usual = float(np.median(dt)) if len(dt) else 0.0
    return (np.abs(np.diff(i)) <= 0.2 * size) & (dt <= 20.0 * usual)


def increments(raw: Array) -> tuple[Array, int]:
    """Steps of a counter, and how often it began anew; a count that falls to near nothing did."""
    filled = _filled(raw)
    d = np.diff(filled)
    top = float(np.nanmax(np.abs(filled), initial=0.0))
    anew = (np.abs(filled[1:]) < 0.2 * np.abs(filled[:-1])) & (np.abs(d) > 0.05 * top)
    # A count that runs back to nothing on charge does so in many small steps, not in one.
    usual = float(np.percentile(np.abs(d), 90)) if len(d) else 0.0
    anew &= np.abs(d) > 5.0 * usual
    return np.where(anew, filled[1:], d), int(anew.sum())


def _filled(raw: Array) -> Array:
    known = np.isfinite(raw)
    rows = np.arange(len(raw))
    return np.interp(rows, rows[known], raw[known]) if known.any() else np.zeros(len(raw))


def ratios(d: Array, dq: Array, use: NDArray[np.bool_]) -> tuple[float | None, float | None]:
    """Counted over computed charge, on discharge and on charge; None where too little flows to tell."""
    moved = float(np.abs(dq[use]).sum())
    out: list[float | None] = []
    for rows in (use & (dq > 0), use & (dq < 0)):
        flows = float(dq[rows].sum())
        out.append(float(d[rows].sum()) / flows if moved and abs(flows) > SLIGHT * moved else None)
    return out[0], out[1]


def counted(name: str, t: Array, i: Array, raw: Array, breaks: tuple[int, ...], taken_in: Array | None = None) -> Count:
    """Charge taken out by a counter.

    Parameters
    ----------
    name : str
        Of its column, for notes. [-]
    t, i : array, shape (n,)
        Time, and current positive on discharge. [s], [A]
    raw : array, shape (n,)
        The count; NaN where it is missing. [C]
    breaks : tuple of int
        Rows that begin anew. [-]
    taken_in : array, shape (n,), optional
        A second count, of charge put in. [C]
    """
    if len(t) < 3 or np.isfinite(raw).sum() < 3:
        return Count(None)
    dq = current_charge(t, i)
    d, resets = increments(raw)
    use = steady(t, i)
    use[[k - 1 for k in breaks]] = False
    if taken_in is not None:
        d_in, more = increments(taken_in)
        d, resets = np.abs(d) - np.abs(d_in), resets + more
    out, into = ratios(d, dq, use)
    same, against, none = (_near(x) for x in (1.0, -1.0, 0.0))
    if out is None and into is None:
        return Count(None)
    notes = [f"{name} began anew {resets} time{'s' if resets > 1 else ''} and was continued."] if resets else []
    if same(out) and same(into):
        taken = d
    elif against(out) and against(into):
        taken = -d
        notes.append(f"{name} falls on discharge; it was turned round.")
    elif same(out) and against(into):
        taken = np.where(dq < 0, -d, d)
        notes.append(f"{name} counts up on charge as well; charge was taken from it by the sign of the current.")
    elif same(out) and none(into):
        taken = np.where(dq < 0, dq, d)
        notes.append(f"{name} counts discharge alone; the charge parts were integrated from the current.")
    elif none(out) and against(into):
        taken = np.where(dq < 0, -d, dq)
        notes.append(f"{name} counts charge alone; the discharge parts were integrated from the current.")
    else:
        said = " and ".join(
            f"{x:.3g} of what the current gives on {word}"
            for x, word in ((out, "discharge"), (into, "charge"))
            if x is not None
        )
        return Count(
            None, (), (f"{name} does not agree with the current ({said}); the current was integrated instead.",)
        )
    if taken_in is None and raw is not None and not np.isfinite(raw).all():
        notes.append(f"{name} has gaps; it was drawn straight across them.")
    moved = float(np.abs(taken).sum())
    ahead = (np.abs(taken - dq) > SKIPPED * moved) & (np.diff(t) > 3.0 * float(np.median(np.diff(t)))) & ~use
    skipped = np.flatnonzero(ahead & (np.abs(taken) > 2.0 * np.abs(dq)))
    holes = tuple(int(k) + 1 for k in skipped)
    return Count(np.concatenate([[0.0], np.cumsum(taken)]), holes, tuple(notes))


def _near(goal: float):  # type: ignore[no-untyped-def]
    """Whether a ratio is near a goal; one that is not known is."""
    return lambda ratio: ratio is None or abs(ratio - goal) <= ALIKE
