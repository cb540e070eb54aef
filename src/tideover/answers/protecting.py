"""Rules 1 to 5: whether a fuse carries the load, protects what lies behind it, and opens in a short circuit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from tideover.answers import coordination as rule
from tideover.answers import states
from tideover.answers.allowed import CONDUCTORS, STATED, section_for, withstands
from tideover.answers.base import HOLDS, OPEN, Finding
from tideover.answers.coordination import Verdict
from tideover.answers.fused import CARRIES, SHORT, Coordination, Fused
from tideover.answers.limits import JUDGEMENT, TYPICAL
from tideover.answers.loaded import Worst
from tideover.answers.loops import (
    HIGH,
    Loop,
    distinct,
    figure,
    least,
    most,
    source_voltage,
)
from tideover.answers.policies import reserve
from tideover.answers.rated import number
from tideover.laws.fuses import opening_time
from tideover.network import Placed
from tideover.quantity import show


def loads(c: Coordination) -> Iterator[Finding]:
    """Whether the fuse carries the load."""
    for fuse in c.fuses:
        mean = c.loaded.standing.get((fuse.part.name, "rating", False))
        if mean is None:
            continue
        peak = c.loaded.standing.get((fuse.part.name, "rating", True))
        row = "fuse current, blade" if fuse.family == "blade" else "fuse current, 5x20"
        kept = reserve(row, c.network.need.policy)
        verdict = rule.carries(mean.value, mean.nominal, peak.value if peak else 0.0, fuse.warm, kept.figure)
        told: Worst = peak if peak is not None and verdict.value == peak.value else mean
        found = c.finding(
            "fuse is loaded too near its rating",
            verdict,
            fuse.part,
            told.state,
            "current",
            f"{fuse.part.name} carries {show(told.value, 'A')}; rated {show(fuse.rating, 'A')}, in air of "
            f"{show(c.loaded.air, 'K')} {show(fuse.warm, 'A')}, of which "
            f"{100 * (verdict.limit or 0.0) / fuse.warm:.0f} % may be used.",
            "Take the next larger fuse, if every conductor behind it allows that.",
            f"{c.network.need.policy} policy, a screen: {kept.source}",
        )
        yield replace(found, case=told.case)


def conductors(c: Coordination) -> Iterator[Finding]:
    """Whether what lies behind a fuse bears what the fuse carries and what it lets through: the worst of each."""
    for fuse in c.fuses:
        behind = _behind(c, fuse)
        found: list[list[Finding]] = [
            [f for part, loop in behind if (f := _protects(c, fuse, part, loop))],
            [f for part, loop in behind if (f := _survives(c, fuse, part, loop))],
            [f for part, loop in behind if (f := _contact(c, fuse, part, loop))],
        ]
        for some in found:
            bad = [f for f in some if f.status != HOLDS]
            yield from bad or sorted(some, key=lambda f: (f.limit or 0.0) / max(f.value or 1e-9, 1e-9))[:1]


def _behind(c: Coordination, fuse: Fused) -> list[tuple[Placed, Loop]]:
    """Conductors that a fuse protects, each with the loop that ends with it, or the first that passes it."""
    found: dict[str, tuple[Placed, Loop]] = {}
    for loop in fuse.through:
        for part in loop.behind(fuse.part):
            if part.kind.name in CARRIES and (part.name not in found or loop.at == part.name):
                found[part.name] = part, loop
    return list(found.values())


def _protects(c: Coordination, fuse: Fused, part: Placed, loop: Loop) -> Finding | None:
    allowed = c.allowed(part)
    if allowed is None:
        return None
    held = min((c.trip(b, HIGH) for b in loop.of_kind("protection board")), default=np.inf)
    computed = "" if allowed.source == STATED else f" ({allowed.source})"
    over = fuse.rating > allowed.current
    return c.finding(
        "fuse does not protect the conductor behind it",
        rule.protects(fuse.rating, allowed, held),
        part,
        "overload",
        f"rating of {fuse.part.name} over what {part.name} may carry",
        f"{fuse.part.name} carries {show(fuse.rating, 'A')} for good, {part.name} may carry "
        f"{show(allowed.current, 'A')}{computed}"
        + (f"; until it trips the board holds it to {show(held, 'A')}." if over and np.isfinite(held) else "."),
        f"Take a fuse of at most {show(allowed.current, 'A')}, or "
        + ("more section." if part.kind.name in CONDUCTORS else f"a {part.kind.name} of a higher rating."),
        f"a fuse protects what carries its rating; {JUDGEMENT}",
    )


def _survives(c: Coordination, fuse: Fused, part: Placed, loop: Loop) -> Finding | None:
    bears = withstands(part)
    found = c.let_through(fuse, loop, part)
    if bears is None or found is None:
        return None
    let, i = found
    return c.finding(
        "conductor burns before the fuse has cleared",
        rule.survives(let, bears, c.board_lets(loop, i) <= bears),
        part,
        SHORT,
        f"let-through of {fuse.part.name}",
        f"in a short of up to {show(i, 'A')} {fuse.part.name} lets {show(let, 'A^2 s')} through; {part.name} survives "
        f"{show(bears, 'A^2 s')}.",
        f"Take a quicker or smaller fuse, or a section of at least {show(section_for(let), 'm^2')}.",
        f"adiabatic limit, IEC 60364-4-43 as recalled: {TYPICAL}",
    )


def _contact(c: Coordination, fuse: Fused, part: Placed, loop: Loop) -> Finding | None:
    allowed = c.allowed(part)
    if part.kind.name not in ("relay", "switch") or allowed is None:
        return None
    found = c.let_through(fuse, loop, part)
    if found is None:
        return None
    let, i = min(found[0], c.board_lets(loop, found[1])), found[1]
    return c.finding(
        "contact welds before the short is cleared",
        rule.contact_bears(let, allowed.current),
        part,
        SHORT,
        "let-through of fuse or board, whichever acts first",
        f"a short of up to {show(i, 'A')} lets {show(let, 'A^2 s')} through the contact of {part.name}.",
        "Take a contact of a higher rating, or a quicker fuse.",
        f"{rule.CONTACT_SHORT.reason}; {rule.CONTACT_SHORT.source}",
    )


def shorts(c: Coordination) -> Iterator[Finding]:
    """Whether the smallest short opens a fuse, the source can, and the largest can be interrupted."""
    for fuse in c.fuses:
        if not fuse.through:
            yield from _behind_adapter(c, fuse)
            continue
        yield _slowest(c, fuse)
        near = min(fuse.through, key=lambda loop: len(loop.parts))
        i = least(c.network, near)
        yield c.finding(
            "source cannot open the fuse",
            rule.delivers(i, fuse.rating),
            fuse.part,
            f"{SHORT}, {near.source.name} nearly empty, cold and aged",
            f"{SHORT} current just behind it",
            f"{near.source.name} gives {show(i, 'A')} at its weakest, {i / fuse.rating:.1f} times the rating.",
            "Take a smaller fuse, or cells with less resistance.",
            f"{rule.DELIVERS.value:g} times: {rule.DELIVERS.source}",
        )
        yield from _interrupts(c, fuse, near)


def _behind_adapter(c: Coordination, fuse: Fused) -> Iterator[Finding]:
    """A fuse that only an adapter feeds: its limit is reached long before the fuse opens."""
    mine = [loop for loop in c.adapter_loops if fuse.part in loop.parts]
    for adapter in distinct(loop.source for loop in mine):
        limit = figure(adapter, "current_limit")
        verdict = rule.delivers(limit, fuse.rating)
        yield c.finding(
            "source cannot open the fuse",
            verdict,
            fuse.part,
            f"{SHORT} on mains",
            "current limit of the adapter",
            f"{adapter.name} gives no more than {show(limit, 'A')}, {limit / fuse.rating:.1f} times the rating"
            + (": its own limit protects, the fuse hardly does." if verdict.status != HOLDS else "."),
            "Take a smaller fuse, or leave the protection to the adapter and size the wire for its limit.",
            f"{rule.DELIVERS.value:g} times: {rule.DELIVERS.source}",
        )


def _slowest(c: Coordination, fuse: Fused) -> Finding:
    ends = [(least(c.network, loop), loop) for loop in fuse.through]
    i, loop = min(ends, key=lambda pair: pair[0])
    boards = loop.of_kind("protection board")
    acts = [b for b in boards if c.trip(b, HIGH) < i]
    opening = opening_time(i, fuse.rating, rule.gates_of(fuse.family).gates)
    if np.isinf(opening.t_max):
        time = "need not open at all"
    else:
        time = f"opens after {show(float(opening.t_min), 's')} to {show(float(opening.t_max), 's')}"
    verdict = rule.opens_fast(i, fuse.rating, fuse.family, bool(acts))
    return c.finding(
        "short circuit is cleared slowly",
        verdict,
        fuse.part,
        f"{SHORT} behind {loop.at}, {loop.source.name} nearly empty, cold and aged",
        f"{SHORT} current" if verdict.unit == "A" else "latest opening",
        f"at {show(i, 'A')}, {i / fuse.rating:.1f} times its rating, {fuse.part.name} {time}"
        + (f"; {acts[0].name} trips first." if acts else "."),
        "Take a smaller fuse, shorter or thicker wire.",
        rule.gates_of(fuse.family).source,
    )


def _interrupts(c: Coordination, fuse: Fused, near: Loop) -> Iterator[Finding]:
    i, v = most(c.network, near), source_voltage(c.network, near.source, HIGH)
    verdicts = rule.interrupts(i, v, number(fuse.part, "breaking_capacity"), number(fuse.part, "voltage_rating"))
    for verdict, what, name in zip(
        verdicts,
        ("breaking capacity", "direct voltage rating"),
        ("fuse cannot break the short circuit", "fuse cannot break the voltage"),
    ):
        if verdict.status != OPEN:
            yield c.finding(
                name,
                verdict,
                fuse.part,
                f"{SHORT}, {near.source.name} full, warm and new",
                what,
                f"{near.source.name} drives up to {show(i, 'A')} at {show(v, 'V')}.",
                "Take a fuse that states a direct-current breaking capacity and voltage above these.",
                "voltage over the least resistance of the loop",
            )


def bare(c: Coordination) -> Iterator[Finding]:
    """Conductors that a pack feeds without a fuse between: all of them in one finding for each pack."""
    for pack in states.of_kind(c.network, "pack"):
        mine = [loop for loop in c.pack_loops if loop.source is pack]
        fused = [loop for loop in mine if loop.of_kind("fuse")]
        bare = [loop for loop in mine if not loop.of_kind("fuse") and loop.out and loop.out[-1].kind.name in CARRIES]
        if not mine or (fused and not bare):
            continue
        boards = [b for loop in mine for b in loop.of_kind("protection board")]
        worst = max(mine, key=lambda loop: most(c.network, loop))
        i = most(c.network, worst)
        names = ", ".join(dict.fromkeys(loop.at for loop in bare))
        said = f"{pack.name} drives up to {show(i, 'A')} into a short"
        said += f"; no fuse stands before {names}" if names else "; no fuse stands behind it"
        said += f", only {boards[0].name}." if boards else "."
        yield c.finding(
            "pack is not fused",
            Verdict(rule.TIGHT if boards else rule.FAILS, i, None, "A"),
            pack,
            SHORT,
            f"{SHORT} current without a fuse",
            said,
            "Put a fuse at the pack, before anything else.",
            f"a fuse at the pack is for what stands before the board, and for its failure; {JUDGEMENT}",
        )
