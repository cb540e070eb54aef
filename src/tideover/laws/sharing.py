"""How cells side by side share the current, and what their strips do to it."""

from __future__ import annotations

import numpy as np

from .constants import Value

FEEDS = ("same end", "diagonal", "centre")
"""Where the leads meet the two strips of a row of cells."""


def parallel_currents(ocv: Value, r: Value, i: Value) -> Value:
    """Currents of cells in parallel, strips left out.

    Parameters
    ----------
    ocv : array, shape (..., n)
        Open-circuit voltages. [V]
    r : array, shape (..., n)
        Resistances, above zero; infinite for a cell whose weld is open. [ohm]
    i : float or array, shape (...)
        Discharge current of the group. [A]

    Returns
    -------
    currents : array, shape (..., n)
        Discharge currents; unequal cells trade current even without load. [A]

    References
    ----------
    .. [1] Node equation of one group.

    Examples
    --------
    One cell of four with 20 % more resistance carries 13 % less than the mean:

    >>> print(parallel_currents([3.7] * 4, [0.06, 0.05, 0.05, 0.05], 4.0).round(2))
    [0.87 1.04 1.04 1.04]
    """
    g = 1.0 / np.asarray(r, dtype=float)
    v = (np.sum(np.asarray(ocv) * g, axis=-1) - np.asarray(i)) / np.sum(g, axis=-1)
    return (np.asarray(ocv) - v[..., None]) * g


def ladder_currents(ocv: Value, r_cell: Value, r_segment: Value, i: float, feed: str = "same end") -> Value:
    """Currents of cells in parallel along two strips with resistance.

    Parameters
    ----------
    ocv : array, shape (n,)
        Open-circuit voltages. [V]
    r_cell : array, shape (n,)
        Of cell and welds, above zero; infinite for an open weld. [ohm]
    r_segment : float or array, shape (n - 1,)
        Of each piece of strip between neighbours, the same in both strips. [ohm]
    i : float
        Discharge current of the group. [A]
    feed : str
        ``"same end"``, ``"diagonal"`` or ``"centre"``. [-]

    Returns
    -------
    currents : array, shape (n,)
        Discharge currents from the first cell on; both leads at the first unless `feed` says otherwise. [A]

    Raises
    ------
    ValueError
        For another feed.

    Notes
    -----
    Node equations of both strips. As a rule of thumb keep ``n^2 r_segment / r_cell`` under 0.2 for leads
    at the same end; at opposite ends, or both in the middle, about four times as much will do.

    References
    ----------
    .. [1] Kirchhoff's current law.

    Examples
    --------
    >>> print((4 * ladder_currents([3.7] * 4, [0.05] * 4, 1.2e-3, 1.0)).round(3))
    [1.157 1.02  0.933 0.89 ]
    """
    if feed not in FEEDS:
        raise ValueError(f'Feed "{feed}" is not known; choose one of: {", ".join(FEEDS)}.')
    ocv, g = np.asarray(ocv, dtype=float), 1.0 / np.asarray(r_cell, dtype=float)
    n = len(ocv)
    r_segment = np.broadcast_to(np.asarray(r_segment, dtype=float), (n - 1,))
    if not np.any(r_segment):
        return parallel_currents(ocv, r_cell, i)
    bars = np.arange(n - 1)
    # Unknowns: n voltages on the positive strip, n on the negative, then the current in each bar of both
    # strips, so that a bar without resistance is as good as any other.
    a = np.zeros((4 * n - 2, 4 * n - 2))
    b = np.zeros(4 * n - 2)
    for strip, sign in ((0, 1.0), (1, -1.0)):
        nodes, flows = strip * n, 2 * n + strip * (n - 1)
        a[nodes + np.arange(n), np.arange(n)] += sign * g
        a[nodes + np.arange(n), n + np.arange(n)] -= sign * g
        b[nodes : nodes + n] += sign * g * ocv
        a[nodes + bars, flows + bars] += 1.0
        a[nodes + bars + 1, flows + bars] -= 1.0
        a[flows + bars, nodes + bars] = 1.0
        a[flows + bars, nodes + bars + 1] = -1.0
        a[flows + bars, flows + bars] = -r_segment
    plus, minus = {"same end": (0, 0), "diagonal": (0, n - 1), "centre": (n // 2, n // 2)}[feed]
    b[plus] -= i
    a[n + minus] = 0.0  # the reference node takes the place of its own balance
    a[n + minus, n + minus] = 1.0
    b[n + minus] = 0.0
    v = np.linalg.solve(a, b)
    return (ocv - v[:n] + v[n : 2 * n]) * g


def joining_current(v_step: Value, r_a: Value, r_b: Value) -> Value:
    """Current between two cells of unequal voltage at the instant they are joined.

    Parameters
    ----------
    v_step : float or array
        Voltage difference; aim at less than 0.05 V before joining (engineering judgement). [V]
    r_a, r_b : float or array
        Of both cells, and of a resistor put between. [ohm]

    Returns
    -------
    i : float or array
        From the higher to the lower. [A]

    References
    ----------
    .. [1] Ohm's law.

    Examples
    --------
    >>> print(f"{joining_current(0.05, 0.05, 0.05):.1f} A")
    0.5 A
    """
    return v_step / (r_a + r_b)
