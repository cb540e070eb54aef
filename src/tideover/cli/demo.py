"""``tideover demo``: an example build, copied to where it can be changed."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from pathlib import Path

import click

from tideover.cli.common import BUILD, Refusal, page, write

ORDER = ("reading-room", "harbour-gauge", "choir-loft", "ferry-landing")
"""The simplest first; others follow by name."""
NOT_COPIED = shutil.ignore_patterns("__pycache__", ".*")


def examples() -> dict[str, Path]:
    """Folders of the examples by name: those of the installed package, else those beside the source."""
    here = Path(__file__).resolve().parent
    for root in (here.parent / "examples", here.parents[2] / "examples"):
        found = {f.parent.name: f.parent for f in sorted(root.glob(f"*/{BUILD}"))}
        if found:
            return {name: found[name] for name in sorted(found, key=_rank)}
    return {}


def _rank(name: str) -> tuple[int, str]:
    return (ORDER.index(name) if name in ORDER else len(ORDER), name)


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


def copy(source: Path, target: Path) -> None:
    """Copy a folder whole or not at all."""
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=target.parent, prefix=".copy.") as place:
        copied = Path(place) / target.name
        shutil.copytree(source, copied, ignore=NOT_COPIED)
        copied.rename(target)


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
        lines += page().wrap(_title(folder / BUILD), f"  {name:<{width}}  ", " " * (width + 4))
    return "\n".join([*lines, ""]) + "\n"


def _title(file: Path) -> str:
    found = re.search(r"^title:\s*(.+?)\s*(?:#.*)?$", file.read_text(encoding="utf-8"), re.MULTILINE)
    return found[1].strip("\"'") if found else ""
