"""The sheet: every question a builder asks, each with the function that answers it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from importlib import import_module

from tideover.answers.base import OPEN, QUESTIONS, Answer
from tideover.answers.context import Context
from tideover.network import Network

ANSWERS: dict[str, str] = {
    "standing": "tideover.answers.standing",
    "drops": "tideover.answers.drops",
    "budget": "tideover.answers.budget",
    "sources": "tideover.answers.sources",
    "outage": "tideover.answers.outage",
    "endurance": "tideover.answers.endurance",
    "standby": "tideover.answers.standby",
    "heat": "tideover.answers.heat",
}
"""Key of each question to the module whose ``answer(context)`` answers it, in the order of the sheet; a module is
loaded when its question is asked."""


def answerer(key: str) -> Callable[[Context], Answer]:
    """The function that answers a question.

    Raises
    ------
    KeyError
        For a key that is none of `ANSWERS`.
    """
    found: Callable[[Context], Answer] = import_module(ANSWERS[key]).answer
    return found


def sheet(network: Network, keys: Iterable[str] | None = None, seed: int = 1) -> tuple[Answer, ...]:
    """Answer the questions about a build.

    Parameters
    ----------
    network : Network
        As loaded. [-]
    keys : iterable of str, optional
        Which questions, in which order; all of them unless told. [-]
    seed : int
        Of the random corners; show it with the answers. [-]

    Returns
    -------
    answers : tuple of Answer
        One for each key. What our own code could not do is `open` and says that it is our fault. [-]

    Raises
    ------
    KeyError
        For a key that is no question.
    """
    wanted = tuple(ANSWERS if keys is None else keys)
    for key in wanted:
        if key not in ANSWERS:
            raise KeyError(key)
    context = Context.of(network, seed)
    return tuple(_asked(key, context) for key in wanted)


def _asked(key: str, context: Context) -> Answer:
    """One answer; an error of ours ends this answer and no other."""
    try:
        return answerer(key)(context)
    except Exception as error:
        if os.environ.get("TIDEOVER_DEBUG"):
            raise
        return Answer(key, OPEN, f"{OUR_FAULT} ({_said(error)}) {QUESTIONS[key]}", broken=True)


OUR_FAULT = "Not answered: this is our fault and not the build's. Please report it together with the build file."


def _said(error: Exception) -> str:
    """An error in one line, with where in our code it arose."""
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    where = ""
    if trace is not None:
        name = trace.tb_frame.f_globals.get("__name__", "")
        where = f" in {name}, line {trace.tb_lineno}"
    return f"{type(error).__name__}: {' '.join(str(error).split())[:200]}{where}"
