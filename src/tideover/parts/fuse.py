"""Fuse: a resistance that melts.

``d(melting)/dt = i^2 / I2t - melting / tau`` with ``tau = I2t / (k I_n)^2``. A short melts it when the integral of
i^2 reaches I2t; the current k I_n (the fusing factor times the rating) just brings `melting` to 1. Between the
two limits this follows the published gates from the middle; near the gates' ends trust the gates, which the
ratings answer uses.
"""

from __future__ import annotations

from typing import Any

from tideover.parts.base import Arc, Flow, Kind, Machine, Parameter, State, warmth, word

FAMILIES = ("time-lag 5x20", "quick 5x20", "blade")


def _melted(q: Any) -> Any:
    return q.x.melting - 1.0


def _equations(q: Any) -> Flow:
    """Melting integral with a leak: exact in its two limits, a short and the smallest current that melts.

    ``d(melting)/dt = i²/I2t - melting/tau`` with ``tau = I2t / (k I_n)²``: at high current it melts when the
    integral of i² reaches I2t, at k I_n it just reaches 1. Between them the true curve lies within its gates
    (tested); the hot element has 1.6 times its cold resistance.
    """
    u = q.v.a - q.v.b
    whole = q.among("element", "whole")
    ohms = q.p.resistance * (1.0 + 0.6 * q.x.melting)
    i = u * (whole / ohms + (1.0 - whole) * 1e-9)
    rate = (
        i * i / q.p.melting_integral
        - q.x.melting * (q.p.fusing_factor * q.p.rating) ** 2 / q.p.melting_integral
    )
    return Flow(
        {"a": i, "b": -i}, {"melting": rate}, heat=u * i, shown={"drop [V]": u, "melting [-]": q.x.melting}
    )


FUSE = Kind(
    "fuse",
    "a resistance that melts; blown, it stays open",
    ("a", "b"),
    ("a", "b"),
    (
        Parameter("rating", "A", 0.01, 200.0, None, "rated current"),
        Parameter("resistance", "ohm", 1e-5, 10.0, None, "cold"),
        Parameter("melting integral", "A^2 s", 1e-4, 1e6, None, "nominal melting I2t"),
        Parameter("fusing factor", "", 1.05, 3.0, 1.6, "current that melts it in the end, over the rating"),
        word("family", FAMILIES, "blade", "whose gates of opening time apply"),
        Parameter("voltage rating", "V", 0.0, 1000.0, 0.0, "on direct current; 0 V means not stated"),
        Parameter("breaking capacity", "A", 0.0, 1e6, 0.0, "on direct current; 0 A means not stated"),
        *warmth(30.0, 1.0),
    ),
    _equations,
    states=(State("melting", "", 1.0, "share of the way to melting, 1 = open", slow=True, loose=True),),
    machines=(Machine("element", ("whole", "blown"), (Arc("whole", "blown", when=_melted),)),),
    symbol="fuse",
)
