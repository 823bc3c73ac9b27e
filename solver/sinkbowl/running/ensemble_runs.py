"""Parallel runs for one result: grids of a case, releases of a bowl, or both.

Each run has a hidden result file beside the output and continues from its own checkpoint: after a
kill finished work stays, and the next call computes only what is missing.
"""

import os
import re
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.errors import ResultError, RunError, SinkbowlError
from sinkbowl.files.resumption import finished_result
from sinkbowl.files.safe_writing import make_anew, open_own
from sinkbowl.files.work_file import open_work_file
from sinkbowl.running.forecast import forecast
from sinkbowl.running.job_queue import InThisProcess, OnProgress, QueueReporter, work_off
from sinkbowl.running.process_pool import ProcessPool
from sinkbowl.running.runner import Progress, run
from sinkbowl.scatter.disturbance import Disturbance

OF_AN_ENSEMBLE = r"(progress|grid\d-member\d{3}\.h5(\.part|\.new)?)"
"""Pattern of the ends of its file names."""

POLL = 0.5  # wall time between two readings of the progress [s]


@dataclass(frozen=True)
class EnsembleRun:
    """One run: grid (0 the finest), member, and its file."""

    grid: int
    member: int
    case: Case
    disturbance: Disturbance
    path: Path

    @property
    def name(self) -> str:
        """Its name in messages."""
        return f"member {self.member} on grid {self.grid} (0 is the finest)"

    @property
    def finished(self) -> bool:
        """Whether its file holds the finished result; ResultError where that is damaged."""
        return finished_result(self.path, self.case, self.disturbance) is not None


def ensemble_runs(
    cases: Sequence[Case], disturbances: Sequence[Disturbance], output: Path
) -> list[EnsembleRun]:
    """All runs: every grid with every release, finest grid first.

    cases : the case on each grid, finest first
    disturbances : of each member
    output : the result that they are for
    """
    return [
        EnsembleRun(k, m, case, disturbance, beside(output, f"grid{k}-member{m:03d}.h5"))
        for k, case in enumerate(cases)
        for m, disturbance in enumerate(disturbances)
    ]


def beside(output: Path, name: str) -> Path:
    """Hidden file beside the output that belongs to one of its runs."""
    return output.with_name(f".{output.name}-{name}")


def left_beside(output: Path) -> list[Path]:
    """Files left by an interrupted ensemble."""
    ours = re.compile(re.escape(beside(output, "").name) + OF_AN_ENSEMBLE)
    there = output.parent.iterdir() if output.parent.is_dir() else ()
    return sorted(path for path in there if ours.fullmatch(path.name))


def clear_beside(output: Path) -> None:
    """Remove them; the caller must hold the output's working file."""
    for path in left_beside(output):
        path.unlink(missing_ok=True)


def clear_beside_dead(output: Path) -> None:
    """Remove them if no ensemble is running for this output; ResultError if one is running."""
    if left_beside(output):
        work = open_work_file(output)
        try:
            clear_beside(output)
        finally:
            work.discard()


def run_ensemble(
    runs: Sequence[EnsembleRun], output: Path, workers: int, progress: OnProgress | None = None
) -> None:
    """Compute the missing runs.

    output : the result that they are for
    workers : processes; with one the runs are computed in this process, one after the other
    progress : called regularly

    Raises RunError if a run failed, or all were stopped by hand: the others can be resumed;
    ResultError if files of an earlier call are of another case, or damaged.
    """
    work = [forecast(one.case).cell_steps for one in runs]
    missing = [k for k, one in enumerate(runs) if not one.finished]
    missing.sort(key=lambda k: -work[k])
    board = Board(beside(output, "progress"), len(runs))
    board.shares[:] = 1.0
    board.shares[missing] = 0.0
    reporter = QueueReporter(work, progress, board.shares)
    failed: dict[int, SinkbowlError] = {}

    def report_progress() -> None:
        reporter.report(board.shares)

    def ended(k: int, future: Future[None]) -> None:
        """Errors other than the run's own are raised."""
        error = future.exception()
        if isinstance(error, SinkbowlError):
            failed[k] = error
        elif error is not None:
            raise error

    here = workers == 1 or len(missing) < 2
    jobs = {
        k: (runs[k], board.path, len(runs), k, report_progress if here else None) for k in missing
    }
    executor = InThisProcess() if here else ProcessPool(min(workers, len(missing)))
    try:
        with executor as computing:
            work_off(computing, _sink, jobs, ended, None if here else report_progress, POLL)
    except KeyboardInterrupt:
        done = int(np.sum(board.shares == 1.0))
        raise RunError(
            f"{output}: stopped by hand with {done} of {len(runs)} runs done. Continue with "
            "--resume."
        ) from None
    finally:
        board.remove()
    for k, error in sorted(failed.items()):
        report = str(error).removeprefix(f"{runs[k].path}: ")
        raise type(error)(f"{output}: {runs[k].name}: {report}") from error


class Board:
    """Completed share of each run, in a file shared by the processes."""

    def __init__(self, path: Path, runs: int, mode: str = "w+") -> None:
        self.path = path
        try:
            opened = make_anew(path) if mode == "w+" else os.fdopen(open_own(path), "r+b")
            with opened as file:
                self.shares = np.memmap(file, np.float64, mode, shape=(runs,))  # type: ignore[call-overload]
        except OSError as error:
            raise ResultError(f"{path}: cannot be written ({error.strerror}).") from error

    def remove(self) -> None:
        """Copy the numbers and remove the file; Windows cannot remove a mapped file."""
        self.shares = np.array(self.shares)
        self.path.unlink(missing_ok=True)


def _sink(
    run_: EnsembleRun, board: Path, runs: int, slot: int, report: Callable[[], None] | None
) -> None:
    """Compute or continue a run, with its share on the board.

    A run that is finished already stays, as when its process was lost before reporting. Raises
    KeyboardInterrupt if it was stopped by hand.
    """
    shares = Board(board, runs, "r+").shares

    def show(now: Progress) -> None:
        shares[slot] = min(now.fraction_done, 0.999)
        if report:
            report()

    if not run_.finished:
        done = run(run_.case, run_.path, resume=True, progress=show, disturbance=run_.disturbance)
        if done.status != "finished":
            raise KeyboardInterrupt
    shares[slot] = 1.0
    if report:
        report()
