"""Loops of short-circuit current: which parts they pass, and their currents against the solved network."""

from __future__ import annotations

import numpy as np
import pytest

from answers.builds import network
from tideover.answers import loops as way
from tideover.cases import nominal
from tideover.network import Network
from tideover.solve import Condition, build, readings, rest

PARTS = """
  cells: {kind: pack, chemistry: NMC, series: 3, parallel: 2, capacity: 2.6 Ah, resistance: 45 mΩ,
    joint resistance: 0 Ω, fast resistance: 1 µΩ, slow resistance: 1 µΩ}
  fuse: {kind: fuse, rating: 10 A, resistance: 7.7 mΩ, melting integral: 115 A²·s}
  wire: {kind: resistor, resistance: 12.3 mΩ, tempco: 0 1/K}
"""


def shorted(more_parts: str = "", chain: str = "fuse > wire > (far) > bridge") -> Network:
    return network(f"""
title: Shorted
need: {{at: far, window: 1 V to 13 V, ambient: 25 °C}}
parts:{PARTS}{more_parts}  bridge: {{kind: resistor, resistance: 1 µΩ}}
  lamp: {{kind: load, power: 6 W, nominal voltage: 12 V}}
joins:
  - cells > (top) > {chain} > (return)
  - (far) > lamp
""")


def named(found, name):
    return next(loop for loop in found if loop.at == name)


def test_three_groups_of_two_cells_and_20_mohm_drive_143_a():
    """12.6 V over 3 * 45 / 2 + 20 mohm: the textbook's prospective current."""
    net = shorted()
    loop = named(way.loops(net, net.part("cells")), "wire")
    assert [p.name for p in loop.out] == ["fuse", "wire"] and loop.back == ()
    volts = way.source_voltage(net, net.part("cells"), way.HIGH)
    assert volts == pytest.approx(12.6, abs=0.06)
    assert way.most(net, loop) == pytest.approx(volts / (3 * 0.045 / 2 + 0.020), rel=1e-3)
    assert way.most(net, loop) == pytest.approx(143.0, abs=1.0)


DIODE = "  diode: {kind: ideal diode, on resistance: 10 mΩ, regulation voltage: 1 mV}\n"


@pytest.mark.parametrize("extra", ["", DIODE], ids=["plain", "through an ideal diode"])
def test_the_closed_form_is_the_solved_current_of_a_short(extra):
    net = shorted(extra, f"fuse > {'diode > ' if extra else ''}wire > (far) > bridge")
    loop = named(way.loops(net, net.part("cells")), "wire")
    cells = net.part("cells")
    system = build(net, nominal(net).values, 1)
    full = {("cells", "charge"): 1.0, ("cells", "weak_charge"): 1.0}
    point = rest(system, Condition({("lamp", "demand"): np.zeros(1)}, full, {}, 298.15))
    assert point.outcome[0] == 0
    amps = float(readings(system, point.state).quantity[cells.name, "discharge current [A]"][0])
    assert way.most(net, loop) == pytest.approx(amps, rel=0.02)


def test_a_changeover_never_joins_its_two_throws_and_a_diode_lets_nothing_back():
    net = network("""
title: Changeover
need: {at: bus, window: 1 V to 13 V, ambient: 25 °C}
parts:
  brick: {kind: adapter, voltage: 12 V, rated current: 2 A, current limit: 3 A}
  lead: {kind: resistor, resistance: 50 mΩ}
  cells: {kind: pack, chemistry: NMC, series: 3, capacity: 2.6 Ah, resistance: 45 mΩ}
  fuse: 3 A blade fuse
  relay: power relay 10 A, 12 V coil
  stop: {kind: diode, saturation current: 1 µA, ideality: 1.05, series resistance: 30 mΩ}
  lamp: {kind: load, power: 6 W, nominal voltage: 12 V}
joins:
  - brick > lead > (inlet) > stop > relay.front
  - (inlet) > relay.coil plus
  - cells > fuse > relay.back
  - relay.common > (bus) > lamp
""")
    assert {loop.at for loop in way.loops(net, net.part("cells"))} == {"fuse", "relay"}
    assert {loop.at for loop in way.loops(net, net.part("brick"))} == {"lead", "stop", "relay"}


def test_a_board_in_the_negative_leg_is_on_the_way_back_and_its_trip_is_propagated():
    """150 mV over 30 mohm: 5 A; 25 % more and 40 K of 0.4 %/K: 3.45 A. Without a stated spread 25 % is assumed."""
    net = network("""
title: Boarded
need: {at: load, window: 1 V to 13 V, ambient: 25 °C}
parts:
  cells: {kind: pack, chemistry: NMC, series: 2, capacity: 2.6 Ah, resistance: 45 mΩ}
  board: {kind: protection board, series: 2, on resistance: 30 mΩ, cut-off: 2.5 V, cut-off release: 2.9 V,
    over-charge: 4.28 V, over-charge release: 4.08 V}
  wire: {kind: resistor, resistance: 50 mΩ}
  home: {kind: resistor, resistance: 50 mΩ}
  lamp: {kind: load, power: 6 W, nominal voltage: 8 V}
joins:
  - (top) > cells > (low) > board > (return)
  - (top) > wire > (load) > lamp > (end) > home > (return)
""")
    found = way.loops(net, net.part("cells"))
    assert [p.name for p in named(found, "wire").back] == ["board"]
    assert [p.name for p in named(found, "lamp").back] == ["home", "board"]
    board = net.part("board")
    assert way.trip_current(board) == pytest.approx(5.0)
    assert way.trip_current(board, way.LOW, 298.15 + 40.0) == pytest.approx(0.15 / (0.030 * 1.16 * 1.25))
    assert way.trip_current(board, way.HIGH) == pytest.approx(0.15 / (0.030 * 0.75))
