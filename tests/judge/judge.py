"""A network run by a general-purpose differential-algebraic solver (IDA, variable order up to 5) at tight tolerance.

Every unknown of the network stands in one vector: node voltages and the air as algebraic variables, all states and
temperatures as differential ones. Whatever switches ends the run; discrete states then change by the judge's own
tables, the algebraic variables are found anew by Newton's method, and IDA starts afresh.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from sksundae.ida import IDA

from .equations import Part, make

TIGHT = 1e-9
MOST_EVENTS = 300
EDGE = 1e-12
"""A guard must turn positive by this much: one that rests at nothing has not turned."""
FOREVER = 1e7
"""How long a circuit is left alone to come to rest. [s]"""


def allowed(volts: Any) -> Any:
    """By how much a voltage of the engine may differ: 1 mV, or 0.1 % if larger. [V]"""
    return np.maximum(1e-3, 1e-3 * np.abs(volts))


class NoAnswer(Exception):
    """The judge could not finish: it says why, and is not counted as agreement."""


@dataclass
class Placed:
    """One part: its nodes, where its states and its temperature stand in the vector, and what it is doing."""

    name: str
    kind: str
    model: Part
    nodes: tuple[int, ...]
    first: int
    heat: int
    doing: dict[str, Any]
    p: dict[str, float]


@dataclass
class Track:
    """What the judge saw: node voltages at the instants asked for, and every change of a discrete state."""

    t: list[float] = field(default_factory=list)
    v: list[Any] = field(default_factory=list)
    slope: list[Any] = field(default_factory=list)
    events: list[tuple[float, str, str, str, float]] = field(default_factory=list)
    """(instant, part, machine, state entered, how long no voltage moves by more than what is allowed)."""
    evaluations: int = 0

    def note(self, t: float, part: str, machine: str, state: str, calm: float) -> None:
        """Keep a change; of several at one instant only where they lead to."""
        same = [e for e in self.events if e[0] == t and e[1:3] == (part, machine)]
        self.events = [e for e in self.events if e not in same] + [(t, part, machine, state, calm)]


class Circuit:
    """A network in the judge's own equations."""

    def __init__(self, network: Any, ambient: float) -> None:
        self.nodes = len(network.nodes)
        self.air = self.nodes
        self.room = ambient
        at = self.nodes + 1
        self.parts: list[Placed] = []
        start = [0.0] * self.nodes + [ambient]
        held: list[int] = []
        for part in network.parts:
            p = {q.name: _number(part, q) for q in part.kind.parameters}
            model = make(part.kind.name, p, part.curve)
            values = model.start()
            if part.kind.name == "box":
                values = (ambient,)
                p["ambient"] = ambient
                model = make("box", p)
            heat = at + len(values) if model.warm else -1
            held += [at + k for k, s in enumerate(model.states) if s in model.slow] + ([heat] if model.warm else [])
            doing = {m: next(iter(table)) for m, table in model.tables.items()}
            doing |= dict(part.kind.signals)
            nodes = tuple(part.nodes) if part.kind.name != "box" else ()
            self.parts.append(Placed(part.name, part.kind.name, model, nodes, at, heat, doing, p))
            start += [*values, *([ambient] if model.warm else [])]
            at += len(values) + model.warm
        self.size = at
        self.y = np.array(start)
        self.algebraic = np.arange(self.nodes + 1)
        self.held = held
        self.still = True

    def part(self, name: str) -> Placed:
        return next(q for q in self.parts if q.name == name)

    def set(self, part: str, state: str, value: float) -> None:
        q = self.part(part)
        self.y[q.first + q.model.states.index(state)] = value

    def residual(self, t: float, y: Any, yp: Any, res: Any) -> None:
        """Kirchhoff's law at every node, balance of the air, and rate less derivative of every state."""
        z = y.tolist()
        out = [0.0] * self.size
        air = z[self.air]
        out[0] = z[0]
        for k in range(1, self.nodes):
            out[k] = 1e-11 * z[k]
        balance = 0.0
        for q in self.parts:
            model, first = q.model, q.first
            n = len(model.states)
            temp = z[q.heat] if q.heat >= 0 else air
            currents, rates, heat = model.flows(
                [z[k] for k in q.nodes], z[first : first + n], q.doing, q.doing, temp, air
            )
            out[first : first + n] = rates
            if q.kind == "box":
                balance += currents[0]
            else:
                for node, i in zip(q.nodes, currents):
                    if node:
                        out[node] += i
            if q.heat >= 0:
                outdoors = q.p.get("stands", 1.0) == 0.0
                given = (temp - (self.room if outdoors else air)) / q.p["thermal_resistance"] * model.bodies
                balance -= 0.0 if outdoors else given
                out[q.heat] = (heat - given) / (q.p["heat_capacity"] * model.bodies)
        out[self.air] = balance
        if self.still:
            for k in self.held:
                out[k] = 0.0
        res[:] = out
        res[self.nodes + 1 :] -= yp[self.nodes + 1 :]

    def settle_voltages(self) -> None:
        """Newton's method for the algebraic variables, the states given."""
        n = self.nodes + 1
        none = np.zeros(self.size)

        def left(y: Any) -> Any:
            res = np.empty(self.size)
            self.residual(0.0, y, none, res)
            return res[:n]

        y = self.y.copy()
        res = left(y)
        for _ in range(300):
            matrix = np.empty((n, n))
            for k in range(n):
                by = 1e-8 * max(1.0, abs(y[k]))
                z = y.copy()
                z[k] += by
                matrix[:, k] = (left(z) - res) / by
            change = np.linalg.solve(matrix, -res)
            size = np.abs(change).max()
            share = min(1.0, 2.0 / max(size, 1e-30))
            for _ in range(12):
                z = y.copy()
                z[:n] += share * change
                moved = left(z)
                if size < 1e-9 or np.abs(moved).max() < np.abs(res).max():
                    break
                share *= 0.5
            y, res = z, moved
            if size < 1e-11:
                break
        if size > 1e-7:
            raise NoAnswer("the voltages at an instant were not found")
        self.y = y

    def ways(self) -> list[tuple[Placed, str, str, Any]]:
        """Guarded ways out of the present discrete states, those of one machine in the order of its table."""
        return [
            (q, machine, target, test)
            for q in self.parts
            for machine, table in q.model.tables.items()
            for target, how, test in table[q.doing[machine]]
            if how == "when"
        ]

    @staticmethod
    def guard(way: tuple[Placed, str, str, Any], z: Any) -> float:
        q, _, _, test = way
        n = len(q.model.states)
        return float(test([z[k] for k in q.nodes], z[q.first : q.first + n], q.doing))

    def enter(self, q: Placed, machine: str, target: str) -> None:
        q.doing[machine] = target
        for state, value in q.model.entering.get((machine, target), {}).items():
            self.y[q.first + q.model.states.index(state)] = value


