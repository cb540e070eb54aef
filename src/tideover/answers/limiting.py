"""Rules 6 to 10: fuses in series, electronic limits, inrush, contacts, and the trip of the board."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from tideover.answers import coordination as rule
from tideover.answers import states
from tideover.answers.allowed import STATED
from tideover.answers.base import Finding
from tideover.answers.draws import Draw, peak_draw
from tideover.answers.fused import CARRIES, SHORT, Coordination, Fused
from tideover.answers.limits import JUDGEMENT, TYPICAL
from tideover.answers.loops import (
    HIGH,
    LOW,
    Loop,
    distinct,
    end_of,
    fed_by,
    figure,
    most,
    resistance,
    source_resistance,
    source_voltage,
    stores,
)
from tideover.answers.rated import CONVERTERS, number
from tideover.network import Placed
from tideover.quantity import show


def series_fuses(c: Coordination) -> Iterator[Finding]:
    """Whether of two fuses in a row the lower one opens alone."""
    pairs = {(u, d) for loop in c.pack_loops for u, d in pairwise(p.name for p in loop.of_kind("fuse"))}
    known = {f.part.name: f for f in c.fuses}
    for up, down in sorted(pairs):
        yield c.finding(
            "upper fuse melts with the lower one",
            rule.selective(known[up].melting(LOW), known[down].melting(HIGH)),
            known[up].part,
            SHORT,
            f"let-through of {down}",
            f"{down} lets up to {show(rule.CLEARING.value * known[down].melting(HIGH), 'A^2 s')} through, {up} "
            f"melts from {show(known[up].melting(LOW), 'A^2 s')}.",
            "Take a larger upper fuse or a smaller lower one.",
            f"{100 * rule.SELECTIVE.value:g} % of the melting integral: {rule.SELECTIVE.source}",
        )


def limits(c: Coordination) -> Iterator[Finding]:
    """Whether board, adapter and converter act before a fuse melts or a conductor is overloaded."""
    for fuse in c.fuses:
        yield from _boards(c, fuse)
        yield from _converters(c, fuse)
    for adapter in states.of_kind(c.network, "adapter"):
        mine = [loop for loop in c.adapter_loops if loop.source is adapter]
        parts = distinct(p for loop in mine for p in loop.parts if not _fused(c, loop, p))
        limit = figure(adapter, "current_limit")
        yield from _spares(c, adapter, limit, "its overload limit", parts)
    for part in states.of_kind(c.network, *CONVERTERS):
        if part.kind.name == "boost" and not number(part, "disconnects"):
            continue
        at_most = c.reach(part)
        if at_most is not None:
            yield from _spares(c, part, at_most, "its current limit", fed_by(c.network, part, "output"))


def _fused(c: Coordination, loop: Loop, part: Placed) -> bool:
    """Whether a fuse on the way to a part protects it."""
    allowed = c.allowed(part)
    before = [f for f in loop.of_kind("fuse") if part in loop.behind(f)]
    return allowed is not None and any(number(f, "rating") <= allowed.current for f in before)


def _spares(c: Coordination, source: Placed, limit: float, what: str, parts: Sequence[Placed]) -> Iterator[Finding]:
    """The least that lies behind a limit speaks for all."""
    known = [(a, p) for p in parts if p.kind.name in CARRIES and (a := c.allowed(p))]
    if not known:
        return
    allowed, part = min(known, key=lambda pair: pair[0].breaks)
    computed = "" if allowed.source == STATED else f" ({allowed.source})"
    yield c.finding(
        "limit of the source lies above what the wire bears",
        rule.limit_spares(limit, allowed),
        part,
        "overload",
        f"{what.removeprefix('its ')} of {source.name}",
        f"{source.name} gives up to {show(limit, 'A')} before {what} acts; {part.name} bears "
        f"{show(allowed.breaks, 'A')}{computed}.",
        f"A fuse of at most {show(allowed.current, 'A')} before {part.name}, or more section.",
        f"an electronic limit stands in for a fuse; {JUDGEMENT}",
    )


def _boards(c: Coordination, fuse: Fused) -> Iterator[Finding]:
    done: set[str] = set()
    for loop in fuse.through:
        for board in loop.of_kind("protection board"):
            if board.name in done:
                continue
            done.add(board.name)
            i = most(c.network, loop)
            short, over = (figure(board, n, HIGH) for n in ("short_delay", "overload_delay"))
            melts = fuse.melting(LOW) / (i * i)
            yield c.finding(
                "fuse melts before the board opens",
                rule.board_first(i, fuse.melting(LOW), short),
                fuse.part,
                f"{SHORT}, {loop.source.name} full, warm and new",
                "earliest melting",
                f"{show(i, 'A')} melt {fuse.part.name} in {show(melts, 's')}; {board.name} opens within "
                f"{show(short, 's')}.",
                "A fuse with a larger melting integral, such as a time-lag one.",
                "melting integral at its low limit, delay of the board at its high one",
            )
            trip = c.trip(board, HIGH)
            yield c.finding(
                "fuse opens before the board trips on an overload",
                rule.overload_first(trip, fuse.rating, over, rule.gates_of(fuse.family)),
                fuse.part,
                "overload",
                "earliest opening",
                f"{board.name} may let {show(trip, 'A')} pass and trips within {show(over, 's')}.",
                "A fuse of a higher rating, if the wire allows it, or a board that trips lower.",
                rule.gates_of(fuse.family).source,
            )


def _converters(c: Coordination, fuse: Fused) -> Iterator[Finding]:
    for part, limit in c.converters_behind(fuse):
        yield c.finding(
            "fuse opens while the converter only limits",
            rule.limit_before_fuse(limit, fuse.rating, rule.gates_of(fuse.family)),
            fuse.part,
            "overload behind the converter",
            f"input current of {part.name} at its limit",
            f"overloaded, {part.name} draws up to {show(limit, 'A')} for as long as it lasts; {fuse.part.name} "
            f"carries {show(rule.gates_of(fuse.family).gates[0].multiple * fuse.rating, 'A')} for long.",
            "A converter with a lower limit, or a larger fuse if the wire allows it.",
            rule.gates_of(fuse.family).source,
        )


def inrushes(c: Coordination) -> Iterator[Finding]:
    """Whether charging what stands behind it wears on a fuse or welds a contact."""
    for fuse in c.fuses:
        filled = [(_filling(c, loop), loop) for loop in fuse.through if stores(c.network, loop) > 0.0]
        if not filled:
            continue
        (i2t, _), loop = max(filled, key=lambda pair: pair[0][0])
        farads = stores(c.network, loop)
        yield c.finding(
            "inrush wears the fuse",
            rule.bears_inrush(i2t, fuse.melting(LOW)),
            fuse.part,
            f"{loop.source.name} full, joined to what stands behind {loop.at}, empty",
            "inrush",
            f"filling {show(farads, 'F')} takes {show(i2t, 'A^2 s')}, {100 * i2t / fuse.melting(LOW):.0f} % of the "
            f"melting integral of {fuse.part.name}.",
            "A resistor or a soft start before the capacitor, or a fuse with a larger melting integral.",
            f"pulse table of fuse makers, for {rule.PULSES.value:g} pulses ({rule.PULSES.reason})",
        )
    yield from _makes(c)


def _filling(c: Coordination, loop: Loop) -> tuple[float, float]:
    """Inrush into the empty capacitors where a loop ends, and its peak. [A^2 s] [A]"""
    volts = source_voltage(c.network, loop.source, HIGH)
    ohms = source_resistance(c.network, loop.source, LOW) + sum(resistance(p, LOW) for p in loop.parts)
    ohms += _series_of_stores(c, loop)
    return rule.inrush(volts, ohms, stores(c.network, loop)), volts / ohms


def _series_of_stores(c: Coordination, loop: Loop) -> float:
    """Resistance of the capacitors where a loop ends, all together. [ohm]"""
    node, siemens = end_of(loop), 0.0
    for part in c.network.parts:
        name = {"capacitor": "ESR", "load": "input_resistance"}.get(part.kind.name, "")
        if part.kind.name in CONVERTERS and part.nodes[0] == node:
            name = "input_resistance"
        if name and part.nodes[0] == node:
            siemens += 1.0 / max(figure(part, name, LOW), 1e-4)
    return 1.0 / siemens if siemens else 0.0


def _makes(c: Coordination) -> Iterator[Finding]:
    """Contacts: a switch closed onto empty capacitors in closed form, a relay as it closes in the outages."""
    peaks: dict[str, tuple[float, str]] = {}
    for loop in c.pack_loops:
        if stores(c.network, loop) > 0.0:
            for part in loop.of_kind("switch"):
                peak = _filling(c, loop)[1]
                if peak > peaks.get(part.name, (0.0, ""))[0]:
                    peaks[part.name] = peak, f"switched on with {loop.source.name} full and capacitors empty"
    for part in states.of_kind(c.network, "relay"):
        seen = c.loaded.transient.get((part.name, "contact_rating"))
        if seen is not None:
            peaks[part.name] = seen.value, seen.state
    for name, (peak, state) in peaks.items():
        part = c.network.part(name)
        allowed = c.allowed(part)
        if allowed is None:
            continue
        yield c.finding(
            "contact makes into an empty capacitor",
            rule.contact_makes(peak, allowed.current),
            part,
            state,
            "peak current of the contact",
            f"the contact of {name} makes {show(peak, 'A')}; it is rated {show(allowed.current, 'A')}.",
            "A resistor or a soft start before the capacitor, or diodes in place of the contact.",
            f"{rule.MAKES.value:g} times the rating: {rule.MAKES.source}",
        )


def trips(c: Coordination) -> Iterator[Finding]:
    """Whether a board trips above what the load and its converter draw at their worst."""
    for board in states.of_kind(c.network, "protection board"):
        draw: Draw | None = peak_draw(c.loaded, board)
        if draw is None:
            continue
        low, nominal = c.trip(board, LOW), c.trip(board)
        yield c.finding(
            "board trips before the converter's peak is over",
            rule.trips_late(low, nominal, draw.high, draw.nominal),
            board,
            draw.state,
            "trip current at its lowest, hot",
            f"{board.name} trips at {show(nominal, 'A')}, at its lowest {show(low, 'A')}; {draw.said}.",
            "A board with less resistance, or a converter that draws less: fewer volts to raise, a higher lockout.",
            f"sense voltage over resistance, 25 % and 0.4 %/K of it; {TYPICAL}",
        )
