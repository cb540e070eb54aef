"""The sheet: every question a builder asks, each with the function that answers it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import BrokenExecutor, Executor
from dataclasses import replace
from importlib import import_module

from tideover.answers.base import OPEN, QUESTIONS, Answer
from tideover.answers.context import SAMPLES, Context
from tideover.cases.share import Told
from tideover.network import Network
from tideover.solve import build

ANSWERS: dict[str, str] = {
    "standing": "tideover.answers.standing",
    "drops": "tideover.answers.drops",
    "budget": "tideover.answers.budget",
    "sources": "tideover.answers.sources",
    "outage": "tideover.answers.outage",
    "endurance": "tideover.answers.endurance",
    "recharge": "tideover.answers.recharge",
    "start": "tideover.answers.start",
    "standby": "tideover.answers.standby",
    "heat": "tideover.answers.heat",
    "ratings": "tideover.answers.ratings",
    "cells": "tideover.answers.cells",
    "tolerance": "tideover.answers.tolerance",
    "faults": "tideover.answers.faults",
    "year": "tideover.answers.year",
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


def sheet(
    network: Network,
    keys: Iterable[str] | None = None,
    seed: int = 1,
    samples: int = SAMPLES,
    executor: Executor | None = None,
    told: Told | None = None,
) -> tuple[Answer, ...]:
    """Answer the questions about a build.

    Parameters
    ----------
    network : Network
        As loaded. [-]
    keys : iterable of str, optional
        Which questions, in which order; all of them unless told. [-]
    seed : int
        Of the random corners and samples; show it with the answers. [-]
    samples : int
        Builds drawn at random where an answer samples. [-]
    executor : Executor, optional
        Who does the work, question by question and in pieces of samples; this process unless told. It changes no
        number. [-]
    told : callable, optional
        ``told(done, total)`` while long work goes on. [-]

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
    context = Context.of(network, seed, samples, executor, told)
    if executor is None:
        return tuple(asked(key, context) for key in wanted)
    _ready(network, wanted)
    lean = replace(context, executor=None, told=None)
    groups = [g for g in ([k for k in wanted if k in together] for together in _together(wanted)) if g]
    work = [(group, executor.submit(_group, tuple(group), lean)) for group in groups]
    found = {key: asked(key, context) for key in wanted if key in SAMPLING}  # its pieces queue up behind the others
    for group, future in work:
        try:
            answers = future.result()
        except BrokenExecutor:  # a worker was killed: what it left is done here
            answers = _group(tuple(group), lean)
        found |= {a.key: a for a in answers}
    return tuple(found[key] for key in wanted)


SHARING = ("standing", "drops", "budget", "sources", "ratings", "outage")
"""Questions that share standing points and outages, and so are answered by one worker."""
SAMPLING = ("tolerance",)
"""Questions whose own work is shared out in pieces."""


def _together(wanted: Iterable[str]) -> Iterable[tuple[str, ...]]:
    """Which questions go to one worker, the longest work first."""
    alone = [k for k in reversed(tuple(wanted)) if k not in SHARING and k not in SAMPLING]
    return (SHARING, *((k,) for k in alone))


def _ready(network: Network, wanted: Iterable[str]) -> None:
    """Load and compile what every worker needs, once: those that begin as copies of this process then have it too."""
    for key in wanted:
        answerer(key)
    try:
        build(network)
    except Exception:  # ours; each answer that meets it says so itself
        if os.environ.get("TIDEOVER_DEBUG"):
            raise


def _group(keys: tuple[str, ...], context: Context) -> tuple[Answer, ...]:
    """Several answers, one after the other."""
    return tuple(asked(key, context) for key in keys)


def asked(key: str, context: Context) -> Answer:
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
