"""Methods by which an internal resistance is taken: words of the trade, without which no figure is worth comparing.

>>> METHODS[0]
'DC 1 s'
"""

from __future__ import annotations

METHODS = ("DC 1 s", "DC 10 s", "AC 1 kHz")
"""How an internal resistance was taken: the drop after one or ten seconds of a step of current, or the impedance at one
kilohertz. They differ by up to a factor of two and are never mixed."""
SECONDS = {"DC 1 s": 1.0, "DC 10 s": 10.0}
"""How long after the step a resistance by direct current is read. [s]"""
