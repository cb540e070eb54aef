"""One kind of cell as it was measured: open-circuit voltage and resistances against state of charge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from .cells import KNOTS, OCV, STEEP, Curve


def beside(curves: Sequence[Curve]) -> Curve:
    """Curves of several parts as one, on all their knots together.

    Parameters
    ----------
    curves : sequence of Curve
        Of one part or more each; their knots may differ. [V]

    Returns
    -------
    curve : Curve
        All parts in order. Cutting a cubic piece in two changes none of its values. [V]

    References
    ----------
    .. [1] Taylor's theorem, exact for cubic pieces.

    Examples
    --------
    >>> two = beside([Curve.through([0.0, 0.5, 1.0], [3.0, 3.6, 4.2]), Curve.through([0.0, 1.0], [2.0, 2.5])])
    >>> print(two.value(0.25), len(two.knots))
    [3.3   2.125] 3
    """
    knots = np.unique(np.concatenate([np.asarray(c.knots) for c in curves]))
    pieces, steep = [], []
    for c in curves:
        at = np.searchsorted(c.knots[1:-1], knots[:-1], side="right")
        x = (knots[:-1] - c.knots[at])[:, None]
        c0, c1, c2, c3 = np.moveaxis(c.coefficients[:, at], 2, 0)[..., None]
        shifted = [
            c0 + x * (c1 + x * (c2 + x * c3)),
            c1 + x * (2.0 * c2 + x * 3.0 * c3),
            c2 + 3.0 * c3 * x,
            c3 + 0.0 * x,
        ]
        pieces.append(np.concatenate(shifted, axis=2))
        steep.append(np.broadcast_to(c.steep, (len(c.coefficients),)))
    return Curve(knots, np.concatenate(pieces), np.concatenate(steep))


@dataclass(frozen=True, eq=False)
class CellCurve:
    """How one kind of cell follows its state of charge.

    Attributes
    ----------
    knots : array, shape (k,)
        States of charge, ascending from 0 to 1. [-]
    volts : array, shape (k,)
        Open-circuit voltage of one cell at rest, never falling with charge. [V]
    ohmic_shape : array, shape (k,)
        Ohmic resistance over the one stated, above zero. [-]
    lag_shape : array, shape (k,)
        Resistances of both pairs over the ones stated, above zero. [-]
    spread : array, shape (k,)
        Standard uncertainty of the voltage; zero where nobody said. [V]
    steep : float
        Least slope of the voltage beyond 0 and 1; see `Curve`. [V]

    Examples
    --------
    >>> cell = CellCurve.of("NMC")
    >>> print(cell.open_circuit.value(0.5), cell.ohmic.value(0.5))
    [3.71] [1.]
    """

    knots: Any
    volts: Any
    ohmic_shape: Any
    lag_shape: Any
    spread: Any = None
    steep: float = 0.0

    @classmethod
    def of(cls, chemistry: str) -> CellCurve:
        """The typical curve of a chemistry, with resistances that do not follow charge.

        Parameters
        ----------
        chemistry : str
            Key of `tideover.laws.cells.OCV`. [-]

        Returns
        -------
        curve : CellCurve
            On the knots of the table. [V]

        Examples
        --------
        >>> CellCurve.of("LFP").volts[0]
        2.7
        """
        flat = (1.0,) * len(KNOTS)
        return cls(KNOTS, OCV[chemistry], flat, flat, None, STEEP.get(chemistry, 0.0))

    @cached_property
    def open_circuit(self) -> Curve:
        """The voltage as a curve of one part. [V]"""
        return Curve.through(self.knots, self.volts, self.steep)

    @cached_property
    def ohmic(self) -> Curve:
        """The shape of the ohmic resistance as a curve of one part. [-]"""
        return Curve.through(self.knots, self.ohmic_shape)

    @cached_property
    def lag(self) -> Curve:
        """The shape of the pairs' resistances as a curve of one part. [-]"""
        return Curve.through(self.knots, self.lag_shape)
