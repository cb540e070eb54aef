"""A build so small that it computes in a moment, and a sheet that answers at once."""

from __future__ import annotations

import sys
from types import ModuleType

SMALL = """\
tideover: 1
title: Lamp
need: {at: lamp, window: 10 V to 14 V}
parts:
  brick: 12 V 2 A adapter
  switch: rocker switch 6 A
  lamp: {kind: load, power: 5 W, nominal voltage: 12 V, peak: 12 W for 40 ms, law: resistance}
joins:
  - brick > switch > (line) > lamp
box: plastic box 150 × 100 × 50 mm, sealed
"""


def answer_with(monkeypatch, answers):
    """Let the sheet give these answers, and keep what it was asked."""
    asked = []
    module = ModuleType("tideover.answers.sheet")

    def sheet(network, keys=None, seed=1, samples=2000, executor=None, told=None):
        asked.append((network.title, keys, seed))
        if isinstance(answers, BaseException):
            raise answers
        return tuple(a for a in answers if keys is None or a.key in keys)

    module.sheet = sheet
    monkeypatch.setitem(sys.modules, "tideover.answers.sheet", module)
    return asked
