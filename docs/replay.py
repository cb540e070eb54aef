"""Run the tutorials: their commands in an empty folder, their edits of files, the real output pasted back.

    python docs/replay.py                      renew the outputs in all tutorials
    python docs/replay.py tutorial-cells.md    renew those of one
    python docs/replay.py --check              change nothing; exit 1 when an output differs

A ``console`` block is a command behind a dollar sign and its output, or as many lines of it as stand behind the word
``console``, or those from one line to another, ``console 12-20``; ``cd`` holds for all that follows. A ``diff`` block
is an edit of the build file, or of the file that its line ``+++ FILE`` names. No output holds times of the clock, so
two runs agree.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

DOCS = Path(__file__).parent
PAGES = {"tutorial.md": "boat-shed", "tutorial-cells.md": "landing"}
"""The tutorials, and the folder of the build that each makes."""
BLOCK = re.compile(r"^```(console|diff)( \d+(?:-\d+)?)?\n(.*?)^```", flags=re.M | re.S)


def run(command: str, folder: Path) -> str:
    """What a command prints, as it stands in the tutorial."""
    words = [sys.executable, "-X", "utf8", "-m", "tideover"]
    shell = re.sub(r"^tideover", " ".join(f"'{w}'" for w in words), command)
    environment = {**os.environ, "COLUMNS": "80", "NO_COLOR": "1"}
    done = subprocess.run(
        shell, shell=True, cwd=folder, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False
    )
    return done.stdout.decode()


def edit(change: str, file: Path) -> None:
    """Replace the lines marked ``-`` by those marked ``+``, which must stand there as written."""
    lines = [line for line in change.splitlines() if not line.startswith("+++ ")]
    old = "".join(f"{line[1:]}\n" for line in lines if not line.startswith("+"))
    new = "".join(f"{line[1:]}\n" for line in lines if not line.startswith("-"))
    text = file.read_text(encoding="utf-8")
    if text.count(old) != 1:
        raise SystemExit(f"The tutorial's edit does not fit {file.name}:\n{old}")
    file.write_text(text.replace(old, new), encoding="utf-8")


def edited(change: str) -> str:
    """The file that an edit is of."""
    first = change.splitlines()[0]
    return first.removeprefix("+++ ") if first.startswith("+++ ") else "build.yaml"


def excerpt(lines: list[str], span: str) -> list[str]:
    """As many lines as are wanted, with a mark where others were left out."""
    first, _, last = span.strip().rpartition("-")
    begin, end = int(first or 1) - 1, int(last)
    return [*(["…"] if begin else []), *lines[begin:end], *(["…"] if end < len(lines) else [])]


def replayed(page: str, build: str) -> str:
    """The page with every output renewed."""
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        folder = root

        def renewed(block: re.Match[str]) -> str:
            nonlocal folder
            if block[1] == "diff":
                edit(block[3], root / build / edited(block[3]))
                return block[0]
            command = block[3].splitlines()[0]
            if command.startswith("$ cd "):
                folder = folder / command.removeprefix("$ cd ")
                return block[0]
            lines = run(command.removeprefix("$ "), folder).rstrip().splitlines()
            if block[2]:
                lines = excerpt(lines, block[2])
            return "\n".join([f"```console{block[2] or ''}", command, *lines, "```"])

        return BLOCK.sub(renewed, page)


def main(arguments: list[str]) -> int:
    check = "--check" in arguments
    stale = 0
    for name in [a for a in arguments if a != "--check"] or PAGES:
        file = DOCS / name
        page = file.read_text(encoding="utf-8")
        now = replayed(page, PAGES[name])
        if now != page and check:
            print(f"stale: docs/{name}; renew it with: python docs/replay.py {name}", file=sys.stderr)
            stale = 1
        elif not check:
            file.write_text(now, encoding="utf-8")
    return stale


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
