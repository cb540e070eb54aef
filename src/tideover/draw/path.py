"""The power path in one standing state: parts as boxes, nodes with their voltage, lines as thick as their current.

The width of a line grows with its current and its arrow tells the way; where less than `STILL` flows it is dashed.
What is on the way back is drawn as such: on a line of its own below, or as a short bar where that line is out of
reach. The box of a pack is filled to its state of charge.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping

from tideover.answers.base import STATUSES, worst
from tideover.answers.flows import Flow
from tideover.answers.flows import drawn as drawn_parts
from tideover.draw.path_items import Item, plan
from tideover.draw.path_layout import layout
from tideover.draw.path_types import TEXT, Box, Layout, Point, Wire
from tideover.draw.svg import Ink, Size, breadth, circle, element, escape, group, line, number, outline, rect, text
from tideover.network import Network, Placed
from tideover.quantity import show

STILL = 1e-3
"""Current below which a line counts as carrying none: controllers and leakage take less. [A]"""
FAINT = 0.1
"""Largest current that is still drawn thinner than the thickest line: idle milliamperes look like little. [A]"""
THIN, THICK = 1.5, 6.0
"""Width of a line with next to no current, and of the one with most. [px]"""
LEVEL = 8.0
"""Width of the column that shows a pack's charge. [px]"""
ARROW = 14.0
"""Shortest piece of line that has room for an arrow. [px]"""
SETTERS = frozenset(("boost", "buck", "buck-boost", "linear regulator", "charger"))
"""Kinds whose output voltage is worth telling."""
ACROSS = frozenset(("adapter", "pack", "load", "capacitor"))
"""Kinds whose voltage is that between their two ends."""
_SAFE_LINK = re.compile(r"(?:/(?!/)|#|\?|\./)[^\s\\]*")


def path(
    network: Network,
    flow: Flow,
    marks: Mapping[str, str] | None = None,
    link: Callable[[str], str] | None = None,
    down: bool = False,
    folded: bool = True,
    full: float | None = None,
    prefix: str = "path",
) -> Ink:
    """Draw the power path.

    Parameters
    ----------
    network : Network
        As loaded. [-]
    flow : Flow
        One standing state of it, from `tideover.answers.flows`. [-]
    marks : dict of str to str, optional
        Status to be shown on a part's box. [-]
    link : callable, optional
        ``link(part)``: where its box leads, an address within the site; boxes are then reached by keyboard. [-]
    down : bool
        Top-down, 358 px wide, for a phone; otherwise left to right. [-]
    folded : bool
        Whether series runs of passive parts become one box where there are more than 16 boxes. [-]
    full : float, optional
        Current of the thickest line; the largest of this state unless told, so that several states compare. [A]
    prefix : str
        Before ids, so that several drawings can stand in one page. [-]

    Returns
    -------
    markup : Ink
        An inline SVG; its classes are those of `tideover.draw.path_look`. [-]

    Raises
    ------
    ValueError
        A mark that is no status, or a link that leads out of the site.
    """
    marks = dict(marks or {})
    for part, status in marks.items():
        if status not in STATUSES:
            raise ValueError(f"{status!r}, the mark of {part!r}, is none of {', '.join(STATUSES)}.")
    drawn = plan(network, folded)
    placed = layout(drawn, down, frozenset(marks))
    most = fullest([flow]) if full is None else full
    wires = sorted(placed.wires, key=lambda w: _rank(_amperes(w, flow)))
    told = {part.name: _told(part, network, flow) for part in drawn_parts(network)}
    body = [
        *_rail(placed),
        *(_wire(w, flow, most) for w in wires),
        *(_arrow(w, flow, most) for w in wires),
        *(circle(x, y, 3.6, "fig-dot") for _, (x, y) in placed.dots),
        *(_box(box, network, flow, told, marks, link) for box in placed.boxes.values()),
        *_volts(placed, network, flow),
    ]
    title = f"Power path of {network.title}: {flow.state}"
    about = [flow.note] if flow.note else []
    about += [f"{name}: {', '.join(said) or 'no numbers'}." for name, said in told.items()]
    return _document(placed, title, " ".join(about), body, link is not None, prefix)


