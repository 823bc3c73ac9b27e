"""Several runs for one result, side by side: grids of one case, releases of one bowl, or both.

Each run has a hidden result file beside the output and goes on from its own checkpoint. So whatever
is killed, what was computed stays, and the next sitting computes what is missing and nothing else.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, wait
from dataclasses import dataclass
from pathlib import Path
from time import monotonic

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.errors import ResultError, RunError, SinkbowlError
from sinkbowl.files.result import read_result
from sinkbowl.files.resumption import disturbance_of
from sinkbowl.files.untrusted_folder import make_anew, open_own
from sinkbowl.files.work_file import open_work_file
from sinkbowl.running.forecast import forecast
from sinkbowl.running.process_pool import ProcessPool
from sinkbowl.running.progress import Progress
from sinkbowl.running.runner import run
from sinkbowl.scatter.disturbance import Disturbance

OF_AN_ENSEMBLE = r"(progress|grid\d-member\d{3}\.h5(\.part|\.new)?)"
"""Ends of the names of its files, as a pattern."""

POLL = 0.5
"""Wall time between two looks at how far the processes are [s]."""


@dataclass(frozen=True)
class EnsembleRun:
    """One run: the grid (0 the finest) and the release (member) that it is, and where it lies."""

    grid: int
    member: int
    case: Case
    disturbance: Disturbance
    path: Path

    @property
    def name(self) -> str:
        """What messages call it."""
        return f"member {self.member} on grid {self.grid} (0 is the finest)"


@dataclass(frozen=True)
class EnsembleProgress:
    """How far all runs have come together.

    done and total runs; fraction_done of the work, 0..1; remaining_seconds expected, None where
    there is nothing to judge by.
    """

    done: int
    total: int
    fraction_done: float
    remaining_seconds: float | None


Tell = Callable[[EnsembleProgress], None]


def ensemble_runs(
    cases: Sequence[Case], disturbances: Sequence[Disturbance], output: Path
) -> list[EnsembleRun]:
    """All runs: every grid with every release, finest grid first.

    Parameters
    ----------
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
    """Files that an interrupted ensemble left."""
    ours = re.compile(re.escape(beside(output, "").name) + OF_AN_ENSEMBLE)
    there = output.parent.iterdir() if output.parent.is_dir() else ()
    return sorted(path for path in there if ours.fullmatch(path.name))


def clear_beside(output: Path) -> None:
    """Remove them; the caller holds the output's working file."""
    for path in left_beside(output):
        path.unlink(missing_ok=True)


def clear_beside_dead(output: Path) -> None:
    """Remove them where no ensemble is at work for this output.

    Raises
    ------
    ResultError : one is
    """
    if left_beside(output):
        work = open_work_file(output)
        try:
            clear_beside(output)
        finally:
            work.discard()


def ended(run_: EnsembleRun) -> bool:
    """Whether a run is finished: its very case and release.

    Raises
    ------
    ResultError : its file is damaged
    """
    if not run_.path.exists():
        return False
    result = read_result(run_.path)
    same = result.attrs["case_text"] == run_.case.text
    same = same and np.array_equal(result.grid.get("outline", ()), run_.case.bowl.polygon)
    return result.status == "finished" and same and disturbance_of(result) == run_.disturbance


def run_ensemble(
    runs: Sequence[EnsembleRun], output: Path, workers: int, progress: Tell | None = None
) -> None:
    """Compute what is missing of the runs.

    Parameters
    ----------
    output : the result that they are for
    workers : processes; with one the runs are computed in this process, one after the other
    progress : called now and then

    Raises
    ------
    RunError : a run failed, or all were stopped by hand; the others are kept to be gone on with
    ResultError : the files of an earlier sitting are of another case, or damaged
    """
    work = [forecast(one.case).cell_steps for one in runs]
    missing = [k for k, one in enumerate(runs) if not ended(one)]
    missing.sort(key=lambda k: -work[k])
    board = Board(beside(output, "progress"), len(runs))
    board.shares[:] = 1.0
    board.shares[missing] = 0.0
    log = _Log(board, np.array(work, dtype=float), progress)
    try:
        if workers == 1 or len(missing) < 2:
            failed = _one_by_one(runs, missing, log)
        else:
            failed = _side_by_side(runs, missing, log, min(workers, len(missing)))
    except KeyboardInterrupt:
        done = int(np.sum(board.shares == 1.0))
        raise RunError(
            f"{output}: stopped by hand with {done} of {len(runs)} runs done. Continue with "
            "--resume."
        ) from None
    finally:
        board.remove()
    for k, error in sorted(failed.items()):
        told = str(error).removeprefix(f"{runs[k].path}: ")
        raise type(error)(f"{output}: {runs[k].name}: {told}") from error


