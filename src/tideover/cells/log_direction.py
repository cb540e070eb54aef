"""The current of a record made positive on discharge: what was stated, what columns say, what the voltage proves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.cells import log_counter, log_signs
from tideover.cells import log_faults as say
from tideover.cells.log import Array
from tideover.cells.log_signs import Evidence
from tideover.design.messages import Fault

IDLE = 1e-4
"""Largest current that counts as none. [A]"""
UNKNOWN = 0.02
"""Share of the charge that stretches may move about which nothing proves the direction, before it is asked."""
ENOUGH = 2
"""Signs of a stretch's direction that must agree, where a step of current is one of them."""
AROUND = 3
"""Rows before and after a stretch that are looked at with it."""

Breaks = tuple[int, ...]


@dataclass(frozen=True)
class Directed:
    """The current, positive on discharge, and what was found; or the fault."""

    i: Array
    notes: tuple[str, ...] = ()
    fault: Fault | None = None


def directed(
    name: str,
    t: Array,
    v: Array,
    i: Array,
    breaks: Breaks,
    stated: str,
    words: NDArray[np.int_] | None,
    counted_out: Array | None,
) -> Directed:
    """Find the sign of a current column.

    Parameters
    ----------
    name : str
        Of the file. [-]
    t, v, i : array, shape (n,)
        Time, voltage, current as written. [s], [V], [A]
    breaks : tuple of int
        Rows that begin anew. [-]
    stated : str
        ``positive`` or ``negative``: the sign of discharge; empty if nobody said. [-]
    words : array of int, shape (n,), or None
        Of a column that says what is done, as `log_signs.words_of` gives it. [-]
    counted_out : array, shape (n,), or None
        A counter that by its name rises on discharge. [C]
    """
    top = float(np.abs(i).max(initial=0.0))
    if top <= IDLE:
        return Directed(i, ("No current flows in it.",))
    if stated:
        return _as_stated(t, v, i, breaks, 1.0 if stated == "positive" else -1.0)
    if log_signs.one_sided(i):
        towards = 1.0 if float(np.sum(i)) > 0 else -1.0
        return _one_sided(name, t, v, i * towards, breaks, words, towards, counted_out)
    evidence = [_by_words(i, words), _by_counter(t, i, counted_out), log_signs.look(t, v, i, breaks)]
    verdict = log_signs.together(evidence)
    if not verdict.sign:
        return Directed(i, (), say.sign_open(name, verdict.why))
    return Directed(i * verdict.sign, (_told(verdict),))


def _told(verdict: Evidence) -> str:
    way = "positive" if verdict.sign > 0 else "negative"
    turned = "" if verdict.sign > 0 else "; it was turned round"
    return f"Discharge is {way} in the current column: {verdict.why}{turned}."


def _as_stated(t: Array, v: Array, i: Array, breaks: Breaks, sign: float) -> Directed:
    """What was stated counts; when the voltage says otherwise that is told."""
    notes = ["Discharge is " + ("positive" if sign > 0 else "negative") + " in the current column, as stated."]
    seen = log_signs.look(t, v, i * sign, breaks)
    if seen.sign < 0:
        notes.append(
            f"LOOK AGAIN: the record says the opposite of what was stated: with discharge positive {seen.why}."
        )
    return Directed(i * sign, tuple(notes))


def _by_words(i: Array, words: NDArray[np.int_] | None) -> Evidence:
    if words is None:
        return Evidence(0, "no column says charge or discharge")
    flows = np.abs(i) > log_signs.FAINT * float(np.abs(i).max())
    votes = np.sign(i) * words
    votes = votes[flows & (np.abs(words) == 1)]
    if len(votes) and abs(float(votes.sum())) >= 0.9 * len(votes):
        return Evidence(int(np.sign(votes.sum())), "a column says so")
    return Evidence(0, "the column of states does not tell")


def _by_counter(t: Array, i: Array, counted_out: Array | None) -> Evidence:
    if counted_out is None or np.isfinite(counted_out).sum() < 3:
        return Evidence(0, "no column counts discharge")
    d, _ = log_counter.increments(counted_out)
    out, into = log_counter.ratios(d, log_counter.current_charge(t, i), log_counter.steady(t, i))
    # Rising with a positive current and not with a negative one, whatever it does at rest.
    if out is not None and out > 0.5 and (into is None or into > -0.5):
        return Evidence(1, "the count of discharge rises with it")
    if into is not None and into < -0.5 and (out is None or out < 0.5):
        return Evidence(-1, "the count of discharge rises as it falls")
    return Evidence(0, "the count of discharge does not follow the current")


