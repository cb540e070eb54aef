"""Fuses: when they open, what they let through, and how warmth and pulses wear on them.

A rated current means different things: one family carries it and no more, another carries half as much again
for an hour. Between the points that the standards fix ("gates") everything is interpolation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from .constants import HOUR, TEMP_25, Value

UNVERIFIED = "typical, unverified"


@dataclass(frozen=True)
class Gate:
    """One fixed point of a time-current characteristic.

    Attributes
    ----------
    multiple : float
        Current over the rated current. [-]
    t_min, t_max : float
        Between which it must open; 0 and infinity where the standard leaves a side open. [s]
    """

    multiple: float
    t_min: float
    t_max: float


class Family(NamedTuple):
    """Characteristic of a family of fuses.

    Attributes
    ----------
    gates : tuple of Gate
        Ascending in current, at 23 to 25 degrees C. [-]
    load_factor : float
        Share of the rated current that a design should load it with for long. [-]
    source : str
        Where the gates come from. [-]
    """

    gates: tuple[Gate, ...]
    load_factor: float
    source: str


class Opening(NamedTuple):
    """When a fuse opens.

    Attributes
    ----------
    t_min, t_mid, t_max : float or array
        Earliest, geometric middle, and latest. [s]
    """

    t_min: Value
    t_mid: Value
    t_max: Value


INF = float("inf")

FAMILIES = {
    "time-lag, low breaking": Family(
        (
            Gate(1.5, HOUR, INF),
            Gate(2.1, 0.0, 120.0),
            Gate(2.75, 0.6, 10.0),
            Gate(4.0, 0.15, 3.0),
            Gate(10.0, 0.020, 0.300),
        ),
        0.95,
        "IEC 60127-2 sheet 3, 5 by 20 mm, to 6.3 A (above, 1.5 times for half an hour): published series",
    ),
    "time-lag, high breaking": Family(
        (Gate(1.5, HOUR, INF), Gate(2.1, 0.0, 1800.0), Gate(2.75, 0.75, 80.0), Gate(4.0, 0.095, 5.0)),
        0.95,
        "IEC 60127-2 sheet 5, 5 by 20 mm, 1 to 3.15 A (from 4 A 0.15 s at 4 times): published series",
    ),
    "quick": Family(
        (
            Gate(1.5, HOUR, INF),
            Gate(2.1, 0.0, 1800.0),
            Gate(2.75, 0.05, 2.0),
            Gate(4.0, 0.01, 0.3),
            Gate(10.0, 0.0, 0.020),
        ),
        0.95,
        f"IEC 60127-2 sheet 2, 5 by 20 mm: {UNVERIFIED}",
    ),
    "blade": Family(
        (
            Gate(1.1, 100.0 * HOUR, INF),
            Gate(1.35, 0.75, 120.0),
            Gate(1.6, 0.25, 50.0),
            Gate(2.0, 0.15, 5.0),
            Gate(3.5, 0.04, 0.5),
            Gate(6.0, 0.02, 0.1),
        ),
        0.75,
        f"ISO 8820-3 type C; older editions 600 s at 1.35 times: {UNVERIFIED}",
    ),
    "general, 248-14": Family(
        (Gate(1.0, INF, INF), Gate(1.35, 0.0, HOUR), Gate(2.0, 0.0, 120.0)),
        0.75,
        "UL and CSA 248-14, up to 30 A, public summary; it sets no earliest times",
    ),
}

PULSES = {100: 0.48, 1e3: 0.38, 1e4: 0.29, 1e5: 0.22}
"""Share of the melting integral that each of so many pulses may have. [-]

