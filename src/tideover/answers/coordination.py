"""Ten rules of the order in which fuse, board, wire and converter act: each from plain numbers to a verdict.

They are the trade's; the figures in them stand here once, each with its reason.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tideover.answers.allowed import Allowance
from tideover.answers.base import FAILS, HOLDS, OPEN, TIGHT
from tideover.answers.limits import TYPICAL, Rule
from tideover.laws.fuses import FAMILIES, Family, opening_time, pulse_allowance

DELIVERS = Rule(
    3.0, "", "times its rating that the source must deliver for a fuse to open fast", "ECSS-Q-ST-30-11C, 6.17.3"
)
FAST = Rule(0.3, "s", "opening within which a short circuit counts as cleared fast", TYPICAL)
FAST_BLADE = Rule(5.0, "", "times its rating at which a blade fuse opens fast", TYPICAL)
FAST_TUBE = Rule(10.0, "", "times its rating at which a 5 by 20 mm fuse opens fast", TYPICAL)
SELECTIVE = Rule(0.75, "", "share of the upper fuse's melting integral that the lower one may let through", TYPICAL)
CLEARING = Rule(3.0, "", "clearing over melting integral on direct current, 1 to 3", TYPICAL)
ADIABATIC = Rule(5.0, "s", "within which no heat leaves a conductor", "IEC 60364-4-43 as recalled: typical, unverified")
PULSES = Rule(1e4, "", "switch-ons and changeovers in a life: three a day for nine years")
CONTACT_SHORT = Rule(
    3.6,
    "s",
    "let-through of a contact over its squared rating: six times its rating for 0.1 s, as for vehicles",
    TYPICAL,
)
MAKES = Rule(3.0, "", "times its rating that a contact may make into a capacitor; 2 to 3", TYPICAL)
TRIP_TIGHT = Rule(1.25, "", "trip over peak current below which one more tolerance matters")

GATES: dict[str, str] = {"time-lag 5x20": "time-lag, low breaking", "quick 5x20": "quick", "blade": "blade"}
"""Family of a fuse in a build file to its gates."""


@dataclass(frozen=True)
class Verdict:
    """What a rule says. In SI; the margin is positive while it holds."""

    status: str
    value: float | None
    limit: float | None
    unit: str

    @property
    def margin(self) -> float | None:
        """Limit less value, or the other way round where the limit is a least one."""
        return None if self.value is None or self.limit is None else self.limit - self.value


@dataclass(frozen=True)
class AtLeast(Verdict):
    """A verdict whose limit is a least value."""

    @property
    def margin(self) -> float | None:
        """Value less limit."""
        return None if self.value is None or self.limit is None else self.value - self.limit


def gates_of(family: str) -> Family:
    """Gates of a fuse by its family in a build file."""
    return FAMILIES[GATES[family]]


def carries(load: float, as_drawn: float, peak: float, rating: float, share: float) -> Verdict:
    """1. The load's current stays under the share of the rating that a fuse is planned for, a short peak under it all.

    `rating` is that at the fuse's own temperature, `load` the worst mean current, `as_drawn` the nominal one.
    """
    status = FAILS if as_drawn > rating else TIGHT if load > share * rating or peak > rating else HOLDS
    if load <= share * rating and peak > rating:
        return Verdict(status, peak, rating, "A")
    return Verdict(status, load, share * rating, "A")


def protects(rating: float, allowed: Allowance, held: float = np.inf) -> Verdict:
    """2. A fuse is not rated above what a conductor behind it may carry.

    `held` is the current that an electronic limit in series holds it to; where that is less than the conductor bears,
    only a failure of that limit brings the fuse in.
    """
    if rating <= allowed.current:
        return Verdict(HOLDS, rating, allowed.current, "A")
    return Verdict(FAILS if rating > allowed.breaks and held > allowed.current else TIGHT, rating, allowed.current, "A")


def lets_through(i: float, rating: float, melting: float, family: Family) -> float:
    """Integral of the squared current until a fuse has cleared, at its latest; infinite if it takes long. [A^2 s]"""
    latest = float(opening_time(i, rating, family.gates).t_max)
    gate = i * i * latest if latest <= ADIABATIC.value else np.inf
    past = i > family.gates[-1].multiple * rating
    return CLEARING.value * melting if past else max(gate, CLEARING.value * melting)


def survives(let: float, bears: float, spared: bool) -> Verdict:
    """3. What a fuse lets through is less than the thinnest conductor survives; `spared` if a board acts before."""
    return Verdict(HOLDS if let <= bears else TIGHT if spared else FAILS, let, bears, "A^2 s")


def opens_fast(i: float, rating: float, family: str, boarded: bool) -> Verdict:
    """4. The smallest short-circuit current is enough times the rating; if not, the fuse must open within seconds.

    `boarded` says that a board in series trips at that current: the fuse is then only for its failure.
    """
    fast = FAST_BLADE.value if family == "blade" else FAST_TUBE.value
    if i >= fast * rating:
        return AtLeast(HOLDS, i, fast * rating, "A")
    latest = float(opening_time(i, rating, gates_of(family).gates).t_max)
    if np.isinf(latest):
        return Verdict(TIGHT if boarded else FAILS, None, ADIABATIC.value, "s")
    return Verdict(HOLDS if latest <= ADIABATIC.value else TIGHT, latest, ADIABATIC.value, "s")


def delivers(i: float, rating: float) -> AtLeast:
    """4. The source delivers at least three times the rating of the fuse."""
    limit = DELIVERS.value * rating
    return AtLeast(HOLDS if i >= limit else TIGHT, i, limit, "A")


def interrupts(i: float, v: float, capacity: float, voltage: float) -> tuple[AtLeast, AtLeast]:
    """5. Breaking capacity and voltage rating on direct current; 0 means that nobody stated them."""
    current = AtLeast(OPEN if not capacity else HOLDS if capacity >= i else FAILS, capacity or None, i, "A")
    volts = AtLeast(OPEN if not voltage else HOLDS if voltage >= v else FAILS, voltage or None, v, "V")
    return current, volts


def selective(melting_up: float, melting_down: float) -> Verdict:
    """6. Of two fuses in series the lower one has cleared before the upper one begins to melt."""
    total, limit = CLEARING.value * melting_down, SELECTIVE.value * melting_up
    return Verdict(HOLDS if total <= limit else TIGHT, total, limit, "A^2 s")


def board_first(i: float, melting: float, delay: float) -> AtLeast:
    """7. In a short circuit the board has opened before the fuse melts: the fuse is for the board's failure."""
    melts = melting / (i * i)
    return AtLeast(HOLDS if melts >= delay else TIGHT, melts, delay, "s")


