"""Laws that stand inside a part's equations work on anything that speaks numpy's ufunc protocol.

The operand here carries a value and its derivative, knows only the operations that part models may use, and
refuses to be compared, indexed or turned into a float: so a hidden `where` or `if` shows.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.lib.mixins import NDArrayOperatorsMixin
from scipy.special import wrightomega

from tideover.laws import capacitors, cells, chargers, conductors, converters, diodes, heat, losses, relays

RULES: dict[Any, Any] = {
    np.add: lambda a, b: (a[0] + b[0], a[1] + b[1]),
    np.subtract: lambda a, b: (a[0] - b[0], a[1] - b[1]),
    np.multiply: lambda a, b: (a[0] * b[0], a[1] * b[0] + a[0] * b[1]),
    np.divide: lambda a, b: (a[0] / b[0], (a[1] - a[0] / b[0] * b[1]) / b[0]),
    np.power: lambda a, b: (a[0] ** b[0], b[0] * a[0] ** (b[0] - 1) * a[1]),
    np.square: lambda a: (a[0] ** 2, 2 * a[0] * a[1]),
    np.negative: lambda a: (-a[0], -a[1]),
    np.exp: lambda a: (np.exp(a[0]), np.exp(a[0]) * a[1]),
    np.log: lambda a: (np.log(a[0]), a[1] / a[0]),
    np.sqrt: lambda a: (np.sqrt(a[0]), 0.5 * a[1] / np.sqrt(a[0])),
    np.absolute: lambda a: (abs(a[0]), np.sign(a[0]) * a[1]),
    np.maximum: lambda a, b: a if a[0] >= b[0] else b,
    np.minimum: lambda a, b: a if a[0] <= b[0] else b,
    wrightomega: lambda a: (wrightomega(a[0]), a[1] * wrightomega(a[0]) / (1 + wrightomega(a[0]))),
}


class Dual(NDArrayOperatorsMixin):
    """A value and its derivative."""

    def __init__(self, value: float, slope: float) -> None:
        self.pair = (float(value), float(slope))

    def __array_ufunc__(self, ufunc: Any, method: str, *inputs: Any, **kwargs: Any) -> Dual:
        assert method == "__call__"
        assert not kwargs, f"{ufunc} with {kwargs}"
        assert ufunc in RULES, f"{ufunc} is not among the operations of part equations"
        return Dual(*RULES[ufunc](*(x.pair if isinstance(x, Dual) else (float(x), 0.0) for x in inputs)))

    def __bool__(self) -> bool:
        raise AssertionError("a symbol was asked whether it is true")


DIODE = (3.888e-5, 1.378)
TERMS = (1e-3, 0.04, 0.07, 0.45, 0.018)
EQUATIONS = {
    "resistance": (conductors.resistance_at, (0.1, 330.0)),
    "lead": (conductors.pair_resistance, (1.5, 0.05, 0.05, 330.0, 0.02)),
    "coil": (relays.coil_resistance, (275.0, 330.0)),
    "pull-in": (relays.operate_voltage, (9.0, 330.0)),
    "saturation": (diodes.saturation_current, (*DIODE, 330.0, 0.69, 2.0)),
    "diode": (diodes.forward_current, (0.4, *DIODE, 0.02, 330.0)),
    "diode in reverse": (diodes.forward_current, (-5.0, *DIODE, 0.02, 330.0)),
    "junction": (diodes.junction_current, (0.4, *DIODE, 330.0)),
    "junction beyond": (diodes.junction_current, (2.0, *DIODE, 330.0)),
    "diode voltage": (diodes.forward_voltage, (1.0, *DIODE, 0.02, 330.0)),
    "leakage": (diodes.leakage_current, (20.0, 3e-4, 40.0, 330.0, 11.0, 1.0)),
    "boost duty": (converters.boost_duty, (3.7, 5.0, 2.0, 0.1, 0.4)),
    "buck duty": (converters.buck_duty, (12.0, 5.0)),
    "inverting duty": (converters.inverting_duty, (12.0, 5.0)),
    "loss": (losses.converter_loss, (3.7, 2.0, 0.6, 12.0, *TERMS)),
    "buck input": (losses.buck_input_current, (12.0, 5.0, 2.0, *TERMS)),
    "boost limit": (converters.boost_output_limit, (3.7, 5.0, 4.0, 4.7e-6, 5e5, 0.4)),
    "linear": (converters.linear_output, (12.0, 5.0, 0.5, 0.3, 0.2)),
    "linear out of headroom": (converters.linear_output, (5.1, 5.0, 0.5, 0.3, 0.2)),
    "linear loss": (converters.linear_loss, (12.0, 5.0, 0.5, 0.005)),
    "foldback": (chargers.foldback_current, (1.0, 393.0, 330.0, 60.0, 5.0, 3.7)),
    "dropout": (chargers.dropout_current, (4.6, 4.1, 0.5)),
    "input regulation": (chargers.input_regulation_current, (5.0, 4.4, 0.4)),
    "charger input": (chargers.charger_input_current, (12.0, 8.0, 1.0, 0.9, 0.002)),
    "charge from input": (chargers.charge_current_from_input, (12.0, 8.0, 1.0, 0.9, 0.002)),
    "cold cell": (cells.resistance_factor, (270.0, 2e4)),
    "empty cell": (cells.resistance_soc_factor, (0.1,)),
    "hysteresis": (cells.hysteresis_rate, (0.005, -1.0, 9e3, 0.015, 70.0)),
    "cell heat": (cells.cell_heat, (2.0, 3.7, 3.5, 300.0, 1e-4)),
    "radiation": (heat.radiation_coefficient, (330.0, 300.0, 0.9)),
    "r-c": (capacitors.charging_voltage, (1e-3, 1.0, 5.0, 0.5, 2e-3)),
}
CASES = [
    pytest.param(f, args, k, id=f"{key} {k}")
    for key, (f, args) in EQUATIONS.items()
    for k in range(len(args))
]


@pytest.mark.parametrize(("law", "args", "k"), CASES)
def test_symbols_pass_through_and_their_derivative_is_right(
    law: Any, args: tuple[float, ...], k: int
) -> None:
    with_symbol = law(*(Dual(x, 1.0) if j == k else x for j, x in enumerate(args)))
    assert isinstance(with_symbol, Dual)
    value, slope = with_symbol.pair
    assert value == pytest.approx(float(law(*args)), rel=1e-12)
    step = 1e-5 * max(abs(args[k]), 1e-6)
    up, down = (float(law(*(x + s if j == k else x for j, x in enumerate(args)))) for s in (step, -step))
    assert slope == pytest.approx((up - down) / (2 * step), rel=1e-5, abs=1e-9 * abs(value) / step)


@pytest.mark.parametrize("key", EQUATIONS)
def test_all_arguments_may_be_symbols_at_once(key: str) -> None:
    law, args = EQUATIONS[key]
    assert law(*(Dual(x, 0.0) for x in args)).pair[0] == pytest.approx(float(law(*args)), rel=1e-12)


@pytest.mark.parametrize("key", EQUATIONS)
def test_a_case_alone_equals_itself_in_a_batch(key: str) -> None:
    law, args = EQUATIONS[key]
    batch = [np.array([x * 0.98, x, x * 1.02]) for x in args]
    together = law(*batch)
    assert together.shape == (3,)
    for case in range(3):
        assert together[case] == law(*(x[case] for x in batch))
