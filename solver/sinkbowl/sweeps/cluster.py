"""The executor of a dask cluster (dask.distributed), with workers on other machines.

Scheduler and workers are started with dask's own commands; every worker needs sinkbowl and sees the
sweep's folder under the same path. The scheduler restarts the runs of a lost worker on another one.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Executor, Future
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from sinkbowl.common.errors import CaseError

if TYPE_CHECKING:
    from distributed import Client

PATIENCE = 10  # waiting time for the scheduler [s]


@contextmanager
def cluster_executor(address: str) -> Iterator[Executor]:
    """The executor of a cluster; the cluster itself keeps running afterwards.

    address : of the scheduler, "tcp://HOST:8786"

    Raises CaseError if dask is not installed, or no scheduler answers at the address.
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
            f"does not answer as a dask scheduler ({error})",
            key="--cluster",
            given=address,
            allowed="Start one with `dask scheduler`; it prints its address.",
        ) from None
    quiet = (_silenced(logging.getLogger(f"distributed{name}")) for name in ("", ".client"))
    with next(quiet), next(quiet), client:
        yield _ClusterExecutor(client)


class _ClusterExecutor(Executor):
    """Submits calls to a cluster; each of them ends, even if the scheduler is lost.

    With dask's own executor a call waits for ever if its result was just being sent.
    """

    def __init__(self, client: Client) -> None:
        self._client = client

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Call a function on a worker."""
        answer: Future[Any] = Future()
        remote = self._client.submit(fn, *args, **kwargs)

        def settle(ended: Any) -> None:
            if not answer.set_running_or_notify_cancel():
                return
            try:
                answer.set_result(ended.result(PATIENCE))
            except (OSError, CancelledError, TimeoutError):
                answer.set_exception(
                    ConnectionError("the connection to the cluster's scheduler was lost")
                )
            except BaseException as error:
                answer.set_exception(error)

        remote.add_done_callback(settle)
        answer.add_done_callback(lambda done: remote.cancel() if done.cancelled() else None)
        return answer


@contextmanager
def _silenced(logger: logging.Logger) -> Iterator[None]:
    """Suppresses dask's messages about a lost scheduler, which the runs report."""
    before = logger.level
    logger.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        logger.setLevel(before)
