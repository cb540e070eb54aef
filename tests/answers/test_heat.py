"""What gets hot: against the laws of boxes and first-order heat, by its properties, and what the answer says."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from tideover.answers import heat
from tideover.answers.context import AMBIENT, Context
from tideover.answers.heat_read import Reading
from tideover.answers.soaks import soak
from tideover.answers.states import CHARGING, HALF, MAINS_FULL, Setting, standing_states
from tideover.answers.warmest import TOUCHED, Limit, of_part
from tideover.answers.warmth import VENT, peak_share, settings_of, usual_cases, warmth
from tideover.cases import nominal, override, repeat
from tideover.design import examine_text
from tideover.laws.boxes import sealed_box
from tideover.laws.heat import node_temperature
from tideover.network import settle
from tideover.solve import along, march, readings, rest
from tideover.solve import build as ready

BOX = "box: {width: 150 mm, depth: 100 mm, height: 50 mm, wall: 2 mm}\n"
LARGE = "box: {width: 300 mm, depth: 300 mm, height: 300 mm}\n"


def stove(box: str = BOX):
    """A resistor of 10 ohm on a stiff 10 V adapter, in a box: 10 W, and next to nothing else, in it."""
    text = """
title: Stove
need: {at: hot, window: 9 V to 11 V, ambient: 25 °C}
parts:
  brick: {kind: adapter, voltage: 10 V, rated current: 5 A, current limit: 6 A, output resistance: 1 mΩ}
  stove: {kind: resistor, resistance: 10 Ω, tempco: 0 1/K, thermal resistance: 5 K/W, heat capacity: 100 J/K}
  lamp: {kind: load, power: 0.01 W, nominal voltage: 10 V}
joins:
  - brick > (hot)
  - (hot) > stove > (return)
  - (hot) > lamp
"""
    return built(text, box)


def built(text: str, box: str):
    return settle(examine_text("tideover: 1\n" + text + box))


def at(build, name: str) -> Setting:
    return Setting(next(s for s in standing_states(build) if s.name == name))


def test_sealed_box_stands_where_the_law_of_boxes_puts_it():
    """The box of the engine takes 1.42 (dT/H)^0.25 for every free face; the law has the textbook's plate for the lid.
    At 10 W that is 0.36 K in the wall and in the air, which are 19.9 K and 53.6 K above the room by the law."""
    build = stove()
    warm = soak(build, nominal(build), [at(build, MAINS_FULL)])
    heat_in = float(warm.heat("stove")[0, 0] + warm.heat("box")[0, 0])
    assert heat_in == pytest.approx(10.0, rel=1e-3)
    law = sealed_box(10.0, 0.15, 0.10, 0.05)
    assert law.wall == pytest.approx(19.9, abs=0.05) and law.inside == pytest.approx(53.6, abs=0.05)
    wall = float(warm.readings.state["box", "wall_temp"][0]) - 298.15
    air = float(warm.inside.V[-1, 0]) - 298.15
    assert wall == pytest.approx(law.wall, abs=0.4)
    assert air == pytest.approx(law.inside, abs=0.4)
    assert air - wall == pytest.approx(law.inside - law.wall, rel=1e-3)  # wall and inner film are the same in both


def test_a_part_warms_as_a_first_order_lag():
    """An adapter outside has the room at its side, which does not warm: an exponential of theta C = 480 s."""
    build = stove()
    system = ready(build, {}, 1)
    point = rest(system, at(build, MAINS_FULL).condition(build, 298.15))
    waves = march(system, point.state, until=1500.0, accuracy=1e-5)
    t, alone, inside = along(waves, 0)
    seen = readings(alone, inside)
    law = node_temperature(t, seen.heat["brick"][0], 8.0, 60.0, 298.15, 298.15)
    assert t[-1] == 1500.0 and law[-1] > 309.0
    assert np.abs(seen.quantity["brick", "temperature [K]"] - law).max() < 0.01


@pytest.mark.parametrize(("lasts", "every", "tau"), [(0.1, 10.0, 5.0), (20.0, 60.0, 30.0), (5.0, 5.0, 1e4)])
def test_share_of_a_peak_is_where_a_square_wave_ends(lasts: float, every: float, tau: float):
    up, down = np.exp(-lasts / tau), np.exp(-(every - lasts) / tau)
    x = 0.0
    for _ in range(int(40 * max(tau / every, 1.0))):
        x = 1.0 - (1.0 - x * down) * up
    assert float(peak_share(lasts, every, tau)) == pytest.approx(x, rel=1e-6)


def linear(current: str = "1 A", adapter: str = "6.5 V", theta: str = "60 K/W", box: str = "", load: str = "2 W"):
    """A linear charger for one cell beside it in a box of a hand's size."""
    text = f"""
title: Night lamp
need: {{at: load, window: 3 V to 7 V, ambient: 10 °C to 35 °C}}
parts:
  brick: {{kind: adapter, voltage: {adapter} ±2 %, rated current: 3 A, current limit: 4 A, output resistance: 20 mΩ}}
  charger: {{kind: charger, type: linear, hold voltage: 4.1 V, charge current: {current}, restart voltage: 3.95 V,
    thermal resistance: {theta}}}
  cell: {{kind: pack, chemistry: NMC, series: 1, parallel: 2, capacity: 2.5 Ah, resistance: 40 mΩ}}
  first: {{kind: diode, saturation current: 1 µA, ideality: 1.05, series resistance: 20 mΩ}}
  second: {{kind: diode, saturation current: 1 µA, ideality: 1.05, series resistance: 20 mΩ}}
  lamp: {{kind: load, power: {load} ±10 %, nominal voltage: 5 V}}
joins:
  - brick > (inlet) > charger > (cell plus) > cell > (return)
  - (inlet) > first > (load)
  - (cell plus) > second > (load) > lamp
"""
    return built(text, box or "box: {width: 90 mm, depth: 60 mm, height: 30 mm}\n")


