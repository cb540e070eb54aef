"""Relay coils: what voltage makes them pull in, and how long they take to let go.

Force follows the square of the current, so thresholds are currents; coil copper turns them into voltages that
rise with temperature. Times of travel, gap and bounce are data of the part, not laws.
"""

from __future__ import annotations

import numpy as np

from .conductors import resistance_at
from .constants import Value


def coil_resistance(r_20: Value, temp: Value) -> Value:
    """Resistance of a copper coil at its own temperature.

    Parameters
    ----------
    r_20 : float or array
        At 20 degrees C, typically within 10 % of the data sheet. [ohm]
    temp : float or array
        Coil temperature, the air plus 20 to 50 K of its own heat. [K]

    Returns
    -------
    r : float or array
        At `temp`. [ohm]

    References
    ----------
    .. [1] IEC 60028; temperature coefficient typical, unverified.

    Examples
    --------
    >>> print(f"{coil_resistance(275.0, 373.15):.0f} ohm")
    361 ohm
    """
    return resistance_at(r_20, temp)


def operate_voltage(v_operate_20: Value, temp: Value) -> Value:
    """Voltage that a warm coil needs to pull in (or at which it lets go).

    Parameters
    ----------
    v_operate_20 : float or array
        Threshold at 20 degrees C. [V]
    temp : float or array
        Coil temperature. [K]

    Returns
    -------
    v_operate : float or array
        Threshold at `temp`: the same current through more resistance. [V]

    References
    ----------
    .. [1] Published relay data sheets state thresholds at 20 or 23 degrees C; copper law of IEC 60028.

    Examples
    --------
    A relay that must operate at 75 % of 12 V, in 60 degrees C air, its coil 40 K warmer:

    >>> print(f"{operate_voltage(0.75 * 12, 373.15):.1f} V")
    11.8 V
    """
    return resistance_at(v_operate_20, temp)


def operate_time(inductance: Value, r: Value, v: Value, i_operate: Value) -> Value:
    """Time for the coil current to reach the pull-in current after the supply is applied.

    Parameters
    ----------
    inductance : float or array
        Of the open coil, about half the seated value. [H]
    r : float or array
        Coil resistance. [ohm]
    v : float or array
        Supply at the coil. [V]
    i_operate : float or array
        Pull-in current. [A]

    Returns
    -------
    t : float or array
        Without the armature's travel; infinite when the current never gets there. [s]

    References
    ----------
    .. [1] Exponential rise in an R-L circuit.

    Examples
    --------
    >>> print(f"{operate_time(1.145, 275.0, 12.0, 0.7 * 12 / 275) * 1e3:.1f} ms")
    5.0 ms
    """
    share = np.asarray(i_operate * r / v, dtype=float)
    reached = share < 1.0
    return np.where(reached, -inductance / r * np.log1p(-np.where(reached, share, 0.0)), np.inf)[()]


def release_time(
    inductance: Value, r: Value, i_0: Value, i_release: Value, v_clamp: Value, t_armature: Value = 0.0
) -> Value:
    """Time from the opening of the coil circuit until the relay lets go.

    Parameters
    ----------
    inductance : float or array
        Of the seated coil. [H]
    r : float or array
        Coil resistance, plus that of a resistor in its place. [ohm]
    i_0 : float or array
        Coil current when the circuit opens. [A]
    i_release : float or array
        Current at which the armature drops, above zero. [A]
    v_clamp : float or array
        What the current must run against: a plain diode about 0.7 V; with a Zener in series its voltage on
        top; zero for a resistor or a shorted coil. [V]
    t_armature : float or array
        Travel of the armature, added. [s]

    Returns
    -------
    t : float or array
        Zero electrical time if the current is already below release. [s]

    Notes
    -----
    ``L/R ln((i_0 + v/R) / (i_release + v/R))``. The fall of inductance as the armature opens, and eddy
    currents in the core, are neglected: a few tenths of the result either way.

    References
    ----------
    .. [1] Exponential decay in an R-L circuit against a constant voltage; relay makers' notes on coil
       suppression tell of the slow release with a diode.

    Examples
    --------
    The same coil with a plain diode, then with a 24 V Zener in series:

    >>> i_0 = 12 / 275
    >>> print(f"{release_time(2.29, 275.0, i_0, 0.4 * i_0, 0.7) * 1e3:.1f} ms")
    7.0 ms
    >>> print(f"{release_time(2.29, 275.0, i_0, 0.4 * i_0, 24.7) * 1e3:.2f} ms")
    1.82 ms
    """
    against = v_clamp / r
    return inductance / r * np.log(np.maximum((i_0 + against) / (i_release + against), 1.0)) + t_armature


def supply_fall_time(c: Value, v: Value, k_release: Value, p: Value) -> Value:
    """Time a dying adapter needs to fall to the release voltage of the relay it feeds.

    Parameters
    ----------
    c : float or array
        Capacitance at the adapter's output. [F]
    v : float or array
        Voltage at which the fall starts. [V]
    k_release : float or array
        Release voltage as a share of `v`, often only 0.1 to 0.5. [-]
    p : float or array
        Load, of constant power, above zero. [W]

    Returns
    -------
    t : float or array
        By then the load has long reset: the reason not to hang the coil on the adapter alone. [s]

    References
    ----------
    .. [1] Energy balance of a capacitor; resistance neglected.

    Examples
    --------
    >>> print(f"{supply_fall_time(680e-6, 12.0, 0.3, 10.0) * 1e3:.1f} ms")
    4.5 ms
    """
    return 0.5 * c * np.square(v) * (1.0 - np.square(k_release)) / p
