"""Is anything past its rating, and do fuse, board, wire and converter trip in the right order?

Asks what
    For every rating of every part, how much of it is used in the worst state, corner and outage, against what the
    policy of the need leaves. For every fuse, board, and limit of an adapter or converter, ten rules: what must act
    first, what survives until it does, and whether the source can make it act at all.

Why it matters
    A part at its rating works on the day it is built. A fuse above what the wire behind it carries protects nothing; a
    fuse that a tired, cold pack cannot open is a resistor; a board that trips before the converter's own limit takes
    the load away for no fault at all.

How computed
    Standing points in every state, the load off, at its mean and at its peak; the state that is worst as drawn is taken
    to its worst corner. Junctions are read after the state has stood for days in the warmest room, and peaks from the
    outages that are ridden. What lasts is held against the share that the policy allows, a peak shorter than a second
    against the whole rating. A conductor whose ampacity nobody stated gets one from its section. Short-circuit currents
    are voltage over resistance along every way from a source: largest with the pack full, new and warm, smallest with
    it nearly empty, cold and aged.

Blind spots
    Averaged models know no ripple, spikes or ringing; ripple is added in closed form for capacitors beside a converter.
    Junctions are those of the build as drawn. A short through a dead charger or backwards through a buck converter is
    not followed, nor one inside a part, nor an adapter's output capacitor. Between the gates of a standard a fuse's
    time is interpolated, and blade gates are typical, unverified. A part straight on the pack sees the charger's hold
    voltage at the end of a charge, which is no standing state. The result is a screen, not a proof of compliance.

An example that trips it
    A 10 A fuse because it was in the drawer, before a wire of 0.25 mm²: the wire burns for as long as it takes.

Cure
    A fuse just above the load's current and below the thinnest conductor's; thicker wire; a board whose trip stands
    clear of the converter's peak; parts with a higher rating where the share is used up.

Source
    Fuses: IEC 60127-2, ISO 8820-3, UL 248-14; conductors: IEC 60364-4-43, IPC-2221; policies: published aerospace
    guides and common practice, as named with each figure. What is not verified says so.
"""

from __future__ import annotations

from collections.abc import Iterator

from tideover.answers import coordinated
from tideover.answers import ratings_tables as tables_of
from tideover.answers.allowed import STATED, allowance
from tideover.answers.base import FAILS, HOLDS, OPEN, Answer, Finding, worst
from tideover.answers.context import Context, settled
from tideover.answers.limits import TYPICAL
from tideover.answers.loaded import FUSE, Loaded
from tideover.answers.policies import SHARES, reserve
from tideover.answers.rated import AMPACITY, Rating, told
from tideover.answers.ripple import ripples
from tideover.answers.used import Used, judge
from tideover.network import Placed
from tideover.quantity import show

KEY = "ratings"
NAMES = {
    "breaks": "voltage past its rating",
    "heats": "loaded past its rating",
    "junction": "junction past its rating",
    "feeds": "fed below its rating",
}
MENDS = {
    "breaks": "Take a part with a higher voltage rating.",
    "junction": "Give it a way for its heat (copper, a sink, vents), or take a part with less loss.",
    "feeds": "Give it more voltage: less resistance before it, a higher cut-off, or a module made for less.",
}
POWERS = {"A": "current", "W": "power"}


def answer(context: Context) -> Answer:
    """Answer the question; see the top of this file."""
    loaded = Loaded(context)
    used, unstated = _used(loaded)
    rippled, silent = ripples(loaded)
    used += rippled
    order = coordinated.judged(loaded)
    found = [_finding(context, u) for u in used if u.status != HOLDS]
    found += _best(context, used)
    found += order.findings
    if not found:
        return _open(context, unstated)
    status = worst(f.status for f in found)
    found += _unstated(context, [*unstated, *silent, *order.unstated])
    policy = tables_of.policy(used, context.network.need.policy)
    tables = (tables_of.shares(used), policy, *order.tables, tables_of.peaks(loaded))
    return Answer(
        KEY,
        status,
        _headline(context, status, found, used),
        settled(found),
        tuple(t for t in tables if t.rows),
        order.series,
    )


def _open(context: Context, unstated: list[tuple[str, str]]) -> Answer:
    """Nothing could be judged: no state stands, or nobody stated a rating."""
    if context.settings:
        return Answer(KEY, OPEN, "Nothing could be judged: no rating is stated.", tuple(_unstated(context, unstated)))
    said = "Nothing could be judged: no state has a standing point to read currents and voltages at; see `standing`."
    return Answer(KEY, OPEN, said)


def _used(loaded: Loaded) -> tuple[list[Used], list[tuple[str, str]]]:
    """What is used of every rating, and the ratings that nobody stated: part and key of the parameter."""
    used: list[Used] = []
    unstated: list[tuple[str, str]] = []
    for part, rating in loaded.pairs:
        if rating is FUSE:
            continue
        stated, breaks, source = _rating(loaded, part, rating)
        if stated is None:
            unstated.append((part.name, part.kind.parameter(rating.name).key))
            continue
        judged = judge(loaded, part, rating, stated, breaks, source)
        if judged is not None:
            used.append(judged)
    return used, unstated


