"""The key ``strip:`` of a pack file, read into a `StripLayout`.

Either the name of a strip, everything else being as is usual, or keys: what is not said is taken from the tables here,
and `StripLayout.origins` says so.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tideover.design import messages as say
from tideover.design import values
from tideover.design.model import Value
from tideover.design.source import Mapping, Node, Scalar
from tideover.design.strip_layout import (
    NESTED,
    PLACES,
    PRISMATIC,
    ROUND,
    SQUARE,
    Strip,
    StripLayout,
    columns_of,
    nested_pitch,
)
from tideover.laws.constants import COPPER, NICKEL, NICKEL_COMMERCIAL, PLATED_STEEL, Metal
from tideover.parts.base import TYPICAL, Parameter, word
from tideover.parts.conductor import STRIP
from tideover.quantity import Quantity, exact, parse, show

Report = Callable[[say.Fault], None]
MATERIALS: dict[str, tuple[Metal, str]] = {
    "nickel": (NICKEL, "-5/+15 %"),
    "commercial nickel": (NICKEL_COMMERCIAL, "±9 %"),
    "plated steel": (PLATED_STEEL, "-17/+42 %"),
    "copper": (COPPER, "±2 %"),
}
"""Materials by name, and how far their resistivity spreads: typical, unverified."""
MATERIAL = word("material", tuple(MATERIALS), "nickel", "of the strip")
OF_STRIP = tuple(STRIP.parameter(key) for key in ("width", "thickness", "resistivity", "tempco"))
SPARE = 1.6e-3
"""Gap that a holder leaves between round cells: 18.4 mm stand 20 mm apart; typical, unverified. [m]"""
OF_LAYOUT = (
    Parameter("layers", "", 1, 10, 1, "of strip on each other in the rows", "one layer"),
    Parameter("across layers", "", 1, 10, 1, "of strip on each other between rows and groups", "one layer"),
    Parameter("rows", "", 1, 50, 1, "of cells in a group", "one, as most packs of cells are built"),
    Parameter(
        "weld",
        "ohm",
        0.0,
        0.1,
        "0.3 mΩ -50/+100 %",
        "welds of one cell end, all points together",
        "a good weld, " + TYPICAL,
    ),
    Parameter("pitch", "m", 3e-3, 0.5, None, "from centre to centre along a row"),
    Parameter("row pitch", "m", 3e-3, 0.5, None, "from row to row"),
    word("arrangement", (SQUARE, NESTED), SQUARE, "nested: every second row moved by half a pitch", "square"),
)
COLUMNS = ("joined", "plus", "minus", "sense")
"""Keys whose value is a column."""
USUAL_COLUMNS = {"joined": "every", "plus": "first", "minus": "first", "sense": "first"}
OF_CELL = (
    Parameter("diameter", "m", 3e-3, 0.2, "18.4 mm", "of a round cell"),
    Parameter("width", "m", 3e-3, 0.5, None, "of a prismatic cell, along the row"),
    Parameter("depth", "m", 3e-3, 0.5, None, "of a prismatic cell, across the row"),
    Parameter("height", "m", 3e-3, 1.0, "65 mm", "from end to end"),
)
SHELF_EXAMPLES = ("nickel strip 8 × 0.15 mm", "plated steel strip 8 × 0.15 mm")
EXAMPLE = "strip: {along: nickel strip 8 × 0.15 mm, rows: 1, pitch: 20 mm, plus: first, minus: last}"
KEYS = ("along", "across", "cell", *(p.key for p in OF_LAYOUT), *COLUMNS)


def read(node: Node, parallel: int, find: Callable[[str], Any], report: Report) -> StripLayout | None:
    """Read how the cells of a pack are joined.

    Parameters
    ----------
    node : Node
        What stands under ``strip``.
    parallel : int
        Cells in a group.
    find : callable
        Finds an item of the shelf by name.
    report : callable
        Takes each fault.

    Returns
    -------
    layout : StripLayout or None
        None after a fault.
    """
    count: list[say.Fault] = []

    def told(fault: say.Fault) -> None:
        count.append(fault)
        report(fault)

    if isinstance(node, Scalar):
        node = Mapping(((Scalar("along", node.place, node.start, node.start), node),), node.place)
    if not isinstance(node, Mapping):
        told(say.wrong_shape(node.place, "strip", "a list", "A strip, or keys, are expected.", f"Write: {EXAMPLE}"))
        return None
    for key, _ in node.entries:
        if say.folded(key.text) not in KEYS:
            told(say.unknown_key(key.place, "strip", key.text, KEYS))
    along_ = node.get("along")
    if along_ is None:
        told(say.missing(node.place, "strip", "along", EXAMPLE))
        return None
    along = _strip("strip.along", along_, find, told)
    across_ = node.get("across")
    across = _strip("strip.across", across_, find, told) if across_ is not None else along
    origins: dict[str, str] = {} if across_ is not None else {"across": "not stated: as along"}
    given = _values("strip", node, OF_LAYOUT, told, origins)
    size = _cell(node.get("cell"), told, origins)
    if count or along is None or across is None or size is None:
        return None
    rows = int(_nominal(given["rows"]))
    if rows > parallel:
        what = f"{rows}, but a group has {parallel} cells"
        place = getattr(node.get("rows"), "place", node.place)
        told(say.wrong_shape(place, "strip.rows", what, "A row has at least one cell.", f"Write: rows: {parallel}"))
        return None
    columns = columns_of(parallel, rows)
    at = {key: _column(node, key, columns, told, origins) for key in COLUMNS}
    pitches = _pitches(node, given, size, told, origins)
    if count or pitches is None:
        return None
    arrangement = (SQUARE, NESTED)[int(_nominal(given["arrangement"]))]
    weld = given["weld"]
    assert isinstance(weld, Quantity)
    shape, width, depth, height = size
    return StripLayout(
        along=along,
        across=across,
        layers=int(_nominal(given["layers"])),
        across_layers=int(_nominal(given["across_layers"])),
        rows=rows,
        columns=columns,
        **at,
        weld=weld,
        shape=shape,
        width=width,
        depth=depth,
        height=height,
        pitch=pitches[0],
        row_pitch=pitches[1],
        arrangement=arrangement,
        origins=origins,
    )


def _nominal(value: Value | None) -> float:
    return value.nominal if isinstance(value, Quantity) else float(value or 0.0)


def _values(
    owner: str, node: Mapping, declared: tuple[Parameter, ...], report: Report, origins: dict[str, str]
) -> dict[str, Value]:
    """Values of a set of keys, each as stated or as is usual; what is neither stays out."""
    out: dict[str, Value] = {}
    for p in declared:
        stated = node.get(p.key)
        if stated is not None:
            value = values.read(owner, p.key, stated, p, report)
            if value is not None:
                out[p.name] = value
        elif p.default is not None:
            out[p.name] = values.default(p)
            origins[p.name] = f"not stated: {p.source}"
    return out


def _strip(where: str, node: Node, find: Callable[[str], Any], report: Report) -> Strip | None:
    """A strip of the shelf, or one by its own figures."""
    if isinstance(node, Scalar):
        item = find(node.text) if node.text.strip() else None
        if item is None:
            report(say.not_on_shelf(node.place, where, node.text, SHELF_EXAMPLES))
            return None
        if item.kind != STRIP.name:
            mend = "Choose one: tideover parts strip"
            report(say.wrong_item(node.place, where, item.name, item.kind, "a strip", mend))
            return None
        own = {p.name: item.values.get(p.name) for p in OF_STRIP}
        got = {p.name: parse(own[p.name] or show(float(p.default or 0.0), p.unit), p.unit) for p in OF_STRIP}
        return Strip(item.name, source=f"shelf: {item.source}", **got)
    example = "{width: 8 mm, thickness: 0.15 mm, material: nickel}"
    if not isinstance(node, Mapping):
        expected = "A strip of the shelf, or its figures, are expected."
        report(say.wrong_shape(node.place, where, "a list", expected, f"Write: {example}"))
        return None
    known = (*(p.key for p in OF_STRIP), MATERIAL.key)
    for key, _ in node.entries:
        if say.folded(key.text) not in known:
            report(say.unknown_key(key.place, where, key.text, known))
    read_: dict[str, Value | None] = {}
    for p in (*OF_STRIP, MATERIAL):
        stated = node.get(p.key)
        read_[p.name] = values.read(where, p.key, stated, p, report) if stated is not None else None
        if stated is None and p.name in ("width", "thickness"):
            report(say.missing(node.place, where, p.key, example))
    name = MATERIAL.choices[int(_nominal(read_["material"]))]
    metal, spread = MATERIALS[name]
    rho = read_["resistivity"] or parse(f"{metal.rho * 1e9:.6g} nΩ·m {spread}", "ohm m")
    tempco = read_["tempco"] or exact(metal.alpha, "1/K")
    width, thickness = read_["width"], read_["thickness"]
    if not (isinstance(width, Quantity) and isinstance(thickness, Quantity)):
        return None
    assert isinstance(rho, Quantity) and isinstance(tempco, Quantity)
    said = "" if read_["resistivity"] else f"{name}: {metal.source}"
    title = f"{'strip' if read_['resistivity'] else name + ' strip'} {width.text} × {thickness.text}"
    return Strip(title, width, thickness, rho, tempco, said)


def _cell(
    node: Node | None, report: Report, origins: dict[str, str]
) -> tuple[str, Quantity, Quantity, Quantity] | None:
    """Shape, width, depth and height."""
    if node is None:
        origins["cell"] = f"not stated: a round cell of 18.4 mm by 65 mm, {TYPICAL}"
        node = Mapping((), say.Place(""))
    if not isinstance(node, Mapping):
        expected = "Its size is expected as keys."
        report(say.wrong_shape(node.place, "strip.cell", "no set of keys", expected, "Write: {diameter: 18.4 mm}"))
        return None
    known = tuple(p.key for p in OF_CELL)
    for key, _ in node.entries:
        if say.folded(key.text) not in known:
            report(say.unknown_key(key.place, "strip.cell", key.text, known))
    prismatic = [key for key in ("width", "depth") if node.get(key) is not None]
    if prismatic and node.get("diameter") is not None:
        what = f"given a diameter and a {prismatic[0]}"
        mend = "Write: {diameter: 18.4 mm}, or: {width: 27 mm, depth: 70 mm}"
        report(say.wrong_shape(node.place, "strip.cell", what, "A cell is round or prismatic.", mend))
        return None
    if len(prismatic) == 1:
        absent = "depth" if prismatic == ["width"] else "width"
        report(say.missing(node.place, "strip.cell", absent, "{width: 27 mm, depth: 70 mm}"))
        return None
    sides = ("width", "depth", "height") if prismatic else ("diameter", "diameter", "height")
    given = _values("strip.cell", node, tuple(p for p in OF_CELL if p.key in sides), report, {})
    size = [given.get(side) for side in sides]
    across, deep, high = size
    if not (isinstance(across, Quantity) and isinstance(deep, Quantity) and isinstance(high, Quantity)):
        return None
    return PRISMATIC if prismatic else ROUND, across, deep, high


def _column(node: Mapping, key: str, columns: int, report: Report, origins: dict[str, str]) -> str:
    """A word for a column, or its number as text."""
    stated = node.get(key)
    usual = USUAL_COLUMNS[key]
    if stated is None:
        origins[key] = f"not stated: {usual} column"
        return usual
    expected = f"A column is expected: {say.listed(PLACES)}, or a number from 1 to {columns}."
    if isinstance(stated, Scalar):
        text = say.folded(stated.text).removesuffix(" column").strip()
        if text in PLACES:
            return text
        if text.isascii() and text.isdigit() and 1 <= int(text) <= columns:
            return str(int(text))
        near = say.meant(stated.text, PLACES) or (str(columns) if text.isdigit() else usual)
        problem = "which is no column of this pack"
        report(say.bad_value(stated.place, f"strip.{key}", stated.text, problem, expected, f"{key}: {near}"))
    else:
        report(say.wrong_shape(stated.place, f"strip.{key}", "no single value", expected, f"Write: {key}: {usual}"))
    return usual


def _pitches(
    node: Mapping,
    given: dict[str, Value],
    size: tuple[str, Quantity, Quantity, Quantity],
    report: Report,
    origins: dict[str, str],
) -> tuple[Quantity, Quantity] | None:
    """Distances between cells, none of which may stand in another."""
    shape, width, depth, _ = size
    nested = _nominal(given["arrangement"]) == 1.0
    pitch, row = given.get("pitch"), given.get("row_pitch")
    if not isinstance(pitch, Quantity):
        pitch = exact(width.nominal + SPARE, "m")
        origins["pitch"] = f"not stated: {SPARE * 1e3:g} mm between cells, {TYPICAL}"
    if not isinstance(row, Quantity):
        own = pitch if shape == ROUND else exact(depth.nominal + SPARE, "m")
        row = exact(nested_pitch(pitch.nominal), "m") if nested and shape == ROUND else own
        said = "as close as along the row" if shape == ROUND else "cells side by side"
        origins["row_pitch"] = f"not stated: {said}"
    near = ((0.5 * pitch.nominal) ** 2 + row.nominal**2) ** 0.5 if nested and shape == ROUND else row.nominal
    for key, apart, least in (("pitch", pitch.nominal, width), ("row pitch", near, depth)):
        if apart < least.nominal * (1.0 - 1e-6):
            place = getattr(node.get(key), "place", node.place)
            what = f"so small that cells of {least.text} stand {apart * 1e3:.3g} mm apart"
            expected = "From centre to centre it is at least the size of a cell."
            mend = f"Write: {key}: {(least.nominal + SPARE) * 1e3:.3g} mm"
            report(say.wrong_shape(place, f"strip.{key}", what, expected, mend))
            return None
    return pitch, row