Public pulse table of fuse makers."""


def family(name: str) -> Family:
    """Find a family of fuses.

    Parameters
    ----------
    name : str
        Key of `FAMILIES`. [-]

    Returns
    -------
    family : Family
        Its gates and source. [-]

    Raises
    ------
    ValueError
        When there is none, with the choices.

    References
    ----------
    .. [1] See the source of each family.

    Examples
    --------
    >>> family("blade").gates[1]
    Gate(multiple=1.35, t_min=0.75, t_max=120.0)
    """
    if name not in FAMILIES:
        raise ValueError(f'Fuse family "{name}" is not known; choose one of: {", ".join(FAMILIES)}.')
    return FAMILIES[name]


def opening_time(i: Value, i_rated: Value, gates: tuple[Gate, ...]) -> Opening:
    """Between when and when a fuse opens at a steady current.

    Parameters
    ----------
    i : float or array
        Current. [A]
    i_rated : float or array
        Rated current at its temperature, see `rerated_current`. [A]
    gates : tuple of Gate
        Of its family. [-]

    Returns
    -------
    opening : Opening
        Infinite up to the rated current. Where the family sets no earliest time it is 0 and the middle
        NaN. [s]

    Notes
    -----
    Earliest and latest times are interpolated between their own gates, both axes logarithmic; the middle
    is their geometric mean. Past the last gate the integral of the squared current is held. Below the
    first gate with a latest time a fuse need not open at all. For times under about 10 ms use `short_time`.

    References
    ----------
    .. [1] IEC 60127-2; UL 248-14; ISO 8820-3: see the source of each family.

    Examples
    --------
    A 10 A blade fuse at 13.5 A: its melting integral alone would make one believe in 0.6 s.

    >>> print(opening_time(13.5, 10.0, family("blade").gates).t_max.round(1))
    120.0
    """
    x = np.log(np.maximum(np.asarray(i, dtype=float) / i_rated, 1e-9))
    early = [(gate.multiple, gate.t_min) for gate in gates if 0.0 < gate.t_min < INF]
    late = [(gate.multiple, gate.t_max) for gate in gates if gate.t_max < INF]
    t_min = _envelope(x, early, early[0][1]) if early else np.zeros_like(x)
    t_max = _envelope(x, late, INF)
    t_min = np.where(x <= 1e-12, INF, t_min)
    t_max = np.where(x <= 1e-12, INF, t_max)
    with np.errstate(invalid="ignore"):
        t_mid = np.where(t_min > 0.0, np.sqrt(t_min * t_max), np.nan)
    return Opening(t_min[()], t_mid[()], t_max[()])


def _envelope(x: Value, points: list[tuple[float, float]], before: float) -> Value:
    at, t = np.log(np.array(points).T)
    inside = np.interp(x, at, t) - 2.0 * np.maximum(x - at[-1], 0.0)
    return np.where(x < at[0] - 1e-12, before, np.exp(inside))


def short_time(i: Value, i2t_melting: Value, clearing: Value = 3.0) -> tuple[Value, Value]:
    """Opening time of a fuse in a hard short circuit.

    Parameters
    ----------
    i : float or array
        Prospective current, above zero. [A]
    i2t_melting : float or array
        Melting integral of the fuse. [A^2 s]
    clearing : float or array
        Clearing over melting integral with direct current, 1 to 3 (typical, unverified). [-]

    Returns
    -------
    t_melting, t_clearing : float or array
        Valid while under about 10 ms: no heat leaves the element. [s]

    References
    ----------
    .. [1] Adiabatic heating of the element.

    Examples
    --------
    >>> melting, clearing = short_time(143.0, 115.0)
    >>> print(f"{melting * 1e3:.1f} ms, {clearing * 1e3:.0f} ms")
    5.6 ms, 17 ms
    """
    melting = i2t_melting / np.square(i)
    return melting, clearing * melting


def rerated_current(i_rated: Value, temp: Value, per_kelvin: Value = 0.0018) -> Value:
    """Rated current of a time-lag or blade fuse at the temperature around it.

    Parameters
    ----------
    i_rated : float or array
        At 25 degrees C. [A]
    temp : float or array
        Of the air at the fuse. [K]
    per_kelvin : float or array
        Loss per kelvin, 0.0015 to 0.002; aerospace practice goes to 0.005. [1/K]

    Returns
    -------
    i : float or array
        Not below zero. [A]

    References
    ----------
    .. [1] Public fuse derating page for the aerospace figure; the default is typical, unverified.

    Examples
    --------
    >>> print(f"{rerated_current(10.0, 333.15):.1f} A")
    9.4 A
    """
    return i_rated * np.maximum(1.0 - per_kelvin * (temp - TEMP_25), 0.0)


def pulse_allowance(pulses: Value) -> Value:
    """Share of a fuse's melting integral that each of many pulses may have.

    Parameters
    ----------
    pulses : float or array
        How many the fuse shall survive, up to 1e5. [-]

    Returns
    -------
    share : float or array
        0.48 for 100 and fewer; NaN above 1e5, where nothing is published. [-]

    References
    ----------
    .. [1] Public pulse table of fuse makers.

    Examples
    --------
    >>> print(f"{pulse_allowance(1000):.2f}")
    0.38
    """
    count = np.asarray(pulses, dtype=float)
    share = np.interp(np.log10(np.maximum(count, 1.0)), np.log10(list(PULSES)), list(PULSES.values()))
    return np.where(count > 1e5, np.nan, share)[()]


def prospective_current(v: Value, r: Value) -> Value:
    """Current that a short circuit would draw.

    Parameters
    ----------
    v : float or array
        Open-circuit voltage of the pack. [V]
    r : float or array
        Of pack, strips, leads and fuse, above zero. [ohm]

    Returns
    -------
    i : float or array
        To be compared with breaking capacity and with what opens the fuse fast. [A]

    References
    ----------
    .. [1] Ohm's law.

    Examples
    --------
    Three groups of two 45 mohm cells, with a 20 mohm loop:

    >>> print(f"{prospective_current(12.6, 3 * 0.045 / 2 + 0.020):.0f} A")
    144 A
    """
    return v / r
