"""Two texts that grew from one, brought together value by value."""

from __future__ import annotations

from dataclasses import dataclass

from tideover.design.edit import EditError, Where, replaced, values
from tideover.design.messages import folded


@dataclass(frozen=True)
class Merged:
    """What came of it.

    Attributes
    ----------
    text : str
        Theirs with our changes; at a place in dispute, ours or theirs as was asked.
    disputed : tuple of Where
        Places that both changed, each to another value.
    whole : bool
        False when the texts could not be compared value by value: then all of it is in dispute.
    """

    text: str
    disputed: tuple[Where, ...]
    whole: bool = True


Changes = dict[Where, tuple[Where, str | None, str | None]]


def key(where: Where) -> Where:
    """One spelling of a place."""
    return tuple(folded(step) for step in where)


def changes(before: str, after: str) -> Changes:
    """Places whose value differs: the place as written, the value before and after, None where it is absent."""
    old = {key(where): (where, value) for where, value in values(before).items()}
    new = {key(where): (where, value) for where, value in values(after).items()}
    found: Changes = {}
    for place, (where, value) in new.items():
        was = old.get(place)
        if was is None or was[1] != value:
            found[place] = (where, was[1] if was else None, value)
    for place, (where, value) in old.items():
        if place not in new:
            found[place] = (where, value, None)
    return found


def merge(base: str, ours: str, theirs: str, keep: str = "") -> Merged:
    """Bring two texts together.

    Parameters
    ----------
    base : str
        What both grew from. [-]
    ours : str
        Base with values exchanged. [-]
    theirs : str
        Base changed in any way; its remarks and order stay. [-]
    keep : str
        ``ours`` or ``theirs`` at places in dispute; theirs when empty. [-]
    """
    try:
        mine, other = changes(base, ours), changes(base, theirs)
        if _put(base, mine) != ours:
            raise EditError("more than values was changed")  # remarks or order, which nobody can weigh
        disputed = {
            place: where
            for place, (where, _, value) in mine.items()
            if any(_touch(place, theirs_too) for theirs_too in other) and not _same(place, value, other)
        }
        put = {place: change for place, change in mine.items() if place not in disputed or keep == "ours"}
        text = _put(theirs, put)
        for place, (where, _, value) in changes(text, theirs).items():
            if place not in put:
                raise EditError(f"{where} moved with it: {value}")
        return Merged(text, tuple(disputed.values()))
    except (EditError, KeyError):
        return Merged(ours if keep == "ours" else theirs, ((),), False)


def _put(text: str, mine: Changes) -> str:
    for where, _, value in mine.values():
        text = replaced(text, where, value)
    return text


def _touch(a: Where, b: Where) -> bool:
    """Whether two places are one, or one lies in the other."""
    short = min(len(a), len(b))
    return a[:short] == b[:short]


def _same(place: Where, value: str | None, other: Changes) -> bool:
    return place in other and other[place][2] == value
