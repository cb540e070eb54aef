"""Answers for the screen: a first look at once, the whole sheet in child processes, each answer as it is found.

Two children take one question after the other from a common list: the quick ones first, the longest last. One begins
with the tolerances, which take long and show how far they are. When the text changes, what is under way for the older
text is ended.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing import get_context
from multiprocessing.connection import Connection, Pipe, wait
from multiprocessing.context import ForkServerContext, ForkServerProcess
from pathlib import Path
from typing import NamedTuple

from tideover.answers.base import OPEN, QUESTIONS, Answer
from tideover.answers.context import SAMPLES, Context
from tideover.answers.sheet import ANSWERS, asked
from tideover.design import BuildError, Fault, examine_text
from tideover.network import Network, settle
from tideover.web.worker import GRACE, serve

QUICK = ("standing", "drops", "budget", "sources")
"""Questions of the first look."""
FROM_QUICK_TO_LONG = (
    "drops", "sources", "standby", "budget", "ratings", "endurance", "cells", "heat", "standing", "start", "recharge",
    "outage", "year", "faults",
)  # fmt: skip
"""Order in which questions are taken; measured on the examples."""
SAMPLED = "tolerance"
"""The question a second child begins with."""
KEPT = 2
"""Versions of the text whose answers are kept."""


def quick(network: Network) -> tuple[Answer, ...]:
    """The first look: the build as written, no corners. Its equations are compiled when a drawing is new."""
    context = Context(network, ())
    return tuple(asked(key, context) for key in QUICK)


class Progress(NamedTuple):
    """How far the sheet is: answers there are, answers in all, and what is worked on ("" when nothing is)."""

    done: int
    total: int
    key: str


Heard = Callable[[int, Answer], object]
"""Called with the version and each answer, from a thread of the work."""
Moved = Callable[[int, Progress], object]
"""Called with the version whenever something was finished or begun, from a thread of the work."""


class Work:
    """The sheet of one open build, kept up with its text. Every method may be called from any thread."""

    def __init__(
        self,
        on_answer: Heard = lambda version, answer: None,
        on_progress: Moved = lambda version, progress: None,
        seed: int = 1,
        samples: int = SAMPLES,
        children: int = 2,
    ) -> None:
        self.on_answer, self.on_progress = on_answer, on_progress
        self.seed, self.samples, self.children = seed, samples, children
        self._lock = threading.RLock()
        self._run: _Run | None = None
        self._found: dict[int, dict[str, Answer]] = {}
        self._faults: dict[int, tuple[Fault, ...]] = {}

    def start(
        self,
        version: int,
        text: str,
        path: str | Path,
        keys: Iterable[str] | None = None,
        first: Iterable[str] = (),
        again: bool = False,
    ) -> Network | None:
        """Begin the sheet of a text; what is under way for an older one is ended.

        Parameters
        ----------
        version : int
            Of the text; one that is not newer than the last is not begun, unless it is taken up again. [-]
        text : str
            The build file. [-]
        path : str or Path
            Where it stands; files that it names are found from there. [-]
        keys : iterable of str, optional
            Which questions; all of them unless told. [-]
        first : iterable of str
            Questions the reader is waiting for: they are taken before the others. [-]
        again : bool
            Whether the last version is taken up where it was ended. [-]

        Returns
        -------
        network : Network or None
            For `quick`; None where the text has faults, which `faults` then gives. [-]
        """
        with self._lock:
            last = max(self._faults, default=None)
            if last is not None and (version < last or (version == last and not again)):
                return None
            self.cancel()
            for old in sorted(self._faults)[: 1 - KEPT]:
                del self._faults[old], self._found[old]
            self._found.setdefault(version, {})
            self._faults[version] = ()
            try:
                network = settle(examine_text(text, str(path)))
            except BuildError as error:
                self._faults[version] = error.faults
                return None
            self._run = _Run(self, version, network, _ordered(keys, first))
            self._run.thread.start()
            return network

    def cancel(self) -> None:
        """End what is under way; what was answered stays."""
        with self._lock:
            run, self._run = self._run, None
        if run is not None:
            run.end()

    def close(self) -> None:
        """End what is under way and wait until its processes are gone."""
        with self._lock:
            run = self._run
            self.cancel()
        if run is not None and run.thread is not threading.current_thread():
            run.thread.join()

    def results(self, version: int) -> Mapping[str, Answer]:
        """Answers that were found for a version of the text, by key."""
        with self._lock:
            return dict(self._found.get(version, {}))

    def faults(self, version: int) -> tuple[Fault, ...]:
        """What is wrong with a version of the text, so that nothing is answered."""
        with self._lock:
            return self._faults.get(version, ())

    @property
    def progress(self) -> Progress:
        """Of what is under way; all zero when nothing is."""
        with self._lock:
            return self._run.progress if self._run is not None else Progress(0, 0, "")

    @property
    def sampled(self) -> tuple[int, int]:
        """Pieces of the question with samples that are done, and all of them; zero before it tells."""
        with self._lock:
            return self._run.sampled if self._run is not None else (0, 0)

    def wait(self, timeout: float | None = None) -> bool:
        """Wait until nothing is under way; False when the time was too short. [s]"""
        run = self._run
        if run is not None:
            run.thread.join(timeout)
            return not run.thread.is_alive()
        return True

    def _deliver(self, run: _Run, answer: Answer) -> bool:
        """Keep an answer, unless its run was ended meanwhile."""
        with self._lock:
            if self._run is not run:
                return False
            self._found[run.version][answer.key] = answer
        self.on_answer(run.version, answer)
        return True


def _ordered(keys: Iterable[str] | None, first: Iterable[str]) -> list[str]:
    """Questions in the order in which they are taken."""
    wanted = set(ANSWERS if keys is None else keys)
    order = dict.fromkeys([*first, *FROM_QUICK_TO_LONG, *ANSWERS])
    return [key for key in order if key in wanted]


def _context() -> ForkServerContext:
    """Children begin as copies of a small server that has all answers loaded, and none of this process's threads."""
    context = get_context("forkserver")
    context.set_forkserver_preload(["tideover.web.worker", *ANSWERS.values()])
    return context


