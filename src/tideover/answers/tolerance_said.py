"""What the tolerance answer says: headline and findings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Answer, Finding
from tideover.answers.context import Context, known
from tideover.answers.limits import YIELD
from tideover.cases import Spread
from tideover.cases.yields import Share, wilks
from tideover.quantity import show

if TYPE_CHECKING:
    from tideover.answers.tolerance import Result

QUANTITY = "share of builds in which it holds"
SOURCE = "extreme value, root-sum-square and yield: ECSS-Q-HB-30-01A; 95 % of builds: engineering judgement"
ROOM = "ambient"
GIVEN_UP = 0.99
"""Share of the margin at which a ride is given up from which it counts as that."""
MATTERS = 0.05
"""Share of the scatter from which a figure is worth narrowing."""


def nothing_varies(key: str) -> Answer:
    """No figure has a tolerance."""
    said = "No figure of this build has a tolerance or a range, so nothing varies: write them, such as 12 V ±5 %."
    return Answer(key, OPEN, said)


def nothing_to_try(key: str) -> Answer:
    """Neither adapter nor pack nor load."""
    return Answer(key, OPEN, "There is neither an adapter nor a pack in the drawing, so nothing feeds the load.")


def called(spread: Spread) -> str:
    """A figure in words: ``brick voltage``, ``ambient``."""
    return f"{spread.part} {spread.name.replace('_', ' ')}".removeprefix("box ")


def percent(share: float) -> str:
    """A share in percent, never rounded up to all: 99.95 % stays 99.95 %."""
    return show(share, "%", 4)


def between(share: Share) -> str:
    """An interval in words: ``92.6 % to 94.7 %``."""
    return f"{show(share.low, '%')} to {show(share.high, '%')}"


def level(r: Result) -> str:
    """The verdict in words."""
    if r.judged.limit is None:
        return "nothing asked"
    if r.status == OPEN:
        return "not known"
    if r.status == HOLDS:
        return "holds at the worst corner"
    if r.status == TIGHT and r.keeps(r.rss):
        return "holds by root-sum-square, not at the worst corner"
    return f"holds in {percent(r.share.value)} of builds"


def headline(context: Context, asked: Sequence[Result], every: Share, interrupted: bool) -> str:
    """One line with numbers."""
    cut = f" (interrupted: {every.count} of {context.samples} samples)" if interrupted else ""
    if not asked:
        return f"Nothing is asked of this build that a tolerance could spoil.{cut}"
    if not every.count:
        return f"Sampling was interrupted before a piece was finished, so no share of builds is known.{cut}"
    builds = f"{every.count} builds" if every.count > 1 else "1 build"
    text = f"Of {builds} drawn within their tolerances {percent(every.value)} hold in everything"
    text += f" ({between(every)}){cut}"
    weak = min(asked, key=lambda r: (r.share.value, r.status != TIGHT))
    if all(r.status == HOLDS for r in asked):
        return f"{text}, and none fails with every figure at its worst."
    if weak.share.value < 1.0:
        text += f"; weakest: {weak.judged.name}, {percent(weak.share.value)}"
        return text + (f", missed mostly with {' and '.join(weak.missed)}." if weak.missed else ".")
    only = [r.judged.short for r in asked if r.status == TIGHT]
    return f"{text}; only with every figure at its worst it does not: {', '.join(only)}."


def strongest(r: Result) -> tuple[str, float] | None:
    """The figure that makes most of the scatter, if any makes much."""
    return r.shares[0] if r.shares and r.shares[0][1] >= MATTERS else None


def finding(context: Context, r: Result) -> Finding:
    """One quantity, judged."""
    j, share, status = r.judged, r.share, r.status
    judged = Finding(
        name=f"{j.bad} at the tolerance limits",
        status=status,
        subject=j.subject,
        state=f"{share.count} samples, {j.name}",
        case=r.extreme.label if r.extreme is not None else "nominal",
        why=_why(r),
        mend="" if status == HOLDS else _mend(r),
        source=SOURCE,
        place=j.place,
    )
    if status == OPEN:
        return judged
    if status == HOLDS and r.extreme is not None and j.limit is not None:
        corner, margin = r.extreme.value, (r.extreme.value - j.limit) * (1.0 if j.worse == "low" else -1.0)
        said = f"every figure at its worst; {share.count} samples hold too"
        return replace(
            judged, state=said, quantity=j.name, value=corner, unit=j.unit, limit=j.limit, margin=margin
        )
    value = known(share.value)
    return replace(
        judged, quantity=QUANTITY, value=value, unit="%", limit=YIELD.value, margin=known(share.value - YIELD.value)
    )


def _why(r: Result) -> str:
    """The three ways of counting, in one sentence."""
    j, share, extreme = r.judged, r.share, r.extreme
    assert j.limit is not None
    if extreme is None:
        return "the work was interrupted before its worst corner was known; run it again"
    limit = show(j.limit, j.unit, 4)

    def value(x: float) -> str:
        if np.isfinite(x) and x <= j.given_up * GIVEN_UP:
            return f"{show(j.given_up, j.unit, 2)} or worse, where a ride is given up"
        return show(x, j.unit, 4) if np.isfinite(x) else j.none

    text = f"{'as written' if r.keeps(extreme.nominal) else 'as written already'} it is {value(extreme.nominal)}"
    if not np.isfinite(extreme.nominal):
        text = f"already as written {j.none}"
    if np.isfinite(extreme.value):
        text += f", with every figure at its worst {value(extreme.value)}"
    elif np.isfinite(extreme.nominal):
        text += f", and with every figure at its worst {j.none}"
    if np.isfinite(r.rss) and r.rss > j.given_up * GIVEN_UP:
        text += f", by root-sum-square {value(r.rss)}"
    text += f"; the limit is {limit}"
    if extreme.surprised and value(extreme.value) != value(extreme.nominal):
        text += "; a random corner was worse than the one that single figures point to, so worse ones may exist"
    if not share.count:
        return text + "; sampling was interrupted before a piece was finished"
    missed = share.count - share.held
    if missed:
        text += f"; {missed} of {share.count} samples miss it ({between(share)} hold)"
        return text + (f", mostly those with {' and '.join(r.missed)}" if r.missed else "")
    bound = show(wilks(share.count), "%", 4)
    return f"{text}; every sample keeps it, which says with 95 % confidence that {bound} of builds do"


def _mend(r: Result) -> str:
    """Move the middle, or narrow what scatters most."""
    j = r.judged
    if r.status == OPEN:
        return "Ask again and let the sampling finish."
    assert j.limit is not None
    ways = []
    if r.points and r.share.count >= 100:
        edge = r.points[0 if j.worse == "low" else -1][0]
        short = (j.limit - edge) * (1.0 if j.worse == "low" else -1.0)
        if np.isfinite(short) and short > 0.0 and edge > j.given_up * GIVEN_UP:
            ways.append(f"99 % of builds would hold if it lay {show(short, j.unit, 2)} {_better(j.worse)}")
    top = strongest(r)
    if r.extreme is not None and not r.keeps(r.extreme.nominal):
        ways.append("it misses its limit as written: mend that first, no tolerance is to blame")
    elif r.missed:
        names = " and ".join(name.rsplit(" ", 1)[0] for name in r.missed)
        ways.append(f"look to {names}: they set apart what misses it")
    elif top:
        said = f"{top[0]} makes {show(top[1], '%', 2)} of its scatter"
        ways.append(said + (": keep the room's range narrower" if top[0] == ROOM else ": a narrower one helps most"))
    if not ways:
        ways.append("Move what is written away from the limit, or narrow the figures named")
    text = "; ".join(ways)
    return f"{text[0].upper()}{text[1:]}."


def _better(worse: str) -> str:
    return "higher" if worse == "low" else "lower"


def together(context: Context, asked: Sequence[Result], every: Share) -> list[Finding]:
    """Where no quantity fails alone, but too many builds miss one or another."""
    if any(r.status in (FAILS, OPEN) for r in asked) or every.high >= YIELD.value or not every.count:
        return []
    return [
        Finding(
            name="one need or another is missed at the tolerance limits",
            status=FAILS,
            subject=context.network.need.at,
            state=f"{every.count} samples, everything that is asked",
            quantity="share of builds in which all holds",
            value=every.value,
            unit="%",
            limit=YIELD.value,
            margin=every.value - YIELD.value,
            why=f"each need alone is kept often enough, but only {between(every)} of builds keep all of them",
            mend="Begin with the need that the fewest builds keep.",
            source=SOURCE,
            place=context.need_place,
        )
    ]
