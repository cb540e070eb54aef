"""Tables and curves of the ratings answer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tideover.answers import coordination as rule
from tideover.answers import states
from tideover.answers.allowed import withstands
from tideover.answers.base import Series, Table
from tideover.answers.loaded import Loaded
from tideover.answers.loops import distinct, least, loops, most
from tideover.answers.policies import SHARES, reserve
from tideover.answers.rated import number
from tideover.answers.used import Used
from tideover.laws.fuses import opening_time
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.answers.fused import Coordination, Fused

LONGEST, SHORTEST = 1e4, 1e-4
"""Times at which the curves end. [s]"""
POINTS = 40


def shares(used: list[Used]) -> Table:
    """How much of each rating is used, the most used first."""
    rows = [
        (
            u.part.name,
            u.rating.what,
            _told(u, u.worst.value),
            _told(u, u.rated),
            u.share,
            u.status,
            u.worst.state,
        )
        for u in sorted(used, key=lambda u: -u.share)
    ]
    columns = (
        ("part", ""),
        ("reading", ""),
        ("worst", ""),
        ("rating", ""),
        ("of limit", "%"),
        ("status", ""),
        ("where", ""),
    )
    return Table("How much of each rating is used", columns, tuple(rows))


def _told(u: Used, value: float) -> str:
    return show(value, u.rating.unit)


def policy(used: list[Used], name: str) -> Table:
    """What the policy of the need leaves of the ratings that are judged, and where that comes from."""
    rows = []
    for row in dict.fromkeys(u.row for u in used):
        kept = reserve(row, name)
        share = f"{100.0 * kept.figure:.0f} %" if row in SHARES else f"{kept.figure:.0f} K under it"
        rows.append((row, share, kept.source))
    return Table(f"What the {name} policy leaves, a screen", (("of", ""), ("leaves", ""), ("source", "")), tuple(rows))


def peaks(loaded: Loaded) -> Table:
    """Peaks of current in the outages that were ridden."""
    rows = []
    for kind, name in (
        ("fuse", "rating"),
        ("protection board", "continuous_rating"),
        ("relay", "contact_rating"),
    ):
        for part in states.of_kind(loaded.context.network, kind):
            seen = loaded.transient.get((part.name, name))
            if seen is not None:
                pulse = loaded.pulses.get(part.name) if kind == "fuse" else None
                rows.append((part.name, seen.value, pulse.value if pulse else None, seen.state))
    columns = (("part", ""), ("peak", "A"), ("of melting", "%"), ("when", ""))
    return Table("Peaks of current in outages, as drawn", columns, tuple(rows))


def shorts(c: Coordination) -> Table:
    """Short-circuit currents of every loop that a pack feeds."""
    rows = []
    for loop in c.pack_loops:
        fuses = ", ".join(p.name for p in loop.of_kind("fuse"))
        boards = ", ".join(p.name for p in loop.of_kind("protection board"))
        rows.append((loop.at, loop.source.name, most(c.network, loop), least(c.network, loop), fuses, boards))
    columns = (("short behind", ""), ("fed by", ""), ("most", "A"), ("least", "A"), ("fuse", ""), ("board", ""))
    return Table("Short-circuit currents", columns, tuple(rows))


# --- time over current ---------------------------------------------------------------------------------------


def curves(c: Coordination) -> tuple[Series, ...]:
    """Opening times over current of every fuse and of what stands with it; axes in decades."""
    return tuple(curve for fuse in c.fuses if fuse.through for curve in _of(c, fuse))


def _of(c: Coordination, fuse: Fused) -> list[Series]:
    top = most(c.network, min(fuse.through, key=lambda loop: len(loop.parts)))
    amps = np.geomspace(fuse.rating, max(top, 12.0 * fuse.rating), POINTS)
    opening = opening_time(amps, fuse.rating, rule.gates_of(fuse.family).gates)
    sides = (("earliest", opening.t_min), ("middle", opening.t_mid), ("latest", opening.t_max))
    found = [_curve(f"{fuse.part.name}, {side}", amps, t) for side, t in sides if np.isfinite(t).any()]
    boards = distinct(b for loop in fuse.through for b in loop.of_kind("protection board"))
    for board in boards:
        trip = c.trip(board)
        short = trip * number(board, "short_voltage") / number(board, "sense_voltage")
        over, quick = number(board, "overload_delay"), number(board, "short_delay")
        x, y = [trip, trip, short, short], [LONGEST, over, over, quick]
        if top > short:
            x, y = [*x, top], [*y, quick]
        found.append(_curve(f"{board.name}, trips", np.array(x), np.array(y)))
    thinnest = _thinnest(c, fuse, float(amps[-1]))
    if thinnest is not None:
        found.append(thinnest)
    for name, limit in _limits(c, fuse):
        found.append(_curve(f"{name}, gives no more", np.array([limit, limit]), np.array([SHORTEST, LONGEST])))
    return found


def _limits(c: Coordination, fuse: Fused) -> list[tuple[str, float]]:
    """Electronic limits beside a fuse: of the converters it feeds, and of adapters that feed it."""
    found = [(part.name, limit) for part, limit in c.converters_behind(fuse)]
    for adapter in states.of_kind(c.network, "adapter"):
        if any(fuse.part.name == p.name for loop in loops(c.network, adapter) for p in loop.parts):
            found.append((adapter.name, number(adapter, "current_limit")))
    return found


def _thinnest(c: Coordination, fuse: Fused, top: float) -> Series | None:
    """What the thinnest conductor behind a fuse bears: adiabatic for seconds, its allowance for good."""
    known = [(b, p) for loop in fuse.through for p in loop.behind(fuse.part) if (b := withstands(p)) is not None]
    if not known:
        return None
    bears, part = min(known, key=lambda pair: pair[0])
    allowed = c.allowed(part)
    times = np.geomspace(min(max(bears / top**2, SHORTEST), 1.0), rule.ADIABATIC.value, 12)
    x, y = np.sqrt(bears / times), times
    if allowed is not None:
        x, y = np.append(x, [allowed.current, allowed.current]), np.append(y, [1e3, LONGEST])
    return _curve(f"{part.name}, bears", x, y)


def _curve(name: str, amps: np.ndarray, seconds: np.ndarray) -> Series:
    kept = np.isfinite(seconds) & (seconds > 0.0) & np.isfinite(amps)
    y = np.clip(seconds[kept], SHORTEST, LONGEST)
    return Series(name, "current", "A", "s", tuple(amps[kept].tolist()), tuple(y.tolist()), log=True)
