"""Small builds whose answers can be worked out by hand."""

from __future__ import annotations

from tideover.answers.context import Context
from tideover.design import examine_text
from tideover.network import Network, settle

BOX = "box: {width: 150 mm, depth: 100 mm, height: 50 mm}\n"


def network(text: str) -> Network:
    return settle(examine_text("tideover: 1\n" + text + BOX))


def context(text: str) -> Context:
    return Context.of(network(text))


def plain(power: str = "6 W", resistance: str = "0.75 Ω", window: str = "5 V to 13 V", more: str = "") -> str:
    """A 12 V adapter, a resistance and a constant-power load: 1 ohm in all, collapse at 36 W."""
    return f"""
title: Plain
need: {{at: load, window: {window}, ambient: 20 °C}}
parts:
  brick: {{kind: adapter, voltage: 12 V, rated current: 8 A, current limit: 9 A, output resistance: 0.2 Ω}}
  wire: {{kind: resistor, resistance: {resistance}, tempco: 0 1/K}}
  lamp: {{kind: load, power: {power}, nominal voltage: 12 V, input resistance: 0.05 Ω{more}}}
joins:
  - brick > wire > (load) > lamp
"""


def two_diodes(adapter: str = "12 V ±5 %", more: str = "") -> str:
    """An adapter and a pack of three cells meeting at two diodes."""
    return f"""
title: Two diodes
need: {{at: load, window: 8 V to 16 V, ambient: 25 °C}}
parts:
  brick: {{kind: adapter, voltage: {adapter}, rated current: 2 A, current limit: 2.8 A, output resistance: 0.1 Ω}}
  lead: {{kind: resistor, resistance: 0.05 Ω}}
  cells: {{kind: pack, chemistry: NMC, series: 3, capacity: 2.6 Ah, resistance: 45 mΩ}}
  first: {{kind: diode, saturation current: 1 µA, ideality: 1.05, series resistance: 30 mΩ, leakage: 10 µA}}
  second: {{kind: diode, saturation current: 1 µA, ideality: 1.05, series resistance: 30 mΩ, leakage: 10 µA}}
  lamp: {{kind: load, power: 6 W, nominal voltage: 12 V}}
{more}joins:
  - brick > lead > (inlet) > first > (load)
  - cells > second > (load) > lamp
"""


def charged(adapter: str = "12 V 1 A adapter", charge: str = "1 A", more: str = "") -> str:
    """An adapter that feeds a load and a buck charger for two cells; the load lives on the inlet or the pack."""
    return f"""
title: Charged
need: {{at: load, window: 5 V to 13 V, ambient: 25 °C}}
parts:
  brick: {adapter}
  lead: {{kind: resistor, resistance: 0.05 Ω}}
  charger: {{kind: charger, type: buck, hold voltage: 8.4 V, charge current: {charge}, restart voltage: 8.1 V}}
  cells: {{kind: pack, chemistry: NMC, series: 2, capacity: 2.6 Ah, resistance: 45 mΩ}}
  first: {{kind: diode, saturation current: 1 µA, ideality: 1.05, series resistance: 30 mΩ, leakage: 10 µA}}
  second: {{kind: diode, saturation current: 1 µA, ideality: 1.05, series resistance: 30 mΩ, leakage: 10 µA}}
  lamp: {{kind: load, power: 6 W, nominal voltage: 12 V{more}}}
joins:
  - brick > lead > (inlet)
  - (inlet) > charger > (pack plus) > cells
  - (inlet) > first > (load)
  - (pack plus) > second > (load) > lamp
"""