def _number(part: Any, parameter: Any) -> float:
    value = part.values[parameter.name]
    if isinstance(value, str):
        return float(parameter.choices.index(value))
    return float(getattr(value, "nominal", value))

CLOSE = 1e-12
"""Two instants nearer than this are one: IDA does not start between them. [s]"""


class Run:
    """One passage of time, piece by piece between the instants at which something switches."""

    def __init__(self, circuit: Circuit, script: list[tuple[float, str, str, float]], until: float, times: Any) -> None:
        self.circuit, self.until = circuit, until
        self.script = sorted(script)
        self.times = np.asarray(times, dtype=float)
        self.track = Track()
        self.t = 0.0
        self.calm = 0.0
        self.due: dict[tuple[str, str], float] = {}
        for q in circuit.parts:
            for machine in q.model.tables:
                self.arm(q, machine)

    def arm(self, q: Placed, machine: str) -> None:
        self.due.pop((q.name, machine), None)
        for _, how, delay in q.model.tables[machine][q.doing[machine]]:
            if how == "after":
                self.due[q.name, machine] = self.t + delay()

    def go(self) -> Track:
        hit: list[Any] = []
        while True:
            self.instant(hit)
            if self.t >= self.until:
                return self.track
            hit = self.piece(min([self.until, *self.due.values(), *(s[0] for s in self.script[:1])]))

    def instant(self, hit: list[Any]) -> None:
        """Signals, timers and guards change the discrete states until nothing more is due."""
        circuit = self.circuit
        while self.script and self.script[0][0] <= self.t:
            _, part, signal, value = self.script.pop(0)
            circuit.part(part).doing[signal] = value
        for _ in range(50):
            taken: dict[tuple[str, str], str] = {}
            for q in circuit.parts:
                for machine, table in q.model.tables.items():
                    if self.due.get((q.name, machine), np.inf) <= self.t:
                        taken[q.name, machine] = next(w[0] for w in table[q.doing[machine]] if w[1] == "after")
            for q, machine, target, _ in hit:
                taken.setdefault((q.name, machine), target)
            for (name, machine), target in taken.items():
                q = circuit.part(name)
                circuit.enter(q, machine, target)
                self.track.note(self.t, name, machine, target, self.calm)
                self.arm(q, machine)
            circuit.settle_voltages()
            z = circuit.y.tolist()
            hit = [way for way in circuit.ways() if circuit.guard(way, z) > 0.0]
            if not hit:
                break
        else:
            raise NoAnswer(f"discrete states alternate at {self.t:.6f} s")
        if len(self.track.events) > MOST_EVENTS:
            raise NoAnswer(f"more than {MOST_EVENTS} events by {self.t:.3f} s")

    def piece(self, end: float) -> list[Any]:
        """Run to a known instant or to the first guard that turns positive; the ways that did."""
        circuit = self.circuit
        ways = circuit.ways()

        def events(t: float, y: Any, yp: Any, out: Any) -> None:
            z = y.tolist()
            out[:] = [circuit.guard(way, z) - EDGE for way in ways]

        events.terminal = [True] * len(ways)  # type: ignore[attr-defined]
        events.direction = [1] * len(ways)  # type: ignore[attr-defined]
        rates = np.empty(circuit.size)
        circuit.residual(self.t, circuit.y, np.zeros(circuit.size), rates)
        rates[: circuit.nodes + 1] = 0.0
        solver = IDA(
            circuit.residual,
            eventsfn=events if ways else None,
            num_events=len(ways),
            algebraic_idx=circuit.algebraic,
            rtol=TIGHT,
            atol=TIGHT,
            max_num_steps=200000,
            max_conv_fails=100,
            first_step=1e-9,
        )
        close = CLOSE * max(1.0, end)
        if end - self.t <= close:
            self.t = end
            return []
        inside = self.times[(self.times > self.t + close) & (self.times < end - close)]
        span = np.array([self.t, *inside, end])
        if len(span) == 2:
            span = np.array([self.t, 0.5 * (self.t + end), end])
        found = solver.solve(span, circuit.y, rates)
        if not found.success:
            raise NoAnswer(f"IDA stopped at {found.t[-1]:.6f} s: {found.message}")
        hit = []
        t = np.asarray(found.t)
        if found.i_events is not None and len(found.i_events) and t[-1] < end:
            flags = np.atleast_2d(found.i_events)[-1]
            hit = [way for way, flag in zip(ways, flags) if flag > 0]
        asked = np.isin(t, inside)
        self.track.t += t[asked].tolist()
        self.track.v += list(np.asarray(found.y)[asked, : circuit.nodes])
        self.track.slope += list(np.asarray(found.yp)[asked, : circuit.nodes])
        self.track.evaluations += int(found.nfev)
        circuit.y = np.array(found.y[-1])
        speed = np.abs(np.asarray(found.yp[-1])[: circuit.nodes])
        self.calm = float((allowed(circuit.y[: circuit.nodes]) / np.maximum(speed, 1e-12)).min())
        self.t = float(t[-1]) if hit else end
        return hit


def stand(network: Any, charge: float, weak_charge: float, ambient: float) -> Circuit:
    """The circuit at rest: everything starts as the models say it does and is left alone, charge and heat held."""
    circuit = Circuit(network, ambient)
    for q in circuit.parts:
        if q.kind == "pack":
            circuit.set(q.name, "charge", charge)
            circuit.set(q.name, "weak_charge", weak_charge)
    highest = max([q.model.start()[0] for q in circuit.parts if q.kind == "adapter"], default=12.0)
    for q in circuit.parts:
        if q.kind == "capacitor":
            circuit.set(q.name, "charge_voltage", highest)
        if q.kind in ("boost", "buck", "buck-boost", "linear regulator"):
            circuit.set(q.name, "input", highest)
    Run(circuit, [], FOREVER, []).go()
    return circuit


def outage(circuit: Circuit, script: list[tuple[float, str, str, float]], until: float, times: Any) -> Track:
    """From rest through whatever happens outside; charge and heat move now."""
    circuit.still = False
    return Run(circuit, script, until, times).go()
