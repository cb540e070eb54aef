"""Judge the cell fits against published tables and print one table: ``python -m tests.published [FOLDER]``.

FOLDER has the tables; else ``TIDEOVER_CELLS`` names it. Exit status: 0 where all bounds are met, 1 where one is not, or
where a table is missing, as that case is judged by nothing.
"""

from __future__ import annotations

import sys
from pathlib import Path

from .cases import CASES, Case
from .tables import FOLDER, Reader, reader

HEAD = ("fitted on", "predicted", "runtime", "voltage, rms", "bound", "met")


def rows(case: Case, read: Reader) -> tuple[list[tuple[str, ...]], bool]:
    """Rows of the table of one case, and whether all of them are met."""
    fitted = ", ".join(name.removesuffix(".csv") for name in case.fitted)
    try:
        verdicts = case.judge(read)
    except FileNotFoundError as error:
        return [(fitted, "", "", "", str(error), "NOT JUDGED")], False
    except (ValueError, LookupError) as error:
        return [(fitted, "", "", "", f"{type(error).__name__}: {error}", "NOT MET")], False
    return [(fitted, *v.cells) for v in verdicts], bool(verdicts) and all(v.met for v in verdicts)


def main(words: list[str]) -> int:
    if len(words) > 1 or any(word.startswith("-") for word in words):
        print("python -m tests.published [FOLDER]: one folder of published tables at most", file=sys.stderr)
        return 1
    folder = Path(words[0]) if words else FOLDER
    read, fine = reader(folder), True
    for row in (HEAD, ("---",) * len(HEAD)):
        print("| " + " | ".join(row) + " |")
    for case in CASES:
        found, met = rows(case, read)
        fine = fine and met
        for row in found:
            print("| " + " | ".join(row) + " |", flush=True)
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
