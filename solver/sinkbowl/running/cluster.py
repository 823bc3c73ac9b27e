"""Workers on other machines: the executor of a dask cluster (dask.distributed).

Scheduler and workers are started with dask's own commands; every worker needs sinkbowl and sees the
sweep's folder under the same path. The runs of a worker that is lost are begun again on another one
by the scheduler.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager

from sinkbowl.errors import CaseError

PATIENCE = 10
"""How long to wait for the scheduler [s]."""


@contextmanager
def cluster_executor(address: str) -> Iterator[Executor]:
    """The executor of a cluster; the cluster itself stays when it is left.

    Parameters
    ----------
    address : of the scheduler, "tcp://HOST:8786"

    Raises
    ------
    CaseError : dask is not installed, or no scheduler answers there
    """
    try:
        from distributed import Client
        from distributed.comm.addressing import resolve_address
    except ImportError:
        raise CaseError(
            "needs dask", key="--cluster", allowed="Install it: pip install 'sinkbowl[cluster]'"
        ) from None
    try:
        resolve_address(address)
        client = Client(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError) as error:
        raise CaseError(
            f"has no scheduler that answers ({error})",
            key="--cluster",
            given=address,
            allowed="Start one with `dask scheduler`; it prints its address.",
        ) from None
    with _silenced(logging.getLogger("distributed.client")), client:
        executor = client.get_executor()
        yield executor
        executor.shutdown(wait=False)


@contextmanager
def _silenced(logger: logging.Logger) -> Iterator[None]:
    """Without the pages that dask's client prints about a lost scheduler: the runs tell of it."""
    before = logger.level
    logger.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        logger.setLevel(before)
