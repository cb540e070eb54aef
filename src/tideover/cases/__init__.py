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
    placed,
    random_corners,
    random_signs,
    repeat,
    written,
)
from tideover.cases.extreme import Extreme, extreme, extremes
from tideover.cases.samples import Samples, samples
from tideover.cases.share import PIECE, Shared, pool, share
from tideover.cases.spreads import Spread, spreads

__all__ = [
    "PIECE",
    "Batch",
    "Extreme",
    "Samples",
    "Shared",
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
    "placed",
    "pool",
    "random_corners",
    "random_signs",
    "repeat",
    "samples",
    "share",
    "spreads",
    "written",
]
