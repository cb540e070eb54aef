"""Measure, print the tables and write ``docs/benchmarks.md``; ``--quick`` measures less and writes nothing."""

from __future__ import annotations

import argparse
import datetime
import os
import platform
from importlib.metadata import version
from pathlib import Path

from . import against, measures, whole
from .measures import Chart
from .scenario import END, Scenario

PAGE = Path(__file__).parents[1] / "docs" / "benchmarks.md"
OPENING = """# Benchmarks

Measured by `make benchmark` in one run, so that ratios hold; times are those of one machine and one day. They gate
nothing: what is tested is counted work and agreement, never time. The scenario is the harbour gauge of the examples,
the load's power drawn within ±20 %, the adapter's voltage within ±4 %, its hold-up time within ±20 %.
"""


def machine() -> str:
    """In general words: no names of machines or makers."""
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    versions = ", ".join(f"{name} {version(name)}" for name in ("tideover", "numpy", "scipy", "scikit-sundae"))
    return (
        f"{datetime.date.today()}; a machine of {cores} cores ({platform.machine()}) and {memory:.0f} GB, shared with "
        f"other work, {platform.system()}; Python {platform.python_version()}, {versions}."
    )


def text(chart: Chart) -> str:
    rows = ["| " + " | ".join(row) + " |" for row in (chart.head, *chart.rows)]
    rows.insert(1, "|" + "---|" * len(chart.head))
    return f"\n## {chart.title}\n\n{chart.said}\n\n" + "\n".join(rows) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="measure less, write nothing")
    quick = parser.parse_args().quick
    scenario = Scenario.read()
    parts = [OPENING, "\n" + machine() + "\n"]
    print("".join(parts))

    def show(chart: Chart) -> None:
        parts.append(text(chart))
        print(parts[-1], flush=True)

    show(measures.start_up(quick))
    show(whole.sheets(quick))
    outage, newton, each = measures.outages(scenario, (1, 30, 100) if quick else (1, 30, 1000))
    show(outage)
    show(newton)
    tolerances = (1e-5, 1e-7) if quick else (1e-4, 1e-5, 1e-6, 1e-7)
    show(against.chart(scenario, 1 if quick else 4, tolerances, each))
    show(measures.standing(scenario, (100, 1000) if quick else (1000, 10000)))
    show(measures.tolerance(scenario, 1000 if quick else 10000))
    show(measures.memory(1000, 0.2) if quick else measures.memory(10000, END))
    if not quick:
        PAGE.write_text("".join(parts), encoding="utf-8")


if __name__ == "__main__":
    main()
