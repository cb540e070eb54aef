"""The parts once more, written apart: scalar arithmetic from what each model states, for an independent solver.

Nothing of the part models or of the laws is used here, only constants of nature and the published table of
open-circuit voltages. A part is ``make(kind, parameters)``: an object with named states, with discrete states and the
ways out of each, and with ``flows(v, x, m, s, temp, air)``, which gives the current into every terminal, the rate of
every state and the heat.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

from scipy.interpolate import PchipInterpolator

from tideover.laws.cells import KNOTS, OCV
from tideover.laws.constants import BOLTZMANN, ELEMENTARY_CHARGE, GAS, GRAVITY, STEFAN_BOLTZMANN

ALPHA_COPPER = 0.00393
AT_20, AT_25 = 293.15, 298.15
Way = tuple[str, str, Callable[..., float]]
"""Target, ``when`` or ``after``, and the guard or the delay."""

# --- limits with a rounded corner: sharp beyond `w`, a parabola within it -------------------------


def lift(u: float, w: float) -> float:
    if u >= w:
        return u
    return (u + w) ** 2 / (4.0 * w) if u > -w else 0.0


def lesser(a: float, b: float, w: float) -> float:
    gap = abs(a - b)
    return min(a, b) - ((w - gap) ** 2 / (4.0 * w) if gap < w else 0.0)


def greater(a: float, b: float, w: float) -> float:
    return -lesser(-a, -b, w)


def held(u: float, low: float, high: float, w: float) -> float:
    return low + lift(u - low, w) - lift(u - high, w)


# --- open-circuit voltage -----------------------------------------------------------------------


class OpenCircuit:
    """Shape-preserving cubics through the table, straight on beyond its ends."""

    def __init__(self, chemistry: str) -> None:
        found = PchipInterpolator(KNOTS, OCV[chemistry])
        slope = found.derivative()
        self.pieces = [tuple(float(c) for c in found.c[:, k]) for k in range(len(KNOTS) - 1)]
        self.ends = float(found(0.0)), float(slope(0.0)), float(found(1.0)), float(slope(1.0))

    def __call__(self, soc: float) -> float:
        if soc <= 0.0:
            return self.ends[0] + self.ends[1] * soc
        if soc >= 1.0:
            return self.ends[2] + self.ends[3] * (soc - 1.0)
        k = bisect_right(KNOTS, soc) - 1
        a, b, c, d = self.pieces[k]
        t = soc - KNOTS[k]
        return ((a * t + b) * t + c) * t + d


# --- parts --------------------------------------------------------------------------------------


class Part:
    """A part as the judge sees it.

    `slow` names the states that are held while a standing point is sought (its temperature always is); `start` their
    values in a part that nobody has touched; `tables` the machines, first state first; `entering` what an entered
    state sets.
    """

    states: tuple[str, ...] = ()
    slow: tuple[str, ...] = ()
    tables: dict[str, dict[str, list[Way]]] = {}  # noqa: RUF012
    entering: dict[tuple[str, str], dict[str, float]] = {}  # noqa: RUF012
    warm = True
    bodies = 1.0

    def __init__(self, p: Any) -> None:
        self.p = p

    def start(self) -> tuple[float, ...]:
        return tuple(0.0 for _ in self.states)

    def flows(self, v: Any, x: Any, m: Any, s: Any, temp: float, air: float) -> tuple[Any, Any, float]:
        raise NotImplementedError


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


class Adapter(Part):
    """A regulator behind a current limit feeds the output capacitor; a store outlives mains."""

    states = ("output", "store", "reference")

    def __init__(self, p: Any) -> None:
        super().__init__(p)

        def lost(v, x, m):
            return 0.5 - m["mains"]

        def back(v, x, m):
            return m["mains"] - 0.5

        def overload(v, x, m):
            return self.regulator(x, m["output"]) - 0.97 * p.current_limit if p.overload == 0.0 else -1.0

        def relieved(v, x, m):
            return 0.94 * p.current_limit - self.regulator(x, m["output"])

        self.tables = {
            "output": {
                "running": [("holding", "when", lost), ("overloaded", "when", overload)],
                "holding": [("running", "when", back), ("dead", "when", lambda v, x, m: -x[1])],
                "dead": [("starting", "when", back)],
                "starting": [("dead", "when", lost), ("ramping", "after", lambda: p.start_delay)],
                "ramping": [("holding", "when", lost), ("running", "when", lambda v, x, m: x[2] - 1.0)],
                "overloaded": [
                    ("holding", "when", lost),
                    ("running", "when", relieved),
                    ("pausing", "after", lambda: p.overload_time),
                ],
                "pausing": [("dead", "when", lost), ("ramping", "after", lambda: p.retry_time)],
            }
        }
        self.entering = {
            ("output", "dead"): {"reference": 0.0},
            ("output", "pausing"): {"reference": 0.0},
            ("output", "running"): {"reference": 1.0},
        }

    def start(self):
        p = self.p
        return p.voltage, p.voltage * p.rated_current * p.hold_up, 1.0

    def regulator(self, x, output):
        p = self.p
        if output in ("dead", "starting", "pausing"):
            return 0.0
        most = p.current_limit
        if p.overload == 2.0:
            most *= 0.25 + 0.75 * held(x[0] / p.voltage, 0.0, 1.0, 0.01)
        wanted = (x[2] * p.voltage - x[0]) / (p.output_resistance / 10.0)
        return held(wanted, 0.0, most, p.current_limit / 100.0)

    def flows(self, v, x, m, s, temp, air):
        p, state, mains = self.p, m["output"], s["mains"]
        r = 0.9 * p.output_resistance
        i = (v[0] - v[1] - x[0]) / r
        fed = self.regulator(x, state)
        leak = p.reverse_leakage * x[0] / p.voltage
        useful = fed * x[0]
        asleep = state in ("dead", "starting", "pausing")
        if mains:
            d_store = (p.voltage * p.rated_current * p.hold_up - x[1]) / 0.05
            heat = useful / p.efficiency - useful + p.no_load_power
        else:
            heat = x[1] / 0.1 if asleep else p.no_load_power
            d_store = -useful - heat
        rates = ((fed + i - leak) / p.output_capacitance, d_store, (state == "ramping") / p.rise_time)
        return (i, -i), rates, heat + leak * x[0] + r * i * i


class Converter(Part):
    """One regulator for four topologies: what it asks for, held between nothing and what the topology can reach."""

    states = ("input", "output", "integral", "ramp")

    def __init__(self, kind: str, p: Any) -> None:
        super().__init__(p)
        self.kind = kind

        def starved(v, x, m):
            return p.lockout_off - x[0]

        def light(v, x, m):
            return p.light_load_cutoff - self.command(x, m["supply"])[1]

        self.tables = {
            "supply": {
                "running": [("locked out", "when", starved), ("idling", "when", light)],
                "locked out": [("starting", "when", lambda v, x, m: x[0] - p.lockout_on)],
                "starting": [
                    ("locked out", "when", starved),
                    ("running", "when", lambda v, x, m: x[3] - 1.0),
                ],
                "idling": [
                    ("locked out", "when", starved),
                    ("running", "when", lambda v, x, m: 1e-6 - light(v, x, m)),
                    ("cut off", "after", lambda: p.cutoff_delay),
                ],
                "cut off": [("locked out", "when", starved)],
            }
        }
        nothing = {"ramp": 0.0, "integral": 0.0}
        self.entering = {
            ("supply", "running"): {"ramp": 1.0},
            ("supply", "locked out"): nothing,
            ("supply", "cut off"): nothing,
        }

    def start(self):
        return self.p.set_voltage, self.p.set_voltage, 0.0, 1.0

    def reach(self, v_in, v_out):
        p = self.p
        if self.kind == "boost":
            share = lesser((v_in - p.coil_resistance * p.current_limit) / (max(v_out, 0.5) + p.diode_drop), 1.0, 0.01)
            ripple = (1.0 - share) * v_in / p.switching_frequency / p.inductance
            left = held((share + p.largest_duty - 1.0) / 0.02, 0.0, 1.0, 0.1)
            return max(p.current_limit - ripple / 2.0, 0.0) * share * left
        if self.kind == "buck-boost":
            return lesser(v_in / max(v_out, 0.5), 1.0, 0.02) * p.current_limit * 0.95
        if self.kind == "buck":
            room = (p.largest_duty * v_in - v_out) / (p.switch_resistance + p.coil_resistance)
        else:
            room = (v_in - p.dropout - v_out) / p.dropout_resistance
        return lift(lesser(room, p.current_limit, 0.05), 0.01)

    def loss(self, v_in, v_out, i):
        p = self.p
        if self.kind == "linear regulator":
            return i * (v_in - v_out)
        crossing = p.switching_time * p.switching_frequency
        if self.kind == "boost":
            top = max(v_out, 0.5) + p.diode_drop
            fed = max(v_in, 0.0)
            root = math.sqrt(max(fed**2 - 4.0 * p.coil_resistance * top * i, 1e-3))
            share = lesser((root + fed) / top / 2.0, 1.0, 0.01)
            coil = i / share
            ohms = p.coil_resistance + share * p.rectifier_resistance + (1.0 - share) * p.switch_resistance
            return coil**2 * ohms + coil * (p.diode_drop * share + crossing * (p.diode_drop + v_out))
        if self.kind == "buck":
            duty = min(max(v_out, 0.0) / max(v_in, 1.2), 1.0)
            ohms = p.coil_resistance + (1.0 - duty) * p.rectifier_resistance + duty * p.switch_resistance
            return ohms * i**2 + i * ((1.0 - duty) * p.diode_drop + crossing * v_in)
        coil = greater(v_out / max(v_in, 1.2), 1.0, 0.02) * i
        return coil**2 * (2.0 * p.switch_resistance + p.coil_resistance) + coil * crossing * max(v_in, v_out)

    def passed(self, v_in, v_out, off):
        p = self.p
        if self.kind == "boost":
            shut = off and p.disconnects
            ohms = p.coil_resistance + p.rectifier_resistance + 0.02
            return 0.0 if shut else lift(v_in - p.pass_drop - v_out, 0.02) / ohms
        if self.kind == "buck":
            return -lift(v_out - p.pass_drop - v_in, 0.02) / (0.03 + p.coil_resistance)
        return 0.0

    def command(self, x, supply):
        p = self.p
        asked = x[2] + math.tau * p.bandwidth * p.output_capacitance * (x[3] * p.set_voltage - x[1])
        if supply in ("locked out", "cut off"):
            return asked, 0.0
        awake = min(max((x[0] - 1.2) / 0.5, 0.0), 1.0)
        return asked, awake * held(asked, 0.0, self.reach(x[0], x[1]), 0.003 * p.current_limit)

    def flows(self, v, x, m, s, temp, air):
        p, supply = self.p, m["supply"]
        off = supply in ("locked out", "cut off")
        v_in, v_out = x[0], x[1]
        i_in = (v[0] - v[2] - v_in) / p.input_resistance
        i_out = (v[1] - v[2] - v_out) / p.output_resistance
        asked, given = self.command(x, supply)
        passed = self.passed(v_in, v_out, off)
        own = (p.off_current if off else p.quiescent) * min(max(v_in, 0.0), 1.0)
        lost = p.loss_factor * self.loss(v_in, v_out, given)
        drawn = own + passed + (v_out * given + lost) / max(v_in, 1.2)
        back = p.reverse_drain * v_out / p.set_voltage
        omega = math.tau * p.bandwidth
        error = x[3] * p.set_voltage - v_out
        rates = (
            (i_in - drawn) / p.input_capacitance,
            (given + passed - back + i_out) / p.output_capacitance,
            0.0 if off else omega * (given - asked + 0.25 * omega * p.output_capacitance * error),
            (supply == "starting") / p.soft_start,
        )
        heat = p.input_resistance * i_in**2 + p.output_resistance * i_out**2 + own * v_in
        heat += lost + passed * (v_in - v_out) + back * v_out
        return (i_in, i_out, -i_in - i_out), rates, heat


class Charger(Part):
    """Gives the smallest of what its phase, its hold voltage, its input, its dropout and its temperature leave."""

    states = ("output", "current")

    def __init__(self, p: Any) -> None:
        super().__init__(p)
        free = 100.0 if p.type == 2.0 else 0.0

        def good(v, x, m):
            v_in, v_out = v[0] - v[2], x[0]
            return lesser(v_in - p.lockout_on, v_in - v_out - 0.1 + free, 1e-3)

        def bad(v, x, m):
            v_in, v_out = v[0] - v[2], x[0]
            return greater(p.lockout_off - v_in, v_out - v_in + 0.02 - free, 1e-3)

        def tapers(v, x, m):
            low = p.termination_fraction - x[1] / p.charge_current
            return lesser(low, x[0] / p.hold_voltage - 0.985, 1e-3)

        self.tables = {
            "phase": {
                "charging": [("off", "when", bad), ("tapering", "when", tapers)],
                "off": [("precharge", "when", good)],
                "precharge": [
                    ("off", "when", bad),
                    ("charging", "when", lambda v, x, m: x[0] - p.precharge_below),
                ],
                "tapering": [
                    ("off", "when", bad),
                    ("charging", "when", lambda v, x, m: -tapers(v, x, m) - 0.02),
                    ("full", "after", lambda: p.termination_delay),
                ],
                "full": [
                    ("off", "when", bad),
                    ("charging", "when", lambda v, x, m: p.restart_voltage - x[0]),
                ],
            }
        }

    def start(self):
        return self.p.hold_voltage, 0.0

    def flows(self, v, x, m, s, temp, air):
        p, phase = self.p, m["phase"]
        v_in, v_out = v[0] - v[2], x[0]
        linear, boost = p.type == 0.0, p.type == 2.0
        room = 100.0 if boost else (v_in - p.dropout - v_out) / p.pass_resistance
        awake = held((v_in - 1.2) / 0.5, 0.0, 1.0, 0.1)
        given = awake * lesser(x[1], 0.01 + lift(room, 0.02), 0.01)
        full_rate = p.charge_current
        asked = 0.0
        if phase != "off":
            share, target = 1.0, p.hold_voltage
            if phase == "precharge":
                share = p.precharge_fraction
            elif phase == "full":
                share, target = held(p.float_voltage, 0.0, 1.0, 0.1), p.float_voltage
            w = 0.03 * full_rate
            asked = lesser(share * full_rate, 300.0 * full_rate / p.hold_voltage * (target - v_out), w)
            if p.input_current_limit:
                from_input = p.input_current_limit
                if not linear:
                    from_input *= v_in * p.efficiency / greater(v_out, 1.0, 0.1)
                asked = lesser(asked, from_input, w)
            if p.input_voltage_limit:
                asked = lesser(asked, full_rate * 5.0 * (v_in - p.input_voltage_limit), w)
            if linear:
                asked = lesser(asked, full_rate * 0.2 * (p.foldback_temperature - temp), w)
            asked = lift(lesser(asked, room, w), w)
        own = p.quiescent * min(max(v_in, 0.0), 1.0)
        back = p.reverse_drain * v_out / p.hold_voltage
        if linear:
            drawn, lost = own + given, given * (v_in - v_out)
        else:
            drawn = own + v_out * given / p.efficiency / greater(v_in, 1.0, 0.05)
            lost = v_out * given / p.efficiency - v_out * given
        entering = (v[1] - v[2] - v_out) * 100.0
        heat = lost + own * v_in + back * v_out + entering * entering * 0.01
        rates = ((given + entering - back) / p.output_capacitance, (asked - x[1]) / 5e-4)
        return (drawn, entering, -entering - drawn), rates, heat


class Pack(Part):
    """Even groups and one weak one; each cell an open-circuit curve, a resistance and two slow pairs."""

    states = ("charge", "weak_charge", "fast", "slow", "hysteresis")
    slow = ("charge", "weak_charge", "hysteresis")

    def __init__(self, p: Any) -> None:
        super().__init__(p)
        self.curve = OpenCircuit(tuple(OCV)[int(p.chemistry)])
        self.bodies = p.series * p.parallel

    def start(self):
        return 1.0, 1.0, 0.0, 0.0, 0.0

    def flows(self, v, x, m, s, temp, air):
        p = self.p
        charge, weak_charge, fast, slow, lag = x
        aged = p.growth * math.exp(p.activation_energy * (1.0 / temp - 1.0 / AT_25) / GAS)
        r0 = p.resistance * aged * (1.0 + 25.0 * lift(0.2 - charge, 0.01) ** 2)
        r1, r2 = p.fast_resistance * aged, p.slow_resistance * aged
        worse = 1.0 + p.resistance_spread
        others = p.series - 1.0
        n = p.cells_per_unit
        even_ocv, weak_ocv = n * self.curve(charge), n * self.curve(weak_charge)
        across = v[0] - v[1]
        slower = fast + slow
        inner = others * (even_ocv + lag - slower) + weak_ocv + lag - worse * slower
        ohms = (others + worse) * r0 / p.parallel + p.series * p.joint_resistance
        i = (inner - across) / ohms
        cell = i / p.parallel
        weak = weak_ocv + lag - worse * (slower + cell * r0)
        tap = (v[2] - v[1] - weak) / 1000.0
        full = p.capacity * p.health
        wasted = (1.0 - p.charge_efficiency) * lift(-cell, 1e-3)
        leak = p.self_discharge * full / 2.63e6
        even_loss, weak_loss = wasted + leak * charge, wasted + leak * weak_charge
        swing = math.hypot(cell, 1e-4)
        rates = (
            -(cell + even_loss) / full,
            -(cell + weak_loss) / full / (1.0 - p.capacity_spread),
            (cell - fast / r1) / p.fast_capacitance,
            (cell - slow / r2) / p.slow_capacitance,
            -p.hysteresis_rate * (swing * lag + cell * p.hysteresis) / full,
        )
        pairs = (others + worse) * (fast**2 / r1 + slow**2 / r2)
        heat = ohms * i**2 + p.parallel * (pairs + others * even_ocv * even_loss + weak_ocv * weak_loss)
        heat += tap * (v[2] - v[1]) - p.series * lag * i
        return (-i, i - tap, tap), rates, heat


class Protection(Part):
    """Two switches in the negative leg; an opened one still conducts the other way through its body diode."""

    def __init__(self, p: Any) -> None:
        super().__init__(p)

        def groups(v):
            weak = v[3] - v[0]
            rest = weak if p.series == 1.0 else (v[2] - v[0] - weak) / (p.series - 1.0)
            return weak, rest

        def low(v, x, m):
            return p.cut_off - lesser(*groups(v), 1e-3)

        def high(v, x, m):
            return greater(*groups(v), 1e-3) - p.over_charge

        def recovers(v, x, m):
            back = lesser(*groups(v), 1e-3) - p.cut_off_release
            return lesser(back, v[0] - v[1] - 0.05, 1e-3) if p.release == 0.0 else back

        def across(v):
            return v[1] - v[0]

        def eased(v, x, m):
            return 0.95 * p.sense_voltage - across(v)

        self.tables = {
            "discharge": {
                "on": [
                    ("sagging", "when", low),
                    ("overloaded", "when", lambda v, x, m: across(v) - p.sense_voltage),
                ],
                "sagging": [
                    ("on", "when", lambda v, x, m: -low(v, x, m) - 0.005),
                    ("empty", "after", lambda: p.cut_off_delay),
                ],
                "empty": [("on", "when", recovers)],
                "overloaded": [
                    ("on", "when", eased),
                    ("shorted", "when", lambda v, x, m: across(v) - p.short_voltage),
                    ("tripped", "after", lambda: p.overload_delay),
                ],
                "shorted": [("on", "when", eased), ("tripped", "after", lambda: p.short_delay)],
                "tripped": [("releasing", "when", lambda v, x, m: 0.2 - across(v))],
                "releasing": [
                    ("tripped", "when", lambda v, x, m: across(v) - 0.25),
                    ("on", "after", lambda: p.release_delay),
                ],
            },
            "charge": {
                "on": [("high", "when", high)],
                "high": [
                    ("on", "when", lambda v, x, m: -high(v, x, m) - 0.005),
                    ("full", "after", lambda: p.over_charge_delay),
                ],
                "full": [("on", "when", lambda v, x, m: p.over_charge_release - greater(*groups(v), 1e-3))],
            },
        }

    def flows(self, v, x, m, s, temp, air):
        p = self.p
        u = v[1] - v[0]
        ohms = p.on_resistance * (1.0 + p.tempco * (temp - AT_25))
        opened = m["discharge"] in ("empty", "tripped", "releasing")
        barred = m["charge"] == "full"
        i = 1e-9 * u
        if not opened and not barred:
            i += u / ohms
        elif opened and not barred:
            i -= lift(-u - 0.65, 0.05) / ohms
        elif barred and not opened:
            i += lift(u - 0.65, 0.05) / ohms
        whole = v[2] - v[0]
        own = p.quiescent * min(max(whole, 0.0), 1.0)
        return (-i - own, i, own, 0.0), (), u * i + whole * own


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


OHMIC = ("cable", "wire", "strip", "track", "connector", "resistor", "shunt")
CONVERTERS = ("boost", "buck", "buck-boost", "linear regulator")
OTHERS: dict[str, type[Part]] = {
    "switch": Switch,
    "diode": Diode,
    "ideal diode": IdealDiode,
    "relay": Relay,
    "capacitor": Capacitor,
    "adapter": Adapter,
    "charger": Charger,
    "pack": Pack,
    "protection board": Protection,
    "fuse": Fuse,
    "load": Load,
    "box": Box,
}


def make(kind: str, parameters: dict[str, float]) -> Part:
    """The judge's own model of a part."""
    p = SimpleNamespace(**parameters)
    if kind in OHMIC:
        return Conductor(kind, p)
    if kind in CONVERTERS:
        return Converter(kind, p)
    return OTHERS[kind](p)
