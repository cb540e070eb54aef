"""Small supplies drawn at random, in the way a builder might: a source, a pack, a changeover, a converter, a load."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tideover.design import examine_text
from tideover.network import Network, settle


@dataclass(frozen=True)
class Supply:
    """What goes together: adapters, charger, pack, board, coil and the converters with the power each may carry."""

    adapters: tuple[str, ...]
    charger: str
    cells: tuple[str, ...]
    series: int
    board: str
    relay: str
    converters: tuple[tuple[str, float, float], ...]
    """(shelf name, output voltage, largest power)."""


BUCK_BOOST = ("buck-boost 12 V 3 A", 12.0, 14.0)
SUPPLIES = (
    Supply(
        ("5.1 V 3 A adapter",),
        "linear charger 1 series 1 A",
        ("NMC 18650 2.6 Ah", "NCA 18650 3.4 Ah"),
        1,
        "protection board 1 series 6 A",
        "power relay 10 A, 5 V coil",
        (("boost module 1 cell to 5 V", 5.0, 5.0), ("boost module 1 cell to 12 V", 12.0, 5.0)),
    ),
    Supply(
        ("12 V 2 A adapter", "12 V 3 A adapter"),
        "{from: adjustable charging board, hold voltage: 8.3 V, charge current: 600 mA}",
        ("NMC 18650 2.5 Ah high drain", "LCO pouch 3 Ah"),
        2,
        "protection board 2 series 4 A",
        "power relay 10 A, 12 V coil",
        (BUCK_BOOST, ("buck module 12 V to 5 V 3 A", 5.0, 7.0)),
    ),
    Supply(
        ("15 V 4 A adapter",),
        "switching charger 3 series 2 A",
        ("NMC 18650 2.6 Ah", "NMC 21700 5 Ah"),
        3,
        "protection board 3 series 10 A",
        "power relay 10 A, 12 V coil",
        (
            BUCK_BOOST,
            ("buck module 12 V to 5 V 3 A", 5.0, 10.0),
            ("low-dropout regulator 5 V 0.5 A", 5.0, 1.5),
            ("boost module 3 to 4 cells to 19 V", 19.0, 16.0),
        ),
    ),
    Supply(
        ("19 V 3.4 A adapter",),
        "switching charger 4 series 2 A",
        ("NMC 18650 2.6 Ah", "NCA 18650 3.4 Ah"),
        4,
        "protection board 4 series 20 A, balancing",
        "power relay 10 A, 12 V coil",
        (("buck module 24 V to 12 V 3 A", 12.0, 15.0), ("boost module 4 cells to 24 V", 24.0, 20.0)),
    ),
    Supply(
        ("15 V 4 A adapter", "19 V 3.4 A adapter"),
        "lead-acid charger 12 V 1.5 A",
        ("AGM 12 V 7 Ah", "AGM 12 V 9 Ah"),
        1,
        "",
        "power relay 16 A, 12 V coil",
        (BUCK_BOOST, ("buck module 12 V to 5 V 3 A", 5.0, 10.0)),
    ),
)
TOPOLOGIES = ("diode", "ideal diode", "relay", "direct")


@dataclass(frozen=True)
class Case:
    """A network, the state it is found in and the outage it is put through."""

    name: str
    network: Network
    charge: float
    ambient: float
    off: float
    on: float
    until: float
    step: float
    """Instant at which the demand grows to 1.4 of the mean; 0 never. [s]"""
    text: str

    def signals(self) -> list[tuple[float, str, str, float]]:
        """(instant, part, signal, value) of everything that happens from outside."""
        out = [(self.off, "brick", "mains", 0.0), (self.on, "brick", "mains", 1.0)]
        if self.step:
            out.append((self.step, "modem", "demand", 1.4))
        return sorted(out)


def draw(seed: int) -> Case:
    """The case of one seed."""
    rng = np.random.default_rng(seed)
    topology = TOPOLOGIES[seed % len(TOPOLOGIES)]
    supply = SUPPLIES[(seed // len(TOPOLOGIES)) % len(SUPPLIES)]

    def pick(options):
        return options[int(rng.integers(len(options)))]

    converter, volts, most = pick(supply.converters)
    law = pick(("power", "power", "current", "resistance"))
    power = most * rng.uniform(0.3, 0.9)
    delay = rng.uniform(0.1, 0.6)
    off, on = 0.02, 0.02 + rng.uniform(0.1, 2.5)
    charge = rng.uniform(0.4, 0.95)
    charged = topology == "direct" or rng.random() < 0.7
    overload = pick(("hiccup", "hiccup", "constant current", "foldback"))
    hold_up = rng.uniform(0.5, 5.0)
    drawn_return = rng.random() < 0.4
    straight = topology != "direct" and law == "resistance" and rng.random() < 0.4
    if straight:
        volts, power = 3.7 * supply.series if supply.board else 12.0, 6.0
    step = off + rng.uniform(0.2, 0.8) * (on - off) if rng.random() < 0.4 else 0.0
    parts = [
        f"brick: {{from: {pick(supply.adapters)}, start delay: {delay:.4f} s, overload: {overload}}}",
        f"lead: {{kind: cable, section: {rng.uniform(0.4, 1.0):.3f} mm², length: {rng.uniform(0.5, 2.0):.3f} m}}",
        "jack: barrel jack 5.5/2.1",
        f"pack: {{cells: {pick(supply.cells)}, series: {supply.series}, parallel: {int(rng.integers(1, 4))}}}",
        "fuse: 5 A blade fuse",
        f"hold-up: {{kind: capacitor, capacitance: {hold_up:.3f} mF, ESR: {rng.uniform(10, 60):.2f} mΩ, "
        f"leakage: {rng.uniform(0, 1e-4):.6f} A}}",
        f"out wire: {{from: flexible wire 0.75 mm², length: {rng.uniform(0.2, 1.0):.3f} m}}",
        f"modem: {{kind: load, law: {law}, power: {power:.3f} W, nominal voltage: {volts:.3f} V, "
        f"capacitance: {rng.uniform(50, 500):.1f} uF}}",
    ]
    joins = ["brick > lead > jack > (inlet)", "(bus) > hold-up"]
    last = "modem"
    if drawn_return:
        parts.append(f"back wire: {{from: flexible wire 0.75 mm², length: {rng.uniform(0.2, 1.0):.3f} m}}")
        joins.append("modem.minus > back wire > (return)")
    if supply.board:
        parts.append(f"board: {supply.board}")
        joins.append("(pack plus) > pack > (pack minus) > board > (return)")
    else:
        joins.append("(pack plus) > pack")
    if charged:
        parts.append(f"charger: {supply.charger}")
        joins.append("(inlet) > charger > (pack plus)")
    if topology in ("diode", "ideal diode"):
        made = "low-drop rectifier 10 A 45 V"
        if topology == "ideal diode":
            made = pick(("ideal diode 10 mΩ", "ideal diode 4 mΩ"))
        parts += [f"mains diode: {made}", f"pack diode: {made}"]
        joins += ["(inlet) > mains diode > (bus)", "(pack plus) > fuse > pack diode > (bus)"]
    elif topology == "relay":
        parts.append(f"changeover: {supply.relay}")
        joins += [
            "(pack plus) > fuse > changeover.back",
            "(inlet) > changeover.front",
            "(inlet) > changeover.coil plus",
            "changeover.common > (bus)",
        ]
    else:
        joins.append("(pack plus) > fuse > (bus)")
    if straight:
        joins.append(f"(bus) > out wire > (load) > {last}")
    else:
        parts.append(f"converter: {converter}")
        joins.append(f"(bus) > converter > out wire > (load) > {last}")
    text = "\n".join(
        [
            "tideover: 1",
            f"title: Drawn by lot {seed}",
            "need: {at: load, window: 1 V to 40 V, runtime: 1 h, ambient: 10 °C to 35 °C}",
            "parts:",
            *(f"  {p}" for p in parts),
            "joins:",
            *(f"  - {j}" for j in joins),
            "box: plastic box 150 × 100 × 50 mm, sealed",
            "",
        ]
    )
    return Case(
        f"{seed}: {topology}, {supply.series} series, {'straight' if straight else converter}, {law}",
        settle(examine_text(text)),
        float(charge),
        float(rng.uniform(283.15, 308.15)),
        off,
        float(on),
        float(on + delay + 0.03 + 0.3),
        float(step),
        text,
    )
