"""Which sign of the current is discharge: proved by the record itself, or asked; never guessed.

A cell obeys one law whoever drives it: more discharge current, less voltage at once; more charge taken out, less
voltage in the long run. Both are looked for, apart from each other, with thresholds that noise and a cell recovering
from an earlier load cannot reach.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from tideover.cells.log import Array
from tideover.cells.log_columns import tidy

BIG = 0.10
"""Share of the largest current that a step must have to be looked at."""
AGREE = 0.80
"""Share of the evidence in the steps that must agree."""
CLEAR = 0.003
"""Median change of voltage in the steps, below which they prove nothing. [V]"""
FALL, RISE = 0.12, 0.10
"""Share of the voltage by which it must fall, or rise, while charge flows one way only, to prove the direction: a cell
recovers from an earlier heavy load, or settles after a heavy charge, by nearly as much. A whole discharge falls by 19 %
(lead-acid) to 40 %."""
LASTING = 0.35
"""Share of that change in the second half of the charge: a recovery slows down (after the square root of time 0.29 is
left), a charge does not."""
LONG = 5400.0
"""Charge that flows for longer than a cell takes to settle; then less of a change will do. [s]"""
LONG_FALL, LONG_RISE = 0.08, 0.08
"""The same shares then."""
FAINT = 0.05
"""Share of the largest current below which nothing need flow: meters show up to 3 % of it at rest."""

LEVEL = 0.25
"""Relative step of the current, row to row, that begins another level."""

DISCHARGES = ("disch", "dchg", "dch", "dis", "entlad", "decharg", "descarg", "scaric", "drain", "load", "d")
CHARGES = ("charg", "chg", "cha", "lade", "ladung", "laden", "carga", "carica", "cccv", "c")
RESTS = (
    "rest",
    "pause",
    "idle",
    "ruhe",
    "repos",
    "ocv",
    "open",
    "wait",
    "off",
    "standby",
    "relax",
    "stop",
    "done",
    "end",
    "r",
)


@dataclass(frozen=True)
class Evidence:
    """What one look at the record says: 1 when a positive current is discharge, -1 when it is charge, 0 when it cannot
    tell; how it said so; and by how many independent signs."""

    sign: int
    why: str
    count: int = 1


def words_of(cells: Sequence[str]) -> NDArray[np.int_]:
    """Of a column that says what is done: 1 discharge, -1 charge, 0 rest, 9 when the word is not known."""
    meaning: dict[str, int] = {}
    for cell in set(cells):
        meaning[cell] = _word(cell)
    return np.array([meaning[cell] for cell in cells])


def _word(cell: str) -> int:
    tokens = [w for w in re.split(r"[^a-z]+", tidy(cell)) if w]
    for value, known in ((1, DISCHARGES), (-1, CHARGES), (0, RESTS)):
        for token in tokens:
            if any(token == word or (len(word) > 2 and token.startswith(word)) for word in known):
                return value
    return 9


def by_steps(t: Array, v: Array, i: Array, apart: NDArray[np.bool_]) -> Evidence:
    """By what the voltage does at once when the current steps; `apart` marks the steps across a hole."""
    top = float(np.abs(i).max(initial=0.0))
    di, dv = np.diff(i), np.diff(v)
    big = (np.abs(di) > BIG * top) & ~apart
    if top == 0.0 or not big.any():
        return Evidence(0, "the current never steps")
    small = dv[~big & ~apart]
    noise = float(np.median(np.abs(small))) if len(small) else 0.0
    product = dv[big] * di[big]
    clear = float(np.median(np.abs(dv[big])))
    total = float(np.abs(product).sum())
    if clear < max(CLEAR, 3.0 * noise) or total == 0.0:
        return Evidence(0, "the voltage hardly answers the steps of current")
    share = float(product.sum()) / total
    if abs(share) < AGREE:
        return Evidence(0, "the voltage answers the steps of current now one way, now the other")
    n = int(big.sum())
    way = "falls" if share < 0 else "rises"
    said = f"the voltage {way} by {clear * 1e3:.3g} mV at once when the current rises ({n} step{'s' if n > 1 else ''})"
    return Evidence(-1 if share > 0 else 1, said, n)


def by_trend(t: Array, v: Array, charge: Array) -> Evidence:
    """By where the voltage goes as charge flows; `charge` is the running sum of the current as it is written."""
    span = float(charge.max() - charge.min()) if len(charge) else 0.0
    if len(v) < 5 or span <= 0.0:
        return Evidence(0, "no charge flows")
    monotone = abs(float(charge[-1] - charge[0])) >= 0.98 * span
    if not monotone:
        return Evidence(0, "charge flows both ways")
    towards = 1.0 if charge[-1] > charge[0] else -1.0
    along = (charge - charge[0]) * towards / span  # 0 to 1
    flows = np.flatnonzero(np.diff(along, prepend=-1e-12) > 0.0)
    if len(flows) < 5:
        return Evidence(0, "too few rows carry current")
    x, y = along[flows], v[flows]
    level = float(np.median(y))
    marks = [_level(x, y, at) for at in (0.03, 0.5, 0.97)]
    change = marks[2] - marks[0]
    later = (marks[2] - marks[1]) / change if change else 0.0
    long = float(t[flows[-1]] - t[flows[0]]) >= LONG
    limit = (LONG_FALL if long else FALL) if change < 0 else (LONG_RISE if long else RISE)
    if abs(change) < limit * abs(level) or later < LASTING:
        return Evidence(0, "the voltage does not move far and steadily enough as charge flows")
    if later > 1.5:  # up first and down then, or the other way round
        return Evidence(0, "the voltage turns round as charge flows")
    way = "falls" if change < 0 else "rises"
    said = f"the voltage {way} by {abs(change):.3g} V as charge flows"
    sign = 1 if (change < 0) == (towards > 0) else -1
    return Evidence(sign, said)


def _level(x: Array, y: Array, at: float) -> float:
    near = np.abs(x - at) <= 0.03
    return float(np.median(y[near])) if near.sum() >= 3 else float(np.interp(at, x, y))


def together(evidence: Sequence[Evidence]) -> Evidence:
    """One verdict: none of those that can tell may say otherwise."""
    signs = {e.sign for e in evidence if e.sign}
    if len(signs) == 1:
        agree = [e for e in evidence if e.sign]
        return Evidence(signs.pop(), " and ".join(e.why for e in agree), sum(e.count for e in agree))
    if signs:
        return Evidence(0, "the record contradicts itself: " + ", but ".join(e.why for e in evidence if e.sign))
    return Evidence(0, ", and ".join(e.why for e in evidence if e.why))


def look(t: Array, v: Array, i: Array, breaks: Sequence[int]) -> Evidence:
    """The verdict of the voltage on a record, or on a part of it.

    Parameters
    ----------
    t, v : array, shape (n,)
        Time and voltage. [s], [V]
    i : array, shape (n,)
        Current with the sign that it was written with. [A]
    breaks : sequence of int
        Rows that begin anew. [-]
    """
    apart = np.zeros(max(len(t) - 1, 0), bool)
    apart[[k - 1 for k in breaks if 0 < k < len(t)]] = True
    steps = np.diff(t) * 0.5 * (i[1:] + i[:-1])
    steps[apart] = 0.0
    charge = np.concatenate([[0.0], np.cumsum(steps)]) if len(t) else np.zeros(0)
    looks = [by_steps(t, v, i, apart)]
    if not len(breaks):
        looks.append(by_trend(t, v, charge))
    else:
        edges = [0, *breaks, len(t)]
        looks += [by_trend(t[a:b], v[a:b], charge[a:b]) for a, b in pairwise(edges) if b - a > 5]
    return together(looks)


def one_sided(i: Array) -> bool:
    """Whether the current never changes its sign, but for noise at rest."""
    top = float(np.abs(i).max(initial=0.0))
    return bool((i >= -FAINT * top).all() or (i <= FAINT * top).all())


def stages(t: Array, v: Array, i: Array, breaks: Sequence[int]) -> list[tuple[int, int]]:
    """Stretches of current, cut where its level jumps, or the voltage without it: it may have turned round there.

    A lone row between two levels is an edge caught half way and belongs to the level beside it.
    """
    size = np.abs(i)
    jump = np.abs(np.diff(size)) > LEVEL * np.maximum(size[1:], size[:-1])
    out: list[tuple[int, int]] = []
    for first, last in stretches(i, breaks):
        leaps = _leaps(t, v, i, first, last)
        cuts = (np.flatnonzero(jump[first:last] | leaps) + first + 1).tolist()
        kept: list[int] = []
        for k in cuts:
            begin = kept[-1] if kept else first
            before = size[begin - 1] if begin > 0 else 0.0
            between = not leaps[k - 1 - first] and min(before, size[k]) < size[begin] < max(before, size[k])
            if not (k - begin == 1 and between):
                kept.append(k)  # else the lone row goes with what follows
        if kept and kept[-1] == last and 0.0 < size[last] < size[last - 1]:
            kept.pop()  # the lone row at the end goes with what stands before it
        edges = [first, *kept, last + 1]
        out += [(a, b - 1) for a, b in pairwise(edges)]
    return out


def _leaps(t: Array, v: Array, i: Array, first: int, last: int) -> NDArray[np.bool_]:
    """Steps inside a stretch over which the voltage leaps by more than its begin and its end moved it, beyond its slow
    course: a turn of the current would move it by twice as much."""
    steps = np.diff(v[first : last + 1])
    if not len(steps):
        return np.zeros(0, bool)
    lasts = np.maximum(np.diff(t[first : last + 1]), 1e-9)
    beyond = np.abs(steps - float(np.median(steps / lasts)) * lasts)
    full = np.flatnonzero(np.abs(i[first : last + 1]) >= 0.9 * float(np.median(np.abs(i[first : last + 1])))) + first
    edges = [abs(float(v[a] - v[b])) for a, b in ((full[0], first - 1), (full[-1], last + 1)) if 0 <= b < len(v)]
    noise = 4.0 * float(np.median(np.abs(steps)))
    out = np.asarray(beyond > max(1.2 * min(edges, default=0.0), noise, 2.0 * CLEAR))
    # After a turn the voltage goes the other way; where it goes on as before, it was the meter's hiccup.
    cuts = [0, *(np.flatnonzero(out) + 1).tolist(), len(steps) + 1]
    inside = v[first : last + 1]
    ways = [float(inside[b - 1] - inside[a]) for a, b in pairwise(cuts)]
    for n, k in enumerate(cuts[1:-1], 1):  # a lone row goes no way: what lies before and after it tells
        before = next((way for way in reversed(ways[:n]) if way), 0.0)
        after = next((way for way in ways[n:] if way), 0.0)
        out[k - 1] = before * after < 0.0 or k < 3
    return out


def stretches(i: Array, breaks: Sequence[int]) -> list[tuple[int, int]]:
    """First and last row of each stretch in which current flows without a pause or a hole."""
    flows = np.abs(i) > FAINT * float(np.abs(i).max(initial=0.0))
    cut = set(breaks)
    out: list[tuple[int, int]] = []
    begin = -1
    for k, on in enumerate(flows.tolist()):
        if begin >= 0 and (not on or k in cut):
            out.append((begin, k - 1))
            begin = -1
        if on and begin < 0:
            begin = k
    if begin >= 0:
        out.append((begin, len(i) - 1))
    return out