def test_a_folded_charger_gives_what_its_heat_path_carries():
    build = linear(current="2 A")
    context = Context.of(build)
    warm = soak(build, override(nominal(build), {AMBIENT: 308.15}), [at(build, CHARGING)])
    temp = float(warm.q("charger", "temperature [K]")[0, 0])
    drop = float(warm.v(context.network.nodes.index("inlet"))[0, 0] - warm.v(build.nodes.index("cell plus"))[0, 0])
    amps = float(warm.q("charger", "charge current [A]")[0, 0])
    assert 388.15 < temp < 393.2  # the last 5 K below its foldback temperature
    carried = (temp - float(warm.inside.V[-1, 0])) / 60.0
    assert amps * drop == pytest.approx(carried, rel=0.02)
    answer = heat.answer(context)
    (folded,) = [f for f in answer.findings if f.name == "charger holds itself back in the heat"]
    assert folded.status == "tight"
    assert folded.value == pytest.approx(amps / 2.0, rel=0.02)
    assert "instead of" in folded.why  # and the recharge takes longer for it


@pytest.fixture(scope="module")
def cooked():
    return heat.answer(Context.of(linear(current="0.25 A", theta="15 K/W")))


def test_cells_beside_a_linear_charger_get_too_hot(cooked):
    (cells,) = [f for f in cooked.findings if f.name == "cells too hot"]
    assert cooked.status == cells.status == "fails"
    assert cells.limit == 318.15 and cells.value > 318.15
    assert "Openings of about" in cells.mend or "No opening" in cells.mend


def test_a_day_runs_empty_and_fills_again(cooked):
    """An hour full, a run of 5 Ah at 2 W and 3.6 V less the diode's share, and a charge of at most 0.25 A."""
    table = next(t for t in cooked.tables if t.title.startswith("A day"))
    label, run, recharge, air, cells, whole = table.rows[0]
    assert (label, whole) == ("as drawn", "yes")
    assert 5.0 * 3600.0 < run < 9.0 * 3600.0
    assert recharge is None or recharge > 0.85 * 5.0 / 0.25 * 3600.0  # it may not be full again within the day
    assert cells >= air - 0.1
    assert all(s.x[0] == 0.0 and np.all(np.diff(s.x) > 0.0) for s in cooked.series)
    assert {"air in the box", "cell"} <= {s.name for s in cooked.series}


def test_the_openings_it_proposes_do(cooked):
    table = next(t for t in cooked.tables if t.title.startswith("Openings tried"))
    good = [row[0] for row in table.rows if row[3] == "yes"]
    assert good and good[0] > table.rows[0][0]
    open_box = f"box: {{width: 90 mm, depth: 60 mm, height: 30 mm, vent area: {1e6 * good[0]} mm²}}\n"
    again = heat.answer(Context.of(linear(current="0.25 A", theta="15 K/W", box=open_box)))
    assert not [f for f in again.findings if f.status != "holds" and f.case == "nominal"]


