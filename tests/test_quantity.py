"""Text to SI and back."""

from __future__ import annotations

import math
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tideover.quantity import Quantity, QuantityError, exact, parse, show, show_range

# Text, unit, low, nominal, high; figures worked out by hand.
READ = [
    ("15 V ±3 %", "V", 14.55, 15, 15.45),
    ("4.7 mF -20/+20 %", "F", 3.76e-3, 4.7e-3, 5.64e-3),
    ("35 mΩ -50/+0 %", "ohm", 0.0175, 0.035, 0.035),
    ("35 mΩ +0/-50 %", "ohm", 0.0175, 0.035, 0.035),
    ("1 V -0.1 V/+0.2 V", "V", 0.9, 1, 1.2),
    ("1 V -0.1/+0.2 V", "V", 0.9, 1, 1.2),
    ("1.2 kΩ ±1 %", "ohm", 1188, 1200, 1212),
    ("12 V +-0.5 V", "V", 11.5, 12, 12.5),
    ("12 V +/-0.5 V", "V", 11.5, 12, 12.5),
    ("12 ±0.5 V", "V", 11.5, 12, 12.5),
    ("12 V ±500 mV", "V", 11.5, 12, 12.5),
    ("-5 V ±10 %", "V", -5.5, -5, -4.5),
    ("10 ohm ±200 ppm", "ohm", 9.998, 10, 10.002),
    ("3 ±1", "", 2, 3, 4),
    ("11.4 V to 12.6 V", "V", 11.4, 12, 12.6),
    ("11.4 to 12.6 V", "V", 11.4, 12, 12.6),
    ("11.4–12.6 V", "V", 11.4, 12, 12.6),
    ("11.4-12.6 V", "V", 11.4, 12, 12.6),
    ("900 mV to 1.1 V", "V", 0.9, 1, 1.1),
    ("-10 °C to 40 °C", "K", 263.15, 288.15, 313.15),
    ("−10 to 40 °C", "K", 263.15, 288.15, 313.15),
    ("-10 °C – 40 °C", "K", 263.15, 288.15, 313.15),
    ("25 degC ±5 K", "K", 293.15, 298.15, 303.15),
    ("25 °C ±5 °C", "K", 293.15, 298.15, 303.15),
    ("25 °C -5/+10 K", "K", 293.15, 298.15, 308.15),
    ("1 h 30 min ±10 %", "s", 4860, 5400, 5940),
]
# Text, unit, value.
SINGLE = [
    ("0.75 mm²", "m^2", 0.75e-6),
    ("0.75 mm2", "m^2", 0.75e-6),
    ("0.75 mm^2", "m^2", 0.75e-6),
    ("6 cm²", "m^2", 6e-4),
    # wire gauges: ASTM B258, diameters 1.0237 mm and 0.1270 mm and 9.266 mm
    ("18 AWG", "m^2", math.pi / 4 * 1.0237e-3**2),
    ("AWG 18", "m^2", math.pi / 4 * 1.0237e-3**2),
    ("36awg", "m^2", math.pi / 4 * 0.127e-3**2),
    ("2/0 AWG", "m^2", math.pi / 4 * 9.266e-3**2),
    ("6 h", "s", 21600),
    ("1 h 30 min", "s", 5400),
    ("1h30min", "s", 5400),
    ("2 d 4 h", "s", 187200),
    ("52 min", "s", 3120),
    ("500 us", "s", 5e-4),
    ("500 µs", "s", 5e-4),
    ("500 \u03bcs", "s", 5e-4),
    ("2.5 Ah", "C", 9000),
    ("2500 mAh", "C", 9000),
    ("30 Wh", "J", 108000),
    ("25 °C", "K", 298.15),
    ("25 C", "K", 298.15),
    ("25 deg C", "K", 298.15),
    ("25 ℃", "K", 298.15),
    ("300 K", "K", 300),
    ("5 K", "K", 5),
    ("5 K", "ΔK", 5),
    ("5 °C", "ΔK", 5),
    ("50 ppm/K", "1/K", 5e-5),
    ("0.39 %/°C", "1/K", 0.0039),
    ("20 °C/W", "K/W", 20),
    ("20 C/W", "K/W", 20),
    ("45 J/K", "J/K", 45),
    ("26 mΩ/m", "ohm/m", 0.026),
    ("70 nΩ·m", "ohm m", 7e-8),
    ("0.2 W/(m K)", "W/(m K)", 0.2),
    ("0.2 W/m/K", "W/(m K)", 0.2),
    ("60 A²s", "A^2 s", 60),
    ("20 kJ/mol", "J/mol", 20000),
    ("2 %/month", "1/s", 0.02 * 12 / (365.25 * 86400)),
    ("2 % per month", "1/s", 0.02 * 12 / (365.25 * 86400)),
    ("35 mohm", "ohm", 0.035),
    ("1 kohm", "ohm", 1000),
    ("1 k\u2126", "ohm", 1000),
    ("470 uF", "F", 4.7e-4),
    ("470 pF", "F", 4.7e-10),
    ("22 µH", "H", 2.2e-5),
    ("1.2 MΩ", "ohm", 1.2e6),
    ("300 kHz", "Hz", 3e5),
    ("46 g", "kg", 0.046),
    ("20 %", "", 0.2),
    ("3", "", 3),
    ("5V", "V", 5),
    ("12\u202fV", "V", 12),
    ("12\u00a0V", "V", 12),
    ("\u221212 V", "V", -12),
    ("21 000 uF", "F", 0.021),
    ("2.2e-3 F", "F", 2.2e-3),
    ("2.2×10⁻³ F", "F", 2.2e-3),
    ("  12   V ", "V", 12),
    (".5 V", "V", 0.5),
]
# Text, unit, problem, mend.
REFUSED = [
    ("2.5", "C", "a number without a unit", "2.5 Ah"),
    ("2.5 V", "C", "a voltage", "2.5 Ah"),
    ("2 kg", "m", "a mass", "2 m"),
    ("3 V", "", "a voltage", "20 %"),
    ("5 %", "V", "a percentage", "12 V"),
    ("5 kg/s", "V", "a value of another kind", "12 V"),
    ("1,5 V", "V", "written with a comma", "1.5 V"),
    ("", "V", "empty", "12 V"),
    ("   ", "V", "empty", "12 V"),
    ("V", "V", "not a number with a unit", "12 V"),
    ("about 5 V", "V", "not a number with a unit", "12 V"),
    ("nan V", "V", "not a number with a unit", "12 V"),
    ("inf V", "V", "not a number with a unit", "12 V"),
    ("1e999 V", "V", "a number too large to mean anything", "12 V"),
    ("9" * 200 + " V", "V", "too long to be a value", "12 V"),
    ("5 v", "V", 'written in "v", which is no unit known here', "5 V"),
    ("3 KOHM", "ohm", 'written in "KOHM", which is no unit known here', "3 kohm"),
    ("5 °F", "K", 'written in "°F", which is no unit known here', "25 °C"),
    ("10² V", "V", 'written in "^2 V", which is no unit known here', "12 V"),
    ("12 V 3", "V", 'written in "V 3", which is no unit known here', "12 V"),
    ("18.5 AWG", "m^2", 'written in "AWG", which is no unit known here', "0.75 mm²"),
    ("99 AWG", "m^2", "a wire gauge finer than any wire", "18 AWG"),
    ("12 V ±3", "V", "a value whose tolerance has no unit", "12 V ±3 %, or 12 V ±3 V"),
    ("12 V ±-3 %", "V", "a value whose tolerance is no number", "12 V ±5 %"),
    ("12 V ±", "V", "a value whose tolerance is no number", "12 V ±5 %"),
    ("12 V ±3 A", "V", "a value whose tolerance is a current", "12 V ±3 %"),
    ("12 V +2/+5 %", "V", "a value outside its own tolerance", "12 V"),
    ("5 % ±2 %", "", "a percentage of a percentage, which can be read in two ways", "3 % to 7 %"),
    ("25 °C ±10 %", "K", "a temperature with a tolerance in percent, which has no meaning", "25 °C ±10 K"),
    ("12.6 V to 11.4 V", "V", "a range whose first limit is the larger", "11.4 V to 12.6 V"),
    ("12.6 to 11.4 V", "V", "a range whose first limit is the larger", "11.4 V to 12.6 V"),
    ("1 to 2 to 3 V", "V", "a range with more than two ends", "12 V"),
]
# Value, unit, text.
SHOWN = [
    (0.0092, "s", "9.2 ms"),
    (0.0047, "F", "4.7 mF"),
    (0.004703, "F", "4.70 mF"),
    (29400, "s", "8 h 10 min"),
    (90, "s", "90 s"),
    (552, "s", "9 min 12 s"),
    (3599.9, "s", "1 h"),
    (172799, "s", "2 d"),
    (3 * 86400 + 7200, "s", "3 d 2 h"),
    (3.2 * 365.25 * 86400, "s", "3.2 years"),
    (298.15, "K", "25 °C"),
    (263.15, "K", "-10 °C"),
    (11.0, "K", "11 K"),
    (5, "ΔK", "5 K"),
    (1.62, "A", "1.62 A"),
    (0.038, "ohm", "38 mΩ"),
    (12000, "ohm", "12 kΩ"),
    (0.99999, "V", "1.00 V"),
    (-0.0032, "A", "-3.2 mA"),
    (0, "V", "0 V"),
    (-0.0, "V", "0 V"),
    (9000, "C", "2.5 Ah"),
    (349920, "J", "97.2 Wh"),
    (0.5, "J", "500 mJ"),
    (7.5e-7, "m^2", "0.75 mm²"),
    (6e-4, "m^2", "6 cm²"),
    (5e-5, "1/K", "50 ppm/K"),
    (0.00393, "1/K", "0.393 %/K"),
    (37.2, "K/W", "37.2 K/W"),
    (60.0, "A^2 s", "60 A²·s"),
    (0.026, "ohm/m", "26 mΩ/m"),
    (0.046, "kg", "46 g"),
    (0.03, "%", "3 %"),
    (3, "", "3"),
    (math.nan, "V", "unknown"),
    (math.inf, "V", "without limit"),
]


