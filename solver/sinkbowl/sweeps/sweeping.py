"""Parallel computation of many runs of a case with varied values, in one folder.

An interrupted sweep continues when it is called again.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import Executor, Future
from contextlib import contextmanager, nullcontext, suppress
from pathlib import Path

from sinkbowl.case.case import Case
from sinkbowl.common.errors import LONGEST, ResultError
from sinkbowl.files.untrusted_folder import hold
from sinkbowl.running.forecast import forecast
from sinkbowl.running.job_queue import Tell, work_off
from sinkbowl.running.process_pool import cores, processes
from sinkbowl.sweeps.index import INDEX, Sweep
from sinkbowl.sweeps.log import open_log
from sinkbowl.sweeps.plan import Over, plan_sweep
from sinkbowl.sweeps.task import TaskEnd, compute

LOCK = ".lock"


def sweep(
    case: Case,
    over: Over,
    folder: str | Path,
    *,
    executor: Executor | None = None,
    workers: int | None = None,
    levels: int = 1,
    members: int = 1,
    seed: int = 0,
    progress: Tell | None = None,
) -> Sweep:
    """Compute a sweep, or its missing runs.

    Ctrl-C stops it; finished runs stay, the others wait. A script that calls this without an
    executor needs ``if __name__ == "__main__":`` around its work.

    Parameters
    ----------
    case : the varied case
    over : dotted keys and their values, ``{"hole.diameter": "6mm:92mm:12"}`` or ``{"hole.diameter":
        [0.006, 0.01]}`` in SI units, all pairs of two keys; or a sequence of such mappings, one per
        run
    folder : created if missing; gets the index ``index.h5`` and one result file per run
    executor : for instance of a cluster whose workers see the same folder; default: processes on
        this machine
    workers : number of processes without an executor; default: one per core
    levels : number of grids per run, 1 or as in `run_grids`
    members, seed : number and seed of releases per run, as in `run_members`; 1 for the case's own
        release
    progress : called with the state of the sweep after each run

    Returns
    -------
    Sweep

    Raises
    ------
    CaseError : the plan is wrong; nothing is written
    ResultError : the folder contains another plan or other files, is used by another sweep, or
        cannot be written
    """
    plan = plan_sweep(case, over, levels, members, seed)
    work = {run.name: forecast(run.case).cell_steps for run in plan.runs}
    with _claimed(Path(folder)) as place:
        log = open_log(place, plan, work, progress)
        missing = sorted(log.missing(), key=lambda run: -work[run.name])
        jobs = {run.name: (run, place) for run in missing}
        count = min(workers or cores(), max(len(missing), 1))
        local = processes(count, log.lost)
        with nullcontext(executor) if executor else local as computing, suppress(KeyboardInterrupt):
            work_off(computing, compute, jobs, lambda name, future: log.end(name, _outcome(future)))
        log.clear_up()
        return log.state


def _outcome(future: Future[TaskEnd]) -> TaskEnd:
    """Result of a task, or its exception as the reason of the failure."""
    if future.cancelled():
        return TaskEnd("failed", "its executor cancelled it", None)
    error = future.exception()
    if error is None:
        return future.result()
    return TaskEnd("failed", f"{type(error).__name__}: {error}"[:LONGEST], None)


@contextmanager
def _claimed(folder: Path) -> Iterator[Path]:
    """The folder, created if needed and locked for one sweep; ResultError if it is unusable."""
    folder = folder.absolute()
    try:
        folder.mkdir(exist_ok=True)
        strange = any(folder.iterdir()) and not {INDEX, LOCK} & set(os.listdir(folder))
        if strange:
            raise ResultError(f"{folder}: is not empty and contains no sweep. Give a new folder.")
        lock = hold(folder / LOCK)
    except OSError as error:
        raise ResultError(f"{folder}: cannot be used ({error.strerror}).") from error
    if lock is None:
        raise ResultError(f"{folder}: another sweep is running there. Wait until it ends.")
    try:
        yield folder
    finally:
        os.close(lock)
