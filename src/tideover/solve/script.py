"""What happens from outside during a march: signals that change at known instants."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.solve.system import Array, System


@dataclass(frozen=True)
class Change:
    """A signal takes a value at an instant; each a number, or one for each case.

    Attributes
    ----------
    at : float or array
        When. [s]
    part, signal : str
        Which: an adapter's ``mains``, a load's ``demand``, a switch's ``closed``.
    value : float or array
        What it becomes. [-]
    """

    at: Any
    part: str
    signal: str
    value: Any


@dataclass(frozen=True)
class Script:
    """Changes in order of time for every case: instants (changes, cases), signal rows and values alike."""

    at: Array
    row: NDArray[np.int64]
    value: Array

    def take(self, cases: NDArray[Any]) -> Script:
        """The same for some of the cases."""
        return Script(self.at[:, cases], self.row[:, cases], self.value[:, cases])


def signal_row(system: System, part: str, signal: str) -> int:
    """Row of a signal in the solver's layout; KeyError when the part has none of that name."""
    for g in system.layout:
        names = list(g.kind.signals)
        for k, member in enumerate(g.members):
            if system.network.parts[member].name == part and signal in names:
                return g.s0 + names.index(signal) * g.n + k
    raise KeyError(f"{part}.{signal}")


def compile_script(system: System, changes: Sequence[Change]) -> Script:
    """Sort the changes of every case by time; changes at one instant keep the order given."""
    count = system.count
    at = np.empty((len(changes), count))
    value = np.empty((len(changes), count))
    row = np.empty((len(changes), count), dtype=np.int64)
    for k, c in enumerate(changes):
        at[k], value[k], row[k] = c.at, c.value, signal_row(system, c.part, c.signal)
    order = np.argsort(at, axis=0, kind="stable")
    return Script(
        np.take_along_axis(at, order, 0),
        np.take_along_axis(row, order, 0),
        np.take_along_axis(value, order, 0),
    )
