"""Parts that give or steer power: adapter, converters, charger, pack and its protection board."""

from __future__ import annotations

import math
from typing import Any

from tideover.laws.cells import OCV
from tideover.laws.constants import GAS

from .bench import AT_25, Part, Through, greater, held, lesser, lift


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
            there = lesser(v_in - p.lockout_on, v_in - v_out - 0.1 + free, 1e-3)
            return there if p.starts_above == 0.0 else lesser(there, v_out - p.starts_above, 1e-3)

        def bad(v, x, m):
            v_in, v_out = v[0] - v[2], x[0]
            return greater(p.lockout_off - v_in, v_out - v_in + 0.02 - free, 1e-3)

        def tapers(v, x, m):
            low = p.termination_fraction - x[1] / p.charge_current if p.termination_fraction > 0.0 else -1.0
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

    def __init__(self, p: Any, own: Any = None) -> None:
        super().__init__(p)
        self.curve = Through.typical(tuple(OCV)[int(p.chemistry)])
        self.ohmic: Any = lambda s: 1.0 + 25.0 * lift(0.2 - s, 0.01) ** 2
        self.lagging: Any = lambda s: 1.0
        if own is not None:  # a table of the cells that are meant: volts, and both resistances over the stated
            self.curve = Through(own.knots, own.volts, own.steep)
            self.ohmic, self.lagging = Through(own.knots, own.ohmic_shape), Through(own.knots, own.lag_shape)
        self.bodies = p.series * p.parallel

    def start(self):
        return 1.0, 1.0, 0.0, 0.0, 0.0

    def flows(self, v, x, m, s, temp, air):
        p = self.p
        charge, weak_charge, fast, slow, lag = x
        aged = p.growth * math.exp(p.activation_energy * (1.0 / temp - 1.0 / AT_25) / GAS)
        r0 = p.resistance * aged * self.ohmic(charge)
        lasting = aged * self.lagging(charge)
        r1, r2 = p.fast_resistance * lasting, p.slow_resistance * lasting
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
                    (
                        "overloaded",
                        "when",
                        lambda v, x, m: across(v) - p.sense_voltage - 100.0 * (m["charge"] == "full"),
                    ),
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
                "shorted": [
                    ("overloaded", "when", lambda v, x, m: 0.95 * p.short_voltage - across(v)),
                    ("tripped", "after", lambda: p.short_delay),
                ],
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
                "full": [
                    ("on", "when", lambda v, x, m: p.over_charge_release - greater(*groups(v), 1e-3)),
                    ("on", "when", lambda v, x, m: lesser(across(v) - 0.4, -high(v, x, m), 1e-3)),
                ],
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
