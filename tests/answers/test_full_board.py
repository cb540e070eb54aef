"""A board that stopped the charge lets a load have its switch back."""

from __future__ import annotations

import pytest

from answers.builds import network
from tideover.solve import Change, Condition, build, march, rest
from tideover.solve.readings import along, readings

BUILD = """
title: Full board
need: {at: load, window: 5 V to 13 V, ambient: 25 °C}
parts:
  cells: {kind: pack, chemistry: NMC, series: 3, capacity: 2.6 Ah, resistance: 45 mΩ}
  board:
    kind: protection board
    series: 3
    on resistance: 30 mΩ
    cut-off: 2.5 V
    cut-off release: 3 V
    over-charge: OVER
    over-charge release: 4 V
  wire: {kind: resistor, resistance: 10 mΩ}
  lamp: {kind: load, power: 12 W, law: current, nominal voltage: 12 V, capacitance: 10 uF}
joins:
  - (plus) > cells > (minus) > board > (return)
  - (plus) > wire > (load) > lamp
"""


@pytest.mark.parametrize("over, closes", [("4.3 V", True), ("4.1 V", False)])
def test_a_load_closes_the_charge_switch_once_no_group_stands_above_the_threshold(over, closes):
    """Above the threshold the body diode carries the load. Its drop is no overload, and at no load nothing trips."""
    n = network(BUILD.replace("OVER", over))
    off = Condition(
        {("lamp", "demand"): 0.0},
        {("cells", "charge"): 1.0, ("cells", "weak_charge"): 1.0},
        {("board", "charge"): "full"},
    )
    system = build(n, {}, 1)
    point = rest(system, off)
    on = [Change(0.01, "lamp", "demand", 1.0)]
    waves = march(system, point.state, on, until=0.2, accuracy=1e-4)
    _, alone, inside = along(waves, 0)
    machine = readings(alone, inside).machine
    assert machine["board", "charge"][0] == "full" and set(machine["board", "discharge"]) <= {"on", "overloaded"}
    assert (machine["board", "charge"][-1] == "on") == closes
    volts = float(waves.case(0).v[-1, n.at])
    assert volts > 12.2 if closes else 11.4 < volts < 12.0
