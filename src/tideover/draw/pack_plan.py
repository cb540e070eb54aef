"""A pack as read from its file, as it is to be drawn."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from pathlib import Path

from tideover.design.cell_model import BuiltPack
from tideover.design.strip_layout import ROUND, SQUARE, TOP, Geometry, StripLayout, Tap, geometry
from tideover.draw.plan import CAUTIONS, Band, Mark, Plan, Spot, Wire, table
from tideover.draw.svg import Size

MM = 1e3
"""Millimetres in a metre."""
WELD = 0.38
"""From a cell's middle to its weld points along x and y, of the strip's width: inside the strip, outside an id. [-]"""
TAB = 4.0
"""How far a tab reaches past a cell that has no strip, for the lead. [mm]"""
SOLDER = 0.5
"""Past the strip's edge to the middle of the mark of a wire, so that the mark leaves the id free. [mm]"""
GUESSED = (("cell", "size of a cell"), ("pitch", "pitch"), ("row_pitch", "row pitch"))
"""What the drawing's truth depends on, by the name of its origin."""
PLUS, MINUS = "+ lead", "\N{MINUS SIGN} lead"
SENSE_PLUS, SENSE_MINUS = "B+", "B\N{MINUS SIGN}"


def plan_of(pack: BuiltPack, shares: Mapping[str, float] | None = None, hottest: tuple[int, str] | None = None) -> Plan:
    """What is to be drawn of a pack.

    Parameters
    ----------
    pack : BuiltPack
        With its strips; without them its cells are drawn as a table. [-]
    shares : mapping of str to float, optional
        Current of each cell over the mean of its group, by id. [-]
    hottest : tuple of int and str, optional
        Position of the hottest segment in `Geometry.segments`, and what is said of it. [-]

    Returns
    -------
    plan : Plan
        In millimetres from the outline's upper left corner.
    """
    file = Path(pack.file).name
    ids = tuple(tuple(cell.id for cell in group) for group in pack.groups)
    if pack.strip is None:
        return table(pack.title, file, ids)
    layout, placed = pack.strip, geometry(pack.strip, ids)
    size = Size(layout.width.nominal * MM, layout.depth.nominal * MM)
    bands = [
        Band(
            p.x0 * MM,
            p.y0 * MM,
            p.x1 * MM,
            p.y1 * MM,
            p.width * MM,
            p.plane == TOP,
            f"strip of {p.length * MM:.1f} mm{_layers(p.layers)}",
        )
        for p in placed.pieces
    ]
    tabs = _tabs(layout, placed, size)
    low = (
        min(min(c.x * MM - size.width / 2.0 for c in placed.cells), *_reach(bands + tabs, 0, -1.0)),
        min(min(c.y * MM - size.height / 2.0 for c in placed.cells), *_reach(bands + tabs, 1, -1.0)),
    )
    high = (
        max(max(c.x * MM + size.width / 2.0 for c in placed.cells), *_reach(bands + tabs, 0, 1.0)),
        max(max(c.y * MM + size.height / 2.0 for c in placed.cells), *_reach(bands + tabs, 1, 1.0)),
    )
    spots = tuple(
        Spot(
            c.id,
            c.group,
            c.x * MM - low[0],
            c.y * MM - low[1],
            size,
            c.plus_up,
            layout.shape == ROUND,
            None if shares is None else shares.get(c.id),
        )
        for c in placed.cells
    )
    moved = tuple(
        Band(b.x1 - low[0], b.y1 - low[1], b.x2 - low[0], b.y2 - low[1], b.width, b.upper, b.name)
        for b in (*bands, *tabs)
    )
    notes = _notes(layout, placed, tabs)
    marks: tuple[Mark, ...] = ()
    if hottest is not None:
        segment = placed.segments[hottest[0]]
        middle = (segment.x0 + segment.x1) / 2.0 * MM - low[0], (segment.y0 + segment.y1) / 2.0 * MM - low[1]
        marks = (Mark(*middle, segment.plane == TOP),)
        notes = (*notes, f"Hottest strip: {segment.name}; {hottest[1]}.")
    return Plan(
        pack.title,
        file,
        Size(high[0] - low[0], high[1] - low[1]),
        Size(layout.pitch.nominal * MM, layout.row_pitch.nominal * MM),
        spots,
        moved,
        _welds(spots, moved),
        _wires(layout, placed, low, size),
        marks,
        notes=notes,
        cautions=CAUTIONS,
    )


