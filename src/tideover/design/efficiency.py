"""Efficiency points of a converter: measured at a few places, they set how much its model loses.

One factor on the modelled loss fits all points by least squares, each weighted by its input power; its spread covers
every point, so that what one factor cannot explain widens the worst case instead of vanishing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

from tideover.design import messages as say
from tideover.design.source import Node, Scalar, Sequence
from tideover.design.values import Report
from tideover.quantity import Quantity, QuantityError, parse

EXAMPLE = "92 % from 7.4 V to 12 V at 1 A"
FACTOR = "loss_factor"
_POINT = re.compile(r"(?P<eta>.+?)\s+from\s+(?P<v_in>.+?)\s+to\s+(?P<v_out>.+?)\s+at\s+(?P<i_out>.+)", re.I)
_UNITS = {"eta": "", "v_in": "V", "v_out": "V", "i_out": "A"}


@dataclass(frozen=True)
class Point:
    """One measurement: efficiency, input and output voltage [V], output current [A]."""

    eta: float
    v_in: float
    v_out: float
    i_out: float


def known(kind: Any) -> bool:
    """Whether a kind's losses can be set by efficiency points: a switching converter."""
    names = {p.name for p in kind.parameters}
    return {FACTOR, "switching_frequency"} <= names


def read(owner: str, key: str, node: Node, report: Report) -> list[Point]:
    """Points as written, one or a list of them; faults are reported and left out."""
    found = []
    for one in node.items if isinstance(node, Sequence) else [node]:
        point = _point(one) if isinstance(one, Scalar) else None
        if point is None:
            text = one.text if isinstance(one, Scalar) else ""
            expected = f'The form is "{EXAMPLE}", an efficiency below 100 % and figures above nothing.'
            problem = "no efficiency at a stated input and output"
            report(say.bad_value(one.place, f"{owner}.{key}", text, problem, expected, f"{key}: [{EXAMPLE}]"))
        else:
            found.append(point)
    return found


def _point(node: Scalar) -> Point | None:
    match = _POINT.fullmatch(node.text.strip())
    if not match:
        return None
    try:
        figures = {name: parse(match[name], unit).nominal for name, unit in _UNITS.items()}
    except QuantityError:
        return None
    good = 0.0 < figures["eta"] < 1.0 and min(figures.values()) > 0.0
    return Point(**figures) if good else None


def factor(kind_name: str, values: dict[str, float], points: list[Point]) -> Quantity:
    """Measured loss over modelled loss.

    Parameters
    ----------
    kind_name : str
        ``boost``, ``buck`` or ``buck-boost``. [-]
    values : dict
        The part's parameters by Python name, nominal. [SI]
    points : list of Point
        At least one. [-]

    Returns
    -------
    factor : Quantity
        By least squares; low and high are those of single points. [-]
    """
    from tideover.parts.converter import BOOST_WAY, BOTH_WAY, BUCK_WAY

    way = {"boost": BOOST_WAY, "buck": BUCK_WAY, "buck-boost": BOTH_WAY}[kind_name]
    p = SimpleNamespace(**values)
    modelled, measured, weight = [], [], []
    for point in points:
        p_in = point.v_out * point.i_out / point.eta
        modelled.append(float(way.loss(p, point.v_in, point.v_out, point.i_out)))
        measured.append(p_in - point.v_out * point.i_out - point.v_in * values["quiescent"])
        weight.append(1.0 / p_in**2)
    top = sum(w * a * b for w, a, b in zip(weight, modelled, measured))
    best = top / sum(w * a * a for w, a in zip(weight, modelled))
    single = [b / a for a, b in zip(modelled, measured)]
    return Quantity(best, min(best, *single), max(best, *single), "", f"{best:.3g} from {len(points)} points")
