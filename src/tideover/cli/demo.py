"""``tideover demo``: an example build, copied to where it can be changed."""

from __future__ import annotations

import os
from pathlib import Path

import click

from tideover.cli.common import BUILD, Refusal, page, write
from tideover.demos import copy, examples, title


@click.command()
@click.argument("name", required=False)
@click.option("--into", metavar="DIR", default=".", help="Folder to copy into instead of the current one.")
def demo(name: str | None, into: str) -> int:
    """Copy an example build and print its sheet.

    Without a NAME the examples are listed and the first is taken. The example becomes a folder of its own;
    nothing is ever overwritten.
    """
    from tideover.cli.sheet import show

    known = examples()
    if not known:
        raise Refusal("The examples are missing from this installation.", "Install it again.")
    if name is None:
        write(_list(known))
        name = next(iter(known))
    elif name not in known:
        raise Refusal(f'There is no example "{name}".', f"There are: {', '.join(known)}.")
    target = Path(into) / name
    if os.path.lexists(target):
        if not _same(known[name], target):
            raise Refusal(
                f"{target} is there already and was left as it is.",
                f"Move it away, or copy the example elsewhere: tideover demo {name} --into elsewhere",
            )
        write(f"{target} is there already, as the example has it.\n\n")
    else:
        copy(known[name], target)
        files = sorted(str(f.relative_to(target)) for f in target.rglob("*") if f.is_file())
        write("\n".join(page().wrap(f"Copied the example to {target}: {', '.join(files)}")) + "\n\n")
    return show(target / BUILD, ())


def _same(source: Path, target: Path) -> bool:
    """Whether every file of the example stands there, byte for byte."""
    wanted = [f for f in source.rglob("*") if f.is_file() and not f.name.startswith(".")]
    return all(
        (target / f.relative_to(source)).is_file() and (target / f.relative_to(source)).read_bytes() == f.read_bytes()
        for f in wanted
        if "__pycache__" not in f.parts
    )


def _list(known: dict[str, Path]) -> str:
    width = max(map(len, known))
    lines = ["Examples:"]
    for name, folder in known.items():
        lines += page().wrap(title(folder / BUILD), f"  {name:<{width}}  ", " " * (width + 4))
    return "\n".join([*lines, ""]) + "\n"
