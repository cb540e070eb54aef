"""A day in the warmest room: warm and full on mains, mains lost, a run to the end, mains back, the recharge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tideover.answers import states
from tideover.answers.runs import ACCURACY, longest_run
from tideover.answers.soaks import Soaked
from tideover.cases import Batch, written
from tideover.network import Network, Placed
from tideover.solve import Change, Inside, Readings, Watch, Waves, along, build, march, readings

Array = NDArray[np.float64]
Key = tuple[str, str]
DAY = 86400.0
LOSS = 3600.0
"""Mains is lost after this long. [s]"""
SHORTEST = 60.0
"""A run shorter than this warms nothing: the load was lost at the changeover. [s]"""
TRIES = 700
"""Steps a case may try in each half of the day. A plain run or recharge takes some hundreds; a supply that stops and
retries would never end."""
CHARGES = 0.02
"""Share of its capacity per hour from which on a cell counts as being charged: less than any charger's last current."""
UNFOLDED = "no foldback"
"""Ending of the label of a day with chargers that never fold back."""


@dataclass(frozen=True)
class Day:
    """One case of a day.

    Attributes
    ----------
    t : array, shape (points,)
        Ascending. [s]
    temps : dict
        Part to its temperature, shape (points,); ``box`` is the air in the box. [K]
    charging : bool array, shape (points,)
        Whether the cells are being charged.
    back : float
        When mains came back: the load had stopped. [s]
    full : float
        When a charger ended after that; infinite if not within the day. [s]
    whole : bool
        Whether the march went on to the end of the day.
    """

    label: str
    t: Array
    temps: dict[str, Array]
    charging: NDArray[np.bool_]
    back: float
    full: float
    whole: bool

    def hottest(self, part: str, charging: bool | None = None) -> float:
        """Highest temperature over the day, or only while the cells are or are not charged; NaN if never. [K]"""
        values = self.temps[part]
        if charging is not None:
            values = values[self.charging == charging]
        return float(values.max()) if len(values) else float("nan")


def days(network: Network, batch: Batch, warm: Soaked, starts: NDArray[np.intp]) -> list[Day]:
    """March each case through a day; those that lose the load within a minute of losing mains are left out.

    Parameters
    ----------
    network : Network
        With an adapter and a pack. [-]
    batch : Batch
        B cases, ambient among them. [-]
    warm : Soaked
        Warm points to begin from. [-]
    starts : int array, shape (B,)
        Which of them, flat: one with mains present and the pack full for each case. [-]
    """
    if not batch.count:
        return []
    system = build(network, batch.values, batch.count)
    adapters = states.of_kind(network, "adapter")
    resets = tuple(
        (p.name, "work", "reset")
        for p in states.of_kind(network, "load")
        if written(network, (p.name, "resets_below")) > 0.0
    )
    run = march(
        system,
        warm.inside.take(starts),
        [Change(LOSS, a.name, "mains", 0.0) for a in adapters],
        until=min(LOSS + longest_run(network), DAY),
        accuracy=ACCURACY,
        watch=Watch(network.at, network.need.window[0], resets),
        most_steps=TRIES,
    )
    ends = [run.case(k) for k in range(batch.count)]
    back = np.array([e.t[-1] for e in ends])
    lasted = np.flatnonzero(back > LOSS + SHORTEST)
    if not len(lasted):
        return []
    last = [e.inside for k, e in enumerate(ends) if k in lasted]
    now = Inside(*(np.stack([x[j][:, -1] for x in last if x is not None], axis=1) for j in range(4)))
    rest = march(
        system.take(lasted),
        now,
        [Change(0.0, a.name, "mains", 1.0) for a in adapters],
        until=np.maximum(DAY - back[lasted], 1.0),
        accuracy=ACCURACY,
        most_steps=TRIES,
    )
    return [
        _joined(network, batch.labels[k], (run, rest), (int(k), j), float(back[k])) for j, k in enumerate(lasted)
    ]


def _joined(network: Network, label: str, marches: tuple[Waves, Waves], at: tuple[int, int], back: float) -> Day:
    """Both marches of one case, read at every point."""
    pieces = []
    for waves, k, offset in zip(marches, at, (0.0, back)):
        t, system, inside = along(waves, k)
        pieces.append((t + offset, readings(system, inside), inside.V[-1]))
    t = np.concatenate([p[0] for p in pieces])
    temps = {"box": np.concatenate([p[2] for p in pieces])}
    for part in network.parts:
        if part.kind.warm:
            key = (part.name, "temperature [K]")
            temps[part.name] = np.concatenate([p[1].quantity[key] for p in pieces])
    charging = np.concatenate([_charging(network, p[1], len(p[0])) for p in pieces])
    ended = all(waves.outcome[k] != 2 for waves, k in zip(marches, at))
    return Day(label, t, temps, charging, back, _full(network, *pieces[1][:2]), ended)


def _charging(network: Network, seen: Readings, count: int) -> NDArray[np.bool_]:
    out = np.zeros(count, dtype=bool)
    for pack in states.of_kind(network, "pack"):
        out |= seen.quantity[pack.name, "discharge current [A]"] < -least(network, pack)
    return out


def least(network: Network, pack: Placed) -> float:
    """Current from which on a pack counts as being charged. [A]"""
    return CHARGES * written(network, (pack.name, "capacity")) * written(network, (pack.name, "parallel")) / 3600.0


def _full(network: Network, t: Array, seen: Readings) -> float:
    """When a charger first stands at full, having charged."""
    best = np.inf
    for charger in states.of_kind(network, "charger"):
        phases = np.array(seen.machine[charger.name, "phase"])
        began = np.flatnonzero(phases == "charging")
        ended = np.flatnonzero(phases == "full")
        ended = ended[ended > began[0]] if len(began) else ended[:0]
        best = min(best, float(t[ended[0]])) if len(ended) else best
    return best


def linear_chargers(network: Network) -> tuple[str, ...]:
    """Chargers that burn the difference: they fold back when they are hot."""
    return tuple(
        c.name
        for c in states.of_kind(network, "charger")
        if c.kind.parameter("type").choices[int(written(network, (c.name, "type")))] == "linear"
    )