def _reach(bands: list[Band], axis: int, way: float) -> list[float]:
    """How far the bands reach along x or y, one way or the other."""
    out = []
    for b in bands:
        ends = (b.x1, b.x2) if axis == 0 else (b.y1, b.y2)
        across = abs((b.y2 - b.y1) if axis == 0 else (b.x2 - b.x1)) / b.length
        out.append(way * max(way * e for e in ends) + way * 0.5 * b.width * across)
    return out


def _tabs(layout: StripLayout, placed: Geometry, size: Size) -> list[Band]:
    """A lead is never soldered to a cell: where no strip meets its end, a tab reaches out to the left."""
    met = {node for s in placed.segments for node in (s.a, s.b)}
    wide = layout.along.width.nominal * MM
    tabs = []
    for tap, name in ((placed.plus, PLUS), (placed.minus, MINUS)):
        if tap.nodes[0] not in met:
            x, y = (MM * v for v in tap.points[0])
            long = wide / 2.0 + size.width / 2.0 + TAB
            tabs.append(
                Band(
                    x + wide / 2.0,
                    y,
                    x - size.width / 2.0 - TAB,
                    y,
                    wide,
                    tap.plane == TOP,
                    f"tab of {long:.1f} mm for the {name}",
                )
            )
    return tabs


def _welds(spots: tuple[Spot, ...], bands: tuple[Band, ...]) -> tuple[Mark, ...]:
    """Two pairs of points on every cell end that a strip covers."""
    marks = []
    for upper in (True, False):
        for spot in spots:
            widths = [b.width for b in bands if b.upper == upper and b.covers(spot)]
            if widths:
                off = WELD * min(widths)
                marks += [Mark(spot.x + dx * off, spot.y + dy * off, upper) for dy in (-1, 1) for dx in (-1, 1)]
    return tuple(marks)


def _wires(layout: StripLayout, placed: Geometry, low: tuple[float, float], size: Size) -> tuple[Wire, ...]:
    """Leads and sense wires; sense wires count from the minus end, as protection boards do."""
    count = len(placed.sense) + 1
    met = {node for s in placed.segments for node in (s.a, s.b)}

    def wire(tap: Tap, *names: str, lead: bool) -> Wire:
        on_tab = tap.nodes[0] not in met
        out = size.width / 2.0 + TAB / 2.0 if on_tab else 0.0
        points = tuple((x * MM - low[0] - out, y * MM - low[1]) for x, y in tap.points)
        off = 0.0 if on_tab else layout.along.width.nominal * MM / 2.0 + SOLDER
        return Wire(names, points, off, tap.plane == TOP, lead)

    return (
        wire(placed.plus, PLUS, SENSE_PLUS, lead=True),
        *(wire(tap, f"B{count - k}", lead=False) for k, tap in enumerate(placed.sense, 1)),
        wire(placed.minus, MINUS, SENSE_MINUS, lead=True),
    )


def _notes(layout: StripLayout, placed: Geometry, tabs: list[Band]) -> tuple[str, ...]:
    """Strip, what to cut of it, what was assumed."""
    along, across = layout.along, layout.across
    uses = {p.kind for p in placed.pieces}
    said = f"Strip: {along.name}{_layers(layout.layers)}"
    if uses - {"along"} and (across.name != along.name or layout.across_layers != layout.layers):
        said += f"; across the rows {across.name}{_layers(layout.across_layers) or ', 1 layer'}"
    cut: Counter[tuple[str, float]] = Counter()
    for p in placed.pieces:
        cut[(along if p.kind == "along" else across).name, round(p.length * MM, 1)] += p.layers
    for tab in tabs:
        cut[along.name, round(tab.length, 1)] += 1
    both = len({name for name, _ in cut}) > 1
    pieces = [
        f"{n} × {long:g} mm{f' of {name}' if both else ''}"
        for (name, long), n in sorted(cut.items(), key=lambda item: (-item[0][1], item[0][0]))
    ]
    notes = [f"{said}. To cut: {', '.join(pieces)}."]
    if placed.sense:
        notes.append("Sense wires count from the minus end; go by the marks on your own board.")
    guessed = [words for key, words in GUESSED if key in layout.origins]
    if layout.shape == ROUND and layout.arrangement == SQUARE and "pitch" not in layout.origins:
        guessed = [words for words in guessed if words != GUESSED[-1][1]]  # as along the row, which was measured
    if guessed:
        notes.append(f"The file does not state the {', '.join(guessed)}: what is usual is drawn. Measure yours.")
    return tuple(notes)


def _layers(count: int) -> str:
    return f", {count} layers" if count > 1 else ""
