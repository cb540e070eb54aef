"""Changeover relay: the coil is part of the circuit and lets go when its own current has fallen.

The state is the coil's flux, so the current dips when the seated armature raises the inductance. A clamp across
the coil (plain diode, diode and Zener, or nothing) gives the current a path when its feed is cut. The thresholds
are currents: those of the stated pull-in and release voltages at 20 °C, so a hot coil needs more volts. The
armature then takes its stated times; both throws are open in between, and the landing throw bounces once.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from tideover.laws.relays import coil_resistance
from tideover.laws.smooth import positive
from tideover.parts.base import Arc, Flow, Kind, Machine, Parameter, State, warmth

FRONT_CLOSED = ("operated", "front touch", "letting go")
BACK_CLOSED = ("released", "back touch", "pulling in")
SEATED = ("operated", "front touch", "front bounce", "letting go")
CLAMP_SLOPE = 1.0
"""Slope resistance of the clamp once it conducts. [ohm]"""


def _coil(q: Any) -> Any:
    seated = q.among("contact", *SEATED)
    inductance = q.p.inductance_open + seated * (q.p.inductance_seated - q.p.inductance_open)
    return q.x.flux / inductance


def equations(q: Any) -> Flow:
    p, v = q.p, q.v
    u = v.coil_plus - v.coil_minus
    i_coil = _coil(q)
    ohms = coil_resistance(p.coil_resistance, q.temp)
    i_clamp = -positive(-u - p.clamp_voltage, 0.02) / CLAMP_SLOPE
    front = (v.common - v.front) * (q.among("contact", *FRONT_CLOSED) / p.contact_resistance + 1e-9)
    back = (v.common - v.back) * (q.among("contact", *BACK_CLOSED) / p.contact_resistance + 1e-9)
    return Flow(
        {
            "coil plus": i_coil + i_clamp,
            "coil minus": -i_coil - i_clamp,
            "common": front + back,
            "front": -front,
            "back": -back,
        },
        {"flux": u - i_coil * ohms},
        heat=i_coil * i_coil * ohms + u * i_clamp + front * (v.common - v.front) + back * (v.common - v.back),
        store=0.5 * q.x.flux * i_coil,
        shown={"coil current [A]": i_coil},
    )


def _pulls(q: Any) -> Any:
    return _coil(q) - q.p.operate_fraction * q.p.coil_voltage / q.p.coil_resistance


def _drops(q: Any) -> Any:
    return q.p.release_fraction * q.p.coil_voltage / q.p.coil_resistance - _coil(q)


def _pull_in_travel(q: Any) -> Any:
    """The stated operate time, less the coil's own rise and the open gap, is spent moving."""
    p = q.p
    rise = p.inductance_open / p.coil_resistance * -np.log(1.0 - p.operate_fraction)
    return np.maximum(p.operate_time - rise - p.open_time, 2e-4)


def _bounced(share: float, side: str) -> Any:
    return lambda q: share * getattr(q.p, side) + 1e-6


CONTACT = Machine(
    "contact",
    (
        "released",
        "pulling in",
        "crossing to front",
        "front touch",
        "front bounce",
        "operated",
        "letting go",
        "crossing to back",
        "back touch",
        "back bounce",
    ),
    (
        Arc("released", "pulling in", when=_pulls),
        Arc("pulling in", "released", when=_drops),
        Arc("pulling in", "crossing to front", after=_pull_in_travel),
        Arc("crossing to front", "front touch", after=lambda q: q.p.open_time),
        Arc("front touch", "front bounce", after=_bounced(0.3, "front_bounce")),
        Arc("front bounce", "operated", after=_bounced(0.7, "front_bounce")),
        Arc("operated", "letting go", when=_drops),
        Arc("letting go", "operated", when=_pulls),
        Arc("letting go", "crossing to back", after=lambda q: q.p.release_time),
        Arc("crossing to back", "back touch", after=lambda q: q.p.open_time),
        Arc("back touch", "back bounce", after=_bounced(0.3, "back_bounce")),
        Arc("back bounce", "released", after=_bounced(0.7, "back_bounce")),
    ),
    "front is joined while the coil is fed, back while it is not",
)

RELAY = Kind(
    "relay",
    "changeover relay, break before make",
    ("coil plus", "coil minus", "common", "front", "back"),
    None,
    (
        Parameter("coil voltage", "V", 1.0, 60.0, None, "nominal"),
        Parameter("coil resistance", "ohm", 1.0, 1e5, None, "at 20 °C"),
        Parameter("inductance seated", "H", 1e-4, 100.0, None, "armature on the core"),
        Parameter("inductance open", "H", 1e-4, 100.0, None, "armature away"),
        Parameter("operate fraction", "", 0.1, 0.99, 0.6, "pull-in voltage over nominal, at 20 °C"),
        Parameter("release fraction", "", 0.01, 0.95, 0.3, "release voltage over nominal, at 20 °C"),
        Parameter("operate time", "s", 1e-4, 0.2, 0.006, "coil fed until the front contact touches"),
        Parameter(
            "release time", "s", 1e-4, 0.2, 0.0025, "release current reached until the front contact opens"
        ),
        Parameter("open time", "s", 1e-5, 0.1, 0.003, "both throws open"),
        Parameter("front bounce", "s", 0.0, 0.1, 0.003, "of the front contact"),
        Parameter("back bounce", "s", 0.0, 0.1, 0.006, "of the back contact"),
        Parameter("contact resistance", "ohm", 1e-4, 10.0, 0.01, "closed"),
        Parameter(
            "clamp voltage",
            "V",
            0.2,
            1000.0,
            0.8,
            "flyback path: diode 0.8 V, with a 24 V Zener 25 V, none 200 V",
        ),
        Parameter("contact rating", "A", 0.01, 200.0, 10.0, "direct current at 30 V"),
        *warmth(50.0, 15.0),
    ),
    equations,
    states=(State("flux", "V s", 0.05, "of the coil"),),
    machines=(CONTACT,),
    symbol="relay",
    optional=frozenset({"front", "back"}),
)
