"""Start-up, outages, standing points and memory of the engine itself."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from contextlib import nullcontext
from dataclasses import dataclass, replace

import numpy as np

from tideover.answers.context import Context
from tideover.answers.tolerance import answer
from tideover.answers.trials import Work, do, trials
from tideover.cases import PIECE, pool, samples, share
from tideover.solve import march, rest

from .scenario import BUILD, END, Cost, Scenario, array_code, timed

Row = tuple[str, ...]


@dataclass(frozen=True)
class Chart:
    """A table of measurements and what must be said about it."""

    title: str
    said: str
    head: Row
    rows: tuple[Row, ...]


def ms(seconds: float) -> str:
    """Milliseconds to three digits."""
    return f"{seconds * 1e3:.3g}"


def start_up(quick: bool) -> Chart:
    """New processes of the command line."""
    command = [sys.executable, "-m", "tideover"]
    sheet = ["sheet", str(BUILD), *(["standing"] if quick else [])]
    asked = " (one question)" if quick else ""
    rows = []
    with tempfile.TemporaryDirectory() as cache:
        environment = {**os.environ, "XDG_CACHE_HOME": cache}

        def run(arguments: list[str]) -> object:
            return subprocess.run([*command, *arguments], capture_output=True, check=False, env=environment)

        for said, arguments, times in (
            ("tideover --version", ["--version"], 5),
            (f"tideover sheet{asked}, for the first time", sheet, 1),
            (f"tideover sheet{asked}, again", sheet, 1),
        ):
            walls, cpus = [], []
            for _ in range(times):
                before = resource.getrusage(resource.RUSAGE_CHILDREN)
                walls.append(timed(lambda a=arguments: run(a)).wall)
                after = resource.getrusage(resource.RUSAGE_CHILDREN)
                cpus.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
            rows.append((said, str(times), f"{min(walls):.3g}", f"{min(cpus):.3g}"))
    said = "Each in a new process, the least of its runs. For the first time means that nothing is compiled yet."
    return Chart("Starting", said, ("command", "runs", "on the clock [s]", "of the processor [s]"), tuple(rows))


def outages(scenario: Scenario, sizes: tuple[int, ...]) -> tuple[Chart, Chart, dict[int, Cost]]:
    """Marches of several sizes: cost per case, counted work, cost per Newton iteration; the costs by size.

    Once as the machine does it, once as array code where that is something else; the costs are those of the first.
    """
    rows, newton = [], []
    each: dict[int, Cost] = {}
    for way in (nullcontext, array_code):
        with way():
            warm = scenario.system(1)
            said = "compiled" if warm.compiled else "array code"
            if newton and newton[-1][0] == said:
                break  # no compiler here: it was array code already
            march(warm, scenario.standing(warm).state, scenario.changes(), 0.03)  # all is traced and written once
            for size in sizes:
                cost = _outage(scenario, size)
                each.setdefault(size, cost)
                w = cost.result
                rows.append((said, str(size), *_spent(cost, size)))
                newton.append(
                    (said, str(size), f"{cost.cpu / w.newton.sum() * 1e6:.3g}", f"{w.newton.mean():.0f}")
                )
    head = (
        "equations", "cases", "ended", "ms a case, clock", "ms a case, processor", "steps", "tries",
        "Newton iterations", "worst energy imbalance over throughput",
    )  # fmt: skip
    said = f"Mains off at 20 ms, on at 1 s, until {END:g} s; {warm.unknowns} nodes, {warm.nx} states. "
    said += "Work is counted per case."
    iteration = "Processor time of the march over all its Newton iterations, everything else included."
    return (
        Chart("An outage and return", said, head, tuple(rows)),
        Chart("A Newton iteration", iteration, ("equations", "cases", "µs a case", "iterations a case"), tuple(newton)),
        each,
    )


def _outage(scenario: Scenario, size: int) -> Cost:
    system = scenario.system(size)
    start = scenario.standing(system).state
    return timed(lambda: march(system, start, scenario.changes(), END, keep=[scenario.network.at]))


def _spent(cost: Cost, size: int) -> Row:
    w = cost.result
    done = f"{int((w.outcome == 0).sum())} of {size}"
    counted = tuple(f"{n.mean():.0f}" for n in (w.steps, w.tries, w.newton))
    worst = f"{float(np.abs(w.imbalance / w.throughput).max()):.1e}"
    return done, ms(cost.wall / size), ms(cost.cpu / size), *counted, worst


def standing(scenario: Scenario, sizes: tuple[int, ...]) -> Chart:
    """Standing points from scratch, and near the nominal one."""
    nominal = scenario.standing(scenario.system(1)).state
    rows = []
    for size in sizes:
        system = scenario.system(size)
        for said, near in (("from scratch", None), ("near the nominal point", nominal)):
            cost = timed(lambda s=system, n=near: rest(s, scenario.condition(), near=n))
            found = cost.result
            count = f"{int((found.outcome == 0).sum())} of {size}"
            rate = f"{size / cost.wall:.0f}", f"{size / cost.cpu:.0f}"
            rows.append((str(size), said, count, *rate, f"{found.iterations.mean():.0f}"))
    head = ("cases", "start", "found", "a second, clock", "a second, processor", "Newton iterations")
    return Chart("Standing points", "Mains present, pack full.", head, tuple(rows))


def tolerance(scenario: Scenario, count: int) -> Chart:
    """Builds drawn within all their tolerances, ridden through their two worst outages; and the whole answer."""
    context = Context.of(scenario.network)
    trial = next(t for t in trials(context) if t.judged[0].short == "outage")
    drawn = samples(context.network, context.spreads, count, context.rng).batch
    works = [Work(context, trial, drawn.take(np.arange(k, min(k + PIECE, count)))) for k in range(0, count, PIECE)]
    rows = []
    for workers in sorted({1, os.cpu_count() or 1}):
        spent = _children()
        with pool(workers) or nullcontext() as executor:
            cost = timed(lambda e=executor: share(do, works, e))
        cpu = cost.cpu + _children() - spent
        margin = np.concatenate([r[0] for r in cost.result.finished])
        held = f"{int((margin >= 0.0).sum())} of {count}"
        rows.append((f"{count} outages of two kinds", str(workers), f"{cost.wall:.3g}", f"{cpu:.3g}", held))
        spent = _children()
        with pool(workers) or nullcontext() as executor:
            cost = timed(lambda e=executor: answer(replace(context, executor=e)))
        cpu = cost.cpu + _children() - spent
        whole = f"the whole answer, {context.samples} samples"
        rows.append((whole, str(workers), f"{cost.wall:.3g}", f"{cpu:.3g}", ""))
    said = "The harbour gauge with every tolerance of its parts; all is traced and compiled before."
    head = ("work", "workers", "on the clock [s]", "of the processors [s]", "hold")
    return Chart("Tolerances", said, head, tuple(rows))


def _children() -> float:
    """Processor time of processes that have ended. [s]"""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def memory(count: int, until: float) -> Chart:
    """Peak memory of a march that keeps one voltage, in a process of its own."""
    rows = []
    for size in (1, count):
        done = subprocess.run(
            [sys.executable, "-m", "benchmarks.memory", str(size), str(until)],
            capture_output=True,
            text=True,
            check=True,
        )
        peak, wall, points = done.stdout.split()
        rows.append((str(size), f"{float(peak):.0f}", f"{float(wall):.3g}", points))
    said = f"The same outage until {until:g} s, keeping the load's voltage. "
    said += "One case shows what Python and its libraries take."
    return Chart("Memory", said, ("cases", "peak [MB]", "march, clock [s]", "points kept"), tuple(rows))
