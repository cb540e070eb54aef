"""Numbers worked out apart from this code, with agreement counted in digits.

Each figure is written with the digits it was given in; the law must agree to half a unit of the last of them.
A figure followed by ``+-`` was given as a round number and states its own width.
"""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest

from tideover.laws import (
    ageing,
    ampacity,
    boxes,
    capacitors,
    cells,
    chargers,
    conductors,
    contacts,
    converters,
    diodes,
    heat,
    measure,
    outages,
    relays,
    sharing,
    stability,
)
from tideover.laws.constants import COPPER, DAY, HOUR, NICKEL, TEMP_25, YEAR


def rows() -> list[tuple[str, float, str]]:
    """Every figure: what it is, as computed, as published."""
    table: list[tuple[str, float, str]] = []

    def row(what: str, *pairs: tuple[float, str]) -> None:
        for k, (computed, written) in enumerate(pairs):
            table.append((f"{what} [{k + 1}]" if len(pairs) > 1 else what, float(computed), written))

    r_22 = conductors.awg_resistance(22)
    row(
        "22 AWG: diameter mm, section mm2, mohm/m, mohm/m at 60 C",
        (conductors.awg_diameter(22) * 1e3, "0.6438"),
        (conductors.awg_area(22) * 1e6, "0.3255"),
        (r_22 * 1e3, "52.96"),
        (conductors.resistance_at(r_22, 333.15) * 1e3, "61.29"),
    )
    row(
        "board track 1 mm of 35 um, 20 K: outer and inner layer, A",
        (ampacity.track_current(20.0, 35e-9), "3.24"),
        (ampacity.track_current(20.0, 35e-9, "inner"), "1.62"),
    )
    row(
        "nickel strip 8 by 0.15 mm, 20 mm long, mohm",
        (conductors.bar_resistance(20e-3, 8e-3, 0.15e-3, NICKEL.rho) * 1e3, "1.165"),
    )
    row(
        "rise of a contact spot at 30 mV, K",
        (contacts.hot_spot_temperature(0.030, TEMP_25) - TEMP_25, "15.02"),
    )
    fit = diodes.fit_three_points((0.28, 0.38, 0.46), (0.1, 1.0, 3.0))
    row(
        "Schottky fit: saturation current uA, ideality, series ohm",
        (fit.i_s * 1e6, "38.88"),
        (fit.n, "1.378"),
        (fit.r_s, "0.02056"),
    )
    fit = diodes.Junction(3.888e-5, 1.378, 0.02056)  # the rest was worked out from the rounded figures
    forward = diodes.forward_current(np.array([-5.0, 0.3, 0.46, 1.0, 12.0]), *fit, TEMP_25)
    row(
        "Schottky current at -5, 0.3, 0.46, 1, 12 V",
        (forward[0] * 1e6, "-38.88"),
        (forward[1], "0.16869"),
        (forward[2], "2.9966"),
        (forward[3], "25.569"),
        (forward[4], "555.29"),
    )
    hot = diodes.saturation_current(fit.i_s, fit.n, 348.15, *diodes.SCHOTTKY)
    cold_v = diodes.forward_voltage(1.0, *fit, TEMP_25)
    hot_v = diodes.forward_voltage(1.0, hot, fit.n, fit.r_s, 348.15)
    row(
        "Schottky at 1 A: 25 C, 75 C, slope mV/K",
        (cold_v, "0.3801"),
        (hot_v, "0.3154"),
        ((hot_v - cold_v) / 50.0 * 1e3, "-1.29"),
    )
    row(
        "10 mF with 50 mohm, 20 W, 12 to 9 V: first voltage, ms, ms by energy alone",
        (capacitors.terminal_voltage(12.0, 20.0, 0.05), "11.9161"),
        (capacitors.hold_up_constant_power(10e-3, 12.0, 9.0, 20.0, 0.05) * 1e3, "15.108"),
        (capacitors.hold_up_constant_power(10e-3, 12.0, 9.0, 20.0) * 1e3, "15.750"),
    )
    row(
        "2.5 F with 180 mohm, 10 W, 5.4 to 3 V: first voltage, s, s by energy alone",
        (capacitors.terminal_voltage(5.4, 10.0, 0.18), "5.0431"),
        (capacitors.hold_up_constant_power(2.5, 5.4, 3.0, 10.0, 0.18), "1.820"),
        (capacitors.hold_up_constant_power(2.5, 5.4, 3.0, 10.0), "2.520"),
    )
    row(
        "10 mF with 50 mohm, 2 A, 12 to 9 V, ms",
        (capacitors.hold_up_constant_current(10e-3, 12.0, 9.0, 2.0, 0.05) * 1e3, "14.5"),
    )
    i_coil = 12.0 / 275.0
    row(
        "release of a 2.29 H, 275 ohm coil: diode, diode and 24 V Zener, ms",
        (relays.release_time(2.29, 275.0, i_coil, 0.4 * i_coil, 0.7) * 1e3, "7.0"),
        (relays.release_time(2.29, 275.0, i_coil, 0.4 * i_coil, 24.7) * 1e3, "1.82"),
    )
    row(
        "boost 3 to 5 V, 4 A peak: duty, greatest output A",
        (converters.boost_duty(3.0, 5.0, v_d=0.4), "0.444"),
        (converters.boost_output_limit(3.0, 5.0, 4.0, 4.7e-6, 500e3, 0.4), "2.06"),
    )
    row(
        "12 V behind 0.5 ohm: limit W, voltage there, voltage at 46.1 W",
        (stability.power_limit(12.0, 0.5), "72"),
        (stability.standing_voltage(12.0, 72.0, 0.5), "6"),
        (stability.standing_voltage(12.0, 46.1, 0.5), "9.6"),
    )
    charge = chargers.charge_time(0.0, 2.5 * HOUR, 1.25, 0.125, 0.12, 0.85, 4.185, 4.2)
    row(
        "charge of 2.5 Ah: turning point, minutes at current, at voltage, together",
        (charge.soc_turn, "0.841"),
        (charge.t_current / 60, "100.9"),
        (charge.t_voltage / 60, "48.8"),
        ((charge.t_current + charge.t_voltage) / 60, "149.7"),
    )
    row(
        "linear charger held at 120 C, A",
        (chargers.foldback_current(1.0, 393.15, 328.15, 60.0, 5.0, 3.7), "0.833"),
    )
    drop = 2.0 * 0.045 + cells.rc_step(0, 2.0, 0.012, 20, 60) + cells.rc_step(0, 2.0, 0.015, 600, 60)
    row("2.6 Ah cell, a minute at 2 A, V", (drop, "0.1157"))
    row("vertical plate 0.1 m, 20 K, W/m2K", (heat.vertical_plate(318.15, TEMP_25, 0.1), "5.10"))
    box = boxes.sealed_box(10.0, 0.15, 0.10, 0.05)
    row("sealed box, 10 W: wall, air, K", (box.wall, "19.9"), (box.inside, "53.6"))
    row("chimney of 10 W through 10 cm2 twice, K", (boxes.chimney_rise(10.0, 1e-3, 1e-3, 0.1), "50+-1"))
    row(
        "NMC at 4.2 V for a year: 25 C, 35 C, %",
        (ageing.nmc_calendar_loss(4.2, TEMP_25, 365.25 * DAY) * 100, "4.6"),
        (ageing.nmc_calendar_loss(4.2, 308.15, 365.25 * DAY) * 100, "9.8"),
    )
    row(
        "LFP full at 25 C: one year, five years, %",
        (ageing.lfp_calendar_loss(1.0, TEMP_25, YEAR) * 100, "6.78"),
        (ageing.lfp_calendar_loss(1.0, TEMP_25, 5 * YEAR) * 100, "15.15"),
    )
    same = 4 * sharing.ladder_currents([3.7] * 4, [0.05] * 4, 1.2e-3, 1.0)
    across = 4 * sharing.ladder_currents([3.7] * 4, [0.05] * 4, 1.2e-3, 1.0, "diagonal")
    row("shares of four cells, same end", *zip(same, ("1.157", "1.020", "0.933", "0.890")))
    row("shares of four cells, diagonal", *zip(across, ("1.023", "0.977", "0.977", "1.023")))
    row("cell resistance at -10 C over 25 C", (cells.resistance_factor(263.15), "2.92"))
    row(
        "outages of 120 min mean: median min, over 1 h, over 4 h",
        # 120 exp(-0.845) is 51.547: given as 51.6, rounded twice
        (outages.outage_quantile(0.5, 7200.0) / 60, "51.6+-0.06"),
        (outages.outage_exceedance(3600.0, 7200.0), "0.454"),
        (outages.outage_exceedance(4 * 3600.0, 7200.0), "0.118"),
    )
    p = np.diag([0.04, 0.0025])
    row(
        "information of a reading, nats",
        (measure.information_gain([1.0, 0.0], p, 4e-4), "2.3076"),
    )
    row("0.5 mm2 in PVC, A2s", (ampacity.adiabatic_limit(0.5e-6), "3306"))

    # Beyond the table of checks: figures quoted in public sources or worked out with other formulas.
    row(
        "reduction of the variance of a sum, and what there was",
        (measure.variance_gain([1.0, 1.0], [1.0, 0.0], p, 4e-4), "0.0396"),
        (np.ones(2) @ p @ np.ones(2), "0.0425"),
    )
    row(
        "solid copper 10, 20, 30 AWG, mohm/m",
        *((conductors.awg_resistance(g) * 1e3, t) for g, t in ((10, "3.28"), (20, "33.3"), (30, "338.6"))),
    )
    row("copper at 60 C over 20 C", (conductors.resistance_at(1.0, 333.15), "1.157"))
    row("sheet of 35 um foil, mohm", (conductors.bar_resistance(1.0, 1.0, 35e-6, COPPER.rho) * 1e3, "0.493"))
    row("coil pull-in, 60 C air and 40 K own heat", (relays.operate_voltage(1.0, 373.15), "1.31"))
    row(
        "4 A peak boost to 5 V from 2.8, 3.7, 4.2 V",
        *(
            (converters.boost_output_limit(v, v_out, 4.0, 4.7e-6, 500e3, 0.4), written)
            for v, v_out, written in (
                (2.8, 5.0, "1.93"),
                (3.7, 5.0, "2.57"),
                (4.2, 5.0, "2.96"),
            )
        ),
    )
    row(
        "lead of 2 uH and 0.2 ohm, 20 W at 9 V, uF",
        (stability.least_input_capacitance(2e-6, 0.2, 9, 20) * 1e6, "2.5"),
    )
    row("right half-plane zero, kHz", (stability.boost_zero(12.0, 0.7, 10e-6) / 1e3, "17"))
    row(
        "cell resistance at -20, 0, 10, 45 C over 25 C",
        *(
            (cells.resistance_factor(273.15 + t), w)
            for t, w in ((-20, "4.2"), (0, "2.1"), (10, "1.5"), (45, "0.60"))
        ),
    )
    row(
        "NMC at 4.2 V, 25 C, three and five years; at 4.0 V one, three, five, %",
        *(
            (ageing.nmc_calendar_loss(v, TEMP_25, a * YEAR) * 100, w)
            for v, a, w in (
                (4.2, 3, "10.4"),
                (4.2, 5, "15.3"),
                (4.0, 1, "3.7"),
                (4.0, 3, "8.4"),
                (4.0, 5, "12.4"),
            )
        ),
    )
    row("LFP 500 full cycles at C/2, %", (ageing.lfp_cycle_loss(0.5, 1.0, 500.0) * 100, "3.9"))
    eight = 8 * sharing.ladder_currents([3.7] * 8, [0.05] * 8, 1.2e-3, 1.0)
    row("shares of eight cells, same end: first and last", (eight[0], "1.68"), (eight[-1], "0.63"))
    row(
        "outages over 0.5, 2, 8 h",
        *(
            (outages.outage_exceedance(h * HOUR, 7200.0), w)
            for h, w in ((0.5, "0.66"), (2, "0.26"), (8, "0.043"))
        ),
    )
    return table


def tolerance(written: str) -> tuple[float, float]:
    """Value written, and half a unit of its last digit (or the width it states)."""
    value, _, width = written.partition("+-")
    half = Decimal(5).scaleb(int(Decimal(value).as_tuple().exponent) - 1)
    return float(value), float(width or half)


@pytest.mark.parametrize(("what", "computed", "written"), rows())
def test_law_agrees_with_published_number(what: str, computed: float, written: str) -> None:
    expected, width = tolerance(written)
    digits = -np.log10(max(abs(computed - expected) / abs(expected), 1e-16))
    needed = -np.log10(width / abs(expected))
    assert abs(computed - expected) <= width * (1 + 1e-9), (
        f"{what}: {computed:.6g} agrees with {written} to {digits:.1f} digits; {needed:.1f} are needed"
    )