@pytest.fixture(scope="module")
def grid():
    """Rooms, vents and loads, one at a time, over every standing state."""
    build = linear(current="0.3 A")
    context = Context.of(build)
    given = {
        AMBIENT: np.array([283.15, 298.15, 313.15, 298.15, 298.15, 298.15]),
        VENT: np.array([0.0, 0.0, 0.0, 1e-4, 1e-3, 0.0]),
        ("lamp", "power"): np.array([2.0, 2.0, 2.0, 2.0, 2.0, 3.0]),
    }
    warm = warmth(context, override(repeat(nominal(build), 6), given), settings_of(context))
    assert warm.soaked.found.all()
    inside = [p for p in build.parts if p.kind.warm and p.kind.name not in ("adapter", "load")]
    return warm, np.stack([*(warm.part(p) for p in inside), warm.air])


def test_a_warmer_room_never_cools_a_part(grid):
    _, temps = grid
    assert (np.diff(temps[:, :, :3], axis=2) > 5.0).all()


def test_a_larger_vent_never_heats_a_part(grid):
    _, temps = grid
    assert (np.diff(temps[:, :, [1, 3, 4]], axis=2) < 1e-4).all()


def test_more_load_never_cools_a_part_on_the_pack(grid):
    warm, temps = grid
    rows = [k for k, s in enumerate(warm.settings) if s.standing.on_pack]
    assert (temps[:, rows, 5] > temps[:, rows, 1]).all()


def test_the_corner_is_warmer_than_the_drawing():
    context = Context.of(linear(current="0.3 A"))
    settings = settings_of(context)
    warm = warmth(context, usual_cases(context, settings), settings)
    diagonal = np.array([warm.air[k, 4 + k] - warm.air[k, 0] for k in range(len(settings))])
    assert (diagonal > 0.0).all()
    assert "lamp power +10 %" in warm.soaked.batch.labels[4 + [s.standing.name for s in settings].index(HALF)]


def test_full_cells_are_judged_by_how_they_are_kept():
    """Without a float voltage they only stand; with one they are charged."""
    build = linear()
    cell = build.part("cell")
    standing = of_part(build, cell, MAINS_FULL)
    assert standing is not None and standing.hard == 333.15 and standing.screen == 318.15
    charging = of_part(build, cell, CHARGING)
    assert charging is not None and charging.hard == 318.15


def test_metal_is_hotter_to_the_touch_than_plastic():
    bare = "box: {width: 150 mm, depth: 100 mm, height: 50 mm, wall conductivity: 200 W/(m K), emissivity: 0.1}\n"
    hot = stove(box=bare)
    (metal,) = [f for f in heat.answer(Context.of(hot)).findings if f.subject == "box" and "touch" in f.name]
    (plastic,) = [f for f in heat.answer(Context.of(stove())).findings if f.subject == "box" and "touch" in f.name]
    assert metal.limit == TOUCHED["touched for up to 10 s"]["metal"].value == 333.15
    assert plastic.limit == 350.15 and plastic.status == "holds"
    assert metal.value > plastic.value  # bare metal radiates little
    assert metal.status == "tight"


def test_all_that_is_bad_at_once_makes_tight_and_never_fails():
    limit = Limit(350.0, 340.0, "", "")
    plain = Reading("a", "s", "nominal", 345.0, 300.0, limit, True)
    assert [dataclasses.replace(plain, value=v).status for v in (339.0, 345.0, 351.0)] == ["holds", "tight", "fails"]
    corner = dataclasses.replace(plain, case="a +5 %")
    assert [dataclasses.replace(corner, value=v).status for v in (339.0, 345.0, 351.0)] == ["holds", "holds", "tight"]


def test_a_rise_of_more_than_a_hundred_kelvin_is_a_difference_and_no_temperature():
    """2 W over 80 K/W: a charger that does not fold back stands 160 K above the air around it."""
    build = linear(theta="80 K/W, foldback temperature: 226 °C", box=LARGE)
    hot = heat.answer(Context.of(build))
    why = next(f.why for f in hot.findings if f.subject == "charger" and f.status == "fails")
    assert " K above the air around it" in why and "°C above the air" not in why
