"""Derating policies and the table of ratings: every rating is judged somewhere, and strict is stricter everywhere."""

from __future__ import annotations

import pytest

from tideover.answers import policies, rated
from tideover.answers.loaded import Worst
from tideover.answers.used import against
from tideover.design.need import POLICIES
from tideover.parts import ALL, KINDS

FIGURES = """
    voltage output_resistance current_limit overload hold_up output_capacitance start_delay rise_time
    overload_time retry_time reverse_leakage efficiency no_load_power thermal_resistance heat_capacity section
    length cores resistivity tempco contact_resistance contacts width thickness aged_resistance resistance
    saturation_current ideality series_resistance band_gap temperature_exponent leakage leakage_doubling
    on_resistance regulation_voltage reverse_threshold turn_off_time turn_on_time body_drop quiescent control
    coil_resistance inductance_seated inductance_open operate_fraction release_fraction operate_time
    release_time open_time front_bounce back_bounce clamp_voltage capacitance ESR set_voltage off_current
    lockout_off lockout_on soft_start bandwidth input_capacitance input_resistance reverse_drain loss_factor
    light_load_cutoff cutoff_delay switch_resistance switching_frequency switching_time rectifier_resistance
    diode_drop largest_duty pass_drop inductance disconnects dropout dropout_resistance type series hold_voltage
    charge_current float_voltage precharge_below precharge_fraction termination_fraction termination_delay
    restart_voltage pass_resistance input_current_limit input_voltage_limit foldback_temperature chemistry
    parallel capacity health growth resistance_curve fast_resistance fast_capacitance slow_resistance slow_capacitance
    joint_resistance capacity_spread resistance_spread activation_energy hysteresis hysteresis_rate
    charge_efficiency self_discharge cells_per_unit nominal_voltage cut_off cut_off_delay cut_off_release
    release over_charge over_charge_delay over_charge_release sense_voltage overload_delay short_voltage
    short_delay release_delay fusing_factor family power law peak_power peak_duration peak_interval resets_below
    restarts_above reboots_in forgives stands starts_above depth height wall wall_conductivity emissivity
    vent_area wall_capacity ambient
"""
NO_RATING = frozenset(FIGURES.split())
"""Figures that say what a part is or does, not what it bears. A new parameter belongs here or in the table."""


@pytest.mark.parametrize("kind", ALL, ids=lambda k: k.name)
def test_every_parameter_of_every_kind_is_a_rating_that_is_judged_or_no_rating(kind):
    judged = {r.name for r in rated.TABLE if r.kind == kind.name}
    judged |= {name for k, name in (*rated.BY_RULE, *rated.ELSEWHERE) if k == kind.name}
    left = {p.name for p in kind.parameters} - judged - NO_RATING
    assert not left
    assert not judged & NO_RATING


def test_the_table_names_parameters_with_the_unit_that_is_read_and_rows_of_the_policy():
    for r in rated.TABLE:
        parameter = KINDS[r.kind].parameter(r.name)
        assert parameter.unit == r.unit and r.what
        assert r.unstated in (None, parameter.default), (r.kind, r.name)
        assert (r.nature == "junction") == (r.reserve in policies.UNDER)
        assert r.low == (r.reserve in policies.LOWEST)
    for kind, name in (*rated.BY_RULE, *rated.ELSEWHERE):
        assert KINDS[kind].parameter(name)


def test_every_policy_of_the_need_has_a_figure_and_strict_is_stricter_everywhere():
    for name, row in {**policies.SHARES, **policies.UNDER, "fuse": policies.FUSE_PER_KELVIN}.items():
        assert set(row) == set(POLICIES)
        usual, strict = row["usual"].figure, row["strict"].figure
        stricter = strict > usual if name in (*policies.UNDER, *policies.LOWEST, "fuse") else strict < usual
        assert stricter, name
        assert all(r.source for r in row.values())


def test_shares_are_those_that_aerospace_guides_publish():
    assert policies.reserve("contact current", "strict").figure == 0.50  # ECSS-Q-ST-30-11C, table 6-10
    assert policies.reserve("small capacitor voltage", "strict").figure == 0.60  # EEE-INST-002
    assert policies.reserve("fuse current, blade", "usual").figure == 0.75


RULE = next(r for r in rated.TABLE if r.kind == "ideal diode" and r.name == "voltage_rating")
HEATS = next(r for r in rated.TABLE if r.kind == "wire")


@pytest.mark.parametrize(
    ("rating", "row", "policy", "nominal", "worst", "status"),
    [
        (RULE, "transistor voltage", "usual", 7.0, 7.9, "holds"),
        (RULE, "transistor voltage", "strict", 7.0, 7.9, "tight"),
        (RULE, "transistor voltage", "usual", 9.0, 10.1, "fails"),
        (HEATS, "conductor current", "usual", 9.0, 10.1, "tight"),
        (HEATS, "conductor current", "usual", 10.1, 11.0, "fails"),
        (HEATS, "conductor current", "strict", 8.0, 8.2, "tight"),
    ],
)
def test_a_voltage_breaks_at_once_and_a_current_must_last(rating, row, policy, nominal, worst, status):
    used = against(None, rating, row, policy, 10.0, Worst(worst, nominal, "any"))  # type: ignore[arg-type]
    assert used.status == status
    assert (used.margin >= 0.0) == (status == "holds")


def test_a_short_peak_may_take_the_whole_rating_and_never_fails():
    used = against(None, HEATS, "conductor current", "strict", 10.0, Worst(9.5, 9.0, "any"), brief=True)  # type: ignore[arg-type]
    assert used.status == "holds" and used.margin == pytest.approx(0.5)
    used = against(None, HEATS, "conductor current", "usual", 10.0, Worst(12.0, 11.0, "any"), brief=True)  # type: ignore[arg-type]
    assert used.status == "tight"


def test_a_junction_is_kept_under_its_limit():
    hot = next(r for r in rated.TABLE if r.kind == "boost" and r.nature == "junction")
    used = against(None, hot, "regulator junction", "usual", 398.15, Worst(380.0, 380.0, "warm"))  # type: ignore[arg-type]
    assert used.status == "tight" and used.limit == pytest.approx(378.15)
