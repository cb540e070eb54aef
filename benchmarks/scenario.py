"""The scenario that is timed: an outage and return of the harbour gauge, from full, with three figures varied."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from tideover.network import Network, load
from tideover.quantity import exact
from tideover.solve import Change, Condition, System, build, native, rest

BUILD = Path(__file__).parents[1] / "examples" / "harbour-gauge" / "build.yaml"
LOSS, RETURN, END = 0.02, 1.0, 3.0
"""Mains off, mains on, end of the march. [s]"""
SEED = 1
SPREAD = {"power": 0.2, "voltage": 0.04, "hold_up": 0.2}
"""Half-widths over which the load's power, the adapter's voltage and its hold-up time are drawn, evenly."""

Cases = dict[tuple[str, str], Any]


@dataclass(frozen=True)
class Cost:
    """Of one piece of work: time on the clock, time of the processor [s], and what it returned."""

    wall: float
    cpu: float
    result: Any


def timed(work: Callable[[], Any]) -> Cost:
    wall, cpu = time.perf_counter(), time.process_time()
    result = work()
    return Cost(time.perf_counter() - wall, time.process_time() - cpu, result)


@contextmanager
def array_code() -> Iterator[None]:
    """Systems built inside run as array code, as they do on a machine without a C compiler."""
    before = os.environ.get("TIDEOVER_NATIVE")
    os.environ["TIDEOVER_NATIVE"] = "0"
    native.compiler.cache_clear()
    try:
        yield
    finally:
        os.environ.pop("TIDEOVER_NATIVE")
        if before is not None:
            os.environ["TIDEOVER_NATIVE"] = before
        native.compiler.cache_clear()


@dataclass(frozen=True)
class Scenario:
    """A network with one adapter, one pack and one load."""

    network: Network

    @classmethod
    def read(cls, path: Path = BUILD) -> Scenario:
        return cls(load(path))

    def named(self, kind: str) -> str:
        return next(p.name for p in self.network.parts if p.kind.name == kind)

    def cases(self, count: int) -> Cases:
        """Values of the varied figures; the first case is nominal."""
        rng = np.random.default_rng(SEED)
        out: Cases = {}
        for kind, name in (("load", "power"), ("adapter", "voltage"), ("adapter", "hold_up")):
            part = self.network.part(self.named(kind))
            factor = 1.0 + SPREAD[name] * rng.uniform(-1.0, 1.0, count)
            factor[0] = 1.0
            out[part.name, name] = part.values[name].nominal * factor
        return out

    def system(self, count: int) -> System:
        return build(self.network, self.cases(count), count)

    def one(self, cases: Cases, k: int) -> Network:
        """The network of a single case, with its values written into it."""
        parts = []
        for part in self.network.parts:
            own = {name: exact(v[k], part.values[name].unit) for (who, name), v in cases.items() if who == part.name}
            parts.append(replace(part, values={**part.values, **own}))
        return replace(self.network, parts=tuple(parts))

    def condition(self) -> Condition:
        pack = self.named("pack")
        return Condition(states={(pack, "charge"): 1.0, (pack, "weak_charge"): 1.0})

    def standing(self, system: System) -> Any:
        return rest(system, self.condition())

    def script(self) -> list[tuple[float, str, str, float]]:
        brick = self.named("adapter")
        return [(LOSS, brick, "mains", 0.0), (RETURN, brick, "mains", 1.0)]

    def changes(self) -> list[Change]:
        return [Change(*c) for c in self.script()]
