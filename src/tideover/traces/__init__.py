"""Raw waveforms: what happens from outside, in words, and a march read back as labelled columns."""

from tideover.traces.events import Event, begin, read_events
from tideover.traces.record import Column, Happening, Trace
from tideover.traces.run import LONGEST, SHORTEST, STARTS, trace

__all__ = [
    "LONGEST",
    "SHORTEST",
    "STARTS",
    "Column",
    "Event",
    "Happening",
    "Trace",
    "begin",
    "read_events",
    "trace",
]
