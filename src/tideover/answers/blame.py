"""Why a load dips: what the parts were doing while its voltage was out, read from the order of events.

Every passing state of a part (a contact on its way, a converter locked out) is a phase with a beginning and an end.
The phase that lasts longest before the voltage recovers dominates; a part that stays in a state the supply cannot
live with is what keeps it down.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from tideover.answers.rides import LOSS, Event
from tideover.network import Network
from tideover.quantity import show

CONVERTERS = ("boost", "buck", "buck-boost", "linear regulator")
_SUPPLY = {"starting": "{} starts up again", "locked out": "{} is locked out for want of input voltage"}
PASSING: dict[str, dict[str, str]] = {
    "adapter": {
        "holding": "{} lives on its own store",
        "starting": "{} waits out its start delay",
        "ramping": "the output of {} rises",
        "overloaded": "{} is overloaded",
        "pausing": "{} pauses after an overload",
    },
    "relay": {
        "letting go": "{} is releasing",
        "crossing to back": "the contacts of {} travel, both throws open",
        "back bounce": "the back contact of {} bounces",
        "pulling in": "{} is pulling in",
        "crossing to front": "the contacts of {} travel, both throws open",
        "front bounce": "the front contact of {} bounces",
    },
    "ideal diode": {"turning on": "{} is turning on, its body diode carries the current"},
    "protection board": {
        "shorted": "{} sees a short circuit",
        "overloaded": "{} sees an overload",
        "sagging": "{} sees a group below its cut-off",
        "tripped": "{} has tripped",
        "releasing": "{} has tripped and is about to close again",
        "empty": "{} has cut the pack off as empty",
    },
    "fuse": {"blown": "{} has blown"},
    "load": {"reset": "{} has reset", "booting": "{} is booting"},
    **{kind: {**_SUPPLY, "cut off": "{} has switched itself off"} for kind in CONVERTERS},
}
"""What a part in a passing state is doing, by kind and state."""
WAITING = "the coil of {} still holds on to the decaying adapter"
STUCK = {
    "adapter": ("dead", "starting", "pausing", "overloaded"),
    "protection board": ("tripped", "releasing", "empty"),
    "fuse": ("blown",),
    "load": ("reset", "booting"),
    **{kind: ("locked out", "cut off") for kind in CONVERTERS},
}
"""States that a supply cannot live with, by kind: consequences, not causes, of a slow changeover."""
HICCUPS = 12
"""Changes of one machine from which on it is said to hiccup: a clean outage takes a relay through ten."""


@dataclass(frozen=True)
class Phase:
    """A part in a passing state."""

    start: float
    end: float
    part: str
    kind: str
    state: str
    words: str

    @property
    def length(self) -> float:
        """How long. [s]"""
        return self.end - self.start


def phases(network: Network, events: Sequence[Event], until: float) -> tuple[Phase, ...]:
    """All passing states along one outage, in order of their beginning."""
    kinds = {part.name: part.kind.name for part in network.parts}
    out = []
    for k, event in enumerate(events):
        words = PASSING.get(kinds[event.part], {}).get(event.after)
        if words:
            end = next((e.t for e in events[k + 1 :] if _same(e, event)), until)
            out.append(Phase(event.t, end, event.part, kinds[event.part], event.after, words.format(event.part)))
    dead = next((e.t for e in events if kinds[e.part] == "adapter" and e.after == "dead"), LOSS)
    for part, kind in kinds.items():
        going = next((e.t for e in events if e.part == part and e.after == "letting go" and e.t > LOSS), None)
        if kind == "relay" and going is not None and going > dead:
            out.append(Phase(dead, going, part, kind, "waiting", WAITING.format(part)))
    return tuple(sorted(out, key=lambda p: (p.start, p.end)))


def _same(a: Event, b: Event) -> bool:
    return (a.part, a.machine) == (b.part, b.machine)


def cause(found: Iterable[Phase], trigger: float, out: float, back: float) -> Phase | None:
    """The phase that dominates an excursion: the longest that overlaps it, consequences aside.

    Parameters
    ----------
    found : iterable of Phase
        Of the whole march. [-]
    trigger, out, back : float
        Loss or return of mains; the voltage leaves its limit; it returns, or the march ends. [s]
    """

    def share(p: Phase) -> float:
        return min(p.end, back) - max(p.start, trigger)

    here = [p for p in found if p.start <= back and p.end >= out - 1e-4 and share(p) > 0.0]
    roots = [p for p in here if p.state not in STUCK.get(p.kind, ()) and p.state != "holding"]
    # The contacts' short travel matters more than a long start delay of an adapter that nobody waits for.
    roots = [p for p in roots if p.kind != "adapter"] or roots
    before = [p for p in roots if p.start <= out + 1e-3]
    return max(before or roots or here, key=share, default=None)


def keeps_down(network: Network, events: Sequence[Event]) -> tuple[str, ...]:
    """What parts stand in at the end that a supply cannot live with, in words."""
    kinds = {part.name: part.kind.name for part in network.parts}
    last = {(e.part, e.machine): e.after for e in events}
    out = []
    for (part, _), state in last.items():
        kind = kinds[part]
        if state in STUCK.get(kind, ()) and state in PASSING[kind]:
            out.append(PASSING[kind][state].format(part))
    return tuple(out)


def hiccup(events: Sequence[Event], trigger: float) -> str:
    """Names parts that change to and fro after an instant; empty when none does."""
    counts: dict[tuple[str, str], list[float]] = {}
    for e in events:
        if e.t >= trigger:
            counts.setdefault((e.part, e.machine), []).append(e.t)
    restless = {part for (part, _), times in counts.items() if len(times) > HICCUPS}
    if not restless:
        return ""
    verb = "switches" if len(restless) == 1 else "switch"
    return f"{', '.join(sorted(restless))} {verb} to and fro without end"


def last_to_switch(events: Sequence[Event], t: float) -> str:
    """Who changed last before an instant; after that, regulation and resistances alone set the voltage."""
    before = [e for e in events if e.t <= t and e.after != "starting"]  # an adapter that starts gives nothing yet
    if not before:
        return "nothing has switched: the resistances on the way set the voltage"
    e = before[-1]
    gone = show(t - e.t, "s", 2)
    return f"{e.part} went from {e.before} to {e.after} {gone} before; regulation and resistances set the voltage since"


def inrush(network: Network, found: Sequence[Phase], until: float) -> Phase | None:
    """A protection board that took the rush into capacitors for a short circuit and tripped on it."""
    tripped = [p for p in found if p.kind == "protection board" and p.state == "tripped" and p.start <= until]
    for p in tripped:
        seen = [q for q in found if q.part == p.part and q.state in ("shorted", "overloaded") and q.end == p.start]
        if seen:
            return seen[-1]
    return None


def told(found: Phase) -> str:
    """A phase with its length: ``changeover is releasing (2.5 ms)``."""
    return f"{found.words} ({show(found.length, 's')})"
