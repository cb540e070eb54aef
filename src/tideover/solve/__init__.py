"""Solvers: standing points and marches of a network, many cases at once. They know no part by name."""

from tideover.solve.march import Watch, march
from tideover.solve.readings import Readings, along, readings
from tideover.solve.record import Wave, Waves
from tideover.solve.rest import OUTCOMES, Condition, Inside, Rest, rest
from tideover.solve.script import Change
from tideover.solve.system import System, build

__all__ = [
    "OUTCOMES",
    "Change",
    "Condition",
    "Inside",
    "Readings",
    "Rest",
    "System",
    "Watch",
    "Wave",
    "Waves",
    "along",
    "build",
    "march",
    "readings",
    "rest",
]