def fullest(flows: Iterable[Flow]) -> float:
    """The largest current of some states, for lines that compare between them; `FAINT` at least. [A]"""
    return max([FAINT, *(abs(i) for flow in flows for i in flow.terminals.values() if i is not None)])


def _document(placed: Layout, title: str, about: str, body: list[Ink], linked: bool, prefix: str) -> Ink:
    inside = (element("title", title, id=f"{prefix}-title"), element("desc", about, id=f"{prefix}-about"))
    return Ink(
        element(
            "svg",
            Ink("\n".join(("", *inside, *(b for b in body if b), ""))),
            width=placed.width,
            height=placed.height,
            viewBox=f"0 0 {number(placed.width)} {number(placed.height)}",
            class_="fig-path",
            role="group" if linked else "img",
            aria_labelledby=f"{prefix}-title",
            aria_describedby=f"{prefix}-about",
        )
        + "\n"
    )


# --- lines ----------------------------------------------------------------------------------------------


def _amperes(wire: Wire, flow: Flow) -> float | None:
    """Along a line from its first point. [A]"""
    into = [flow.terminals.get(t) for t in wire.behind]
    return None if any(i is None for i in into) else -sum(i for i in into if i is not None)


def _rank(amperes: float | None) -> float:
    return -1.0 if amperes is None else abs(amperes)


def _weight(amperes: float, most: float) -> float:
    return THIN + (THICK - THIN) * min(abs(amperes) / most, 1.0)


def _wire(wire: Wire, flow: Flow, most: float) -> Ink:
    amperes = _amperes(wire, flow)
    if amperes is None:
        return outline(wire.points, "fig-blank", closed=False)
    if abs(amperes) < STILL:
        return outline(wire.points, "fig-idle", closed=False)
    steps = "L".join(f"{number(x)} {number(y)}" for x, y in wire.points)
    look = "fig-live" if wire.net else "fig-live fig-back"
    return element("path", d=f"M{steps}", class_=look, stroke_width=round(_weight(amperes, most), 2))


def _arrow(wire: Wire, flow: Flow, most: float) -> Ink:
    """A head in the middle of the longest piece of a line, if that is long enough."""
    amperes = _amperes(wire, flow)
    if amperes is None or abs(amperes) < STILL:
        return Ink("")
    a, b = max(zip(wire.points, wire.points[1:]), key=lambda ends: math.dist(*ends))
    long = math.dist(a, b)
    if long < ARROW:
        return Ink("")
    if amperes < 0.0:
        a, b = b, a
    ux, uy = (b[0] - a[0]) / long, (b[1] - a[1]) / long
    half = 3.5 + _weight(amperes, most) / 2
    x, y = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2
    tip: Point = (x + half * ux, y + half * uy)
    feet = [(x - half * ux + s * half * uy, y - half * uy - s * half * ux) for s in (1.0, -1.0)]
    return outline((tip, *feet), "fig-arrow" if wire.net else "fig-arrow fig-back")


def _rail(placed: Layout) -> list[Ink]:
    """The line of the return with its name, and the bars of what is joined to it out of its reach."""
    found = []
    if placed.rail:
        x1, x2, y = placed.rail
        found.append(line(x1, y, x2, y, "fig-return"))
        found.append(text(x1, y + 15.0, "return", TEXT, "fig-side"))
    for mark in placed.returns:
        (x, y), half = mark.at, 6.0
        ends = (x, y - half, x, y + half) if mark.aside else (x - half, y, x + half, y)
        found.append(line(*ends, "fig-return"))
    return found


