"""From a standing point through events: the march behind a trace."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from tideover.design.messages import BuildError, Fault
from tideover.design.model import Place
from tideover.network import Network, load
from tideover.quantity import show
from tideover.solve import OUTCOMES, Change, Condition, along, build, march, readings, rest
from tideover.traces.events import Event, begin, read_events
from tideover.traces.record import Column, Trace

STARTS = {"full": 1.0, "half": 0.5, "low": 0.1}
"""State of charge of every pack at the start. `low` is above the cut-off of most boards; engineering judgement."""
SHORTEST, LONGEST = 1e-6, 100 * 86400.0
"""How long a trace may be. [s]"""


def trace(
    network: Network | str | Path, events: str | Sequence[Event] = "", until: float = 1.0, start: str = "full"
) -> Trace:
    """March a build through events and read everything back.

    Parameters
    ----------
    network : Network, str or Path
        A network, or the build file to read. [-]
    events : str or sequence of Event
        ``mains off at 20 ms; router peak at 1 s``; see `tideover.traces.read_events`. [-]
    until : float
        End. [s]
    start : str
        State of charge at the start: ``full``, ``half`` or ``low``. [-]

    Returns
    -------
    trace : Trace
        Voltage of every node, current of every part, names of its discrete states. [-]

    Raises
    ------
    BuildError
        A fault in the build, in the events, in `until` or in `start`; or no point to start from.

    Notes
    -----
    The march starts from the standing point with mains on and loads at their mean. A thing whose first event is
    its return (``mains on``, ``switch closed``) is away at the start. Temperatures start at the middle of the
    room's range.
    """
    network = network if isinstance(network, Network) else load(network)
    faults = _unfit(until, start)
    if faults:
        raise BuildError(faults)
    script = read_events(events, network, until) if isinstance(events, str) else tuple(events)
    system = build(network)
    before = begin(script)
    packs = [part.name for part in network.parts if part.kind.name == "pack"]
    charge = {(pack, state): STARTS[start] for pack in packs for state in ("charge", "weak_charge")}
    condition = Condition(signals=before, states=charge, ambient=sum(network.need.ambient) / 2)
    standing = rest(system, condition)
    words = _words(network, before, start if packs else "")
    outcome = OUTCOMES[int(standing.outcome[0])]
    if outcome == "not converged":
        raise BuildError([_no_start(network, words)])
    notes: tuple[str, ...] = () if outcome == "found" else (f"It starts where nothing stands still ({outcome}).",)
    changes = [Change(event.at, event.part, event.signal, event.value) for event in script]
    waves = march(system, standing.state, changes, until)
    times, alone, inside = along(waves, 0)
    whole = int(waves.outcome[0]) == 0
    if not whole:
        notes += (f"It could be followed only to {show(float(times[-1]), 's', 5)}.",)
    read = readings(alone, inside)
    volts = waves.case(0).v
    columns, arrays = [], []
    for node, name in enumerate(network.nodes):
        if node:
            columns.append(Column(name, "V", name))
            arrays.append(volts[:, node])
    for part in network.parts:
        terminals = part.kind.terminals if part.nodes else ()
        shown = terminals[:1] if len(terminals) == 2 else terminals
        for terminal in shown:
            label = part.name if len(terminals) == 2 else f"{part.name} {terminal}"
            columns.append(Column(label, "A", part.name))
            arrays.append(read.quantity[part.name, f"{terminal} [A]"])
    for part in network.parts:
        machines = [read.machine[part.name, m.name] for m in part.kind.machines]
        if machines:
            columns.append(Column(part.name, "state", part.name))
            arrays.append(np.array([", ".join(states) for states in zip(*machines)], dtype=object))
    return Trace(network.title, words, times, tuple(columns), tuple(arrays), script, whole, notes)


def _unfit(until: float, start: str) -> list[Fault]:
    faults = []
    if not SHORTEST <= until <= LONGEST:
        problem = f"is {show(until, 's')}; a trace runs for {show(SHORTEST, 's')} to {show(LONGEST, 's')}"
        faults.append(Fault(Place("trace"), "its length", problem, "", "Write, for example: 3 s"))
    if start not in STARTS:
        expected = f"It can be {', '.join(STARTS)}."
        faults.append(Fault(Place("trace"), "its start", f'is "{start}"', expected, "Write: full"))
    return faults


def _words(network: Network, before: dict[tuple[str, str], float], start: str) -> str:
    """Where the march begins: ``mains on, pack full``."""
    said = []
    for part in network.parts:
        for signal, usual in part.kind.signals.items():
            value = before.get((part.name, signal), usual)
            if signal == "mains":
                said.append("mains on" if value else "mains off")
            elif signal == "closed":
                said.append(f"{part.name} {'closed' if value else 'open'}")
    if start:
        said.append(f"pack {start}")
    return ", ".join(dict.fromkeys(said))


def _no_start(network: Network, words: str) -> Fault:
    return Fault(
        Place(network.design.path),
        "the trace",
        f"has no point to start from: with {words} the search for a standing point did not converge",
        "",
        "Start it elsewhere (--start half), or see what stands: tideover sheet BUILD standing",
    )