@pytest.mark.parametrize(("text", "unit", "low", "nominal", "high"), READ)
def test_tolerance_and_range_become_absolute_limits(text, unit, low, nominal, high):
    q = parse(text, unit)
    assert (q.low, q.nominal, q.high) == pytest.approx((low, nominal, high), rel=1e-12)
    assert (q.unit, q.text) == (unit, text)


@pytest.mark.parametrize(("text", "unit", "value"), SINGLE)
def test_single_value_has_no_spread(text, unit, value):
    q = parse(text, unit)
    assert q.nominal == pytest.approx(value, rel=2e-4 if "awg" in text.lower() else 1e-12)
    assert q.low == q.nominal == q.high


@pytest.mark.parametrize(("text", "unit", "problem", "mend"), REFUSED)
def test_refusal_says_what_is_wrong_and_how_to_mend_it(text, unit, problem, mend):
    with pytest.raises(QuantityError) as caught:
        parse(text, unit)
    assert (caught.value.problem, caught.value.mend) == (problem, mend)
    assert caught.value.text == text


@pytest.mark.parametrize(("text", "unit"), [case[:2] for case in REFUSED])
def test_mend_is_itself_right(text, unit):
    with pytest.raises(QuantityError) as caught:
        parse(text, unit)
    for way in caught.value.mend.split(", or "):
        parse(way, unit)


