"""Keeps ``docs/command-line.md`` in step with the commands.

Their help and the table of questions are copied into it, the rest is left alone.

``python -m tideover.cli.manual docs/command-line.md`` renews the page.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from tideover.answers.base import QUESTIONS
from tideover.cli.program import COMMANDS, program
from tideover.files import write_text

WIDTH = 80
_QUESTIONS = re.compile(r"(\| key \| question \|\n\|---\|---\|\n)(?:\|.*\n)*")
_BLOCK = re.compile(r"(<!-- help of (tideover[a-z -]*) -->\n```text\n).*?(```\n)", re.DOTALL)


def helps() -> dict[str, str]:
    """What ``--help`` says, by command: ``tideover``, ``tideover sheet``, ..."""
    settings: dict[str, Any] = {**program.context_settings, "terminal_width": WIDTH}
    top = click.Context(program, info_name="tideover", **settings)
    said = {"tideover": program.get_help(top)}
    for command in COMMANDS:
        with click.Context(command, info_name=command.name, parent=top, **settings) as context:
            said[f"tideover {command.name}"] = command.get_help(context)
            for inner in command.commands.values() if isinstance(command, click.Group) else ():
                with click.Context(inner, info_name=inner.name, parent=context, **settings) as within:
                    said[f"tideover {command.name} {inner.name}"] = inner.get_help(within)
    return said


def renewed(page: str) -> str:
    """The page with every help block and the table of questions as they are today.

    Raises
    ------
    ValueError
        A block for a command that does not exist, or a command without a block.
    """
    said = helps()
    named = [found[2] for found in _BLOCK.finditer(page)]
    if sorted(named) != sorted(said):
        odd = sorted(set(named) ^ set(said)) or sorted(named)
        raise ValueError(f"Each command has one help block; look at {', '.join(odd)}.")
    rows = "".join(f"| `{key}` | {question} |\n" for key, question in QUESTIONS.items())
    page = _QUESTIONS.sub(lambda found: found[1] + rows, page)
    return _BLOCK.sub(lambda found: f"{found[1]}{said[found[2]]}\n{found[3]}", page)


def main(arguments: Sequence[str]) -> None:
    """Renew the page named."""
    for name in arguments:
        write_text(Path(name), renewed(Path(name).read_text(encoding="utf-8")))


if __name__ == "__main__":
    main(sys.argv[1:])
