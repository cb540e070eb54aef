"""Box: takes the heat of every part from the air inside to the room, through its walls and its vents."""

from __future__ import annotations

from typing import Any

import numpy as np

from tideover.laws.constants import STEFAN_BOLTZMANN
from tideover.laws.smooth import positive
from tideover.parts.base import Flow, Kind, Parameter, State

INNER_FILM = 8.0
"""Convection and radiation from the parts to the inside of the wall. [W/(m² K)]"""
AIR_CAPACITY = 1.177 * 1007.0
"""Heat held by a cubic metre of air. [J/(m³ K)]"""
DISCHARGE = 0.6
"""Discharge coefficient of a vent opening."""
GRAVITY = 9.80665


def equations(q: Any) -> Flow:
    """Air to wall by the inner film and the wall's own conduction; wall to room by natural convection and radiation.

    ``h_c = 1.42 (dT / H)^0.25`` for every free face (the base stands on something and counts for nothing). A vent of
    equal area low and high carries ``rho c_p C_d A_eff sqrt(g H / T_a) dT^1.5``, the heat of the air that rises.
    """
    p, x = q.p, q.x
    free = 2.0 * (p.width + p.depth) * p.height + p.width * p.depth
    inner = free / (1.0 / INNER_FILM + p.wall / p.wall_conductivity)
    rise = x.wall_temp - p.ambient
    size = np.sqrt(rise * rise + 0.01)
    convection = 1.42 * np.sqrt(np.sqrt(size / p.height))
    warm, cold = x.wall_temp, p.ambient
    radiation = p.emissivity * STEFAN_BOLTZMANN * (warm * warm + cold * cold) * (warm + cold)
    into_wall = inner * (q.air - x.wall_temp)
    out = free * (convection + radiation) * rise
    ahead = positive(q.air - p.ambient, 0.1)
    opening = p.vent_area / np.sqrt(2.0)
    chimney = AIR_CAPACITY * DISCHARGE * opening * np.sqrt(GRAVITY * p.height / p.ambient)
    vent = chimney * ahead * np.sqrt(ahead + 1e-6)
    return Flow(
        {"air": into_wall + vent},
        {"wall_temp": (into_wall - out) / p.wall_capacity},
        shown={"air rise [K]": q.air - p.ambient, "wall rise [K]": rise},
    )


BOX = Kind(
    "box",
    "the enclosure that all parts share",
    ("air",),
    None,
    (
        Parameter("width", "m", 0.01, 3.0, 0.15, "inside"),
        Parameter("depth", "m", 0.01, 3.0, 0.10, "inside"),
        Parameter("height", "m", 0.01, 3.0, 0.05, "inside, as it stands"),
        Parameter("wall", "m", 1e-4, 0.05, 0.0025, "thickness"),
        Parameter("wall conductivity", "W/(m K)", 0.02, 500.0, 0.2, "0.2 plastic, 45 steel, 200 aluminium"),
        Parameter("emissivity", "", 0.02, 1.0, 0.9, "0.9 plastic or paint, 0.15 bare aluminium"),
        Parameter("vent area", "m^2", 0.0, 1.0, 0.0, "open area low, and as much high"),
        Parameter("wall capacity", "J/K", 1.0, 1e6, 300.0, "heat held by the walls"),
        Parameter("ambient", "K", 200.0, 360.0, 298.15, "of the room", "the build's need"),
    ),
    equations,
    states=(State("wall_temp", "K", 1.0, "of the wall", slow=True, loose=True, start=298.15),),
    symbol="enclosure",
)
