"""Run the tutorial: its commands in an empty folder, its edits in the build file, the real output pasted back.

    python docs/replay.py            renew the outputs in tutorial.md
    python docs/replay.py --check    change nothing; exit 1 when an output differs

A ``console`` block is a command behind a dollar sign and its output, or as many lines of it as stand behind the word
``console``; a ``diff`` block is an edit of the build file. No output holds times of the clock, so two runs agree.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

PAGE = Path(__file__).parent / "tutorial.md"
BLOCK = re.compile(r"^```(console|diff)( \d+)?\n(.*?)^```", flags=re.M | re.S)
FOLDER = "boat-shed"


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
    old = "".join(f"{line[1:]}\n" for line in change.splitlines() if line.startswith("-"))
    new = "".join(f"{line[1:]}\n" for line in change.splitlines() if line.startswith("+"))
    text = file.read_text(encoding="utf-8")
    if text.count(old) != 1:
        raise SystemExit(f"The tutorial's edit does not fit the build file:\n{old}")
    file.write_text(text.replace(old, new), encoding="utf-8")


def replayed(page: str) -> str:
    """The page with every output renewed."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)

        def renewed(block: re.Match[str]) -> str:
            if block[1] == "diff":
                edit(block[3], folder / FOLDER / "build.yaml")
                return block[0]
            command = block[3].splitlines()[0]
            lines = run(command.removeprefix("$ "), folder).rstrip().splitlines()
            if block[2] and len(lines) > int(block[2]):
                lines = [*lines[: int(block[2])], "…"]
            return "\n".join([f"```console{block[2] or ''}", command, *lines, "```"])

        return BLOCK.sub(renewed, page)


def main(arguments: list[str]) -> int:
    page = PAGE.read_text(encoding="utf-8")
    now = replayed(page)
    if arguments != ["--check"]:
        PAGE.write_text(now, encoding="utf-8")
        return 0
    if now != page:
        print("stale: docs/tutorial.md; renew it with: python docs/replay.py", file=sys.stderr)
    return int(now != page)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