def _one_sided(
    name: str,
    t: Array,
    v: Array,
    size: Array,
    breaks: Breaks,
    words: NDArray[np.int_] | None,
    towards: float,
    counted_out: Array | None,
) -> Directed:
    """A current that never changes its sign: one direction, or its size alone. Each stretch is judged by itself."""
    spans = log_signs.stages(t, v, size, breaks)
    charge = [_moved(t, size, a, b) for a, b in spans]
    signs, why = [], []
    for a, b in spans:
        seen = _stretch(t, v, size, breaks, a, b)
        said = Evidence(0, "")
        if float(size[a : b + 1].max()) < log_signs.BIG * float(size.max()):
            signs.append(0)  # so little may be the meter's own offset at rest; it proves nothing
            why.append(Evidence(0, "the current is too small to prove anything"))
            continue
        if words is not None:
            inside = words[a : b + 1]
            inside = inside[np.abs(inside) == 1]
            if len(inside) and abs(float(inside.sum())) == len(inside):
                said = Evidence(int(inside[0]), "a column says so")
        verdict = log_signs.together([said, seen])
        signs.append(verdict.sign)
        why.append(verdict)
    found = {sign for sign in signs if sign}
    if towards < 0:  # sizes are never written negative: this column has a sign, and the whole record one direction
        verdict = log_signs.together([*why, _by_counter(t, size, counted_out)])
        if verdict.sign:
            proved = max((k for k, one in enumerate(why) if one.sign), key=lambda k: charge[k], default=-1)
            reason = why[proved].why if proved >= 0 else verdict.why
            return Directed(size * verdict.sign, (_whole(verdict.sign, towards, reason),))
        return Directed(size, (), say.sign_open(name, log_signs.look(t, v, size, breaks).why))
    small = np.where(np.abs(size) > log_signs.FAINT * float(np.abs(size).max()), 0.0, np.abs(size))
    faint = float(np.trapezoid(small, t))  # what flows outside the stages has no proof either
    total = max(sum(charge) + faint, 1e-12)
    open_charge = sum(q for q, sign in zip(charge, signs) if not sign) + faint
    if len(found) == 1 and open_charge > UNKNOWN * total and len(spans) > 1 and _by_counter(t, size, counted_out).sign:
        open_charge = 0.0  # its direction is confirmed below
    if not found:
        counter = _by_counter(t, size, counted_out)
        if counter.sign and not any("contradict" in one.why for one in why):
            return Directed(size * counter.sign, (_whole(counter.sign, towards, counter.why),))
        reason = max(why, key=lambda one: charge[why.index(one)]).why if why else "no current flows"
        return Directed(size, (), say.sign_open(name, reason))
    if open_charge > UNKNOWN * total:
        worst = max((k for k, sign in enumerate(signs) if not sign), key=lambda k: charge[k], default=-1)
        if worst < 0:
            reason = f"currents below {log_signs.FAINT:.0%} of the largest move {open_charge / total:.1%} of the charge"
            return Directed(size, (), say.sign_open(name, reason))
        a, b = spans[worst]
        if len(found) > 1:
            return Directed(size, (), say.unsigned_open(name, float(t[a]), float(t[b]), why[worst].why))
        reason = f"from {t[a]:.6g} s to {t[b]:.6g} s {why[worst].why}"
        return Directed(size, (), say.sign_open(name, reason))
    if len(found) == 1:
        sign = found.pop()
        if _by_counter(t, size, counted_out).sign == -sign:
            proof = next(w.why for w in why if w.sign)
            reason = f"the record contradicts itself: {proof}, but the count of discharge says otherwise"
            return Directed(size, (), say.sign_open(name, reason))
        best = next(one for one in why if one.sign)
        notes = [_whole(sign, towards, best.why)]
        if open_charge > 1e-3 * total:
            notes.append(
                f"Of {open_charge / total:.1%} of the charge nothing proves the direction; it was taken as the rest."
            )
        return Directed(size * sign, tuple(notes))
    factor = np.zeros(len(size))
    for (a, b), sign in zip(spans, signs):
        factor[a : b + 1] = sign
    # Faint rows outside the stretches flow nowhere that matters; they keep the direction of what stands before them.
    known = np.flatnonzero(factor)
    factor = factor[known[np.clip(np.searchsorted(known, np.arange(len(size)), side="right") - 1, 0, None)]]
    n = [sum(sign == s for sign in signs) for s in (1, -1)]
    note = f"The current has no sign; by column or voltage {n[0]} of its stretches discharge and {n[1]} charge."
    return Directed(size * factor, (note,))


def _whole(sign: int, towards: float, why: str) -> str:
    """Of a current that keeps its sign."""
    written = "positive" if towards > 0 else "negative"
    turned = "; it was turned round" if sign != towards else ""
    return f"All current is {'discharge' if sign > 0 else 'charge'} and written {written}: {why}{turned}."


def _moved(t: Array, i: Array, a: int, b: int) -> float:
    last = min(b + 1, len(t) - 1)
    return float(np.trapezoid(np.abs(i[a : last + 1]), t[a : last + 1]))


def _stretch(t: Array, v: Array, i: Array, breaks: Breaks, a: int, b: int) -> Evidence:
    """The verdict of the voltage on one stretch, with a few rows of the pauses beside it."""
    first, last = max(a - AROUND, 0), min(b + AROUND, len(t) - 1)
    for k in breaks:
        if first < k <= a:
            first = k
        if b < k <= last:
            last = k - 1
    flows = np.abs(i) > log_signs.FAINT * float(np.abs(i).max())
    while first < a and flows[first:a].any():
        first += 1
    while last > b and flows[b + 1 : last + 1].any():
        last -= 1
    rows = slice(first, last + 1)
    found = log_signs.look(t[rows], v[rows], i[rows], ())
    if found.sign and found.count < ENOUGH and "at once" in found.why:
        # One step proves the direction beside it; the stretch may have turned round where its size stayed the same.
        return Evidence(0, "one step of the current alone proves too little of it")
    return found
