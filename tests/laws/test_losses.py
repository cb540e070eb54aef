import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tideover.laws import losses
from tideover.laws.losses import LossTerms

TERMS = LossTerms(1e-3, 0.04, 0.07, 0.45, 0.018)
INPUT = {"boost": losses.boost_input_current, "buck": losses.buck_input_current}


@given(st.sampled_from(["boost", "buck"]), st.floats(0.01, 0.8), st.floats(0.3, 2.0), st.floats(0.0, 1.0))
def test_power_balances_at_the_closed_form_input_current(kind, i_out, size, edge):
    terms = LossTerms(1e-3, 0.04 * size, 0.07 * size, 0.45 * size, 0.018 * edge)
    v_in, v_out = (3.7, 12.0) if kind == "boost" else (12.0, 5.0)
    i_in = float(INPUT[kind](v_in, v_out, i_out, *terms))
    assume(np.isfinite(i_in))
    i, duty, v_switched = losses.operating_point(kind, v_in, v_out, i_out, i_in - terms.i_q)
    loss = losses.converter_loss(v_in, i, duty, v_switched, *terms)
    assert v_in * i_in == pytest.approx(v_out * i_out + loss, rel=1e-9)


@pytest.mark.parametrize(("kind", "v_in", "v_out"), [("boost", 3.7, 12.0), ("buck", 12.0, 5.0)])
def test_a_lossless_converter_passes_all_its_power(kind, v_in, v_out):
    none = LossTerms(0.0, 1e-12, 0.0, 0.0, 0.0)
    assert INPUT[kind](v_in, v_out, 1.0, *none) == pytest.approx(v_out / v_in, rel=1e-9)


@pytest.mark.parametrize("kind", ["boost", "buck"])
def test_without_load_only_the_quiescent_current_is_left(kind):
    assert INPUT[kind](5.0, 5.0, 0.0, *TERMS) == TERMS.i_q


def test_a_boost_past_what_its_resistance_lets_through_has_no_input_current():
    assert np.isnan(losses.boost_input_current(3.0, 12.0, 5.0, *TERMS))


def test_every_term_adds_loss():
    base = losses.converter_loss(3.7, 2.0, 0.6, 12.0, *TERMS)
    for k in range(5):
        more = [x * (1.1 if j == k else 1.0) for j, x in enumerate(TERMS)]
        assert losses.converter_loss(3.7, 2.0, 0.6, 12.0, *more) > base


def test_inverting_converter_carries_input_and_output_current():
    i, duty, v = losses.operating_point("inverting", 12.0, 5.0, 2.0, 1.0)
    assert (i, duty, v) == (3.0, pytest.approx(1 / 3), 17.0)


def test_an_unknown_converter_names_the_choices():
    with pytest.raises(ValueError, match="choose boost, buck or inverting"):
        losses.operating_point("flyback", 12.0, 5.0, 1.0, 1.0)


def efficiencies(terms, v_in, v_out, i_out):
    return v_out * i_out / (v_in * losses.boost_input_current(v_in, v_out, i_out, *terms))


def test_many_points_give_the_terms_back():
    true = LossTerms(2e-3, 0.05, 0.05, 0.40, 0.025)
    v_in, i_out = (x.ravel() for x in np.meshgrid([3.0, 3.7, 4.2], [0.01, 0.1, 0.3, 0.5]))
    fit = losses.calibrate(
        "boost", v_in, 12.0, i_out, efficiencies(true, v_in, 12.0, i_out), TERMS, spread=100.0
    )
    assert fit == pytest.approx(true, rel=2e-2)


def test_points_made_by_the_expected_terms_leave_them_alone():
    v_in, i_out = np.array([3.0, 3.7, 4.2]), np.array([0.1, 0.3, 0.5])
    fit = losses.calibrate("boost", v_in, 12.0, i_out, efficiencies(TERMS, v_in, 12.0, i_out), TERMS)
    assert fit == pytest.approx(TERMS, rel=1e-6)


def test_one_point_moves_all_terms_alike_and_is_met():
    fit = losses.calibrate("boost", 3.7, 12.0, 0.5, 0.80, TERMS)
    assert np.ptp(np.array(fit) / np.array(TERMS)) < 1e-9
    assert efficiencies(fit, 3.7, 12.0, 0.5) == pytest.approx(0.80, abs=1e-3)


def test_terms_never_turn_negative_and_zero_stays_zero():
    fit = losses.calibrate(
        "buck", 12.0, 5.0, [0.1, 1.0, 3.0], [0.70, 0.97, 0.80], TERMS._replace(v_rectifier=0.0)
    )
    assert min(fit) >= 0.0
    assert fit.v_rectifier == 0.0


@pytest.mark.parametrize("eta", [0.0, 1.0, 92.0])
def test_an_impossible_efficiency_is_refused(eta):
    with pytest.raises(ValueError, match="Efficiencies must lie between 0 and 1"):
        losses.calibrate("buck", 12.0, 5.0, 1.0, eta, TERMS)
