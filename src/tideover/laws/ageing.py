"""Ageing of cells: published laws for the loss of capacity with time, temperature, charge held and use.

Each law was fitted to one cell. For any other take it as right within a factor of two. None holds past the
knee, below about 0.7 of the capacity of a new cell. The constants are those of several independent public
re-implementations that agree with each other; the papers themselves were not read.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from .constants import DAY, GAS, HOUR, TEMP_25, Value

SPREAD = 0.35
"""Standard deviation of the logarithm of a loss predicted for another cell (engineering judgement). [-]"""

NMC_CELL = 2.05 * HOUR
"""Capacity of the cell of the NMC law. [C]"""

CHEMISTRY_LAW = {"NMC": "NMC", "NCA": "NMC", "LCO": "NMC", "LFP": "LFP", "LTO": None, "PbA": None}
"""Which calendar law stands in for a chemistry (engineering judgement)."""


def nmc_calendar_loss(v: Value, temp: Value, t: Value) -> Value:
    """Share of capacity that an NMC cell loses by standing.

    Parameters
    ----------
    v : float or array
        Voltage it is held at, 3.2 to 4.2 V. [V]
    temp : float or array
        Of the cell, 283 to 333 K. [K]
    t : float or array
        Time. [s]

    Returns
    -------
    loss : float or array
        Fraction of the initial capacity. [-]

    References
    ----------
    .. [1] J. Schmalstieg et al., Journal of Power Sources 257 (2014) 325, doi 10.1016/j.jpowsour.2014.02.012.

    Examples
    --------
    >>> print(f"{nmc_calendar_loss(4.2, 298.15, 365.25 * DAY):.3f}")
    0.046
    """
    rate = np.maximum(7.543 * v - 23.75, 0.0) * 1e6 * np.exp(-6976.0 / temp)
    return rate * np.power(t / DAY, 0.75)


def nmc_cycle_loss(v_mean: Value, depth: Value, charge: Value, capacity: Value = NMC_CELL) -> Value:
    """Share of capacity that an NMC cell loses by use.

    Parameters
    ----------
    v_mean : float or array
        Mean voltage over the cycle. [V]
    depth : float or array
        Depth of the cycles. [-]
    charge : float or array
        Throughput, charge and discharge added. [C]
    capacity : float or array
        Of the cell; throughput is scaled to that of the paper's cell (engineering judgement). [C]

    Returns
    -------
    loss : float or array
        Fraction of the initial capacity. [-]

    References
    ----------
    .. [1] J. Schmalstieg et al., Journal of Power Sources 257 (2014) 325, doi 10.1016/j.jpowsour.2014.02.012.

    Examples
    --------
    Three hundred full cycles:

    >>> print(f"{nmc_cycle_loss(3.7, 1.0, 600 * NMC_CELL):.2f}")
    0.17
    """
    rate = 7.348e-3 * np.square(v_mean - 3.667) + 7.60e-4 + 4.081e-3 * depth
    return rate * np.sqrt(charge / capacity * NMC_CELL / HOUR)


def nmc_calendar_growth(v: Value, temp: Value, t: Value) -> Value:
    """Growth of the resistance of an NMC cell by standing.

    Parameters
    ----------
    v : float or array
        Voltage it is held at. [V]
    temp : float or array
        Of the cell. [K]
    t : float or array
        Time. [s]

    Returns
    -------
    growth : float or array
        Fraction of the initial resistance; constants typical, unverified. [-]

    References
    ----------
    .. [1] J. Schmalstieg et al., Journal of Power Sources 257 (2014) 325, as recalled.

    Examples
    --------
    >>> print(f"{nmc_calendar_growth(4.2, 298.15, 365.25 * DAY):.3f}")
    0.093
    """
    rate = np.maximum(5.270 * v - 16.32, 0.0) * 1e5 * np.exp(-5986.0 / temp)
    return rate * np.power(t / DAY, 0.75)


def nmc_cycle_growth(v_mean: Value, depth: Value, charge: Value, capacity: Value = NMC_CELL) -> Value:
    """Growth of the resistance of an NMC cell by use.

    Parameters
    ----------
    v_mean : float or array
        Mean voltage over the cycle. [V]
    depth : float or array
        Depth of the cycles. [-]
    charge : float or array
        Throughput, charge and discharge added. [C]
    capacity : float or array
        Of the cell, as in `nmc_cycle_loss`. [C]

    Returns
    -------
    growth : float or array
        Fraction of the initial resistance; constants typical, unverified. [-]

    References
    ----------
    .. [1] J. Schmalstieg et al., Journal of Power Sources 257 (2014) 325, as recalled.

    Examples
    --------
    >>> print(f"{nmc_cycle_growth(3.7, 1.0, 600 * NMC_CELL):.2f}")
    0.33
    """
    rate = 2.153e-4 * np.square(v_mean - 3.725) - 1.521e-5 + 2.798e-4 * depth
    return np.maximum(rate, 0.0) * charge / capacity * NMC_CELL / HOUR


def lfp_calendar_loss(soc: Value, temp: Value, t: Value) -> Value:
    """Share of capacity that an LFP cell loses by standing.

    Parameters
    ----------
    soc : float or array
        State of charge it is held at. [-]
    temp : float or array
        Of the cell. [K]
    t : float or array
        Time. [s]

    Returns
    -------
    loss : float or array
        Fraction of the initial capacity. [-]

    References
    ----------
    .. [1] M. Naumann et al., Journal of Energy Storage 17 (2018) 153, doi 10.1016/j.est.2018.01.019.

    Examples
    --------
    >>> print(f"{lfp_calendar_loss(1.0, 298.15, 365.25 * DAY):.4f}")
    0.0678
    """
    warmth = np.exp(-17126.0 / GAS * (1.0 / temp - 1.0 / TEMP_25))
    return 1.2571e-5 * warmth * (2.8575 * (soc - 0.5) ** 3 + 0.60225) * np.sqrt(t)


def lfp_cycle_loss(c_rate: Value, depth: Value, cycles: Value) -> Value:
    """Share of capacity that an LFP cell loses by use.

    Parameters
    ----------
    c_rate : float or array
        Current over that which empties the cell in one hour. [-]
    depth : float or array
        Depth of the cycles. [-]
    cycles : float or array
        Full equivalent cycles. [-]

    Returns
    -------
    loss : float or array
        Fraction of the initial capacity. [-]

    References
    ----------
    .. [1] M. Naumann et al., Journal of Power Sources 451 (2020) 227666.

    Examples
    --------
    >>> print(f"{lfp_cycle_loss(0.5, 1.0, 500):.3f}")
    0.039
    """
    return 0.01 * (0.0630 * c_rate + 0.0971) * (4.0253 * (depth - 0.6) ** 3 + 1.0923) * np.sqrt(cycles)


def lfp_throughput_loss(c_rate: Value, temp: Value, charge: Value) -> Value:
    """Share of capacity that an LFP cell of 2.2 Ah loses by use, by another law than `lfp_cycle_loss`.

    Parameters
    ----------
    c_rate : float or array
        Current over that which empties the cell in one hour, 0.5 to 10. [-]
    temp : float or array
        Of the cell. [K]
    charge : float or array
        Throughput of the cell. [C]

    Returns
    -------
    loss : float or array
        Fraction of the initial capacity. [-]

    Notes
    -----
    The factor in front is interpolated between its four published values over the logarithm of the
    current; all but the one at 2 C are typical, unverified.

    References
    ----------
    .. [1] J. Wang et al., Journal of Power Sources 196 (2011) 3942, doi 10.1016/j.jpowsour.2010.11.134.

    Examples
    --------
    >>> print(f"{lfp_throughput_loss(2.0, 298.15, 2000 * HOUR):.3f}")
    0.053
    """
    factor = np.interp(np.log(c_rate), np.log([0.5, 2.0, 6.0, 10.0]), [31630.0, 21681.0, 12934.0, 15512.0])
    return 0.01 * factor * np.exp((370.3 * c_rate - 31700.0) / (GAS * temp)) * np.power(charge / HOUR, 0.55)


def film_damage(depth: Value, soc: Value, temp: Value, cycles: Value, t: Value) -> Value:
    """Damage of a lithium cell, cycles and time together, as the two-exponential film law counts it.

    Parameters
    ----------
    depth : float or array
        Depth of the cycles, above 0. [-]
    soc : float or array
        Mean state of charge. [-]
    temp : float or array
        Of the cell, 288 K and up. [K]
    cycles : float or array
        Their number. [-]
    t : float or array
        Time. [s]

    Returns
    -------
    damage : float or array
        To be put into `film_loss`. [-]

    References
    ----------
    .. [1] B. Xu et al., IEEE Transactions on Smart Grid 9 (2018) 1131, doi 10.1109/TSG.2016.2578950;
       fitted to manganese-oxide cells.

    Examples
    --------
    >>> print(f"{film_damage(0.8, 0.5, 298.0, 1000, 0.0):.4f}")
    0.0298
    """
    warmth = np.exp(0.0693 * (temp - 298.0) * 298.0 / temp)
    held = np.exp(1.04 * (soc - 0.5))
    per_cycle = 1.0 / (1.40e5 * np.power(depth, -0.501) - 1.23e5)
    return (cycles * per_cycle + 4.14e-10 * t) * held * warmth


def film_loss(damage: Value) -> Value:
    """Share of capacity lost at a damage counted by `film_damage`.

    Parameters
    ----------
    damage : float or array
        Of cycles and time together. [-]

    Returns
    -------
    loss : float or array
        Fast while the first film forms, then slow. [-]

    References
    ----------
    .. [1] B. Xu et al., IEEE Transactions on Smart Grid 9 (2018) 1131, doi 10.1109/TSG.2016.2578950.

    Examples
    --------
    >>> print(f"{film_loss(0.0298):.3f}")
    0.084
    """
    return 1.0 - 0.0575 * np.exp(-121.0 * damage) - 0.9425 * np.exp(-damage)


def continue_loss(loss: Value, rate: Value, exponent: Value, step: Value) -> Value:
    """Carry a power law of time or use on under another stress than before.

    Parameters
    ----------
    loss : float or array
        So far. [-]
    rate : float or array
        Loss after one unit of `step` under the present stress, above zero. [-]
    exponent : float or array
        Of the power law: 0.75 (NMC standing), 0.5 (LFP standing). [-]
    step : float or array
        Time, or throughput, spent at this stress. [-]

    Returns
    -------
    loss : float or array
        Afterwards. [-]

    Notes
    -----
    The time that would have led to the loss so far at the present stress is found first, then the step is
    added to it: the order of stresses does not matter to the state, only to the path.

    References
    ----------
    .. [1] Usual practice with varying stress; the state is taken to be the loss alone.

    Examples
    --------
    >>> half = continue_loss(0.0, 0.01, 0.75, 4.0)
    >>> print(f"{continue_loss(half, 0.01, 0.75, 4.0) / continue_loss(0.0, 0.01, 0.75, 8.0):.3f}")
    1.000
    """
    return rate * np.power(np.power(loss / rate, 1.0 / exponent) + step, exponent)


def lead_acid_float_life(life: Value, temp: Value, temp_rated: Value = TEMP_25, halving: Any = 10.0) -> Value:
    """Life of a valve-regulated lead-acid battery on float.

    Parameters
    ----------
    life : float or array
        Design life at `temp_rated`, 3 to 5 years for general use (typical, unverified). [s]
    temp, temp_rated : float or array
        Of the battery, and of its design life; 293 K and up. [K]
    halving : float or array
        Warming that halves it, 8 to 10 K. [K]

    Returns
    -------
    life : float or array
        At `temp`. [s]

    References
    ----------
    .. [1] Public guides of valve-regulated batteries: half per 15 degrees F.

    Examples
    --------
    >>> print(f"{lead_acid_float_life(4.0, 308.15):.1f} of the unit given")
    2.0 of the unit given
    """
    return life * np.exp2((temp_rated - temp) / halving)
