"""The page of ``tideover cells pack``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tideover.cells.as_built import RULE, WATCHED, AsBuilt, Way, group_sums
from tideover.design.strip_layout import EVERY
from tideover.parts import KINDS
from tideover.quantity import show
from tideover.render.text import table

if TYPE_CHECKING:
    from tideover.design.cell_model import BuiltPack
    from tideover.render.page import Page

SHOWN = 8
"""Strips and ways to solder the leads that are listed."""


def text(
    out: Page,
    pack: BuiltPack,
    found: AsBuilt,
    load: tuple[float | None, float | None],
    note: str,
    cautions: list[str],
) -> str:
    """Lay out what was found.

    Parameters
    ----------
    out : Page
        Where it goes.
    pack : BuiltPack
        As read.
    found : AsBuilt
        What was computed.
    load : (float or None, float or None)
        Current [A] or power [W].
    note : str
        What was taken because nobody said.
    cautions : list of str
        Shown below.

    Returns
    -------
    text : str
        Ends with a line end.
    """
    parts = [_heading(out, pack, load, note), _groups(out, pack), _whole(out, found), _shares(out, found)]
    if found.strips:
        parts.append(_strips(out, found))
    if found.ways:
        parts.append(_taps(out, found))
    parts.append(_weakest(out, found))
    short = f"Shorted at its leads this pack gives some {show(found.short, 'A', 2)} when full."
    parts.append(
        "\n".join(["Cautions", *(line for c in (short, *cautions) for line in out.wrap(c, "- ", "  "))]) + "\n"
    )
    return "\n".join(parts)


def _heading(out: Page, pack: BuiltPack, load: tuple[float | None, float | None], note: str) -> str:
    """What the pack is, and what was taken for granted."""
    said = show(load[0], "A") if load[0] is not None else show(load[1] or 0.0, "W")
    lines = [*map(out.strong, out.wrap(f"{pack.title}: {pack.series} × {pack.parallel} cells under {said}"))]
    lines += out.wrap(note) if note else []
    plan = pack.strip
    if plan is None:
        mend = "add, for example, strip: nickel strip 8 × 0.15 mm; until then cells share without strips and welds."
        return "\n".join([*lines, *out.wrap(f"Its strips are not described: {mend}")]) + "\n"
    layers = f", {plan.layers} layers" if plan.layers > 1 else ""
    lines += out.wrap(
        f"Strips: {plan.along.name}{layers}; cells {plan.pitch} apart; welds of a cell end {plan.weld}; "
        f"plus lead at {_column(plan.plus)}, minus lead at {_column(plan.minus)}."
    )
    if plan.origins:
        taken = (f"{k.replace('_', ' ')} ({v.removeprefix('not stated: ')})" for k, v in plan.origins.items())
        lines += out.wrap("Taken, because not stated: " + "; ".join(taken) + ".", "", "  ")
    return "\n".join(lines) + "\n"


def _groups(out: Page, pack: BuiltPack) -> str:
    """Sums of each group."""
    rows = [(str(s.group), " ".join(s.ids), s.capacity, s.resistance, s.lost) for s in group_sums(pack, KINDS["pack"])]
    columns = [("group", ""), ("cells", ""), ("capacity", "C"), ("resistance", "ohm"), ("if a weld opens", "")]
    return table(out, "Groups from the plus end; resistance under a load of an hour, at 25 °C", columns, rows)


def _whole(out: Page, found: AsBuilt) -> str:
    """One row a case."""
    columns = [("case", ""), ("air", "K"), ("to cut-off", "s"), ("charge", "C"), ("lost to sharing", "")]
    columns += [("largest share", ""), ("at", ""), ("spread left", ""), ("trade at rest", "A"), ("settles in", "s")]
    rows: list[Any] = [
        (
            f"{c.name}: more than it can give" if c.ended == "collapse" else c.name,
            c.temp,
            c.lasted,
            c.charge,
            _percent(1.0 - c.charge / c.ideal) if c.ideal > 0.0 else None,
            f"{c.largest:.2f}",
            _percent(c.at, 2),
            _percent(c.spread, 2),
            c.trading,
            c.settled,
        )
        for c in found.cases
    ]
    said = table(out, "The pack as a whole", columns, rows)
    return said + _wrapped(
        out,
        "Lost to sharing: charge, against cells of a group that all empty together. At: when the largest share is, of "
        "the time to the cut-off. Spread left: widest between the charges in a group at the cut-off. Trade at rest: "
        "the largest current between cells once the load has stopped; it settles to a tenth.",
    )


def _shares(out: Page, found: AsBuilt) -> str:
    """One row a cell."""
    first = found.cases[0].cells
    peaks = [max(case.cells[k].peak for case in found.cases) for k in range(len(first))]
    columns = [("cell", ""), ("group", ""), ("share at start", ""), ("largest", ""), ("at", ""), ("at cut-off", "")]
    columns += [("peak", "A"), ("of its rating", ""), ("charge left", "")]
    rows: list[Any] = [
        (
            c.id,
            str(c.group),
            f"{c.start:.2f}",
            f"{c.most:.2f}",
            _percent(c.at, 2),
            f"{c.end:.2f}",
            peak,
            _percent(peak / found.rating) if found.rating else None,
            _percent(c.left, 2),
        )
        for c, peak in zip(first, peaks)
    ]
    return table(out, "Shares over the mean of the group, as described; peaks over all cases", columns, rows)


def _strips(out: Page, found: AsBuilt) -> str:
    """The hottest pieces."""
    columns = [("strip", ""), ("current", "A"), ("drop", "V"), ("heat", "W"), ("rise by the rule", "")]
    columns += [("over its cells", ""), ("case", "")]
    rows: list[Any] = [
        (h.segment.name, h.current, h.drop, h.heat, _kelvin(h.rise), _kelvin(h.over_cells), h.case)
        for h in found.strips[:SHOWN]
    ]
    hot = sum(h.rise > WATCHED for h in found.strips)
    title = f"The hottest of {len(found.strips)} pieces of strip; {hot} rise more than {WATCHED:g} K by the rule"
    return table(out, title, columns, rows) + _wrapped(
        out,
        "By the usual rule for welded strip no cell takes heat from it: typical, unverified, and half the current in a "
        "sealed stack. Over its cells: what the middle of the piece has more than they, when they take its heat.",
    )


def _taps(out: Page, found: AsBuilt) -> str:
    """Where the leads go best, and what other strips would give."""
    now = found.as_it_is
    rows: list[Any] = [("as described", now.plus, now.minus, f"{now.largest:.2f}", now.loss)]
    rows += [("", w.plus, w.minus, f"{w.largest:.2f}", w.loss) for w in found.ways[:SHOWN]]
    rows += [(w.change, w.plus, w.minus, f"{w.largest:.2f}", w.loss) for w in found.changes]
    columns = [("way", ""), ("plus at column", ""), ("minus at column", ""), ("largest share", ""), ("loss", "W")]
    title = f"Leads at other columns, best first, and other strips: at half charge, {show(found.current, 'A')}"
    return table(out, title, columns, rows) + _wrapped(
        out,
        f"{advice(found)} Rule of thumb: columns squared times strip over cell resistance is {found.thumb:.2g}; below "
        f"{RULE:g} the end cell carries some 10 % more with both leads at one end, and at opposite ends about four "
        f"times as much will do. Strips and welds cost {show(found.lost_volts, 'V')} at {show(found.current, 'A')}.",
    )


def advice(found: AsBuilt) -> str:
    """What is gained by moving the leads, and by a second layer."""
    now, best = found.as_it_is, found.ways[0]
    frugal = min((w for w in found.ways if w.largest < now.largest + 0.02), key=lambda w: w.loss, default=now)
    if now.largest - best.largest >= 0.01:
        said = (
            f"Move the leads to {_both(best)}: the largest share falls from {now.largest:.2f} to {best.largest:.2f}, "
            f"the loss goes from {show(now.loss, 'W')} to {show(best.loss, 'W')}."
        )
    elif frugal.loss < 0.8 * now.loss:
        said = (
            f"Moving the leads shares hardly better, but at {_both(frugal)} the loss falls from {show(now.loss, 'W')} "
            f"to {show(frugal.loss, 'W')}."
        )
    else:
        said = "The leads are as well placed as they can be."
    layer = found.changes[0]
    more = f"{layer.largest:.2f} and {show(layer.loss, 'W')}"
    return f"{said} With {layer.change} and the leads as described it is {more}."


def _both(way: Way) -> str:
    """Columns of both leads."""
    if way.plus == way.minus:
        return _column(way.plus)
    return f"{_column(way.plus)} for plus and {_column(way.minus)} for minus"


def _weakest(out: Page, found: AsBuilt) -> str:
    status = "fails" if found.fails else "tight" if found.weakest.used > 0.5 else "holds"
    used = f"{_percent(found.weakest.used)} of its limit" if found.weakest.used < 100.0 else "beyond any limit"
    said = _wrapped(out, f"Weakest spot ({status}, {used}): {found.weakest.text} {found.weakest.mend}")
    if found.rating is None:
        said += _wrapped(out, "The cell has no discharge rating stated, so the peaks of cells are not judged.")
    return said


def _column(place: str) -> str:
    return f"column {place}" if place.isdigit() else f"{'' if place == EVERY else 'the '}{place} column"


def _percent(value: float, digits: int = 3) -> str:
    share = 100.0 * value if abs(value) > 5e-4 else 0.0
    return f"{share:.{digits}g} %" if abs(share) < 99.0 else f"{share:.0f} %"


def _kelvin(value: float) -> str:
    return f"{value:.0f} K" if value < 1000.0 else "no end"


def _wrapped(out: Page, text: str) -> str:
    return "\n".join(out.wrap(text)) + "\n"
