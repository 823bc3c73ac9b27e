"""Parallel runs for one result: grids of a case, releases of a bowl, or both.

Each run has a hidden result file beside the output and continues from its own checkpoint: after a
kill finished work stays, and the next call computes only what is missing. A run that gives only a
time and its curves ends once the rim is under.
"""

import math
import os
import re
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.errors import ResultError, RunError, SinkbowlError
from sinkbowl.files.checkpoint import result_of
from sinkbowl.files.result import read_result
from sinkbowl.files.safe_writing import make_anew, open_own
from sinkbowl.files.work_file import open_work_file
from sinkbowl.running.forecast import forecast
from sinkbowl.running.job_queue import InThisProcess, OnProgress, QueueReporter, work_off
from sinkbowl.running.process_pool import ProcessPool
from sinkbowl.running.runner import AT_THE_RIM, Progress, run
from sinkbowl.scatter import Disturbance
from sinkbowl.statics.hydrostatics import floats

OF_AN_ENSEMBLE = r"(progress|grid\d-member\d{3}\.h5(\.part|\.new)?)"
"""Pattern of the ends of its file names."""

RIM_SHARE = 0.6  # share of a run's work until its rim is under, roughly
POLL = 0.5  # wall time between two readings of the progress [s]


@dataclass(frozen=True)
class EnsembleRun:
    """One run: grid (0 the finest), member, its file, and whether it goes on after the rim."""

    grid: int
    member: int
    case: Case
    disturbance: Disturbance
    path: Path
    whole: bool = False

    @property
    def to_the_rim(self) -> bool:
        """Whether it ends once the rim is under; a bowl that floats may come up again."""
        return not self.whole and not floats(self.case)

    @property
    def name(self) -> str:
        """Its name in messages."""
        return f"member {self.member} on grid {self.grid} (0 is the finest)"

    @property
    def finished(self) -> bool:
        """Whether its file holds all it is to compute; ResultError where that is damaged."""
        result = result_of(self.path, self.case, self.disturbance)
        if result is None:
            return False
        enough = self.to_the_rim and result.attrs["message"] == AT_THE_RIM
        return bool(enough) or result.status == "finished"


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
) -> int:
    """Compute the missing runs: all until the rim is under, then the median one to its end.

    Returns the index of the median member on the finest grid.

    output : the result that they are for
    workers : processes; with one the runs are computed in this process, one after the other
    progress : called regularly

    Raises RunError if a run failed, or all were stopped by hand: the others can be resumed;
    ResultError if files of an earlier call are of another case, or damaged.
    """
    whole = [forecast(one.case).cell_steps for one in runs]
    work = [*(RIM_SHARE * one for one in whole), (1.0 - RIM_SHARE) * whole[0]]
    missing = [k for k, one in enumerate(runs) if not one.finished]
    missing.sort(key=lambda k: -work[k])
    board = Board(beside(output, "progress"), len(work))
    board.shares[: len(runs)] = 1.0
    board.shares[missing] = 0.0
    reporter = QueueReporter(work, progress, board.shares, len(runs))

    def report_progress() -> None:
        reporter.report(board.shares)

    def compute(jobs: Mapping[int, EnsembleRun]) -> None:
        """Work off runs by their slot on the board."""
        failed: dict[int, SinkbowlError] = {}

        def ended(slot: int, future: Future[None]) -> None:
            """Errors other than the run's own are raised."""
            error = future.exception()
            if isinstance(error, SinkbowlError):
                failed[slot] = error
            elif error is not None:
                raise error

        here = workers == 1 or len(jobs) < 2
        where = (board.path, len(work))
        each = {k: (one, *where, k, report_progress if here else None) for k, one in jobs.items()}
        executor = InThisProcess() if here else ProcessPool(min(workers, len(jobs)))
        with executor as computing:
            work_off(computing, _sink, each, ended, None if here else report_progress, POLL)
        for slot, error in sorted(failed.items()):
            report = str(error).removeprefix(f"{jobs[slot].path}: ")
            raise type(error)(f"{output}: {jobs[slot].name}: {report}") from error

    try:
        compute({k: runs[k] for k in missing})
        finest = [read_result(run.path).sinking_time for run in runs if run.grid == 0]
        median = median_member(finest)
        whole_run = replace(runs[median], whole=True)
        compute({} if whole_run.finished else {len(runs): whole_run})
        return median
    except KeyboardInterrupt:
        done = int(np.sum(board.shares[: len(runs)] == 1.0))
        raise RunError(
            f"{output}: stopped by hand with {done} of {len(runs)} runs done. Continue with "
            "--resume."
        ) from None
    finally:
        board.remove()


def median_member(times: Sequence[float | None]) -> int:
    """The median member; of an even number the quicker of the two in the middle.

    A dry rim counts as the latest.
    """
    never = (math.inf if time is None else time for time in times)
    order = sorted(enumerate(never), key=lambda one: (one[1], one[0]))
    return order[(len(times) - 1) // 2][0]


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
        run(
            run_.case,
            run_.path,
            resume=True,
            progress=show,
            disturbance=run_.disturbance,
            to_the_rim=run_.to_the_rim,
        )
        if not run_.finished:
            raise KeyboardInterrupt
    shares[slot] = 1.0
    if report:
        report()
