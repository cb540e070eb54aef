"""Parts without a source of their own: conductors, switch, diodes, relay, capacitor, fuse, load, box."""

from __future__ import annotations

import math
from typing import Any

from tideover.laws.constants import BOLTZMANN, ELEMENTARY_CHARGE, GRAVITY, STEFAN_BOLTZMANN

from .bench import ALPHA_COPPER, AT_20, AT_25, Part, greater, held, lift


class Conductor(Part):
    """Ohm's law at the conductor's temperature; a micro-ohm of solder is always there."""

    def __init__(self, kind: str, p: Any) -> None:
        super().__init__(p)
        if kind in ("cable", "wire"):
            ohms = p.resistivity * p.length / p.section * p.cores + p.contacts * p.contact_resistance
        elif kind in ("strip", "track"):
            ohms = p.resistivity * p.length / p.thickness / p.width
        elif kind == "connector":
            ohms = p.contacts * p.contact_resistance
        else:
            ohms = p.resistance
        self.cold = ohms + 1e-6

    def flows(self, v, x, m, s, temp, air):
        drop = v[0] - v[1]
        i = drop / (self.cold * (1.0 + self.p.tempco * (temp - AT_20)))
        return (i, -i), (), drop * i


class Switch(Part):
    """Contact resistance when closed, 100 megohm across the gap always."""

    def flows(self, v, x, m, s, temp, air):
        drop = v[0] - v[1]
        i = drop * 1e-8
        if s["closed"]:
            i += drop / (self.p.contact_resistance + 1e-6) * s["closed"]
        return (i, -i), (), drop * i


class Diode(Part):
    """Shockley's junction in series with a resistance; the junction's voltage is found by Newton's method."""

    def flows(self, v, x, m, s, temp, air):
        p, u = self.p, v[0] - v[1]
        unit = p.ideality * BOLTZMANN * temp / ELEMENTARY_CHARGE
        t = temp / AT_25
        i_s = p.saturation_current * t ** (p.temperature_exponent / p.ideality)
        i_s *= math.exp(p.band_gap * (t - 1.0) / unit)
        r = p.series_resistance
        y = u if u <= 0.0 else min(u, unit * math.log1p(u / (r * i_s)))
        for _ in range(60):
            e = i_s * math.exp(y / unit)
            step = (y + r * (e - i_s) - u) / (1.0 + r * e / unit)
            y -= step
            if abs(step) < 1e-15 + 1e-15 * abs(y):
                break
        i = (u - y) / r
        i -= lift(-u, 0.1) / p.reverse_voltage * p.leakage * 2.0 ** ((temp - AT_25) / p.leakage_doubling)
        return (i, -i), (), u * i


class IdealDiode(Part):
    """A channel that a controller lets conduct beside its body diode."""

    def __init__(self, p: Any) -> None:
        super().__init__(p)
        self.tables = {
            "channel": {
                "off": [("turning on", "when", lambda v, x, m: v[0] - v[1] - p.regulation_voltage)],
                "turning on": [
                    ("off", "when", lambda v, x, m: v[1] - v[0]),
                    ("on", "after", lambda: p.turn_on_time),
                ],
                "on": [("turning off", "when", lambda v, x, m: v[1] - v[0] - p.reverse_threshold)],
                "turning off": [("off", "after", lambda: p.turn_off_time)],
            }
        }

    def flows(self, v, x, m, s, temp, air):
        p, u, over = self.p, v[0] - v[1], v[1] - v[2]
        i = lift(u - p.body_drop, 0.05) / 0.03 + 1e-9 * u
        if m["channel"] in ("on", "turning off"):
            ohms = p.on_resistance * (1.0 + p.tempco * (temp - AT_25))
            if p.control == 0.0:
                if u > 0.0:
                    i += u / ohms * (u**2 + p.regulation_voltage**2 / 1000.0) / (u**2 + p.regulation_voltage**2)
            else:
                i += u / ohms
        own = p.quiescent * min(max(over, 0.0), 1.0)
        return (i, own - i, -own), (), u * i + over * own


