"""Parallel compilation of the kernels into an empty cache.

Two processes call the kernels of one half of a time step each (`warm_up.py`), a third those of the
reduced models; each stores machine code in numba's cache, from which the run loads it. Numba's
index of a kernel allows only one writer: the processes share only the kernels of the discharge law,
which are small and identical, and a lock makes other runs wait until the cache is complete.

The processes are plain interpreters: spawned ones would run the caller's script again.
"""

import contextlib
import gc
import hashlib
import os
import pickle
import subprocess
import sys
import threading
import warnings
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO

import numba
from filelock import lock_descriptor

from sinkbowl.case.case import Case
from sinkbowl.compiled import CACHE, SOURCES
from sinkbowl.compiled.cache import unkept
from sinkbowl.flow.layout import lay_out
from sinkbowl.running.process_pool import cores
from sinkbowl.running.warm_up import warm_up_models, warm_up_pressure, warm_up_surface

REHEARSALS = {
    "surface": warm_up_surface,
    "pressure": warm_up_pressure,
    "models": warm_up_models,
}


def _whole() -> str:
    """Name of a file in the cache folder that marks it as complete.

    It depends on path and dates of the sources, as numba's cache does: for another installation of
    the same sources the cache is empty.
    """
    digest = hashlib.sha256()
    for source in SOURCES:
        digest.update(f"{source} {source.stat().st_mtime_ns}\n".encode())
    return f"whole-{digest.hexdigest()[:16]}"


WHOLE = _whole()

LOCK = ".lock"


def compile_side_by_side(case: Case) -> None:
    """Fill the cache of kernels, unless it is complete or read-only, or there is one core.

    Failures give a warning; the kernels are then compiled when first called. Raises CaseError if
    the case cannot be computed.
    """
    if (CACHE / WHOLE).exists() or cores() < 2 or numba.config.DISABLE_JIT:  # type: ignore[attr-defined]
        return
    lay_out(case)
    try:
        CACHE.mkdir(parents=True, exist_ok=True)
        with (CACHE / LOCK).open("w") as lock:
            lock_descriptor(lock.fileno())
            if not (CACHE / WHOLE).exists():
                _fill(case, CACHE / WHOLE)
    except OSError:
        return


def _fill(case: Case, mark: Path) -> None:
    """Call all kernels in parallel; write the mark if all succeeded."""
    with TemporaryFile() as said:
        workers = []
        try:
            for name in REHEARSALS:
                workers.append(_start(said))
                _send(workers[-1], (name, case))
            codes = [worker.wait() for worker in workers]
        finally:
            for worker in workers:
                worker.kill()
                worker.communicate()
        if not any(codes):
            mark.touch()
            return
        said.seek(0)
        lines = said.read().decode(errors="replace").split("\n")
    reason = next((line for line in reversed(lines) if line.strip()), f"exit codes {codes}")
    warnings.warn(
        f"Parallel compilation failed; one process compiles instead: {reason}",
        RuntimeWarning,
        stacklevel=4,
    )


def _start(said: IO[bytes]) -> subprocess.Popen[bytes]:
    """A process with the same module path, without Ctrl-C."""
    script = f"import sys; sys.path[:] = {sys.path!r}; from {__name__} import work; work()"
    return subprocess.Popen(
        [sys.executable, "-c", script],
        stdin=subprocess.PIPE,
        stdout=said,
        stderr=said,
        start_new_session=True,
        creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
    )


def _send(worker: subprocess.Popen[bytes], task: tuple[str, Case]) -> None:
    """Send a process its task; if it has died, its exit code shows that."""
    assert worker.stdin is not None
    try:
        worker.stdin.write(pickle.dumps(task))
        worker.stdin.flush()
    except BrokenPipeError:
        with contextlib.suppress(BrokenPipeError):
            worker.stdin.close()  # discards what it has not read
        worker.stdin = None


def work() -> None:
    """Work of a process: its task from standard input, which is open as long as the parent lives.

    Garbage collection is off: compiling creates much and frees little.
    """
    name, case = pickle.load(sys.stdin.buffer)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    gc.disable()
    REHEARSALS[name](case)
    if unkept:
        sys.exit(unkept[0])


def _end_with_parent() -> None:
    os.read(sys.stdin.fileno(), 1)
    os._exit(1)
