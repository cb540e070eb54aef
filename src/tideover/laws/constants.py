"""Constants of nature, of time, and of the metals that small supplies are wired with.

Physical constants are the exact SI values or the CODATA 2018 adjustment. Metals carry their source, because a
strip sold as nickel and a lead sold as copper are often something else.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

Value = Any
"""A number, an array, or a symbol that implements ``__array_ufunc__``."""

BOLTZMANN = 1.380649e-23
"""Boltzmann constant. [J/K]"""
ELEMENTARY_CHARGE = 1.602176634e-19
"""Charge of the electron. [C]"""
FARADAY = 96485.33212
"""Charge of a mole of electrons. [C/mol]"""
GAS = 8.314462618
"""Molar gas constant. [J/(mol K)]"""
STEFAN_BOLTZMANN = 5.670374419e-8
"""Radiation of a black surface. [W/(m^2 K^4)]"""
GRAVITY = 9.80665
"""Standard acceleration of free fall. [m/s^2]"""
LORENZ = 2.45e-8
"""Heat to electric conduction of metals, the rounded value used for contacts. [V^2/K^2]"""

ICE = 273.15
"""Zero on the Celsius scale. [K]"""
TEMP_20 = 293.15
"""Reference temperature of conductor tables. [K]"""
TEMP_25 = 298.15
"""Reference temperature of semiconductor and cell data. [K]"""

HOUR = 3600.0
DAY = 86400.0
YEAR = 365.25 * DAY
MONTH = YEAR / 12
MINUTES_PER_YEAR = YEAR / 60

MIL = 25.4e-6
"""A thousandth of an inch. [m]"""


@dataclass(frozen=True)
class Metal:
    """A conductor material at 20 degrees C.

    Attributes
    ----------
    rho : float
        Resistivity at 20 degrees C. [ohm m]
    alpha : float
        Temperature coefficient of resistance, referred to 20 degrees C. [1/K]
    source : str
        Where both figures come from. [-]
    """

    rho: float
    alpha: float
    source: str


COPPER = Metal(
    1.0 / 58.0e6,
    0.00393,
    "IEC 60028, annealed copper of 58 MS/m at 20 degrees C; coefficient: textbooks, typical, unverified",
)
FOIL = Metal(
    1.72e-8,
    0.00393,
    "electrodeposited board foil; limit 1.82e-8 ohm m by the military foil table (0.162 g ohm/m^2)",
)
NICKEL = Metal(6.99e-8, 0.006, "99 % nickel, handbook value as widely quoted: typical, unverified")
NICKEL_COMMERCIAL = Metal(
    8.7e-8, 0.006, "commercially pure nickel, middle of 8.0e-8 to 9.5e-8: typical, unverified"
)
PLATED_STEEL = Metal(
    1.2e-7, 0.0055, "nickel-plated steel strip, within 1.0e-7 to 1.7e-7: typical, unverified"
)
COPPER_CLAD_ALUMINIUM = Metal(
    2.75e-8, 0.0040, "lead with an aluminium core, within 2.6e-8 to 2.9e-8: typical, unverified"
)


def thermal_voltage(temp: Value) -> Value:
    """Voltage that measures thermal energy per electron, the unit in which junctions count.

    Parameters
    ----------
    temp : float or array
        Absolute temperature. [K]

    Returns
    -------
    v_t : float or array
        Boltzmann constant times temperature over the electron charge. [V]

    References
    ----------
    .. [1] BIPM, The International System of Units, 9th edition, 2019: both constants are exact.

    Examples
    --------
    >>> print(f"{thermal_voltage(298.15) * 1e3:.3f} mV")
    25.693 mV
    """
    return (BOLTZMANN / ELEMENTARY_CHARGE) * temp