class Relay(Part):
    """The coil's flux is what it remembers; contacts follow the armature, both throws open while it travels."""

    states = ("flux",)

    def __init__(self, p: Any) -> None:
        super().__init__(p)
        amps = p.coil_voltage / p.coil_resistance
        rising = -p.inductance_open / p.coil_resistance * math.log(1.0 - p.operate_fraction)
        travel = max(p.operate_time - rising - p.open_time, 2e-4)

        def pulls(v, x, m):
            return self.current(x[0], m["contact"]) - p.operate_fraction * amps

        def drops(v, x, m):
            return p.release_fraction * amps - self.current(x[0], m["contact"])

        self.tables = {
            "contact": {
                "released": [("pulling in", "when", pulls)],
                "pulling in": [
                    ("released", "when", drops),
                    ("crossing to front", "after", lambda: travel),
                ],
                "crossing to front": [("front touch", "after", lambda: p.open_time)],
                "front touch": [("front bounce", "after", lambda: 0.3 * p.front_bounce + 1e-6)],
                "front bounce": [("operated", "after", lambda: 0.7 * p.front_bounce + 1e-6)],
                "operated": [("letting go", "when", drops)],
                "letting go": [
                    ("operated", "when", pulls),
                    ("crossing to back", "after", lambda: p.release_time),
                ],
                "crossing to back": [("back touch", "after", lambda: p.open_time)],
                "back touch": [("back bounce", "after", lambda: 0.3 * p.back_bounce + 1e-6)],
                "back bounce": [("released", "after", lambda: 0.7 * p.back_bounce + 1e-6)],
            }
        }

    def current(self, flux, contact):
        on_the_core = contact in ("operated", "letting go", "front touch", "front bounce")
        return flux / (self.p.inductance_seated if on_the_core else self.p.inductance_open)

    def flows(self, v, x, m, s, temp, air):
        p, contact = self.p, m["contact"]
        across = v[0] - v[1]
        coil = self.current(x[0], contact)
        ohms = p.coil_resistance * (1.0 + ALPHA_COPPER * (temp - AT_20))
        clamp = lift(-across - p.clamp_voltage, 0.02) / 1.0
        to_front, to_back = v[2] - v[3], v[2] - v[4]
        front, back = 1e-9 * to_front, 1e-9 * to_back
        if contact in ("operated", "letting go", "front touch"):
            front += to_front / p.contact_resistance
        if contact in ("released", "pulling in", "back touch"):
            back += to_back / p.contact_resistance
        i = coil - clamp
        heat = ohms * coil**2 - across * clamp + front * to_front + back * to_back
        return (i, -i, front + back, -front, -back), (across - ohms * coil,), heat


class Capacitor(Part):
    """Capacitance behind its series resistance, leakage in proportion to its voltage."""

    states = ("charge_voltage",)

    def flows(self, v, x, m, s, temp, air):
        p = self.p
        r = p.ESR + 1e-6
        i = (v[0] - v[1] - x[0]) / r
        lost = p.leakage * x[0] / p.voltage_rating
        return (i, -i), ((i - lost) / p.capacitance,), r * i * i + lost * x[0]


class Fuse(Part):
    """A resistance that warms towards melting and leaks that warmth away."""

    states = ("melting",)
    slow = ("melting",)
    tables = {"element": {"whole": [("blown", "when", lambda v, x, m: x[0] - 1.0)], "blown": []}}  # noqa: RUF012

    def flows(self, v, x, m, s, temp, air):
        p, u = self.p, v[0] - v[1]
        i = u * 1e-9 if m["element"] == "blown" else u / p.resistance / (1.0 + 0.6 * x[0])
        least = p.fusing_factor * p.rating
        return (i, -i), ((i**2 - x[0] * least**2) / p.melting_integral,), u * i


class Load(Part):
    """Power, current or resistance behind an input capacitor; it resets, restarts and reboots."""

    states = ("input",)

    def __init__(self, p: Any) -> None:
        super().__init__(p)

        def resets(v, x, m):
            return p.resets_below - x[0] if p.resets_below else -1.0

        self.tables = {
            "work": {
                "working": [("reset", "when", resets)],
                "reset": [("booting", "when", lambda v, x, m: x[0] - p.restarts_above)],
                "booting": [("reset", "when", resets), ("working", "after", lambda: p.reboots_in)],
            }
        }

    def start(self):
        return (self.p.nominal_voltage,)

    def flows(self, v, x, m, s, temp, air):
        p, inner = self.p, x[0]
        i = (v[0] - v[1] - inner) / p.input_resistance
        drawn = 0.0
        if m["work"] != "reset":
            knee = 0.3 * p.nominal_voltage
            if p.law == 0.0:
                drawn = p.power * inner / greater(inner, knee, 0.05 * knee) ** 2
            elif p.law == 1.0:
                drawn = p.power / p.nominal_voltage * held(10.0 * inner / p.nominal_voltage, 0.0, 1.0, 0.1)
            else:
                drawn = p.power * inner / p.nominal_voltage**2
            drawn *= s["demand"]
        return (i, -i), ((i - drawn) / p.capacitance,), p.input_resistance * i**2


class Box(Part):
    """Air to wall, wall to room, and air to room through the vents. Its only terminal is the air."""

    states = ("wall_temp",)
    slow = ("wall_temp",)
    warm = False

    def flows(self, v, x, m, s, temp, air):
        p, wall = self.p, x[0]
        faces = p.width * p.depth + 2.0 * p.height * (p.width + p.depth)
        inward = faces * (air - wall) / (0.125 + p.wall / p.wall_conductivity)
        rise = wall - p.ambient
        film = 1.42 * (math.sqrt(rise**2 + 0.01) / p.height) ** 0.25
        film += p.emissivity * STEFAN_BOLTZMANN * (wall + p.ambient) * (wall**2 + p.ambient**2)
        lead = lift(air - p.ambient, 0.1)
        flow = 1.177 * 1007.0 * 0.6 * p.vent_area / math.sqrt(2.0)
        flow *= math.sqrt(GRAVITY * p.height / p.ambient)
        vented = flow * lead * math.sqrt(lead + 1e-6)
        return (inward + vented,), ((inward - faces * film * rise) / p.wall_capacity,), 0.0
