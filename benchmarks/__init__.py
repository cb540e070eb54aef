"""What the engine costs, measured in one run on one machine: ``python -m benchmarks [--quick]``.

Times are a trend and no gate: no test depends on them. What can be compared is the ratio of two of them, measured side
by side. Counted work (steps, tries, Newton iterations) stands beside every time.
"""
