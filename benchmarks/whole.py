"""Whole sheets of the examples, and ten thousand sampled outages, as a user waits for them."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np

from tideover.answers.context import Context
from tideover.answers.trials import Work, do, rides, trials
from tideover.cases import samples
from tideover.cases.share import PIECE, pool, share
from tideover.network import load

from .measures import Chart, Row
from .scenario import BUILD, timed

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


def outages(count: int) -> Chart:
    """Sampled builds put to their worst outages, with one worker and with one for each processor."""
    context = Context.of(load(BUILD), samples=count)
    trial = next(t for t in trials(context) if t.measure is rides)
    rows: list[Row] = []
    for workers in (1, os.cpu_count() or 1):
        drawn = samples(context.network, context.spreads, count, context.rng).batch
        lean = replace(context, executor=None, told=None)
        pieces = [Work(lean, trial, drawn.take(np.arange(k, min(k + PIECE, count)))) for k in range(0, count, PIECE)]
        executor = pool(workers)
        cost = timed(partial(share, do, pieces, executor))
        if executor is not None:
            executor.shutdown()
        margins = np.concatenate([y[0] for y in cost.result.finished])
        rows.append((str(workers), str(count), f"{cost.wall:.3g}", f"{np.nanmin(margins):.6f}"))
    said = "Each sample rides two outages, from the pack's worst charge and the load's worst level. Who works changes "
    said += "nothing: the least margin is the same to the last digit."
    return Chart("Sampled outages", said, ("workers", "samples", "clock [s]", "least margin [V]"), tuple(rows))
