"""Outages of the mains: how long they last, how often they come, and what that makes of readiness."""

from __future__ import annotations

import numpy as np

from .constants import MINUTES_PER_YEAR, Value

MEAN_DURATION = 120 * 60.0
"""Mean outage without major events, from the US range of 108 to 121 min per interruption. [s]

U.S. EIA, Electric Power Annual, tables 11.1 and 11.3."""

RATE = 1.05 / (365.25 * 86400.0)
"""Outages without major events, from the US range of 1.01 to 1.09 a year per customer. [1/s]

U.S. EIA, Electric Power Annual, tables 11.1 and 11.3."""

SHORT_RATE = 3.0 / (365.25 * 86400.0)
"""Momentary interruptions: two to five a year (typical, unverified). [1/s]"""

SHORTEST, SUSTAINED = 0.1, 300.0
"""A momentary interruption lasts from a tenth of a second (typical, unverified) to five minutes; what lasts longer is
sustained (IEEE 1366). [s]"""

FOLLOW_ON, WITHIN = 0.2, 86400.0
"""One in five outages is followed by another within a day (typical, unverified). [-] [s]"""

WITHIN_OVER_MEAN = 6.0
"""The gap before an outage that follows is exponential with this part of the longest one as its mean: 4 h of a day
(typical, unverified). [-]"""

SIGMA = 1.3
"""Standard deviation of the logarithm of the duration (typical, unverified). [-]"""


def lognormal_mu(mean: Value, sigma: Value = SIGMA) -> Value:
    """Mean logarithm of a log-normal duration, from its mean.

    Parameters
    ----------
    mean : float or array
        Mean duration. [s]
    sigma : float or array
        Standard deviation of its logarithm. [-]

    Returns
    -------
    mu : float or array
        Its exponential is the median, in seconds. [-]

    References
    ----------
    .. [1] Restoration-time studies find log-normal totals with heavy tails: arXiv 2603.16841, 2303.12714.

    Examples
    --------
    >>> print(f"{np.exp(lognormal_mu(120 * 60.0)) / 60:.1f} min")
    51.5 min
    """
    return np.log(mean) - 0.5 * np.square(sigma)


def outage_exceedance(t: Value, mean: Value = MEAN_DURATION, sigma: Value = SIGMA) -> Value:
    """Probability that an outage outlasts a given time.

    Parameters
    ----------
    t : float or array
        Time, not below zero. [s]
    mean : float or array
        Mean duration. [s]
    sigma : float or array
        Standard deviation of its logarithm. [-]

    Returns
    -------
    probability : float or array
        1 at zero. [-]

    References
    ----------
    .. [1] Log-normal distribution, see `lognormal_mu`.

    Examples
    --------
    >>> print(f"{outage_exceedance(4 * 3600.0):.3f}")
    0.118
    """
    from scipy.special import ndtr

    with np.errstate(divide="ignore"):
        return ndtr((lognormal_mu(mean, sigma) - np.log(t)) / sigma)


def outage_quantile(share: Value, mean: Value = MEAN_DURATION, sigma: Value = SIGMA) -> Value:
    """Duration that a given share of outages does not outlast: the inverse of `outage_exceedance`.

    Parameters
    ----------
    share : float or array
        Of outages bridged, between 0 and 1. [-]
    mean : float or array
        Mean duration. [s]
    sigma : float or array
        Standard deviation of its logarithm. [-]

    Returns
    -------
    t : float or array
        Backup time that bridges them. [s]

    References
    ----------
    .. [1] Log-normal distribution, see `lognormal_mu`.

    Examples
    --------
    >>> print(f"{outage_quantile(0.95) / 3600:.1f} h")
    7.3 h
    """
    from scipy.special import ndtri

    return np.exp(lognormal_mu(mean, sigma) + sigma * ndtri(share))


def another_within(rate: Value, t: Value) -> Value:
    """Probability of at least one more outage within a time, if they come independently.

    Parameters
    ----------
    rate : float or array
        Outages per second. [1/s]
    t : float or array
        Time, such as that to recharge. [s]

    Returns
    -------
    probability : float or array
        Real outages cluster: about one in five is followed by another within a day (typical, unverified). [-]

    References
    ----------
    .. [1] Poisson process.

    Examples
    --------
    Two a year, ten hours to recharge:

    >>> print(f"{another_within(2 / (365.25 * 86400), 36000.0):.4f}")
    0.0023
    """
    return -np.expm1(-rate * t)


def availability(minutes_per_year: Value) -> Value:
    """Share of the year with supply.

    Parameters
    ----------
    minutes_per_year : float or array
        Without supply, in minutes, as the yearly index SAIDI is published. [-]

    Returns
    -------
    share : float or array
        Of a mean year. [-]

    References
    ----------
    .. [1] IEEE 1366, definition of the index.

    Examples
    --------
    >>> print(f"{availability(120.0):.5f}")
    0.99977
    """
    return 1.0 - minutes_per_year / MINUTES_PER_YEAR


def latent_unavailability(rate: Value, interval: Value) -> Value:
    """Mean share of time in which a fault that nobody notices has already disabled the backup.

    Parameters
    ----------
    rate : float or array
        Of the fault. [1/s]
    interval : float or array
        Between tests under load. [s]

    Returns
    -------
    share : float or array
        Half of rate times interval while that is small; exact for an exponential life. [-]

    References
    ----------
    .. [1] Reliability of periodically tested standby equipment.

    Examples
    --------
    Once in fifty years, tested every half year:

    >>> print(f"{latent_unavailability(1 / 50, 0.5):.4f}")
    0.0050
    """
    x = np.asarray(rate * interval, dtype=float)
    safe = np.where(x > 1e-6, x, 1.0)
    return np.where(x > 1e-6, 1.0 + np.expm1(-safe) / safe, 0.5 * x)[()]
