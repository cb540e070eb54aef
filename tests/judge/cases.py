"""What is judged: supplies drawn by lot, and the builds of the examples; each judged once and kept."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from tideover.network import load

from . import judge
from .compare import Passage, Standing, passages, stand, standing
from .generate import Case, draw

SEEDS = tuple(range(1, 41))
EXAMPLES = tuple(sorted(str(p) for p in (Path(__file__).parents[2] / "examples").glob("*/*.yaml")))
UNTIL = {"reading-room/as-first-drawn.yaml": 2.535}
"""Ends of examples that never settle: with mains back this one switches to and fro without end. [s]"""
PROMISED = None
"""Accuracy of a march at which every bound is to hold: its default."""
ROUGH = 1e-4
"""A coarser one, to see how much the default has in hand."""
ACCURACIES = (PROMISED, ROUGH)
DONE: dict[str, set[int]] = {"judged_standing": set(), "judged_outage": set()}
"""Seeds already judged, for the summary."""


@cache
def _stand(seed: int) -> tuple[Case, Any, judge.Circuit]:
    case = draw(seed)
    return (case, *stand(case))


@cache
def judged_standing(seed: int) -> Standing:
    """Both standing points of a supply drawn by lot."""
    result = standing(*_stand(seed))
    DONE["judged_standing"].add(seed)
    return result


@cache
def judged_example(path: str, charge: float) -> Standing:
    """Both standing points of an example's build."""
    name = "/".join(Path(path).parts[-2:])
    case = Case(f"{name}, {charge:.0%}", load(path), charge, 298.15, 0.0, 0.0, 0.0, 0.0, "")
    return standing(case, *stand(case))


@cache
def judged_example_outage(path: str, charge: float) -> Passage:
    """Both accounts of an example's outage, mains off at 20 ms and on at 1 s, until the adapter has been up a while."""
    name = "/".join(Path(path).parts[-2:])
    case = Case(f"{name}, {charge:.0%}, outage", load(path), charge, 298.15, 0.02, 1.0, UNTIL.get(name, 2.9), 0.0, "")
    found, circuit = stand(case)
    return passages(case, found, circuit, (PROMISED,))[0]


@cache
def judged_outage(seed: int) -> dict[float | None, Passage]:
    """Both accounts of an outage and return, for each accuracy."""
    case, found, circuit = _stand(seed)
    judged_standing(seed)
    result = dict(zip(ACCURACIES, passages(case, found, circuit, ACCURACIES)))
    DONE["judged_outage"].add(seed)
    return result
