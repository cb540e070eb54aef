import numpy as np
import pytest

from tideover.laws import converters


def test_a_boost_without_drops_has_the_ideal_duty():
    assert converters.boost_duty(3.0, 12.0) == pytest.approx(0.75)
    assert converters.boost_duty(12.0, 12.0) == 0.0
    assert converters.boost_duty(13.0, 12.0) < 0.0


def test_drops_raise_the_duty():
    assert converters.boost_duty(3.0, 12.0, 2.0, 0.1, 0.4) > converters.boost_duty(3.0, 12.0)


def test_ideal_gains_follow_from_the_duties():
    for v_in, v_out in ((5.0, 12.0), (12.0, 5.0)):
        duty = converters.inverting_duty(v_in, v_out)
        assert duty / (1 - duty) == pytest.approx(v_out / v_in)
    assert converters.buck_duty(12.0, 12.0) == 1.0


def test_endless_inductance_has_no_ripple_and_passes_the_whole_peak():
    assert converters.ripple_current(3.0, 0.4, np.inf, 5e5) == 0.0
    assert converters.boost_output_limit(3.0, 5.0, 4.0, np.inf, 5e5) == pytest.approx(4.0 * 0.6)


def test_linear_regulator_holds_then_follows_its_input_down():
    v_in = np.array([0.0, 0.2, 3.0, 3.4, 12.0])
    assert converters.linear_output(v_in, 3.3, 0.5, 0.1, 0.4) == pytest.approx([0.0, 0.0, 2.7, 3.1, 3.3])


def test_linear_regulator_idles_on_its_quiescent_current():
    assert converters.linear_loss(12.0, 5.0, 0.0, 0.005) == pytest.approx(0.06)
    assert converters.linear_loss(5.0, 5.0, 1.0, 0.0) == 0.0