def told_volts(volts: float) -> str:
    """A voltage as a meter shows it: to four figures, and to a millivolt at most.

    Examples
    --------
    >>> told_volts(18.93706), told_volts(0.014111), told_volts(-3e-6)
    ('18.94 V', '14 mV', '0 V')
    """
    return show(round(volts, 3) + 0.0, "V", 4 if abs(volts) >= 1.0 else 3)


def _volts(placed: Layout, network: Network, flow: Flow) -> list[Ink]:
    found = []
    for label in placed.labels:
        name = network.nodes[label.net]
        volts = flow.volts.get(name)
        said = "" if volts is None else told_volts(volts)
        if said:
            words = text(label.x, label.y, said, TEXT, "fig-volts", label.anchor if label.anchor != "start" else None)
            found.append(group(words, title=f"({name}): {said} to the return"))
    return found


# --- boxes ----------------------------------------------------------------------------------------------


def _ends(part: Placed, network: Network, flow: Flow) -> tuple[float | None, float | None]:
    """Voltages of the two ends of a part, or of its first two terminals. [V]"""
    names = part.kind.through or part.kind.terminals[:2]
    names = part.kind.terminals[:2] if part.kind.name in ACROSS else names
    first, second = (flow.volts.get(network.nodes[part.nodes[part.kind.terminals.index(n)]]) for n in names)
    return first, second


def _through(part: Placed, flow: Flow) -> float | None:
    """The largest current into any terminal of a part that power passes through. [A]"""
    some = [flow.terminals.get((part.name, t)) for t in part.kind.terminals if not t.startswith("sense")]
    known = [abs(i) for i in some if i is not None]
    return max(known, default=None)


def _figure(item: Item, network: Network, flow: Flow) -> str:
    """The one figure in a box."""
    part = network.part(item.parts[0])
    amperes = _through(part, flow)
    if amperes is None:
        return ""
    charge = flow.charges.get(part.name)
    if charge is not None:
        return f"{100 * charge:.0f} %"
    first, second = _ends(part, network, flow)
    if part.kind.name == "capacitor":
        return told_volts(first - second) if first is not None and second is not None else ""
    if amperes < STILL:
        return "0 A"
    watts = [flow.watts.get(name) for name in item.parts]
    total = sum(w for w in watts if w is not None)
    return "" if None in watts else show(total, "W", 3 if abs(total) >= 0.1 else 2)


def _told(part: Placed, network: Network, flow: Flow) -> list[str]:
    """What is said of a part in words: its voltage, its current, its watts, its charge."""
    told = []
    first, second = _ends(part, network, flow)
    amperes, watts = _through(part, flow), flow.watts.get(part.name)
    if first is not None and second is not None:
        kind = part.kind.name
        if kind in SETTERS:
            told.append(f"{told_volts(second)}")
        elif kind in ACROSS:
            told.append(f"{told_volts(first - second)}")
        elif kind != "relay":
            told.append(f"{show(abs(first - second), 'V', 2)} lost")
    if amperes is not None:
        told.append(show(amperes, "A") if amperes >= STILL else f"no current ({show(amperes, 'A', 2)})")
    if watts is not None:
        told.append(show(watts, "W"))
    charge = flow.charges.get(part.name)
    if charge is not None:
        told.append(f"{100 * charge:.0f} % charged")
    return told


