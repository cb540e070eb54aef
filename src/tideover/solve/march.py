"""March a network through time: one method from microseconds to a day, every case on its own clock.

A step is one implicit Runge-Kutta step (see `tideover.solve.method`) whose length follows the error of the states.
Known instants (mains lost, a contact's travel over) are stepped to exactly; guards of discrete states that turn
positive within a step are located by shortening it. At such an instant discrete states change until they agree
with the voltages, and the march starts afresh. A case that fails or ends waits, and changes nothing for the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.solve import arcs as discrete
from tideover.solve import method
from tideover.solve.newton import solve, stage
from tideover.solve.record import Recorder, Waves
from tideover.solve.rest import Inside, weights
from tideover.solve.script import Change, Script, compile_script
from tideover.solve.system import Array, System

RUNNING, ENDED, STOPPED, FAILED = -1, 0, 1, 2
OUTCOMES = ("ended", "stopped", "failed")
SHORTEST = 1e-12
"""A step shorter than this has failed. [s]"""
LOCATE = 2e-8
"""An event is located to this, plus a hundred-millionth of the time gone. [s]"""
NEWTON = 0.05
"""Newton stops when its last change is this share of the accuracy asked for."""
PATIENCE = 3
"""Newton iterations a stage may take; a case that needs more takes a shorter step and keeps nobody waiting, with three
more allowed for every try that failed."""
MOST_PATIENCE = 24
MOST_ROUNDS = 30
"""Rounds of discrete changes at one instant before it is called chatter."""


@dataclass(frozen=True)
class Watch:
    """End a case when a node's voltage falls below a limit, or a machine reaches a state.

    Attributes
    ----------
    node : int
        Node of the network, 0 the return; or -1 for none. [-]
    below : float or array
        The limit. [V]
    machines : tuple of (part, machine, state)
        Any of these ends the case.
    """

    node: int = -1
    below: Any = -np.inf
    machines: tuple[tuple[str, str, str], ...] = ()


@dataclass
class _Now:
    """Everything that belongs to the cases still under way, cases last."""

    cases: NDArray[np.intp]
    t: Array
    h: Array
    V: Array
    X: Array
    M: Any
    S: Array
    rate: Array
    due: Array
    next: NDArray[np.int64]
    guards: Array
    powers: Array
    outcome: NDArray[np.int64]
    below: Array
    slope: Array
    bend: Array
    patience: NDArray[np.int64]

    def take(self, keep: NDArray[np.intp]) -> _Now:
        return replace(self, **{k: np.ascontiguousarray(v[..., keep]) for k, v in self.__dict__.items()})


@dataclass
class _Totals:
    """Energies and counts of all cases."""

    energy: Array
    work: Array
    before: Array
    after: Array
    steps: NDArray[np.int64]
    tries: NDArray[np.int64]
    newton: NDArray[np.int64]


def march(
    system: System,
    start: Inside,
    changes: Sequence[Change] = (),
    until: Any = 1.0,
    accuracy: float = 1e-5,
    watch: Watch | None = None,
    keep: Sequence[int] | None = None,
    most_steps: int = 20000,
    longest: Any = np.inf,
    block: int = 1024,
    patience: int = PATIENCE,
) -> Waves:
    """Integrate every case from its standing point.

    Parameters
    ----------
    system : System
        The network and its parameters. [-]
    start : Inside
        Where to begin, from `rest`, one for each case. [-]
    changes : sequence of Change
        Signals that change at known instants. [-]
    until : float or array, shape (cases,)
        End of the march. [s]
    accuracy : float
        Relative error a step may make; in absolute terms that share of each state's scale. [-]
    watch : Watch, optional
        What ends a case early. [-]
    keep : sequence of int, optional
        Nodes whose voltage is recorded, and nothing else; None records everything. [-]
    most_steps : int
        Steps a case may take. [-]
    longest : float or array
        Longest step. [s]
    block : int
        Cases worked on at once; it bounds memory and changes no result. [-]
    patience : int
        Newton iterations a stage may take before its step is shortened. More pays where everything creeps for days and
        what is left is the feedback of temperature, which Newton's matrix leaves out and which so shrinks by a steady
        factor. [-]

    Returns
    -------
    waves : Waves
        Recorded points, events, outcome and energy ledger of each case. [-]
    """
    script = compile_script(system, changes)
    watch = watch or Watch()
    recorder = Recorder(system, keep)
    count = system.count
    ends = np.broadcast_to(np.asarray(until, dtype=float), (count,))
    limit = np.broadcast_to(np.asarray(longest, dtype=float), (count,))
    below = np.broadcast_to(np.asarray(watch.below, dtype=float), (count,))
    totals = _Totals(
        np.zeros((3, count)),
        np.zeros(count),
        np.zeros(count),
        np.zeros(count),
        np.zeros(count, dtype=np.int64),
        np.zeros(count, dtype=np.int64),
        np.zeros(count, dtype=np.int64),
    )
    outcome = np.full(count, FAILED, dtype=np.int64)
    for first in range(0, count, block):
        cases = np.arange(first, min(count, first + block))
        part = system if len(cases) == count else system.take(cases)
        run = _Run(
            part, script.take(cases), ends[cases], limit[cases], accuracy, watch, recorder, totals, most_steps, patience
        )
        outcome[cases] = run.go(start.take(cases), cases, below[cases])
    return recorder.finish(outcome, totals.__dict__)


class _Run:
    """One block of cases under way."""

    def __init__(
        self,
        system: System,
        script: Script,
        ends: Array,
        longest: Array,
        accuracy: float,
        watch: Watch,
        recorder: Recorder,
        totals: _Totals,
        most_steps: int,
        patience: int,
    ) -> None:
        self.system, self.script, self.ends, self.longest = system, script, ends, longest
        self.accuracy, self.watch, self.recorder, self.totals = accuracy, watch, recorder, totals
        self.most_steps, self.patience = most_steps, patience
        self.arcs = discrete.tabulate(system)
        self.weight = weights(system)
        self.stops = [_machine_row(system, *m) for m in watch.machines]

    def go(self, start: Inside, cases: NDArray[np.intp], below: Array) -> NDArray[np.int64]:
        """Run the block to its end; the outcome of each of its cases."""
        count = len(cases)
        now = _Now(
            np.asarray(cases),
            np.zeros(count),
            np.zeros(count),
            start.V.copy(),
            start.X.copy(),
            start.M.copy(),
            start.S.copy(),
            np.zeros_like(start.X),
            np.full((self.system.nm, count), discrete.NEVER),
            np.zeros(count, dtype=np.int64),
            np.zeros((len(self.arcs.guard_row), count)),
            np.zeros((3, count)),
            np.full(count, RUNNING, dtype=np.int64),
            below,
            np.zeros_like(start.V),
            np.full(count, np.inf),
            np.full(count, self.patience),
        )
        outcome = np.full(count, FAILED, dtype=np.int64)
        self.totals.before[cases] = self.system.store(now.V, now.X, now.M, now.S)
        self._arm(now, np.arange(count), np.ones_like(now.M, dtype=bool))
        self._instant(now, np.arange(count), np.zeros_like(now.guards, dtype=bool))
        first = cases[0]
        while True:
            over = now.outcome != RUNNING
            if over.any() and (over.all() or over.mean() > 0.1):
                self._close(now, np.flatnonzero(over), outcome, first)
                left = np.flatnonzero(~over)
                if not len(left):
                    return outcome
                now = now.take(left)
                self.system = self.system.take(left)
                self.arcs = self.arcs.take(left)
                self.script, self.ends, self.longest = self.script.take(left), self.ends[left], self.longest[left]
            self._step(now)

    def _close(self, now: _Now, over: NDArray[np.intp], outcome: NDArray[np.int64], first: int) -> None:
        sub = self.system.take(over)
        self.totals.after[now.cases[over]] = sub.store(now.V[:, over], now.X[:, over], now.M[:, over], now.S[:, over])
        outcome[now.cases[over] - first] = now.outcome[over]

    def _target(self, now: _Now) -> Array:
        """The next known instant of each case. [s]"""
        target = self.ends.copy()
        if self.script.at.shape[0]:
            waiting = now.next < self.script.at.shape[0]
            k = np.minimum(now.next, self.script.at.shape[0] - 1)
            at = np.take_along_axis(self.script.at, k[None], 0)[0]
            target = np.where(waiting, np.minimum(target, at), target)
        if now.due.shape[0]:
            target = np.minimum(target, now.due.min(axis=0))
        return target

    def _step(self, now: _Now) -> None:
        """Try one step in every case; accept, shorten or locate, each on its own."""
        going = now.outcome == RUNNING
        target = self._target(now)
        h = np.minimum(now.h, self.longest)
        room = target - now.t
        hits = room <= h * (1.0 + 1e-9)
        h = np.where(hits, room, np.where(room < 2.0 * h, 0.5 * room, h))
        h = np.where(going, np.maximum(h, 0.0), 1e-9)
        ok, V2, X2, V3, X3, V4, X4, error, rate, used = self._stages(now, h)
        self.totals.newton[now.cases] += used * going
        self.totals.tries[now.cases] += going
        good = ok & (error <= 1.0) & going
        ends = discrete.look(self.system, V4, X4, now.M, now.S)
        guards, level = self._with_watch(now.below, V4, ends.guards)
        fired = discrete.fired(self.arcs, ends.guards, now.M)
        crossing = self._crossing(now, h, guards, np.vstack([fired, level > 0.0]))
        tolerance = LOCATE + 1e-8 * now.t
        located = crossing <= h
        too_far = good & located & (h - crossing > tolerance)
        accept = good & ~too_far
        grow = np.clip(0.8 * np.maximum(error, 1e-8) ** (-1.0 / method.ORDER), 0.2, 5.0)
        wish = np.where(ok, h * grow, 0.4 * h)
        wish = np.where(accept & hits, np.maximum(wish, now.h), wish)
        wish = np.where(too_far, np.minimum(crossing + 0.5 * tolerance, 0.98 * h), wish)
        now.h = np.where(going, wish, now.h)
        now.patience = np.where(accept, self.patience, np.minimum(now.patience + 3 * ~ok, MOST_PATIENCE))
        if accept.any():
            self._accept(now, accept, h, V2, X2, V3, X3, V4, X4, rate, ends)
        reached = accept & (hits | located)
        if reached.any():
            stopped = accept & (level > 0.0)[0] & located
            now.outcome = np.where(stopped, STOPPED, now.outcome)
            at = np.flatnonzero(reached)
            now.t[accept & hits] = target[accept & hits]
            self._instant(now, at, fired[:, at])
        done = (now.outcome == RUNNING) & accept & (now.t >= self.ends)
        now.outcome = np.where(done, ENDED, now.outcome)
        lost = (now.outcome == RUNNING) & ~accept & (now.h < SHORTEST)
        lost |= (now.outcome == RUNNING) & (self.totals.tries[now.cases] >= self.most_steps)
        now.outcome = np.where(lost, FAILED, now.outcome)

    def _stages(self, now: _Now, h: Array) -> tuple[Any, ...]:
        """The four stages of one step; result, error in units of what is allowed, rate at the end."""
        at = stage(self.system, method.GAMMA * h, 1.0, now.M, now.S)
        x, k1 = now.X, now.rate
        V2, X2 = now.V + method.C2 * h * now.slope, x + method.C2 * h * k1
        base = x + h * method.A2[0] * k1
        gh = method.GAMMA * h
        close = NEWTON * self.accuracy
        ok2, n2 = solve(self.system, at, V2, X2, base, self.weight, close, now.patience, now.bend)
        safe = np.where(gh > 0.0, gh, 1.0)
        k2 = (X2 - base) / safe
        V3 = now.V + (V2 - now.V) / method.C2
        base = x + h * (method.A3[0] * k1 + method.A3[1] * k2)
        X3 = base + gh * k2
        ok3, n3 = solve(self.system, at, V3, X3, base, self.weight, close, now.patience, now.bend)
        k3 = (X3 - base) / safe
        V4, base = V3.copy(), x + h * (method.A4[0] * k1 + method.A4[1] * k2 + method.A4[2] * k3)
        X4 = base + gh * k3
        ok4, n4 = solve(self.system, at, V4, X4, base, self.weight, close, now.patience, now.bend)
        k4 = (X4 - base) / safe
        allowed = self.accuracy * (self.weight + np.maximum(np.abs(X4), np.abs(x)))
        with np.errstate(invalid="ignore"):
            error = np.abs((X4 - X3) / allowed).max(axis=0) if x.shape[0] else np.zeros(len(h))
        ok = ok2 & ok3 & ok4 & np.isfinite(error)
        return ok, V2, X2, V3, X3, V4, X4, np.where(ok, error, 2.0), k4, n2 + n3 + n4

    def _with_watch(self, below: Array, V: Array, guards: Array) -> tuple[Array, Array]:
        level = np.full((1, V.shape[1]), -1.0)
        if self.watch.node > 0:
            level = (below - V[self.watch.node - 1])[None]
        return np.vstack([guards, level]), level

    def _crossing(self, now: _Now, h: Array, guards: Array, fired: NDArray[np.bool_]) -> Array:
        """Earliest instant in the step at which a guard turned positive, by the straight line; inf if none."""
        out = np.full(len(h), np.inf)
        at = np.flatnonzero(fired.any(axis=0))
        if not len(at):
            return out
        before, _ = self._with_watch(now.below[at], now.V[:, at], now.guards[:, at])
        rise = guards[:, at] - before
        share = np.where(rise > 0.0, np.clip(-before / np.where(rise > 0.0, rise, 1.0), 0.0, 1.0), 0.0)
        out[at] = np.where(fired[:, at], share * h[at], np.inf).min(axis=0, initial=np.inf)
        return out

    def _accept(
        self,
        now: _Now,
        accept: NDArray[np.bool_],
        h: Array,
        V2: Array,
        X2: Array,
        V3: Array,
        X3: Array,
        V4: Array,
        X4: Array,
        rate: Array,
        ends: discrete.Ends,
    ) -> None:
        second = self.system.powers(V2, X2, now.M, now.S)
        third = self.system.powers(V3, X3, now.M, now.S)
        b1, b2, b3 = method.A4
        energy = h * (b1 * now.powers + b2 * second + b3 * third + method.GAMMA * ends.powers)
        self.totals.energy[:, now.cases[accept]] += energy[:, accept]
        self.totals.steps[now.cases[accept]] += 1
        now.slope = np.where(accept & (h > 0.0), (V4 - now.V) / np.where(h > 0.0, h, 1.0), now.slope)
        now.t = np.where(accept, now.t + h, now.t)
        now.V = np.where(accept, V4, now.V)
        now.X = np.where(accept, X4, now.X)
        now.rate = np.where(accept & (h > 0.0), rate, now.rate)
        now.guards = np.where(accept, ends.guards, now.guards)
        now.powers = np.where(accept, ends.powers, now.powers)
        self.recorder.add(now, np.flatnonzero(accept))

    def _arm(self, now: _Now, at: NDArray[np.intp], changed: NDArray[np.bool_]) -> None:
        """Set the timers of machines that have just entered a state."""
        arcs = self.arcs
        due = now.due[:, at]
        due[changed] = discrete.NEVER
        delays = arcs.delays if arcs.delays.shape[1] == 1 else arcs.delays[:, at]
        for k, row in enumerate(arcs.timer_row):
            sets = changed[row] & (now.M[row, at] == arcs.timer_source[k])
            due[row] = np.where(sets, now.t[at] + delays[k], due[row])
        now.due[:, at] = due

    def _instant(self, now: _Now, at: NDArray[np.intp], fired: NDArray[np.bool_]) -> None:
        """Let signals and discrete states change until they agree with the voltages, time standing still."""
        sub, arcs = self.system.take(at), self.arcs.take(at)
        stored = sub.store(now.V[:, at], now.X[:, at], now.M[:, at], now.S[:, at])
        self._signals(now, at)
        for _ in range(MOST_ROUNDS):
            before = now.M[:, at].copy()
            M = before.copy()
            for k, row in enumerate(arcs.timer_row):
                due = (now.due[row, at] <= now.t[at]) & (before[row] == arcs.timer_source[k])
                M[row] = np.where(due, arcs.timer_target[k], M[row])
            M = discrete.follow(arcs, fired & (M[arcs.guard_row] == before[arcs.guard_row]), M)
            now.M[:, at] = M
            self._arm(now, at, before != M)
            V, X = now.V[:, at], now.X[:, at]
            arcs.enter(before, M, X)
            now.X[:, at] = X
            S = now.S[:, at]
            ok, _ = solve(sub, stage(sub, np.zeros(len(at)), 1.0, M, S), V, X, X.copy(), self.weight, 1e-7, 60)
            now.V[:, at] = V
            ends = discrete.look(sub, V, X, M, S)
            now.guards[:, at], now.powers[:, at] = ends.guards, ends.powers
            fired = discrete.fired(arcs, ends.guards, M) & ok
            if not fired.any():
                break
        else:
            now.outcome[at[fired.any(axis=0)]] = FAILED
        now.outcome[at[~ok]] = FAILED
        V, X, M, S = now.V[:, at], now.X[:, at], now.M[:, at], now.S[:, at]
        self.totals.work[now.cases[at]] += sub.store(V, X, M, S) - stored
        now.rate[:, at] = sub.rates(V, X, M, S)
        now.h[at] = np.minimum(self._first(X, now.rate[:, at]), np.maximum(now.h[at], 1e-6))
        now.slope[:, at], now.bend[at] = 0.0, np.inf
        for row, code in self.stops:
            now.outcome[at] = np.where((M[row] == code) & (now.outcome[at] == RUNNING), STOPPED, now.outcome[at])
        self.recorder.add(now, at)

    def _signals(self, now: _Now, at: NDArray[np.intp]) -> None:
        changes = self.script.at.shape[0]
        for _ in range(changes):
            k = np.minimum(now.next[at], changes - 1)
            due = (now.next[at] < changes) & (self.script.at[k, at] <= now.t[at])
            if not due.any():
                return
            hit, which = at[due], k[due]
            now.S[self.script.row[which, hit], hit] = self.script.value[which, hit]
            now.next[hit] += 1

    def _first(self, X: Array, rate: Array) -> Array:
        """A first step that moves no state by more than a small share of its scale. [s]"""
        allowed = 30.0 * self.accuracy * (self.weight + np.abs(X))
        with np.errstate(divide="ignore", over="ignore"):
            h = np.min(allowed / np.maximum(np.abs(rate), 1e-300), axis=0, initial=1.0)
        out: Array = np.clip(h, 1e-9, 1e-3)
        return out


def _machine_row(system: System, part: str, machine: str, state: str) -> tuple[int, int]:
    for g in system.layout:
        for j, m in enumerate(g.kind.machines):
            for k, member in enumerate(g.members):
                if (system.network.parts[member].name, m.name) == (part, machine):
                    return g.m0 + j * g.n + k, m.states.index(state)
    raise KeyError(f"{part}: {machine} {state}")
