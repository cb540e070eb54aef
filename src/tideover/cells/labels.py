"""Labels for the cells: a sheet to print, each label with the id in big letters and as a QR code.

Everything is drawn in millimetres, so that a sheet printed at 100 % fits ready-cut label paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from xml.sax.saxutils import escape

import segno

from tideover.cells.stock import StockCell
from tideover.quantity import show

PAPERS = {"A4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height. [mm] ISO 216; ANSI Y14.1."""
MARGIN = 8.0
"""Around the sheet, which printers leave white. [mm]"""
LEAST_MARGIN = 4.0
"""Ready-cut paper has labels this near to its edge. [mm]"""
PAD = 1.2
"""Inside a label, between its edge and anything printed. [mm]"""
QUIET = 4
"""Modules of white around the code: ISO/IEC 18004."""
SMALLEST_MODULE = 0.25
"""That a telephone's camera still reads from a household printer: typical, unverified. [mm]"""
LETTER = 0.62
"""Width of a bold capital over its height of type, on the wide side. [-]"""
INCH = 25.4


@dataclass(frozen=True)
class Sheet:
    """How labels lie on a sheet of paper.

    Attributes
    ----------
    paper : str
        A key of `PAPERS`.
    columns, rows : int
        Labels side by side, and below each other.
    width, height : float
        Of one label. [mm]
    left, top : float
        Of the first label's corner. [mm]
    """

    paper: str
    columns: int
    rows: int
    width: float
    height: float
    left: float
    top: float

    @property
    def labels(self) -> int:
        """On one sheet."""
        return self.columns * self.rows


def in_grid(paper: str, columns: int, rows: int) -> Sheet:
    """Labels that fill a sheet but for its margin.

    Parameters
    ----------
    paper : str
        A key of `PAPERS`. [-]
    columns, rows : int
        Above zero. [-]

    Returns
    -------
    sheet : Sheet
        In millimetres. [-]
    """
    width, height = PAPERS[paper]
    return Sheet(paper, columns, rows, (width - 2 * MARGIN) / columns, (height - 2 * MARGIN) / rows, MARGIN, MARGIN)


def of_size(paper: str, width: float, height: float) -> Sheet:
    """As many labels of a size as a sheet holds, in its middle.

    Parameters
    ----------
    paper : str
        A key of `PAPERS`. [-]
    width, height : float
        Of a label, in millimetres. [-]

    Returns
    -------
    sheet : Sheet
        In millimetres. [-]

    Raises
    ------
    ValueError
        When not even one fits.
    """
    full = PAPERS[paper]
    columns, rows = (int((whole - 2 * LEAST_MARGIN) / one + 1e-9) for whole, one in zip(full, (width, height)))
    if columns < 1 or rows < 1:
        raise ValueError(f"A label of {width:g} x {height:g} mm does not fit on {paper}, {full[0]:g} x {full[1]:g} mm.")
    left, top = (full[0] - columns * width) / 2, (full[1] - rows * height) / 2
    return Sheet(paper, columns, rows, width, height, left, top)


def code_path(text: str, x: float, y: float, side: float) -> tuple[str, float]:
    """A QR code as an SVG path, and the size of its modules.

    Parameters
    ----------
    text : str
        What a reader gives back. [-]
    x, y : float
        Corner of the square that it fills, with its white border. [mm]
    side : float
        Of that square. [mm]

    Returns
    -------
    path : str
        One rectangle for each run of dark modules; in millimetres.
    module : float
        Side of a module, in millimetres. [-]
    """
    plain = text.isascii()  # other letters say in the code how they are written, or readers guess
    matrix = segno.make(text, error="m", micro=False, encoding=None if plain else "utf-8", eci=not plain).matrix
    module = side / (len(matrix) + 2 * QUIET)
    pieces = []
    for row, line in enumerate(matrix):
        start = None
        for column, dark in enumerate([*line, 0]):
            if dark and start is None:
                start = column
            if not dark and start is not None:
                width = (column - start) * module
                corner = f"{x + (start + QUIET) * module:.3f} {y + (row + QUIET) * module:.3f}"
                pieces.append(f"M{corner}h{width:.3f}v{module:.3f}h{-width:.3f}z")
                start = None
    return "".join(pieces), module


def lines_of(cell: StockCell, today: date) -> list[str]:
    """What stands below the id: what it is, what was measured, what it is not good for, the day of printing."""
    kind = cell.model if cell.chemistry in cell.model else f"{cell.chemistry} {cell.model}"
    capacity = "" if cell.capacity is None else show(cell.capacity, "C")
    resistance = "" if cell.resistance is None else f"{show(cell.resistance, 'ohm')} {cell.method or '(method?)'}"
    status = cell.status.upper() if cell.status in ("quarantine", "rejected") else cell.status
    return [text for text in (kind.strip(), capacity, resistance, f"{status} {today.isoformat()}") if text]


