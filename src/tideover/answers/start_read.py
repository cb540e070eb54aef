"""One start, read: when the load serves again, what keeps it down, and what goes round without end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.blame import CONVERTERS
from tideover.answers.context import choice
from tideover.answers.mask import Mask, judge, stretches_below
from tideover.answers.packs import charger_of
from tideover.answers.rides import Event
from tideover.answers.starts import MAINS, Starts
from tideover.cases import written
from tideover.network import Network, Placed
from tideover.quantity import show
from tideover.solve import Readings

Array = NDArray[np.float64]
NOTICED = 1e-3
"""A stay in the window shorter than this begins nothing: an input filter alone sees it. [s]"""
ROUNDS = 3
"""Times a part must come back to a state, at equal intervals, before that is called a cycle."""
HUNTS = 10
"""The same for a charger, which may hunt for a while against a rising input before it settles."""
EQUAL = 0.1
"""Share by which those intervals may differ."""
CHARGING = 0.01
"""Share of the charge current from which on a pack counts as being charged (engineering judgement)."""
MARKS = {
    "adapter": "pausing",
    "protection board": "tripped",
    "load": "reset",
    "relay": "letting go",
    **dict.fromkeys(CONVERTERS, "locked out"),
    "charger": "off",
}
"""The state by which a round is counted, by kind, the first kind that goes round leading."""
ROUND = {
    "adapter": "gives up and tries",
    "protection board": "trips and closes",
    "load": "resets and boots",
    "relay": "lets go and pulls in",
    **dict.fromkeys(CONVERTERS, "locks out and starts"),
    "charger": "stops and starts",
}
"""What such a round is, in words."""
OPEN_BOARD = ("empty", "tripped", "releasing")


@dataclass(frozen=True)
class Cycle:
    """Something that goes round without end.

    Attributes
    ----------
    part, kind : str
        Whose rounds are counted.
    period : float
        Of one round. [s]
    rounds : int
        Seen.
    words : str
        What happens in one: ``brick: overloaded, pausing, ramping, running; changeover: ...``.
    """

    part: str
    kind: str
    period: float
    rounds: int
    words: str

    @property
    def said(self) -> str:
        """In words: ``brick gives up and tries again every 560 ms``."""
        return f"{self.part} {ROUND[self.kind]} again every {show(self.period, 's')}"


@dataclass(frozen=True)
class Outcome:
    """One start, read.

    Attributes
    ----------
    serves : float
        From the trigger until the load is in its window, working, and stays so; NaN when it never does. [s]
    in_window : float
        From the trigger until it is in its window for good; NaN when it is not. [s]
    resets : int
        Times the load went back to reset after it had begun to boot.
    margin, highest : float
        By how much the voltage held its mask once the load was first in its window; the highest voltage. [V]
    ended : bool
        Whether the march reached its end.
    cycle : Cycle or None
    waits : tuple of str
        What the parts wait for that stand in a state without output, in the order of the power path.
    board : str
        A protection board that is still open at the end, or empty.
    charge : float
        Current into the pack at the end; NaN without a pack. [A]
    """

    serves: float
    in_window: float
    resets: int
    margin: float
    highest: float
    final: float
    ended: bool
    cycle: Cycle | None
    waits: tuple[str, ...]
    board: str
    charge: float

    @property
    def back(self) -> bool:
        """Whether the load comes back."""
        return bool(np.isfinite(self.serves))


def read(starts: Starts, case: int, mask: Mask) -> Outcome:
    """Read one start."""
    network = starts.network
    t, v = starts.wave(case)
    found = starts.events(case)
    _, known = starts.read(case)
    after = t >= 0.0
    if after.any():
        t, v = t[after], v[after]
    loads = _judged_loads(network)
    cycle = going_round(network, found)
    into = _into_window(t, v, mask)
    work = _working(network, loads, found, known, float(t[-1]))
    serves = max(into, work) if np.isfinite(into) and np.isfinite(work) else float("nan")
    if cycle is not None and not starts.ended(case) and not float(t[-1]) - into > ROUNDS * cycle.period:
        serves = into = float("nan")
    first = _begun(t, v, mask)
    kept = judge(t[first:], v[first:], mask) if len(t) - first > 1 else None
    return Outcome(
        serves=serves,
        in_window=into,
        resets=_resets(loads, found),
        margin=kept.margin if kept else float("nan"),
        highest=float(v.max()),
        final=0.0 if abs(v[-1]) < 1e-6 else float(v[-1]),
        ended=starts.ended(case),
        cycle=cycle,
        waits=tuple(waiting(network, known, starts.deads[case].wakes == MAINS)),
        board=next((b.name for b in states.of_kind(network, "protection board") if _open(known, b)), ""),
        charge=min(
            (float(known.quantity[p.name, "plus [A]"][-1]) for p in states.of_kind(network, "pack")),
            default=float("nan"),
        ),
    )


def _judged_loads(network: Network) -> tuple[Placed, ...]:
    every = states.of_kind(network, "load")
    return tuple(p for p in every if network.at in p.nodes) or every


def _into_window(t: Array, v: Array, mask: Mask) -> float:
    """From when the voltage stays in its window but for the dips allowed; NaN when it ends outside."""
    if not mask.low <= v[-1] <= mask.high:
        return float("nan")
    level, allowed = mask.steps[0]
    starts, ends = stretches_below(t, v, level)
    long = np.flatnonzero((ends - starts > allowed) | (starts <= t[0]))
    return float(ends[long[-1]]) if len(long) else float(t[0])


def _begun(t: Array, v: Array, mask: Mask) -> int:
    """The first point of the first stay in the window that a load could notice; none where there is no such stay."""
    starts, ends = stretches_below(t, v, mask.low)
    comes = ends if len(starts) and starts[0] <= t[0] else np.append(t[0], ends)
    goes = np.append(starts[starts > t[0]], np.inf)
    long = np.flatnonzero((goes[: len(comes)] - comes >= NOTICED) & (comes < t[-1]))
    return int(np.searchsorted(t, comes[long[0]])) if len(long) else len(t)


def _working(network: Network, loads: Sequence[Placed], found: Sequence[Event], known: Readings, end: float) -> float:
    """From when every load works; a march that ended while one still boots is taken to its end. NaN when in reset."""
    out = 0.0
    for load in loads:
        last = next((e for e in reversed(found) if e.part == load.name), None)
        state = known.machine[load.name, "work"][-1]
        if state == "reset":
            return float("nan")
        if state == "booting":
            since = last.t if last is not None else end
            out = max(out, since + written(network, (load.name, "reboots_in")))
        elif last is not None and last.after == "working":
            out = max(out, last.t)
    return out


def _resets(loads: Sequence[Placed], found: Sequence[Event]) -> int:
    names = {load.name for load in loads}
    return sum(e.part in names and e.after == "reset" and e.t > 0.0 for e in found)


def _open(known: Readings, board: Placed) -> bool:
    return known.machine[board.name, "discharge"][-1] in OPEN_BOARD


def pack_waits(network: Network, outcome: Outcome) -> bool:
    """Whether a pack that has a charger is neither charged nor joined again."""
    if not outcome.board:
        return False
    for pack in states.of_kind(network, "pack"):
        charger = charger_of(network, pack)
        if charger is not None:
            return outcome.charge < CHARGING * written(network, (charger.name, "charge_current"))
    return False


# --- what goes round ---------------------------------------------------------------------------------


def going_round(network: Network, found: Sequence[Event]) -> Cycle | None:
    """A part that returns to its mark at equal intervals, the last times at least; None when there is none."""
    kinds = {part.name: part.kind.name for part in network.parts}
    end = found[-1].t if found else 0.0
    for kind, mark in MARKS.items():
        for part in (p for p, k in kinds.items() if k == kind):
            times = np.array([e.t for e in found if e.part == part and e.after == mark and e.t > 0.0])
            rounds = HUNTS if kind == "charger" else ROUNDS
            if len(times) < rounds:
                continue
            gaps = np.diff(times)[-(rounds - 1) :]
            period = float(np.median(gaps))
            if np.abs(gaps - period).max() <= EQUAL * period and end - times[-1] < 2.0 * period:
                return Cycle(part, kind, period, len(times), _round(found, times[-2], times[-1]))
    return None


def _round(found: Sequence[Event], begin: float, end: float) -> str:
    """What every part goes through in one round: ``brick ramping, running, overloaded, pausing; ...``."""
    through: dict[str, list[str]] = {}
    for e in found:
        if begin < e.t <= end + 1e-9 and e.after not in through.setdefault(e.part, []):
            through[e.part].append(e.after)
    return "; ".join(f"{part} {', '.join(names)}" for part, names in through.items())


# --- what waits for what ------------------------------------------------------------------------------


def waiting(network: Network, known: Readings, mains: bool) -> Iterator[str]:
    """What each part that gives nothing waits for, as it stands at the end of a march."""
    for part in network.parts:
        said = _waits(network, part, known, mains)
        if said:
            yield f"{part.name} {said}"


def _waits(network: Network, part: Placed, known: Readings, mains: bool) -> str:
    kind = part.kind.name

    def own(name: str) -> float:
        return written(network, (part.name, name))

    def state(machine: str) -> str:
        return known.machine[part.name, machine][-1]

    def shown(quantity: str) -> float:
        return float(known.quantity[part.name, quantity][-1])

    if kind == "protection board":
        low = shown("lowest group [V]")
        if state("discharge") == "empty":
            needs = "a charger that pushes current in and " if choice(part, "release") == "charger" else ""
            groups = f"groups above {show(own('cut_off_release'), 'V')}; the lowest stands at {show(low, 'V')}"
            return f"has cut the pack off as empty and waits for {needs}{groups}"
        if state("discharge") in ("tripped", "releasing"):
            return "has tripped and waits until nothing draws from it any more, or for a charger"
    if kind in CONVERTERS:
        volts = float(known.state[part.name, "input"][-1])
        if state("supply") == "locked out":
            return f"waits for {show(own('lockout_on'), 'V')} at its input; it has {show(volts, 'V')}"
        if state("supply") == "cut off":
            off = show(own("lockout_off"), "V")
            return f"took its load for gone and waits until its input has been below {off}; it has {show(volts, 'V')}"
    if kind == "charger" and mains and state("phase") == "off":
        least, seen = own("starts_above"), float(known.state[part.name, "output"][-1])
        if least > 0.0 and seen <= least:
            return f"waits for {show(least, 'V')} of pack voltage at its output; it sees {show(_tidy(seen), 'V')}"
        return f"waits for an input above {show(own('lockout_on'), 'V')} and above its output"
    if kind == "adapter" and mains and state("output") in ("pausing", "overloaded"):
        return "is overloaded, stops and tries again"
    if kind == "fuse" and state("element") == "blown":
        return "has blown"
    if kind == "load" and own("resets_below") > 0.0 and state("work") == "reset":
        volts = _tidy(float(known.state[part.name, "input"][-1]))
        return f"waits for {show(own('restarts_above'), 'V')} at its input; it has {show(volts, 'V')}"
    return ""


def _tidy(volts: float) -> float:
    return 0.0 if abs(volts) < 1e-3 else volts