def _rating(loaded: Loaded, part: Placed, rating: Rating) -> tuple[float | None, float, str]:
    """A rating, what is past doubt too much, and where they come from; None where nobody stated it."""
    if rating.name == "ampacity" and part.kind.name in AMPACITY:
        allowed = allowance(part, loaded.air, loaded.context.network.need.ambient[1])
        assert allowed is not None
        return allowed.current, allowed.breaks, "" if allowed.source == STATED else allowed.source
    network = loaded.context.network
    stated = rating.stated(network, part)
    source = rating.derived or ("" if told(network, part, rating.name) else f"usual for its kind: {TYPICAL}")
    return stated, stated or 0.0, source


def _finding(context: Context, u: Used) -> Finding:
    policy = context.network.need.policy
    kept = reserve(u.row, policy)
    said = f"{u.rating.what} of {u.part.name} reaches {_said(u, u.worst.value)}"
    if u.rating.low:
        said = said.replace("reaches", "falls to")
    if u.status == FAILS:
        said += f"; it is rated {_said(u, u.rated)}"
    elif u.brief:
        said += f" in a short peak, {100 * u.worst.value / u.rated:.0f} % of its rating of {_said(u, u.rated)}"
    elif u.row in SHARES:
        said += f", {100 * u.worst.value / u.rated:.0f} % of its rating of {_said(u, u.rated)}; "
        said += f"the {policy} policy allows {100 * u.limit / u.rated:.0f} %"
    else:
        said += f"; the {policy} policy keeps it {show(kept.figure, 'ΔK')} under its {_said(u, u.rated)}"
    if u.source:
        said += f" ({u.source})"
    mend = MENDS.get(u.rating.nature, f"Take a part with a {POWERS.get(u.rating.unit, 'higher')} rating above that.")
    if u.part.kind.name in AMPACITY:
        mend = "Take more section."
    return Finding(
        name=NAMES[u.rating.nature],
        status=u.status,
        subject=u.part.name,
        state=u.worst.state,
        quantity=u.rating.what,
        value=u.worst.value,
        unit=u.rating.unit,
        limit=u.limit,
        margin=u.margin,
        case=u.worst.case,
        why=f"{said}.",
        mend=mend,
        source=f"{policy} policy, a screen: {kept.source}",
        place=context.place(u.part.name, u.rating.name),
    )


def _said(u: Used, value: float) -> str:
    return show(value, u.rating.unit)


def _best(context: Context, used: list[Used]) -> Iterator[Finding]:
    """Of the ratings that hold, the one that is used most stands for all."""
    holding = [u for u in used if u.status == HOLDS]
    if not holding:
        return
    top = max(holding, key=lambda u: u.share)
    yield Finding(
        name="another rating is used up",
        status=HOLDS,
        subject=top.part.name,
        state=top.worst.state,
        quantity=f"{top.rating.what}, the nearest of {len(holding)} ratings that hold",
        value=top.worst.value,
        unit=top.rating.unit,
        limit=top.limit,
        margin=top.margin,
        case=top.worst.case,
        why=f"{100 * top.share:.0f} % of what the {context.network.need.policy} policy leaves.",
        source=f"{context.network.need.policy} policy, a screen",
        place=context.place(top.part.name, top.rating.name),
    )


def _unstated(context: Context, unstated: list[tuple[str, str]]) -> Iterator[Finding]:
    """What could not be judged, in one finding that names what to write; it leaves the answer's status alone."""
    if not unstated:
        return
    listed = ", ".join(f"{part}: {key}" for part, key in unstated)
    first, key = unstated[0]
    yield Finding(
        name="rating is not stated",
        status=OPEN,
        subject=first,
        state="as drawn",
        quantity="ratings that nobody stated",
        value=float(len(unstated)),
        why=f"not judged, because nobody stated them: {listed}.",
        mend=f"Write them as the data sheets give them, such as: {first}: {{..., {key}: ...}}",
        source="the build file and the shelf",
        place=context.place(first),
    )


def _headline(context: Context, status: str, found: list[Finding], used: list[Used]) -> str:
    bad = [f for f in found if f.status == status]
    if status == HOLDS or not bad:
        top = max(used, key=lambda u: u.share, default=None)
        policy = context.network.need.policy
        near = f"; {top.part.name} uses most, {100 * top.share:.0f} % of what the {policy} policy leaves" if top else ""
        return f"Nothing is past its rating, and limits act in the right order{near}."
    more = f" (and {len(bad) - 1} more)" if len(bad) > 1 else ""
    return f"{bad[0].name.capitalize()}: {bad[0].why.rstrip('.')}{more}."
