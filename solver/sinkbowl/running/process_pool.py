"""Pool of processes for parallel runs, with the interface of `concurrent.futures`.

Each process is a pool of its own. If one is killed, only its run is lost and is started again in a
new process. No process outlives its parent: all of them watch a pipe that closes with it.

No heavy imports here: the number of threads of a process must be set before.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from queue import SimpleQueue
from typing import TYPE_CHECKING, Any

from sinkbowl.common.errors import RunError

if TYPE_CHECKING:
    if sys.platform == "win32":
        from multiprocessing.connection import PipeConnection as Connection
    else:
        from multiprocessing.connection import Connection

ATTEMPTS = 3  # number of lost processes after which a task fails

THREAD_COUNTS = ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


class ProcessPool(Executor):
    """A fixed number of processes, started by "spawn", that share the machine's cores.

    workers : their number
    lost : called with the arguments of a task whose process was lost, from any thread
    """

    def __init__(self, workers: int, lost: Callable[..., None] = lambda *_: None) -> None:
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
        """Call a function in a process; tasks start in order."""
        return self._hands.submit(self._call, fn, args, kwargs)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Let the processes finish their tasks and end."""
        self._hands.shutdown(wait, cancel_futures=cancel_futures)
        while not self._idle.empty():
            self._idle.get().shutdown(wait)
        self._held.close()

    def __exit__(self, *_: object) -> None:
        self.stop()

    def stop(self) -> None:
        """End all processes at once, in the middle of their tasks; so does the ``with`` block."""
        self._stopped = True
        self._held.close()
        self.shutdown(cancel_futures=True)

    def _call(self, fn: Callable[..., Any], args: tuple[Any, ...], kwargs: dict[str, Any]) -> Any:
        """Result of a task, repeated if its process is lost."""
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


def cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _settle(watched: Connection[Any, Any], threads: int) -> None:
    """First action in a new process: set its threads, and its end with its parent.

    Ctrl-C goes to the parent alone, which then ends its processes.
    """
    for name in THREAD_COUNTS:
        os.environ[name] = str(threads)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, args=(watched,), daemon=True).start()


def _end_with_parent(watched: Connection[Any, Any]) -> None:
    """Nothing is sent: the wait ends with the sender."""
    try:
        watched.poll(None)
    finally:
        os._exit(1)
