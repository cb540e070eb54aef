import math

import pytest

from tideover.laws import constants


def test_thermal_voltage_is_proportional_to_temperature():
    assert constants.thermal_voltage(600.0) == pytest.approx(2 * constants.thermal_voltage(300.0), rel=1e-15)
    assert constants.thermal_voltage(0.0) == 0.0


def test_gas_constant_and_faraday_agree_with_the_exact_constants():
    avogadro = 6.02214076e23
    assert constants.BOLTZMANN * avogadro == pytest.approx(constants.GAS, rel=1e-9)
    assert constants.ELEMENTARY_CHARGE * avogadro == pytest.approx(constants.FARADAY, rel=1e-9)


def test_radiation_constant_follows_from_the_exact_constants():
    planck, light = 6.62607015e-34, 299792458.0
    sigma = 2 * math.pi**5 * constants.BOLTZMANN**4 / (15 * planck**3 * light**2)
    assert pytest.approx(sigma, rel=1e-9) == constants.STEFAN_BOLTZMANN


def test_metals_that_were_not_checked_say_so():
    for metal in (constants.NICKEL, constants.PLATED_STEEL, constants.COPPER_CLAD_ALUMINIUM):
        assert "typical, unverified" in metal.source