def test_refusal_reads_as_one_message():
    with pytest.raises(QuantityError) as caught:
        parse("2.5", "C")
    expected = '"2.5" is a number without a unit. A charge is expected, such as "2.5 Ah". Write: 2.5 Ah'
    assert str(caught.value) == expected


def test_example_may_be_given():
    with pytest.raises(QuantityError) as caught:
        parse("8", "s", "8 h")
    assert caught.value.expected == 'A time is expected, such as "8 h".'
    assert caught.value.mend == "8 h"


@pytest.mark.parametrize(("value", "unit", "text"), SHOWN)
def test_value_is_written_as_a_person_would(value, unit, text):
    assert show(value, unit) == text


def test_range_shows_both_limits():
    assert show_range(11.4, 12.6, "V") == "11.4 V to 12.6 V"


def test_exact_has_no_spread():
    assert exact(0.5, "V") == Quantity(0.5, 0.5, 0.5, "V", "500 mV")


def test_unknown_target_unit_is_our_fault():
    with pytest.raises(ValueError, match="is not a unit known"):
        parse("1 V", "furlong")


UNITS = [
    "V",
    "A",
    "ohm",
    "W",
    "F",
    "H",
    "C",
    "J",
    "m",
    "m^2",
    "kg",
    "Hz",
    "K/W",
    "J/K",
    "1/K",
    "ohm/m",
    "A^2 s",
]
UNITS += ["ohm m", "1/s", "V/K", "J/mol", "W/(m K)", ""]
SIZES = st.floats(1e-9, 1e6) | st.floats(-1e6, -1e-9) | st.just(0.0)


