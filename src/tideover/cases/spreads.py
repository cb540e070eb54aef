"""Which figures of a build may differ from what is written, and how far."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from tideover.network import Network, Placed
from tideover.quantity import Quantity, show

TOGETHER: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("boost", ("lockout_off", "lockout_on")),
    ("buck", ("lockout_off", "lockout_on")),
    ("buck-boost", ("lockout_off", "lockout_on")),
    ("linear regulator", ("lockout_off", "lockout_on")),
    ("charger", ("lockout_off", "lockout_on")),
    ("charger", ("hold_voltage", "float_voltage", "restart_voltage")),
    ("protection board", ("cut_off", "cut_off_release")),
    ("protection board", ("over_charge", "over_charge_release")),
    ("load", ("resets_below", "restarts_above")),
)
"""Thresholds that one reference inside the part sets: they move by the same share of their spreads, since drawn
apart they could contradict each other (a lockout that ends below where it begins)."""


@dataclass(frozen=True)
class Spread:
    """One figure that may lie anywhere from `low` to `high`.

    Attributes
    ----------
    part, name : str
        Part and Python name of the parameter.
    nominal, low, high : float
        In SI.
    unit : str
        SI unit.
    partners : tuple of Spread
        Figures of the same part that move with it, by the same share of their own spreads.
    """

    part: str
    name: str
    nominal: float
    low: float
    high: float
    unit: str = ""
    partners: tuple[Spread, ...] = ()

    @property
    def all(self) -> Iterator[Spread]:
        """Itself and its partners."""
        yield self
        yield from self.partners

    def at(self, sign: float) -> float:
        """Value at a sign: -1 is low, 0 nominal, 1 high, straight lines between. [SI]"""
        return self.nominal + sign * (self.high - self.nominal if sign > 0.0 else self.nominal - self.low)

    def said(self, sign: float) -> str:
        """In words where it sits: ``hold-up capacitance -20 %``; absolute where a share means nothing.

        Examples
        --------
        >>> Spread("hold-up", "capacitance", 4.7e-3, 3.76e-3, 5.64e-3, "F").said(-1)
        'hold-up capacitance -20 %'
        """
        value, what = self.at(sign), f"{self.part} {self.name.replace('_', ' ')}"
        if self.unit == "K":
            return f"{what.removeprefix('box ')} {show(value, 'K')}"
        if self.nominal == 0.0:
            return f"{what} {show(value, self.unit)}"
        percent = 100.0 * (value / self.nominal - 1.0)
        if not percent:
            return what
        return f"{what} {percent:+.0f} %" if abs(percent) >= 10.0 else f"{what} {percent:+.2g} %"


def spreads(network: Network) -> tuple[Spread, ...]:
    """Every parameter whose low and high limits differ, in the order of the file.

    Parameters
    ----------
    network : Network
        As loaded. [-]

    Returns
    -------
    spreads : tuple of Spread
        One for each direction in which the build can move; figures that move together are one. [-]
    """
    return tuple(spread for part in network.parts for spread in _of(part))


def _of(part: Placed) -> Iterator[Spread]:
    own: dict[str, Spread] = {}
    for p in part.kind.parameters:
        value = part.values.get(p.name)
        if isinstance(value, Quantity) and value.low < value.high:
            own[p.name] = Spread(part.name, p.name, value.nominal, value.low, value.high, value.unit)
    led: dict[str, tuple[Spread, ...]] = {}
    for kind, names in TOGETHER:
        moving = [own[n] for n in names if n in own]
        if kind == part.kind.name and moving:
            fixed = (n for n in names if n not in own)
            led[moving[0].name] = (*moving[1:], *_carried(part, moving[0], fixed))
    following = {s.name for partners in led.values() for s in partners}
    for name, spread in own.items():
        if name not in following:
            yield Spread(part.name, name, spread.nominal, spread.low, spread.high, spread.unit, led.get(name, ()))


def _carried(part: Placed, leader: Spread, names: Iterable[str]) -> Iterator[Spread]:
    """A threshold stated without a spread beside one with a spread: the gap between the two is kept."""
    for name in names:
        value = part.values.get(name)
        if isinstance(value, Quantity) and value.nominal > 0.0 < leader.nominal:
            v = value.nominal
            low, high = v + leader.low - leader.nominal, v + leader.high - leader.nominal
            yield Spread(part.name, name, v, low, high, value.unit)
