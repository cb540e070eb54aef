"""Work shared out: one task over many pieces, in this process or on any `concurrent.futures.Executor`.

A pool of processes, a cluster of machines or nothing at all: a piece is the same work wherever it is done, and results
are put together in the order of the pieces, so who did it changes no number.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import BrokenExecutor, CancelledError, Executor, Future, as_completed
from contextlib import suppress
from dataclasses import dataclass
from typing import Generic, TypeVar

P = TypeVar("P")
R = TypeVar("R")
PIECE = 500
"""Cases in a piece, whoever works on it: with fewer the steps cost more than the cases; with more few can help."""
Told = Callable[[int, int], object]
"""Called with the pieces done and all of them."""


@dataclass(frozen=True)
class Shared(Generic[R]):
    """What came back.

    Attributes
    ----------
    results : tuple
        Of each piece in their order; None for a piece that was not finished.
    interrupted : bool
        Whether the user stopped it before all were.
    """

    results: tuple[R | None, ...]
    interrupted: bool

    @property
    def finished(self) -> tuple[R, ...]:
        """Results that there are."""
        return tuple(r for r in self.results if r is not None)


def share(
    task: Callable[[P], R], pieces: Sequence[P], executor: Executor | None = None, told: Told | None = None
) -> Shared[R]:
    """Run a task over pieces.

    Parameters
    ----------
    task : callable
        ``task(piece) -> result``, a function of a module, so that another process finds it by its name; its result is
        not None. [-]
    pieces : sequence
        What can travel to another process. [-]
    executor : Executor, optional
        Who works; without one, this process. [-]
    told : callable, optional
        ``told(done, total)`` after each piece. [-]

    Returns
    -------
    shared : Shared
        Results in the order of the pieces. An interrupt keeps those that are finished or under way; an error of a task
        is raised. [-]

    Examples
    --------
    >>> share(len, ["a", "bb", "ccc"]).results
    (1, 2, 3)
    """
    results: list[R | None] = [None] * len(pieces)
    futures: dict[Future[R], int] = {}
    done, interrupted = 0, False
    try:
        if executor is not None:
            futures.update((executor.submit(task, piece), k) for k, piece in enumerate(pieces))
        for k, result in _finished(task, pieces, futures):
            results[k] = result
            done += 1
            if told:
                told(done, len(pieces))
    except KeyboardInterrupt:
        interrupted = True
        with suppress(KeyboardInterrupt, BrokenExecutor):  # what is under way cannot be stopped: it counts, too
            for future in [f for f in futures if not f.cancel()]:
                with suppress(CancelledError):
                    results[futures[future]] = future.result()
    finally:
        for future in futures:
            future.cancel()
    return Shared(tuple(results), interrupted)


def _finished(
    task: Callable[[P], R], pieces: Sequence[P], futures: Mapping[Future[R], int]
) -> Iterator[tuple[int, R]]:
    """Number and result of each piece as it is finished: by others, and here what they leave."""
    left = dict.fromkeys(range(len(pieces)))
    try:
        for future in as_completed(futures):
            result = future.result()
            del left[futures[future]]
            yield futures[future], result
    except BrokenExecutor:  # a worker was killed, for want of memory perhaps
        pass
    for k in left:
        yield k, task(pieces[k])


def pool(workers: int | None = None) -> Executor | None:
    """A pool of processes; None where one worker or none is asked for. It starts them when they are needed.

    Parameters
    ----------
    workers : int, optional
        How many; one for each processor unless told. [-]

    Notes
    -----
    On Linux a worker begins as a copy of this process, with the equations of the network traced and compiled already;
    a fresh one takes two seconds to get there. The command runs no threads of its own that a copy could upset.
    """
    count = (os.cpu_count() or 1) if workers is None else workers
    if count <= 1:
        return None
    import multiprocessing  # takes a while, so only where it is needed
    from concurrent.futures import ProcessPoolExecutor

    method = multiprocessing.get_context("fork" if sys.platform == "linux" else None)
    return ProcessPoolExecutor(count, method, initializer=_left_to_the_first)


def _left_to_the_first() -> None:
    """An interrupt at the keyboard reaches all processes; only the first one decides what it ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


__all__ = ["PIECE", "Shared", "Told", "pool", "share"]
