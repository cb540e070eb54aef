"""All commands in one table, and what is said when something goes wrong."""

from __future__ import annotations

import os
import sys
import warnings
from collections.abc import Sequence
from pathlib import Path

import click

from tideover import __version__
from tideover.cli.cells import cells
from tideover.cli.common import COULD_NOT, HOLDS, complain, mute, write
from tideover.cli.demo import demo
from tideover.cli.new import new
from tideover.cli.open import open_
from tideover.cli.parts import parts
from tideover.cli.sheet import sheet
from tideover.cli.trace import trace

COMMANDS: tuple[click.Command, ...] = (demo, new, sheet, open_, trace, parts, cells)
"""In the order in which a builder meets them."""
DEBUG = "TIDEOVER_DEBUG"
INTERRUPTED = 130
"""Exit status of a program that was told to stop, as shells have it."""


class _Program(click.Group):
    """Lists its commands in the order of the table."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return [str(command.name) for command in COMMANDS]


@click.group(
    cls=_Program,
    commands={str(command.name): command for command in COMMANDS},
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
@click.version_option(__version__, "--version", message="tideover %(version)s")
def program() -> None:
    """Computes small battery-backed DC supplies before they are soldered.

    A build is a folder with a build.yaml in it. Begin with an example:

    \b
      tideover demo
      tideover sheet reading-room
      tideover sheet reading-room outage

    Exit status: 0 nothing fails, 1 something fails, 2 could not run.
    """


def run(arguments: Sequence[str]) -> int:
    """Run one command line.

    Parameters
    ----------
    arguments : sequence of str
        Without the program's name. [-]

    Returns
    -------
    status : int
        0 nothing fails, 1 something fails, 2 could not run, 130 interrupted. [-]
    """
    debug = bool(os.environ.get(DEBUG))
    if not debug:  # a library's warning means nothing to a builder
        warnings.simplefilter("ignore")
    try:
        status = program.main(args=list(arguments), prog_name="tideover", standalone_mode=False)
        return status if isinstance(status, int) else 0
    except (click.exceptions.Abort, KeyboardInterrupt):
        return INTERRUPTED
    except click.exceptions.NoArgsIsHelpError as error:
        write(error.format_message() + "\n")
        return HOLDS
    except click.UsageError as error:
        complain(_usage(error))
        return COULD_NOT
    except click.ClickException as error:
        complain(error.format_message())
        return COULD_NOT
    except BrokenPipeError:  # whoever read has read enough
        mute()
        return COULD_NOT
    except OSError as error:
        complain(_from_outside(error))
        if debug:
            raise
        return COULD_NOT
    except Exception as error:
        if _is_the_builds(error):
            complain(str(error))
            return COULD_NOT
        if debug:
            raise
        complain(_ours(error, arguments))
        return COULD_NOT


def _is_the_builds(error: Exception) -> bool:
    """Whether it is a report on a build; asked without importing what nobody needed."""
    messages = sys.modules.get("tideover.design.messages")
    return messages is not None and isinstance(error, messages.BuildError)


def _usage(error: click.UsageError) -> str:
    said = error.format_message()
    context = error.ctx
    if context is None:
        return said
    return f"{said}\n   {context.get_usage()}\n   See: {context.command_path} --help"


def _from_outside(error: OSError) -> str:
    where = f"{error.filename}: " if error.filename else ""
    return f"{where}{error.strerror or error}.\n   Check the path, who may write there, and whether there is room."


def _ours(error: Exception, arguments: Sequence[str]) -> str:
    place, deepest = "", error.__traceback__
    while deepest:
        file = Path(deepest.tb_frame.f_code.co_filename)
        if "tideover" in file.parts:
            place = f" in {file.parent.name}/{file.name}, line {deepest.tb_lineno}"
        deepest = deepest.tb_next
    what = " ".join(str(error).split())[:200]
    return (
        f"This is a fault of ours, not of your build: {type(error).__name__}{f' ({what})' if what else ''}{place}.\n"
        "   Please report it to the project with your build.yaml, these lines and the command:\n"
        f"   tideover {' '.join(arguments)}\n"
        f"   Version {__version__}. Set {DEBUG}=1 and run it again to see where it happened."
    )
