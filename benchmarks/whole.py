"""Whole sheets of the examples, as a user waits for them."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from functools import partial
from pathlib import Path

from .measures import Chart, Row
from .scenario import timed

EXAMPLES = Path(__file__).parents[1] / "examples"


def sheets(quick: bool) -> Chart:
    """Every example's whole sheet in a process of its own: nothing compiled yet, and again."""
    rows: list[Row] = []
    builds = sorted(EXAMPLES.glob("*/*.yaml"))
    for build in builds[:1] if quick else builds:
        with tempfile.TemporaryDirectory() as cache:
            environment = {**os.environ, "XDG_CACHE_HOME": cache}
            command = [sys.executable, "-m", "tideover", "sheet", str(build)]
            walls, cpus = [], []
            for _ in range(2):
                before = resource.getrusage(resource.RUSAGE_CHILDREN)
                done = timed(partial(subprocess.run, command, capture_output=True, env=environment, check=False))
                after = resource.getrusage(resource.RUSAGE_CHILDREN)
                walls.append(done.wall)
                cpus.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        name = str(build.relative_to(EXAMPLES))
        rows.append((name, f"{walls[0]:.3g}", f"{walls[1]:.3g}", f"{cpus[1]:.3g}"))
    said = "All questions, 2000 samples, every fault; one worker for each processor. Each in a new process, once."
    head = ("build", "nothing compiled yet, clock [s]", "again, clock [s]", "again, processor [s]")
    return Chart("A whole sheet", said, head, tuple(rows))
