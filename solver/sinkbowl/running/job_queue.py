"""Queue of the runs of ensembles and sweeps, and its progress.

An executor of `concurrent.futures` computes: processes of this machine (process_pool.py), a cluster
(sweeps/cluster.py), or this process itself.
"""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from dataclasses import dataclass
from time import monotonic
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.errors import SinkbowlError

JUDGED_FROM = 0.02  # share that must be done in this session before the remaining time is estimated

Name = TypeVar("Name")


@dataclass(frozen=True)
class QueueProgress:
    """Progress of all runs together.

    done and total runs; fraction_done of the work, 0..1; remaining_seconds: estimate, None if
    unknown.
    """

    done: int
    total: int
    fraction_done: float
    remaining_seconds: float | None


OnProgress = Callable[[QueueProgress], None]


class Pace:
    """Remaining time, estimated from the progress in this session."""

    def __init__(self, done: float, judged_from: float = JUDGED_FROM) -> None:
        self._begun, self._before, self._judged_from = monotonic(), done, judged_from

    def left(self, done: float) -> float | None:
        """Remaining wall time [s], None if unknown."""
        gained = done - self._before
        return self.seconds * (1.0 - done) / gained if gained > self._judged_from else None

    @property
    def seconds(self) -> float:
        """Wall time since the beginning [s]."""
        return monotonic() - self._begun


class QueueReporter:
    """Reports how far a queue is by the share of each job that is done.

    work : of each job, in any unit
    on_progress : called with the state; None for no reports
    shares : that are done already, (jobs,), 0..1
    runs : number of jobs that are counted, the first ones; the others are work after them
    judged_from : share that must be done before what is left is guessed
    """

    def __init__(
        self,
        work: Sequence[float],
        on_progress: OnProgress | None,
        shares: NDArray[np.float64],
        runs: int | None = None,
        judged_from: float = JUDGED_FROM,
    ) -> None:
        self._counted = slice(runs)
        self._work, self._on_progress = np.asarray(work, dtype=float) / np.sum(work), on_progress
        self._before, self._judged_from = self._done(shares), judged_from
        self._pace = Pace(self._before, judged_from)

    def report(self, shares: NDArray[np.float64]) -> None:
        """Report now; the clock starts when the first job has moved."""
        if self._on_progress is None:
            return
        share = self._done(shares)
        if share == self._before:
            self._pace = Pace(share, self._judged_from)
        left = self._pace.left(share)
        counted = shares[self._counted]
        self._on_progress(QueueProgress(int(np.sum(counted == 1.0)), len(counted), share, left))

    def _done(self, shares: NDArray[np.float64]) -> float:
        return float(np.sum(self._work * shares))


class InThisProcess(Executor):
    """Executor that computes before `submit` returns; foreign errors pass through."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Call a function."""
        answer: Future[Any] = Future()
        try:
            answer.set_result(fn(*args, **kwargs))
        except SinkbowlError as error:
            answer.set_exception(error)
        return answer


def work_off(
    executor: Executor,
    call: Callable[..., Any],
    jobs: Mapping[Name, tuple[Any, ...]],
    ended: Callable[[Name, Future[Any]], None],
    meanwhile: Callable[[], None] | None = None,
    poll: float | None = None,
) -> None:
    """Compute jobs in order.

    call, jobs : the function, and its arguments by job name
    ended : called with name and future of each job
    meanwhile : called after those, and every `poll` seconds [s]

    Raises KeyboardInterrupt after Ctrl-C; jobs that have not started are cancelled.
    """
    pending: dict[Future[Any], Name] = {}
    try:
        for name, arguments in jobs.items():
            future = executor.submit(call, *arguments)
            if future.done():  # computed in this process
                ended(name, future)
            else:
                pending[future] = name
        while pending:
            done, _ = wait(pending, poll, FIRST_COMPLETED)
            for future in done:
                ended(pending.pop(future), future)
            if meanwhile:
                meanwhile()
    except KeyboardInterrupt:
        for future in pending:
            future.cancel()
        raise