class Board:
    """Shares of the runs that are done, in a file that the processes see, a number a run."""

    def __init__(self, path: Path, runs: int, mode: str = "w+") -> None:
        self.path = path
        try:
            opened = make_anew(path) if mode == "w+" else os.fdopen(open_own(path), "r+b")
            with opened as file:
                self.shares = np.memmap(file, np.float64, mode, shape=(runs,))  # type: ignore[call-overload]
        except OSError as error:
            raise ResultError(f"{path}: cannot be written ({error.strerror}).") from error

    def remove(self) -> None:
        """Remove the file; its numbers stay, copied, because Windows removes no mapped file."""
        self.shares = np.array(self.shares)
        self.path.unlink(missing_ok=True)


class _Log:
    """Tells how far the ensemble is."""

    def __init__(self, board: Board, work: np.ndarray, tell: Tell | None) -> None:
        self.board = board
        self._work = work / work.sum()
        self._tell = tell
        self._begun, self._before = monotonic(), self._share()

    def tell(self) -> None:
        """Tell it now."""
        if self._tell is None:
            return
        share, shares = self._share(), self.board.shares
        if share == self._before:
            self._begun = monotonic()
        gained = share - self._before
        left = (monotonic() - self._begun) * (1.0 - share) / gained if gained > 0.02 else None
        self._tell(EnsembleProgress(int(np.sum(shares == 1.0)), len(shares), share, left))

    def _share(self) -> float:
        return float(np.sum(self._work * self.board.shares))


def _one_by_one(
    runs: Sequence[EnsembleRun], missing: Sequence[int], log: _Log
) -> dict[int, SinkbowlError]:
    """Compute runs in this process; errors by run."""
    failed: dict[int, SinkbowlError] = {}
    for k in missing:

        def show(now: Progress, k: int = k) -> None:
            log.board.shares[k] = min(now.fraction_done, 0.999)
            log.tell()

        try:
            _sink(runs[k], show)
            log.board.shares[k] = 1.0
            log.tell()
        except SinkbowlError as error:
            failed[k] = error
    return failed


def _side_by_side(
    runs: Sequence[EnsembleRun], missing: Sequence[int], log: _Log, workers: int
) -> dict[int, SinkbowlError]:
    """Compute runs in processes; errors by run."""
    failed: dict[int, SinkbowlError] = {}
    pool = ProcessPool(workers, lambda *_: None)
    try:
        pending: dict[Future[None], int] = {
            pool.submit(_sink_there, runs[k], log.board.path, len(runs), k): k for k in missing
        }
        while pending:
            done, _ = wait(pending, POLL, FIRST_COMPLETED)
            for future in done:
                k = pending.pop(future)
                error = future.exception()
                if isinstance(error, SinkbowlError):
                    failed[k] = error
                elif error is not None:
                    raise error
                else:
                    log.board.shares[k] = 1.0
            log.tell()
    finally:
        pool.stop()
    return failed


def _sink_there(run_: EnsembleRun, board: Path, runs: int, slot: int) -> None:
    """What a process does."""
    shares = Board(board, runs, "r+").shares

    def show(now: Progress) -> None:
        shares[slot] = min(now.fraction_done, 0.999)

    _sink(run_, show)


def _sink(run_: EnsembleRun, show: Callable[[Progress], None]) -> None:
    """Compute a run, or go on with it.

    Raises
    ------
    KeyboardInterrupt : it was stopped by hand
    """
    done = run(run_.case, run_.path, resume=True, progress=show, disturbance=run_.disturbance)
    if done.status != "finished":
        raise KeyboardInterrupt
