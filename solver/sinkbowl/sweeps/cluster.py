"""Workers on other machines: the executor of a dask cluster (dask.distributed).

Scheduler and workers are started with dask's own commands; every worker needs sinkbowl and sees the
sweep's folder under the same path. The runs of a worker that is lost are begun again on another one
by the scheduler.
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
            f"does not answer as a dask scheduler ({error})",
            key="--cluster",
            given=address,
            allowed="Start one with `dask scheduler`; it prints its address.",
        ) from None
    quiet = (_silenced(logging.getLogger(f"distributed{name}")) for name in ("", ".client"))
    with next(quiet), next(quiet), client:
        yield _ClusterExecutor(client)


class _ClusterExecutor(Executor):
    """Hands calls to a cluster; each of them ends, also when the scheduler is lost meanwhile.

    With the executor that dask brings, a call waits for ever whose result was on its way just then.
    """

    def __init__(self, client: Client) -> None:
        self._client = client

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Have a worker call a function."""
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
    """Without the pages that dask's client prints about a lost scheduler: the runs tell of it."""
    before = logger.level
    logger.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        logger.setLevel(before)