def _box(
    box: Box,
    network: Network,
    flow: Flow,
    texts: Mapping[str, list[str]],
    marks: Mapping[str, str],
    link: Callable[[str], str] | None,
) -> Ink:
    item = box.item
    part = network.part(item.parts[0])
    given = [marks[name] for name in item.parts if name in marks]
    status = worst(given) if given else ""
    told = texts[part.name] if len(item.parts) == 1 else [f"{len(item.parts)} parts in series"]
    names = ", ".join(item.parts)
    spoken = ", ".join((*item.parts, *told, *([status] if status else [])))
    kind = part.kind.name if len(item.parts) == 1 else "in series"
    shapes = [rect(box.x, box.y, Size(box.width, box.height), "fig-box", rx=3.0)]
    charge = flow.charges.get(part.name)
    if charge is not None:
        shapes += _level(box, charge)
    if len(item.parts) > 1:
        x = box.x + 3.0
        shapes.append(line(x, box.y + 3.0, x, box.bottom - 3.0, "fig-fold"))
    shapes += _words(box, item, _figure(item, network, flow), status, 0.0 if charge is None else LEVEL + 2.0)
    title = f"{names} ({kind}): {', '.join(told)}" + (f"; {status}" if status else "")
    drawn = group(*shapes, title=title, class_=f"fig-part fig-{status}" if status else "fig-part")
    return _anchored(drawn, link(item.parts[0]), spoken) if link else drawn


def _level(box: Box, charge: float) -> list[Ink]:
    """A column at the left of a pack's box, filled up to its state of charge."""
    tall = (box.height - 8.0) * min(max(charge, 0.0), 1.0)
    x, size = box.x + 4.0, Size(LEVEL, box.height - 8.0)
    return [
        rect(x, box.bottom - 4.0 - tall, Size(LEVEL, tall), "fig-level"),
        rect(x, box.y + 4.0, size, "fig-brim", rx=1.0),
    ]


def _words(box: Box, item: Item, figure: str, status: str, left: float) -> list[Ink]:
    """Name, figure and mark; beside its ports where these have their voltages inside the box."""
    inside = box.width > 150.0
    x, anchor = (box.right - 8.0, "end") if inside else (box.x + (box.width + left) / 2, "middle")
    room = box.width - left - (80.0 if inside else 6.0)
    lines = 1 + bool(figure) + bool(status)
    y = box.y + box.height / 2 - 7.5 * (lines - 1) + 4.0
    found = [text(x, y, shortened(item.name, room, TEXT, item.more), TEXT, "fig-name", anchor)]
    if figure:
        y += 15.0
        found.append(text(x, y, figure, TEXT, "fig-figure", anchor))
    if status:
        y += 15.0
        wide = breadth(status, TEXT) + 13.0
        at = x - wide if inside else x - wide / 2
        found += [shape(status, at + 5.0, y - 4.0), text(at + 13.0, y, status, TEXT, f"fig-mark-{status}")]
    return found


def shape(status: str, x: float, y: float) -> Ink:
    """The sign of a status about a point: a disc holds, a diamond is tight, a triangle fails, a ring is open."""
    look = f"fig-mark-{status}"
    if status == "open":
        return circle(x, y, 3.4, "fig-ring")
    if status == "tight":
        return outline(((x, y - 5.0), (x + 4.6, y), (x, y + 5.0), (x - 4.6, y)), look)
    if status == "fails":
        return outline(((x - 4.8, y - 4.0), (x + 4.8, y - 4.0), (x, y + 4.6)), look)
    return circle(x, y, 4.2, look)


def shortened(said: str, room: float, size: float, more: str = "") -> str:
    """Words that fit a width, cut at their end if they must be, with something that always stays behind them.

    Examples
    --------
    >>> shortened("protection board", 60.0, 12.0)
    'protecti…'
    """
    if breadth(said + more, size) <= room:
        return said + more
    cut = len(said)
    while cut > 1 and breadth(f"{said[:cut].rstrip()}…{more}", size) > room:
        cut -= 1
    return f"{said[:cut].rstrip()}…{more}"


def _anchored(drawn: Ink, address: str, spoken: str) -> Ink:
    if not _SAFE_LINK.fullmatch(address):
        raise ValueError(f"{address!r} leads out of the site; a box may only lead within it.")
    return Ink(f'<a href="{escape(address)}" aria-label="{escape(spoken)}">\n{drawn}\n</a>')


__all__ = ["STILL", "fullest", "path", "shape", "shortened"]
