"""What happens from outside, in words: ``mains off at 20 ms; router peak at 1 s; mains on at 2 s``.

An event is a thing, what happens to it, and when. Things are ``mains`` (every adapter at once) or a part of the
build by its name; what can happen follows from its kind, in the table below.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass

from tideover.design.messages import BuildError, Fault, folded, listed, nearest, quoted
from tideover.design.model import Place
from tideover.network import Network, Placed
from tideover.quantity import Quantity, QuantityError, parse, show

MAINS = "mains"
FORM = "mains off at 20 ms"
MOST = 1000
"""Events in one text; a day of peaks every minute and a half."""


@dataclass(frozen=True)
class Event:
    """A signal of a part takes a value at an instant.

    Attributes
    ----------
    at : float
        When. [s]
    part, signal : str
        Whose, and which.
    value : float
        What it becomes.
    text : str
        As people say it, without the time: ``mains off``.
    """

    at: float
    part: str
    signal: str
    value: float
    text: str


def _peak(part: Placed) -> float:
    """Peak over mean, the demand of a peak; zero where none is stated."""
    peak, mean = (_nominal(part, name) for name in ("peak_power", "power"))
    return peak / mean if peak > 0.0 and mean > 0.0 else 0.0


def _nominal(part: Placed, name: str) -> float:
    value = part.values[name]
    return value.nominal if isinstance(value, Quantity) else float(value)


HAPPENINGS: dict[str, dict[str, Callable[[Placed], float]]] = {
    "mains": {"off": lambda part: 0.0, "on": lambda part: 1.0},
    "demand": {"mean": lambda part: 1.0, "peak": _peak, "off": lambda part: 0.0},
    "closed": {"open": lambda part: 0.0, "closed": lambda part: 1.0},
}
"""What can happen to each signal, and the value it then has."""
OPPOSITE = {("mains", 1.0): 0.0, ("closed", 1.0): 0.0}
"""A thing whose first event brings it this value was at that one before."""


def read_events(text: str, network: Network, until: float = math.inf) -> tuple[Event, ...]:
    """Read events in the order of time.

    Parameters
    ----------
    text : str
        Events with semicolons or line ends between them; empty for none.
    network : Network
        Whose parts they name. [-]
    until : float
        End of the trace. [s]

    Returns
    -------
    events : tuple of Event
        By time; those of one instant as they were written.

    Raises
    ------
    BuildError
        With every fault and its place in the text.
    """
    events: list[Event] = []
    faults: list[Fault] = []
    pieces = list(re.finditer(r"[^;\n]+", text))
    for piece in pieces[:MOST]:
        said = piece[0].strip()
        if not said:
            continue
        start = piece.start() + len(piece[0]) - len(piece[0].lstrip())
        found = _event(said, _place(text, start), network, until)
        if isinstance(found, Fault):
            faults.append(found)
        else:
            events += found
    if len(pieces) > MOST:
        problem = f"{len(pieces)} events are more than the {MOST} a trace takes"
        faults.append(Fault(_place(text, pieces[MOST].start()), "", problem, "", "Split them over several traces."))
    if faults:
        raise BuildError(faults)
    return tuple(sorted(events, key=lambda event: event.at))


def begin(events: tuple[Event, ...]) -> dict[tuple[str, str], float]:
    """Signals that must differ from their usual value before the first event: mains that returns was away."""
    first: dict[tuple[str, str], float] = {}
    for event in events:
        first.setdefault((event.part, event.signal), event.value)
    return {key: OPPOSITE[key[1], value] for key, value in first.items() if (key[1], value) in OPPOSITE}


def _place(text: str, start: int) -> Place:
    line = text.count("\n", 0, start) + 1
    return Place("events", line, start - (text.rfind("\n", 0, start) + 1) + 1)


def _event(said: str, place: Place, network: Network, until: float) -> list[Event] | Fault:
    body, at, when = (piece.strip() for piece in re.sub(r"\s+", " ", said).rpartition(" at "))
    if not at:
        problem = "does not say when" if _signals(said.rpartition(" ")[0], network) else "is no event"
        example = said if problem == "does not say when" else _example(network)
        return Fault(place, quoted(said), problem, _expected(), f"Write: {example.split(' at ')[0]} at 20 ms")
    thing, _, happening = body.rpartition(" ")
    if not thing:
        thing, happening = body, ""
    found = _signals(thing, network)
    if not found:
        whole = _signals(body, network)
        if whole:
            return _wrong_happening(place, said, body, "", next(iter(whole))[1], when)
        return _unknown_thing(place, said, thing, happening, when, network)
    allowed = HAPPENINGS[found[0][1]]
    if happening.casefold() not in allowed:
        return _wrong_happening(place, said, thing, happening, found[0][1], when)
    try:
        seconds = parse(when, "s", "20 ms").nominal
    except QuantityError as error:
        mend = f"Write: {body} at {error.mend}"
        return Fault(place, quoted(said), f'has a time, "{error.text}", that is {error.problem}', error.expected, mend)
    if seconds < 0.0:
        return Fault(place, quoted(said), "happens before the trace begins", "It begins at 0 s.", "Move it.")
    if seconds > until:
        problem = f"happens after the trace ends, at {show(until, 's', 4)}"
        return Fault(place, quoted(said), problem, "", f"Let the trace run for {show(seconds, 's', 4)} or longer.")
    happening = happening.casefold()
    out = []
    for part, signal in found:
        value = allowed[happening](part)
        if happening == "peak" and value == 0.0:
            mend = "Write in its part: peak: 21.6 W for 40 ms every 10 s"
            return Fault(place, quoted(said), f"cannot be: {part.name} states no peak power", "", mend)
        name = MAINS if folded(thing) == MAINS else part.name
        out.append(Event(seconds, part.name, signal, value, f"{name} {happening}"))
    return out


def _signals(thing: str, network: Network) -> list[tuple[Placed, str]]:
    """Parts and signals that a name stands for."""
    if folded(thing) == MAINS:
        return [(part, MAINS) for part in network.parts if MAINS in part.kind.signals]
    return [
        (part, signal)
        for part in network.parts
        for signal in part.kind.signals
        if folded(part.name) == folded(thing) and signal in HAPPENINGS
    ]


def _things(network: Network) -> list[str]:
    parts = [part.name for part in network.parts if any(signal in HAPPENINGS for signal in part.kind.signals)]
    return [MAINS, *parts] if any(MAINS in part.kind.signals for part in network.parts) else parts


def _example(network: Network) -> str:
    things = _things(network)
    thing = things[0] if things else MAINS
    found = _signals(thing, network)
    return f"{thing} {next(iter(HAPPENINGS[found[0][1]])) if found else 'off'}"


def _expected() -> str:
    return f'A thing, what happens to it and when are expected, such as "{FORM}"; semicolons part events.'


def _unknown_thing(place: Place, said: str, thing: str, happening: str, when: str, network: Network) -> Fault:
    options = nearest(thing, _things(network))
    if any(folded(part.name) == folded(thing) for part in network.parts):
        problem = f"names {thing}, to which nothing can happen from outside"
    else:
        problem = f"names {quoted(thing)}, which is no part of this build"
    expected = f"Things can happen to {listed(options)}."
    if not options:
        return Fault(place, quoted(said), problem, "There is nothing to which things can happen.", "")
    allowed = list(HAPPENINGS[_signals(options[0], network)[0][1]])
    word = happening if happening in allowed else allowed[0]
    return Fault(place, quoted(said), problem, expected, f"Write: {options[0]} {word} at {when or '20 ms'}")


def _wrong_happening(place: Place, said: str, thing: str, happening: str, signal: str, when: str) -> Fault:
    allowed = nearest(happening, HAPPENINGS[signal]) if happening else list(HAPPENINGS[signal])
    problem = f"says {quoted(happening)} of {thing}" if happening else f"does not say what happens to {thing}"
    return Fault(
        place,
        quoted(said),
        problem,
        f"It can be {listed(allowed)}.",
        f"Write: {thing} {allowed[0]} at {when or '20 ms'}",
    )
