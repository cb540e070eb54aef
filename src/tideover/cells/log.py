"""A discharge log once it is read: what every logger's file becomes."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Log:
    """One record of one cell, in SI.

    Attributes
    ----------
    name : str
        Of the file, without its folder. [-]
    t : array, shape (n,)
        From 0, strictly ascending. [s]
    v : array, shape (n,)
        At the terminals, or at the logger's leads. [V]
    i : array, shape (n,)
        Positive on discharge. [A]
    temp : array, shape (n,), or None
        Of the cell's case, NaN where it was not taken. [K]
    discharged : array, shape (n,), or None
        Charge counted by the logger itself from the first row on; where it is given it prevails over integrating `i`,
        because rows may have been thinned or left out. [C]
    breaks : tuple of int
        Rows that begin anew after a hole in the record (a restart, hours left out): nothing is known of the time
        between it and the row before, but what `discharged` tells. [-]
    assumed : tuple of str
        What was taken for granted while reading, each a sentence.
    digest : str
        SHA-256 of the original file.
    """

    name: str
    t: Array
    v: Array
    i: Array
    temp: Array | None = None
    discharged: Array | None = None
    breaks: tuple[int, ...] = ()
    assumed: tuple[str, ...] = field(default=())
    digest: str = ""

    @property
    def charge(self) -> Array:
        """Charge taken out since the first row: the logger's own count, or else the current integrated. [C]"""
        if self.discharged is not None:
            return self.discharged - self.discharged[0]
        steps = np.diff(self.t) * 0.5 * (self.i[1:] + self.i[:-1])
        for row in self.breaks:
            steps[row - 1] = 0.0
        return np.concatenate([[0.0], np.cumsum(steps)])
