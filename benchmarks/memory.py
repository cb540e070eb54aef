"""One march in a process of its own: prints its peak memory [MB], its time [s] and the points it kept."""

from __future__ import annotations

import resource
import sys
from pathlib import Path

from tideover.solve import march

from .scenario import Scenario, timed


def main(count: int, until: float) -> None:
    scenario = Scenario.read()
    system = scenario.system(count)
    start = scenario.standing(system).state
    keep = [scenario.network.at]
    cost = timed(lambda: march(system, start, scenario.changes(), until, keep=keep))
    points = sum(len(cost.result.case(k).t) for k in range(count))
    print(peak() / 1e6, cost.wall, points)


def peak() -> float:
    """Largest resident memory so far. [B]

    Where the kernel tells it of this very program, it is taken from there: what getrusage gives begins, on some
    systems, with the size of the process that started this one.
    """
    status = Path("/proc/self/status")
    if status.exists():
        line = next(row for row in status.read_text().splitlines() if row.startswith("VmHWM:"))
        return float(line.split()[1]) * 1024.0
    most = float(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
    return most if sys.platform == "darwin" else most * 1024.0


if __name__ == "__main__":
    main(int(sys.argv[1]), float(sys.argv[2]))
