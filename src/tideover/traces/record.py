"""A march as labelled columns, and what can be told of it at a glance."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tideover.traces.events import Event


@dataclass(frozen=True)
class Column:
    """One column.

    Attributes
    ----------
    name : str
        Node, part, or part and terminal.
    unit : str
        ``V`` or ``A``; ``state`` for the names of a part's discrete states.
    subject : str
        The node or the part.
    """

    name: str
    unit: str
    subject: str

    @property
    def header(self) -> str:
        """As it stands over the column: ``inlet [V]``, ``changeover state``."""
        return f"{self.name} state" if self.unit == "state" else f"{self.name} [{self.unit}]"


@dataclass(frozen=True)
class Happening:
    """Something that happened.

    Attributes
    ----------
    at : float
        When. [s]
    text : str
        What: ``mains off``, or ``changeover: operated > letting go``.
    part : str
        Whose state changed; empty for what came from outside.
    """

    at: float
    text: str
    part: str = ""


@dataclass(frozen=True)
class Trace:
    """Waveforms of one march. An instant at which something switches stands twice, before and after.

    Attributes
    ----------
    title : str
        Of the build.
    start : str
        Where it began, in words.
    times : array, shape (points,)
        [s]
    columns : tuple of Column
        What each array holds.
    arrays : tuple of array, shape (points,)
        Numbers in SI; text for states.
    events : tuple of Event
        From outside, in order of time.
    whole : bool
        False when the march could not be followed to its end.
    notes : tuple of str
        What to know about it, a sentence each.
    """

    title: str
    start: str
    times: NDArray[np.float64]
    columns: tuple[Column, ...]
    arrays: tuple[NDArray[Any], ...]
    events: tuple[Event, ...]
    whole: bool = True
    notes: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Name of each column."""
        return tuple(c.name for c in self.columns)

    @property
    def units(self) -> tuple[str, ...]:
        """Unit of each column: ``V``, ``A`` or ``state``."""
        return tuple(c.unit for c in self.columns)

    @property
    def headers(self) -> tuple[str, ...]:
        """Of the times and of each column: ``time [s]``, ``inlet [V]``, ``brick plus [A]``."""
        return ("time [s]", *(c.header for c in self.columns))

    def __getitem__(self, header: str) -> NDArray[Any]:
        """The column under a header; KeyError names the headers there are."""
        if header == "time [s]":
            return self.times
        for column, array in zip(self.columns, self.arrays):
            if column.header == header:
                return array
        raise KeyError(f"{header!r} is not one of {', '.join(self.headers)}")

    def rows(self) -> Iterator[tuple[str, ...]]:
        """Rows as text, the headers first: 12 digits of time, 9 of everything else, nothing where nothing is known."""
        yield self.headers
        texts = [
            array.tolist() if column.unit == "state" else [_text(x, 9) for x in array.tolist()]
            for column, array in zip(self.columns, self.arrays)
        ]
        yield from zip([_text(t, 12) for t in self.times.tolist()], *texts)

    def happenings(self) -> tuple[Happening, ...]:
        """Events and every change of a discrete state, in order of time, as far as it could be followed."""
        end = float(self.times[-1])
        found = [Happening(event.at, event.text) for event in _once(self.events) if event.at <= end]
        for column, array in zip(self.columns, self.arrays):
            if column.unit == "state":
                changed = np.flatnonzero(array[1:] != array[:-1]) + 1
                part = column.subject
                found += [
                    Happening(float(self.times[k]), f"{part}: {array[k - 1]} > {array[k]}", part) for k in changed
                ]
        return tuple(sorted(found, key=lambda h: h.at))

    def extremes(self) -> tuple[tuple[str, str, float, float, float, float], ...]:
        """Of every numeric column: name, unit, lowest and when, highest and when; NaN where nothing is known."""
        out = []
        for column, array in zip(self.columns, self.arrays):
            if column.unit == "state":
                continue
            known = np.flatnonzero(np.isfinite(array))
            if not len(known):
                out.append((column.name, column.unit, *(float("nan"),) * 4))
                continue
            low, high = known[np.argmin(array[known])], known[np.argmax(array[known])]
            out.append(
                (
                    column.name,
                    column.unit,
                    float(array[low]),
                    float(self.times[low]),
                    float(array[high]),
                    float(self.times[high]),
                )
            )
        return tuple(out)


def _text(value: float, digits: int) -> str:
    return "" if value != value else f"{value:.{digits}g}"


def _once(events: tuple[Event, ...]) -> list[Event]:
    """Mains of two adapters is one thing to tell."""
    return [b for a, b in pairwise((None, *events)) if b and (a is None or (a.at, a.text) != (b.at, b.text))]
