"""Who shares long work, and how far it is: a pool of processes, a cluster, or this process alone."""

from __future__ import annotations

import multiprocessing
import sys
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import ExitStack, contextmanager
from typing import Any

import click

from tideover.cli.common import Refusal

PATIENCE = 10.0
"""How long a cluster's scheduler may take to answer. [s]"""


@contextmanager
def at_work(workers: int | None, cluster: str | None) -> Iterator[Executor | None]:
    """An executor while it is needed.

    Parameters
    ----------
    workers : int, optional
        Processes; one for each processor unless told, none for 0 or 1. [-]
    cluster : str, optional
        Address of a scheduler, which then shares the work instead. [-]
    """
    if cluster and workers is not None:
        raise Refusal("--workers and --cluster are two answers to one question.", "Write one of them.")
    if cluster:
        with _client(cluster) as client:
            yield client.get_executor()
        return
    from tideover.cases.share import pool

    executor = pool(workers)
    try:
        yield executor
    except KeyboardInterrupt:  # nobody waits for what workers are still at
        for worker in multiprocessing.active_children():
            worker.terminate()
        raise
    finally:
        if executor is not None:
            executor.shutdown(cancel_futures=True)


def _client(address: str) -> Any:
    try:
        from distributed import Client
    except ImportError:
        missing = "--cluster needs a library that is not installed."
        raise Refusal(missing, "Write: pip install 'tideover[cluster]'") from None
    try:
        return Client(address, timeout=PATIENCE)
    except (OSError, ValueError) as error:
        said = " ".join(str(error).split())[:120]
        raise Refusal(
            f"--cluster {address}: no scheduler answers there ({said}).",
            "Start one with: dask scheduler, and on each machine: dask worker ADDRESS",
        ) from None


class Progress:
    """A bar with the time left on standard error, for people only; pipes and files see nothing of it."""

    def __init__(self) -> None:
        self.stack = ExitStack()
        self.bar: Any = None

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, *error: object) -> None:
        self.stack.close()

    def __call__(self, done: int, total: int) -> None:
        if not sys.stderr.isatty():
            return
        if self.bar is None:
            self.bar = self.stack.enter_context(
                click.progressbar(length=total, label="Sampling", file=sys.stderr, show_eta=True)
            )
        self.bar.update(done - self.bar.pos)
        if done >= total:
            self.stack.close()
            self.bar = None
