"""Processes that compute runs side by side, behind the interface of `concurrent.futures`.

Each process is a pool of its own. So one that is killed takes only its own run with it: that run is
begun again in a new process, the others do not notice. No process outlives its parent: all of them
hold the far end of a pipe that closes with it, however it ends.

Nothing heavy is imported here: what a process may use of the machine has to be settled before.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from functools import partial
from queue import SimpleQueue
from typing import TYPE_CHECKING, Any

from sinkbowl.common.errors import RunError

if TYPE_CHECKING:
    if sys.platform == "win32":
        from multiprocessing.connection import PipeConnection as Connection
    else:
        from multiprocessing.connection import Connection

ATTEMPTS = 3
"""Processes that a task may lose before it is given up."""

THREAD_COUNTS = ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


def _unnoticed(*_: object) -> None:
    """What is done where nobody counts the processes that are lost."""


class ProcessPool(Executor):
    """A fixed number of processes, started by "spawn", that share the machine's cores.

    Parameters
    ----------
    workers : how many
    lost : called with the arguments of a task each time that its process was lost, from any thread
    """

    def __init__(self, workers: int, lost: Callable[..., None] = _unnoticed) -> None:
        self._lost = lost
        self._stopped = False
        self._context = multiprocessing.get_context("spawn")
        self._watched, self._held = self._context.Pipe(duplex=False)
        self._threads_each = max(1, cores() // workers)
        self._hands = ThreadPoolExecutor(workers, "runs")
        self._idle: SimpleQueue[ProcessPoolExecutor] = SimpleQueue()
        for _ in range(workers):
            self._idle.put(self._new_process())

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Have a process call a function; tasks are begun in the order in which they come."""
        return self._hands.submit(self._call, fn, args, kwargs)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Let the processes finish what they do and end."""
        self._hands.shutdown(wait, cancel_futures=cancel_futures)
        while not self._idle.empty():
            self._idle.get().shutdown(wait)
        self._held.close()

    def stop(self) -> None:
        """End all processes at once, in the middle of what they do."""
        self._stopped = True
        self._held.close()
        self.shutdown(cancel_futures=True)

    def _call(self, fn: Callable[..., Any], args: tuple[Any, ...], kwargs: dict[str, Any]) -> Any:
        """Result of a task, begun again where its process is lost."""
        process = self._idle.get()
        try:
            for _ in range(ATTEMPTS):
                try:
                    return process.submit(fn, *args, **kwargs).result()
                except BrokenProcessPool:
                    process.shutdown()
                    if self._stopped:
                        raise
                    self._lost(*args)
                    process = self._new_process()
        finally:
            self._idle.put(process)
        raise RunError(
            f"its process ended unexpectedly {ATTEMPTS} times: killed, or out of memory? "
            '(A script that starts processes needs `if __name__ == "__main__":` around it.)'
        )

    def _new_process(self) -> ProcessPoolExecutor:
        settle = partial(_settle, self._watched, self._threads_each)
        return ProcessPoolExecutor(1, self._context, settle)


@contextmanager
def processes(workers: int, lost: Callable[..., None] = _unnoticed) -> Iterator[ProcessPool]:
    """A pool as long as the `with` block lasts; then its processes end, whatever they do."""
    pool = ProcessPool(workers, lost)
    try:
        yield pool
    finally:
        pool.stop()


def cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _settle(watched: Connection[Any, Any], threads: int) -> None:
    """First thing in a new process: its threads, and its end with its parent.

    Ctrl-C goes to the parent alone, which then ends its processes.
    """
    for name in THREAD_COUNTS:
        os.environ[name] = str(threads)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, args=(watched,), daemon=True).start()


def _end_with_parent(watched: Connection[Any, Any]) -> None:
    """Nothing is ever sent: what ends the wait is the end of the sender."""
    try:
        watched.poll(None)
    finally:
        os._exit(1)