@given(SIZES, st.sampled_from(UNITS), st.integers(2, 8))
def test_what_is_shown_reads_back(value, unit, digits):
    back = parse(show(value, unit, digits), unit).nominal
    assert back == pytest.approx(value, rel=0.6 * 10.0 ** (1 - digits), abs=1e-300)


@given(st.floats(1e-6, 1e9))
def test_time_that_is_shown_reads_back(value):
    assert parse(show(value, "s"), "s").nominal == pytest.approx(value, rel=0.011)


@given(st.floats(200.0, 500.0))
def test_temperature_that_is_shown_reads_back(value):
    assert parse(show(value, "K", 5), "K").nominal == pytest.approx(value, abs=0.006)


@given(st.floats(1e-3, 1e3), st.floats(0, 90), st.floats(0, 900))
def test_limits_always_enclose_the_nominal_value(value, down, up):
    q = parse(f"{value:.6f} V -{down:.3f}/+{up:.3f} %", "V")
    assert q.low <= q.nominal <= q.high
    assert q.high - q.nominal == pytest.approx(q.nominal * round(up, 3) / 100, rel=1e-6, abs=1e-12)


@given(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3))
def test_range_has_its_middle_as_nominal(a, b):
    low, high = sorted((round(a, 3), round(b, 3)))
    q = parse(f"{low:.3f} V to {high:.3f} V", "V")
    assert (q.low, q.high) == (low, high)
    assert q.nominal == pytest.approx((low + high) / 2)


@given(st.text(max_size=150), st.sampled_from([*UNITS, "s", "K", "ΔK", "%"]))
def test_any_text_gives_a_quantity_or_a_refusal(text, unit):
    try:
        q = parse(text, unit)
    except QuantityError as error:
        assert error.problem and error.expected and error.mend
    else:
        assert q.low <= q.nominal <= q.high and math.isfinite(q.low) and math.isfinite(q.high)


PIECES = [
    "12",
    "-",
    "+",
    "±",
    "/",
    " ",
    "V",
    "mV",
    "%",
    "to",
    "e",
    ".",
    "AWG",
    "h",
    "min",
    "°C",
    "K",
    "(",
    ")",
    "^2",
    "1e308",
]


@given(
    st.lists(st.sampled_from(PIECES), max_size=12).map("".join), st.sampled_from(["V", "s", "K", "m^2", ""])
)
def test_any_mixture_of_the_grammar_gives_a_quantity_or_a_refusal(text, unit):
    try:
        q = parse(text, unit)
    except QuantityError:
        return
    assert q.low <= q.nominal <= q.high and math.isfinite(q.low) and math.isfinite(q.high)


def test_import_loads_nothing_heavy():
    heavy = ("numpy", "ruamel.yaml", "pydantic")
    code = f"import sys, tideover.quantity; print([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
