"""What the endurance answer says: findings and tables from runs that were marched and read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT, Answer, Finding
from tideover.answers.cells_built import poorly_fitted
from tideover.answers.context import Context
from tideover.answers.runs import Aged, Runs
from tideover.answers.states import of_kind
from tideover.answers.stoppers import Stopper
from tideover.answers.waterfall import Waterfall
from tideover.cases import written
from tideover.quantity import show
from tideover.solve import OUTCOMES

if TYPE_CHECKING:
    from tideover.answers.endurance import Case

RUNTIME_TIGHT = 0.1
"""Share of the runtime asked for below which a pass is tight: the scatter of cells of one lot (engineering
judgement)."""
PEAK_EARLY = 0.05
"""Share of a run by which a peak may end it sooner before that is worth a word: peaks are tried at points about
2 % of the run apart there."""
SOURCE = "run on the pack, from the charge its charger leaves it at until the load leaves its window or resets"


def findings(
    context: Context,
    cases: Sequence[Case],
    old: Mapping[str, Aged],
    effects: Sequence[tuple[str, float]],
    falls: Waterfall,
) -> list[Finding]:
    """Runtime of every case, the peak, the stopper, chatter, and energy that never arrives."""
    new = cases[0]
    return [
        *(_runtime(context, one, one is cases[-1], old, effects) for one in cases),
        _peak(context, cases),
        _stops(context, new),
        _chatter(context, cases),
        _stranded(context, falls, new),
        *(f for pack in of_kind(context.network, "pack") for f in poorly_fitted(context, pack)),
    ]


def _runtime(
    context: Context, one: Case, every: bool, old: Mapping[str, Aged], effects: Sequence[tuple[str, float]]
) -> Finding:
    """One case against the runtime asked for. All that is bad at once is unlikely: it makes tight, never fails."""
    asked = context.network.need.runtime
    margin = None if asked is None else one.runtime - asked
    if (one.failed and (margin is None or margin < 0.0)) or margin is None or asked is None:
        status = OPEN
    elif margin < 0.0:
        status = TIGHT if every else FAILS
    else:
        status = TIGHT if margin < RUNTIME_TIGHT * asked else HOLDS
    why = [ends(one)]
    if "aged" in one.label:
        why += [f"{name}: {a.words}" for name, a in old.items()]
    if one.figures and effects:
        why.append("; ".join(f"{what} alone {_changes(dt)}" for what, dt in effects[:3]))
    if asked is None:
        why.append("the need asks for no runtime, so there is nothing to judge it by")
    short = margin is not None and margin < 0.0
    return Finding(
        name="pack runs out too early",
        status=status,
        subject=one.stops[0].part if one.stops and one.stops[0].acted else "",
        state=f"on pack, {one.label}",
        quantity="runtime at mean load",
        value=one.runtime,
        unit="s",
        limit=asked,
        margin=margin,
        case=one.figures or "nominal",
        why="; ".join(why),
        mend=_more_cells(context, one, asked) if short and asked else "",
        source=SOURCE,
        place=context.need_place,
    )


def ends(one: Case) -> str:
    if not one.stops:
        return "there is no standing point on the full pack: it cannot carry the load at all"
    if one.ended:
        return f"nothing had ended it when the count was stopped at {show(one.runtime, 's')}"
    first = one.stops[0]
    if one.failed:
        return "the march stopped before the load did: no voltage satisfies the circuit from there on"
    return f"ended by the {first.name}" if first.acted else "the load leaves its window"


def _lasting(one: Case) -> str:
    """A runtime in words; of a run that nothing had ended yet it is known to be more."""
    return f"{'more than ' if one.ended else ''}{show(one.runtime, 's')}"


def _changes(dt: float) -> str:
    return f"{'adds' if dt > 0 else 'takes'} {show(abs(dt), 's')}"


def _more_cells(context: Context, one: Case, asked: float) -> str:
    """Cells side by side that would make up for what is missing, in proportion to the runtime."""
    packs = of_kind(context.network, "pack")
    beside = written(context.network, (packs[0].name, "parallel"))
    if one.runtime <= 0.0:
        return "Give it a pack and a converter that can carry the load at all."
    wanted = int(np.ceil(beside * asked / one.runtime))
    return f"About {wanted} cells side by side instead of {beside:.0f}, or a load smaller in the same proportion."


def _peak(context: Context, cases: Sequence[Case]) -> Finding:
    """Whether a peak ends the run before the mean load does: the worst case that matters."""
    asked = context.network.need.runtime
    worst = min(cases[:-1], key=lambda c: c.holds_until)
    early = worst.peak_until < (1.0 - PEAK_EARLY) * worst.runtime
    short = asked is not None and worst.peak_until < asked
    status = FAILS if early and short else TIGHT if early else HOLDS
    return Finding(
        name="peak of the load ends it early",
        status=status,
        subject=worst.stops[0].part if worst.stops else "",
        state=f"on pack, {worst.label}",
        quantity="time until a peak no longer holds",
        value=worst.peak_until,
        unit="s",
        limit=asked,
        margin=None if asked is None else worst.peak_until - asked,
        case=worst.figures or "nominal",
        why=f"from then on a peak finds the load outside its window, though its mean is carried until "
        f"{show(worst.runtime, 's')}"
        if early
        else "peaks are carried nearly as long as the mean load is",
        mend="Less resistance from the cells to the converter, a lower lockout, or storage at the converter's input."
        if early
        else "",
        source="standing points at peak load along the run, slow cell resistances as a short peak meets them",
        place=context.need_place,
    )


def _stops(context: Context, new: Case) -> Finding:
    """What ends the run, and what would be next."""
    first = new.stops[0] if new.stops else None
    others = [s for s in new.stops if not s.acted and s.unit][:3]
    following = "; ".join(_next(s) for s in others)
    hard = first is not None and _switched(new) and not first.name.startswith("lockout")
    return Finding(
        name="run ends abruptly, by a protective part" if hard else "run ends at a limit",
        status=TIGHT if hard and not new.ended else HOLDS,
        subject=first.part if first and first.acted else "",
        state=f"on pack, {new.label}",
        quantity=first.quantity if first else "",
        value=first.value if first and first.unit else None,
        unit=first.unit if first else "",
        limit=first.limit if first and first.unit else None,
        why=f"{ends(new)}; {following}" if following else ends(new),
        mend="Let the converter's lockout end the run before the board or fuse does." if hard and not new.ended else "",
        source="events before the end of the run; the others at the pace of its last part",
        place=context.place(first.part) if first and first.part else "",
    )


def _next(s: Stopper) -> str:
    where = f"{s.quantity} {show(s.value, s.unit)}, limit {show(s.limit, s.unit)}"
    if s.left < 0.0:
        return f"{s.name} already passed ({where})"
    if not np.isfinite(s.left):
        return f"{s.name} does not come nearer ({where})"
    return f"{s.name} about {show(s.left, 's', 2)} later ({where})"


def _chatter(context: Context, cases: Sequence[Case]) -> Finding:
    hunting = [c for c in cases if c.chatters and not c.ended and _switched(c)]
    part = next((s.part for c in hunting for s in c.stops if s.acted), "")
    return Finding(
        name="supply starts and stops when the pack is nearly empty",
        status=TIGHT if hunting else HOLDS,
        subject=part,
        state=f"on pack, {hunting[0].label}, at the end of the run" if hunting else "at the end of every run",
        quantity="cases that chatter",
        value=float(len(hunting)),
        limit=0.0,
        margin=-float(len(hunting)),
        why="once the load is off the pack recovers above the restart voltage, the load starts, the pack sags again"
        if hunting
        else "what has stopped stays off",
        mend="A wider gap between lockout and restart, or a latch that waits for mains." if hunting else "",
        source="standing point just past the end of the run, the load having let go",
        place=context.place(part) if part else "",
    )


def _switched(one: Case) -> bool:
    """Whether a part switched off at the end, rather than a voltage sinking out of its window."""
    return bool(one.stops) and one.stops[0].acted and not one.stops[0].name.startswith(("window", "limit"))


def _stranded(context: Context, falls: Waterfall, new: Case) -> Finding:
    left = sum(s.energy for s in falls.steps if s.name in ("left in the cells", "not charged"))
    share = falls.delivered / falls.label
    below = any(s.name == "left in the cells" and s.energy < 0.0 for s in falls.steps)
    why = f"{show(falls.delivered, 'J')} of {show(falls.label, 'J')} on the label arrive, {100 * share:.0f} %"
    if below:
        why += "; the cells are run below the 0 % of their typical curve, which is continued straight there"
    return Finding(
        name="label energy does not arrive",
        status=HOLDS,
        subject=of_kind(context.network, "pack")[0].name,
        state=f"on pack, {new.label}",
        quantity="energy never used: not charged, or left in the cells",
        value=left,
        unit="J",
        why=why,
        source="waterfall of the run; losses by its own energy ledger",
    )


def does_not_start(context: Context, first: Runs) -> Answer:
    """The full pack does not carry the load for an instant."""
    code = OUTCOMES[int(first.standing[0])]
    low = context.network.need.window[0]
    v = None
    if first.outcome(0) >= 0:
        v = float(first.wave(0)[1][0, context.network.at])
        why = f"with mains away and the pack full the load stands at {show(v, 'V', 4)}"
    else:
        why = f"with mains away and the pack full: {code}"
    known = code != "not converged"
    finding = Finding(
        name="pack cannot carry the load at all",
        status=FAILS if known else OPEN,
        subject=of_kind(context.network, "pack")[0].name,
        state="on pack, full, mean load",
        quantity="voltage at the load",
        value=v,
        unit="V",
        limit=low,
        margin=None if v is None else v - low,
        why=why,
        mend="See the answers on standing points and on drops." if known else "",
        source="standing point of the whole network",
        place=context.need_place,
    )
    said = "The full pack cannot carry the load at all"
    said += f": it stands at {show(v, 'V', 4)}, {show(low, 'V', 4)} are asked for." if v is not None else "."
    open_said = "Could not be judged: the search for a standing point on the full pack did not converge."
    return Answer("endurance", finding.status, said if known else open_said, (finding,))


def headline(context: Context, cases: Sequence[Case], found: Sequence[Finding]) -> str:
    """One line with numbers."""
    asked = context.network.need.runtime
    new, last = cases[0], cases[-1]
    low = min(cases[:-1], key=lambda c: c.runtime)
    text = f"It carries the load for {_lasting(new)} new at 25 °C"
    if low is not new:
        text += f", {_lasting(low)} {low.label}"
    text += f", {_lasting(last)} with everything against it"
    if asked is not None:
        text += f"; {show(asked, 's')} are asked for"
    if new.peak_until < (1.0 - PEAK_EARLY) * new.runtime:
        text += f"; a peak ends it at {show(new.peak_until, 's')}"
    first = new.stops[0] if new.stops else None
    text += f". It ends by the {first.name}." if first and first.acted else "."
    unsure = [pack.name for pack in of_kind(context.network, "pack") if pack.doubts]
    return text + (f" Do not rely on it: the fit of {' and '.join(unsure)} is poor." if unsure else "")
