"""Judge everything and print the agreement: ``python -m tests.judge``; with ``--markdown`` only the manual's tables."""

from __future__ import annotations

import sys

from .cases import ACCURACIES, EXAMPLES, SEEDS, judged_example, judged_outage, judged_standing
from .table import line, markdown


def main() -> None:
    quiet = "--markdown" in sys.argv
    standings = [judged_standing(s) for s in SEEDS] + [judged_example(p, q) for p in EXAMPLES for q in (0.6, 0.95)]
    seen = {}
    for accuracy in ACCURACIES:
        name = "default accuracy" if accuracy is None else f"accuracy {accuracy:g}"
        seen[name] = [judged_outage(seed)[accuracy] for seed in SEEDS]
        if not quiet:
            print(f"\n{name}")
            print("\n".join(line(p) for p in seen[name]))
    print()
    print(markdown(standings, seen))


if __name__ == "__main__":
    main()
