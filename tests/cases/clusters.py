"""A scheduler and two workers on this machine."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest


@contextmanager
def loopback(processes: bool = True) -> Iterator[Any]:
    """A client's executor; the test is skipped where the extra is not installed."""
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            processes=processes,
            protocol="tcp://",
            host="127.0.0.1",
            dashboard_address=None,
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        yield client.get_executor()
