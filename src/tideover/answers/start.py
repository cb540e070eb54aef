"""Can it start from every dead state when mains comes back?

Asks what
    Whether the load comes back, and stays, from every dead state that this build can be in: the pack run empty and
    mains back soon or a night later, a protection board that has tripped, a module that switched itself off, and
    every capacitor empty; and whether the pack alone starts it when it is joined or switched on. Whether the pack is
    charged again, and what the rush into empty capacitors does to fuse, board and contacts.

Why it matters
    A supply that carries every short outage may stay dead after the first long one: a board that waits for a charger, a
    charger that waits for pack voltage, an adapter that gives up against a load that starts before its output has
    risen. And the rush at the first start is the largest current the build will ever see.

How computed
    The pack is run down in a march until something gives up, then left for 10 s or for a night. States that need an
    accident or a hand are set, with everything else at 0 V. From each the whole network is marched through the return
    of mains, or through the switch closing, until the load should serve, at mean and at peak load. A part that returns
    to the same state at equal intervals goes round without end and is named with its period; otherwise what each part
    waits for is named. Changes that might mend a start that fails are tried, and random corners of the tolerances.

Blind spots
    Wiring has no inductance here, so the first microseconds of a rush are lower in life than shown. A peak is taken as
    lasting through the whole start. Boards that wake only by a charger when first joined, charger time-outs, and cells
    left far below their cut-off for weeks are not tried; such cells should not be charged at all.

An example that trips it
    A charger that must see 3 V of pack before it starts, behind a protection board that has cut off and waits for a
    charger: both wait for ever.

Cure
    A charger that wakes a pack at 0 V, a button that bridges the board for a moment, an adapter that holds its current
    instead of stopping, a resistor or thermistor in the way of the rush, a wider gap between lockout and restart.

Source
    Pulse allowance by the public pulse table of fuse makers; rush limits of contacts typical, unverified; the window is
    the builder's own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers import start_mends, start_said, start_tables, states
from tideover.answers.base import OPEN, Answer, Series, worst
from tideover.answers.context import Context, settled
from tideover.answers.mask import Mask
from tideover.answers.rushes import Rush, rushes
from tideover.answers.start_read import Outcome, pack_waits, read
from tideover.answers.starts import EMPTY, JOINED, Dead, Starts, cases, dead_states, start
from tideover.cases import corner, join, nominal, random_signs, repeat

Array = NDArray[np.float64]
CHECKS = 8
"""Random corners of the tolerances, for each of two starts."""


@dataclass(frozen=True)
class Tried:
    """All starts of the build as written, read."""

    starts: Starts
    outcomes: tuple[Outcome, ...]
    rushes: tuple[Rush, ...]

    def of(self, dead: Dead) -> list[int]:
        """The cases of one dead state."""
        return [k for k, d in enumerate(self.starts.deads) if d is dead]

    def locked(self, case: int) -> bool:
        """Whether a start leaves the pack locked out."""
        return pack_waits(self.starts.network, self.outcomes[case])


@dataclass(frozen=True)
class Corners:
    """Starts in random corners of the tolerances: how many were tried, how many fail, the first that fails, and the
    figures of that corner each of which alone decides it."""

    tried: int
    fails: int
    first: str
    decisive: str


def answer(context: Context) -> Answer:
    """Whether it starts from every dead state; see the top of this file."""
    network = context.network
    if not context.adapters and not states.of_kind(network, "pack"):
        return Answer("start", OPEN, "There is neither an adapter nor a pack in the drawing, so nothing can start it.")
    mask = Mask.of(network.need)
    deads = dead_states(context)
    which, levels = cases(network, deads)
    starts, cornered = _every_start(context, which, levels)
    tried = Tried(starts, tuple(read(starts, k, mask) for k in range(len(which))), rushes(starts))
    mends = start_mends.mends(context, tried, mask)
    edge = _corners(context, tried, cornered, mask)
    found = settled(start_said.findings(context, mask, tried, mends, edge))
    shown = start_said.pick(tried)
    tables = (
        start_tables.outcomes(tried),
        start_tables.sequence(tried, shown),
        start_tables.rush_table(tried),
        start_tables.mend_table(mends),
        start_tables.ledger(tried),
    )
    return Answer(
        "start",
        worst(f.status for f in found),
        start_said.headline(tried, found),
        found,
        tuple(t for t in tables if t.rows),
        _series(tried, shown),
    )


@dataclass(frozen=True)
class _Cornered:
    """Starts in random corners: of which case each is, all of them together, the first of them, and their signs."""

    of: tuple[int, ...]
    starts: Starts
    first: int
    signs: Array


def _every_start(context: Context, deads: tuple[Dead, ...], levels: tuple[str, ...]) -> tuple[Starts, _Cornered]:
    """The build as written from every dead state, and two of the starts in random corners, in one march."""
    network, n = context.network, len(deads)
    last = {dead.key: k for k, dead in enumerate(deads)}
    asked = [last[key] for key in (EMPTY, JOINED) if key in last]
    signs = random_signs(CHECKS if context.spreads else 0, context.spreads, context.rng)
    of = tuple(k for k in asked for _ in signs)
    parts = [repeat(nominal(network), n)]
    if of:
        parts.append(repeat(corner(network, context.spreads, signs), len(asked)))
    every = start(
        network, join(network, parts), [*deads, *(deads[k] for k in of)], [*levels, *(levels[k] for k in of)]
    )
    return every.only(n), _Cornered(of, every, n, signs)


def _corners(context: Context, tried: Tried, cornered: _Cornered, mask: Mask) -> Corners:
    """The longest wait for mains and the full pack alone, where they hold as written, in random corners."""
    starts, first = cornered.starts, cornered.first
    judged = [j for j, k in enumerate(cornered.of) if tried.outcomes[k].back]
    bad = [j for j in judged if not read(starts, first + j, mask).back]
    if not bad:
        return Corners(len(judged), 0, "", "")
    dead, level = starts.deads[first + bad[0]], starts.levels[first + bad[0]]
    decisive = _decisive(context, mask, dead, level, cornered.signs[bad[0] % CHECKS])
    return Corners(len(judged), len(bad), starts.label(first + bad[0]), decisive)


def _decisive(context: Context, mask: Mask, dead: Dead, level: str, signs: Array) -> str:
    """The figures of a failing corner that would each bring the load back if they alone were as written, or none."""
    network, spreads = context.network, context.spreads
    n = len(spreads)
    batch = corner(network, spreads, signs * (1.0 - np.eye(n)))
    starts = start(network, batch, [dead] * n, [level] * n)
    one = [spreads[j].said(float(signs[j])) for j in range(n) if read(starts, j, mask).back]
    return ", ".join(one[:4])


def _series(tried: Tried, case: int) -> tuple[Series, ...]:
    """Voltage of the load and of each pack's plus, as long as anything happens."""
    starts, network = tried.starts, tried.starts.network
    wave = starts.waves.case(case)
    t = wave.t - starts.deads[case].trigger
    events = [e.t for e in starts.events(case) if e.after not in ("working", "full")]
    until = max(2.0 * max(events, default=0.0), 0.1)
    shown = t <= until
    nodes = {"load": network.at}
    for pack in states.of_kind(network, "pack"):
        plus = pack.nodes[pack.kind.terminals.index("plus")]
        if plus == network.at:
            continue
        nodes[f"{network.nodes[plus]}, to the return"] = plus
    return tuple(
        Series(name, "time", "s", "V", tuple(t[shown].tolist()), tuple(np.round(wave.v[shown, node], 9).tolist()))
        for name, node in nodes.items()
    )