@dataclass
class _Child:
    """One child, and the question it is at."""

    process: ForkServerProcess
    channel: Connection
    key: str = ""


@dataclass
class _Run:
    """The sheet of one version: a thread hands out the questions and hears the children."""

    work: Work
    version: int
    network: Network
    left: list[str]
    children: list[_Child] = field(default_factory=list)
    ended: bool = False
    done: int = 0
    sampled: tuple[int, int] = (0, 0)

    def __post_init__(self) -> None:
        self.total = len(self.left)
        self.woken, self.waker = Pipe(duplex=False)
        self.thread = threading.Thread(target=self._follow, name=f"sheet-{self.version}", daemon=True)

    @property
    def progress(self) -> Progress:
        """How far it is; of two questions under way the one that is not the long sampling is named."""
        at = sorted((c.key for c in tuple(self.children) if c.key), key=lambda key: key == SAMPLED)
        return Progress(self.done, self.total, at[0] if at else "")

    def end(self) -> None:
        """Stop; the thread puts everything away."""
        self.ended = True
        for child in tuple(self.children):
            with suppress(ValueError):  # put away in this very moment
                child.process.terminate()
        with suppress(OSError):
            self.waker.send(None)

    # --- in the thread -----------------------------------------------------------------------------

    def _follow(self) -> None:
        try:
            for number in range(min(self.work.children, len(self.left))):
                self._hand_out(self._begin(), number)
            while self.children and not self.ended:
                ready = wait([self.woken, *(c.channel for c in self.children)])
                for child in [c for c in self.children if c.channel in ready]:
                    self._hear(child)
        finally:
            for child in tuple(self.children):
                self._put_away(child)
            self.waker.close()
            self.woken.close()

    def _begin(self) -> _Child:
        ours, theirs = Pipe()
        given = (theirs, self.network, self.work.seed, self.work.samples)
        process = _context().Process(target=serve, args=given, daemon=True)
        process.start()
        theirs.close()
        child = _Child(process, ours)
        self.children.append(child)
        return child

    def _hand_out(self, child: _Child, number: int = 0) -> None:
        """Give a child its next question, or let it go when there is none."""
        if self.ended or not self.left:
            self._put_away(child)
            return
        child.key = SAMPLED if number and SAMPLED in self.left else self.left[0]
        self.left.remove(child.key)
        with suppress(OSError):  # gone already: heard as such in a moment
            child.channel.send(child.key)
        self._tell()

    def _hear(self, child: _Child) -> None:
        try:
            what, news = child.channel.recv()
        except Exception:  # closed, or cut off in the middle of a message
            self._lost(child)
            return
        if what == "told":
            self.sampled = news
            self._tell()
            return
        child.key = ""
        self._found(news)
        self._hand_out(child)

    def _lost(self, child: _Child) -> None:
        """A child ended that nobody told to: its question stays open, another child goes on with the rest."""
        key = child.key
        self._put_away(child)
        if self.ended:
            return
        self._found(Answer(key, OPEN, f"{KILLED} {QUESTIONS[key]}"))
        if self.left:
            self._hand_out(self._begin())

    def _found(self, answer: Answer) -> None:
        self.done += 1
        if not self.ended and self.work._deliver(self, answer):
            self._tell()

    def _tell(self) -> None:
        if not self.ended:
            self.work.on_progress(self.version, self.progress)

    def _put_away(self, child: _Child) -> None:
        """Close what joins us to a child and see it off."""
        self.children.remove(child)
        with suppress(OSError):
            child.channel.send(None)
        child.channel.close()
        if self.ended:
            child.process.terminate()
        child.process.join(GRACE)
        if child.process.is_alive():
            child.process.kill()
            child.process.join()
        child.process.close()


KILLED = (
    "Not answered: the process that computed it was ended from outside, for want of memory perhaps. "
    "Change a value or ask again, and it is computed anew."
)


__all__ = ["QUICK", "Progress", "Work", "quick"]
