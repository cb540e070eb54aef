"""Values that say several things at once, the way a builder says them aloud.

``peak: 21.6 W for 40 ms every 10 s`` is ``peak power``, ``peak duration`` and ``peak interval``;
``inside: 200 × 150 × 80 mm`` is ``width``, ``depth`` and ``height``. A form applies only where the kind
knows all the keys that the form stands for.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection

from tideover.design import messages as say
from tideover.design.source import Scalar
from tideover.design.values import Report
from tideover.quantity import QuantityError, parse, show

Said = list[tuple[str, Scalar]]

_PEAK = re.compile(r"\s*(.+?)\s+for\s+(.+?)(?:\s+every\s+(.+?))?\s*")
_SIZE = re.compile(
    r"\s*([0-9.]+)\s*([^\W\d_]*)\s*[×x*]\s*([0-9.]+)\s*([^\W\d_]*)\s*[×x*]\s*([0-9.]+)\s*([^\W\d_]+)\s*"
)
_WALL = re.compile(
    r"\s*(?:(?P<before>[^\W\d][^\d]*?)\s+)?(?P<size>[0-9.]+\s*m+)(?:\s+(?P<after>[^\W\d].*?))?\s*"
)
_VENTS = re.compile(
    r"\s*(.+?)\s+low(?:\s+and|,)\s+(.+?)\s+high\s*|\s*(.+?)\s+high(?:\s+and|,)\s+(.+?)\s+low\s*"
)

MATERIALS: dict[str, tuple[str, str]] = {
    **dict.fromkeys(("ABS", "PLA", "PETG", "polycarbonate", "plastic"), ("0.2 W/(m·K)", "0.9")),
    "wood": ("0.12 W/(m·K)", "0.9"),
    "steel": ("45 W/(m·K)", "0.9"),
    **dict.fromkeys(("aluminium", "aluminum"), ("200 W/(m·K)", "0.15")),
    "painted aluminium": ("200 W/(m·K)", "0.9"),
}
"""Conductivity and emissivity of a wall. Typical, unverified: steel as painted, aluminium as bare."""


def expand(owner: str, key: str, value: Scalar, known: Collection[str], report: Report) -> Said | None:
    """What a value stands for, as plain keys and values.

    Parameters
    ----------
    owner, key : str
        Part and key, as the file has them.
    value : Scalar
        What stands there.
    known : collection of str
        Keys of the kind, folded.
    report : callable
        Takes a fault.

    Returns
    -------
    list of (str, Scalar) or None
        None when no form fits; an empty list after a fault.
    """
    name = say.folded(key)
    head = next((f"{name}{tail}" for tail in (" power", " current") if f"{name}{tail}" in known), "")
    if head and {f"{name} duration", f"{name} interval"} <= set(known):
        return _peak(owner, key, value, (head, f"{name} duration", f"{name} interval"), report)
    if name == "inside" and {"width", "depth", "height"} <= set(known):
        return _size(owner, key, value, report)
    if name == "wall" and {"wall", "wall conductivity", "emissivity"} <= set(known):
        return _wall(owner, key, value, report)
    if name == "vents" and "vent area" in known:
        return _vents(owner, key, value, report)
    return None


def _bad(owner: str, key: str, value: Scalar, problem: str, example: str, report: Report) -> Said:
    expected = f'The form is "{example}".'
    report(say.bad_value(value.place, f"{owner}.{key}", value.text, problem, expected, f"{key}: {example}"))
    return []


def _peak(owner: str, key: str, value: Scalar, keys: tuple[str, ...], report: Report) -> Said:
    found = _PEAK.fullmatch(value.text)
    if not found:
        return _bad(
            owner, key, value, "a peak without its duration", f"{value.text} for 40 ms every 10 s", report
        )
    return [(k, value.part(*found.span(n + 1))) for n, k in enumerate(keys) if found[n + 1]]


def _with_unit(value: Scalar, number: str, unit: str) -> Scalar:
    return Scalar(f"{number} {unit}", value.place, value.start, value.end, False)


def _size(owner: str, key: str, value: Scalar, report: Report) -> Said:
    found = _SIZE.fullmatch(value.text)
    if not found:
        return _bad(owner, key, value, "not three lengths", "200 × 150 × 80 mm", report)
    a, ua, b, ub, c, uc = found.groups()
    return [
        (name, _with_unit(value, number, unit or uc))
        for name, number, unit in (("width", a, ua), ("depth", b, ub), ("height", c, uc))
    ]


def _wall(owner: str, key: str, value: Scalar, report: Report) -> Said | None:
    found = _WALL.fullmatch(value.text)
    said = (found["before"] or found["after"] or "") if found else ""
    if not found or not said:
        return None
    material = next((name for name in MATERIALS if say.folded(name) == say.folded(said)), "")
    if not material:
        near = say.nearest(said, MATERIALS)
        expected = f"Known materials: {say.listed(near, 12)}."
        mend = f"{key}: {near[0]} {found['size']}"
        problem = "of a material that is not known here"
        report(say.bad_value(value.place, f"{owner}.{key}", value.text, problem, expected, mend))
        return []
    conductivity, emissivity = MATERIALS[material]
    texts = (("wall", found["size"]), ("wall conductivity", conductivity), ("emissivity", emissivity))
    return [(name, Scalar(text, value.place, value.start, value.end, False)) for name, text in texts]


def _vents(owner: str, key: str, value: Scalar, report: Report) -> Said:
    """Two openings in line act like two equal ones: ``1/A² = (1/A_low² + 1/A_high²) / 2``."""
    example = "6 cm² low and 6 cm² high"
    if say.folded(value.text) in ("none", "no"):
        return [("vent area", Scalar("0 cm²", value.place, value.start, value.end, False))]
    found = _VENTS.fullmatch(value.text)
    if not found:
        return _bad(owner, key, value, "not two openings", example, report)
    try:
        areas = [parse(text, "m^2").nominal for text in found.groups() if text]
    except QuantityError:
        return _bad(owner, key, value, "not two areas", example, report)
    if min(areas) < 0:
        return _bad(owner, key, value, "an opening below nothing", example, report)
    area = math.sqrt(2 / sum(a**-2 for a in areas)) if min(areas) > 1e-9 else 0.0
    return [("vent area", Scalar(show(area, "m^2", 9), value.place, value.start, value.end, False))]