def sheets(cells: Sequence[StockCell], sheet: Sheet, today: date, skip: int = 0) -> list[str]:
    """Each sheet as an SVG drawing.

    Parameters
    ----------
    cells : sequence of StockCell
        One label each. [-]
    sheet : Sheet
        How they lie. [-]
    today : date
        Printed on each. [-]
    skip : int
        Labels of the first sheet that are used up already. [-]

    Returns
    -------
    drawings : list of str
        One per sheet.

    Raises
    ------
    ValueError
        When a label is too small for its code to be read.
    """
    width, height = PAPERS[sheet.paper]
    placed = [(k + skip, cell) for k, cell in enumerate(cells)]
    out = []
    for page in range(0, (placed[-1][0] // sheet.labels + 1) if placed else 0):
        body = "".join(
            _label(cell, sheet, position - page * sheet.labels, today)
            for position, cell in placed
            if position // sheet.labels == page
        )
        out.append(
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
            f'viewBox="0 0 {width:g} {height:g}" font-family="Helvetica, Arial, sans-serif">'
            f"<title>Labels for cells, sheet {page + 1}</title>"
            f'<rect width="{width:g}" height="{height:g}" fill="#fff"/>{body}</svg>\n'
        )
    return out


def _label(cell: StockCell, sheet: Sheet, position: int, today: date) -> str:
    row, column = divmod(position, sheet.columns)
    x, y = sheet.left + column * sheet.width, sheet.top + row * sheet.height
    side = min(sheet.height - 2 * PAD, 0.5 * (sheet.width - 2 * PAD))
    path, module = code_path(cell.id, x + sheet.width - PAD - side, y + (sheet.height - side) / 2, side)
    if module < SMALLEST_MODULE:
        raise ValueError(
            f"A label of {sheet.width:.0f} x {sheet.height:.0f} mm is too small for the code of {cell.id}: "
            f"its squares would be {module:.2f} mm wide, and {SMALLEST_MODULE:g} mm can be read."
        )
    room = sheet.width - 2 * PAD - side
    lines = lines_of(cell, today)
    tall = sheet.height - 2 * PAD
    big = min(0.36 * tall, room / (LETTER * len(cell.id)))
    small = min((tall - big) / (1.2 * len(lines)), 0.15 * tall, 3.5)
    parts = [
        f'<rect x="{x:.2f}" y="{y:.2f}" width="{sheet.width:.2f}" height="{sheet.height:.2f}" '
        'fill="none" stroke="#bbb" stroke-width="0.1"/>',
        _text(cell.id, x + PAD, y + PAD + 0.8 * big, big, room, bold=True),
    ]
    baseline = y + PAD + big
    for line in lines:
        baseline += 1.2 * small
        loud = line == lines[-1] and line[0].isupper()
        parts.append(_text(line, x + PAD, baseline, small, room, bold=loud))
    return f'{"".join(parts)}<path d="{path}" fill="#000" shape-rendering="crispEdges"/>'


def _text(text: str, x: float, y: float, size: float, room: float, bold: bool = False) -> str:
    """A line of text, squeezed where it would be wider than its room."""
    wide = (LETTER if bold else 0.56) * size * len(text)
    squeezed = f' textLength="{room:.2f}" lengthAdjust="spacingAndGlyphs"' if wide > room * 1.001 else ""
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.2f}"{weight}{squeezed}>{escape(text)}</text>'


def page(drawings: Iterable[str], sheet: Sheet) -> str:
    """All sheets as one page to print from a browser, with nothing outside of it.

    Parameters
    ----------
    drawings : iterable of str
        As `sheets` makes them. [-]
    sheet : Sheet
        How they lie. [-]

    Returns
    -------
    html : str
        One printed page for each sheet.
    """
    width, height = PAPERS[sheet.paper]
    style = (
        f"@page {{ size: {width:g}mm {height:g}mm; margin: 0 }}\n"
        "html, body { margin: 0; padding: 0; background: #fff }\n"
        f"svg {{ display: block; width: {width:g}mm; height: {height:g}mm; break-after: page }}\n"
        "svg:last-child { break-after: auto }\n"
    )
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>Labels for cells</title>\n'
        f"<style>\n{style}</style>\n</head>\n<body>\n{''.join(drawings)}</body>\n</html>\n"
    )
