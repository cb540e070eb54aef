"""Chargers: how long a charge takes, what holds the current back, what the input sees."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .constants import Value


class Charge(NamedTuple):
    """Course of a charge.

    Attributes
    ----------
    soc_turn : float or array
        State of charge at which constant voltage begins. [-]
    t_current : float or array
        At constant current. [s]
    t_voltage : float or array
        At constant voltage, until termination. [s]
    """

    soc_turn: Value
    t_current: Value
    t_voltage: Value


def charge_time(
    soc: Value,
    capacity: Value,
    i: Value,
    i_end: Value,
    r: Value,
    slope: Value,
    ocv_full: Value,
    v_charge: Value,
) -> Charge:
    """Duration of a charge at constant current, then constant voltage, in closed form.

    Parameters
    ----------
    soc : float or array
        State of charge at the start. [-]
    capacity : float or array
        Of the cell or pack. [C]
    i, i_end : float or array
        Charge current, and the current at which it terminates. [A]
    r : float or array
        All resistances in series, the slow ones of the cell included, above zero. [ohm]
    slope : float or array
        Of the open-circuit voltage over state of charge near the top, above zero. [V]
    ocv_full : float or array
        Open-circuit voltage at state of charge 1. [V]
    v_charge : float or array
        Charge voltage. [V]

    Returns
    -------
    charge : Charge
        Turning point [-] and both times. [s]

    Notes
    -----
    The tail dies away with ``r capacity / slope``. A start beyond the turning point begins on the tail.
    Too long for LFP, whose slope rises only at the very end; diffusion makes real tails 1.2 to 1.5 times
    longer (typical, unverified).

    References
    ----------
    .. [1] Linear open-circuit voltage and one resistance; derived here.

    Examples
    --------
    >>> done = charge_time(0.0, 9000.0, 1.25, 0.125, 0.12, 0.85, 4.185, 4.2)
    >>> print(f"{done.soc_turn:.3f}, {done.t_current / 60:.1f} min, {done.t_voltage / 60:.1f} min")
    0.841, 100.9 min, 48.8 min
    """
    soc_turn = 1.0 + (v_charge - i * r - ocv_full) / slope
    t_current = np.maximum(soc_turn - soc, 0.0) * capacity / i
    i_tail = np.minimum(i, (v_charge - ocv_full + slope * (1.0 - soc)) / r)
    t_voltage = r * capacity / slope * np.log(np.maximum(i_tail / i_end, 1.0))
    return Charge(soc_turn, t_current, t_voltage)


def foldback_current(
    i_set: Value, temp_limit: Value, temp_air: Value, theta: Value, v_in: Value, v_battery: Value
) -> Value:
    """Current of a linear charger that holds its chip at a highest temperature.

    Parameters
    ----------
    i_set : float or array
        Programmed current. [A]
    temp_limit, temp_air : float or array
        At which it folds back, and of the air in the box. [K]
    theta : float or array
        From junction to that air, as mounted. [K/W]
    v_in, v_battery : float or array
        Input and battery voltage. [V]

    Returns
    -------
    i : float or array
        Steady charge current. [A]

    References
    ----------
    .. [1] Published data sheets of linear chargers with thermal regulation.

    Examples
    --------
    >>> print(f"{foldback_current(1.0, 393.15, 328.15, 60.0, 5.0, 3.7):.3f} A")
    0.833 A
    """
    allowed = np.maximum(temp_limit - temp_air, 0.0) / theta
    return np.minimum(i_set, allowed / np.maximum(v_in - v_battery, 1e-9))


def dropout_current(v_in: Value, v_battery: Value, r_pass: Value) -> Value:
    """Current of a linear charger that is out of headroom.

    Parameters
    ----------
    v_in, v_battery : float or array
        Input and battery voltage. [V]
    r_pass : float or array
        Of the pass element, 0.3 to 0.6 ohm (typical, unverified). [ohm]

    Returns
    -------
    i : float or array
        What the resistance lets through, never backwards. [A]

    References
    ----------
    .. [1] Ohm's law.

    Examples
    --------
    >>> print(f"{dropout_current(4.6, 4.1, 0.6):.2f} A")
    0.83 A
    """
    return np.maximum(v_in - v_battery, 0.0) / r_pass


def input_regulation_current(v_source: Value, v_hold: Value, r_source: Value) -> Value:
    """Input current of a charger that gives way until its input holds a given voltage.

    Parameters
    ----------
    v_source : float or array
        Of the source without load. [V]
    v_hold : float or array
        Input voltage that the charger will not pull below. [V]
    r_source : float or array
        Of source, lead and plugs, above zero. [ohm]

    Returns
    -------
    i_in : float or array
        Greatest input current. [A]

    References
    ----------
    .. [1] Published data sheets of chargers with input-voltage regulation, 4.3 to 4.46 V on a 5 V input.

    Examples
    --------
    >>> print(f"{input_regulation_current(5.0, 4.4, 0.4):.2f} A")
    1.50 A
    """
    return np.maximum(v_source - v_hold, 0.0) / r_source


def charger_input_current(
    v_in: Value, v_battery: Value, i_charge: Value, eta: Value, i_q: Value = 0.0
) -> Value:
    """Input current of a switching charger.

    Parameters
    ----------
    v_in, v_battery : float or array
        Input and battery voltage. [V]
    i_charge : float or array
        Into the battery. [A]
    eta : float or array
        Efficiency. [-]
    i_q : float or array
        Quiescent current. [A]

    Returns
    -------
    i_in : float or array
        From the adapter; a linear charger takes `i_charge` itself. [A]

    References
    ----------
    .. [1] Power balance.

    Examples
    --------
    >>> print(f"{charger_input_current(12.0, 8.2, 1.0, 0.9, 2e-3):.3f} A")
    0.761 A
    """
    return v_battery * i_charge / (eta * v_in) + i_q


def charge_current_from_input(
    v_in: Value, v_battery: Value, i_in: Value, eta: Value, i_q: Value = 0.0
) -> Value:
    """Charge current that an input current buys: the inverse of `charger_input_current`.

    Parameters
    ----------
    v_in, v_battery : float or array
        Input and battery voltage. [V]
    i_in : float or array
        Allowed at the input. [A]
    eta : float or array
        Efficiency. [-]
    i_q : float or array
        Quiescent current. [A]

    Returns
    -------
    i_charge : float or array
        Into the battery, never backwards. [A]

    References
    ----------
    .. [1] Power balance.

    Examples
    --------
    >>> print(f"{charge_current_from_input(5.0, 3.7, 0.5, 0.9):.3f} A")
    0.608 A
    """
    return np.maximum(i_in - i_q, 0.0) * eta * v_in / v_battery


def float_cycle(
    v_charge: Value, v_restart: Value, slope: Value, capacity: Value, i_load: Value
) -> tuple[Value, Value]:
    """Small cycle of a pack whose load hangs on it after the charger has terminated.

    Parameters
    ----------
    v_charge, v_restart : float or array
        Charge voltage, and the voltage at which charging starts again; per cell as is `slope`. [V]
    slope : float or array
        Of the open-circuit voltage over state of charge near the top. [V]
    capacity : float or array
        Of the pack. [C]
    i_load : float or array
        Drawn from it meanwhile, above zero. [A]

    Returns
    -------
    depth, t : float or array
        Share of the capacity cycled [-], and time to discharge it. [s]

    References
    ----------
    .. [1] Charge balance on a linear open-circuit voltage, resistance neglected.

    Examples
    --------
    >>> depth, t = float_cycle(4.2, 4.07, 0.85, 9000.0, 0.05)
    >>> print(f"{depth:.3f}, {t / 3600:.1f} h")
    0.153, 7.6 h
    """
    depth = (v_charge - v_restart) / slope
    return depth, depth * capacity / i_load