def overload_first(trip: float, rating: float, delay: float, family: Family) -> AtLeast:
    """7. In an overload too, at the highest current that the board may take for one."""
    earliest = float(opening_time(trip, rating, family.gates).t_min)
    told = None if np.isinf(earliest) else earliest
    return AtLeast(HOLDS if earliest >= delay else TIGHT, told, delay, "s")


def limit_spares(limit: float, allowed: Allowance) -> Verdict:
    """7. What an adapter or converter gives at its limit, while a fault lasts, does not overload what lies behind."""
    return Verdict(HOLDS if limit <= allowed.breaks else TIGHT, limit, allowed.breaks, "A")


def limit_before_fuse(limit: float, rating: float, family: Family) -> Verdict:
    """7. A converter at its limit draws no more than the fuse before it carries for long."""
    carried = family.gates[0].multiple * rating
    return Verdict(HOLDS if limit <= carried else TIGHT, limit, carried, "A")


def inrush(v: float, ohms: float, farads: float) -> float:
    """Integral of the squared current that charges a capacitor through a resistance, ``I_pk^2 R C / 2``. [A^2 s]"""
    return v * v * farads / (2.0 * ohms)


def bears_inrush(i2t: float, melting: float, pulses: float = PULSES.value) -> Verdict:
    """8. The inrush is less than the share of the melting integral that so many pulses may have."""
    limit = float(pulse_allowance(pulses)) * melting
    return Verdict(HOLDS if i2t <= limit else FAILS if i2t > melting else TIGHT, i2t, limit, "A^2 s")


def contact_bears(let: float, rating: float) -> Verdict:
    """9. What fuse or board let through does not weld a contact on its way."""
    limit = CONTACT_SHORT.value * rating * rating
    return Verdict(HOLDS if let <= limit else TIGHT, let, limit, "A^2 s")


def contact_makes(peak: float, rating: float) -> Verdict:
    """9. The current that a contact makes into a capacitor."""
    limit = MAKES.value * rating
    return Verdict(HOLDS if peak <= limit else TIGHT, peak, limit, "A")


def trips_late(trip_low: float, trip: float, peak_high: float, peak: float) -> AtLeast:
    """10. A board trips above the peak of what the converter draws at its lockout and while it starts."""
    status = FAILS if trip < peak else TIGHT if trip_low < peak_high or trip < TRIP_TIGHT.value * peak else HOLDS
    return AtLeast(status, trip_low, peak_high, "A")
