"""AC adapter: a regulated output behind a current limit, with a store that outlives mains for some milliseconds.

A regulator feeds the output capacitor; the stated output resistance lies between that capacitor and the plug
(nine tenths) and in the regulator's own slope (one tenth). It sinks nothing: fed from outside, its capacitor
charges and only the stated leakage flows on. When mains is lost the store (rated power times hold-up time) runs
down, then the output capacitor; after mains returns the output waits and rises again. In overload it holds its
current limit, folds it back, or stops and retries.
"""

from __future__ import annotations

from typing import Any

from tideover.laws.smooth import between
from tideover.parts.base import Arc, Flow, Kind, Machine, Parameter, State, stands, warmth, word

STYLES = ("hiccup", "constant current", "foldback")
REFILL = 0.05
"""Time constant with which mains refills the store: a few mains periods. [s]"""


def _regulator(q: Any) -> Any:
    p, x = q.p, q.x
    feeding = q.among("output", "running", "holding", "ramping", "overloaded")
    folded = q.chosen("overload", "foldback")
    limit = p.current_limit * (1.0 - folded * 0.75 * (1.0 - between(x.output / p.voltage, 0.0, 1.0, 0.01)))
    wanted = (p.voltage * x.reference - x.output) / (0.1 * p.output_resistance)
    return feeding * between(wanted, 0.0, limit, 0.01 * p.current_limit)


def equations(q: Any) -> Flow:
    p, x, mains = q.p, q.x, q.s.mains
    u = q.v.plus - q.v.minus
    i_in = (u - x.output) / (0.9 * p.output_resistance)
    i_reg = _regulator(q)
    leak = x.output * p.reverse_leakage / p.voltage
    power = x.output * i_reg
    full = p.voltage * p.rated_current * p.hold_up
    dead = q.among("output", "dead", "starting", "pausing")
    refill = mains * (full - x.store) / REFILL
    bled = (1.0 - mains) * dead * x.store / 0.1
    idle = (1.0 - mains) * (1.0 - dead) * p.no_load_power
    return Flow(
        {"plus": i_in, "minus": -i_in},
        {
            "output": (i_reg + i_in - leak) / p.output_capacitance,
            "store": refill - bled - idle - (1.0 - mains) * power,
            "reference": q.among("output", "ramping") / p.rise_time,
        },
        heat=mains * (power * (1.0 / p.efficiency - 1.0) + p.no_load_power)
        + bled
        + idle
        + leak * x.output
        + i_in * i_in * 0.9 * p.output_resistance,
        supplied=mains * (power / p.efficiency + p.no_load_power) + refill,
        store=x.store + 0.5 * p.output_capacitance * x.output * x.output,
        shown={"current out [A]": -i_in, "regulator current [A]": i_reg},
    )


def _lost(q: Any) -> Any:
    return 0.5 - q.s.mains


def _back(q: Any) -> Any:
    return q.s.mains - 0.5


def _overload(q: Any) -> Any:
    """Only an adapter of the hiccup style counts its overload; the others may stay in it."""
    hiccup = q.chosen("overload", "hiccup")
    return hiccup * (_regulator(q) - 0.97 * q.p.current_limit) - (1.0 - hiccup)


def _relieved(q: Any) -> Any:
    return 0.94 * q.p.current_limit - _regulator(q)


OUTPUT = Machine(
    "output",
    ("running", "holding", "dead", "starting", "ramping", "overloaded", "pausing"),
    (
        Arc("running", "holding", when=_lost),
        Arc("ramping", "holding", when=_lost),
        Arc("overloaded", "holding", when=_lost),
        Arc("holding", "running", when=_back),
        Arc("holding", "dead", when=lambda q: -q.x.store, settles=True, about="the store is empty"),
        Arc("dead", "starting", when=_back),
        Arc("starting", "dead", when=_lost),
        Arc("pausing", "dead", when=_lost),
        Arc("starting", "ramping", after=lambda q: q.p.start_delay),
        Arc("ramping", "running", when=lambda q: q.x.reference - 1.0, settles=True),
        Arc("running", "overloaded", when=_overload),
        Arc("overloaded", "running", when=_relieved),
        Arc("overloaded", "pausing", after=lambda q: q.p.overload_time),
        Arc("pausing", "ramping", after=lambda q: q.p.retry_time, about="tries again"),
    ),
    entry=(("dead", "reference", 0.0), ("pausing", "reference", 0.0), ("running", "reference", 1.0)),
)

ADAPTER = Kind(
    "adapter",
    "certified AC adapter with a fixed DC output",
    ("plus", "minus"),
    ("minus", "plus"),
    (
        Parameter("voltage", "V", 1.0, 60.0, None, "no-load output voltage"),
        Parameter("rated current", "A", 0.05, 50.0, None, "on the label"),
        Parameter("output resistance", "ohm", 1e-3, 10.0, 0.1, "fall of the output with current"),
        Parameter("current limit", "A", 0.05, 100.0, None, "where the overload style begins to act"),
        word("overload", STYLES, "hiccup", "what it does in overload", "typical, unverified"),
        Parameter("hold-up", "s", 1e-4, 1.0, 0.010, "at full load, after mains is lost"),
        Parameter("output capacitance", "F", 1e-6, 0.1, 0.68e-3, "inside, at the output"),
        Parameter("start delay", "s", 1e-3, 20.0, 1.5, "from mains back to first output"),
        Parameter("rise time", "s", 1e-4, 2.0, 0.03, "of the output"),
        Parameter("overload time", "s", 1e-4, 5.0, 0.03, "hiccup: how long it bears an overload"),
        Parameter("retry time", "s", 1e-3, 60.0, 0.5, "hiccup: pause before it tries again"),
        Parameter(
            "reverse leakage", "A", 0.0, 1.0, 1e-3, "drawn from a bus that feeds it, at its own voltage"
        ),
        Parameter("efficiency", "", 0.3, 1.0, 0.85, "at full load"),
        Parameter("no-load power", "W", 0.0, 5.0, 0.1, "from mains"),
        stands(),
        *warmth(8.0, 60.0),
    ),
    equations,
    states=(
        State("output", "V", 1.0, "on the output capacitor", guess="voltage"),
        State("store", "J", 5.0, "left to outlive mains", loose=True),
        State("reference", "", 0.1, "share of the set voltage asked of the regulator", loose=True, start=1.0),
    ),
    machines=(OUTPUT,),
    signals={"mains": 1.0},
    symbol="source",
    source=(("voltage", ""),),
)
