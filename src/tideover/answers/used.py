"""One rating of one part against the policy: how much of it is used where it is worst."""

from __future__ import annotations

from dataclasses import dataclass

from tideover.answers.base import FAILS, HOLDS, STATUSES, TIGHT
from tideover.answers.loaded import Loaded, Worst
from tideover.answers.policies import SHARES, reserve
from tideover.answers.rated import Rating
from tideover.network import Placed

GRAVITY = {status: k for k, status in enumerate((HOLDS, TIGHT, FAILS))}
assert set(GRAVITY) < set(STATUSES)


@dataclass(frozen=True)
class Used:
    """What is used of a rating.

    Attributes
    ----------
    rated, limit : float
        The rating, and what the policy leaves of it. [SI]
    worst : Worst
        The reading.
    brief : bool
        Whether it is that of a short peak, which may take the whole rating.
    row : str
        Of the policy.
    source : str
        Where the rating comes from if it is not stated.
    """

    part: Placed
    rating: Rating
    rated: float
    limit: float
    worst: Worst
    status: str
    brief: bool
    row: str
    source: str = ""

    @property
    def margin(self) -> float:
        """Positive while it holds. [SI]"""
        return (self.worst.value - self.limit) * (1.0 if self.rating.low else -1.0)

    @property
    def share(self) -> float:
        """Reading over limit, or the other way round for a lowest value; junctions in degrees Celsius. [-]"""
        if self.rating.nature == "junction":
            return (self.worst.value - 273.15) / max(self.limit - 273.15, 1.0)
        if self.rating.low:
            return self.limit / max(self.worst.value, 1e-9)
        return self.worst.value / self.limit


def judge(
    loaded: Loaded, part: Placed, rating: Rating, rated: float, breaks: float | None = None, source: str = ""
) -> Used | None:
    """The worst of what lasts, of short peaks and of outages; None where nothing could be read.

    Parameters
    ----------
    loaded : Loaded
        Readings. [-]
    rated : float
        The rating. [SI]
    breaks : float, optional
        Past doubt too much; the rating itself unless given. [SI]
    """
    row = rating.row(loaded.context.network, part)
    found: list[Used] = []
    for worst, brief in _readings(loaded, part, rating):
        found.append(
            against(part, rating, row, loaded.context.network.need.policy, rated, worst, breaks, brief, source)
        )
    return max(found, key=lambda u: (GRAVITY[u.status], u.share), default=None)


def _readings(loaded: Loaded, part: Placed, rating: Rating) -> list[tuple[Worst, bool]]:
    if rating.nature == "junction":
        hot = loaded.temperature(part)
        return [(hot, False)] if hot else []
    known = loaded.standing
    found = [(known[key], key[2]) for brief in (False, True) if (key := (part.name, rating.name, brief)) in known]
    moving = loaded.transient.get((part.name, rating.name)) if rating.nature == "breaks" else None
    if moving is not None and found and moving.value > found[0][0].value:
        found.append((moving, False))
    return [(w, brief) for w, brief in found if abs(w.value) < 1e3 or not rating.low]


def against(
    part: Placed,
    rating: Rating,
    row: str,
    policy: str,
    rated: float,
    worst: Worst,
    breaks: float | None = None,
    brief: bool = False,
    source: str = "",
) -> Used:
    """Hold one reading against a rating.

    Past the rating as drawn, it fails. Past it only at the worst corner, a voltage fails, since it breaks a part at
    once; a current or a temperature is tight, since all that is bad must last together. Past what the policy leaves, or
    past the rating in a short peak, it is tight.
    """
    kept = reserve(row, policy).figure
    limit = rated if brief else kept * rated if row in SHARES else rated - kept
    too_much = rated if breaks is None else breaks
    sign = -1.0 if rating.low else 1.0

    def past(value: float, bound: float) -> bool:
        return sign * (value - bound) > 1e-9 * abs(bound)

    fails = past(worst.nominal, too_much) or (rating.nature == "breaks" and past(worst.value, too_much))
    if fails and not brief:
        status = FAILS
    else:
        status = TIGHT if past(worst.value, limit) else HOLDS
    if status == FAILS:
        limit = too_much
    return Used(part, rating, rated, limit, worst, status, brief, row, source)
