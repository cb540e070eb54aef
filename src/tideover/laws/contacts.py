"""Contacts: what their voltage drop says about the heat inside, and how they age."""

from __future__ import annotations

import numpy as np

from .constants import LORENZ, YEAR, Value

DROP_TO_LOOK_AT = 0.02
"""Contact drop at the worst current from which a contact deserves a look (engineering judgement). [V]"""
DROP_TO_REFUSE = 0.05
"""Contact drop at the worst current that is too much: 40 K at the spot (engineering judgement). [V]"""

SOFTENING = {"tin": 0.07, "gold": 0.08, "silver": 0.09, "copper": 0.12, "nickel": 0.22}
"""Contact drop at which the spot softens. [V] Holm, Electric Contacts, as recalled: typical, unverified."""
MELTING = {"tin": 0.13, "silver": 0.37, "copper": 0.43, "nickel": 0.65}
"""Contact drop at which the spot melts. [V] Holm, Electric Contacts, as recalled: typical, unverified."""

FILM_LIFE = {"gold": 10.0 * YEAR, "tin": 3.0 * YEAR, "tin, vibrating or damp": 0.5 * YEAR}
"""Time in which films double the resistance of a contact pair. [s] Typical, unverified."""


def hot_spot_temperature(v_contact: Value, temp: Value) -> Value:
    """Hottest point inside a metal contact, from nothing but its voltage drop.

    Parameters
    ----------
    v_contact : float or array
        Drop across one contact. [V]
    temp : float or array
        Bulk of the contact parts. [K]

    Returns
    -------
    temp_spot : float or array
        Where the current squeezes through. [K]

    Notes
    -----
    ``T^2 = T_0^2 + V^2 / (4 L)``: heat and current take the same paths, so neither size nor force matters
    [1]_. Films that conduct badly break the assumption.

    References
    ----------
    .. [1] R. Holm, Electric Contacts, Springer, 1967: the voltage-temperature relation.

    Examples
    --------
    >>> print(f"{hot_spot_temperature(0.03, 298.15) - 298.15:.2f} K")
    15.02 K
    """
    return np.sqrt(np.square(temp) + np.square(v_contact) / (4.0 * LORENZ))


def hot_spot_drop(rise: Value, temp: Value) -> Value:
    """Voltage drop of a contact whose hottest point lies a given amount above the bulk.

    Parameters
    ----------
    rise : float or array
        Of the spot above the bulk. [K]
    temp : float or array
        Bulk of the contact parts. [K]

    Returns
    -------
    v_contact : float or array
        Drop across one contact. [V]

    References
    ----------
    .. [1] R. Holm, Electric Contacts, Springer, 1967.

    Examples
    --------
    >>> print(f"{hot_spot_drop(40.0, 298.15) * 1e3:.0f} mV")
    50 mV
    """
    return np.sqrt(4.0 * LORENZ * rise * (2.0 * temp + rise))


def aged_contact(
    r_0: Value, matings: Value, matings_rated: Value, t: Value, film_life: Value = FILM_LIFE["tin"]
) -> Value:
    """Contact resistance after wear and time.

    Parameters
    ----------
    r_0 : float or array
        New. [ohm]
    matings, matings_rated : float or array
        How often it was plugged, and how often it may be. [-]
    t : float or array
        In service. [s]
    film_life : float or array
        See `FILM_LIFE`. [s]

    Returns
    -------
    r : float or array
        Steady value; fretting can be far worse, and comes and goes. [ohm]

    Notes
    -----
    ``r_0 (1 + (matings / rated)^1.5 + t / film_life)``: typical, unverified.

    References
    ----------
    .. [1] Engineering judgement.

    Examples
    --------
    >>> print(f"{aged_contact(0.015, 5000, 5000, 0.0):.3f} ohm")
    0.030 ohm
    """
    return r_0 * (1.0 + np.power(matings / matings_rated, 1.5) + t / film_life)
