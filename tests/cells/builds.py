"""A build whose pack is made of known cells, and the files it names."""

from __future__ import annotations

from pathlib import Path

CELL = """\
tideover cell: 1
title: Spool cell
values:
  chemistry: NMC
  capacity: 2.4 Ah ±1 %
  resistance: 40 mΩ ±5 %
  fast resistance: 10 mΩ
  fast capacitance: 2000 F
  slow resistance: 25 mΩ
  slow capacitance: 16 kF
  activation energy: 22 kJ/mol
  nominal voltage: 3.6 V
  highest voltage: 4.2 V
  lowest voltage: 2.75 V
  discharge rating: 5 A
from:
  capacity: fitted, spool-slow.csv
  slow resistance: typical, unverified
curve:
  # charge, open circuit, its spread, ohmic and slow resistance over those at half charge
  - [0 %, 2.90 V, 12 mV, 3.1, 4.2]
  - [10 %, 3.35 V, 8 mV, 1.4, 1.8]
  - [50 %, 3.68 V, 5 mV, 1.0, 1.0]
  - [100 %, 4.18 V, 5 mV, 1.1, 0.9]
fit: {form: 1, misfit: 8 mV}
"""
PACK = """\
tideover pack: 1
title: Spool pack
cell: spool.yaml
groups:
  - [A1, A2]
  - [A3, A4]
cells:
  A1: {capacity: 2.4 Ah ±1 %, resistance: 45 mΩ ±3 %, method: DC 1 s}
  A2: {capacity: 2.3 Ah ±1 %, resistance: 50 mΩ ±3 %, method: DC 1 s}
  A3: {capacity: 2.2 Ah ±1 %, resistance: 60 mΩ ±3 %, method: DC 1 s}
  A4: {capacity: 2.35 Ah ±1 %, resistance: 45 mΩ ±3 %, method: DC 1 s, model: green sleeve, age: 2019}
"""
BUILD = """\
tideover: 1
title: Net shed lamp
need: {at: load, window: 5 V to 9 V, runtime: 2 h, ambient: 25 °C}
parts:
  brick: {kind: adapter, voltage: 9 V, rated current: 2 A, current limit: 2.8 A, output resistance: 0.1 Ω}
  charger: {kind: charger, type: linear, hold voltage: 8.2 V, charge current: 0.5 A, restart voltage: 7.8 V}
  cells: {from: cells/spool-pack.yaml}
  first: {kind: diode, saturation current: 1 µA, ideality: 1.05, series resistance: 30 mΩ, leakage: 10 µA}
  second: {kind: diode, saturation current: 1 µA, ideality: 1.05, series resistance: 30 mΩ, leakage: 10 µA}
  lamp: {kind: load, power: 5 W, nominal voltage: 8 V}
joins:
  - brick > (inlet) > first > (load)
  - (inlet) > charger > (pack plus) > cells
  - (pack plus) > second > (load) > lamp
box: {width: 150 mm, depth: 100 mm, height: 50 mm}
"""


def lay(folder: Path, *changes: tuple[str, str]) -> Path:
    """Write the build and its files, each change made in whichever of them has the old text."""
    (folder / "cells").mkdir(parents=True, exist_ok=True)
    files = {"build.yaml": BUILD, "cells/spool.yaml": CELL, "cells/spool-pack.yaml": PACK}
    for old, new in changes:
        assert any(old in text for text in files.values()), f"{old!r} is nowhere"
        files = {name: text.replace(old, new, 1) for name, text in files.items()}
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder / "build.yaml"
