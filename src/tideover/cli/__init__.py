"""The command line: a thin skin over the answers. Whatever is heavy is imported inside the commands."""

from __future__ import annotations


def main() -> int:
    """Run the command line with the arguments of the process; the exit status is returned."""
    import sys

    from tideover.cli.program import run

    return run(sys.argv[1:])
