"""Cases: what varies in a build, batches of cases, and the worst case of a quantity."""

from tideover.cases.batch import (
    Batch,
    corner,
    cross,
    described,
    join,
    nominal,
    one_at_a_time,
    override,
    random_corners,
    random_signs,
    repeat,
    written,
)
from tideover.cases.extreme import Extreme, extreme, extremes
from tideover.cases.spreads import Spread, spreads

__all__ = [
    "Batch",
    "Extreme",
    "Spread",
    "corner",
    "cross",
    "described",
    "extreme",
    "extremes",
    "join",
    "nominal",
    "one_at_a_time",
    "override",
    "random_corners",
    "random_signs",
    "repeat",
    "spreads",
    "written",
]
